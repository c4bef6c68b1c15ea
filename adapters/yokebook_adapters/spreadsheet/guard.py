"""What a workbook file is before a library reads it: its size unpacked, its kind, and that nothing in it grows."""

from __future__ import annotations

import io
import re
import zipfile
import zlib
from xml.parsers import expat

from yokebook.load.faults import Fault, InputFaults
from yokebook_adapters.schedule_sources import LARGEST_WORKBOOK

#: A device schedule of ten thousand rows has some 5 MB unpacked.
_LARGEST_UNPACKED = 60_000_000
_MOST_PARTS = 2_000
_MOST_CELLS = 500_000
_PIECE = 65_536

_RANGE = re.compile(r"\$?([A-Z]{1,3})\$?([0-9]{1,7}):\$?([A-Z]{1,3})\$?([0-9]{1,7})")

_SAVE = "save it as .xlsx, or as CSV in UTF-8"


def check_file(data: bytes, file: str) -> None:
    """Raises InputFaults where a file is too big to be read, no workbook, or one of a kind that is not read."""
    if len(data) > LARGEST_WORKBOOK:
        _refuse(file, f"the workbook has more than {LARGEST_WORKBOOK:,} bytes; allowed: at most that many")
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            _check_parts(packed, file)
    except (zipfile.BadZipFile, zlib.error, EOFError, OSError, RuntimeError) as error:
        _refuse(file, f"this is no workbook that can be unpacked: {error}")


def _check_parts(packed: zipfile.ZipFile, file: str) -> None:
    parts = packed.infolist()
    names = {part.filename for part in parts}
    unpacked = sum(part.file_size for part in parts)
    if len(parts) > _MOST_PARTS or unpacked > _LARGEST_UNPACKED:
        _refuse(
            file,
            f"the workbook has {len(parts):,} parts with {unpacked:,} bytes unpacked; allowed: at most {_MOST_PARTS:,} "
            f"with {_LARGEST_UNPACKED:,}; keep the schedule alone in a workbook, or save it as CSV",
        )
    if "xl/workbook.bin" in names:
        _refuse(file, f"workbooks of the kind .xlsb are not read; {_SAVE}")
    if "[Content_Types].xml" not in names or not any(name.startswith("xl/") for name in names):
        _refuse(file, f"this is a packed file, and no workbook of the kind .xlsx; {_SAVE}")
    scan = _Scan()
    for part in parts:
        scan.part(packed, part)
    if scan.declares:
        _refuse(file, f"`{scan.declares}` in it declares a document type, which no workbook does; it was not read")
    if scan.cells > _MOST_CELLS:
        _refuse(
            file,
            f"the workbook has more than {_MOST_CELLS:,} cells and rows, those that are merged or linked included; "
            f"allowed: at most {_MOST_CELLS:,}; keep the schedule alone in a workbook, or save it as CSV",
        )


class _Enough(Exception):
    """Nothing more has to be looked at."""


class _Scan:
    """Goes through the parts without keeping anything of them. What is no XML at all is left to the reader."""

    def __init__(self) -> None:
        self.declares = ""  # the part that declares a document type, and with it perhaps entities without end
        self.cells = 0
        self._name = ""

    def part(self, packed: zipfile.ZipFile, part: zipfile.ZipInfo) -> None:
        """Looks at one part; at nothing more once the workbook has to be refused."""
        if self.declares or self.cells > _MOST_CELLS:
            return
        self._name = part.filename
        parser = expat.ParserCreate()
        parser.StartDoctypeDeclHandler = self._declared
        parser.StartElementHandler = self._begun
        try:
            with packed.open(part) as stream:
                while piece := stream.read(_PIECE):
                    parser.Parse(piece, False)
        except (_Enough, expat.ExpatError):
            pass

    def _declared(self, *_: object) -> None:
        self.declares = self._name
        raise _Enough

    def _begun(self, name: str, attributes: dict[str, str]) -> None:
        match name.rpartition(":")[2]:
            case "c" | "row":
                self.cells += 1
            case "mergeCell" | "hyperlink":  # which the library writes out cell by cell
                self.cells += _area(attributes.get("ref", ""))
        if self.cells > _MOST_CELLS:
            raise _Enough


def _area(cells: str) -> int:
    """How many cells a range has.

    >>> _area("A1:C2"), _area("B7")
    (6, 1)
    """
    match = _RANGE.fullmatch(cells)
    if match is None:
        return 1
    first, last = (_column(match[side]) for side in (1, 3))
    return (abs(last - first) + 1) * (abs(int(match[4]) - int(match[2])) + 1)


def _column(letters: str) -> int:
    number = 0
    for letter in letters:
        number = number * 26 + ord(letter) - ord("A") + 1
    return number


def _refuse(file: str, message: str) -> None:
    raise InputFaults([Fault(file, message)])

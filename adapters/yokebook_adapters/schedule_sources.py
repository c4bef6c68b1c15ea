"""Where a schedule comes from: a CSV file, lines of one, or a workbook with its sheets."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Protocol

from yokebook.load.faults import Fault, InputFaults
from yokebook_adapters.schedule_cells import Cell, CellRow, Page, plain

#: A path, the bytes of a file, or lines of CSV.
Schedule = Path | bytes | Iterable[str]

#: How a workbook begins, and how the older kinds that nobody reads here do.
ZIPPED = b"PK\x03\x04"
_OLD = b"\xd0\xcf\x11\xe0"
_START = max(len(ZIPPED), len(_OLD))

#: The most bytes that a workbook may have as a file.
LARGEST_WORKBOOK = 20_000_000

_SUFFIXES = (".xlsx", ".xlsm")
_OTHER_PROGRAMS = (".xls", ".xlsb", ".ods", ".fods", ".numbers")


class Source(Protocol):
    """An open schedule file."""

    def page(self, sheet: str | None) -> Page:
        """The sheet of this name; without one, the only page there is. Raises InputFaults for none or several."""
        ...


@contextmanager
def open_source(schedule: Schedule, name: str, delimiter: str = ",") -> Iterator[Source]:
    """The schedule's pages. `name` is how faults name what is no path. Raises InputFaults where it cannot be read."""
    if not isinstance(schedule, Path | bytes):
        yield _Csv(_without_mark(schedule), name, delimiter)
        return
    file = str(schedule) if isinstance(schedule, Path) else name
    try:
        if _is_workbook(schedule, file):
            from yokebook_adapters.spreadsheet.reading import Workbook

            yield Workbook(_bytes_of(schedule), file)
            return
        stream = schedule.open("rb") if isinstance(schedule, Path) else io.BytesIO(schedule)
    except OSError as error:
        raise InputFaults([Fault(file, f"cannot be read: {error.strerror or error}")]) from None
    with io.TextIOWrapper(stream, "utf-8-sig", "surrogateescape", newline="") as text:
        yield _Csv(text, file, delimiter)


def _bytes_of(schedule: Path | bytes) -> bytes:
    """The bytes of a workbook; of one that is too big, only as many as show it."""
    if isinstance(schedule, bytes):
        return schedule
    with schedule.open("rb") as stream:
        return stream.read(LARGEST_WORKBOOK + 1)


def _is_workbook(schedule: Path | bytes, file: str) -> bool:
    """Whether it is a workbook that can be read. Raises InputFaults for one that cannot."""
    if isinstance(schedule, Path):
        with schedule.open("rb") as stream:
            start = stream.read(_START)
    else:
        start = schedule[:_START]
    suffix = Path(file).suffix.lower()
    if start.startswith(_OLD):
        message = "this is a workbook of the older kind (.xls), or one locked with a password"
    elif suffix in _OTHER_PROGRAMS:
        message = f"workbooks of the kind {suffix} are not read"
    elif suffix in _SUFFIXES and not start.startswith(ZIPPED):
        message = "this is no workbook, whatever its name says"
    else:
        return start.startswith(ZIPPED)
    raise InputFaults([Fault(file, f"{message}; save it as .xlsx, without a password, or as CSV in UTF-8")])


class _Csv:
    def __init__(self, lines: Iterable[str], file: str, delimiter: str) -> None:
        self.lines = lines
        self.file = file
        self.delimiter = delimiter

    def page(self, sheet: str | None) -> Page:
        """The file's one page."""
        if sheet is not None:
            raise InputFaults([Fault(self.file, f"a CSV file has no sheet `{sheet}`; leave it out of the mapping")])
        return Page(self.file, self._rows())

    def _rows(self) -> Iterator[CellRow | Fault]:
        number = 0
        try:
            for number, cells in enumerate(csv.reader(self.lines, delimiter=self.delimiter, strict=True), start=1):
                yield CellRow(number, tuple(Cell(plain(cell)) for cell in cells))
        except csv.Error as error:
            message = f"{_not_csv(error)}; the rows from here on were not read"
            yield Fault(f"{self.file}: row {number + 1}", message)
        except OSError as error:
            yield Fault(f"{self.file}: row {number + 1}", f"cannot be read: {error.strerror or error}")


def _not_csv(error: csv.Error) -> str:
    if str(error) == "unexpected end of data":
        return "the quotation mark that opens a cell in this row is never closed"
    return f"this is not CSV: {error}"


def _without_mark(lines: Iterable[str]) -> Iterator[str]:
    """The lines without a byte-order mark before the first."""
    for number, line in enumerate(lines):
        yield line.removeprefix("\ufeff") if number == 0 else line

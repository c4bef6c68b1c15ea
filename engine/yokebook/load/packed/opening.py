"""Opening a pack: whether it is whole and of the YAML that is there now. What it holds is read later, piece by piece.

Nothing here imports what rules or reads YAML, so that opening takes as little time as it can.
"""

from __future__ import annotations

import json
import os
import time
import zlib
from typing import TYPE_CHECKING, Any

from yokebook import shipped
from yokebook.load.packed import sources

if TYPE_CHECKING:
    from yokebook.model import Book

#: The first line of a pack: this, and the CRC-32 of all that follows. Packs of another form are not read.
FIRST_LINE = "yokebook rulebook, form 1, CRC-32 {:08x}"

#: When this process began to import the engine, in nanoseconds: the files of it may have changed since.
IMPORTED = time.time_ns()


class Pack:
    """A pack that was found whole: what its header says, and its lines of JSON."""

    def __init__(self, root: str, header: dict[str, Any], data: bytes, begins: int) -> None:
        self.root = root
        self.header = header
        self._data = data
        self._begins = begins

    def line(self, at: int) -> Any:
        """The JSON value in the line that begins at this byte after the header."""
        return json.loads(_line(self._data, self._begins + at))


def shipped_rulebook() -> Pack | Book:
    """The pack of the shipped rulebook; or, where there is none of the YAML as it is now, what was read of the YAML.

    Raises RulebookFaults with every fault of the YAML.
    """
    pack = shipped_pack()
    if pack is not None:
        return pack
    path, came_with_it = shipped.pack_name()
    if came_with_it:  # somebody changed the YAML of an installed package: it is the truth there too
        from yokebook.load.book import load_book

        return load_book()
    from yokebook.load.packed.keeping import load_and_keep

    return load_and_keep(path, shipped.folder_name("rulebook"), shipped.PACKAGE, IMPORTED)


def shipped_pack() -> Pack | None:
    """The pack of the shipped rulebook as its YAML is now, if there is one."""
    return open_pack(shipped.pack_name()[0], shipped.folder_name("rulebook"), shipped.PACKAGE)


def open_pack(path: str, root: str, engine: str) -> Pack | None:
    """The pack in this file, if it is whole and was made of the YAML that is in the folder `root` now, and of the
    engine that is in the folder `engine` if it says of which one it was made. Otherwise None."""
    try:
        with open(path, "rb") as file:
            data = file.read()
            made = os.fstat(file.fileno()).st_mtime_ns
        first = _line(data, 0)
        if first != FIRST_LINE.format(zlib.crc32(memoryview(data)[len(first) + 1 :])).encode():
            return None
        head = _line(data, len(first) + 1)
        header: dict[str, Any] = json.loads(head)
        if not sources.unchanged(root, sources.YAML, header["files"], made):
            return None
        code = header["code"]
        if code is not None and not sources.unchanged(engine, sources.CODE, code, made):
            return None
    except OSError:
        return None
    return Pack(root, header, data, len(first) + len(head) + 2)


def _line(data: bytes, begins: int) -> bytes:
    """The line that begins there, to its end or that of the data."""
    end = data.find(b"\n", begins)
    return data[begins : end if end >= 0 else len(data)]

"""Opening a pack: whether it is whole and of the YAML that is there now. What it holds is read later, piece by piece.

Nothing here imports what rules or reads YAML, so that opening takes as little time as it can.
"""

from __future__ import annotations

import json
import os
import zlib
from typing import TYPE_CHECKING, Any

from yokebook import shipped
from yokebook.load.packed import sources

if TYPE_CHECKING:
    from yokebook.model import Book

#: The first line of a pack: this, and the CRC-32 of all that follows. Packs of another form are not read.
FIRST_LINE = "yokebook rulebook, form 1, CRC-32 {:08x}"


class Pack:
    """A pack that was found whole: what its header says, and its lines of JSON."""

    def __init__(self, root: str, header: dict[str, Any], lines: bytes) -> None:
        self.root = root
        self.header = header
        self._lines = lines

    def line(self, at: int) -> Any:
        """The JSON value in the line that begins at this byte after the header."""
        return json.loads(self._lines[at : self._lines.index(b"\n", at)])


def shipped_rulebook() -> Pack | Book:
    """The pack of the shipped rulebook; or, where there is none of the YAML as it is now, what was read of the YAML.

    Raises RulebookFaults with every fault of the YAML.
    """
    path, came_with_it = shipped.pack_name()
    root = shipped.folder_name("rulebook")
    pack = open_pack(path, root, shipped.PACKAGE)
    if pack is not None:
        return pack
    if came_with_it:  # somebody changed the YAML of an installed package: it is the truth there too
        from yokebook.load.book import load_book

        return load_book()
    from yokebook.load.packed.keeping import load_and_keep

    return load_and_keep(path, root, shipped.PACKAGE)


def open_pack(path: str, root: str, engine: str) -> Pack | None:
    """The pack in this file, if it is whole and was made of the YAML that is in the folder `root` now, and of the
    engine that is in the folder `engine` if it says of which one it was made. Otherwise None."""
    try:
        with open(path, "rb") as file:
            data = file.read()
            made = os.fstat(file.fileno()).st_mtime_ns
        first, _, rest = data.partition(b"\n")
        if first != FIRST_LINE.format(zlib.crc32(rest)).encode():
            return None
        head, _, lines = rest.partition(b"\n")
        header: dict[str, Any] = json.loads(head)
        if not sources.unchanged(root, sources.YAML, header["files"], made):
            return None
        code = header["code"]
        if code is not None and not sources.unchanged(engine, sources.CODE, code, made):
            return None
    except OSError:
        return None
    return Pack(root, header, lines)

"""In a checkout the YAML is read, and the pack of it kept for the next time: nobody has to make one."""

from __future__ import annotations

import os
from contextlib import suppress

from yokebook.load.book import load_book
from yokebook.load.packed import sources
from yokebook.load.packed.writing import pack_of
from yokebook.model import Book

#: How much later the clock may be than the dates that a file system gives, in nanoseconds.
_AHEAD = 20_000_000


def load_and_keep(path: str, root: str, engine: str, imported: int) -> Book:
    """The shipped book, read from the YAML in the folder `root` by the code in the folder `engine`, of which this
    process imported nothing before the time `imported`. Its pack is then in the file `path`, if that can be written and
    nobody changed the YAML meanwhile, or the code since it was imported.

    Raises RulebookFaults, and keeps nothing, where the rulebook has faults.
    """
    try:
        draft = _begin(os.path.dirname(path))
    except OSError:  # a checkout that is only to be read
        return load_book()
    name, began = draft
    try:
        with suppress(OSError):
            files, code = sources.record(root, sources.YAML), sources.record(engine, sources.CODE)
            book = load_book()
            _keep(name, pack_of(book, files, code), began)
            as_imported = not sources.touched_since(engine, sources.CODE, imported - _AHEAD)
            if as_imported and sources.unchanged(root, sources.YAML, files, began):
                os.replace(name, path)
            return book
        return load_book()
    finally:
        with suppress(OSError):
            os.remove(name)  # unless it is in its place


def _begin(folder: str) -> tuple[str, int]:
    """A new file that no other process writes, and the time at which it was made by the clock of the file system:
    what is touched from then on may have been read before."""
    import tempfile

    os.makedirs(folder, exist_ok=True)
    with suppress(FileExistsError), open(os.path.join(folder, ".gitignore"), "x", encoding="utf-8") as ignore:
        ignore.write("*\n")
    number, name = tempfile.mkstemp(prefix="rulebook.", suffix=".part", dir=folder)
    began = os.fstat(number).st_mtime_ns
    os.close(number)
    return name, began


def _keep(name: str, pack: bytes, began: int) -> None:
    with open(name, "wb") as file:
        file.write(pack)
    os.chmod(name, 0o644)
    os.utime(name, ns=(began, began))

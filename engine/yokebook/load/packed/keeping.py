"""In a checkout the YAML is read, and the pack of it kept for the next time: nobody has to make one."""

from __future__ import annotations

import os
from contextlib import suppress

from yokebook.load.book import load_book
from yokebook.load.packed import sources
from yokebook.load.packed.writing import pack_of
from yokebook.model import Book


def load_and_keep(path: str, root: str, engine: str) -> Book:
    """The shipped book, read from the YAML in the folder `root` by the code in the folder `engine`; its pack is then
    in the file `path` if that can be written and nobody changed a file meanwhile.

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
            whole = sources.unchanged(root, sources.YAML, files, began)
            if whole and sources.unchanged(engine, sources.CODE, code, began):
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

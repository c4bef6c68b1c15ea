"""Making a pack: a book as lines of JSON, the same bytes for the same rulebook, with every law worked out."""

from __future__ import annotations

import zlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import fields, is_dataclass
from fractions import Fraction
from hashlib import sha256
from typing import Any

from yokebook import model, shipped
from yokebook.adopted_layers import find_layer
from yokebook.adoption import resolve_adoption
from yokebook.canonical import canonical
from yokebook.editions import resolve_edition
from yokebook.layers import adopted_here
from yokebook.load.book import load_book
from yokebook.load.faults import RulebookFaults
from yokebook.load.packed.form import MAPPING, NUMBER, SET, TUPLE
from yokebook.load.packed.opening import FIRST_LINE
from yokebook.load.packed.sources import YAML, Recorded, record
from yokebook.model import Book, LawName, Resolved
from yokebook.overview import overview

#: The parts of a book that are read whole, all in one line. Editions and places have a line each.
WHOLE = ("questions", "facts", "impossible", "calculations", "readings", "documents", "cautions")


def pack_of_shipped() -> bytes:
    """The pack of the shipped rulebook, every file of it held against its schema and every name followed.

    Raises RulebookFaults with every fault of every file.
    """
    return pack_of(load_book(check_schema=True), record(shipped.folder_name("rulebook"), YAML))


def pack_of(book: Book, files: Recorded, code: Recorded | None = None) -> bytes:
    """The pack of a book that was made of these files and, if that is to be looked at later, by this engine."""
    classes = _classes()
    write = writer(classes)
    lines = _Lines()
    header: dict[str, Any] = {
        "classes": classes,
        "code": code,
        "files": files,
        "overview": lines.add(write(overview(book))),
        "whole": lines.add({name: write(getattr(book, name)) for name in WHOLE}),
        "editions": [[*key, lines.add(write(edition))] for key, edition in book.editions.items()],
        "places": [[key, lines.add(write(place))] for key, place in book.places.items()],
        "laws": [[name, _law(resolved, lines, write)] for name, resolved in _laws(book)],
    }
    body = lines.all()
    header["sha256"] = sha256(body).hexdigest()
    rest = b"\n".join([canonical(header).encode(), body])
    return b"\n".join([FIRST_LINE.format(zlib.crc32(rest)).encode(), rest])


class _Lines:
    """Lines of JSON, each written once."""

    def __init__(self) -> None:
        self._begins: dict[bytes, int] = {}
        self._size = 0

    def add(self, value: Any) -> int:
        """Where the line that holds this value begins, in bytes."""
        line = canonical(value).encode()
        if line not in self._begins:
            self._begins[line] = self._size
            self._size += len(line) + 1
        return self._begins[line]

    def all(self) -> bytes:
        """All lines."""
        return b"".join(line + b"\n" for line in self._begins)


def _law(resolved: Resolved, lines: _Lines, write: Callable[[object], Any]) -> int:
    """The line of a law: the lines of its tables and numbers, which other laws may share, and what readings are
    chosen. Its document and amendments are found in the book."""
    tables = [[question, lines.add(write(table))] for question, table in resolved.tables.items()]
    return lines.add([tables, lines.add(write(resolved.values)), write(resolved.chosen)])


def _laws(book: Book) -> Iterator[tuple[LawName, Resolved]]:
    """Every bare edition, and every document with layers that an entry of a place may put in force, once each. One that
    cannot be, such as a draft, is left out: asked for, it is made of the book, and its faults are told then."""
    found: dict[LawName, None] = {}
    for document, edition in book.editions:
        try:
            yield (document, edition, ()), resolve_edition(book, document, edition)
        except RulebookFaults:
            continue
    for place in book.places.values():
        for kind, line in place.lines.items():
            for entry in line:
                for adopts in adopted_here(book, place, kind, entry):
                    layers = [find_layer(book, place, name) for name in adopts.layers]
                    names = tuple((each[0].id, each[1].id) for each in layers if each is not None)
                    name: LawName = (adopts.document, adopts.edition, names)
                    if not names or name in found:
                        continue
                    found[name] = None
                    try:
                        yield name, resolve_adoption(book, place, entry, adopts, drafts=False)
                    except RulebookFaults:
                        continue


def _classes() -> list[tuple[str, ...]]:
    """The name of each class of the model with the names of its fields, in the order of their numbers."""
    found = [cls for cls in vars(model).values() if isinstance(cls, type) and is_dataclass(cls)]
    return sorted((cls.__name__, *(field.name for field in fields(cls) if field.init)) for cls in found)


def writer(classes: Sequence[Sequence[str]]) -> Callable[[object], Any]:
    """The function that gives the JSON value of a piece of data. It raises TypeError for what is no data of a
    rulebook."""
    number_of = {name: (number, names) for number, (name, *names) in enumerate(classes)}

    def write(value: object) -> Any:
        if value is None or isinstance(value, bool | str | int):
            return value
        if isinstance(value, Fraction):
            return [NUMBER, value.numerator, value.denominator]
        if isinstance(value, tuple):
            return [TUPLE, *map(write, value)]
        if isinstance(value, frozenset):
            return [SET, *sorted(map(write, value), key=canonical)]
        if isinstance(value, Mapping):
            return [MAPPING, *(write(part) for pair in value.items() for part in pair)]
        if type(value).__name__ in number_of:
            number, names = number_of[type(value).__name__]
            return [number, *(write(getattr(value, name)) for name in names)]
        raise TypeError(f"{type(value).__name__} is not data of a rulebook")

    return write

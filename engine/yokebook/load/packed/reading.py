"""The book of a pack. Editions, places and laws are made when they are first asked for, and laws table by table."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Any, Generic, TypeVar

from yokebook.load.packed.form import reader
from yokebook.load.packed.opening import Pack
from yokebook.model import Book, LawName, Overview, Resolved, WorkedOut

K = TypeVar("K")
V = TypeVar("V")


class Late(Mapping[K, V], Generic[K, V]):
    """A mapping whose values are made when they are first asked for, from the numbers of their lines."""

    def __init__(self, lines: dict[K, int], make: Callable[[K, int], V]) -> None:
        self._lines = lines
        self._make = make
        self._made: dict[K, V] = {}

    def __getitem__(self, key: K) -> V:
        if key not in self._made:
            self._made.setdefault(key, self._make(key, self._lines[key]))  # the same one for every thread
        return self._made[key]

    def __contains__(self, key: object) -> bool:
        return key in self._lines

    def __iter__(self) -> Iterator[K]:
        return iter(self._lines)

    def __len__(self) -> int:
        return len(self._lines)

    def __reduce__(self) -> tuple[type, tuple[dict[K, V]]]:
        return dict, (dict(self),)  # for copies and other processes: all of it, as a plain mapping


def book_of(pack: Pack) -> Book:
    """The book, equal to the one that the pack was made of but for where its folder is."""
    read = reader(pack.header["classes"])

    def made(_: object, line: int) -> Any:
        return read(pack.line(line))

    def values(line: int) -> Any:
        if line not in numbers:  # laws that set the same numbers share them
            numbers[line] = read(pack.line(line))
        return numbers[line]

    def law(name: LawName, line: int) -> Resolved:
        document, edition, names = name
        tables, its_values, chosen = pack.line(line)
        layers = [book.places[place].layers[layer] for place, layer in names]
        return Resolved(
            document=book.documents[document],
            edition=edition,
            place=None,
            entry=None,
            tables=Late(dict(tables), made),
            values=values(its_values),
            chosen=read(chosen),
            amendments=tuple(amendment for layer in layers for amendment in layer.amendments),
            amendments_entered="none",
        )

    numbers: dict[int, Any] = {}
    header = pack.header
    book = Book(
        root=pack.root,
        editions=Late({(document, edition): line for document, edition, line in header["editions"]}, made),
        places=Late(dict(header["places"]), made),
        **{name: read(part) for name, part in pack.line(header["whole"]).items()},
    )
    laws = {(document, edition, tuple(map(tuple, names))): line for (document, edition, names), line in header["laws"]}
    worked_out = WorkedOut(Overview(*read(pack.line(header["overview"]))), Late(laws, law))
    object.__setattr__(book, "worked_out", worked_out)  # the one field that is not given when a book is made
    return book

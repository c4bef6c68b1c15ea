"""A loaded rulebook, and how to load one.

What rules is imported only when the law of a place or edition is asked for, and the book itself read only then: who
loads and does not rule yet waits for neither.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from yokebook.load.packed.opening import Pack, shipped_rulebook

if TYPE_CHECKING:
    from pathlib import Path

    from yokebook.code import Code
    from yokebook.model import Book
    from yokebook.proof.findings import Report


class Rulebook:
    """A loaded rulebook. `book` is everything authored; the methods give the law in force or of one edition."""

    def __init__(self, book: Book | Pack) -> None:
        self._book = book

    @property
    def book(self) -> Book:
        """Everything authored."""
        if isinstance(self._book, Pack):
            from yokebook.load.packed.reading import book_of

            self._book = book_of(self._book)
        return self._book

    def in_force(
        self,
        place: str,
        dates: Mapping[str, str] | None = None,
        on: str | None = None,
        choices: Mapping[str, str] | None = None,
        *,
        drafts: bool = False,
    ) -> Code:
        """The law in force for a place: `dates` by event (`{"permit application": "2024-10-01"}`) or `on` one day that
        every event falls on; `choices` for what a place lets the project choose.

        A date not given keeps every entry possible that the others leave. Raises RulebookFaults for an unknown place, a
        date that is none, or a layer whose pins are missing or stale; with `drafts` such a layer is taken as it is.
        """
        from yokebook.code import code_in_force

        return code_in_force(self.book, place, dict(dates or {}), on, dict(choices or {}), drafts=drafts)

    def check(self, places: Sequence[str] = ()) -> Report:
        """Everything that can be found in the rulebook, or in some of its places only: as `Code.check`, for every
        edition and every entry of every place, with pins, lines of time and readings.

        Raises ValueError for an unknown place.
        """
        from yokebook.load.faults import suggest
        from yokebook.proof.checking import check_book

        for place in places:
            if place not in self.book.places:
                raise ValueError(f"no place `{place}` in this rulebook{suggest(place, self.book.places)}")
        return check_book(self.book, frozenset(places) or None)

    def edition(self, document: str, edition: str) -> Code:
        """One document as published, no place and no amendments. Raises RulebookFaults where there is none such."""
        from yokebook.code import code_of_edition

        return code_of_edition(self.book, document, edition)


def load(path: Path | str | None = None, *, drafts: Sequence[Path | str] = ()) -> Rulebook:
    """The shipped rulebook, or the one in a folder of your own.

    `drafts` are files of places that stand elsewhere: each is read as the place that its `place:` names, in the stead
    of the rulebook's file of that place if there is one. `in_force(..., drafts=True)` takes their layers without pins.

    Raises RulebookFaults with every fault of every file, each with file, line and column; of a draft with the file as
    it is given.

    >>> "marking.required" in load().book.questions
    True
    """
    if path is None and not drafts:
        return Rulebook(shipped_rulebook())
    from pathlib import Path

    from yokebook.load.book import load_book

    root = Path(path) if path is not None else None
    return Rulebook(load_book(root, check_schema=root is not None, drafts=[Path(draft) for draft in drafts]))

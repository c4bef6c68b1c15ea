"""A check of a rulebook with what only files beside it know: the old texts that stale pins stand on."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from yokebook.model import Book
from yokebook.proof.checking import check_book
from yokebook.proof.findings import Report


def check(book: Book, drafts: Sequence[Path] = (), places: Sequence[str] = ()) -> Report:
    """Everything found in a rulebook, or only in some places and in those of the draft files."""
    files = {str(path) for path in drafts}
    only = {*places, *(place.id for place in book.places.values() if place.at.file in files)}
    return check_book(book, frozenset(only) if only else None)

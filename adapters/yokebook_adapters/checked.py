"""A check of a rulebook with what only files beside it know: the old texts that stale pins stand on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from yokebook.model import Book
from yokebook.progress import Progress, nobody
from yokebook.proof.checking import check_book
from yokebook.proof.findings import Report, in_order
from yokebook_adapters.stale import stale_report


def check(
    book: Book, drafts: Sequence[Path] = (), places: Sequence[str] = (), progress: Progress = nobody
) -> Report:
    """Everything found in a rulebook, or only in some places and in those of the draft files; of each stale pin what
    moved below it and what that does. `progress` is told of the laws checked."""
    files = {place.id: path for path in drafts for place in book.places.values() if place.at.file == str(path)}
    only = frozenset({*places, *files})
    report = check_book(book, only or None, progress=progress)
    owners = [place for place in book.places.values() if place.layers and (not only or place.id in only)]
    stale = [finding for place in owners for finding in stale_report(book, place.id, files.get(place.id))]
    rest = [finding for finding in report.findings if finding.kind != "stale pin"]
    return replace(report, findings=tuple(in_order([*rest, *stale])))

"""Amendments of a place whose base has moved, from its file's record of pins."""

from __future__ import annotations

from pathlib import Path

from yokebook.load.faults import Fault, RulebookFaults, suggest
from yokebook.model import Book
from yokebook.proof.findings import Finding
from yokebook.proof.stale_findings import stale_findings
from yokebook_adapters.pinrecord import place_path, read_record, record_path


def stale_report(book: Book, place_id: str, path: Path | None = None) -> list[Finding]:
    """A finding for each amendment of a place whose base has moved since it was pinned, in file order: an error of kind
    "stale pin" where the pin no longer fits, a note of kind "editorial change below" where only wording, section or
    mark moved. Amendments without a pin are left out.

    `path` is the place's file, by default the one that it was read from; the record of its pins stands beside it.
    Raises RulebookFaults: unknown place, or a record that cannot be read.
    """
    if place_id not in book.places:
        hint = suggest(place_id, book.places)
        raise RulebookFaults([Fault("place", f"no place `{place_id}` in this rulebook{hint}")])
    file = place_path(book, book.places[place_id]) if path is None else path
    return stale_findings(book, place_id, read_record(record_path(file)))

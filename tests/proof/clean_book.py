"""A small rulebook in which nothing is to be found, for tests that plant one fault in it."""

from __future__ import annotations

from pathlib import Path

from small_rulebook import FILES, edited, write
from yokebook.load.book import load_book
from yokebook.model import Book
from yokebook.proof.checking import check_book
from yokebook.proof.findings import Finding, Report
from yokebook_adapters.pinfile import pin_file

ACTS = "electrical/2014/control.acts.yaml"
MARKS = "electrical/2014/marking.required.yaml"
TOWN = "places/town.yaml"

_READ_TWO_WAYS = """\
  - id: button
    exception_to: [sensor]
    where: {control.kind: sensor, control.by_hand: yes, reading.sensor-is-switch: switch}
    then: manual
    says: A sensor with a button is a switch.
    cite: {document: code, section: "1"}
    checked: {derived: so it is read}
"""

#: The rulebook that other tests break: a rule turns on its reading, and a line of time says how it begins.
CLEAN: dict[str, str] = {
    ACTS: FILES[ACTS] + _READ_TWO_WAYS,
    TOWN: FILES[TOWN]
    .replace("  electrical:\n", "  electrical:\n    - {id: E0, not_entered: nothing before 2015 is entered}\n")
    .replace("          - delete: marking.required#slow\n", ""),
}


def written(folder: Path, changes: dict[str, str] | None = None, *, pinned: bool = True) -> Path:
    """The clean rulebook in `folder`/book with some files put otherwise, its pins written; the folder."""
    book = write(folder / "book", {**CLEAN, **(changes or {})})
    if pinned:
        pin_file(book / TOWN)
    return book


def planted(name: str, old: str, new: str) -> dict[str, str]:
    """One file of the clean rulebook with one piece of its text put otherwise."""
    if name not in CLEAN:
        return edited(name, old, new)
    assert CLEAN[name].count(old) == 1, f"{old!r} is not once in {name}"
    return {name: CLEAN[name].replace(old, new)}


def loaded(book: Path) -> Book:
    """The rulebook as files of `book/`, whatever folder the test is in."""
    return load_book(book)


def checked(book: Path) -> Report:
    """What is found in a rulebook."""
    return check_book(loaded(book))


def wrong(report: Report) -> list[Finding]:
    """The findings that are no notes."""
    return [finding for finding in report.findings if finding.severity != "note"]

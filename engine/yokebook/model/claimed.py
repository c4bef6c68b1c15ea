"""Regions of a rulebook's case files: boxes of a table's inputs everywhere in which the clause gives one outcome."""

from __future__ import annotations

from collections.abc import Mapping

from yokebook.frozen import dataclass
from yokebook.model.rows import At, Box


@dataclass(frozen=True, slots=True)
class Claim:
    """One region and the outcome that is due everywhere in it: under bare editions of a document, or in a place on
    days (then `editions` is empty)."""

    id: str
    says: str
    source: str
    section: str | None
    question: str
    document: str | None  # None only where a place is named and one document there answers
    editions: tuple[str, ...]
    place: str | None
    dates: Mapping[str, str]
    choices: Mapping[str, str]
    where: tuple[Box, ...]  # any of
    but_not: tuple[Box, ...]
    expect: str
    at: At

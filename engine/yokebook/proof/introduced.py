"""Which rows each edition, and each place's layers, wrote or last changed: what is to be checked once, there; and which
laws have them besides, unchanged, where a row may do what it does nowhere in the text that brought it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace

from yokebook.law import Law
from yokebook.model import Book, Entry, NoneFires, Rule
from yokebook.proof.laws import Standing, bare_editions, place_laws


@dataclass(frozen=True)
class Introduced:
    """One table of one law, and the rows of it that this law's own text brought: ids of rules, and whether what it says
    where no rule fires is among them. Of a place's law also the place, and the dates from which it governs."""

    name: str
    law: Law
    question: str
    rules: frozenset[str]
    none_fires: bool
    place: str | None = None
    dates: Mapping[str, str] = field(default_factory=dict)
    later: tuple[Introduced, ...] = ()  # the same rows in the laws that have them unchanged, in order

    def own(self, row: Rule | NoneFires) -> bool:
        """Whether a row is one of them."""
        return row.id in self.rules if isinstance(row, Rule) else self.none_fires


def introduced(book: Book) -> Iterator[Introduced]:
    """Every table with rows of its own, of each edition and then of each place's layers. A layer that stands in several
    laws counts once, in the first that has it over the same text."""
    standings = [*bare_editions(book), *place_laws(book)]
    rows = [_rows(standing) for standing in standings]
    seen: set[tuple[str, str]] = set()
    for number, standing in enumerate(standings):
        for question, written in rows[number].items():
            own = {row for row in written if row[0] in standing.steps and row not in seen}
            if not own:
                continue
            if standing.below is not None:
                seen |= own
            later = [
                _part(other, question, own & rows[n][question])
                for n, other in enumerate(standings)
                if n > number and own & rows[n].get(question, set())
            ]
            yield replace(_part(standing, question, own), later=tuple(later))


def _rows(standing: Standing) -> dict[str, set[tuple[str, str]]]:
    """For each table its rows: who wrote each, and its id."""
    return {
        question: {(last_written(rule), rule.id) for rule in table.rules}
        | {(last_written(table.none_fires), f"{question}#none_fires")}
        for question, table in standing.law.resolved.tables.items()
    }


def _part(standing: Standing, question: str, rows: Iterable[tuple[str, str]]) -> Introduced:
    ids = frozenset(row for _, row in rows)
    place = standing.place.id if standing.place is not None else None
    none_fires = f"{question}#none_fires" in ids
    return Introduced(standing.name, standing.law, question, ids, none_fires, place, _dates(standing.entry))


def _dates(entry: Entry | None) -> dict[str, str]:
    """The date from which an entry governs, by its event."""
    if entry is None or entry.event is None or entry.on_or_after is None:
        return {}
    return {entry.event: entry.on_or_after}


def last_written(row: Rule | NoneFires) -> str:
    """Who wrote a row or last changed it: an edition such as `nfpa-70 2017`, or an amendment's id. A row that is only
    carried is not changed."""
    return next((step.by for step in reversed(row.chain) if step.op != "carried"), "")

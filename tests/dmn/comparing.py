"""Exported tables beside what the rulebook's own definition gives.

Answers and figures are drawn here independently of what they come from, so some records are such as cannot occur (a
mark's form where no mark is required); in those two rules may be in conflict. They are passed over and counted.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from dmn.tables import Shipped, demo_places, distinct, editions, records, ruling, tables
from shipped_book import rulebook
from yokebook.model import NoneOf, OneOf
from yokebook_adapters.dmn import as_dmn, full_record

#: Exceptions and a `but_not`; `not` cells and forbidden silence; numbers with readings; several `where` boxes.
SOME = ("marking.required", "control.permitted", "receptacle.plug-load", "receptacle.circuit-rating")


def edition(question: str, document: str = "nfpa-70", year: str = "2023") -> Shipped:
    [line] = rulebook().edition(document, year).in_force.values()
    law = line.candidates[0].law
    assert law is not None
    return Shipped(f"{document} {year}: {question}", law, question)


def export(shipped: Shipped) -> str:
    return as_dmn(shipped.law, shipped.question, shipped.law.book, conflicts=())


def has_thirds(shipped: Shipped) -> bool:
    """Whether some cell has a number that no decimal is equal to: its denominator has a factor other than 2 and 5."""
    for at in shipped.law.ready(shipped.question).boxes:
        for cell in at.box.values():
            ends = cell.values if isinstance(cell, OneOf | NoneOf) else (cell.low, cell.high)
            for end in ends:
                rest = 1 if end is None or isinstance(end, str | bool) else getattr(end, "denominator", 1)
                for factor in (2, 5):
                    while rest % factor == 0:
                        rest //= factor
                if rest != 1:
                    return True
    return False


def drawn(shipped: Shipped, count: int) -> list[tuple[dict[str, object], str]]:
    """Full records with the outcome that the table has for each. Fails where over three in four are in conflict."""
    pairs = []
    for record in records(shipped.law, shipped.question, count):
        outcome = ruling(shipped.law, shipped.question, record)
        if outcome is not None:
            pairs.append((full_record(shipped.law, shipped.question, record), outcome))
    assert len(pairs) >= count * 0.25, f"{shipped.name}: {count - len(pairs)} of {count} records are in conflict"
    return pairs


def differing(decide: Callable[[Mapping[str, object]], object], shipped: Shipped, count: int) -> list[object]:
    """The records of which another engine says something else, each with both outcomes."""
    found: list[object] = []
    for record, outcome in drawn(shipped, count):
        got = decide(record)
        if got != outcome:
            found.append((shipped.name, record, outcome, got))
    return found


def all_tables() -> list[Shipped]:
    return distinct(tables([*editions(), *demo_places()]))

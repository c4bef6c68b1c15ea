"""Random records of a contact with its controls, not all of them listed, under a table on a figure over them."""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import product

from proof.books import Maker
from proof.truth import Truth, over
from ruling import places, small
from yokebook.exploring import explore
from yokebook.law import Law
from yokebook.model import Over, Resolved, Value

OPS = ("any", "all", "count")
FIGURE, KIND, ON = "contact.figure", "contact.x", "control.p"

#: More controls than this that nobody listed take no count past another end of a cell: the last end is 4.
MOST_UNLISTED = 6


@dataclass(frozen=True)
class Listed:
    """One record: what each listed control's fact is (None: not given), and whether these are all of them."""

    controls: tuple[bool | None, ...]
    complete: bool
    kind: str | None


@dataclass(frozen=True)
class ListTable:
    """A table on a figure over the controls of a contact and on one fact of its own."""

    op: str
    law: Law
    truth: Truth

    def due(self, listed: Listed) -> set[str]:
        """The outcomes over every way the record can be in full."""
        found: set[str] = set()
        for controls in _in_full(listed):
            for kind in (listed.kind,) if listed.kind is not None else small.LETTERS:
                status, word = self.truth.ruling("upper", {FIGURE: _figure(self.op, controls), KIND: kind})
                found.add(word if status == "ruled" else status)
        return found

    def told(self, listed: Listed) -> set[str]:
        """The outcomes that the engine finds."""
        place = places.Place(
            self.law.book,
            places.stands(self.law),
            {} if listed.kind is None else {KIND: listed.kind},
            [{} if on is None else {ON: on} for on in listed.controls],
            listed.complete,
        )
        session = place.session()
        found = explore(session, "upper", session.graph.things["contact"][0], "small", {})
        assert found.decided
        return {leaf.outcome.word if leaf.outcome.status == "ruled" else leaf.outcome.status for leaf in found.leaves}


def _in_full(listed: Listed) -> Iterator[tuple[bool, ...]]:
    """The controls with what is not given either way, and any number that nobody listed, on or off."""
    options = [(True, False) if on is None else (on,) for on in listed.controls]
    most = 0 if listed.complete else MOST_UNLISTED
    for known in product(*options):
        for on in range(most + 1):
            yield (*known, *([True] * on))
            if most:
                yield (*known, *([True] * on), False)


def _figure(op: str, controls: Sequence[bool]) -> Value:
    """From what the words mean: any of none is no, all of none is yes."""
    if op == "count":
        return Fraction(sum(controls))
    return any(controls) if op == "any" else all(controls)


def random_list_table(rng: random.Random) -> ListTable:
    """A table on a figure."""
    op = rng.choice(OPS)
    on = {ON: places.only(True)}
    where, are = (on, None) if op == "count" else ({}, on)
    expression = Over(op, "contact.controls", (where,), () if are is None else (are,), None)  # type: ignore[arg-type]
    calculation = places.calculation(FIGURE, expression, "number" if op == "count" else "yes_no")
    book = places.book(places.facts_of("control", small.FACTS["contact.p"]), [calculation])
    figure = small.fact("figure", "number" if op == "count" else "yes_no", whole=True)
    maker = Maker(rng, {FIGURE: figure, KIND: small.FACTS[KIND]}, named={})
    while True:
        table = maker.table("upper", [FIGURE, KIND])
        if not any(winner == loser for winner, loser in over(table.rules)):
            break
    resolved = Resolved(small.DOCUMENT, "1", None, None, {"upper": table}, {}, (), (), "none")
    return ListTable(op, Law(resolved, book), Truth(resolved.tables, {}))


def random_listed(rng: random.Random) -> Listed:
    """Up to three controls, of some of which it is not said what they do."""
    controls = tuple(rng.choice((True, False, None)) for _ in range(rng.randint(0, 3)))
    return Listed(controls, rng.random() < 0.5, rng.choice((*small.LETTERS, None)))

"""The tables to export, what a table says of a full record by the definition, and records near every bound."""

from __future__ import annotations

import random
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from shipped_book import rulebook
from yokebook.law import Law
from yokebook.model import Box, Cell, NoneOf, OneOf, Value
from yokebook.session import answer_of
from yokebook.values import Range, holds, within

Record = dict[str, Value]


@dataclass(frozen=True)
class Shipped:
    """One table of the shipped rulebook, as it stands in a bare edition or on a day at a demo place."""

    name: str
    law: Law
    question: str


def editions() -> Iterator[tuple[str, Law]]:
    """Every bare edition."""
    for document, edition in sorted(rulebook().book.editions):
        for line in rulebook().edition(document, edition).in_force.values():
            law = line.candidates[0].law
            assert law is not None
            yield f"{document} {edition}", law


def demo_places() -> Iterator[tuple[str, Law]]:
    """Every demo place on the first day of each entry of its lines of time."""
    for place in rulebook().book.places.values():
        days = {e.on_or_after for line in place.lines.values() for e in line if e.on_or_after} if place.demo else set()
        for day in sorted(days):
            for line in rulebook().in_force(place.id, on=day).in_force.values():
                for candidate in line.candidates:
                    if candidate.law is not None:
                        yield f"{place.id} {day}", candidate.law


def tables(laws: Iterable[tuple[str, Law]]) -> list[Shipped]:
    return [Shipped(f"{name}: {q}", law, q) for name, law in laws for q in sorted(law.resolved.tables)]


def distinct(shipped: Iterable[Shipped]) -> list[Shipped]:
    """One of each group of tables with the same boxes, outcomes and chosen readings: most are carried on unchanged."""
    firsts: dict[str, Shipped] = {}
    for each in shipped:
        ready = each.law.ready(each.question)
        chosen = {
            name: [(c.alternative, c.where) for c in some]
            for name, some in each.law.chosen.items()
            if f"reading.{name}" in ready.inputs
        }
        boxes = [(at.rule, sorted((name, _text(cell)) for name, cell in at.box.items())) for at in ready.boxes]
        rules = [(rule.id, rule.then) for rule in ready.rules]
        none = ready.table.none_fires.then
        firsts.setdefault(repr((each.question, boxes, rules, ready.where, ready.but_not, none, chosen)), each)
    return list(firsts.values())


def _text(cell: Cell) -> str:
    if isinstance(cell, OneOf | NoneOf):
        return f"{type(cell).__name__}{sorted(map(repr, cell.values))}"
    return repr(cell)


# ---- what the table says --------------------------------------------------------------------------------------------


def ruling(law: Law, question: str, record: Mapping[str, Value]) -> str | None:
    """The outcome by the definition, `silent` where there is none; None where standing rules are in conflict.

    A rule fires in some `where` box and no `but_not` box; it stands where no rule that fires prevails over it.
    """
    ready = law.ready(question)
    inside = 0
    for at in ready.boxes:
        if all(holds(cell, record[name]) for name, cell in at.box.items()):
            inside |= 1 << at.bit
    fired = {i for i in range(len(ready.rules)) if ready.where[i] & inside and not ready.but_not[i] & inside}
    words = {ready.rules[i].then for i in fired if not ready.beaten_by[i] & fired}
    if len(words) > 1:
        return None
    return words.pop() if words else ready.table.none_fires.then or "silent"


# ---- records --------------------------------------------------------------------------------------------------------


def records(law: Law, question: str, count: int) -> Iterator[Record]:
    """Full records, the same each time: every other one is drawn into a box of the table, to reach every rule."""
    ready = law.ready(question)
    draw = random.Random(question)
    values = {name: candidates(law, question, name) for name in sorted(ready.inputs)}
    for number in range(count):
        record = {name: draw.choice(its) for name, its in values.items()}
        if number % 2 and ready.boxes:
            record |= _aimed(draw, draw.choice(ready.boxes).box, values)
        yield record


def _aimed(draw: random.Random, box: Box, values: Mapping[str, list[Value]]) -> Record:
    """A value in each cell of the box where the input can have one, and now and then one cell left as it was drawn."""
    aimed: Record = {}
    for name in sorted(box):
        fitting = [value for value in values[name] if holds(box[name], value)]
        if fitting and draw.random() < 0.9:
            aimed[name] = draw.choice(fitting)
    return aimed


def candidates(law: Law, question: str, name: str) -> list[Value]:
    """Values of an input that together tell every cell on it from every other: all words, yes and no, or numbers at,
    close to and between the bounds."""
    book = law.book
    thing = book.facts.get(name) or book.calculations.get(name)
    if thing is not None and thing.type == "yes_no":
        return [True, False]
    if thing is not None and thing.type == "number":
        fact = book.facts.get(name)
        domain = Range(fact.low, fact.low_open, fact.high, fact.high_open, fact.whole) if fact else None
        points = _points(cell for at in law.ready(question).boxes for n, cell in at.box.items() if n == name)
        return [p for p in points if domain is None or within(p, domain)]
    if thing is not None:
        return [*thing.values]
    if name.startswith("answer."):
        return [*answer_of(book, name.removeprefix("answer."), law.kind)[1].outcomes]
    reading = name.removeprefix("reading.")
    chosen = law.chosen.get(reading)
    if chosen and chosen[0].where is None:
        return [chosen[0].alternative]
    return [*book.readings[reading].alternatives]


def _points(cells: Iterable[Cell]) -> list[Fraction]:
    cuts: set[Fraction] = set()
    for cell in cells:
        ends = cell.values if isinstance(cell, OneOf | NoneOf) else (cell.low, cell.high)
        cuts.update(end for end in ends if isinstance(end, Fraction))
    near = {cut + step for cut in cuts for step in (0, 1, -1, Fraction(1, 1000), Fraction(-1, 1000))}
    return sorted(near | {(a + b) / 2 for a, b in pairwise(sorted(cuts))})


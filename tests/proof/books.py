"""Random rulebooks of one small document: invented facts of every type, tables on them as a loader would give them."""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property

from proof.truth import Record, Truth, over
from ruling import places, small
from yokebook.code import Code
from yokebook.graph import Graph, Thing
from yokebook.law import Candidate, InForce, Law
from yokebook.model import (
    Book,
    Box,
    Calculation,
    Cell,
    Fact,
    Impossible,
    LookUp,
    NamedNumber,
    NoneOf,
    Number,
    NumberValue,
    OneOf,
    Resolved,
    Rule,
    Step,
    Table,
    Value,
    WhereBox,
    Within,
)

#: Named numbers, by the unit of the facts they are meant for.
NAMED = {"in": "limit", "A": "rating", None: "least", "W": "draw"}
ENDS = tuple(Fraction(n, 2) for n in range(9))  # 0, 1/2, … 4
ALTERNATIVES = ("one", "two", "three")
PUBLISHED = ("one", "two")
CLASSES = ("light", "heavy")


@dataclass(frozen=True)
class Made:
    """A random rulebook with its one law, `upper` the table at hand. `grid` has values of every fact on, between and
    beyond all ends that a cell may have; `inputs` are its facts, and its figures as if they were."""

    book: Book
    law: Law
    grid: Mapping[str, tuple[Value, ...]]
    inputs: Mapping[str, Fact]

    @cached_property
    def truth(self) -> Truth:
        """The definition."""
        numbers = {name: value.value for name, value in self.law.resolved.values.items()}
        return Truth(self.law.resolved.tables, numbers)

    @property
    def upper(self) -> Table:
        """The table at hand."""
        return self.law.resolved.tables["upper"]

    @cached_property
    def in_force(self) -> dict[str, InForce]:
        """The law in force."""
        return {"small": InForce("small", (Candidate("entry", "in force", self.law, ""),))}

    @cached_property
    def code(self) -> Code:
        """What callers rule with."""
        return Code(self.book, self.in_force, None, {}, None, {})

    def ruling(self, record: Record) -> tuple[str, str]:
        """What the table at hand says of a record of facts by the definition, figures worked out from it."""
        return self.truth.ruling("upper", self.with_figures(record))

    def with_figures(self, record: Record) -> dict[str, Value]:
        """A record with the figures that follow from its facts."""
        found = dict(record)
        for name, calculation in self.book.calculations.items():
            if isinstance(calculation.expression, LookUp):
                by = record.get(calculation.expression.by)
                listed = calculation.expression.table
                value = None if by is None else listed.get(by, calculation.expression.otherwise)
            else:
                assert isinstance(calculation.expression, WhereBox)
                value = any(
                    all(self.truth.in_cell(cell, record.get(other)) for other, cell in box.items())
                    for box in calculation.expression.boxes
                )
            if value is not None:
                found[name] = value
        return found

    def applies(self, name: str, record: Record) -> bool:
        """Whether a fact has a meaning in a record."""
        box = self.book.facts[name].applies_when
        return box is None or all(self.truth.in_cell(cell, record.get(other)) for other, cell in box.items())

    def can_occur(self, record: Record) -> bool:
        """Whether a record is in no combination declared impossible."""
        return not any(
            all(self.truth.in_cell(cell, record.get(name)) for name, cell in combination.where.items())
            for combination in self.book.impossible
        )

    def record(self, rng: random.Random) -> dict[str, Value]:
        """A full record: a value of every fact that applies. What is plugged in may be nothing."""
        record = {name: rng.choice(values) for name, values in self.grid.items()}
        if rng.random() < 0.3:
            record.pop("load.draw", None)
        return {name: value for name, value in record.items() if self.applies(name, record)}

    def graph(self, record: Record, hidden: Sequence[str] = ()) -> Graph:
        """A record as things, some facts of it not given."""
        graph = Graph(form="record")
        project = Thing("project", "project")
        here = {name: value for name, value in record.items() if name in self.book.facts and name not in hidden}
        load = None
        if "load.draw" in record:
            load = Thing("load", "l", "l", {n: v for n, v in here.items() if n == "load.draw"})
            load.refs["project"] = project
            graph.things["load"].append(load)
        given = {name: value for name, value in here.items() if name != "load.draw"}
        contact = Thing("contact", "c", "c", given, refs={"load": load, "project": project})
        graph.things["project"].append(project)
        graph.things["contact"].append(contact)
        return graph

    def written(self, rng: random.Random, record: Record) -> dict[str, object]:
        """A record as people write it: words, yes or no, numbers in one unit or another."""
        found: dict[str, object] = {
            name: _written(rng, value, self.book.facts[name].unit) for name, value in record.items()
        }
        return found if "load.draw" in record else {**found, "contact.load": "none"}


def _written(rng: random.Random, value: Value, unit: str | None) -> object:
    if not isinstance(value, Fraction):
        return value
    bigger = {"in": ("ft", 12), "W": ("kW", 1000)}.get(unit or "")
    if bigger is not None and rng.random() < 0.5:
        return f"{value / bigger[1]} {bigger[0]}"
    return f"{value} {unit}" if unit else int(value)


# ---- random rulebooks ------------------------------------------------------------------------------------------------


def random_book(rng: random.Random, *, chain: bool = False, readings: bool = True) -> Made:
    """A rulebook; with `chain` the table at hand also turns on the answers of a lower one, which may be at fault."""
    while True:
        made = _random_book(rng, chain, readings)
        tables = made.law.resolved.tables.values()
        if not any(winner == loser for table in tables for winner, loser in over(table.rules)):
            return made  # rules that prevail over each other in a circle are refused at load


def _random_book(rng: random.Random, chain: bool, readings: bool) -> Made:
    facts = random_facts(rng)
    figures = random_figures(rng, Maker(rng, facts))
    inputs = {**facts, **{name: _as_fact(figure) for name, figure in figures.items()}}
    maker = Maker(rng, inputs)
    names = rng.sample(sorted(inputs), rng.randint(2, 4)) + (["reading.r"] if readings and rng.random() < 0.3 else [])
    tables = {"upper": maker.table("upper", names + (["answer.lower"] if chain else []))}
    if chain:
        tables["lower"] = maker.table("lower", rng.sample(sorted(inputs), 2))
    if rng.random() < 0.4 and "contact.reach" in facts:
        others = [name for name in sorted(facts) if name.startswith("contact.") and name != "contact.reach"]
        box = maker.box(others, 1)
        facts["contact.reach"] = replace(facts["contact.reach"], applies_when=box or None)
    always = [name for name in sorted(facts) if facts[name].applies_when is None and name.startswith("contact.")]
    boxes = [maker.box(always, 2) for _ in range(rng.choice((0, 0, 1)))]
    impossible = tuple(Impossible("contact", box, "so it is", small.AT) for box in boxes if box)
    book = replace(small.book(figures), facts=facts, impossible=impossible)
    values = {
        name: NumberValue(
            name, rng.choice(ENDS), unit, "", "neither", "", small.CITE, small.SEEN, small.AT
        )
        for unit, name in NAMED.items()
    }  # fmt: skip
    chosen: tuple[tuple[str, str, Box | None, Step], ...] = ()
    if rng.random() < 0.5:
        chosen = (chosen_reading(rng),)
    resolved = Resolved(small.DOCUMENT, "1", None, None, tables, values, chosen, (), "none")
    return Made(book, Law(resolved, book), {name: values_of(fact) for name, fact in facts.items()}, inputs)


def changed(rng: random.Random, made: Made) -> Made:
    """The same rulebook under another law: a rule, a named number or the chosen reading is otherwise. Named numbers in
    what does not apply or cannot occur stay: a comparison takes these from the first law."""
    ties = [i.where for i in made.book.impossible] + [fact.applies_when or {} for fact in made.book.facts.values()]
    named = {n.id for box in ties for cell in box.values() for n in members(cell) if isinstance(n, NamedNumber)}
    while True:
        resolved, maker = made.law.resolved, Maker(rng, made.inputs)
        tables, values = dict(resolved.tables), dict(resolved.values)
        question = rng.choice(sorted(tables))
        rules = list(tables[question].rules)
        at = rng.randrange(len(rules))
        names = sorted({name for rule in rules for box in rule.where for name in box}) or ["contact.wet"]
        kind = rng.randrange(5)
        if kind == 0:
            rules[at] = replace(rules[at], where=(maker.box(names, 3), *rules[at].where[1:]))
        elif kind == 1:
            rules[at] = replace(rules[at], then=rng.choice(small.OUTCOMES))
        elif kind == 2:
            rules[at] = replace(rules[at], exception_to=(), prevails_over=())
        elif kind == 3:
            name = rng.choice(sorted(set(values) - named))
            values[name] = replace(values[name], value=rng.choice(ENDS))
        tables[question] = replace(tables[question], rules=tuple(rules))
        chosen = resolved.chosen if kind < 4 else (chosen_reading(rng),)
        law = Law(replace(resolved, tables=tables, values=values, chosen=chosen), made.book)
        if not any(winner == loser for winner, loser in over(rules)):
            return replace(made, law=law)


def members(cell: Cell) -> list[object]:
    """What a cell names: its values, or its ends."""
    return [cell.low, cell.high] if isinstance(cell, Within) else list(cell.values)


def chosen_reading(rng: random.Random) -> tuple[str, str, Box | None, Step]:
    """The reading, chosen for every record."""
    return ("r", rng.choice(ALTERNATIVES), None, Step("X-1", "choose_reading", None, "", small.AT))


def random_facts(rng: random.Random) -> dict[str, Fact]:
    """Facts of every type, their numbers closed, open or without an end, with units and whole."""
    letters = "abcd"[: rng.randint(2, 4)]
    kind = replace(small.fact("kind", "choice"), values={letter: letter for letter in letters})
    facts = [kind, small.fact("side", "choice"), small.fact("wet", "yes_no"), small.fact("spare", "yes_no")]
    for name, unit in (("height", "in"), ("reach", "A"), ("count", None)):
        number = small.fact(name, "number", whole=unit is None)
        facts.append(
            replace(
                number,
                unit=unit,
                low_open=rng.random() < 0.3,
                high=None if rng.random() < 0.4 else number.high,
                high_open=rng.random() < 0.3,
            )
        )
    draw = replace(small.fact("draw", "number"), id="load.draw", entity="load", unit="W", high=None)
    return {fact.id: fact for fact in (*facts, draw)}


def random_figures(rng: random.Random, maker: Maker) -> dict[str, Calculation]:
    """A word looked up by another, which may be of no use for some; and whether any of some boxes holds."""
    letters = list(maker.facts["contact.kind"].values)
    table: dict[Value, Value] = {letter: rng.choice(CLASSES) for letter in letters if rng.random() < 0.8}
    look_up = LookUp("contact.kind", table, rng.choice((None, *CLASSES)))
    names = sorted(name for name in maker.facts if name.startswith("contact."))
    boxes = WhereBox(tuple(maker.box(names, 2) for _ in range(rng.choice((1, 2, 2)))))
    looked_up = replace(places.calculation("contact.class", look_up, "choice"), values={c: c for c in CLASSES})
    return {"contact.class": looked_up, "contact.odd": places.calculation("contact.odd", boxes)}


def _as_fact(figure: Calculation) -> Fact:
    return replace(small.fact("", "yes_no"), id=figure.id, type=figure.type, values=figure.values)


def values_of(fact: Fact) -> tuple[Value, ...]:
    """Every word, or numbers in steps of a quarter (of one) to beyond all ends of cells, as far as the fact allows."""
    if fact.type == "yes_no":
        return (True, False)
    if fact.type == "choice":
        return tuple(fact.values)
    steps = [Fraction(n) if fact.whole else Fraction(n, 4) for n in range(7 if fact.whole else 21)]
    return tuple(n for n in steps if allowed(fact, n))


def allowed(fact: Fact, number: Fraction) -> bool:
    """Whether a fact may have this number."""
    assert fact.low is not None
    if number < fact.low or (fact.low_open and number == fact.low):
        return False
    return fact.high is None or number < fact.high or (number == fact.high and not fact.high_open)


class Maker:
    """Draws cells, boxes and tables on inputs, each with a fact that says what values it has."""

    def __init__(
        self, rng: random.Random, facts: Mapping[str, Fact], named: Mapping[str | None, str] | None = None
    ) -> None:
        self.rng, self.facts, self.named = rng, facts, NAMED if named is None else named

    def table(self, question: str, names: Sequence[str]) -> Table:
        """A table of a few rules, exceptions to exceptions among them."""
        rules: list[Rule] = []
        if self.rng.random() < 0.4:  # rules that leave little or nothing out
            box = self.box(names, 1)
            rules = [self._rule(question, 0, names, [box], []), self._rule(question, 1, names, [{}], [])]
            rules[1] = replace(rules[1], but_not=(box,) if self.rng.random() < 0.5 else ())
        for n in range(len(rules), len(rules) + self.rng.randint(1, 4)):
            where = [self.box(names, 3) for _ in range(self.rng.choice((1, 1, 1, 2, 3)))]
            rules.append(self._rule(question, n, names, where, rules))
        return small.table(question, rules, self.rng.choice((*small.OUTCOMES, None)))

    def _rule(
        self, question: str, n: int, names: Sequence[str], where: list[Box], earlier: Sequence[Rule]
    ) -> Rule:
        rng = self.rng
        ids = [rule.id for rule in earlier]
        some = tuple(rng.sample(ids, min(len(ids), rng.choice((1, 1, 2)))))
        link = rng.random()
        exception_to: object = "all" if ids and link < 0.15 else some if link < 0.7 else ()
        but_not = [self.box(sorted(where[0]) or names, 2) for _ in range(rng.choice((0, 0, 0, 1)))]
        rule = small.rule(f"{question}#{n}", where, rng.choice(small.OUTCOMES), but_not, exception_to)
        return replace(rule, prevails_over=some if link > 0.9 else ())

    def box(self, names: Sequence[str], most: int) -> Box:
        """Cells on a few of the inputs."""
        picked = self.rng.sample(list(names), min(len(names), self.rng.randint(0 if most > 1 else 1, most)))
        return {name: self.cell(name) for name in picked}

    def cell(self, name: str) -> Cell:
        """A cell on an input."""
        rng = self.rng
        if name == "reading.r":
            return OneOf(frozenset(rng.sample(ALTERNATIVES, rng.choice((1, 1, 2)))))
        if name == "answer.lower":
            return rng.choice((OneOf, NoneOf))(frozenset(rng.sample(small.OUTCOMES, rng.choice((1, 1, 2)))))
        fact = self.facts[name]
        if fact.type == "yes_no":
            return OneOf(frozenset({rng.random() < 0.5}))
        if fact.type == "choice":
            words = list(fact.values)
            return rng.choice((OneOf, NoneOf))(frozenset(rng.sample(words, rng.randint(1, len(words) - 1))))
        return self._on_number(fact)

    def _on_number(self, fact: Fact) -> Cell:
        """Single numbers, all but a number, stretches with open and closed ends, and now and then one in which there is
        no number of the fact at all."""
        rng = self.rng
        kind = rng.random()
        if kind < 0.25:
            return OneOf(frozenset(self._number(fact) for _ in range(rng.choice((1, 1, 2)))))
        if kind < 0.35:
            return NoneOf(frozenset({self._number(fact)}))
        if kind < 0.45:
            low = Fraction(rng.randint(0, 3))
            return Within(low, True, low + 1, True)  # of whole numbers none
        low_end, high_end = self._number(fact), self._number(fact)
        if kind < 0.65:
            return Within(low_end, rng.random() < 0.5)
        if kind < 0.85:
            return Within(None, False, high_end, rng.random() < 0.5)
        return Within(low_end, rng.random() < 0.5, high_end, rng.random() < 0.5)

    def _number(self, fact: Fact) -> Number:
        if fact.unit in self.named and self.rng.random() < 0.2:
            return NamedNumber(self.named[fact.unit])
        return self.rng.choice(ENDS)

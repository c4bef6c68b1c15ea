"""What a ruling says as a decision, and random records: what the quick evaluator is held against the full one with."""

from __future__ import annotations

import random
from collections.abc import Mapping
from fractions import Fraction

from yokebook.code import Code
from yokebook.decision import Asked, Decision, Held
from yokebook.entities import PREFIX
from yokebook.flat.demand import Demand
from yokebook.law import plain_cell
from yokebook.load.faults import InputFaults
from yokebook.model import Cell, Fact, Value, Within
from yokebook.ruling import Ruling
from yokebook.values import holds


def as_decision(ruling: Ruling, code: Code) -> Decision:
    """The decision that a full ruling is."""
    kinds = {question.id: question.per for question in code.questions()}
    assert ruling.subject["kind"] == kinds[ruling.question]
    return Decision(
        status=ruling.status,
        word=ruling.word,
        outcome=ruling.outcome,
        possible=tuple(ruling.possible),
        rules=tuple(sorted(rule["rule"] for rule in ruling.standing)),
        ask=tuple(Asked(ask["subject"], ask["fact"], "") for ask in ruling.ask),
        readings=tuple(sorted(row["reading"] for row in ruling.readings_open)),
        also_held=tuple(Held(h["reading"], h["alternative"], tuple(h["outcomes"])) for h in ruling.also_held),
        not_checked=ruling.not_checked,
    )


def said(decision: Decision) -> tuple[object, ...]:
    """A decision without the kinds of the things that are asked about, which a ruling does not say."""
    asked = tuple((ask.subject, ask.fact) for ask in decision.ask)
    others = (decision.status, decision.word, decision.outcome, decision.possible, decision.rules)
    return (*others, asked, decision.readings, decision.also_held, decision.not_checked)


def by_rule(code: Code, question: str, record: Mapping[str, object], kind: str | None = None) -> object:
    """What `rule` says of a record, or the faults for which it refuses it."""
    try:
        return said(as_decision(code.rule(question, record, kind), code))
    except InputFaults as refused:
        return str(refused)


def by_decide(code: Code, question: str, record: Mapping[str, object], kind: str | None = None) -> object:
    """As `by_rule`, by `decide`."""
    try:
        return said(code.decide(question, record, kind))
    except InputFaults as refused:
        return str(refused)


class Records:
    """Random flat records for one question: some of the facts that it looks at, with values at, above and below every
    number at which anything changes."""

    def __init__(self, code: Code, question: str, kind: str) -> None:
        self.code = code
        self.per = code.book.questions[question].per
        demand = Demand(code.book, code.in_force, kind)
        demand.question(question)
        facts = {name: code.book.facts[name] for name in sorted(demand.looked_at) if name in code.book.facts}
        cells = {name: demand.telling[name].cells for name in facts}
        self.values = {name: _values(fact, cells[name]) for name, fact in facts.items()}

    def one(self, rng: random.Random) -> dict[str, object]:
        """A record that the front door takes: what does not apply is left out again."""
        share = rng.choice((0.4, 0.7, 0.9, 1))
        found = {name: rng.choice(values) for name, values in self.values.items() if rng.random() < share}
        while True:
            out_of_place = [name for name in found if not self._may_apply(name, found)]
            if not out_of_place:
                break
            del found[out_of_place[0]]
        record: dict[str, object] = {name: _written(rng, value) for name, value in found.items()}
        if rng.random() < 0.5:
            record["contact.controls.complete"] = rng.random() < 0.5
        if rng.random() < 0.2 and not any(name.startswith(PREFIX["load"]) for name in record):
            record["contact.load"] = "none"
        return record

    def _may_apply(self, name: str, record: Mapping[str, Value]) -> bool:
        box = self.code.book.facts[name].applies_when or {}
        return all(self._may_hold(other, cell, record) for other, cell in box.items())

    def _may_hold(self, name: str, cell: Cell, record: Mapping[str, Value]) -> bool:
        if name in record:
            return holds(plain_cell(cell, {}, name), record[name])
        return self._may_apply(name, record)


def _values(fact: Fact, cells: Mapping[Cell, None]) -> list[Value]:
    if fact.type == "choice":
        return list(fact.values)
    if fact.type == "yes_no":
        return [True, False]
    ends = {end for cell in cells for end in _numbers(cell)} | {Fraction(1), Fraction(20)}
    near = sorted({end + step for end in ends for step in (-1, Fraction(-1, 2), 0, Fraction(1, 2), 1)})
    return [value for value in near if _allowed(fact, value)]


def _numbers(cell: Cell) -> list[Fraction]:
    ends: tuple[object, ...] = (cell.low, cell.high) if isinstance(cell, Within) else tuple(cell.values)
    return [end for end in ends if isinstance(end, Fraction)]


def _allowed(fact: Fact, value: Fraction) -> bool:
    below = fact.low is not None and (value < fact.low or (fact.low_open and value == fact.low))
    above = fact.high is not None and (value > fact.high or (fact.high_open and value == fact.high))
    return not below and not above and (not fact.whole or value.denominator == 1)


def _written(rng: random.Random, value: Value) -> object:
    if isinstance(value, bool):
        return rng.choice((value, "yes" if value else "no"))
    if isinstance(value, str):
        return value
    return int(value) if value.denominator == 1 and rng.random() < 0.7 else rng.choice((float(value), value))

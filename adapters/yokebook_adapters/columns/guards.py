"""What must be sure of a row before SQL may settle it: that the evaluator takes the record as it is, and that all that
is given of it can be true together."""

from __future__ import annotations

from collections.abc import Iterable

from sqlglot import exp

from yokebook.deciding import Context
from yokebook.intake.vocabulary import looked_up
from yokebook.law import Law, LawFault, plain_cell
from yokebook.load.faults import InputFaults
from yokebook.model import Calculation, Fact, Value
from yokebook.session import LowerFault, domain
from yokebook.values import CellIndex, Range, Some, Split, holds, in_order, inside
from yokebook_adapters.columns.given import equals_any
from yokebook_adapters.columns.inputs import Inputs, World
from yokebook_adapters.columns.logic import (
    Sql,
    atom,
    both,
    either,
    false,
    maybe,
    missing,
    negated,
    surely,
    true,
)


def fit(inputs: Inputs, law: Law) -> Sql:
    """Whether a row's record is surely taken by the front door and can occur; never NULL."""
    return both(
        [
            *(column.usual for column in inputs.columns.values()),
            *_where_they_apply(inputs, law),
            *_not_impossible(inputs, law),
            *_as_computed(inputs),
        ]
    )


def anything(inputs: Inputs) -> World:
    """The world in which every reading is open."""
    return dict.fromkeys(inputs.book.readings)


def _where_they_apply(inputs: Inputs, law: Law) -> Iterable[Sql]:
    """Each fact that is given surely applies."""
    for key in inputs.columns:
        fact = inputs.book.facts.get(key)
        if fact is not None and fact.applies_when is not None:
            applies = inputs.in_box(law, fact.applies_when, anything(inputs), fact.entity)
            yield either([missing(inputs.stated(key)), surely(applies)])


# ---- combinations that cannot occur ---------------------------------------------------------------------------------


def _not_impossible(inputs: Inputs, law: Law) -> Iterable[Sql]:
    """No declared combination holds, or each that may hold turns on a fact not given that has a value which keeps it
    from holding, whatever else is not given."""
    combinations = inputs.book.impossible
    escapes = Escapes(inputs, law)
    for number, combination in enumerate(combinations):
        box, world = combination.where, anything(inputs)
        cells = [inputs.cell(law, name, cell, world, combination.entity) for name, cell in box.items()]
        yield either([*(negated(maybe(cell)) for cell in cells), *escapes.of(number)])


class Escapes:
    """For each fact one value, and the declared combinations that it keeps from holding whatever the other facts are."""

    def __init__(self, inputs: Inputs, law: Law) -> None:
        self.inputs = inputs
        self.law = law
        self.combinations = inputs.book.impossible
        self.reached = [
            frozenset().union(*(inputs.reached(law, name) for name in combination.where))
            for combination in self.combinations
        ]
        facts = sorted({name for names in self.reached for name in names if name in inputs.book.facts})
        can = {name: self._each_way(inputs.book.facts[name]) for name in facts}
        self.kept_out: dict[str, frozenset[int]] = {}
        self.kept_out: dict[str, frozenset[int]] = {}
        for name in [*facts, *facts]:  # once more, to see what the others leave to do
            others = [number for other, numbers in self.kept_out.items() if other != name for number in numbers]
            ways = sorted(can[name], key=lambda numbers: sum(1 / (1 + others.count(n)) for n in numbers))
            self.kept_out[name] = ways[-1] if ways else frozenset()

    def of(self, number: int) -> Iterable[Sql]:
        """Whether a fact not given keeps a combination from holding, for each fact that can; never NULL."""
        stated = [name for name in self.reached[number] if name in self.inputs.book.calculations]
        for name, kept_out in self.kept_out.items():
            if number in kept_out:
                through = [] if name in self.combinations[number].where else stated
                yield both(missing(self.inputs.stated(each)) for each in (name, *sorted(through)))

    def _each_way(self, fact: Fact) -> list[frozenset[int]]:
        """The combinations that each value of a fact keeps from holding, those left out that another value betters."""
        its = [number for number, names in enumerate(self.reached) if fact.id in names]
        tried = {frozenset(n for n in its if self._keeps_out(n, fact, value)): None for value in self._values(fact)}
        return [one for one in tried if not any(one < other for other in tried)]

    def _values(self, fact: Fact) -> list[Value]:
        """Values to try: every word, and of numbers one out of each stretch that a combination tells apart."""
        span = domain(fact)
        if isinstance(span, Some):
            return in_order(span.values)
        assert isinstance(span, Range)
        cells = [
            plain_cell(combination.where[fact.id], self.law.resolved.values, fact.id)
            for combination in self.combinations
            if fact.id in combination.where
        ]
        pieces = CellIndex(enumerate(cells), (1 << len(cells)) - 1).pieces(span)
        return [inside(piece) for piece, _ in pieces if isinstance(piece, Range)]

    def _keeps_out(self, number: int, fact: Fact, value: Value) -> bool:
        combination = self.combinations[number]
        cell = combination.where.get(fact.id)
        if cell is not None:
            return not holds(plain_cell(cell, self.law.resolved.values, fact.id), value)
        if fact.applies_when is not None:
            return False  # where it does not apply, what is computed from it may be anything
        try:
            session = self.inputs.code.session({fact.id: value})
            thing = session.graph.things[combination.entity][0]
            return not Context(session, {}, {}, set()).in_box(self.law, thing, combination.where)
        except (InputFaults, Split, LowerFault):
            return False


# ---- values stated that other facts give ----------------------------------------------------------------------------


def _as_computed(inputs: Inputs) -> Iterable[Sql]:
    """Each value stated of a calculation is what every document in force computes of it, or stands alone."""
    for key in inputs.columns:
        if key.startswith("answer."):
            yield missing(inputs.stated(key))
        elif key in inputs.book.calculations:
            yield from _under_each_law(inputs, inputs.book.calculations[key])


def _under_each_law(inputs: Inputs, calculation: Calculation) -> Iterable[Sql]:
    stated = inputs.stated(calculation.id)
    alone = _alone(inputs, calculation)
    for line in inputs.code.in_force.values():
        if len(line.candidates) > 1:
            yield missing(stated)
        law = line.candidates[0].law if line.candidates else None
        if law is None:
            continue
        try:
            computed = inputs.worked_out(law, calculation, anything(inputs)).value
        except LawFault:
            continue  # this document does not set a number that it takes, so that nothing speaks against it
        computed = inputs.steps.name(f"~{calculation.id} computed", computed)
        same = _equal(computed, stated)
        yield either([missing(stated), same, alone])


def _equal(one: Sql, other: Sql) -> Sql:
    if missing(one) == true() or missing(other) == true():
        return false()
    return surely(exp.EQ(this=atom(one), expression=atom(other)))


def _alone(inputs: Inputs, calculation: Calculation) -> Sql:
    """Whether nothing that it is computed from is given, and what is stated of it can be by itself; never NULL."""
    values = [value for value in _values(calculation) if _stands(inputs, calculation.id, value)]
    if not values:
        return false()
    reached: set[str] = set()
    for line in inputs.code.in_force.values():
        for candidate in line.candidates:
            if candidate.law is not None:
                reached |= inputs.reached(candidate.law, calculation.id)
    behind = {n for n in reached if n != calculation.id} | {n for n in inputs.columns if n.endswith(".complete")}
    nothing_else = both(missing(inputs.stated(name)) for name in sorted(behind & set(inputs.columns)))
    return both([nothing_else, surely(equals_any(inputs.stated(calculation.id), values))])


def _values(calculation: Calculation) -> list[Value]:
    """Every value that can be stated of a calculation, where they can be listed."""
    only = looked_up(calculation)
    if only is not None:
        return in_order(only)
    if calculation.type == "yes_no":
        return [True, False]
    return list(calculation.values) if calculation.type == "choice" else []


def _stands(inputs: Inputs, name: str, value: Value) -> bool:
    """Whether the evaluator takes a record that states nothing but this."""
    try:
        inputs.code.session({name: value})
    except InputFaults:
        return False
    return True

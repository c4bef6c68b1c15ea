"""What must be sure of a row before SQL may settle it: that the evaluator takes the record as it is, and that all that
is given of it can be true together."""

from __future__ import annotations

from collections.abc import Iterable

from sqlglot import exp

from yokebook.intake.vocabulary import looked_up
from yokebook.law import Law, LawFault, plain_cell
from yokebook.load.faults import InputFaults
from yokebook.model import Box, Calculation, Cell, Value
from yokebook.session import domain
from yokebook.values import CellIndex, in_order
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
    """No declared combination holds, or each that may hold has a fact not given that keeps it from holding, whatever
    else is not given."""
    cells: dict[str, list[Cell]] = {}
    for combination in inputs.book.impossible:
        for name, cell in combination.where.items():
            cells.setdefault(name, []).append(plain_cell(cell, law.resolved.values, name))
    escapes = {name for name, its in cells.items() if _escapes(inputs, name, its)}
    for combination in inputs.book.impossible:
        box: Box = combination.where
        world = anything(inputs)
        yield either(
            [
                *(negated(maybe(inputs.cell(law, n, c, world, combination.entity))) for n, c in box.items()),
                *(missing(inputs.stated(name)) for name in box if name in escapes),
            ]
        )


def _escapes(inputs: Inputs, name: str, cells: list[Cell]) -> bool:
    """Whether a fact has a value that no declared combination names with the others."""
    fact = inputs.book.facts.get(name)
    if fact is None:
        return False
    index = CellIndex(enumerate(cells), (1 << len(cells)) - 1)
    return any(bits == 0 for _, bits in index.pieces(domain(fact)))


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

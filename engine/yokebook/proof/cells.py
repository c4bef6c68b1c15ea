"""The cells that a law has on an input, in its tables, calculations, facts and declared combinations."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction

from yokebook.law import Law, LawFault, plain_cell
from yokebook.model import (
    Book,
    Box,
    Cell,
    Expression,
    Grouped,
    LookUp,
    Nearest,
    OneOf,
    Over,
    OverList,
    Uncovered,
    WhereBox,
    Within,
    boxes_on_items,
    taken_of_items,
    taken_of_itself,
)


def cells_on(name: str, law: Law, book: Book) -> Iterator[Cell]:
    """Every cell on a fact, calculation or answer, its named numbers replaced."""
    for box in _boxes(law, book):
        if name in box:
            try:
                yield plain_cell(box[name], law.resolved.values, name)
            except LawFault:  # of a calculation that no table of this edition reaches
                continue
    for calculation in book.calculations.values():
        for look_up in _look_ups(calculation.expression):
            if look_up.by == name:
                yield OneOf(frozenset(look_up.table))


def ends_of(cell: Cell) -> list[Fraction]:
    """The numbers that a cell (named numbers already replaced) has for an end or names."""
    members: Iterable[object] = (cell.low, cell.high) if isinstance(cell, Within) else cell.values
    return [n for n in members if isinstance(n, Fraction)]


def _boxes(law: Law, book: Book) -> Iterator[Box]:
    for table in law.resolved.tables.values():
        for rule in table.rules:
            yield from (*rule.where, *rule.but_not)
    for calculation in book.calculations.values():
        yield from boxes_in_expression(calculation.expression)
    for combination in book.impossible:
        yield combination.where
    for fact in book.facts.values():
        if fact.applies_when is not None:
            yield fact.applies_when


def boxes_in_expression(expression: Expression) -> Iterator[Box]:
    """Every box of an expression, at any depth."""
    match expression:
        case WhereBox(boxes):
            yield from boxes
        case Over() | Grouped() | Uncovered() | Nearest():
            yield from boxes_on_items(expression)
    for part in parts_of_expression(expression):
        yield from boxes_in_expression(part)


def _look_ups(expression: Expression) -> Iterator[LookUp]:
    if isinstance(expression, LookUp):
        yield expression
    for part in parts_of_expression(expression):
        yield from _look_ups(part)


def parts_of_expression(expression: Expression) -> tuple[Expression, ...]:
    """The expressions that an expression is made of directly."""
    own = taken_of_itself(expression)
    if isinstance(expression, OverList):
        items = taken_of_items(expression)
        return (*items, *(part for part in own if part not in items))
    return own

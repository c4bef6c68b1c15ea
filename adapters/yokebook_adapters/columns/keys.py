"""The key of a row that goes to the evaluator: rows with the same one are ruled alike, so that one of them is enough.

It holds what the question can turn on, as it stands in the row; of numbers that are only compared, which stretch
between the bounds they lie in; of columns that the question cannot turn on, only that they are given.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from sqlglot import exp

from yokebook.law import Law, plain_cell
from yokebook.model import (
    Box,
    Expression,
    LookUp,
    NamedNumber,
    Of,
    OverList,
    WhereBox,
    Within,
    boxes_on_items,
    taken_of_items,
    taken_of_itself,
)
from yokebook.session import answer_of
from yokebook_adapters.columns.given import Given, beyond
from yokebook_adapters.columns.inputs import Inputs
from yokebook_adapters.columns.logic import Sql, case, column, missing, negated, surely, text


@dataclass(frozen=True)
class Part:
    """What a column has in a row's key: with `cuts` only the stretch between them in which a value in a usual form lies
    (with none of them: that there is one), else what stands there."""

    given: Given
    cuts: tuple[Fraction, ...] | None


def parts_of_key(inputs: Inputs, law: Law | None, question: str) -> list[Part]:
    """Each column's part of the key of rows that are ruled alike."""
    if law is None:
        return [Part(each, None) for each in inputs.columns.values()]
    names = _turned_on(inputs, law, question)
    cuts = {name: tuple(sorted(ends)) for name, ends in _compared(inputs, question, names).items()}
    return [
        Part(each, cuts.get(key, None if key in names else ())) for key, each in inputs.columns.items()
    ]


def row_key(parts: Iterable[Part]) -> Sql:
    """The key as one text: unambiguous, whatever stands in the cells."""
    return joined(_part(part.given, part.cuts) for part in parts)


def joined(parts: Iterable[Sql]) -> Sql:
    """Texts one after the other."""
    found: Sql | None = None
    for part in parts:
        found = part if found is None else exp.DPipe(this=found, expression=part)
    return text("") if found is None else found


def _part(given_column: Given, cuts: Sequence[Fraction] | None) -> Sql:
    """A column's part: what stands there, with its length in front; with `cuts` only the stretch between them in which
    a value in a usual form lies."""
    cell = column(given_column.source.name)
    raw = exp.Cast(this=cell, to=exp.DataType.build("TEXT"))
    length = exp.Cast(this=exp.Length(this=raw.copy()), to=exp.DataType.build("TEXT"))
    whole = exp.DPipe(this=exp.DPipe(this=length, expression=text(":")), expression=raw)
    arms = [(missing(cell), text("-"))]
    if cuts is not None:
        arms.append((surely(given_column.usual), _stretch(given_column.value, cuts)))
    return case(arms, whole)


def _stretch(value: Sql, cuts: Sequence[Fraction]) -> Sql:
    """Which stretch between the cuts a number lies in, or which cut it is; a letter in front tells it from a length."""
    arms = [(missing(value), text("-"))]
    arms += [(below, text(f"s{i}")) for i, below in enumerate(below_cuts(value, cuts))]
    return case(arms, text(f"s{2 * len(cuts)}"))


def below_cuts(value: Sql, cuts: Sequence[Fraction]) -> Iterator[Sql]:
    """Whether a number is below the first cut, at most it, below the second, and so on."""
    for cut in cuts:
        yield negated(beyond(value, cut, low=True, open_end=False))
        yield negated(beyond(value, cut, low=True, open_end=True))


# ---- what a ruling can turn on --------------------------------------------------------------------------------------


def _turned_on(inputs: Inputs, law: Law, question: str) -> frozenset[str]:
    """Every name that a ruling on the question may turn on: what its tables reach, what cannot occur, where facts apply
    and what stated values are computed from."""
    names = inputs.of_table(law.ready(question))
    for combination in inputs.book.impossible:
        names |= set(combination.where)
    for key in inputs.columns:
        fact = inputs.book.facts.get(key)
        if key in inputs.book.calculations or (fact is not None and fact.applies_when is not None):
            names.add(key)
    reached = {each for name in names for one in _laws(inputs) for each in inputs.reached(one, name)}
    flags = {key for key in inputs.columns if key not in inputs.book.facts}
    return frozenset(reached | flags)


def _laws(inputs: Inputs) -> list[Law]:
    lines = inputs.code.in_force.values()
    return [candidate.law for line in lines for candidate in line.candidates if candidate.law is not None]


def _compared(inputs: Inputs, question: str, names: frozenset[str]) -> dict[str, set[Fraction]]:
    """The number facts that are never computed with, each with every number that it is compared with."""
    book = inputs.book
    found: dict[str, set[Fraction]] = {
        name: set() for name in names if name in book.facts and book.facts[name].type == "number"
    }
    for name in names & book.calculations.keys():
        for taken in _values_taken(book.calculations[name].expression):
            found.pop(taken, None)
    for one in _laws(inputs):
        for box in _boxes(inputs, one, question, names):
            for name in box.keys() & found.keys():
                cell = plain_cell(box[name], one.resolved.values, name)
                ends = (cell.low, cell.high) if isinstance(cell, Within) else cell.values
                found[name].update(end for end in ends if isinstance(end, Fraction))
    return found


def _values_taken(expression: Expression) -> Iterator[str]:
    """The names that a calculation takes as values, not only to compare them with cells."""
    if isinstance(expression, Of):
        yield expression.name
    elif isinstance(expression, LookUp):
        yield expression.by
    for part in taken_of_itself(expression):
        if not isinstance(part, NamedNumber):
            yield from _values_taken(part)
    if isinstance(expression, OverList):
        for part in taken_of_items(expression):
            yield from _values_taken(part)


def _boxes(inputs: Inputs, law: Law, question: str, names: frozenset[str]) -> Iterator[Box]:
    """Every box that a ruling on the question may try, in the tables of one law and outside of tables."""
    book = inputs.book
    questions = {question} | {
        answer_of(book, name.removeprefix("answer."), law.kind)[1].id for name in names if name.startswith("answer.")
    }
    for asked in questions:
        for rule in law.resolved.tables[asked].rules if law.answers(asked) else ():
            yield from (*rule.where, *rule.but_not)
    for combination in book.impossible:
        yield combination.where
    for name in names:
        if name in book.calculations:
            yield from _boxes_in(book.calculations[name].expression)
        elif name in book.facts:
            applies = book.facts[name].applies_when
            yield from () if applies is None else (applies,)
    yield from (chosen.where for each in law.chosen.values() for chosen in each if chosen.where is not None)


def _boxes_in(expression: Expression) -> Iterator[Box]:
    if isinstance(expression, WhereBox):
        yield from expression.boxes
    elif isinstance(expression, OverList):
        yield from boxes_on_items(expression)
        for part in taken_of_items(expression):
            yield from _boxes_in(part)
    for part in taken_of_itself(expression):
        yield from _boxes_in(part)

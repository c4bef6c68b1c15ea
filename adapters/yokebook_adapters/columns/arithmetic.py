"""Exact arithmetic on decimals: sums, differences and products as far as their digits fit, and comparisons.

Quotients, rounding and tiers have no exact decimals; what needs them goes to the evaluator.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from sqlglot import exp

from yokebook_adapters.columns.logic import NUMBER, Sql, atom, constant, null

_RELATIONS: dict[str, type[exp.Binary]] = {
    "at_least": exp.GTE,
    "more_than": exp.GT,
    "at_most": exp.LTE,
    "less_than": exp.LT,
    "equals": exp.EQ,
}
_OPERATORS: dict[str, type[exp.Binary]] = {"plus": exp.Add, "minus": exp.Sub, "times": exp.Mul}


def related(relation: str) -> Callable[[Sequence[Sql]], Sql]:
    """The test whether a relation holds between two numbers; NULL where one of them is not known."""

    def make(values: Sequence[Sql]) -> Sql:
        left, right = values
        if constant(left) is None or constant(right) is None:
            return null()
        return _RELATIONS[relation](this=atom(left), expression=atom(right))

    return make


def computed(op: str, values: Sequence[Sql]) -> Sql:
    """A sum, difference or product, NULL where a part is not known, the operation has no exact decimals, or the result
    has more digits than are kept."""
    if op not in _OPERATORS or any(constant(value) is None for value in values):
        return null()
    result = values[0]
    for value in values[1:]:
        result = _kept(op, result, value)
    return result


def _kept(op: str, left: Sql, right: Sql) -> Sql:
    """One operation, brought back to as many digits as are kept; NULL where that is not the same number."""
    exact = _OPERATORS[op](this=exp.paren(left.copy()), expression=exp.paren(right.copy()))
    kept = exp.TryCast(this=exact, to=exp.DataType.build(NUMBER))
    same = exp.EQ(this=kept.copy(), expression=exp.paren(exact.copy()))
    return exp.Case(ifs=[exp.If(this=same, true=kept)])

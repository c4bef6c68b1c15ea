"""The figures behind a ruling: what each calculation came to, exact and as text, and its steps."""

from __future__ import annotations

from fractions import Fraction
from typing import NamedTuple

from yokebook import figures
from yokebook.deciding import Context
from yokebook.graph import Thing
from yokebook.law import Law
from yokebook.list_steps import list_steps, tier_steps
from yokebook.model import (
    Arithmetic,
    Book,
    Calculation,
    Comparison,
    Expression,
    NamedNumber,
    Of,
    OverList,
    Tiers,
)
from yokebook.session import LowerFault, OverBudget
from yokebook.showing import show_val, show_value, unit_of
from yokebook.support import operands
from yokebook.values import NotApplicable, Split, Val, single

_SIGN = {
    "at_least": ("≥", "<"),
    "more_than": (">", "≤"),
    "at_most": ("≤", ">"),
    "less_than": ("<", "≥"),
    "equals": ("=", "≠"),
}


class FigureTrace(NamedTuple):
    """A number or comparison of a calculation: what it came to, exact and as text, and its steps in words."""

    calculation: Calculation
    subject: Thing
    val: Val
    steps: str


def trace_figure(context: Context, law: Law, thing: Thing, calculation: Calculation) -> FigureTrace | None:
    """The figure of one calculation, or None where it is open on a single fact or no figure at all."""
    try:
        val = context.figure(law, thing, calculation)
        if isinstance(calculation.expression, Comparison):
            return FigureTrace(calculation, thing, val, _comparison_steps(context, law, thing, calculation))
        if calculation.type != "number" or isinstance(val.span, NotApplicable):
            return None
        return FigureTrace(calculation, thing, val, _steps(context, law, thing, calculation))
    except (Split, LowerFault, OverBudget):
        return None


def _operand(context: Context, law: Law, thing: Thing, expression: Expression, calc: Calculation) -> tuple[Val, str]:
    val = figures.value_of(context, law, thing, expression, calc)
    unit = unit_of(context.book, expression.name) if isinstance(expression, Of) else None
    if isinstance(expression, NamedNumber):
        unit = law.resolved.values[expression.id].unit
    return val, show_val(val, unit)


def _comparison_steps(context: Context, law: Law, thing: Thing, calculation: Calculation) -> str:
    expression = calculation.expression
    assert isinstance(expression, Comparison)
    unit = _unit_in(context.book, law, expression)
    left = figures.value_of(context, law, thing, expression.left, calculation)
    right = figures.value_of(context, law, thing, expression.right, calculation)
    answer = single(figures.compare(left, expression.relation, right).span)
    yes, no = _SIGN[expression.relation]
    sign = yes if answer is True else (no if answer is False else f"{yes} ?")
    text = f"{show_val(left, unit)} {sign} {show_val(right, unit)}"
    a, b = single(left.span), single(right.span)
    if answer is not None and a is not None and b is not None and a != b:
        assert isinstance(a, Fraction) and isinstance(b, Fraction)
        margin = show_value(abs(a - b), unit)
        text += f" by {margin}" if answer is False else f", {margin} to spare"
    return text


def _unit_in(book: Book, law: Law, expression: Expression) -> str | None:
    for part in operands(expression):
        unit = None
        if isinstance(part, Of):
            unit = unit_of(book, part.name)
        elif isinstance(part, NamedNumber):
            unit = law.resolved.values[part.id].unit
        if unit is not None:
            return unit
    return None


_JOIN = {"times": " x ", "plus": " + ", "minus": " - ", "ratio": " / "}


def _steps(context: Context, law: Law, thing: Thing, calculation: Calculation) -> str:
    expression = calculation.expression
    if isinstance(expression, OverList):
        return list_steps(context, law, thing, calculation, expression)
    if isinstance(expression, Tiers):
        return tier_steps(context, law, thing, calculation, expression)
    if isinstance(expression, Arithmetic):
        return _arithmetic_steps(context, law, thing, expression, calculation)
    return ""


def _arithmetic_steps(context: Context, law: Law, thing: Thing, expression: Arithmetic, calc: Calculation) -> str:
    parts = []
    for part in expression.of:
        if isinstance(part, Arithmetic):
            parts.append(f"({_arithmetic_steps(context, law, thing, part, calc)})")
        else:
            parts.append(_operand(context, law, thing, part, calc)[1])
    if expression.op == "round_up":
        return f"{parts[0]} rounded up"
    return _JOIN[expression.op].join(parts)

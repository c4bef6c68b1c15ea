"""Calculations: figures computed from other facts, with bounds where something is not known.

All arithmetic is exact. Figures over lists are in list_figures.py.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from math import ceil, floor
from typing import TYPE_CHECKING, Literal, cast

from yokebook import list_figures
from yokebook.frozen import dataclass
from yokebook.graph import Thing
from yokebook.list_figures import ValueOf
from yokebook.model import (
    Arithmetic,
    ByReading,
    Calculation,
    Comparison,
    Constant,
    Expression,
    Grouped,
    LookUp,
    NamedNumber,
    Nearest,
    Of,
    Over,
    OverList,
    Tiers,
    Uncovered,
    WhereBox,
)
from yokebook.totals import tidy
from yokebook.values import (
    ANY_NUMBER,
    NA,
    YES_NO,
    NotApplicable,
    Range,
    Some,
    Val,
    Var,
    hull,
    in_order,
    intersect,
    known,
    single,
    within,
)

if TYPE_CHECKING:
    from yokebook.deciding import Context
    from yokebook.law import Law

NO_NUMBER = Val(NA)


def evaluate(ctx: Context, law: Law, thing: Thing, calculation: Calculation) -> Val:
    """What is known of a calculation for a thing, its statement by the user aside.

    Raises Split where it turns on one unknown fact, reading or answer of the thing itself.
    """
    return value_of(ctx, law, thing, calculation.expression, calculation)


def value_of(ctx: Context, law: Law, thing: Thing, expression: Expression, calc: Calculation) -> Val:
    """What is known of one expression of a calculation; as `evaluate`."""
    if isinstance(expression, Of):
        return ctx.input(law, thing, expression.name)
    if isinstance(expression, Constant):
        return Val(known(expression.value))
    if isinstance(expression, NamedNumber):
        return Val(known(law.number(expression, calc.id)))
    if isinstance(expression, Arithmetic):
        return _arithmetic([value_of(ctx, law, thing, part, calc) for part in expression.of], expression.op)
    if isinstance(expression, Comparison):
        left = value_of(ctx, law, thing, expression.left, calc)
        right = value_of(ctx, law, thing, expression.right, calc)
        return compare(left, expression.relation, right)
    if isinstance(expression, LookUp):
        return _look_up(ctx.input(law, thing, expression.by), expression)
    if isinstance(expression, WhereBox):
        return Val(known(ctx.in_any(law, thing, expression.boxes)))
    if isinstance(expression, ByReading):
        alternative = ctx.reading(law, thing, expression.reading)
        return value_of(ctx, law, thing, expression.alternatives[alternative], calc)
    if isinstance(expression, Tiers):
        return _tiers(value_of(ctx, law, thing, expression.of, calc), expression, law)
    return _over(ctx, law, thing, expression, calc)


def _over(ctx: Context, law: Law, thing: Thing, expression: OverList, calc: Calculation) -> Val:
    value = valuer(law, calc)
    match expression:
        case Over():
            return list_figures.total(ctx, law, thing, expression, calc, value)
        case Grouped():
            return list_figures.extreme_group(ctx, law, thing, expression, value)
        case Uncovered():
            return list_figures.uncovered(ctx, law, thing, expression, value)
        case Nearest():
            return list_figures.nearest(ctx, law, thing, expression, value)


def valuer(law: Law, calc: Calculation) -> ValueOf:
    """How figures over a list look up what they take: `value_of` for this calculation."""
    return lambda ctx, thing, expression: value_of(ctx, law, thing, expression, calc)


# ---- arithmetic on bounds -----------------------------------------------------------------------------------------


def _merge(*parts: Val) -> tuple[Var, ...]:
    return tuple(dict.fromkeys(need for part in parts for need in part.needs))


def _numbers(parts: list[Val]) -> list[Range] | None:
    ranges = [hull(part.span) for part in parts]
    if any(r is None for r in ranges):
        return None
    return cast("list[Range]", ranges)


def _arithmetic(parts: list[Val], op: Literal["times", "plus", "minus", "ratio", "round_up"]) -> Val:
    ranges = _numbers(parts)
    if ranges is None:
        return NO_NUMBER  # one part does not apply, so neither does the figure
    maybe_na = any(part.maybe_na for part in parts)
    result: Range | None = ranges[0]
    if op == "round_up":
        result = _round_up(ranges[0])
    for other in ranges[1:]:
        assert result is not None
        if op == "plus":
            result = _plus(result, other)
        elif op == "minus":
            result = _plus(result, _negative(other))
        elif op == "times":
            result = _times(result, other)
        else:
            maybe_na = maybe_na or _has_zero(other)
            result = _ratio(result, other)
            if result is None:
                return NO_NUMBER  # by zero
    assert result is not None
    return Val(tidy(result), needs=_merge(*parts), maybe_na=maybe_na)


def _plus(a: Range, b: Range) -> Range:
    low = None if a.low is None or b.low is None else a.low + b.low
    high = None if a.high is None or b.high is None else a.high + b.high
    return Range(low, a.low_open or b.low_open, high, a.high_open or b.high_open, a.whole and b.whole)


def _negative(a: Range) -> Range:
    return Range(
        None if a.high is None else -a.high, a.high_open, None if a.low is None else -a.low, a.low_open, a.whole
    )


def _round_up(a: Range) -> Range:
    low = None if a.low is None else Fraction(floor(a.low) + 1 if a.low_open else ceil(a.low))
    high = None if a.high is None else Fraction(ceil(a.high))
    return Range(low, low is None, high, high is None, True)


@dataclass(frozen=True, slots=True)
class _End:
    """One end of a product: a number or an infinity, and whether it is reached."""

    value: Fraction | None
    sign: int  # of an infinity: -1 or 1; 0 for a number
    open: bool


def _ends(a: Range) -> tuple[_End, _End]:
    low = _End(a.low, 0, a.low_open) if a.low is not None else _End(None, -1, True)
    high = _End(a.high, 0, a.high_open) if a.high is not None else _End(None, 1, True)
    return low, high


def _product(x: _End, y: _End) -> _End:
    if (x.value == 0 and not x.open) or (y.value == 0 and not y.open):
        return _End(Fraction(0), 0, False)  # a reached zero makes a reached zero, whatever the other end does
    if x.value is not None and y.value is not None:
        return _End(x.value * y.value, 0, x.open or y.open)
    if x.value == 0 or y.value == 0:
        return _End(Fraction(0), 0, True)  # never reached zero against infinity: the other corners bound the range
    sign = (x.sign or (1 if x.value is not None and x.value > 0 else -1)) * (
        y.sign or (1 if y.value is not None and y.value > 0 else -1)
    )
    return _End(None, sign, True)


def _times(a: Range, b: Range) -> Range:
    corners = [_product(x, y) for x in _ends(a) for y in _ends(b)]
    low = _extreme(corners, -1)
    high = _extreme(corners, 1)
    return Range(low.value, low.open, high.value, high.open, a.whole and b.whole)


def _extreme(corners: list[_End], direction: int) -> _End:
    infinite = [c for c in corners if c.value is None and c.sign == direction]
    if infinite:
        return infinite[0]
    finite = [c for c in corners if c.value is not None]
    return max(finite, key=lambda c: (cast("Fraction", c.value) * direction, not c.open))


def _has_zero(a: Range) -> bool:
    return (a.low is None or a.low < 0 or (a.low == 0 and not a.low_open)) and (
        a.high is None or a.high > 0 or (a.high == 0 and not a.high_open)
    )


def _ratio(a: Range, b: Range) -> Range | None:
    """a / b; None where b is zero. Where b may be on both sides of zero nothing is known of the result."""
    if b.low == 0 and b.high == 0:
        return None
    if (b.low is None or b.low < 0) and (b.high is None or b.high > 0):
        return ANY_NUMBER
    low = None if b.high is None else (None if b.high == 0 else 1 / b.high)
    high = None if b.low is None else (None if b.low == 0 else 1 / b.low)
    positive = b.low is not None and b.low >= 0
    inverse = Range(
        Fraction(0) if positive and low is None else low,
        (positive and low is None) or b.high_open,
        Fraction(0) if not positive and high is None else high,
        (not positive and high is None) or b.low_open,
    )
    return _times(a, inverse)


def compare(left: Val, relation: str, right: Val) -> Val:
    """yes, no or open: whether the relation holds between two figures; not applicable where one of them is."""
    a, b = hull(left.span), hull(right.span)
    if a is None or b is None:
        return Val(NA)
    maybe_na = left.maybe_na or right.maybe_na
    difference = _plus(a, _negative(b))
    answer = _sign_test(difference, relation)
    if answer is None:
        return Val(YES_NO, needs=_merge(left, right), maybe_na=maybe_na)
    return Val(known(answer), needs=_merge(left, right) if maybe_na else (), maybe_na=maybe_na)


def _sign_test(d: Range, relation: str) -> bool | None:
    above = d.low is not None and (d.low > 0 or (d.low == 0 and d.low_open))
    below = d.high is not None and (d.high < 0 or (d.high == 0 and d.high_open))
    not_below = d.low is not None and d.low >= 0
    not_above = d.high is not None and d.high <= 0
    yes, no = {
        "at_least": (not_below, below),
        "more_than": (above, not_above),
        "at_most": (not_above, above),
        "less_than": (below, not_below),
        "equals": (not_below and not_above, above or below),
    }[relation]
    return True if yes else (False if no else None)


def _look_up(by: Val, expression: LookUp) -> Val:
    """The looked-up value: exact where what it is looked up by can be split, otherwise the values still possible."""
    if isinstance(by.span, NotApplicable):
        return Val(NA)
    if isinstance(by.span, Range):
        found = {v for k, v in expression.table.items() if intersect(by.span, known(k)) is not None}
        exact = single(by.span)
        misses = exact is None or exact not in expression.table
    else:
        found = {expression.table[k] for k in by.span.values if k in expression.table}
        misses = any(k not in expression.table for k in by.span.values)
    maybe_na = by.maybe_na
    if misses and expression.otherwise is not None:
        found.add(expression.otherwise)
    elif misses:
        maybe_na = True
    if not found:
        return Val(NA)
    span = Some(frozenset(found))
    if len(found) == 1 and not maybe_na:
        return Val(span)
    if by.var is not None and by.var.kind == "fact" and not by.preimage and isinstance(by.span, Some):
        preimage = {
            v: frozenset(k for k in by.span.values if expression.table.get(k, expression.otherwise) == v)
            for v in in_order(found)
        }
        return Val(span, by.needs, by.var, tuple(preimage.items()), maybe_na)
    return Val(span, by.needs, maybe_na=maybe_na)


# ---- tiers --------------------------------------------------------------------------------------------------------


def _tiers(of: Val, expression: Tiers, law: Law) -> Val:
    """The number taken piece by piece; between the least and the greatest that it gives where only bounds are known."""
    span = hull(of.span)
    if span is None:
        return NO_NUMBER
    steps = steps_of(expression, law)
    ends = [end for end, _ in steps if end is not None]
    inside = [end for end in ends if within(end, span._replace(whole=False))]
    reached = [tiered(number, steps) for number in (span.low, *inside, span.high) if number is not None]
    low = high = None
    above, below = steps[-1][1], steps[0][1]  # the rates that go on without end
    if reached:
        low = None if (span.high is None and above < 0) or (span.low is None and below > 0) else min(reached)
        high = None if (span.high is None and above > 0) or (span.low is None and below < 0) else max(reached)
    return Val(tidy(Range(low, low is None, high, high is None)), needs=of.needs, maybe_na=of.maybe_na)


def steps_of(expression: Tiers, law: Law) -> list[tuple[Fraction | None, Fraction]]:
    """Where each step ends (None for the last), and its rate, named numbers replaced."""
    where = "tiers"
    return [(None if end is None else law.number(end, where), law.number(at, where)) for end, at in expression.steps]


def tiered(number: Fraction, steps: Sequence[tuple[Fraction | None, Fraction]]) -> Fraction:
    """The number taken piece by piece: up to each step's end at its rate. Below nothing the first rate goes on."""
    return sum((part * rate for part, rate in parts_of_tiers(number, steps)), Fraction(0))


def parts_of_tiers(
    number: Fraction, steps: Sequence[tuple[Fraction | None, Fraction]]
) -> list[tuple[Fraction, Fraction]]:
    """The pieces of a number with the rate of each, those of nothing left out."""
    found: list[tuple[Fraction, Fraction]] = []
    done = min(number, Fraction(0))
    if done < 0:
        found.append((done, steps[0][1]))
    below = Fraction(0)
    for end, rate in steps:
        upper = number if end is None else min(number, end)
        if upper > below:
            found.append((upper - below, rate))
            below = upper
    return found

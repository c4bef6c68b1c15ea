"""Calculations: figures computed from other facts, with bounds where something is not known.

All arithmetic is exact. Over an incomplete list a count, sum or share is a bound, and so are largest and smallest.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor
from typing import TYPE_CHECKING, Literal, cast

from yokebook.entities import KIND_OF_PREFIX
from yokebook.graph import Thing
from yokebook.model import (
    Arithmetic,
    ByReading,
    Calculation,
    Comparison,
    Constant,
    Expression,
    LookUp,
    NamedNumber,
    Of,
    Over,
    Value,
    WhereBox,
)
from yokebook.openness import open_lists
from yokebook.session import LowerFault, key_of
from yokebook.totals import TOTAL, Item, tidy
from yokebook.values import (
    ANY_NUMBER,
    NA,
    YES_NO,
    NotApplicable,
    Range,
    Some,
    Span,
    Val,
    Var,
    hull,
    in_order,
    intersect,
    known,
    single,
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
    return _over(ctx, law, thing, expression, calc)


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


@dataclass(frozen=True)
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


# ---- figures over a list ------------------------------------------------------------------------------------------


def _over(ctx: Context, law: Law, thing: Thing, expression: Over, calc: Calculation) -> Val:
    prefix, _, name = expression.over.partition(".")
    owner = ctx.one(thing, KIND_OF_PREFIX[prefix])
    if owner is None:
        return Val(NA)
    things, complete = owner.list_of(name)
    needs: dict[Var, None] = {}
    items: list[Item] = []
    fault: LowerFault | None = None
    open_item = Item({True, False}, {True, False}, None, None, True, True)  # stands for each item at fault
    for item in things:
        try:
            items.append(_item(ctx, law, item, expression, calc, needs))
        except LowerFault as lower:
            fault = fault or lower
            items.append(open_item)
    if not complete:
        needs.update(dict.fromkeys(open_lists(owner, name)))
    span, maybe_na = TOTAL[expression.op](items, complete, _never_negative(expression, law))
    settled = single(span) is not None and not maybe_na
    if fault is not None and not settled:
        sure = [item for item in items if item is not open_item]
        rest, _ = TOTAL[expression.op](sure, complete, _never_negative(expression, law))
        var = Var("status", key_of(thing), f"{law.kind}:{calc.id}")
        return _despite(ctx, var, fault, expression.op, rest, tuple(needs))
    return Val(span, () if settled else tuple(needs), maybe_na=maybe_na)


def _despite(
    ctx: Context, var: Var, fault: LowerFault, op: str, rest: Span, needs: tuple[Var, ...]
) -> Val:
    """A figure over a list with an item at fault: what the other items make it where they decide `any` or `all` alone;
    otherwise the fault is raised, for whatever that item came to would matter."""
    decisive = {"any": True, "all": False}.get(op)
    if decisive is None or not isinstance(rest, Some) or decisive not in rest.values or ctx.at_fault(var, needs):
        raise fault
    return Val(known(decisive))


def _item(ctx: Context, law: Law, item: Thing, expression: Over, calc: Calculation, needs: dict[Var, None]) -> Item:
    """The item's part for every completion of its own unknown facts; readings are split further out, once for all."""

    def part(inner: Context) -> tuple[bool, bool, Val | None]:
        if not inner.in_any(law, item, expression.where):
            return False, False, None
        if expression.op in ("any", "all", "share"):
            return True, inner.in_any(law, item, expression.are), None
        if expression.of is None:
            return True, True, None
        return True, True, value_of(inner, law, item, expression.of, calc)

    found, item_needs = ctx.each_way(law, part)
    result = Item(set(), set(), None, None, False, False)
    bounded_low = bounded_high = True
    for kept, passes, figure in found:
        result.kept.add(kept)
        if not kept:
            continue
        result.passes.add(passes)
        if figure is None:
            continue
        span = hull(figure.span)
        needs.update(dict.fromkeys(figure.needs))
        if span is None or figure.maybe_na:
            result.no_figure = True
        if span is None:
            continue
        bounded_low = bounded_low and span.low is not None
        bounded_high = bounded_high and span.high is not None
        if span.low is not None:
            result.low = span.low if result.low is None else min(result.low, span.low)
        if span.high is not None:
            result.high = span.high if result.high is None else max(result.high, span.high)
        result.figure = True
    if not bounded_low:
        result.low = None
    if not bounded_high:
        result.high = None
    if len(found) > 1:
        needs.update(dict.fromkeys(item_needs))
    return result


def _never_negative(expression: Over, law: Law) -> bool:
    """Whether no item, known or not, can give a figure below zero: from domains and signs alone."""
    return expression.of is None or _signless(expression.of, law, frozenset())


def _signless(expression: Expression, law: Law, seen: frozenset[str]) -> bool:
    if isinstance(expression, Of):
        return _signless_name(expression.name, law, seen)
    if isinstance(expression, Constant):
        return expression.value >= 0
    if isinstance(expression, NamedNumber):
        return law.number(expression, expression.id) >= 0
    if isinstance(expression, Arithmetic):
        return expression.op != "minus" and all(_signless(part, law, seen) for part in expression.of)
    if isinstance(expression, LookUp):
        numbers: list[Value] = [*expression.table.values()]
        if expression.otherwise is not None:
            numbers.append(expression.otherwise)
        return all(isinstance(n, Fraction) and n >= 0 for n in numbers)
    if isinstance(expression, ByReading):
        return all(_signless(part, law, seen) for part in expression.alternatives.values())
    if isinstance(expression, Over):
        return expression.of is None or _signless(expression.of, law, seen)
    return False


def _signless_name(name: str, law: Law, seen: frozenset[str]) -> bool:
    fact = law.book.facts.get(name)
    if fact is not None:
        return fact.low is not None and fact.low >= 0
    calculation = law.book.calculations.get(name)
    if calculation is None or name in seen:
        return False
    return _signless(calculation.expression, law, seen | {name})

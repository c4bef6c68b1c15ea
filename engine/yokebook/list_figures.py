"""Figures over a list: what each item gives for every completion of its own facts, put together with bounds.

Over an incomplete list a count, sum or share is a bound, and so are largest and smallest. An item that the tested fact
has no meaning for is left out; one of which it is not given widens the bound.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction
from functools import partial
from typing import TYPE_CHECKING

from yokebook.covering import Stretch, covered_by
from yokebook.distances import ANYWHERE, either
from yokebook.fitting import fits
from yokebook.graph import Thing
from yokebook.grouping import Group, extreme_of, groups_of
from yokebook.model import (
    Arithmetic,
    ByReading,
    Calculation,
    Constant,
    Expression,
    Grouped,
    LookUp,
    NamedNumber,
    Nearest,
    Of,
    Over,
    Tiers,
    Uncovered,
    Value,
)
from yokebook.openness import first_of, open_lists
from yokebook.places_apart import Placed
from yokebook.session import LowerFault, key_of
from yokebook.totals import TOTAL, Item, ends_of, tidy
from yokebook.values import NA, NotApplicable, Range, Some, Span, Val, Var, as_good_as_exact, hull, known, single
from yokebook.walking import Taken, Walked, list_of, walk

if TYPE_CHECKING:
    from yokebook.deciding import Context
    from yokebook.law import Law

#: What is known of an expression of the calculation being worked out, for a thing.
ValueOf = Callable[["Context", Thing, Expression], Val]


def total(ctx: Context, law: Law, thing: Thing, expression: Over, calc: Calculation, value: ValueOf) -> Val:
    """What is known of a list's count, sum, share, extreme, any or all; not applicable where nothing has the list.

    Raises Split for a reading or an entry that an item turns on, LowerFault for an item at fault that matters.
    """
    found = list_of(ctx, thing, expression)
    if found is None:
        return Val(NA)
    owner, name = found
    things, complete = owner.list_of(name)
    needs: dict[Var, None] = {}
    items: list[Item] = []
    fault: LowerFault | None = None
    open_item = Item({True, False}, {True, False}, None, None, True, True)  # stands for each item at fault
    for item in things:
        try:
            made, item_needs = ctx.remembered(
                (id(law), key_of(item), f"{calc.id}:{id(expression)}"),
                partial(_item, ctx, law, item, expression, value),
            )
            items.append(made)
            needs.update(item_needs)
        except LowerFault as lower:
            fault = first_of(fault, lower)
            items.append(open_item)
    if not complete:
        needs.update(dict.fromkeys(open_lists(owner, name)))
    span, maybe_na = TOTAL[expression.op](items, complete, never_negative(expression.of, law))
    settled = single(span) is not None and not maybe_na
    if fault is not None and not settled:
        sure = [item for item in items if item is not open_item]
        rest, _ = TOTAL[expression.op](sure, complete, never_negative(expression.of, law))
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


def _item(
    ctx: Context, law: Law, item: Thing, expression: Over, value: ValueOf
) -> tuple[Item, dict[Var, None]]:
    """The item's part for every completion of its own unknown facts, and what it would take to know it better; readings
    are split further out, once for all."""

    def part(inner: Context) -> tuple[bool, bool, Val | None]:
        if not inner.in_any(law, item, expression.where):
            return False, False, None
        if expression.op == "any":
            return True, inner.in_any(law, item, expression.are), None
        if expression.op in ("all", "share"):
            passes = fits(inner, law, item, expression.are)
            return passes is not None, passes is True, None  # an item that the test has no meaning for is left out
        if expression.of is None:
            return True, True, None
        return True, True, value(inner, item, expression.of)

    needs: dict[Var, None] = {}
    found, item_needs = ctx.each_way(law, part)
    result = Item(set(), set(), None, None, False, False)
    figures: list[Range] = []
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
        if span is not None:
            figures.append(span)
    result.figure = bool(figures)
    result.low, result.high = ends_of(figures)
    if len(found) > 1:
        needs.update(dict.fromkeys(item_needs))
    return result, needs


# ---- lengths, distances and groups -------------------------------------------------------------------------------


def stretch_of(ctx: Context, law: Law, thing: Thing, expression: Uncovered, value: ValueOf) -> Stretch | None:
    """The stretch of an uncovered length, with what covers it; None where it has no length or nothing has the list."""
    found = _stretch(ctx, law, thing, expression, value)
    return None if found is None else found[0]


def _stretch(
    ctx: Context, law: Law, thing: Thing, expression: Uncovered, value: ValueOf
) -> tuple[Stretch, Walked, Val] | None:
    length = value(ctx, thing, expression.length)
    whole = hull(length.span)
    if whole is None:
        return None
    parts = (expression.position, expression.reach)
    walked = walk(ctx, law, thing, expression, lambda inner, item: tuple(value(inner, item, part) for part in parts))
    if walked is None:
        return None
    covered = tuple(covered_by(item, ways) for item, ways in walked.items)
    return Stretch(whole, covered, walked.complete), walked, length


def uncovered(ctx: Context, law: Law, thing: Thing, expression: Uncovered, value: ValueOf) -> Val:
    """What is known of an uncovered length; not applicable where the stretch has none. Raises as `total`."""
    found = _stretch(ctx, law, thing, expression, value)
    if found is None:
        return Val(NA)
    stretch, walked, length = found
    walked.needs.update(dict.fromkeys(length.needs))
    high = stretch.most()
    return walked.figure(tidy(Range(stretch.least(), False, high, high is None)), length.maybe_na)


def nearest(ctx: Context, law: Law, thing: Thing, expression: Nearest, value: ValueOf) -> Val:
    """What is known of the distance to the nearest of the others; not applicable where there is none. Raises as
    `total`."""
    otherwise = expression.otherwise
    if otherwise is not None and (place := Placed(ctx, thing, expression, value).unknown()) is not None:
        return _or_else(Val(ANYWHERE, place, maybe_na=True), value(ctx, thing, otherwise))
    walked = _distances(ctx, law, thing, expression, value)
    if walked is None:
        return Val(NA) if otherwise is None else value(ctx, thing, otherwise)
    items = [_of_ways(ways) for item, ways in walked.items if item is not thing]
    span, maybe_na = TOTAL["smallest"](items, walked.complete, True)
    found = walked.figure(span, maybe_na)
    if otherwise is None or not (found.maybe_na or isinstance(found.span, NotApplicable)):
        return found
    return _or_else(found, value(ctx, thing, otherwise))


def _or_else(found: Val, otherwise: Val) -> Val:
    """A distance, or where there is no other the number that stands for it then."""
    one, two = hull(found.span), hull(otherwise.span)
    if one is None or two is None:
        return otherwise if one is None else found
    needs = tuple(dict.fromkeys((*found.needs, *otherwise.needs)))
    return Val(tidy(either(one, two)), needs, maybe_na=otherwise.maybe_na)


def _distances(ctx: Context, law: Law, thing: Thing, expression: Nearest, value: ValueOf) -> Walked | None:
    here = Placed(ctx, thing, expression, value)

    def distance(inner: Context, item: Thing) -> Taken:
        return None if item is thing else (here.distance_to(Placed(inner, item, expression, value)),)

    return walk(ctx, law, thing, expression, distance)


def distances(
    ctx: Context, law: Law, thing: Thing, expression: Nearest, value: ValueOf
) -> list[tuple[Thing, Range | None]]:
    """Every other that may be the nearest, with its distance as far as it is one number or nearly (None: it is not
    known)."""
    walked = _distances(ctx, law, thing, expression, value)
    found: list[tuple[Thing, Range | None]] = []
    for item, ways in () if walked is None else walked.items:
        spans = {None if taken is None else taken[0].span for taken in ways or [None]}
        if ways is not None and spans == {None}:
            continue  # left out
        span = hull(spans.pop() or NA) if len(spans) == 1 else None
        found.append((item, span if span is not None and as_good_as_exact(span) else None))
    return found


def _of_ways(ways: Sequence[Taken] | None) -> Item:
    """An item's part in an extreme, from its figure in each completion; None for one of which nothing is known."""
    if ways is None:
        return Item({True, False}, {True}, Fraction(0), None, True, True)
    ranges = [None if taken is None else hull(taken[0].span) for taken in ways]
    numbers = [one for one in ranges if one is not None]
    low, high = ends_of(numbers)
    out = any(taken is None for taken in ways)
    inside = any(taken is not None for taken in ways)
    return Item(
        kept={kept for kept, is_so in ((True, inside), (False, out)) if is_so},
        passes={True},
        low=low,
        high=high,
        figure=bool(numbers),
        no_figure=any(taken is not None and (hull(taken[0].span) is None or taken[0].maybe_na) for taken in ways),
    )


def _by_group(ctx: Context, law: Law, thing: Thing, expression: Grouped, value: ValueOf) -> Walked | None:
    def take(inner: Context, item: Thing) -> Taken:
        by = value(inner, item, Of(expression.by))
        if isinstance(by.span, NotApplicable):
            return None
        if expression.figure == "share":
            passes = fits(inner, law, item, expression.are)
            return None if passes is None else (by, Val(known(passes)))
        if expression.of is None:
            return (by,)
        figure = value(inner, item, expression.of)
        return None if isinstance(figure.span, NotApplicable) else (by, figure)

    return walk(ctx, law, thing, expression, take)


def extreme_group(ctx: Context, law: Law, thing: Thing, expression: Grouped, value: ValueOf) -> Val:
    """What is known of the largest or smallest over groups; not applicable where there is no group. Raises as
    `total`."""
    walked = _by_group(ctx, law, thing, expression, value)
    if walked is None:
        return Val(NA)
    signless = never_negative(expression.of, law)
    items = [ways for _, ways in walked.items]
    span, maybe_na = extreme_of(expression.op, expression.figure, items, walked.complete, signless)
    return walked.figure(span, maybe_na)


def groups(ctx: Context, law: Law, thing: Thing, expression: Grouped, value: ValueOf) -> list[Group]:
    """The groups that there may be, with what is known of each; none where nothing has the list."""
    walked = _by_group(ctx, law, thing, expression, value)
    if walked is None:
        return []
    items = [ways for _, ways in walked.items]
    return groups_of(expression.figure, items, walked.complete, never_negative(expression.of, law))


# ---- signs -------------------------------------------------------------------------------------------------------


def never_negative(of: Expression | None, law: Law) -> bool:
    """Whether no item, known or not, can give a figure below zero: from domains and signs alone."""
    return of is None or _signless(of, law, frozenset())


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
    if isinstance(expression, Over | Grouped):
        return expression.of is None or _signless(expression.of, law, seen)
    if isinstance(expression, Tiers):
        rates = (law.number(rate, "tiers") >= 0 for _, rate in expression.steps)
        return _signless(expression.of, law, seen) and all(rates)
    return isinstance(expression, Uncovered | Nearest)


def _signless_name(name: str, law: Law, seen: frozenset[str]) -> bool:
    fact = law.book.facts.get(name)
    if fact is not None:
        return fact.low is not None and fact.low >= 0
    calculation = law.book.calculations.get(name)
    if calculation is None or name in seen:
        return False
    return _signless(calculation.expression, law, seen | {name})

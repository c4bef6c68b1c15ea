"""The steps of figures over lists in words: what each item gives, and what that leaves."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

from yokebook import figures, list_figures
from yokebook.covering import Covered, Parts
from yokebook.deciding import Context
from yokebook.graph import Thing
from yokebook.law import Law
from yokebook.model import Calculation, Expression, Grouped, Nearest, Over, OverList, Tiers, Uncovered
from yokebook.showing import show_span, show_val, show_value, unit_of
from yokebook.totals import tidy
from yokebook.units import format_feet, format_number
from yokebook.values import Val, hull, single
from yokebook.walking import list_of


def list_steps(context: Context, law: Law, thing: Thing, calc: Calculation, expression: OverList) -> str:
    """The steps of a figure over a list; empty where there is nothing to tell. Raises Split where it is open."""
    match expression:
        case Over(of=of):
            return "" if of is None else _of_each(context, law, thing, calc, expression, of)
        case Grouped():
            return _groups(context, law, thing, calc, expression)
        case Uncovered():
            return _uncovered(context, law, thing, calc, expression)
        case Nearest():
            return _nearest(context, law, thing, calc, expression)


def tier_steps(context: Context, law: Law, thing: Thing, calc: Calculation, expression: Tiers) -> str:
    """The pieces of a number with their rates, such as `10000 VA x 1 + 10160 VA x 0.5`; empty where it is not known."""
    number = single(figures.value_of(context, law, thing, expression.of, calc).span)
    if not isinstance(number, Fraction):
        return ""
    pieces = figures.parts_of_tiers(number, figures.steps_of(expression, law))
    return " + ".join(f"{format_number(piece, calc.unit)} x {format_number(rate)}" for piece, rate in pieces)


# ---- items --------------------------------------------------------------------------------------------------------


def _items(context: Context, thing: Thing, expression: OverList) -> tuple[list[Thing], bool]:
    found = list_of(context, thing, expression)
    return ([], True) if found is None else found[0].list_of(found[1])


def _kept(
    law: Law, item: Thing, expression: OverList, of: Expression, calc: Calculation
) -> Callable[[Context], Val | None]:
    """What is taken of an item, None where it is left out."""
    return lambda inner: (
        figures.value_of(inner, law, item, of, calc) if inner.in_any(law, item, expression.where) else None
    )


def _of_each(
    context: Context, law: Law, thing: Thing, calc: Calculation, expression: Over, of: Expression
) -> str:
    items, complete = _items(context, thing, expression)
    shown: list[str] = []
    for item in items:
        found, _ = context.each_way(law, _kept(law, item, expression, of, calc))
        shown += [show_val(val, calc.unit) for val in found if val is not None and hull(val.span) is not None]
    more = "" if complete else (" and whatever else is there" if shown else "nothing listed, list not complete")
    lead = "" if expression.op == "sum" else f"{expression.op} of "
    return f"{lead}{(' + ' if expression.op == 'sum' else ', ').join(shown)}{more}" if shown or more else ""


def _groups(context: Context, law: Law, thing: Thing, calc: Calculation, expression: Grouped) -> str:
    """What each group comes to that some item is known to be in."""
    groups = list_figures.groups(context, law, thing, expression, figures.valuer(law, calc))
    unit = unit_of(context.book, expression.by)
    told = [
        f"{show_span(tidy(group.span), calc.unit)} for {show_value(group.value, unit)}"
        for group in groups
        if group.value is not None and group.sure
    ]
    _, complete = _items(context, thing, expression)
    more = "" if complete else (" and whatever else is there" if told else "nothing listed, list not complete")
    return f"{expression.op} of {', '.join(told)}{more}" if told else more


# ---- lengths and distances ----------------------------------------------------------------------------------------


def _uncovered(context: Context, law: Law, thing: Thing, calc: Calculation, expression: Uncovered) -> str:
    stretch = list_figures.stretch_of(context, law, thing, expression, figures.valuer(law, calc))
    length = None if stretch is None else stretch.length.high
    if stretch is None or length is None:
        return ""
    sure, maybe = stretch.surely_uncovered(), stretch.maybe_uncovered(length)
    parts = [_covering(item, length) for item in stretch.covered if item.may]
    whole = format_feet(length)
    if not maybe:
        parts.append(f"all {whole} covered")
    elif sure == maybe:
        parts.append(f"uncovered {format_feet(_sum_of(maybe))} of {whole}: {_from_to(maybe)}")
    else:
        surely = f"surely uncovered {_from_to(sure)}; " if sure else ""
        parts.append(f"{surely}of {whole} not surely covered {_from_to(maybe)}")
    if maybe and not stretch.complete:
        parts.append("whatever else is there may cover more")
    return "; ".join(parts)


def _covering(item: Covered, length: Fraction) -> str:
    """What an item covers, as far as the stretch goes."""
    name = item.item.label or item.item.id
    if item.sure is None:
        return f"{name} may cover something"
    low, high = max(Fraction(0), item.sure[0]), min(length, item.sure[1])
    if low > high:
        return f"{name} covers nothing of it"
    return f"{name} covers {'' if item.exact else 'at least '}{_from_to([(low, high)])}"


def _from_to(parts: Parts) -> str:
    return " and ".join(f"from {format_feet(start)} to {format_feet(end)}" for start, end in parts)


def _sum_of(parts: Parts) -> Fraction:
    return sum((end - start for start, end in parts), Fraction(0))


def _nearest(context: Context, law: Law, thing: Thing, calc: Calculation, expression: Nearest) -> str:
    """The nearest of those whose distance is known, and how many of the others there are."""
    every = list_figures.distances(context, law, thing, expression, figures.valuer(law, calc))
    known = [(span.low or Fraction(0), index, span) for index, (_, span) in enumerate(every) if span is not None]
    if not known:
        return ""
    _, index, distance = min(known)
    item, count = every[index][0], len(every) - len(known)
    others = {0: "", 1: "; of one more the distance is not known"}
    more = others.get(count, f"; of {count} more the distance is not known")
    return f"{item.label or item.id} is {show_span(tidy(distance), calc.unit)} away{more}"

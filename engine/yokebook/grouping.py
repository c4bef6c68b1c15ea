"""The largest or smallest over the groups of a list's items, from what each item may do: exact where it can be."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction
from typing import Literal

from yokebook.frozen import dataclass
from yokebook.model import Value
from yokebook.totals import TOTAL, Item, ends_of, tidy
from yokebook.values import NA, NotApplicable, Range, Some, Span, hull, single, within
from yokebook.walking import Taken

GroupFigure = Literal["count", "sum", "share"]


@dataclass(frozen=True, slots=True)
class Group:
    """A group: the value that its items have in common (None: one that no item is known to have), what is known of
    its figure, and whether there surely is such a group."""

    value: Value | None
    span: Range
    sure: bool


def extreme_of(
    op: Literal["largest", "smallest"],
    figure: GroupFigure,
    items: Sequence[Sequence[Taken] | None],
    complete: bool,
    never_negative: bool,
) -> tuple[Span, bool]:
    """The span of the largest or smallest over all groups, and whether there may be no group at all.

    Of each item its completions, in each of them the value that makes its group and, but for a count, what is taken of
    it; None for an item of which nothing is known.
    """
    groups = groups_of(figure, items, complete, never_negative)
    sure = [group.span for group in groups if group.sure]
    every = [group.span for group in groups]
    if not complete:
        every.append(_of_unlisted(figure, never_negative))
    if not every:
        return NA, False
    there_is_one = any(ways is not None and all(_surely_in(taken) for taken in ways) for ways in items)
    return tidy(_extreme(op, sure, every, whole=figure == "count")), not there_is_one


def groups_of(
    figure: GroupFigure, items: Sequence[Sequence[Taken] | None], complete: bool, never_negative: bool
) -> list[Group]:
    """The groups that there may be, as `extreme_of` takes them, those of values that no item is known to have last."""
    found: list[Group] = []
    for value in _values(items):
        members = [_member(ways, value) for ways in items]
        if any(True in member.kept for member in members):
            sure = value is not None and any(member.kept == {True} for member in members)
            found.append(Group(value, _of_group(figure, members, complete, never_negative), sure))
    return found


def _extreme(op: Literal["largest", "smallest"], sure: Sequence[Range], every: Sequence[Range], whole: bool) -> Range:
    low, high = ends_of(every)
    if op == "largest":
        low = max((span.low for span in sure if span.low is not None), default=low)
    else:
        high = min((span.high for span in sure if span.high is not None), default=high)
    return Range(low, low is None, high, high is None, whole)


def _of_group(figure: GroupFigure, members: list[Item], complete: bool, never_negative: bool) -> Range:
    """The figure of one group, if there is one: at least one item is then in it."""
    span, _ = TOTAL[figure](members, complete, never_negative)
    found = hull(span)
    if found is None:  # the share of a group that may have no item
        return Range(Fraction(0), False, Fraction(1), False)
    if figure == "count":
        return Range(max(found.low or Fraction(0), Fraction(1)), False, found.high, found.high_open, True)
    return found


def _of_unlisted(figure: GroupFigure, never_negative: bool) -> Range:
    """The figure of a group that only items which nobody listed are in."""
    if figure == "share":
        return Range(Fraction(0), False, Fraction(1), False)
    if figure == "count":
        return Range(Fraction(1), False, None, True, True)
    return Range(Fraction(0), False, None, True) if never_negative else Range(None, True, None, True)


def _values(items: Iterable[Sequence[Taken] | None]) -> list[Value | None]:
    """What may make a group: every value that an item may have, and None for all that are not known."""
    found: dict[Value, None] = {}
    others = False
    for ways in items:
        others = others or ways is None
        for taken in ways or ():
            span = NA if taken is None else taken[0].span
            value = single(span)
            if value is not None:
                found[value] = None
            elif isinstance(span, Some):
                found.update(dict.fromkeys(span.values))
            elif isinstance(span, Range):
                others = True
    return [*found, *([None] if others else [])]


def _member(ways: Sequence[Taken] | None, group: Value | None) -> Item:
    """An item's part in one group."""
    if ways is None:
        return Item({True, False}, {True, False}, None, None, True, True)
    member = Item(set(), set(), None, None, False, False)
    figures: list[Range] = []
    for taken in ways:
        if taken is None or not _may_be_in(taken[0].span, group):
            member.kept.add(False)
            continue
        member.kept.add(True)
        if group is None or single(taken[0].span) != group or not _surely_in(taken):
            member.kept.add(False)
        figure = taken[-1].span if len(taken) > 1 else NA
        if isinstance(figure, Some):
            member.passes.update(value for value in figure.values if isinstance(value, bool))
        of = hull(figure)
        if of is not None:
            figures.append(of)
    member.figure = bool(figures)
    member.low, member.high = ends_of(figures)
    return member


def _may_be_in(span: Span, group: Value | None) -> bool:
    if group is None:
        return isinstance(span, Range) and single(span) is None
    if isinstance(span, Range):
        return isinstance(group, Fraction) and within(group, span)
    return isinstance(span, Some) and group in span.values


def _surely_in(taken: Taken) -> bool:
    """Whether an item is in some group: what makes its group, and what is taken of it, surely apply."""
    return taken is not None and not any(val.maybe_na or isinstance(val.span, NotApplicable) for val in taken)

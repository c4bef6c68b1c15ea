"""A list's count, sum, share, extremes, any and all, from what each item may do: exact where it can be, else bounds.

Each function gets the items, whether the list is complete, and whether no item can give a figure below zero; it gives
the span of the result and whether the result may be not applicable.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from yokebook.values import NA, YES_NO, Range, Span, known, single


@dataclass
class Item:
    """What one item of a list may do: be kept or not, pass the test or not, and give which figures."""

    kept: set[bool]
    passes: set[bool]
    low: Fraction | None
    high: Fraction | None
    figure: bool  # gives a figure in some completion
    no_figure: bool  # gives none in some completion


def ends_of(spans: Sequence[Range]) -> tuple[Fraction | None, Fraction | None]:
    """The least low end of some ranges and the greatest high end; None where one is without end, or there are none."""
    lows = [span.low for span in spans if span.low is not None]
    highs = [span.high for span in spans if span.high is not None]
    low = min(lows, default=None) if len(lows) == len(spans) else None
    high = max(highs, default=None) if len(highs) == len(spans) else None
    return low, high


def tidy(span: Range) -> Span:
    """A range that holds one number as that number."""
    one = single(span)
    return span if one is None else known(one)


def _any(items: list[Item], complete: bool, _: bool) -> tuple[Span, bool]:
    if any(item.kept == {True} and item.passes == {True} for item in items):
        return known(True), False
    if complete and not any(True in item.kept and True in item.passes for item in items):
        return known(False), False
    return YES_NO, False


def _all(items: list[Item], complete: bool, _: bool) -> tuple[Span, bool]:
    if any(item.kept == {True} and item.passes == {False} for item in items):
        return known(False), False
    if complete and not any(True in item.kept and False in item.passes for item in items):
        return known(True), False
    return YES_NO, False


def _count(items: list[Item], complete: bool, _: bool) -> tuple[Span, bool]:
    low = Fraction(sum(item.kept == {True} for item in items))
    high = Fraction(sum(True in item.kept for item in items)) if complete else None
    return tidy(Range(low, False, high, high is None, True)), False


def _share(items: list[Item], complete: bool, _: bool) -> tuple[Span, bool]:
    sure_yes = sum(item.kept == {True} and item.passes == {True} for item in items)
    sure_no = sum(item.kept == {True} and item.passes == {False} for item in items)
    maybe_yes = sum(True in item.kept and True in item.passes for item in items)
    maybe_no = sum(True in item.kept and False in item.passes for item in items)
    maybe_na = sure_yes + sure_no == 0 and not any(item.kept == {True} for item in items)
    if complete and maybe_yes + maybe_no == 0:
        return NA, False
    low = Fraction(sure_yes, max(1, sure_yes + maybe_no)) if complete else Fraction(0)
    high = Fraction(maybe_yes, max(1, maybe_yes + sure_no)) if complete else Fraction(1)
    return tidy(Range(low, False, high, False)), maybe_na


def _sum(items: list[Item], complete: bool, never_negative: bool) -> tuple[Span, bool]:
    low: Fraction | None = Fraction(0)
    high: Fraction | None = Fraction(0)
    for item in items:
        if not item.figure:
            continue
        may_be_out = item.kept != {True} or item.no_figure
        item_low = item.low if item.low is None or not may_be_out else min(item.low, Fraction(0))
        item_high = item.high if item.high is None or not may_be_out else max(item.high, Fraction(0))
        low = None if low is None or item_low is None else low + item_low
        high = None if high is None or item_high is None else high + item_high
    if not complete:
        high = None
        low = low if never_negative else None
    return tidy(Range(low, low is None, high, high is None)), False


def _largest(items: list[Item], complete: bool, never_negative: bool) -> tuple[Span, bool]:
    sure = [item for item in items if item.figure and item.kept == {True} and not item.no_figure]
    maybe = [item for item in items if item.figure]
    if complete and not maybe:
        return NA, False
    lows = [item.low for item in sure if item.low is not None]
    low = max(lows) if lows else None
    if low is None and maybe and all(item.low is not None for item in maybe) and complete:
        low = min(item.low for item in maybe if item.low is not None)
    if low is None and never_negative:
        low = Fraction(0)
    high = None
    if complete and all(item.high is not None for item in maybe):
        high = max(item.high for item in maybe if item.high is not None)
    return tidy(Range(low, low is None, high, high is None)), not sure


def _smallest(items: list[Item], complete: bool, never_negative: bool) -> tuple[Span, bool]:
    sure = [item for item in items if item.figure and item.kept == {True} and not item.no_figure]
    maybe = [item for item in items if item.figure]
    if complete and not maybe:
        return NA, False
    highs = [item.high for item in sure if item.high is not None]
    high = min(highs) if highs else None
    if high is None and maybe and all(item.high is not None for item in maybe) and complete:
        high = max(item.high for item in maybe if item.high is not None)
    low = Fraction(0) if never_negative else None
    if complete and all(item.low is not None for item in maybe):
        low = min(item.low for item in maybe if item.low is not None)
    return tidy(Range(low, low is None, high, high is None)), not sure


TOTAL: dict[str, Callable[[list[Item], bool, bool], tuple[Span, bool]]] = {
    "any": _any,
    "all": _all,
    "count": _count,
    "share": _share,
    "sum": _sum,
    "largest": _largest,
    "smallest": _smallest,
}

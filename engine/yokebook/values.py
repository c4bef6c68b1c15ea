"""What is known of a value: one value, several that are still possible, a range, or that it does not apply."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Iterable
from fractions import Fraction
from math import ceil, floor
from typing import Literal, NamedTuple

from yokebook.frozen import dataclass
from yokebook.model import Cell, NoneOf, OneOf, Value, Within


@dataclass(frozen=True, slots=True)
class NotApplicable:
    """The fact has no meaning here: it is in no cell and is never asked."""


NA = NotApplicable()


# Spans and what they are of are tuples, not dataclasses: exploring completions compares and hashes them millions of
# times, and tuples do that without running Python.


class Some(NamedTuple):
    """One of these values; a single one is a known value. Numbers are Fractions."""

    values: frozenset[Value]


class Range(NamedTuple):
    """A number between two ends; an end of None is unbounded."""

    low: Fraction | None
    low_open: bool
    high: Fraction | None
    high_open: bool
    whole: bool = False

    def empty(self) -> bool:
        """Whether no number is left in it."""
        if self.low is None or self.high is None:
            return False
        low, high, low_open, high_open = self.low, self.high, self.low_open, self.high_open
        if self.whole:
            low = Fraction(floor(low) + 1 if low_open else ceil(low))
            high = Fraction(ceil(high) - 1 if high_open else floor(high))
            low_open = high_open = False
        return low > high or (low == high and (low_open or high_open))


Span = Some | Range | NotApplicable

ANY_NUMBER = Range(None, True, None, True)
YES_NO = Some(frozenset({True, False}))


def known(value: Value) -> Some:
    """The span that holds just this value."""
    return Some(frozenset({value}))


def single(span: Span) -> Value | None:
    """The one value of a span, or None where more than one, or none, is possible."""
    if isinstance(span, Some) and len(span.values) == 1:
        return next(iter(span.values))
    if isinstance(span, Range) and span.low is not None and span.low == span.high and not span.empty():
        return span.low
    return None


def hull(span: Span) -> Range | None:
    """The smallest range round a number's span; None where it does not apply or is no number."""
    if isinstance(span, Range):
        return span
    if isinstance(span, Some):
        numbers = [v for v in span.values if isinstance(v, Fraction)]
        if numbers:
            return Range(min(numbers), False, max(numbers), False, all(n.denominator == 1 for n in numbers))
    return None


def intersect(a: Span, b: Span) -> Span | None:
    """What both allow, or None for nothing."""
    if isinstance(a, NotApplicable) or isinstance(b, NotApplicable):
        return a if a == b else None
    if isinstance(a, Some) and isinstance(b, Some):
        both = a.values & b.values
        return Some(both) if both else None
    if isinstance(a, Some) and isinstance(b, Range):
        kept = frozenset(v for v in a.values if isinstance(v, Fraction) and within(v, b))
        return Some(kept) if kept else None
    if isinstance(a, Range) and isinstance(b, Some):
        return intersect(b, a)
    assert isinstance(a, Range) and isinstance(b, Range)
    low, low_open = _end(a.low, a.low_open, b.low, b.low_open, max)
    high, high_open = _end(a.high, a.high_open, b.high, b.high_open, min)
    joined = Range(low, low_open, high, high_open, a.whole or b.whole)
    return None if joined.empty() else joined


def _end(
    a: Fraction | None,
    a_open: bool,
    b: Fraction | None,
    b_open: bool,
    tighter: Callable[[Fraction, Fraction], Fraction],
) -> tuple[Fraction | None, bool]:
    if a is None:
        return b, b_open
    if b is None:
        return a, a_open
    if a == b:
        return a, a_open or b_open
    return (a, a_open) if tighter(a, b) == a else (b, b_open)


def within(value: Fraction, span: Range) -> bool:
    """Whether a number lies in a range."""
    if span.low is not None and (value < span.low or (span.low_open and value == span.low)):
        return False
    if span.high is not None and (value > span.high or (span.high_open and value == span.high)):
        return False
    return not span.whole or value.denominator == 1


def as_good_as_exact(span: Range) -> bool:
    """Whether a range is so small that people write it as one number: a root that is no exact one."""
    return span.low is not None and span.high is not None and 0 < span.high - span.low <= Fraction(1, 1000)


def agrees(span: Span, value: Value) -> bool:
    """Whether a value stated is among those computed; next to a root that is no exact number a hundredth is enough."""
    if isinstance(span, Range) and isinstance(value, Fraction) and not span.whole and as_good_as_exact(span):
        assert span.low is not None and span.high is not None
        return span.low - Fraction(1, 100) <= value <= span.high + Fraction(1, 100)
    return intersect(span, known(value)) is not None


def inside(span: Range) -> Fraction:
    """A number that lies in a range which is not empty, whole where it has to be."""
    step = Fraction(1) if span.whole else Fraction(1, 2)
    if span.low is not None and span.high is not None:
        middle = (span.low + span.high) / 2
        return Fraction(ceil(span.low) + (span.low_open and ceil(span.low) == span.low)) if span.whole else middle
    if span.low is not None:
        return Fraction(floor(span.low)) + 1 if span.whole else span.low + step
    if span.high is not None:
        return Fraction(ceil(span.high)) - 1 if span.whole else span.high - step
    return Fraction(0)


def holds(cell: Cell, value: Value) -> bool:
    """Whether a cell (named numbers already replaced) holds for a known value."""
    if isinstance(cell, OneOf):
        return value in cell.values
    if isinstance(cell, NoneOf):
        return value not in cell.values
    assert isinstance(value, Fraction)
    return within(value, Range(_plain(cell.low), cell.low_open, _plain(cell.high), cell.high_open))


def _plain(number: object) -> Fraction | None:
    assert number is None or isinstance(number, Fraction), number
    return number


#: How many ranges an index keeps the parts of: a figure of many buildings has ever new ones.
_RANGES_KEPT = 256


class CellIndex:
    """Which of several boxes a value is allowed by, as bits: by look-up, not by trying the boxes.

    `allowed(value)` has bit i set where box i has no cell on this input or its cell holds. `pieces(span)` cuts a span
    into the largest parts that no cell tells apart, each with its bits.
    """

    def __init__(self, cells: Iterable[tuple[int, Cell]], all_bits: int) -> None:
        self.cells = tuple(cells)
        self.constrained = 0
        for bit, _ in self.cells:
            self.constrained |= 1 << bit
        self._free = all_bits & ~self.constrained
        #: the numbers at which what is allowed may change
        self.cuts = sorted({number for _, cell in self.cells for number in _numbers(cell)})
        self._by_value: dict[Value, int] = {}
        self._by_span: dict[Some, list[tuple[Span, int]]] = {}
        self._by_range: dict[Range, list[tuple[Span, int]]] = {}
        self._by_element: list[int] = []
        if self.cuts or any(isinstance(cell, Within) for _, cell in self.cells):
            self._by_element = [self._bits(point) for point in self._element_points()]

    def _bits(self, value: Value) -> int:
        bits = self._free
        for bit, cell in self.cells:
            if holds(cell, value):
                bits |= 1 << bit
        return bits

    def _element_points(self) -> list[Fraction]:
        """One number out of each element: below all cuts, each cut, between neighbours, above all."""
        cuts = self.cuts
        if not cuts:
            return [Fraction(0)]
        points = [cuts[0] - 1]
        for i, cut in enumerate(cuts):
            points.append(cut)
            points.append((cut + cuts[i + 1]) / 2 if i + 1 < len(cuts) else cut + 1)
        return points

    def allowed(self, value: Value) -> int:
        """The bits of the boxes that allow a known value."""
        if isinstance(value, Fraction) and self._by_element:
            i = bisect_left(self.cuts, value)
            return self._by_element[2 * i + 1 if i < len(self.cuts) and self.cuts[i] == value else 2 * i]
        bits = self._by_value.get(value)
        if bits is None:
            bits = self._by_value[value] = self._bits(value)
        return bits

    def pieces(self, span: Span) -> list[tuple[Span, int]]:
        """The span cut where cells tell its values apart: (part, bits), parts in a stable order."""
        if isinstance(span, NotApplicable):
            return [(span, self._free)]
        if isinstance(span, Some):
            if span not in self._by_span:
                self._by_span[span] = self._groups(span)
            return self._by_span[span]
        found = self._by_range.get(span)
        if found is None:
            if len(self._by_range) == _RANGES_KEPT:
                self._by_range.clear()
            found = self._by_range[span] = self._stretches(span)
        return found

    def _stretches(self, span: Range) -> list[tuple[Span, int]]:
        parts: list[tuple[Range, int]] = []
        for element, bits in self._elements(span.whole):
            part = intersect(span, element)
            if not isinstance(part, Range):
                continue
            if parts and parts[-1][1] == bits:
                last = parts[-1][0]
                part = Range(last.low, last.low_open, part.high, part.high_open, span.whole)
                parts.pop()
            parts.append((part, bits))
        return list(parts)

    def _groups(self, span: Some) -> list[tuple[Span, int]]:
        groups: dict[int, set[Value]] = {}
        for value in sorted(span.values, key=_order):
            groups.setdefault(self.allowed(value), set()).add(value)
        return [(Some(frozenset(values)), bits) for bits, values in groups.items()]

    def _elements(self, whole: bool) -> Iterable[tuple[Range, int]]:
        if not self.cuts:
            yield Range(None, True, None, True, whole), (self._by_element or [self._free])[0]
            return
        below: Fraction | None = None
        for i, cut in enumerate(self.cuts):
            yield Range(below, True, cut, True, whole), self._by_element[2 * i]
            yield Range(cut, False, cut, False, whole), self._by_element[2 * i + 1]
            below = cut
        yield Range(below, True, None, True, whole), self._by_element[-1]


def _numbers(cell: Cell) -> Iterable[Fraction]:
    if isinstance(cell, Within):
        ends: tuple[object, ...] = (cell.low, cell.high)
    else:
        ends = tuple(cell.values)
    return [n for n in ends if isinstance(n, Fraction)]


def _order(value: Value) -> tuple[int, str, Fraction]:
    if isinstance(value, bool):
        return (0, "", Fraction(0 if value else 1))
    if isinstance(value, str):
        return (1, value, Fraction(0))
    return (2, "", value)


def in_order(values: Iterable[Value]) -> list[Value]:
    """Values in a stable order: yes before no, words by letter, numbers by size."""
    return sorted(values, key=_order)


VarKind = Literal["fact", "figure", "reading", "list", "link", "answer", "entry", "status"]


class Var(NamedTuple):
    """Something not known that a ruling may turn on.

    fact: a raw fact of a thing; figure: a calculation of which only bounds are known; reading: a contested clause;
    list: whether a list is complete; link: what a thing refers to; answer: another document's answer where that
    document has no entry; entry: which entry of a line of time governs; status: a lower table's fault.
    """

    kind: VarKind
    subject: tuple[str, str]  # kind and path of the thing; ("", "") where there is none
    name: str


class Val(NamedTuple):
    """A value with what it would take to know it better.

    `needs` are the unknown things behind an unsettled value; `var` is what to split to narrow it, and `preimage` maps
    each value to the values of `var` that give it (a look-up), where that is not the value itself.
    """

    span: Span
    needs: tuple[Var, ...] = ()
    var: Var | None = None
    preimage: tuple[tuple[Value, frozenset[Value]], ...] = ()
    maybe_na: bool = False


class Split(Exception):
    """Raised while ruling where the answer turns on something not known: what, and the parts to try one by one."""

    def __init__(self, var: Var, parts: list[Span], needs: tuple[Var, ...] = ()) -> None:
        super().__init__(var)
        self.var = var
        self.parts = parts
        self.needs = needs

    def __str__(self) -> str:
        return f"{self.var} is not known"  # put together only where it is shown: most are caught

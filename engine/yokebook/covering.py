"""How much of a stretch no reach covers: exact where positions and reaches are known, else between bounds.

The least that may be uncovered has every item that is not known where it covers most; the most has it cover nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction

from yokebook.frozen import dataclass
from yokebook.graph import Thing
from yokebook.values import Range, hull
from yokebook.walking import Taken

#: Parts of a stretch, each from one place to another, in order and apart.
Parts = list[tuple[Fraction, Fraction]]

#: From where to where something may reach; None is without end.
Reach = tuple[Fraction | None, Fraction | None]

_NONE = Fraction(0)


@dataclass(frozen=True, slots=True)
class Covered:
    """What one item covers: for sure (None: nothing for sure), where it may cover, and how much of it at most."""

    item: Thing
    sure: tuple[Fraction, Fraction] | None
    may: tuple[Reach, ...]
    most: Fraction | None  # None: any length

    @property
    def exact(self) -> bool:
        """Whether it covers one known part and nothing else."""
        return self.sure is not None and all(part == self.sure for part in self.may)


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch with what covers it, and whether nothing else does."""

    length: Range
    covered: tuple[Covered, ...]
    complete: bool

    def surely_uncovered(self) -> Parts:
        """The parts that nothing can cover, as far as the stretch surely goes."""
        if not self.complete:
            return []
        return gaps(self._shortest(), [part for item in self.covered for part in item.may])

    def maybe_uncovered(self, length: Fraction) -> Parts:
        """The parts of a stretch so long that no item surely covers."""
        return gaps(length, [item.sure for item in self.covered if item.sure is not None])

    def least(self) -> Fraction:
        """The least length that may be uncovered."""
        if not self.complete:
            return _NONE
        known = [item.sure for item in self.covered if item.exact and item.sure is not None]
        left = gaps(self._shortest(), known)
        least = _total(left)
        for item in self.covered:
            if not item.exact:
                within = _total(left) - _total(_without(left, item.may))
                least -= within if item.most is None else min(within, item.most)
        return max(least, _total(self.surely_uncovered()))

    def most(self) -> Fraction | None:
        """The greatest length that may be uncovered; None where the stretch may have any length."""
        return None if self.length.high is None else _total(self.maybe_uncovered(self.length.high))

    def _shortest(self) -> Fraction:
        return self.length.low or _NONE


def covered_by(item: Thing, ways: Sequence[Taken] | None) -> Covered:
    """What an item covers, from its place and reach in each completion; None for one of which nothing is known."""
    if ways is None:
        return Covered(item, None, ((None, None),), None)
    sure: list[tuple[Fraction, Fraction] | None] = []
    may: list[Reach] = []
    most: Fraction | None = _NONE
    for taken in ways:
        place, reach = (None, None) if taken is None else (hull(taken[0].span), hull(taken[1].span))
        if taken is None or place is None or reach is None:
            sure.append(None)
            continue
        may.append((_sum(place.low, reach.high, -1), _sum(place.high, reach.high, 1)))
        most = None if most is None or reach.high is None else max(most, 2 * reach.high)
        low, high = _sum(place.high, reach.low, -1), _sum(place.low, reach.low, 1)
        known = low is not None and high is not None and low <= high and not any(val.maybe_na for val in taken)
        sure.append((low, high) if known and low is not None and high is not None else None)
    return Covered(item, _common(sure), tuple(may), most)


def _common(parts: Sequence[tuple[Fraction, Fraction] | None]) -> tuple[Fraction, Fraction] | None:
    """What is in all of the parts."""
    known = [part for part in parts if part is not None]
    if not known or len(known) < len(parts):
        return None
    low, high = max(low for low, _ in known), min(high for _, high in known)
    return (low, high) if low <= high else None


def _sum(place: Fraction | None, reach: Fraction | None, sign: int) -> Fraction | None:
    return None if place is None or reach is None else place + sign * reach


def gaps(length: Fraction, covered: Iterable[Reach]) -> Parts:
    """The parts from 0 to `length` that none of these covers."""
    return _without([(_NONE, length)] if length > 0 else [], covered)


def _without(parts: Parts, covered: Iterable[Reach]) -> Parts:
    left = parts
    for low, high in covered:
        if low is not None and high is not None and low > high:
            continue  # a reach below nothing covers nothing
        cut: Parts = []
        for start, end in left:
            before = start if low is None else min(end, low)
            after = end if high is None else max(start, high)
            cut += [(a, b) for a, b in ((start, before), (after, end)) if a < b]
        left = cut
    return left


def _total(parts: Parts) -> Fraction:
    return sum((end - start for start, end in parts), _NONE)

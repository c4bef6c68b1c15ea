"""Whether boxes cover a region, and a part of it that they leave out: the one question behind gaps, conflicts and
rules that never decide.

Each input of a table is a small finite list of elements (`elements.py`). A region is one bit mask of elements for each
input; a box is a region too. A bitmap index answers which of thousands of boxes overlap a region by joining integers,
as routers do that match packets against lists of rules.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import lru_cache

#: For each input, the elements allowed as bits. A region with a 0 in it holds nothing.
Region = tuple[int, ...]

#: How many states one question may try before it says that it did not decide: about 2 s of work.
STATES = 300_000


class NotDecided(Exception):
    """A question needs more states than its budget allows."""


def empty(region: Region) -> bool:
    """Whether no point is in a region."""
    return not all(region)


def meet(a: Region, b: Region) -> Region | None:
    """The points in both regions; None where there are none."""
    both = tuple(x & y for x, y in zip(a, b, strict=True))
    return both if all(both) else None


def inside(a: Region, b: Region) -> bool:
    """Whether every point of a region that is not empty is in the other."""
    return all(x & ~y == 0 for x, y in zip(a, b, strict=True))


def minus(region: Region, box: Region) -> list[Region]:
    """The points of a region that are not in a box, as regions that do not overlap: at most one for each input."""
    if meet(region, box) is None:
        return [region]
    pieces: list[Region] = []
    kept = list(region)
    for i, mask in enumerate(box):
        outside = kept[i] & ~mask
        if outside:
            pieces.append((*kept[:i], outside, *region[i + 1 :]))
        kept[i] &= mask
    return pieces


def minus_all(region: Region, boxes: Iterable[Region]) -> list[Region]:
    """The points of a region that are in none of the boxes, as regions that do not overlap."""
    left = [region]
    for box in boxes:
        left = [piece for one in left for piece in minus(one, box)]
    return left


@lru_cache(maxsize=1 << 15)  # searches ask for the same few sets of inputs and boxes again and again
def bits(mask: int) -> tuple[int, ...]:
    """The numbers of the bits that are set, lowest first."""
    found: list[int] = []
    while mask:
        low = mask & -mask
        found.append(low.bit_length() - 1)
        mask ^= low
    return tuple(found)


class Cover:
    """Boxes over one set of inputs, indexed. Box i is bit i of every set of boxes taken or given back.

    `widths` is the number of elements of each input.
    """

    def __init__(self, widths: Sequence[int], boxes: Sequence[Region]) -> None:
        self.widths = tuple(widths)
        self.boxes = tuple(boxes)
        self.all = (1 << len(self.boxes)) - 1
        self.whole: Region = tuple((1 << width) - 1 for width in widths)
        self._allow = [[0] * width for width in widths]
        self._joined: list[dict[int, int]] = [{} for _ in widths]
        self._common: list[dict[int, int]] = [{} for _ in widths]
        for i, width in enumerate(widths):
            self._index(i, width)
        #: the boxes that hold any point at all
        self.somewhere = self.all
        for i, mask in enumerate(self.whole):
            self.somewhere &= self.allowing(i, mask)

    def _index(self, i: int, width: int) -> None:
        """Which boxes allow each element of input i: boxes with the same mask are taken together."""
        by_mask: dict[int, int] = {}
        for number, box in enumerate(self.boxes):
            by_mask[box[i]] = by_mask.get(box[i], 0) | 1 << number
        allow = self._allow[i]
        for mask, those in by_mask.items():
            for element in bits(mask & ((1 << width) - 1)):
                allow[element] |= those

    def allowing(self, i: int, mask: int) -> int:
        """The boxes that allow any of these elements of input i."""
        found = self._joined[i].get(mask)
        if found is None:
            found = 0
            for element in bits(mask):
                found |= self._allow[i][element]
            self._joined[i][mask] = found
        return found

    def allowing_all(self, i: int, mask: int) -> int:
        """The boxes that allow every one of these elements of input i."""
        found = self._common[i].get(mask)
        if found is None:
            found = self.all
            for element in bits(mask):
                found &= self._allow[i][element]
            self._common[i][mask] = found
        return found

    def allowing_one(self, i: int, element: int) -> int:
        """The boxes that allow one element of input i."""
        return self._allow[i][element]

    def overlapping(self, region: Region, among: int | None = None) -> int:
        """The boxes (of those in `among`) that have a point in common with a region."""
        live = self.all if among is None else among
        live &= self.somewhere
        for i, (mask, whole, joined) in enumerate(zip(region, self.whole, self._joined, strict=True)):
            if mask == whole:
                continue
            found = joined.get(mask)  # as `allowing`, without the call: this is where walks spend most of their time
            live &= self.allowing(i, mask) if found is None else found
            if not live:
                return 0
        return live

    def settled(self, region: Region, live: int) -> tuple[int, list[int]]:
        """Of the boxes that overlap a region, those that take in all of it; and for each input those that do not
        there."""
        partial: list[int] = []
        constrained = 0
        for i, (mask, common) in enumerate(zip(region, self._common, strict=True)):
            found = common.get(mask)  # as `allowing_all`, without the call
            some = live & ~(self.allowing_all(i, mask) if found is None else found)
            partial.append(some)
            constrained |= some
        return live & ~constrained, partial

    def uncovered(self, region: Region, among: int | None = None, states: int = STATES) -> Region | None:
        """A part of a region that none of the boxes (of those in `among`) touches; None where they cover it.

        Raises NotDecided past the budget of states.
        """
        if empty(region):
            return None
        live = self.overlapping(region, among)
        return _Search(self, region, states).run(live) if live else region


class _Search:
    """One question to a cover: case by case on the input that most boxes left constrain."""

    def __init__(self, cover: Cover, region: Region, states: int) -> None:
        self.cover = cover
        self.region = region
        self.states = states
        self.covered: set[tuple[int, int]] = set()
        #: for each input, the boxes that allow some elements of the region there and not all
        self.partial: list[int] = []
        self.elements: list[tuple[int, ...]] = []
        for i, mask in enumerate(region):
            self.elements.append(bits(mask))
            self.partial.append(~cover.allowing_all(i, mask))

    def run(self, live: int) -> Region | None:
        """A part of the region that no live box touches, or None."""
        found = self._open(live, (1 << len(self.region)) - 1)
        if found is None:
            return None
        return tuple(found.get(i, mask) for i, mask in enumerate(self.region))

    def _open(self, live: int, left: int) -> dict[int, int] | None:
        """The masks of the inputs split on the way to a part that no box touches; None where all is covered."""
        if not live:
            return {}
        constrained, widest, most = 0, -1, 0
        for i in bits(left):
            those = live & self.partial[i]
            constrained |= those
            count = those.bit_count()
            if count > most:
                widest, most = i, count
        if live & ~constrained:
            return None  # a box that takes in all that is left
        key = (live, left)
        if key in self.covered:
            return None
        self.states -= 1
        if self.states < 0:
            raise NotDecided
        for those, mask in self._groups(widest, live):
            found = self._open(those, left & ~(1 << widest))
            if found is not None:
                return {**found, widest: mask}
        self.covered.add(key)
        return None

    def _groups(self, i: int, live: int) -> list[tuple[int, int]]:
        """The elements of input i by the live boxes that allow them, fewest boxes first; one whose boxes include all
        those of another can hold no hole that the other does not."""
        groups: dict[int, int] = {}
        allow = self.cover._allow[i]
        for element in self.elements[i]:
            those = live & allow[element]
            groups[those] = groups.get(those, 0) | 1 << element
        kept: list[tuple[int, int]] = []
        for those, mask in sorted(groups.items(), key=lambda group: (group[0].bit_count(), group[1])):
            if not any(fewer & ~those == 0 for fewer, _ in kept):
                kept.append((those, mask))
        return kept

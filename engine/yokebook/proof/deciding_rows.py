"""A table as rows over regions: what it says everywhere in a region, and where it says something.

The definition is that of ruling one record: a rule fires in its boxes and in none of its `but_not` boxes; of the rules
that fire, those stand that none which fires prevails over; the outcome is what all standing rules say.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

from yokebook.proof.cover import STATES, Cover, NotDecided, Region, bits, minus_all

#: What a table says at a point: ("ruled", the word), ("conflict", ""), ("silent", ""), or ("impossible", "").
Says = tuple[str, str]

IMPOSSIBLE: Says = ("impossible", "")
SILENT: Says = ("silent", "")
CONFLICT: Says = ("conflict", "")

#: How many sets of boxes are kept with the rules that they are of.
_SETS_KEPT = 1 << 13


@dataclass(frozen=True)
class RowRule:
    """A rule as regions: where it fires, what it says, and the numbers of the rules that prevail over it."""

    id: str
    then: str
    where: tuple[Region, ...]
    but_not: tuple[Region, ...]
    beaten_by: frozenset[int]


@dataclass(frozen=True)
class Leaf:
    """A part of the space at every point of which the same rules stand; for each input a mask of elements."""

    region: Region
    says: Says
    standing: tuple[int, ...]  # rule numbers


@dataclass(frozen=True)
class Rows:
    """A table over elements: rules exceptions-first, what none firing means (None: forbidden), and the regions that
    cannot occur."""

    widths: tuple[int, ...]
    rules: tuple[RowRule, ...]
    none_fires: str | None
    impossible: tuple[Region, ...] = ()

    @cached_property
    def firing(self) -> tuple[tuple[Region, ...], ...]:
        """For each rule the regions in which it fires: its boxes less its `but_not` boxes."""
        return tuple(
            tuple(piece for box in rule.where if all(box) for piece in minus_all(box, rule.but_not))
            for rule in self.rules
        )

    @cached_property
    def owner(self) -> tuple[int, ...]:
        """The rule number of each box of `cover`; -1 for an impossible region."""
        owners = [number for number, regions in enumerate(self.firing) for _ in regions]
        return (*owners, *(-1 for _ in self.impossible))

    @cached_property
    def cover(self) -> Cover:
        """Every firing region and every impossible one, indexed."""
        return Cover(self.widths, [*(region for regions in self.firing for region in regions), *self.impossible])

    @cached_property
    def boxes_of(self) -> tuple[int, ...]:
        """For each rule, its boxes in `cover` as bits."""
        masks = [0] * len(self.rules)
        for bit, rule in enumerate(self.owner):
            if rule >= 0:
                masks[rule] |= 1 << bit
        return tuple(masks)

    @cached_property
    def impossible_bits(self) -> int:
        """The impossible regions in `cover` as bits."""
        return sum(1 << bit for bit, rule in enumerate(self.owner) if rule < 0)

    @cached_property
    def _rules(self) -> dict[int, list[int]]:
        return {}

    def rules_of(self, live: int) -> list[int]:
        """The rules of some boxes of `cover`, in their order."""
        found = self._rules.get(live)
        if found is None:
            if len(self._rules) == _SETS_KEPT:
                self._rules.clear()
            found = self._rules[live] = sorted({self.owner[bit] for bit in bits(live)})
        return found

    def boxes_over(self, rules: frozenset[int]) -> int:
        """The boxes of some rules, and the impossible regions, as bits."""
        found = self.impossible_bits
        for rule in rules:
            found |= self.boxes_of[rule]
        return found

    def at(self, point: Sequence[int]) -> Says:
        """What the table says at a point: the number of an element for each input."""
        region = tuple(1 << element for element in point)
        return next(leaf.says for leaf in self.leaves(region))

    def leaves(self, region: Region | None = None, states: int = STATES) -> Iterator[Leaf]:
        """The region cut into parts at every point of which the same rules stand. Raises NotDecided past the budget."""
        return _Walk(self, states).leaves(self.cover.whole if region is None else region)

    def find(
        self, region: Region, wanted: Callable[[Says], bool], states: int = STATES
    ) -> Leaf | None:
        """A part of the region where the table says something wanted; None where it does nowhere in it."""
        return next((leaf for leaf in self.leaves(region, states) if wanted(leaf.says)), None)

    def decide(self, live: int, certain: int) -> tuple[Says, tuple[int, ...]] | int:
        """What holds where the certain boxes hold and no others than the live ones can: what is said and by which
        rules, or the boxes that have to be settled first."""
        if certain & self.impossible_bits:
            return IMPOSSIBLE, ()
        open_bits = live & self.impossible_bits
        standing: list[int] = []
        for number in self.rules_of(live & ~self.impossible_bits):
            rule = self.rules[number]
            if any(winner in rule.beaten_by for winner in standing):
                continue
            boxes = self.boxes_of[number]
            if certain & boxes:
                standing.append(number)
            else:
                open_bits |= live & boxes
        if open_bits:
            return open_bits
        return self.said(standing), tuple(standing)

    def only_word(self, live: int, certain: int) -> Says | None:
        """What is said wherever the certain boxes hold and no others than the live ones can, as far as that can occur,
        if all of them say the same; None where more than one thing may be said."""
        rules = self.rules_of(live & ~self.impossible_bits)
        said: set[Says] = {("ruled", self.rules[number].then) for number in rules}
        if not certain & ~self.impossible_bits:
            said.add(self.said(()))
        return said.pop() if len(said) == 1 else None

    def said(self, standing: Sequence[int]) -> Says:
        """What the table says where just these rules stand."""
        words = {self.rules[number].then for number in standing}
        if not words:
            return SILENT if self.none_fires is None else ("ruled", self.none_fires)
        return CONFLICT if len(words) > 1 else ("ruled", words.pop())


class _Walk:
    """Cutting a region, input by input, until each part is decided."""

    def __init__(self, rows: Rows, states: int) -> None:
        self.rows = rows
        self.states = states

    def leaves(self, region: Region) -> Iterator[Leaf]:
        if not all(region):
            return
        stack = [region]
        while stack:
            part = stack.pop()
            self.states -= 1
            if self.states < 0:
                raise NotDecided
            live = self.rows.cover.overlapping(part)
            certain, partial = self.rows.cover.settled(part, live)
            decided = self.rows.decide(live, certain)
            if isinstance(decided, int):
                stack.extend(reversed(cut(self.rows.cover, part, decided, partial)))
            else:
                yield Leaf(part, *decided)


def cut(cover: Cover, region: Region, wanted: int, partial: Sequence[int]) -> list[Region]:
    """A region cut on the input that tells most of the wanted boxes apart, by which of them allow an element."""
    i = max(range(len(region)), key=lambda number: (partial[number] & wanted).bit_count())
    groups: dict[int, int] = {}
    for element in bits(region[i]):
        those = cover.allowing_one(i, element) & wanted
        groups[those] = groups.get(those, 0) | 1 << element
    return [(*region[:i], mask, *region[i + 1 :]) for mask in groups.values()]

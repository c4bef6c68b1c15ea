"""Where two tables over the same elements say different things: exactly, with the widest regions."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from yokebook.proof.cover import STATES, NotDecided, Region, bits, minus_all
from yokebook.proof.deciding_rows import Rows, Says, cut
from yokebook.proof.elements import Space, is_point

#: How many regions of one kind of difference are told.
MOST_REGIONS = 6


@dataclass(frozen=True)
class Difference:
    """Where one thing was said and another is now: the regions, those first that hold fewest inputs to anything; `more`
    counts parts not told.
    `boundary_only`: every one of them is a single number on some scale without steps."""

    was: Says
    now: Says
    regions: tuple[Region, ...]
    more: int
    boundary_only: bool


@dataclass(frozen=True)
class Pair:
    """A part of the space at every point of which the one table says `was` and the other `now`."""

    region: Region
    was: Says
    now: Says


class Joint:
    """Two tables walked together, in which the same cannot occur. Parts where no rule that differs is alive are passed
    over."""

    def __init__(self, was: Rows, now: Rows, states: int = STATES) -> None:
        self.was, self.now, self.states = was, now, states
        self.same_silence = was.none_fires == now.none_fires
        self.changed_was = _changed(was, now)
        self.changed_now = _changed(now, was)

    def pairs(self, region: Region | None = None, *, all_of_them: bool = False) -> Iterator[Pair]:
        """The parts in which the two say different things (or `all_of_them`). Raises NotDecided past the budget."""
        stack = [self.was.cover.whole if region is None else region]
        while stack:
            part = stack.pop()
            if not all(part):
                continue
            self._count()
            live_was, live_now = self.was.cover.overlapping(part), self.now.cover.overlapping(part)
            if (
                not all_of_them
                and self.same_silence
                and not live_was & self.changed_was
                and not live_now & self.changed_now
            ):
                continue
            decided = self._decided_or_cut(part, live_was, live_now, quick=not all_of_them)
            if decided is None:
                continue
            if isinstance(decided, list):
                stack.extend(reversed(decided))
            elif all_of_them or decided.was != decided.now:
                yield decided

    def _count(self) -> None:
        self.states -= 1
        if self.states < 0:
            raise NotDecided

    def _decided_or_cut(
        self, part: Region, live_was: int, live_now: int, *, quick: bool
    ) -> Pair | list[Region] | None:
        """What the two say in a part, or the part cut; with `quick`, None where they say the same wherever something
        can occur, though it is not settled what can."""
        certain_was, partial_was = self.was.cover.settled(part, live_was)
        certain_now, partial_now = self.now.cover.settled(part, live_now)
        ties = 0
        if quick:
            word = self.was.only_word(live_was, certain_was)
            if word is not None and word == self.now.only_word(live_now, certain_now):
                return None
            # what cannot occur is settled last, where the two differ: most parts never come to it
            if certain_was & self.was.impossible_bits:
                return None
            ties = live_was & self.was.impossible_bits
            live_was, live_now = live_was & ~ties, live_now & ~self.now.impossible_bits
        said_was = self.was.decide(live_was, certain_was)
        if isinstance(said_was, int):
            return cut(self.was.cover, part, said_was, partial_was)
        said_now = self.now.decide(live_now, certain_now)
        if isinstance(said_now, int):
            return cut(self.now.cover, part, said_now, partial_now)
        if ties and said_was[0] != said_now[0]:
            return cut(self.was.cover, part, ties, partial_was)
        return Pair(part, said_was[0], said_now[0])

    def everywhere(self, region: Region, was: Says, now: Says) -> bool:
        """Whether at every point of a region that can occur the one says `was` and the other `now`. Raises NotDecided
        past the budget."""
        ties = self.was.impossible_bits
        stack = [region]
        while stack:
            part = stack.pop()
            if not all(part):
                continue
            self._count()
            said = self._said_or_cut(part, was, now)
            if isinstance(said, list):
                stack.extend(reversed(said))
            elif not said and self.was.cover.uncovered(part, ties) is not None:
                return False
        return True

    def _said_or_cut(self, part: Region, was: Says, now: Says) -> bool | list[Region]:
        """Whether the two say this in a part, what ties its inputs left aside, or the part cut."""
        for rows, says in ((self.was, was), (self.now, now)):
            live = rows.cover.overlapping(part) & ~rows.impossible_bits
            certain, partial = rows.cover.settled(part, live)
            if rows.only_word(live, certain) == says:
                continue
            said = rows.decide(live, certain)
            if isinstance(said, int):
                return cut(rows.cover, part, said, partial)
            if said[0] != says:
                return False
        return True


def _changed(rows: Rows, other: Rows) -> int:
    """The boxes of rules that the other table does not have just so."""
    there = {_content(other, number) for number in range(len(other.rules))}
    changed = 0
    for number in range(len(rows.rules)):
        if _content(rows, number) not in there:
            changed |= rows.boxes_of[number]
    return changed


def _content(rows: Rows, number: int) -> tuple[object, ...]:
    rule = rows.rules[number]
    over = frozenset(rows.rules[winner].id for winner in rule.beaten_by)
    return (rule.id, rule.then, frozenset(rule.where), frozenset(rule.but_not), over)


def differences(
    space: Space, states: int = STATES, likely: Callable[[Region], int] | None = None, least: int = 1
) -> list[Difference]:
    """Every (old, new) in which the two sides of a space say different things, in a stable order.

    `likely` says how likely something in a part of the space can occur, 0 for not at all: likelier parts are told
    first; those that cannot occur are left out, and those of which the widest region is less than `least` likely.
    Raises NotDecided past the budget.
    """
    was, now = space.rows
    found: dict[tuple[Says, Says], list[Region]] = {}
    for pair in Joint(was, now, states).pairs():
        if likely is None or likely(pair.region):
            found.setdefault((pair.was, pair.now), []).append(pair.region)
    made = (_difference(space, pair, found[pair], states, likely or _as_good, least) for pair in sorted(found))
    return [each for each in made if each is not None]


def _as_good(_: Region) -> int:
    return 1


def _difference(
    space: Space,
    pair: tuple[Says, Says],
    leaves: list[Region],
    states: int,
    likely: Callable[[Region], int],
    least: int,
) -> Difference | None:
    was, now = space.rows
    told: list[Region] = []
    left_out: list[Region] = []
    counted: list[Region] = []
    more = 0

    def still(part: Region) -> bool:
        return likely(part) > 0 and Joint(was, now, states).everywhere(part, *pair)

    for leaf in sorted(leaves, key=likely, reverse=True):
        if not minus_all(leaf, left_out):
            continue
        if minus_all(leaf, told):
            if len(told) == MOST_REGIONS:
                more += 1
            else:
                region = widest(leaf, space, still)
                if likely(region) < least:
                    left_out.append(region)
                    continue
                told.append(region)
        counted.append(leaf)
    if not told:
        return None
    return Difference(*pair, tuple(told), more, all(no_breadth(space, leaf) for leaf in counted))


def widest(region: Region, space: Space, still: Callable[[Region], bool]) -> Region:
    """A region made as wide as it can be, input by input, as long as `still` holds of all that is added. Single values
    with which nothing can occur are not taken in: they would only puzzle. Inputs that no rule names are freed first."""
    left_out: list[tuple[int, int]] = []
    for i in (*range(space.own, len(space.names)), *range(space.own)):
        whole = space.whole[i]
        outside = whole & ~region[i]
        if not outside:
            continue
        if still((*region[:i], outside, *region[i + 1 :])):
            region = (*region[:i], whole, *region[i + 1 :])
            continue
        for element in bits(outside):
            added = (*region[:i], 1 << element, *region[i + 1 :])
            if not occurs(space, added):
                left_out.append((i, element))
            elif still(added):
                region = (*region[:i], region[i] | 1 << element, *region[i + 1 :])
    return _wider(region, space, still, left_out)


def _wider(
    region: Region, space: Space, still: Callable[[Region], bool], left_out: list[tuple[int, int]]
) -> Region:
    """A region with what was left out because nothing could occur with it, as far as something can now that other
    inputs are wider."""
    for at, (i, element) in enumerate(left_out):
        added = (*region[:i], 1 << element, *region[i + 1 :])
        if occurs(space, added) and still(added):
            wider = (*region[:i], region[i] | 1 << element, *region[i + 1 :])
            return _wider(wider, space, still, left_out[:at] + left_out[at + 1 :])
    return region


def occurs(space: Space, region: Region) -> bool:
    """Whether something in a region is not ruled out by what ties its inputs."""
    rows = space.rows[0]
    return rows.cover.uncovered(region, rows.impossible_bits) is not None


def no_breadth(space: Space, region: Region) -> bool:
    """Whether a region is a single number on some scale without steps, so that no stretch of records is in it."""
    return bool(at_boundary(space, region))


def at_boundary(space: Space, region: Region) -> list[str]:
    """The inputs that a region holds to single numbers of a scale without steps."""
    return [
        name
        for i, name in enumerate(space.names)
        if region[i] and all(is_point(space.elements[i][e]) for e in bits(region[i]))
    ]

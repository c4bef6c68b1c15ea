"""Plain tables: what one says where certain of its boxes may hold, and the values of its facts that it tells apart."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import NamedTuple

from yokebook.flat.bounded import keep
from yokebook.law import ReadyTable
from yokebook.model import Fact, Value
from yokebook.session import Outcome, domain
from yokebook.values import CellIndex, Range, Some, in_order, inside, intersect

#: What is kept of one table of what it says; past it one starts anew.
_MOST_KEPT = 20_000

#: Values of a fact that are alike, as bits: those that all tables treat alike are one element of it.
Part = int


class Elements:
    """The values that a fact may have, cut where any table tells them apart, in order."""

    def __init__(self, fact: Fact, indexes: Iterable[CellIndex]) -> None:
        self.fact = fact
        all_of_it = domain(fact)
        self.values: list[Value]
        if isinstance(all_of_it, Some):
            self.values = in_order(all_of_it.values)
        else:
            assert isinstance(all_of_it, Range)
            cuts = sorted({cut for index in indexes for cut in index.cuts})
            self.values = [inside(stretch) for stretch in _stretches(all_of_it, cuts)]
        self.all: Part = (1 << len(self.values)) - 1

    def split(self, allowed: Sequence[int], part: Part, matter: int) -> list[Part]:
        """A part cut where a table tells its values apart in what matters. `allowed` says which boxes each element
        allows. Of numbers only neighbours are put together."""
        numbers = self.fact.type == "number"
        found: list[Part] = []
        place: dict[int, int] = {}
        for i, bits in enumerate(allowed):
            if not part >> i & 1:
                continue
            bits &= matter
            if numbers and place.keys() != {bits}:
                place.clear()
            at = place.setdefault(bits, len(found))
            if at == len(found):
                found.append(0)
            found[at] |= 1 << i
        return found


def _stretches(all_of_it: Range, cuts: Sequence[Fraction]) -> Iterable[Range]:
    """The numbers of a range between and at the cuts; none that are empty."""
    low: Fraction | None = None
    for cut in cuts:
        for stretch in (Range(low, True, cut, True), Range(cut, False, cut, False)):
            found = intersect(all_of_it, stretch)
            if isinstance(found, Range):
                yield found
        low = cut
    found = intersect(all_of_it, Range(low, True, None, True))
    if isinstance(found, Range):
        yield found


class Open(NamedTuple):
    """An input that is open: the boxes that it leaves open, and whether that is as a lower table is at fault."""

    bits: int
    name: str
    at_fault: bool = False


@dataclass(eq=False)
class PlainTable:
    """A table with its place among the tables and the inputs it has: facts, and answers of other tables. `behind` are
    its facts and those of the tables behind it; `allowed` says of each element of its facts which boxes it allows."""

    ready: ReadyTable
    number: int = 0
    facts: dict[str, Fact] = field(default_factory=dict)
    answers: dict[str, PlainTable] = field(default_factory=dict)
    behind: set[str] = field(default_factory=set)
    allowed: dict[str, list[int]] = field(default_factory=dict)
    _weighed: dict[tuple[str, Part], tuple[int, int]] = field(default_factory=dict)
    _said: dict[tuple[object, ...], Outcome | Open] = field(default_factory=dict)

    def weigh(self, name: str, part: Part) -> tuple[int, int]:
        """The boxes that some value of this part of a fact allows, and those that every value does."""
        found = self._weighed.get((name, part))
        if found is None:
            union, common = 0, self.ready.all_bits
            for i, bits in enumerate(self.allowed[name]):
                if part >> i & 1:
                    union |= bits
                    common &= bits
            found = keep(self._weighed, (name, part), (union, common), _MOST_KEPT)
        return found

    def say(self, may: int, pending: Sequence[Open]) -> Outcome | Open:
        """What it says where these boxes may hold, of which some are open; or the input that this turns on first."""
        key = (may, *pending)
        found = self._said.get(key)
        if found is None:
            fired = self._fired(may, pending)
            said = fired if isinstance(fired, Open) else self._outcome(fired)
            found = keep(self._said, key, said, _MOST_KEPT)
        return found

    def answer(self, boxes: int, at_fault: Iterable[str]) -> str | None:
        """Its answer where just these boxes hold and these lower answers are at fault; None where it is at fault."""
        said = self.outcome(boxes, at_fault)
        return said.word if said is not None and said.status == "ruled" else None

    def outcome(self, boxes: int, at_fault: Iterable[str]) -> Outcome | None:
        """As `answer`, what it says; None where that turns on a lower table at fault."""
        said = self.say(boxes, [Open(self.ready.inputs[name].constrained, name, True) for name in at_fault])
        return None if isinstance(said, Open) else said

    def surely_fire(self, may: int, pending: Iterable[Open]) -> list[str]:
        """The rules that fire whatever is open and that no other such rule prevails over."""
        ready, sure = self.ready, may & ~_bits(pending)
        fire = [i for i in range(len(ready.rules)) if ready.where[i] & sure and not ready.but_not[i] & may]
        return [ready.rules[i].id for i in fire if ready.beaten_by[i].isdisjoint(fire)]

    def _fired(self, may: int, pending: Sequence[Open]) -> list[int] | Open:
        """The rules that fire and that none which fires prevails over; or the input that this turns on first."""
        ready, unsure = self.ready, _bits(pending)
        fired: list[int] = []
        rest = may
        while rest:  # the boxes of a rule stand together, rules before those they prevail over
            i = ready.boxes[(rest & -rest).bit_length() - 1].rule
            rest &= ~(ready.where[i] | ready.but_not[i])
            where = ready.where[i] & may
            if not where or not ready.beaten_by[i].isdisjoint(fired):
                continue
            but_not = ready.but_not[i] & may
            if but_not & ~unsure:
                continue
            if where & ~unsure and not but_not:
                fired.append(i)
                continue
            return _first(pending, but_not if where & ~unsure else where | but_not)
        return fired

    def _outcome(self, fired: Sequence[int]) -> Outcome:
        ready, question = self.ready, self.ready.table.question
        words = {ready.rules[i].then for i in fired}
        standing = tuple(ready.rules[i].id for i in fired)
        if len(words) > 1:
            return Outcome("conflict", "conflict", standing, question)
        word = words.pop() if words else ready.table.none_fires.then
        return Outcome("silent", "silent", (), question) if word is None else Outcome("ruled", word, standing, question)


def _bits(pending: Iterable[Open]) -> int:
    bits = 0
    for each in pending:
        bits |= each.bits
    return bits


def _first(pending: Iterable[Open], matter: int) -> Open:
    """What to settle first of what matters: something not known before a fault that it may make irrelevant."""
    those = [each for each in pending if each.bits & matter]
    return next((each for each in those if not each.at_fault), those[0])

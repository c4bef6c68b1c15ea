"""Whether the things of flat records can surely be as they are given, found for each group of conditions by itself.

What speaks against a thing are combinations declared impossible and facts given where they do not apply. Those that
turn on the same facts are looked into together, once for all records that are alike in these facts. A group lets a
thing be if, whatever is taken to be so of what the question looks at, the rest can be such that nothing of the group
speaks against the thing. What is found with something open stays as it is when more of it is known.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

from yokebook.deciding import Context
from yokebook.entities import KINDS, Kind
from yokebook.flat.bounded import keep
from yokebook.flat.demand import Demand, Node
from yokebook.graph import Thing
from yokebook.law import Law, LawFault
from yokebook.model import Box, Fact
from yokebook.session import LowerFault, OverBudget, Session
from yokebook.values import Split, Var

#: The most records told apart for each group; past it one starts anew.
_MOST_KEPT = 20_000

#: The most parts that are tried for one group.
_MOST_TRIED = 100


class _LetsBe(NamedTuple):
    """That a group lets a thing be."""

    through: frozenset[str]  # what has to be so or so of what the question does not look at, by id
    seen: frozenset[str]  # everything unknown that was looked at, by id
    kinds: frozenset[Kind]  # the things of which something was taken to be so while figures were worked out


#: A group lets a thing be by what is known.
_CLEAR = _LetsBe(frozenset(), frozenset(), frozenset())


#: Unknown things of these kinds are the same for all things.
_THE_SAME_FOR_ALL = ("reading", "entry", "status")

#: No kind of thing is unsure.
ALL_SURE: tuple[Kind, ...] = ()


@dataclass(eq=False)
class Group:
    """Combinations that share facts, or one fact that may not apply."""

    boxes: tuple[Box, ...]
    governed: Fact | None
    mask: int  # the bits of all that is looked at
    figures: bool  # whether figures or answers are among that
    given: int = 0  # of a fact that may not apply, its own bits
    #: by the bits, the number of what was found
    found: dict[int, int] = field(default_factory=dict)


class Being:
    """What keeps the things of flat records from being as they are given, under one law."""

    def __init__(
        self, demand: Demand, law: Law, looked_at: set[str], mask_of: Callable[[Node], int], fields: Mapping[str, int]
    ) -> None:
        """`demand` is not the question's own; `looked_at` are the facts and calculations that the question looks at;
        `mask_of` gives the bits of what is looked at from a node itself, `fields` those of each fact."""
        self._law = law
        self._looked_at = looked_at
        self._by_kind: dict[Kind, list[Group]] = {kind: [] for kind in KINDS}
        self._lets: list[_LetsBe | None] = []
        self._numbers: dict[_LetsBe | None, int] = {}
        #: the bits of all facts that may not apply
        self.may_not_apply = 0
        #: by what was found of the groups that always count, one after the other, the kinds that are unsure
        self.unsure_by_found: dict[tuple[int | None, ...], tuple[Kind, ...]] = {}
        for kind in KINDS:
            for boxes in _sharing(each.where for each in demand.book.impossible if each.entity == kind):
                behind, figures = _behind(demand, demand.conditions(kind, boxes), mask_of)
                self._by_kind[kind].append(Group(boxes, None, behind, figures))
        #: the groups that always count
        self.groups = [group for groups in self._by_kind.values() for group in groups]
        for fact in demand.book.facts.values():
            if fact.applies_when is not None:
                behind, figures = _behind(demand, demand.conditions(fact.entity, [fact.applies_when]), mask_of)
                given = fields[fact.id]
                self._by_kind[fact.entity].append(Group((fact.applies_when,), fact, behind | given, figures, given))
                self.may_not_apply |= given

    def unsure(self, signature: int) -> tuple[Kind, ...]:
        """The kinds of things that records with this number may give as they cannot be, as far as was found out yet and
        whatever is taken to be so of what is looked at."""
        if signature & self.may_not_apply:
            return self._unsure(signature)
        found = tuple([group.found.get(signature & group.mask) for group in self.groups])
        unsure = self.unsure_by_found.get(found)
        if unsure is None:
            unsure = self._unsure(signature)
            if None not in found:
                keep(self.unsure_by_found, found, unsure, _MOST_KEPT)
        return unsure

    def learn(self, signature: int, things: Mapping[Kind, list[Thing]], session: Session) -> None:
        """Finds out what is not known yet of the things of a record with this number."""
        new: list[tuple[Group, int]] = []
        for kind in KINDS:
            for group in self._of(kind, signature):
                bits = signature & group.mask
                if bits not in group.found:
                    found = self._number(self._lets_be(group, things[kind][0], session))
                    keep(group.found, bits, found, _MOST_KEPT)
                    new.append((group, bits))
        while wrong := [each for each in new if not self._by_itself(*each, signature)]:
            for group, bits in wrong:
                del group.found[bits]
            new = [each for each in new if each not in wrong]

    def _number(self, lets_be: _LetsBe | None) -> int:
        if lets_be not in self._numbers:
            self._numbers[lets_be] = len(self._lets)
            self._lets.append(lets_be)
        return self._numbers[lets_be]

    def _unsure(self, signature: int) -> tuple[Kind, ...]:
        unsure: tuple[Kind, ...] = tuple([kind for kind in KINDS if not self._sure(kind, signature, frozenset(), ())])
        return unsure or ALL_SURE

    def _of(self, kind: Kind, signature: int) -> Iterable[Group]:
        """The groups that count for the thing of a kind."""
        return [group for group in self._by_kind[kind] if group.governed is None or signature & group.given]

    def _sure(self, kind: Kind, signature: int, taken: frozenset[str], within: tuple[Group, ...]) -> bool:
        """Whether every group lets the thing of a kind be, whatever else is `taken` to be so; those left out that are
        looked into already."""
        for group in self._of(kind, signature):
            if group in within:
                continue
            bits = signature & group.mask
            number = group.found.get(bits)
            lets_be = None if number is None else self._lets[number]
            if lets_be is None or not lets_be.through.isdisjoint(taken):
                return False
            if not self._by_itself(group, bits, signature, within):
                return False
            taken |= lets_be.through
        return True

    def _by_itself(self, group: Group, bits: int, signature: int, within: tuple[Group, ...] = ()) -> bool:
        """Whether what was found of a group turns on nothing else: figures leave out what cannot be, and of the things
        of a record with this number nothing is left out."""
        lets_be = self._lets[group.found[bits]]
        return lets_be is None or all(
            self._sure(kind, signature, lets_be.seen, (*within, group)) for kind in lets_be.kinds
        )

    def _lets_be(self, group: Group, thing: Thing, session: Session) -> _LetsBe | None:
        session.tried = 0
        context = Context(session, {}, {}, set())
        tree = _Tree(self._law, group, thing, self._looked_at)
        try:
            if not tree.lets_be(context):
                return None
        except (LowerFault, OverBudget, LawFault):  # of a number that is not set it is said where it is ruled on
            return None
        if not context.seen:
            return _CLEAR
        if any(var.kind in _THE_SAME_FOR_ALL for var in context.seen):
            return None  # an argued alternative of a reading may speak against it
        of = session.named({var.subject for var in context.seen}) if group.figures else []
        seen = frozenset(_id(var) for var in context.seen)
        return _LetsBe(frozenset(tree.through), seen, frozenset(each.kind for each in of))


class _Tree:
    """What a group says of a thing, part by part of what is unknown."""

    def __init__(self, law: Law, group: Group, thing: Thing, looked_at: set[str]) -> None:
        self._law = law
        self._group = group
        self._thing = thing
        self._looked_at = looked_at
        self._tried = 0
        #: what has to be so or so
        self.through: set[str] = set()

    def lets_be(self, context: Context) -> bool:
        """Whether the thing can be in a context: in every part of what the question looks at, and in some part of
        anything else. Raises LowerFault, and OverBudget where there are too many parts."""
        self._tried += 1
        if self._tried > _MOST_TRIED:
            raise OverBudget
        try:
            return not self._against(context)
        except Split as split:
            found = (self.lets_be(context.assume(split.var, part)) for part in split.parts)
            behind = {split.var, *split.needs}
            if any(var.kind not in ("fact", "figure") or _id(var) in self._looked_at for var in behind):
                return all(found)
            self.through |= {_id(var) for var in behind}
            return any(found)

    def _against(self, context: Context) -> bool:
        group = self._group
        if group.governed is not None:
            return not context.applies(self._law, self._thing, group.governed)
        return any(context.in_box(self._law, self._thing, box) for box in group.boxes)


def _id(var: Var) -> str:
    """The id of a fact or figure."""
    return var.name.rpartition(":")[2]


def _behind(demand: Demand, node: Node, mask_of: Callable[[Node], int]) -> tuple[int, bool]:
    """The bits of all that is looked at from a node, and whether figures or answers are among it."""
    bits, figures = 0, False
    for each in node.all():
        bits |= mask_of(each)
        figures = figures or any(name not in demand.book.facts for name in each.facts)
    return bits, figures


def _sharing(boxes: Iterable[Box]) -> list[tuple[Box, ...]]:
    """The boxes in groups, each with all that share an input with one of it."""
    groups: list[list[Box]] = []
    for box in boxes:
        near = [group for group in groups if any(not box.keys().isdisjoint(other) for other in group)]
        groups = [group for group in groups if not any(group is other for other in near)]
        groups.append([each for group in near for each in group] + [box])
    return [tuple(group) for group in groups]

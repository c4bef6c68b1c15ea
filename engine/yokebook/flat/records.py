"""Deciding on flat records: by their numbers, by what the inputs of the table come to, or by the evaluator."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import cached_property
from typing import Any

from yokebook.decision import Decision
from yokebook.entities import KINDS, LISTS, ONE, PREFIX, Kind
from yokebook.flat.being import Being
from yokebook.flat.bounded import keep
from yokebook.flat.demand import Node
from yokebook.flat.generated import Decides, generated
from yokebook.flat.kept import Kept
from yokebook.flat.left import Left
from yokebook.flat.occurring import Occurring
from yokebook.flat.parts import Parts
from yokebook.flat.plain import ALWAYS_THERE, NotPlain, Plain
from yokebook.flat.signatures import Signatures
from yokebook.flat.straight import Key, straight
from yokebook.flat.telling import Telling
from yokebook.flat.views import Seen
from yokebook.front_door import FrontDoor
from yokebook.graph import Graph, Thing
from yokebook.intake.thing_reader import NOTHING
from yokebook.model import Value
from yokebook.session import Session

#: The most records, and the most that inputs of tables come to, that are kept; past it one starts anew.
_MOST_KEPT = 50_000

#: A session on a record. Raises InputFaults for a bad one.
Opens = Callable[[Mapping[str, Any]], Session]


class RecordDecider:
    """Decides one question for flat records. `stated` are the calculations and answers that the records state."""

    def __init__(
        self,
        kept: Kept,
        occurring: Occurring,
        opens: Opens,
        door: FrontDoor,
        stating: Callable[[frozenset[str]], RecordDecider],
    ) -> None:
        """`stating` gives what decides for records that state certain calculations."""
        self._kept = kept
        self._occurring = occurring
        self._opens = opens
        self._stating = stating
        demand, can_be = kept.demand, occurring.demand
        book = demand.book
        self._stated = can_be.stated
        self._governed = [fact for fact in book.facts.values() if fact.applies_when is not None]
        telling = {name: [Telling(exact=True)] for name in self._stated}
        for each in (demand, can_be):
            for name in each.telling.keys() & book.facts:
                telling.setdefault(name, []).append(each.telling[name])
        self.signatures = Signatures(door, telling, [fact.id for fact in self._governed])
        self._can_be: dict[Kind, int] = {kind: self._mask_to_be(can_be.thing(kind)) for kind in KINDS}
        self._around = self._mask_around(kept.question.per)
        self._parts, self._left = self._as_parts()
        #: what keeps things from being as they are given; None where that is not found group by group
        self.being = self._as_being()
        self._straight: Key | None = None
        if self._parts is not None and self._left is not None and self.being is not None:
            self._straight = straight(self._parts, self._left, self.being)
        self._plain = self._as_plain()
        self._may_not_apply = 0
        for fact in self._governed:
            self._may_not_apply |= self.signatures.fields[fact.id]
        self._decisions: dict[int, Decision] = {}
        self._by_parts: dict[tuple[int, ...], Decision] = {}
        #: by kind of thing and the bits that it turns on, whether the thing can surely be
        self._free: dict[Kind, dict[int, bool]] = {kind: {} for kind in KINDS}

    def decide(self, record: Mapping[str, Any]) -> Decision:
        """The decision on a record. Raises InputFaults for a bad one."""
        try:
            signature = self.signatures.of(record)
        except (KeyError, TypeError):
            return self._without_number(record)
        decision = self._decisions.get(signature)
        return self._unseen(signature, record) if decision is None else decision

    def _as_plain(self) -> Plain | None:
        """The question as plain tables, where it is made of facts and answers alone."""
        demand, in_force = self._kept.demand, self._occurring.in_force
        laws = {kind: demand.laws[kind] for kind, line in in_force.items() if len(line.candidates) == 1}
        try:
            if not self._stated and not self._kept.weigh:
                return Plain(demand.book, laws, demand.kind, self._kept.question)
        except NotPlain:
            pass
        return None

    def _as_parts(self) -> tuple[Parts | None, Left | None]:
        """The figures that the question is made of, and what its table is left with by them."""
        demand, question = self._kept.by_parts, self._kept.question
        if demand is None:
            return None, None
        parts = Parts(demand.inputs(question.id), demand, self._mask, self.signatures, self._kept.views_by_parts)
        left = parts.left(question)
        return (None, None) if left is None else (parts, left)

    def _as_being(self) -> Being | None:
        """Whether things can be, group by group, where no figures are stated."""
        law = self._occurring.law
        if law is None or self._stated:
            return None
        looked_at = self._kept.demand.looked_at
        return Being(self._occurring.conditions, law, looked_at, self._mask, self.signatures.fields)

    @cached_property
    def decides(self) -> Decides:
        """What decides: code made for the question where that can be, else `decide`."""
        try:
            return self.decide if self._plain is None else generated(self._plain, self.decide, self._no_matter)[0]
        except NotPlain:
            return self.decide

    def _no_matter(self, key: str, value: object) -> bool:
        """Whether what is given under a key that the question does not look at makes no difference. Raises KeyError for
        what is not known."""
        return not self.signatures.codes[value.__class__][key][value] & self._may_not_apply

    def _mask(self, node: Node) -> int:
        """The bits of what is looked at of a thing itself, and of what its lists and references lead to."""
        mask = 0
        for name in (*(name for name, _ in node.lists), *(step for step, _ in node.refs if step not in ALWAYS_THERE)):
            mask |= self.signatures.leads_to(node.kind, name)
        for name in node.facts:
            mask |= self.signatures.fields.get(name, 0)
        return mask

    def _mask_to_be(self, node: Node) -> int:
        """The bits of all that it turns on whether a thing can be."""
        mask = 0
        for each in node.all():
            mask |= self._mask(each)
            for fact in self._governed:
                if fact.entity == each.kind:
                    mask |= self.signatures.fields[fact.id]
        return mask

    def _mask_around(self, kind: Kind) -> int:
        """The bits that tell which things are around one of this kind: only those have to be as they are given."""
        mask = 0
        for name in LISTS[kind]:
            mask |= self.signatures.leads_to(kind, name)
        for steps in ONE[kind].values():
            for here, step in zip((kind, *steps), steps, strict=False):  # a step is called after the kind it leads to
                if step not in ALWAYS_THERE:
                    mask |= self.signatures.leads_to(here, step)
        return mask

    def of_session(self, session: Session) -> Decision:
        """The decision on a flat record that was read before."""
        record = as_read(session.graph)
        lead = session.graph.project.id.removesuffix(PREFIX["project"])  # what its source calls it
        try:
            signature = self.signatures.of(record)
        except (KeyError, TypeError):
            return self._by_views(session)
        decision = self._decisions.get(signature) or self._looked_up(signature)
        if decision is None:
            decision = self._learned(signature, session, lead)
        asked = [each._replace(subject=f"{lead}{each.subject}") if each.kind else each for each in decision.ask]
        return replace(decision, ask=tuple(asked)) if lead and asked else decision

    def _unseen(self, signature: int, record: Mapping[str, Any]) -> Decision:
        """The decision on a record with a number that was not seen before."""
        decision = self._looked_up(signature)
        return self._learned(signature, self._opens(record)) if decision is None else decision

    def _looked_up(self, signature: int) -> Decision | None:
        """The decision on records with a number that was not seen before: by their parts; None where one of these was
        not seen."""
        decision = None
        if self._plain is not None and not signature & self._may_not_apply:
            try:
                decision = self._plain.decide(self.signatures.given(signature, self._plain.facts))
            except NotPlain:
                return None
        elif (key := self._key(signature)) is not None:
            decision = self._by_parts.get(key)
        if decision is not None:
            keep(self._decisions, signature, decision, _MOST_KEPT)
        return decision

    def _key(self, signature: int) -> tuple[int, ...] | None:
        """What the question's table makes of it, and for each thing that may not be as it is given all that this turns
        on; None where that was not seen yet."""
        if self._parts is None or self._left is None:
            return None
        if self._straight is not None and (key := self._straight(signature)) is not None:
            return key
        found = self._parts.found(signature)
        if found is None:
            return None
        unsure: list[int] = []
        for kind in KINDS if self.being is None else self.being.unsure(signature):
            free = self._free[kind].get(signature & self._can_be[kind])
            if free is None:
                return None
            if not free:
                unsure += (KINDS.index(kind), signature & self._can_be[kind])
        key = self._left.key(signature, found)
        return (*key, signature & self._around, *unsure, len(unsure)) if unsure else key

    def _learned(self, signature: int, session: Session, lead: str = "") -> Decision:
        """The decision on a record of which something is not known yet; what it is made of is taken up. `lead` is what
        the ids of its things start with, and those of a decision do not."""
        if self._parts is None:
            return keep(self._decisions, signature, self._without(lead, self._by_views(session)), _MOST_KEPT)
        seen, things = Seen(session), session.graph.things
        self._parts.learn(signature, seen, things)
        all_can_be = self._learn_being(signature, seen, things) and self._parts.of_one_document
        key = self._key(signature)
        assert key is not None
        found = self._by_parts.get(key)
        if found is None:
            ruled = self._kept.ruled(things[self._kept.question.per][0], seen, all_can_be=all_can_be)
            found = keep(self._by_parts, key, self._without(lead, ruled), _MOST_KEPT)
        return keep(self._decisions, signature, found, _MOST_KEPT)

    def _without(self, lead: str, decision: Decision) -> Decision:
        if not lead or not decision.ask:
            return decision
        return replace(decision, ask=tuple([a._replace(subject=a.subject.removeprefix(lead)) for a in decision.ask]))

    def _by_views(self, session: Session) -> Decision:
        seen = Seen(session)
        self._occurring.start(seen)
        return self._kept.decide(session.graph.things[self._kept.question.per][0], seen)

    def _learn_being(self, signature: int, seen: Seen, things: Mapping[Kind, list[Thing]]) -> bool:
        """Finds out which things can surely be: group by group of what may speak against them, else altogether. Whether
        that is so of all of them, group by group."""
        unsure = KINDS
        if self.being is not None:
            self.being.learn(signature, things, seen.session)
            unsure = self.being.unsure(signature)
        for kind in unsure:
            kept, bits = self._free[kind], signature & self._can_be[kind]
            if bits not in kept:
                self._occurring.start(seen)
                keep(kept, bits, self._kept.free.holds(things[kind][0]), _MOST_KEPT)
        return not unsure

    def _without_number(self, record: Mapping[str, Any]) -> Decision:
        """The decision on a record that has no number here: by others where it states calculations."""
        session = self._opens(record)
        stated = Seen(session).stated
        if stated and stated != self._stated:
            return self._stating(stated).decide(record)
        return self._by_views(session)


def as_read(graph: Graph) -> dict[str, Value]:
    """A flat record as it was read: facts and what is stated, names, and what is said of lists and references."""
    found: dict[str, Value] = {}
    for thing in graph:
        found |= thing.given
        found |= thing.text
        prefix = PREFIX[thing.kind]
        found |= {f"{prefix}.{name}.complete": complete for name, complete in thing.complete.items()}
        found |= {f"{prefix}.{name}": NOTHING for name, there in thing.refs.items() if there is None}
    return found

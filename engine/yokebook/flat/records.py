"""Deciding on flat records: by their numbers, by what the inputs of the table come to, or by the evaluator."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any

from yokebook.decision import Decision
from yokebook.entities import KINDS
from yokebook.flat.demand import Demand, Node
from yokebook.flat.kept import Kept
from yokebook.flat.occurring import Occurring
from yokebook.flat.signatures import NotRead, Signatures
from yokebook.flat.telling import Telling
from yokebook.flat.views import Seen
from yokebook.front_door import FrontDoor
from yokebook.session import Session

#: The most records, and the most that inputs of tables come to, that are kept; past it one starts anew.
_MOST_KEPT = 50_000

#: A session on a record. Raises InputFaults for a bad one.
Opens = Callable[[Mapping[str, Any]], Session]


class _Input:
    """An input of the table: the bits of the records that it turns on, and what it came to for some of them: the bits
    of the boxes that it allows, inverted; 0 where it is open."""

    __slots__ = ("came_to", "mask", "name")

    def __init__(self, name: str, mask: int) -> None:
        self.name = name
        self.mask = mask
        self.came_to: dict[int, int] = {}


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
        self._facts = book.facts.keys()
        self._stated = can_be.stated
        governed = [fact.id for fact in book.facts.values() if fact.applies_when is not None]
        telling = {name: [Telling(exact=True)] for name in self._stated}
        for each in (demand, can_be):
            for name in each.telling.keys() & book.facts:
                telling.setdefault(name, []).append(each.telling[name])
        self.signatures = Signatures(door, telling, governed)
        self._can_be = self._mask(can_be.thing(kind) for kind in KINDS) | self._mask_of(governed)
        self._inputs = self._inputs_of(demand)
        self._decisions: dict[int, Decision] = {}
        self._by_inputs: dict[tuple[int, ...], Decision] = {}
        self._free: dict[int, bool] = {}

    def decide(self, record: Mapping[str, Any]) -> Decision:
        """The decision on a record. Raises InputFaults for a bad one."""
        signature = 0
        codes = self.signatures.codes
        try:
            for key, value in record.items():
                signature |= codes[value.__class__][key][value]
        except (NotRead, KeyError, TypeError):
            return self._without_number(record)
        decision = self._decisions.get(signature)
        return self._unseen(signature, record) if decision is None else decision

    def _inputs_of(self, demand: Demand) -> list[_Input] | None:
        """The inputs of the table; None where what they come to does not say enough."""
        law = self._kept.law
        if law is None:
            return None
        question = self._kept.question
        per, names = question.per, law.ready(question.id).inputs
        return [_Input(name, self._mask([demand.input(per, name)])) for name in names]

    def _mask(self, nodes: Iterable[Node]) -> int:
        """The bits of all that is looked at from these nodes."""
        fields = self.signatures.fields
        mask = self.signatures.structure
        for node in nodes:
            for each in node.all():
                for name in each.facts:
                    mask |= fields.get(name, 0)
        return mask

    def _mask_of(self, facts: Iterable[str]) -> int:
        mask = 0
        for name in facts:
            mask |= self.signatures.fields[name]
        return mask

    def _unseen(self, signature: int, record: Mapping[str, Any]) -> Decision:
        """The decision on a record with a number that was not seen before: by what the inputs come to, if each of them
        was seen, else by the evaluator."""
        key = self._key(signature)
        decision = None if key is None else self._by_inputs.get(key)
        if decision is None:
            return self._learned(signature, record)
        self._keep(signature, decision)
        return decision

    def _key(self, signature: int) -> tuple[int, ...] | None:
        """What the inputs come to for records with this number: for one that is settled the boxes that it allows, else
        all that it turns on; None where that is not known."""
        can_be = self._free.get(signature & self._can_be)
        if self._inputs is None or can_be is None:
            return None
        parts = [0 if can_be else signature & self._can_be]
        for each in self._inputs:
            its_own = signature & each.mask
            part = each.came_to.get(its_own)
            if part is None:
                return None
            parts.append(part or its_own)
        return tuple(parts)

    def _learned(self, signature: int, record: Mapping[str, Any]) -> Decision:
        session = self._opens(record)
        seen = Seen(session)
        thing = session.graph.things[self._kept.question.per][0]
        self._occurring.start(seen)
        decision = self._kept.decide(thing, seen)
        self._keep(signature, decision)
        if self._inputs is None or self._kept.law is None:
            return decision
        if len(self._free) >= _MOST_KEPT or len(self._by_inputs) >= _MOST_KEPT:
            self._free.clear()
            self._by_inputs.clear()
            for each in self._inputs:
                each.came_to.clear()
        self._free[signature & self._can_be] = self._kept.all_free(session.graph)
        for each in self._inputs:
            value = seen.settled(self._kept.kind, each.name, thing)
            index = self._kept.law.ready(self._kept.question.id).inputs[each.name]
            came_to = 0 if value is None else ~index.allowed_where(value)
            each.came_to[signature & each.mask] = came_to
        key = self._key(signature)
        assert key is not None
        self._by_inputs[key] = decision
        return decision

    def _without_number(self, record: Mapping[str, Any]) -> Decision:
        """The decision on a record that has no number here: by others where it states calculations."""
        session = self._opens(record)
        seen = Seen(session)
        if seen.stated and seen.stated != self._stated:
            return self._stating(seen.stated).decide(record)
        self._occurring.start(seen)
        return self._kept.decide(session.graph.things[self._kept.question.per][0], seen)

    def _keep(self, signature: int, decision: Decision) -> None:
        if len(self._decisions) >= _MOST_KEPT:
            self._decisions.clear()
        self._decisions[signature] = decision

"""Deciding fast under the law in force for one place and day."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from threading import RLock
from typing import Any

from yokebook.decision import Decided, Decision
from yokebook.flat.agreeing import Agreeing
from yokebook.flat.demand import Demand
from yokebook.flat.kept import Kept
from yokebook.flat.occurring import Occurring
from yokebook.flat.records import RecordDecider
from yokebook.flat.together import Together
from yokebook.flat.views import Seen
from yokebook.front_door import FrontDoor, stated_faults
from yokebook.graph import Thing
from yokebook.law import InForce
from yokebook.load.faults import InputFaults
from yokebook.model import CHECK_ORDER, Book, Question
from yokebook.session import Session
from yokebook.stated import session_on


def rests_on_assumed(book: Book, in_force: Mapping[str, InForce]) -> bool:
    """Whether anything in force, or any calculation, is assumed to be as it was in another edition."""
    assumed = CHECK_ORDER[0]
    if any(calculation.checked.mark == assumed for calculation in book.calculations.values()):
        return True
    for line in in_force.values():
        for candidate in line.candidates:
            if candidate.law is None:
                continue
            resolved = candidate.law.resolved
            marks = {amendment.checked.mark for amendment in resolved.amendments}
            marks.update(value.checked.mark for value in resolved.values.values())
            for table in resolved.tables.values():
                marks.add(table.none_fires.checked.mark)
                marks.update(rule.checked.mark for rule in table.rules)
            if assumed in marks:
                return True
    return False


#: The most sets of calculations that records state for which something is kept; past it one starts anew.
_MOST_STATED = 60


class Fast:
    """Deciding under the law in force for one place and day; what was decided is kept for what is alike.

    Any number of threads may decide at once. What was seen before is looked up without waiting; what is new is worked
    out by one thread at a time.
    """

    def __init__(self, book: Book, in_force: Mapping[str, InForce]) -> None:
        self.book = book
        self.in_force = in_force
        self.weigh = rests_on_assumed(book, in_force)
        self._door = FrontDoor(book)
        self._lock = RLock()
        self._records: dict[tuple[str, str, frozenset[str]], RecordDecider] = {}
        self._kept: dict[tuple[str, str, str, frozenset[str]], Kept] = {}
        self._occurring: dict[tuple[str, frozenset[str]], Occurring] = {}
        self._asked_together: dict[tuple[str, tuple[str, ...], str, frozenset[str]], Together] = {}
        self._agreeing: dict[frozenset[str], Agreeing] = {}

    def _opens(self, record: Mapping[str, Any]) -> Session:
        return session_on(self.book, self.in_force, record)

    def _forget(self) -> None:
        """Lets go of a project, with all that was worked out of its things alone."""
        kept = (self._kept, self._occurring, self._asked_together, self._agreeing)
        for each in (each for one in kept for each in one.values()):
            each.forget()

    def _make_room(self) -> None:
        """Starts anew where records or projects stated ever other calculations."""
        if len(self._occurring) > _MOST_STATED:
            for kept in (self._records, self._kept, self._occurring, self._asked_together, self._agreeing):
                kept.clear()

    def kept(self, question: Question, kind: str, form: str, stated: frozenset[str]) -> Kept:
        """What is kept of a question for records or projects, where these calculations are stated of some thing."""
        key = (question.id, kind, form, stated)
        if key not in self._kept:
            demand = Demand(self.book, self.in_force, kind)
            # how well what is behind figures is checked is not in what they come to
            by_parts: Demand | None = None
            occurring = self.occurring(kind, stated)
            one_each = all(len(line.candidates) == 1 for line in self.in_force.values())
            if one_each and not self.weigh and not occurring.odd:
                by_parts = Demand(self.book, self.in_force, kind, by_parts=True)
            self._kept[key] = Kept(question, demand, by_parts, occurring, weigh=self.weigh)
        return self._kept[key]

    def occurring(self, kind: str, stated: frozenset[str]) -> Occurring:
        """What is kept of whether things can be."""
        key = (kind, stated)
        if key not in self._occurring:
            demand = Demand(self.book, self.in_force, kind, stated, occurring=True)
            self._occurring[key] = Occurring(self.in_force, demand)
        return self._occurring[key]

    def project(self, session: Session, asked: Sequence[tuple[Question, str]]) -> list[Decided]:
        """The decisions on these questions, each under a kind of document, for each thing of a graph. Raises
        InputFaults where something is stated that the other facts give otherwise."""
        with self._lock:
            self._make_room()
            try:
                return self._project(session, asked)
            finally:
                self._forget()

    def _project(self, session: Session, asked: Sequence[tuple[Question, str]]) -> list[Decided]:
        seen = Seen(session)
        if seen.stated:
            self._refuse_disagreements(seen)
        found: dict[tuple[str, str], list[Decision]] = {}
        for kind, questions in _alike(asked):
            together = self._together(kind, questions, session.graph.form, seen.stated)
            self.occurring(kind, seen.stated).start(seen)
            lists: list[list[Decision]] = [found.setdefault((question.id, kind), []) for question in questions]
            for thing in session.graph.things[questions[0].per]:
                if thing.named:
                    for decisions, decision in zip(lists, together.decide(thing, seen), strict=True):
                        decisions.append(decision)
        return [
            Decided(question.id, kind, thing.id, decision)
            for question, kind in asked
            for thing, decision in zip(_named(session, question), found[question.id, kind], strict=True)
        ]

    def _together(self, kind: str, questions: Sequence[Question], form: str, stated: frozenset[str]) -> Together:
        key = (kind, tuple(question.id for question in questions), form, stated)
        if key not in self._asked_together:
            kept = [self.kept(question, kind, form, stated) for question in questions]
            demand = Demand(self.book, self.in_force, kind)
            self._asked_together[key] = Together(kept, demand, self.occurring(kind, stated))
        return self._asked_together[key]

    def _refuse_disagreements(self, seen: Seen) -> None:
        """Raises InputFaults for what is stated that the other facts give otherwise."""
        if seen.stated not in self._agreeing:
            kind = next(iter(self.in_force), "")
            demand = Demand(self.book, self.in_force, kind, seen.stated, occurring=True)
            self._agreeing[seen.stated] = Agreeing(demand)
        faults = stated_faults(self._agreeing[seen.stated].disagreements(seen))
        if faults:
            raise InputFaults(faults)

    def thing(self, session: Session, question: Question, kind: str, thing: Thing) -> Decision:
        """The decision on one thing of a graph."""
        with self._lock:
            self._make_room()
            seen = Seen(session)
            if session.graph.form == "record":
                return self.records(question, kind, seen.stated).of_session(session)
            self.occurring(kind, seen.stated).start(seen)
            return self.kept(question, kind, session.graph.form, seen.stated).decide(thing, seen)

    def records(self, question: Question, kind: str, stated: frozenset[str] = frozenset()) -> RecordDecider:
        """What decides one question for flat records that state these calculations."""
        with self._lock:
            self._make_room()
            key = (question.id, kind, stated)
            if key not in self._records:
                self._records[key] = _OneAtATime(
                    self._lock,
                    self.kept(question, kind, "record", stated),
                    self.occurring(kind, stated),
                    self._opens,
                    self._door,
                    lambda s: self.records(question, kind, s),
                )
            return self._records[key]


class _OneAtATime(RecordDecider):
    """As that; what is new is worked out by one thread at a time."""

    def __init__(self, lock: RLock, *made_of: Any) -> None:
        super().__init__(*made_of)
        self._lock = lock

    def _unseen(self, signature: int, record: Mapping[str, Any]) -> Decision:
        with self._lock:
            return super()._unseen(signature, record)

    def _without_number(self, record: Mapping[str, Any]) -> Decision:
        with self._lock:
            return super()._without_number(record)


def _alike(asked: Sequence[tuple[Question, str]]) -> list[tuple[str, list[Question]]]:
    """The questions by the kind of document and the kind of thing that they are asked of."""
    found: dict[tuple[str, str], list[Question]] = {}
    for question, kind in asked:
        found.setdefault((kind, question.per), []).append(question)
    return [(kind, questions) for (kind, _), questions in found.items()]


def _named(session: Session, question: Question) -> list[Thing]:
    return [thing for thing in session.graph.things[question.per] if thing.named]

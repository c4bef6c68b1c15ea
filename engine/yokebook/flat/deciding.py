"""Deciding fast under the law in force for one place and day."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from yokebook.decision import Decided, Decision
from yokebook.flat.demand import Demand
from yokebook.flat.kept import Kept
from yokebook.flat.occurring import Occurring
from yokebook.flat.records import Opens, RecordDecider
from yokebook.flat.views import Seen
from yokebook.front_door import FrontDoor
from yokebook.graph import Thing
from yokebook.law import InForce
from yokebook.model import CHECK_ORDER, Book, Question
from yokebook.session import Session


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


class Fast:
    """Deciding under the law in force for one place and day; what was decided is kept for what is alike."""

    def __init__(self, book: Book, in_force: Mapping[str, InForce], opens: Opens) -> None:
        """`opens` gives the session on a record, or refuses it."""
        self.book = book
        self.in_force = in_force
        self.weigh = rests_on_assumed(book, in_force)
        self._opens = opens
        self._door = FrontDoor(book)
        self._records: dict[tuple[str, str, frozenset[str]], RecordDecider] = {}
        self._kept: dict[tuple[str, str, str, frozenset[str]], Kept] = {}
        self._occurring: dict[tuple[str, frozenset[str]], Occurring] = {}

    def kept(self, question: Question, kind: str, form: str, stated: frozenset[str]) -> Kept:
        """What is kept of a question for records or projects, where these calculations are stated of some thing."""
        key = (question.id, kind, form, stated)
        if key not in self._kept:
            demand = Demand(self.book, self.in_force, kind)
            # how well what is behind figures is checked is not in what they come to
            by_parts: Demand | None = None
            if not self.weigh and all(len(line.candidates) == 1 for line in self.in_force.values()):
                by_parts = Demand(self.book, self.in_force, kind, by_parts=True)
            self._kept[key] = Kept(question, demand, by_parts, self.occurring(kind, stated), weigh=self.weigh)
        return self._kept[key]

    def occurring(self, kind: str, stated: frozenset[str]) -> Occurring:
        """What is kept of whether things can be."""
        key = (kind, stated)
        if key not in self._occurring:
            demand = Demand(self.book, self.in_force, kind, stated, occurring=True)
            self._occurring[key] = Occurring(self.in_force, demand)
        return self._occurring[key]

    def project(self, session: Session, asked: Sequence[tuple[Question, str]]) -> list[Decided]:
        """The decisions on these questions, each under a kind of document, for each thing of a graph."""
        seen = Seen(session)
        found: list[Decided] = []
        for question, kind in asked:
            kept = self.kept(question, kind, session.graph.form, seen.stated)
            self.occurring(kind, seen.stated).start(seen)
            for thing in session.graph.things[question.per]:
                if thing.named:
                    found.append(Decided(question.id, kind, thing.id, kept.decide(thing, seen)))
        return found

    def thing(self, session: Session, question: Question, kind: str, thing: Thing) -> Decision:
        """The decision on one thing of a graph."""
        seen = Seen(session)
        self.occurring(kind, seen.stated).start(seen)
        return self.kept(question, kind, session.graph.form, seen.stated).decide(thing, seen)

    def records(self, question: Question, kind: str, stated: frozenset[str] = frozenset()) -> RecordDecider:
        """What decides one question for flat records that state these calculations."""
        key = (question.id, kind, stated)
        if key not in self._records:
            kept = self.kept(question, kind, "record", stated)
            self._records[key] = RecordDecider(
                kept, self.occurring(kind, stated), self._opens, self._door, lambda s: self.records(question, kind, s)
            )
        return self._records[key]

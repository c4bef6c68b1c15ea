"""Decisions kept by view: the evaluator rules on each view once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from yokebook.decision import Asked, Decided, Decision
from yokebook.flat.demand import Demand
from yokebook.flat.views import Seen, TooBig, View, Views
from yokebook.graph import Thing
from yokebook.law import InForce
from yokebook.model import CHECK_ORDER, Book, Question
from yokebook.ruling import decide_on
from yokebook.session import Session

#: The most views of a question that are kept, and the most parts of views; past it one starts anew.
_MOST_KEPT, _MOST_PARTS = 100_000, 200_000

#: What to ask, by the number of the thing in its view; None: no thing of it, such as a date.
_Ask = tuple[tuple[int | None, str], ...]


class Kept:
    """The decisions on one question under one kind of document, by view."""

    def __init__(
        self, book: Book, in_force: Mapping[str, InForce], question: Question, kind: str, stated: frozenset[str]
    ) -> None:
        self.question = question
        self.kind = kind
        self.weigh = rests_on_assumed(book, in_force)
        self.views = Views(Demand(book, in_force, kind, question.id, stated), book)
        self._kept: dict[View, tuple[Decision, _Ask]] = {}

    def decide(self, session: Session, thing: Thing, seen: Seen) -> Decision:
        """The decision on a thing of the session's graph."""
        try:
            view, things = self.views.of(thing, seen)
        except TooBig:
            return decide_on(session, self.question, thing, self.kind, weigh=self.weigh)
        kept = self._kept.get(view)
        if kept is not None:
            decision, ask = kept
            return replace(decision, ask=_asked(ask, things)) if ask else decision
        decision = decide_on(session, self.question, thing, self.kind, weigh=self.weigh)
        ask = _numbered(decision.ask, things)
        if ask is not None:
            if len(self._kept) >= _MOST_KEPT:
                self._kept.clear()
            self._kept[view] = (decision, ask)
        return decision


def _asked(ask: _Ask, things: Sequence[Thing]) -> tuple[Asked, ...]:
    return tuple(
        Asked("", fact, "") if number is None else Asked(things[number].id, fact, things[number].kind)
        for number, fact in ask
    )


def _numbered(asked: Sequence[Asked], things: Sequence[Thing]) -> _Ask | None:
    """What to ask by number; None where it is asked of a thing that is not in the view."""
    number = {(thing.kind, thing.id): i for i, thing in enumerate(things)}
    found: list[tuple[int | None, str]] = []
    for subject, fact, kind in asked:
        if kind and (kind, subject) not in number:
            return None
        found.append((number[kind, subject] if kind else None, fact))
    return tuple(found)


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

    def __init__(self, book: Book, in_force: Mapping[str, InForce]) -> None:
        self.book = book
        self.in_force = in_force
        self._kept: dict[tuple[str, str, frozenset[str]], Kept] = {}

    def kept(self, question: Question, kind: str, stated: frozenset[str]) -> Kept:
        """What is kept of a question, where these calculations are stated of some thing."""
        key = (question.id, kind, stated)
        if key not in self._kept:
            self._kept[key] = Kept(self.book, self.in_force, question, kind, stated)
        return self._kept[key]

    def project(self, session: Session, asked: Sequence[tuple[Question, str]]) -> list[Decided]:
        """The decisions on these questions, each under a kind of document, for each thing of a graph."""
        seen = Seen(session.graph, self.book)
        found: list[Decided] = []
        for question, kind in asked:
            kept = self.kept(question, kind, seen.stated)
            for thing in session.graph.things[question.per]:
                if thing.named:
                    found.append(Decided(question.id, kind, thing.id, kept.decide(session, thing, seen)))
        return found

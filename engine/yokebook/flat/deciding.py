"""Decisions kept by view: the evaluator rules on each view once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from yokebook.decision import Asked, Decided, Decision
from yokebook.flat.demand import Demand
from yokebook.flat.occurring import Occurring, WaysOut
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

    def __init__(self, question: Question, demand: Demand, occurring: Occurring, *, weigh: bool) -> None:
        self.question = question
        self.kind = demand.kind
        self.weigh = weigh
        self._occurring = occurring
        self._looked_at = demand.looked_at
        self._views = Views(demand.question(question.id), demand.telling, demand.book)
        self._free: dict[WaysOut, bool] = {None: False}
        self._kept: dict[View, tuple[Decision, _Ask]] = {}

    def decide(self, thing: Thing, seen: Seen) -> Decision:
        """The decision on a thing of a session's graph."""
        views = self._views
        try:
            views.look(thing, seen)
            self._look_whether_they_can_be(thing, seen)
        except TooBig:
            return decide_on(seen.session, self.question, thing, self.kind, weigh=self.weigh)
        view = tuple(views.key)
        kept = self._kept.get(view)
        if kept is not None:
            decision, ask = kept
            return replace(decision, ask=_asked(ask, list(views.order))) if ask else decision
        things = list(views.order)
        decision = decide_on(seen.session, self.question, thing, self.kind, weigh=self.weigh)
        ask = _numbered(decision.ask, things)
        if ask is not None:
            if len(self._kept) >= _MOST_KEPT:
                self._kept.clear()
            self._kept[view] = (decision, ask)
        return decision

    def _look_whether_they_can_be(self, thing: Thing, seen: Seen) -> None:
        """Takes into the view what keeps a thing from being, for those of which this question may make a difference: a
        thing is left out that has a way out through facts that this question never looks at."""
        key, order = self._views.key, self._views.order
        looked_at = list(order)
        unsure = [each for each in looked_at if not self._is_free(self._occurring.of(each, seen)[1])]
        for ways, things in self._occurring.around(thing, seen).items():
            if not self._is_free(ways):
                unsure += (each for each in things if each not in order)
        for each in unsure:
            number, _, things = self._occurring.of(each, seen)
            key.append(number)
            key += (order.setdefault(one, len(order)) for one in things)

    def _is_free(self, ways: WaysOut) -> bool:
        free = self._free.get(ways)
        if free is None:
            free = self._free[ways] = any(self._looked_at.isdisjoint(way) for way in ways or ())
        return free


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
        self.weigh = rests_on_assumed(book, in_force)
        self._kept: dict[tuple[str, str, frozenset[str]], Kept] = {}
        self._occurring: dict[tuple[str, frozenset[str]], Occurring] = {}

    def kept(self, question: Question, kind: str, stated: frozenset[str]) -> Kept:
        """What is kept of a question, where these calculations are stated of some thing."""
        key = (question.id, kind, stated)
        if key not in self._kept:
            demand = Demand(self.book, self.in_force, kind, stated, occurring=False)
            self._kept[key] = Kept(question, demand, self._occurring_under(kind, stated), weigh=self.weigh)
        return self._kept[key]

    def _occurring_under(self, kind: str, stated: frozenset[str]) -> Occurring:
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
            kept = self.kept(question, kind, seen.stated)
            for thing in session.graph.things[question.per]:
                if thing.named:
                    found.append(Decided(question.id, kind, thing.id, kept.decide(thing, seen)))
        return found

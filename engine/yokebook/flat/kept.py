"""Decisions kept by view: the evaluator rules on each view once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from yokebook.decision import Asked, Decision
from yokebook.flat.bounded import keep
from yokebook.flat.demand import Demand
from yokebook.flat.occurring import Occurring
from yokebook.flat.views import Seen, TooBig, View, Views
from yokebook.graph import Thing
from yokebook.model import Question
from yokebook.ruling import decide_on

#: The most views of a question that are kept; past it one starts anew.
_MOST_KEPT = 100_000

#: What to ask, by the number of the thing in its view; None: no thing of it, such as a date.
Ask = tuple[tuple[int | None, str], ...]

KeptDecision = tuple[Decision, Ask]


class Free:
    """Which things can surely be as they are given, whatever is taken to be so of what is looked at."""

    def __init__(self, occurring: Occurring, looked_at: set[str]) -> None:
        self._occurring = occurring
        self._looked_at = looked_at
        self._free: list[bool] = []

    def look(self, views: Views, thing: Thing, seen: Seen) -> None:
        """Takes into a view what keeps things from being: those of it and all around `thing`. One is left out that has
        a way out through facts that are not looked at. Raises TooBig where that does not say all."""
        occurring, order = self._occurring, views.order
        if occurring.odd:
            raise TooBig
        if len(self._free) < len(occurring.ways):
            self._free += [self._is_free(number) for number in range(len(self._free), len(occurring.ways))]
        free, of = self._free, occurring.of
        unsure = [each for each in order if not free[of[each]]]
        if not all(free[number] for number in occurring.around(thing)):
            unsure += [each for each in seen.session.around(thing) if each not in order and not free[of[each]]]
        key = views.key
        for each in unsure:
            number, things = occurring.turns_on(each)
            key.append(number)
            key += (order.setdefault(one, len(order)) for one in things)

    def holds(self, thing: Thing) -> bool:
        """Whether a thing is one of these."""
        return self._is_free(self._occurring.of[thing])

    def _is_free(self, number: int) -> bool:
        return any(self._looked_at.isdisjoint(way) for way in self._occurring.ways[number] or ())


class Kept:
    """The decisions on one question under one kind of document.

    A decision is looked up by the view of the thing, and if that was not seen before, by a view in which what figures
    and answers come to stands for all that is behind them, where it is settled.
    """

    def __init__(
        self, question: Question, demand: Demand, by_parts: Demand | None, occurring: Occurring, *, weigh: bool
    ) -> None:
        self.demand = demand
        self.by_parts = by_parts
        self.question = question
        self.kind = demand.kind
        self.weigh = weigh
        self._views = Views(demand.question(question.id), demand.telling, demand.book)
        parts = by_parts or demand
        self.views_by_parts = Views(parts.inputs(question.id), parts.telling, parts.book)
        self.free = Free(occurring, demand.looked_at)
        self._kept: dict[View, KeptDecision] = {}
        self._kept_by_parts: dict[View, KeptDecision] = {}

    def decide(self, thing: Thing, seen: Seen) -> Decision:
        """The decision on a thing of a session's graph."""
        try:
            view, order = self._look(self._views, thing, seen)
        except TooBig:
            return self.ruled(thing, seen)
        kept = self._kept.get(view)
        if kept is not None:
            return by_view(*kept, order)
        decision = self._by_parts(thing, seen)
        _keep(self._kept, view, decision, order)
        return decision

    def _by_parts(self, thing: Thing, seen: Seen) -> Decision:
        if self.by_parts is None:
            return self.ruled(thing, seen)
        try:
            view, order = self._look(self.views_by_parts, thing, seen)
        except TooBig:
            return self.ruled(thing, seen)
        kept = self._kept_by_parts.get(view)
        if kept is not None:
            return by_view(*kept, order)
        decision = self.ruled(thing, seen)
        _keep(self._kept_by_parts, view, decision, order)
        return decision

    def ruled(self, thing: Thing, seen: Seen, *, all_can_be: bool = False) -> Decision:
        """The decision on a thing of a session's graph by the evaluator. With `all_can_be` it is known that everything
        can be as it is given, whatever is so of the rest that the question looks at."""
        seen.session.all_can_be = all_can_be
        try:
            return decide_on(seen.session, self.question, thing, self.kind, weigh=self.weigh)
        finally:
            seen.session.all_can_be = False

    def _look(self, views: Views, thing: Thing, seen: Seen) -> tuple[View, dict[Thing, int]]:
        """The view of a thing with the things of it. Raises TooBig."""
        views.look(thing, seen)
        self.free.look(views, thing, seen)
        return tuple(views.key), views.order

    def forget(self) -> None:
        """Lets go of the session at hand."""
        self._views.forget()
        self.views_by_parts.forget()


def by_view(decision: Decision, ask: Ask, order: Mapping[Thing, int]) -> Decision:
    """A decision kept, for the things of another view that is equal."""
    return replace(decision, ask=_asked(ask, list(order))) if ask else decision


def take_up(decision: Decision, order: Mapping[Thing, int]) -> KeptDecision | None:
    """A decision as it can be kept; None where something is asked of a thing that is not in the view."""
    number = {(thing.kind, thing.id): i for thing, i in order.items()} if decision.ask else {}
    found: list[tuple[int | None, str]] = []
    for subject, fact, kind in decision.ask:
        if kind and (kind, subject) not in number:
            return None
        found.append((number[kind, subject] if kind else None, fact))
    return decision, tuple(found)


def _keep(kept: dict[View, KeptDecision], view: View, decision: Decision, order: Mapping[Thing, int]) -> None:
    taken_up = take_up(decision, order)
    if taken_up is not None:
        keep(kept, view, taken_up, _MOST_KEPT)


def _asked(ask: Ask, things: Sequence[Thing]) -> tuple[Asked, ...]:
    return tuple(
        Asked("", fact, "") if number is None else Asked(things[number].id, fact, things[number].kind)
        for number, fact in ask
    )

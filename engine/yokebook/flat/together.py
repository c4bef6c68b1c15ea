"""Several questions decided together: of a thing that looks as another did to all of them, all decisions at once."""

from __future__ import annotations

from collections.abc import Sequence

from yokebook.decision import Decision
from yokebook.flat.bounded import keep
from yokebook.flat.demand import Demand
from yokebook.flat.kept import Free, Kept, KeptDecision, by_view, take_up
from yokebook.flat.occurring import Occurring
from yokebook.flat.views import Seen, TooBig, View, Views
from yokebook.graph import Thing

#: The most views that are kept; past it one starts anew.
_MOST_KEPT = 50_000

#: After so many things it is seen whether enough of them look like others for a look at all questions to pay.
_TRIED, _ENOUGH = 500, 4


class Together:
    """Questions asked of things of one kind under one kind of document."""

    def __init__(self, questions: Sequence[Kept], demand: Demand, occurring: Occurring) -> None:
        self.questions = questions
        root = demand.questions([kept.question.id for kept in questions])
        self._views = Views(root, demand.telling, demand.book)
        self._free = Free(occurring, demand.looked_at)
        self._kept: dict[View, list[KeptDecision]] = {}
        self._looked = self._found = 0

    def forget(self) -> None:
        """Lets go of the session at hand."""
        self._views.forget()

    def decide(self, thing: Thing, seen: Seen) -> list[Decision]:
        """The decisions on a thing of a session's graph, question by question."""
        if self._looked > _TRIED and self._found * _ENOUGH < self._looked:
            return [kept.decide(thing, seen) for kept in self.questions]
        self._looked += 1
        views = self._views
        try:
            views.look(thing, seen)
            self._free.look(views, thing, seen)
        except TooBig:
            return [kept.decide(thing, seen) for kept in self.questions]
        view, order = tuple(views.key), views.order
        kept = self._kept.get(view)
        if kept is not None:
            self._found += 1
            return [decision if not ask else by_view(decision, ask, order) for decision, ask in kept]
        decisions = [each.decide(thing, seen) for each in self.questions]
        taken_up = [take_up(decision, order) for decision in decisions]
        if None not in taken_up:
            keep(self._kept, view, [each for each in taken_up if each is not None], _MOST_KEPT)
        return decisions

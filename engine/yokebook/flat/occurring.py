"""Whether things can be as they are given, found once for all that are alike, and what it turns on."""

from __future__ import annotations

from collections.abc import Mapping

from yokebook.deciding import Context
from yokebook.entities import KINDS, Kind
from yokebook.flat.demand import Demand
from yokebook.flat.views import Seen, View, Views
from yokebook.graph import Thing
from yokebook.law import InForce, Law
from yokebook.occurring import ways_out
from yokebook.session import LowerFault, OverBudget
from yokebook.values import Split

#: For one thing: the sets of facts (names) that, known in some way, make sure that it can be. None: that was not found.
WaysOut = tuple[frozenset[str], ...] | None

#: The most views kept for each kind of thing.
_MOST_KEPT = 100_000


class Occurring:
    """For each thing of a session, what makes sure that it can be as it is given, under one kind of document."""

    def __init__(self, in_force: Mapping[str, InForce], demand: Demand) -> None:
        candidates = in_force[demand.kind].candidates if demand.kind in in_force else ()
        self._law: Law | None = candidates[0].law if len(candidates) == 1 else None
        self._views: dict[Kind, Views] = {
            kind: Views(demand.thing(kind), demand.telling, demand.book, occurring=True) for kind in KINDS
        }
        self._kept: dict[Kind, dict[View, tuple[int, WaysOut]]] = {kind: {} for kind in KINDS}
        self._numbered = 0
        self._found: dict[Thing, tuple[int, WaysOut, list[Thing]]] = {}
        self._around: dict[Thing, dict[WaysOut, list[Thing]]] = {}
        self._for: Seen | None = None

    def of(self, thing: Thing, seen: Seen) -> tuple[int, WaysOut, list[Thing]]:
        """The number of what it turns on, the ways out, and the things that it turns on. Raises TooBig."""
        if self._for is not seen:
            self._for, self._found, self._around = seen, {}, {}
        found = self._found.get(thing)
        if found is None:
            found = self._found[thing] = self._look(thing, seen)
        return found

    def around(self, thing: Thing, seen: Seen) -> dict[WaysOut, list[Thing]]:
        """A thing and all around it, by their ways out. Raises TooBig."""
        self.of(thing, seen)
        found = self._around.get(thing)
        if found is None:
            found = {}
            for each in seen.session.around(thing):
                found.setdefault(self.of(each, seen)[1], []).append(each)
            self._around[thing] = found
        return found

    def _look(self, thing: Thing, seen: Seen) -> tuple[int, WaysOut, list[Thing]]:
        views, kept = self._views[thing.kind], self._kept[thing.kind]
        views.look(thing, seen)
        view = tuple(views.key)
        found = kept.get(view)
        if found is None:
            self._numbered += 1
            found = kept[view] = (self._numbered, self._ways_out(thing, seen))
            if len(kept) > _MOST_KEPT:
                kept.clear()
        return (*found, list(views.order))

    def _ways_out(self, thing: Thing, seen: Seen) -> WaysOut:
        if self._law is None:
            return None
        context = Context(seen.session, {}, {}, set())
        seen.session.tried = 0
        try:
            return ways_out(context, self._law, thing)
        except (Split, LowerFault, OverBudget):
            return None




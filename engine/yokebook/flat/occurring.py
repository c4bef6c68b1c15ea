"""Whether things can be as they are given, found once for all that are alike, and what it turns on."""

from __future__ import annotations

from collections.abc import Mapping

from yokebook.deciding import Context
from yokebook.entities import KINDS, REFERRED_TO, Kind
from yokebook.flat.bounded import keep
from yokebook.flat.demand import Demand
from yokebook.flat.views import Seen, TooBig, View, Views
from yokebook.graph import Thing
from yokebook.law import InForce, Law, LawFault
from yokebook.occurring import ways_out
from yokebook.session import LowerFault, OverBudget
from yokebook.values import Split

#: For one thing: sets of facts and figures (ids); known in some way, those of a set make sure that it can be. None
#: where no such set was found.
WaysOut = tuple[frozenset[str], ...] | None

#: The most views kept for each kind of thing.
_MOST_KEPT = 100_000

#: The number of things whose ways out were not looked for.
UNSURE = 0


class Occurring:
    """For each thing of a session, what makes sure that it can be as it is given, under one kind of document."""

    def __init__(self, in_force: Mapping[str, InForce], demand: Demand) -> None:
        self.demand = demand
        self.in_force = in_force
        candidates = in_force[demand.kind].candidates if demand.kind in in_force else ()
        self.law: Law | None = candidates[0].law if len(candidates) == 1 else None
        #: what the conditions that things have to meet look at
        self.conditions = Demand(demand.book, in_force, demand.kind)
        #: whether the project has a say in whether what stands for a thing that nobody gave can be; a view of what is
        #: given has nothing of that
        self.odd = _turns_on_the_project(self.conditions)
        self._views: dict[Kind, Views] = {
            kind: Views(demand.thing(kind), demand.telling, demand.book, occurring=True) for kind in KINDS
        }
        self._kept: dict[Kind, dict[View, tuple[int, int]]] = {kind: {} for kind in KINDS}
        self._views_numbered = 0
        #: the ways out by number
        self.ways: list[WaysOut] = [None]
        self._number: dict[WaysOut, int] = {None: UNSURE}
        self._for: Seen | None = None
        #: for each thing the number of its ways out, and for each the numbers of those of all around it
        self.of: dict[Thing, int] = {}
        self._around: dict[Thing, tuple[int, ...]] = {}
        self._turns_on: dict[Thing, tuple[int, list[Thing]]] = {}

    def start(self, seen: Seen) -> None:
        """Looks at every thing of a session."""
        if self._for is seen:
            return
        self._for, self._around, self._turns_on = seen, {}, {}
        self.of = {thing: self._look(thing, seen)[1] for thing in seen.number}

    def forget(self) -> None:
        """Lets go of the session at hand."""
        self._for, self._around, self._turns_on, self.of = None, {}, {}, {}
        for views in self._views.values():
            views.forget()

    def around(self, thing: Thing) -> tuple[int, ...]:
        """The numbers of the ways out of a thing and all around it, each once."""
        found = self._around.get(thing)
        if found is None:
            assert self._for is not None
            around = self._for.session.around(thing)
            found = self._around[thing] = tuple({self.of[each]: None for each in around})
        return found

    def turns_on(self, thing: Thing) -> tuple[int, list[Thing]]:
        """The number of all that it turns on whether a thing can be, and the things of which that is so. Raises
        TooBig."""
        found = self._turns_on.get(thing)
        if found is None:
            assert self._for is not None
            number, _ = self._look(thing, self._for)
            if not number:
                raise TooBig
            found = self._turns_on[thing] = (number, list(self._views[thing.kind].order))
        return found

    def _look(self, thing: Thing, seen: Seen) -> tuple[int, int]:
        """The number of its view, 0 for one that is too big, and that of its ways out."""
        views, kept = self._views[thing.kind], self._kept[thing.kind]
        try:
            views.look(thing, seen)
        except TooBig:
            return 0, UNSURE
        view = tuple(views.key)
        found = kept.get(view)
        if found is None:
            self._views_numbered += 1
            ways = self._numbered(self._ways_out(thing, seen))
            found = keep(kept, view, (self._views_numbered, ways), _MOST_KEPT)
        return found

    def _numbered(self, ways: WaysOut) -> int:
        if ways not in self._number:
            self._number[ways] = len(self.ways)
            self.ways.append(ways)
        return self._number[ways]

    def _ways_out(self, thing: Thing, seen: Seen) -> WaysOut:
        if self.law is None:
            return None
        seen.session.tried = 0
        try:
            return ways_out(Context(seen.session, {}, {}, set()), self.law, thing)
        except (Split, LowerFault, OverBudget, LawFault) as raised:
            raised.with_traceback(None)  # which would keep all of the session
            return None


def _turns_on_the_project(demand: Demand) -> bool:
    for kind in (*REFERRED_TO, "space"):  # that of a wall that nobody gave is unknown as well
        boxes = [combination.where for combination in demand.book.impossible if combination.entity == kind]
        if any(node.kind == "project" for node in demand.conditions(kind, boxes).all()):
            return True
    return False

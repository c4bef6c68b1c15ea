"""Whether what things state agrees with their other facts, found once for all that are alike."""

from __future__ import annotations

from yokebook.entities import KINDS, Kind
from yokebook.flat.demand import Demand
from yokebook.flat.views import Seen, TooBig, View, Views
from yokebook.front_door import Disagreement
from yokebook.graph import Thing
from yokebook.stated import disagreements


class Agreeing:
    """The views of things of which it was found that what they state agrees with the rest."""

    def __init__(self, demand: Demand) -> None:
        self._views = {kind: Views(demand.stating(kind), demand.telling, demand.book, occurring=True) for kind in KINDS}
        self._facts = demand.book.facts.keys()
        self._found: dict[Kind, set[View]] = {kind: set() for kind in KINDS}

    def disagreements(self, seen: Seen) -> list[Disagreement]:
        """As `stated.disagreements` for a whole graph."""
        doubtful: dict[View | Thing, Thing] = {}
        for thing in seen.number:
            if not thing.given.keys() <= self._facts:
                view = self._view(thing, seen)
                if view not in self._found[thing.kind]:
                    doubtful.setdefault(view or thing, thing)
        found = disagreements(seen.session, doubtful.values())
        if found:
            return disagreements(seen.session)
        for key, thing in doubtful.items():
            if isinstance(key, tuple):
                self._found[thing.kind].add(key)
        return []

    def forget(self) -> None:
        """Lets go of the session at hand."""
        for views in self._views.values():
            views.forget()

    def _view(self, thing: Thing, seen: Seen) -> View | None:
        """The view of a thing; None for one that is too big."""
        try:
            self._views[thing.kind].look(thing, seen)
        except TooBig:
            return None
        return tuple(self._views[thing.kind].key)

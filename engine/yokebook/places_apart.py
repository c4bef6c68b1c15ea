"""Where a thing is, for the distance to another of its kind."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from yokebook.distances import ANYWHERE, apart, either, straight
from yokebook.frozen import dataclass
from yokebook.graph import Missing, Thing
from yokebook.model import Expression, Nearest
from yokebook.openness import open_link
from yokebook.totals import tidy
from yokebook.values import NA, Range, Val, Var, hull

if TYPE_CHECKING:
    from yokebook.deciding import Context


@dataclass(frozen=True, slots=True)
class Placed:
    """A thing, with how one looks up where it is."""

    ctx: Context
    thing: Thing
    by: Nearest
    value: Callable[[Context, Thing, Expression], Val]

    def unknown(self) -> tuple[Var, ...] | None:
        """What it would take to know anything of where the thing is; None where something is known."""
        vals = [self.value(self.ctx, self.thing, by) for by in (self.by.along, self.by.x, self.by.y) if by is not None]
        spans = [hull(val.span) for val in vals]
        if any(span is None or span.high is not None for span in spans):
            return None
        return tuple(dict.fromkeys(need for val in vals for need in val.needs))

    def distance_to(self, other: Placed) -> Val:
        """What is known of the distance; not applicable where a position of one of them is."""
        same = self._same_stretch(other)
        needs: dict[Var, None] = {}
        along = self._along(other, needs) if same is not False else None
        across = self._across(other, needs) if same is not True else None
        if same is None:
            kind = self.by.on
            assert kind is not None
            links = (open_link(thing, kind) for thing in (self.thing, other.thing))
            needs.update(dict.fromkeys(link for link in links if link is not None))
            span = either(along or ANYWHERE, across or ANYWHERE)
            return Val(span, tuple(needs), maybe_na=along is None or across is None)
        found = along if same else across
        return Val(NA) if found is None else Val(tidy(found), tuple(needs))

    def _same_stretch(self, other: Placed) -> bool | None:
        """Whether both are on one stretch, so that positions along it tell their distance; None where that is open."""
        if self.by.on is None:
            return self.by.along is not None
        here, there = self.thing.one(self.by.on), other.thing.one(self.by.on)
        if here is None or there is None:
            return False
        return None if isinstance(here, Missing) or isinstance(there, Missing) else here is there

    def _along(self, other: Placed, needs: dict[Var, None]) -> Range | None:
        return None if self.by.along is None else self._apart(other, self.by.along, needs)

    def _across(self, other: Placed, needs: dict[Var, None]) -> Range | None:
        if self.by.x is None or self.by.y is None:
            return None
        across, along = self._apart(other, self.by.x, needs), self._apart(other, self.by.y, needs)
        return None if across is None or along is None else straight(across, along)

    def _apart(self, other: Placed, by: Expression, needs: dict[Var, None]) -> Range | None:
        here, there = self.value(self.ctx, self.thing, by), other.value(other.ctx, other.thing, by)
        needs.update(dict.fromkeys((*here.needs, *there.needs)))
        return apart(here, there)

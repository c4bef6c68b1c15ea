"""Which parts of a compared space can occur, as far as what ties the inputs of each law to each other shows."""

from __future__ import annotations

from yokebook.law import LawFault
from yokebook.model import Book
from yokebook.proof.cover import NotDecided, Region
from yokebook.proof.elements import Side, Space, space_of
from yokebook.values import Span, intersect

#: How likely what can be under both laws is, see `Possible.likely`.
UNDER_BOTH = 3

#: How many states one look may try.
_STATES = 20_000


class Possible:
    """The inputs of one question under two laws with all that ties them: figures and what they are computed from,
    answers and the tables that give them. Each law is looked at by itself, as their lower tables may differ."""

    def __init__(self, space: Space) -> None:
        self.space = space
        self.tied = [_tied(side, space.book) for side in space.sides]
        self._kept: dict[Region, int] = {}

    def likely(self, region: Region) -> int:
        """0 where nothing in a region can occur under either law, 1 only under the old, 2 only under the new, 3 under
        both. What is not decided may occur."""
        if region not in self._kept:
            spans = self.space.spans(region)
            self._kept[region] = sum(n + 1 for n, tied in enumerate(self.tied) if _may_occur(tied, spans))
        return self._kept[region]


def _tied(side: Side, book: Book) -> Space | None:
    """The space of one side; None where a calculation behind it takes a number that the edition does not set."""
    try:
        return space_of([side], book, tied=True)
    except LawFault:
        return None


def _may_occur(tied: Space | None, spans: dict[str, list[Span]]) -> bool:
    """Whether something of which the inputs are among these spans can occur in a space."""
    if tied is None:
        return True
    masks = list(tied.whole)
    for i, name in enumerate(tied.names):
        if name in spans:
            masks[i] = sum(
                1 << e
                for e, element in enumerate(tied.elements[i])
                if any(intersect(element, span) is not None for span in spans[name])
            )
    if not all(masks):
        return False
    rows = tied.rows[0]
    try:
        return rows.cover.uncovered(tuple(masks), rows.impossible_bits, _STATES) is not None
    except NotDecided:
        return True

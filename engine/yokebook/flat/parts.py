"""Figures and answers of flat records by look-up: each is worked out once for all records that agree in what it is
made of."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from yokebook.entities import Kind
from yokebook.flat.demand import Figure, Node
from yokebook.flat.views import Seen, Views
from yokebook.graph import Thing

#: The most results of one figure that are kept; past it one starts anew.
_MOST_KEPT = 20_000

#: What a figure is made of: the bits of the record that it takes itself, then what the figures in it come to.
_Made = tuple[int, ...]


class _Part:
    """A figure of the one thing of a kind that a record has: where the figures in it stand, and what it came to."""

    __slots__ = ("came_to", "figure", "kind", "made_of", "mask", "whole")

    def __init__(self, figure: Figure, mask: int, whole: int, made_of: tuple[int, ...]) -> None:
        self.figure = figure
        self.kind: Kind = figure.behind.kind
        self.mask = mask  # the bits that it takes itself
        self.whole = whole  # those and all behind the figures in it
        self.made_of = made_of
        #: a number for what it came to, or 0 where it is open
        self.came_to: dict[_Made, int] = {}


class Parts:
    """All figures that a question is made of, each after those that it is made of."""

    def __init__(self, root: Node, mask_of: Callable[[Node], int], views: Views) -> None:
        """`mask_of` gives the bits of what is looked at from a node itself."""
        self._mask_of = mask_of
        self._views = views
        self._parts: list[_Part] = []
        self._place: dict[Figure, int] = {}
        self.mask = self._near(root)
        self._made_of = self._figures(root)

    def key(self, signature: int) -> _Made | None:
        """What the question is made of for records with this number; None where some part of it was not seen yet. For
        a part that is open all that it turns on stands instead."""
        found: list[int] = []
        for part in self._parts:
            made = (signature & part.mask, *[found[i] for i in part.made_of])
            came_to = part.came_to.get(made)
            if came_to is None:
                return None
            found.append(came_to or ~(signature & part.whole))
        return (signature & self.mask, *[found[i] for i in self._made_of])

    def learn(self, signature: int, seen: Seen, things: Mapping[Kind, list[Thing]]) -> None:
        """Takes up what each figure comes to for a record with this number."""
        found: list[int] = []
        for part in self._parts:
            made = (signature & part.mask, *[found[i] for i in part.made_of])
            came_to = part.came_to.get(made)
            if came_to is None:
                settled = seen.settled(part.figure, things[part.kind][0])
                # numbers start at 0, which here is for what is open
                came_to = 0 if settled is None else self._views.settled_class(part.figure.name, settled) + 1
                if len(part.came_to) >= _MOST_KEPT:
                    part.came_to.clear()
                part.came_to[made] = came_to
            found.append(came_to or ~(signature & part.whole))

    # ---- how it is made -------------------------------------------------------------------------------------------

    def _near(self, node: Node) -> int:
        """The bits of all that is looked at from a node, what is behind figures left out."""
        mask = 0
        for each in _without_figures(node):
            mask |= self._mask_of(each)
        return mask

    def _figures(self, node: Node) -> tuple[int, ...]:
        """The places of the figures that are taken from a node on."""
        figures = [figure for each in _without_figures(node) for figure in each.figures]
        return tuple({self._of(figure): None for figure in figures})

    def _of(self, figure: Figure) -> int:
        if figure not in self._place:
            made_of = self._figures(figure.behind)
            whole = mask = self._near(figure.behind)
            for i in made_of:
                whole |= self._parts[i].whole
            self._parts.append(_Part(figure, mask, whole, made_of))
            self._place[figure] = len(self._parts) - 1
        return self._place[figure]


def _without_figures(node: Node) -> list[Node]:
    """A node and all after it, each once, not those behind figures."""
    seen: dict[int, Node] = {}
    waiting = [node]
    while waiting:
        each = waiting.pop()
        if id(each) not in seen:
            seen[id(each)] = each
            waiting += (child for _, child in (*each.refs, *each.lists))
    return list(seen.values())

"""Figures and answers of flat records by look-up: each is worked out once for all records that agree in what it is
made of."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from yokebook.entities import Kind
from yokebook.flat.demand import Figure, Node
from yokebook.flat.views import Seen, Settled, Views
from yokebook.graph import Thing

#: The most results of one figure that are kept; past it one starts anew.
_MOST_KEPT = 20_000

#: What a figure is made of: the bits of the record that it takes itself, then what the figures in it come to; of one
#: without such figures the bits alone.
_Made = int | tuple[int, ...]


class Part:
    """A figure of the one thing of a kind that a record has: where the figures in it stand, and what it came to."""

    __slots__ = ("came_to", "figure", "kind", "made_of", "mask")

    def __init__(self, figure: Figure, mask: int, made_of: tuple[int, ...]) -> None:
        self.figure = figure
        self.kind: Kind = figure.behind.kind
        self.mask = mask  # the bits that it takes itself
        self.made_of = made_of
        #: a number for what it came to; where it is open one below 0, for what it is made of
        self.came_to: dict[_Made, int] = {}

    def made(self, signature: int, found: Sequence[int]) -> _Made:
        """What the figure is made of in records with this number, with what was found of those before it."""
        bits = signature & self.mask
        return (bits, *[found[i] for i in self.made_of]) if self.made_of else bits


class Parts:
    """All figures that a question is made of, each after those that it is made of."""

    def __init__(self, root: Node, mask_of: Callable[[Node], int], views: Views) -> None:
        """`mask_of` gives the bits of what is looked at from a node itself."""
        self._mask_of = mask_of
        self._views = views
        self.parts: list[Part] = []
        self._place: dict[Figure, int] = {}
        self.root = root
        self._figures_of(root)
        #: by the number for what a figure comes to, that itself
        self.came_to: dict[int, Settled] = {}
        self._open = 0

    def found(self, signature: int) -> list[int] | None:
        """For each figure a number for what it comes to in records with this number, or, where it is open, one below 0
        for what it is made of; None where some figure was not seen yet."""
        found: list[int] = []
        for part in self.parts:
            made = part.made(signature, found)
            came_to = part.came_to.get(made)
            if came_to is None:
                return None
            found.append(came_to)
        return found

    def learn(self, signature: int, seen: Seen, things: Mapping[Kind, list[Thing]]) -> None:
        """Takes up what each figure comes to for a record with this number."""
        found: list[int] = []
        for part in self.parts:
            made = part.made(signature, found)
            came_to = part.came_to.get(made)
            if came_to is None:
                came_to = self._number(part.figure, seen.settled(part.figure, things[part.kind][0]))
                if len(part.came_to) >= _MOST_KEPT:
                    part.came_to.clear()
                part.came_to[made] = came_to
            found.append(came_to)

    def _number(self, figure: Figure, settled: Settled | None) -> int:
        if settled is None:
            self._open += 1
            return -self._open
        number = self._views.settled_class(figure.name, settled)
        self.came_to[number] = settled
        return number

    def places(self) -> dict[tuple[str, str], int]:
        """The places in `found` of the figures that the question takes itself, by kind of document and name."""
        figures = [figure for each in _without_figures(self.root) for figure in each.figures]
        return {(figure.law_kind, figure.name): self._place[figure] for figure in figures}

    def bits_near(self, node: Node) -> int:
        """The bits of all that is looked at from a node, what is behind figures left out."""
        mask = 0
        for each in _without_figures(node):
            mask |= self._mask_of(each)
        return mask

    def bits_behind(self, node: Node) -> int:
        """The bits of all that is looked at from a node, what is behind figures as well."""
        mask = 0
        for each in node.all():
            mask |= self._mask_of(each)
        return mask

    # ---- how it is made -------------------------------------------------------------------------------------------

    def _figures_of(self, node: Node) -> tuple[int, ...]:
        """The places of the figures that are taken from a node on."""
        figures = [figure for each in _without_figures(node) for figure in each.figures]
        return tuple({self._of(figure): None for figure in figures})

    def _of(self, figure: Figure) -> int:
        if figure not in self._place:
            made_of = self._figures_of(figure.behind)
            self.parts.append(Part(figure, self.bits_near(figure.behind), made_of))
            self._place[figure] = len(self.parts) - 1
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

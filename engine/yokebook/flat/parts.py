"""Figures and answers of flat records by look-up: each is worked out once for all records that agree in what it is
made of."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

from yokebook.entities import REFERRED_TO, Kind
from yokebook.flat.bounded import keep
from yokebook.flat.demand import Demand, Figure, Node
from yokebook.flat.left import Boxes, Left
from yokebook.flat.signatures import Signatures
from yokebook.flat.views import Seen, Settled, Views
from yokebook.graph import Thing
from yokebook.law import Law, LawFault, plain_cell
from yokebook.model import Box, ByReading, Cell, Expression, OneOf, Question, WhereBox
from yokebook.session import answer_of
from yokebook.values import CellIndex

#: The most results of one figure that are kept; past it one starts anew.
_MOST_KEPT = 20_000

#: What a figure is made of: the bits of the record that it takes itself, then what the figures in it come to; of one
#: without such figures the bits alone.
_Made = int | tuple[int, ...]


class Part:
    """A figure of the one thing of a kind that a record has: where the figures in it stand, and what it came to."""

    __slots__ = ("_named", "boxes_left", "by_left", "came_to", "figure", "kind", "made_of", "mask")

    def __init__(self, figure: Figure, mask: int, made_of: tuple[int, ...], left: Left | None, named: int) -> None:
        """`named` are the bits that say whether the record names the thing; none where that does not matter."""
        self.figure = figure
        self.kind: Kind = figure.behind.kind
        self._named = named
        self.mask = mask | named  # the bits that it takes itself
        self.made_of = made_of
        #: of one that is a matter of boxes, those that are left
        self.boxes_left = left
        #: a number for what it came to; where it is open one below 0, for what it is made of
        self.came_to: dict[_Made, int] = {}
        #: the same by the boxes that are left
        self.by_left: dict[tuple[int, ...], int] = {}

    def stood_for(self, signature: int) -> bool:
        """Whether something unknown may stand for the thing: a reference that nobody gave leads to it, and then it is
        not told by the record what the figure comes to there."""
        return self._named != 0 and not signature & self._named

    def find(self, signature: int, found: list[int]) -> int | None:
        """The number for what it comes to in records with this number, with what was found of the figures before it;
        None where that was not seen yet."""
        made = self._made(signature, found)
        came_to = self.came_to.get(made)
        if came_to is None and self.boxes_left is not None and not self.stood_for(signature):
            came_to = self.by_left.get(self.boxes_left.key(signature, found))
            if came_to is not None:
                keep(self.came_to, made, came_to, _MOST_KEPT)
        return came_to

    def keep(self, signature: int, found: list[int], came_to: int) -> None:
        """Keeps the number for what it comes to."""
        keep(self.came_to, self._made(signature, found), came_to, _MOST_KEPT)
        if self.boxes_left is not None and not self.stood_for(signature):
            keep(self.by_left, self.boxes_left.key(signature, found), came_to, _MOST_KEPT)

    def _made(self, signature: int, found: list[int]) -> _Made:
        bits = signature & self.mask
        return (bits, *[found[i] for i in self.made_of]) if self.made_of else bits


class Parts:
    """All figures that a question is made of, each after those that it is made of."""

    def __init__(
        self, root: Node, demand: Demand, mask_of: Callable[[Node], int], signatures: Signatures, views: Views
    ) -> None:
        """`demand` is one by parts; `mask_of` gives the bits of what is looked at from a node itself."""
        self._demand = demand
        self._mask_of = mask_of
        self._signatures = signatures
        self._views = views
        self.parts: list[Part] = []
        self._place: dict[Figure, int] = {}
        #: by the number for what a figure comes to, that itself
        self._came_to: dict[int, Settled] = {}
        self._open = 0
        self._root = root
        self._figures_of(root)
        #: whether no answer under a document of another kind is taken
        self.of_one_document = all(self._document(figure) == demand.kind for figure in self._place)

    def found(self, signature: int) -> list[int] | None:
        """For each figure a number for what it comes to in records with this number, or, where it is open, one below 0
        for what it is made of; None where some figure was not seen yet."""
        found: list[int] = []
        for part in self.parts:
            came_to = part.find(signature, found)
            if came_to is None:
                return None
            found.append(came_to)
        return found

    def learn(self, signature: int, seen: Seen, things: Mapping[Kind, list[Thing]]) -> None:
        """Takes up what each figure comes to for a record with this number."""
        if len(self._came_to) >= _MOST_KEPT:  # what figures came to is let go of with the numbers for it
            self._came_to.clear()
            for part in self.parts:
                part.came_to.clear()
                part.by_left.clear()
        found: list[int] = []
        for part in self.parts:
            came_to = part.find(signature, found)
            if came_to is None:
                thing = things[part.kind][0]
                settled = None if part.stood_for(signature) else seen.settled(part.figure, thing)
                came_to = self._number(part.figure, settled)
                part.keep(signature, found, came_to)
            found.append(came_to)

    def _number(self, figure: Figure, settled: Settled | None) -> int:
        if settled is None:
            self._open += 1
            return -self._open
        number = self._views.settled_class(figure.name, settled)
        self._came_to[number] = settled
        return number

    def left_of(self, law_kind: str, boxes: Boxes, node: Node) -> Left:
        """What is left of boxes of a document of this kind that are looked at from a node."""
        there = self._signatures.structure & self._bits(_without_figures(node))
        behind = {name: self._bits(self._demand.input(node.kind, name, law_kind).all()) for name in boxes.inputs}
        figures = _figures_from(node)
        places = {figure.name: self._place[figure] for figure in figures if figure.law_kind == law_kind}
        return Left(boxes, there, behind, places, self._came_to, self._signatures)

    def left(self, question: Question) -> Left | None:
        """What is left of the table of the question itself; None where it has none."""
        boxes = self._boxes(self._demand.kind, f"answer.{question.id}")
        return None if boxes is None else self.left_of(*boxes, self._root)

    def _bits(self, nodes: Iterable[Node]) -> int:
        """The bits of all that is looked at at these nodes."""
        mask = 0
        for node in nodes:
            mask |= self._mask_of(node)
        return mask

    # ---- how it is made -------------------------------------------------------------------------------------------

    def _figures_of(self, node: Node) -> tuple[int, ...]:
        """The places of the figures that are taken from a node on."""
        return tuple({self._of(figure): None for figure in _figures_from(node)})

    def _of(self, figure: Figure) -> int:
        if figure not in self._place:
            made_of = self._figures_of(figure.behind)
            mask = self._bits(_without_figures(figure.behind))
            stated = self._stated(figure)
            boxes = None if stated else self._boxes(figure.law_kind, figure.name)
            left = None if boxes is None else self.left_of(*boxes, figure.behind)
            kind = figure.behind.kind
            named = self._signatures.named(kind) if kind in REFERRED_TO else 0
            self.parts.append(Part(figure, mask | stated, made_of, left, named))
            self._place[figure] = len(self.parts) - 1
        return self._place[figure]

    def _stated(self, figure: Figure) -> int:
        """The bits of what is stated of a figure or answer itself."""
        name = figure.name
        if name.startswith("answer."):
            kind, question = self._answer(figure)
            name = f"answer.{kind}.{question.id}"
        return self._signatures.fields.get(name, 0)

    def _document(self, figure: Figure) -> str:
        """The kind of document that a figure is worked out, or an answer given, under."""
        return self._answer(figure)[0] if figure.name.startswith("answer.") else figure.law_kind

    def _answer(self, figure: Figure) -> tuple[str, Question]:
        return answer_of(self._demand.book, figure.name.removeprefix("answer."), figure.law_kind)

    def _boxes(self, law_kind: str, name: str) -> tuple[str, Boxes] | None:
        """The boxes that a figure or answer is a matter of, with the kind of document that they are of; None where it
        is not."""
        book = self._demand.book
        if name.startswith("answer."):
            kind, question = answer_of(book, name.removeprefix("answer."), law_kind)
            laws = self._demand.laws.get(kind, ())
            if not laws or not laws[0].answers(question.id):
                return None
            ready = laws[0].ready(question.id)
            return kind, Boxes(ready.inputs, ready.all_bits)
        expression = book.calculations[name].expression
        laws = self._demand.laws.get(law_kind, ())
        boxes = _boxes_of(expression)
        if boxes is None or not laws:
            return None
        try:
            return law_kind, _as_bits(boxes, laws[0], name)
        except LawFault:  # a number that this edition does not set: said where it is ruled on
            return None


def _boxes_of(expression: Expression) -> list[Box] | None:
    """The boxes that an expression is a matter of, those of every alternative of a reading with a cell on the reading;
    None where it is none of boxes alone."""
    if isinstance(expression, WhereBox):
        return list(expression.boxes)
    if not isinstance(expression, ByReading):
        return None
    found: list[Box] = []
    for name, alternative in expression.alternatives.items():
        boxes = _boxes_of(alternative)
        if boxes is None:
            return None
        found += [{**box, f"reading.{expression.reading}": OneOf(frozenset({name}))} for box in boxes]
    return found


def _as_bits(boxes: list[Box], law: Law, name: str) -> Boxes:
    cells: dict[str, list[tuple[int, Cell]]] = {}
    for bit, box in enumerate(boxes):
        for input_, cell in box.items():
            cells.setdefault(input_, []).append((bit, plain_cell(cell, law.resolved.values, name)))
    all_bits = (1 << len(boxes)) - 1
    return Boxes({input_: CellIndex(each, all_bits) for input_, each in cells.items()}, all_bits)


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


def _figures_from(node: Node) -> list[Figure]:
    """The figures that are taken from a node on, those behind figures left out."""
    return [figure for each in _without_figures(node) for figure in each.figures]

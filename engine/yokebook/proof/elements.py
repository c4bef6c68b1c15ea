"""A resolved table as rows over elements: each input's values cut wherever some cell tells them apart.

A point and the open stretch beside it are elements of their own, so open and closed ends are exact; a stretch with no
whole number in it is no element of an input that counts. Tables that are to be compared are cut together.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from yokebook.law import Law, ReadyTable, plain_cell
from yokebook.model import Book, Box, Cell, Question
from yokebook.proof.cover import Region, empty
from yokebook.proof.deciding_rows import RowRule, Rows
from yokebook.proof.domains import domain_of
from yokebook.proof.ties import Tie, ties_of
from yokebook.values import NA, CellIndex, NotApplicable, Range, Span, intersect, single


@dataclass(frozen=True)
class Side:
    """One table as one law has it."""

    law: Law
    question: str

    @cached_property
    def ready(self) -> ReadyTable:
        """The table, its named numbers replaced and its rules exceptions-first."""
        return self.law.ready(self.question)


@dataclass(frozen=True)
class EmptyCell:
    """A cell that no value fits: the rule's number in the side's table, the input, and the cell."""

    side: int
    rule: int
    box: Box
    name: str
    cell: Cell


@dataclass
class Space:
    """The inputs of one table, or of several compared, cut into elements, with each side's rows over them."""

    book: Book
    question: Question
    sides: tuple[Side, ...]
    names: tuple[str, ...]
    elements: tuple[tuple[Span, ...], ...]
    rows: tuple[Rows, ...]
    empty_cells: tuple[EmptyCell, ...]
    own: int  # how many of the names are in boxes of the tables; the rest come in by what ties inputs
    reasons: tuple[str, ...] = field(default=())  # of the impossible regions of the rows, in their order

    @property
    def widths(self) -> tuple[int, ...]:
        """How many elements each input has."""
        return tuple(len(each) for each in self.elements)

    @property
    def whole(self) -> Region:
        """Every point."""
        return tuple((1 << width) - 1 for width in self.widths)

    def spans(self, region: Region) -> dict[str, list[Span]]:
        """For each input that the region narrows, its elements there; stretches that touch are put together."""
        return {
            name: joined([self.elements[i][e] for e in range(len(self.elements[i])) if region[i] >> e & 1])
            for i, name in enumerate(self.names)
            if region[i] != self.whole[i]
        }


def joined(spans: Sequence[Span]) -> list[Span]:
    """Spans in order, those of numbers put together that touch."""
    done: list[Span] = []
    for span in spans:
        last = done[-1] if done else None
        if isinstance(last, Range) and isinstance(span, Range) and _touch(last, span):
            done[-1] = Range(last.low, last.low_open, span.high, span.high_open, span.whole)
        else:
            done.append(span)
    return done


def _touch(a: Range, b: Range) -> bool:
    """Whether nothing lies between a range and the next one."""
    if a.high is None or b.low is None:
        return False
    if a.high == b.low:
        return not (a.high_open and b.low_open)
    between = Range(a.high, not a.high_open, b.low, not b.low_open, a.whole)
    return a.whole and between.empty()


def space_of(sides: Sequence[Side], book: Book, *, tied: bool = False, all_answers: bool = False) -> Space:
    """The space of one table or of several, cut together.

    With `tied`, what ties inputs to each other (a figure and what it is computed from, an answer and its table) is
    taken in as far as it is a matter of one thing, so that combinations that cannot be are left out. With
    `all_answers`, a lower answer may be any outcome of its question, not only those that its table in this law gives.
    """
    question = book.questions[sides[0].question]
    own = _input_names(sides)
    names, ties = own, list[Tie]()
    for side in sides:  # what cannot be under one of the laws is no difference between them
        names, more = ties_of(side.law, question, names, book, deep=tied)
        ties += [tie for tie in more if tie not in ties]
    cutter = _Cutter(sides, names, ties, book, question, all_answers)
    elements = tuple(tuple(cutter.elements(name)) for name in names)
    maker = _Regions(names, elements)
    empties: list[EmptyCell] = []
    impossible = [(region, tie.because) for tie in ties for region in maker.regions(tie)]
    rows = tuple(
        _rows(number, side, maker, empties, tuple(region for region, _ in impossible))
        for number, side in enumerate(sides)
    )
    reasons = tuple(why for _, why in impossible)
    return Space(book, question, tuple(sides), names, elements, rows, tuple(empties), len(own), reasons)


def _input_names(sides: Sequence[Side]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(name for side in sides for at in side.ready.boxes for name in at.box))


class _Cutter:
    """Cuts each input where cells of any side, or of what ties inputs, tell its values apart."""

    def __init__(
        self,
        sides: Sequence[Side],
        names: Sequence[str],
        ties: Sequence[Tie],
        book: Book,
        question: Question,
        all_answers: bool,
    ) -> None:
        self.all_answers = all_answers
        self.book = book
        self.question = question
        self.cells: dict[str, list[Cell]] = {name: [] for name in names}
        for side in sides:
            for at in side.ready.boxes:
                for name, cell in at.box.items():
                    self.cells[name].append(cell)
        for tie in ties:
            for name, cell in (*tie.cells.items(), *tie.fails.items()):
                self.cells[name].append(cell)
        self.sides = sides

    def elements(self, name: str) -> list[Span]:
        """The parts of an input's values that no cell tells apart, not applicable last where that can be."""
        distinct: dict[Cell, None] = dict.fromkeys(self.cells[name])
        cells = list(enumerate(distinct))
        index = CellIndex(cells, (1 << len(cells)) - 1)
        spans: dict[Span, None] = {}
        for side in self.sides:
            domain, may_be_na = domain_of(side.law, self.question, name, self.book, all_answers=self.all_answers)
            spans.update((part, None) for part, _ in index.pieces(domain))
            if may_be_na:
                spans[NA] = None
        return _apart(list(spans)) if len(self.sides) > 1 else list(spans)


def _apart(spans: list[Span]) -> list[Span]:
    """Parts that may overlap, from sides whose values differ, cut so that none does."""
    found: list[Span] = []
    for span in spans:
        pieces = [span]
        for other in found:
            pieces = [left for piece in pieces for left in _less(piece, other)]
        found.extend(pieces)
    return sorted(found, key=lambda span: isinstance(span, NotApplicable))


def _less(span: Span, other: Span) -> list[Span]:
    """A span without what is in another that it either contains, equals or does not touch."""
    from yokebook.values import Some

    if span == other:
        return []
    if isinstance(span, Some) and isinstance(other, Some):
        rest = span.values - other.values
        return [Some(rest)] if rest else []
    return [] if intersect(span, other) == span else [span]


class _Regions:
    """Boxes of cells as regions over elements."""

    def __init__(self, names: Sequence[str], elements: Sequence[Sequence[Span]]) -> None:
        self.names = names
        self.elements = elements
        self.number = {name: i for i, name in enumerate(names)}
        self.whole: Region = tuple((1 << len(each)) - 1 for each in elements)
        self._masks: dict[tuple[str, Cell], int] = {}

    def mask(self, name: str, cell: Cell) -> int:
        """The elements of an input that a cell allows. Not applicable is in no cell."""
        key = (name, cell)
        if key not in self._masks:
            index = CellIndex([(0, cell)], 1)
            mask = 0
            for e, span in enumerate(self.elements[self.number[name]]):
                pieces = index.pieces(span)
                if pieces and all(hit for _, hit in pieces):
                    mask |= 1 << e
            self._masks[key] = mask
        return self._masks[key]

    def region(self, box: Mapping[str, Cell]) -> Region:
        """The region of a box; with a 0 where a cell allows nothing."""
        masks = list(self.whole)
        for name, cell in box.items():
            masks[self.number[name]] &= self.mask(name, cell)
        return tuple(masks)

    def regions(self, tie: Tie) -> list[Region]:
        """The region that a tie rules out; none where it rules out nothing."""
        masks = list(self.region(tie.cells))
        for name, wanted in tie.applies.items():
            here = self.elements[self.number[name]]
            applies = sum(1 << e for e, span in enumerate(here) if not isinstance(span, NotApplicable))
            masks[self.number[name]] &= applies if wanted else ~applies
        for name, cell in tie.fails.items():
            masks[self.number[name]] &= ~self.mask(name, cell)
        region = tuple(masks)
        return [] if empty(region) else [region]


def _rows(
    number: int, side: Side, maker: _Regions, empties: list[EmptyCell], impossible: tuple[Region, ...]
) -> Rows:
    ready, values = side.ready, side.law.resolved.values

    def regions(rule: int, boxes: Iterable[Box]) -> tuple[Region, ...]:
        made: list[Region] = []
        for box in boxes:
            plain = {name: plain_cell(cell, values, ready.rules[rule].id) for name, cell in box.items()}
            made.append(maker.region(plain))
            empties.extend(
                EmptyCell(number, rule, box, name, cell)
                for name, cell in plain.items()
                if maker.mask(name, cell) == 0
            )
        return tuple(made)

    rules = tuple(
        RowRule(rule.id, rule.then, regions(i, rule.where), regions(i, rule.but_not), ready.beaten_by[i])
        for i, rule in enumerate(ready.rules)
    )
    return Rows(tuple(len(each) for each in maker.elements), rules, ready.table.none_fires.then, impossible)


def is_point(span: Span) -> bool:
    """Whether an element is one number out of a scale without steps: a boundary, not a stretch."""
    return isinstance(span, Range) and not span.whole and single(span) is not None

"""A document as it stands on a day, made ready to rule: named numbers replaced, cells indexed, exceptions ordered."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Literal, NamedTuple

from yokebook.frozen import dataclass
from yokebook.model import (
    Book,
    Box,
    Cell,
    Checked,
    NamedNumber,
    NoneOf,
    Number,
    NumberValue,
    OneOf,
    Resolved,
    Rule,
    Step,
    Table,
    Within,
)
from yokebook.prevails import prevails
from yokebook.values import CellIndex


class LawFault(Exception):
    """The rulebook cannot be ruled with as it stands: a message that names the table and rule."""


class BoxAt(NamedTuple):
    """One box of one rule, with the bit that stands for it."""

    bit: int
    rule: int
    box: Box


class ReadyTable:
    """A table made ready: rules exceptions-first, one index for each input, each box a bit."""

    def __init__(self, table: Table, values: Mapping[str, NumberValue]) -> None:
        self.table = table
        over = prevails(table)
        self.rules: list[Rule] = _exceptions_first(table.rules, over)
        #: for each rule, the rules that prevail over it, as numbers
        self.beaten_by: list[frozenset[int]] = _beaten_by(self.rules, over)
        self.where: list[int] = []
        self.but_not: list[int] = []
        self.boxes: list[BoxAt] = []
        for i, rule in enumerate(self.rules):
            self.where.append(self._take(i, rule.where, values, rule.id))
            self.but_not.append(self._take(i, rule.but_not, values, rule.id))
        self.all_bits = (1 << len(self.boxes)) - 1
        self.inputs: dict[str, CellIndex] = {}
        cells: dict[str, list[tuple[int, Cell]]] = {}
        for at in self.boxes:
            for name, cell in at.box.items():
                cells.setdefault(name, []).append((at.bit, cell))
        for name, its_cells in cells.items():
            self.inputs[name] = CellIndex(its_cells, self.all_bits)

    def _take(self, rule: int, boxes: tuple[Box, ...], values: Mapping[str, NumberValue], rule_id: str) -> int:
        bits = 0
        for box in boxes:
            plain = {name: plain_cell(cell, values, rule_id) for name, cell in box.items()}
            at = BoxAt(len(self.boxes), rule, plain)
            self.boxes.append(at)
            bits |= 1 << at.bit
        return bits


def _exceptions_first(rules: tuple[Rule, ...], over: Mapping[str, frozenset[str]]) -> list[Rule]:
    """Rules so that each stands before those it prevails over; otherwise by id, so that written order never matters."""
    by_id = {rule.id: rule for rule in rules}
    beaten = dict.fromkeys(by_id, 0)
    for winner in by_id:
        for loser in over.get(winner, ()):
            beaten[loser] += 1
    ordered: list[Rule] = []
    free = sorted(name for name, count in beaten.items() if not count)
    while free:
        ordered += (by_id[name] for name in free)
        following: list[str] = []
        for winner in free:
            for loser in over.get(winner, ()):
                beaten[loser] -= 1
                if not beaten[loser]:
                    following.append(loser)
        free = sorted(following)
    assert len(ordered) == len(rules), "rules prevail over each other in a circle, which is refused at load"
    return ordered


def _beaten_by(rules: Sequence[Rule], over: Mapping[str, frozenset[str]]) -> list[frozenset[int]]:
    number = {rule.id: i for i, rule in enumerate(rules)}
    beaten: list[set[int]] = [set() for _ in rules]
    for winner, losers in over.items():
        for loser in losers:
            beaten[number[loser]].add(number[winner])
    return [frozenset(each) for each in beaten]


def plain_number(number: Number, values: Mapping[str, NumberValue], where: str) -> Fraction:
    """The number itself, a named one looked up. Raises LawFault where the edition has no such name."""
    if isinstance(number, NamedNumber):
        if number.id not in values:
            raise LawFault(f"`{where}` uses `value.{number.id}`, which this edition does not set")
        return values[number.id].value
    return number


def plain_cell(cell: Cell, values: Mapping[str, NumberValue], where: str) -> Cell:
    """The cell with its named numbers replaced."""
    if isinstance(cell, Within):
        return replace(
            cell,
            low=None if cell.low is None else plain_number(cell.low, values, where),
            high=None if cell.high is None else plain_number(cell.high, values, where),
        )
    plain = frozenset(plain_number(v, values, where) if isinstance(v, NamedNumber) else v for v in cell.values)
    return OneOf(plain) if isinstance(cell, OneOf) else NoneOf(plain)


class Chosen(NamedTuple):
    """A reading that a layer has chosen, for all records or those in a box."""

    alternative: str
    where: Box | None
    step: Step


class Law:
    """One resolved document, its tables made ready as they are asked for."""

    def __init__(self, resolved: Resolved, book: Book) -> None:
        self.resolved = resolved
        self.book = book
        self.kind = resolved.document.kind
        self._ready: dict[str, ReadyTable] = {}
        self._cells: dict[int, tuple[Cell, CellIndex]] = {}
        self._texts: dict[int, tuple[Cell, str]] = {}
        self.chosen: dict[str, list[Chosen]] = {}
        for reading, alternative, where, step in resolved.chosen:
            self.chosen.setdefault(reading, []).append(Chosen(alternative, where, step))

    def ready(self, question: str) -> ReadyTable:
        """The table that answers a question. Raises KeyError where this document has none."""
        if question not in self._ready:
            self._ready[question] = ReadyTable(self.resolved.tables[question], self.resolved.values)
        return self._ready[question]

    def cell(self, cell: Cell, where: str) -> CellIndex:
        """The index of a single cell of a calculation or fact, made once. Bit 0 is set where the cell holds."""
        found = self._cells.get(id(cell))
        if found is None:
            # the cell is kept with its index, so that its id stays its own
            found = self._cells[id(cell)] = (cell, CellIndex([(0, plain_cell(cell, self.resolved.values, where))], 1))
        return found[1]

    def text_of(self, cell: Cell, show: Callable[[], str]) -> str:
        """A cell as people read it, shown once."""
        found = self._texts.get(id(cell))
        if found is None:
            found = self._texts[id(cell)] = (cell, show())
        return found[1]

    def answers(self, question: str) -> bool:
        """Whether this document has a table for the question."""
        return question in self.resolved.tables

    def number(self, number: Number, where: str) -> Fraction:
        """A number, named ones from this document's edition. Raises LawFault for an unknown name."""
        return plain_number(number, self.resolved.values, where)

    def value_mark(self, name: str) -> Checked:
        """How well a named number is checked."""
        return self.resolved.values[name].checked


@dataclass(frozen=True, slots=True)
class Candidate:
    """One way that the law may stand: the entry that governs and what it puts in force."""

    id: str
    state: Literal["in force", "none in force", "not entered"]
    law: Law | None
    reason: str
    office: str = ""


class InForce(NamedTuple):
    """For one kind of document, every entry that the dates and choices given leave possible, and what settles it.

    `needs` holds `("date", event, how to ask, ())` and `("choice", id, how to ask, alternatives)`.
    """

    kind: str
    candidates: tuple[Candidate, ...]
    needs: tuple[tuple[str, str, str, tuple[str, ...]], ...] = ()

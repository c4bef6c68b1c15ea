"""What tells the values of a fact apart for a question: the cells on it, what is looked up by it, or each value."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass, field

from yokebook.law import Law, LawFault, plain_cell
from yokebook.model import Cell, LookUp, Value
from yokebook.values import CellIndex


@dataclass
class Telling:
    """Which values of one fact a question treats alike."""

    cells: dict[Cell, None] = field(default_factory=dict)  # named numbers replaced
    look_ups: list[LookUp] = field(default_factory=list)
    exact: bool = False  # every value counts by itself, as where figures are made of it
    _index: CellIndex | None = None

    def cell(self, cell: Cell, law: Law, where: str) -> None:
        """Takes in a cell on the fact."""
        self._index = None
        try:
            self.cells.setdefault(plain_cell(cell, law.resolved.values, where))
        except LawFault:  # of a number that this edition does not set: said where it is ruled on
            self.exact = True

    def look_up(self, look_up: LookUp) -> None:
        """Takes in a table that something is looked up in by the fact."""
        if all(one is not look_up for one in self.look_ups):
            self.look_ups.append(look_up)

    def class_of(self, value: Value) -> Hashable:
        """What all values have in common that are treated as this one is."""
        if self.exact:
            return value
        if self._index is None:
            self._index = CellIndex(enumerate(self.cells), (1 << len(self.cells)) - 1)
        found: list[Hashable] = [self._index.allowed(value)]
        for look_up in self.look_ups:
            listed = value in look_up.table
            found += (listed, look_up.table[value] if listed else None)
        return tuple(found)

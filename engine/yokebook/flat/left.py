"""What is left of the boxes of a question's own table by all that is known of its inputs in flat records.

A table says the same of all records that leave the same boxes, as far as its inputs are known. Of an input that is
open all that it turns on counts as well, if a box that is left has a cell on it.
"""

from __future__ import annotations

from typing import NamedTuple

from yokebook.flat.demand import Demand
from yokebook.flat.parts import Parts
from yokebook.flat.signatures import Signatures
from yokebook.law import ReadyTable
from yokebook.model import Question
from yokebook.openness import parts_of
from yokebook.values import CellIndex, NotApplicable, Val, known

#: The most values of one input that are kept; past it one starts anew.
_MOST_KEPT = 20_000


class FactInput(NamedTuple):
    """An input that is a fact, or a reading."""

    name: str
    cells: CellIndex
    field: int  # the bits of the fact; none of a reading
    behind: int  # those of all that it turns on whether it applies, or is chosen
    allowed: dict[int, int]  # by the bits given; not where none are


class FigureInput(NamedTuple):
    """An input that is a figure or answer."""

    cells: CellIndex
    place: int  # among the figures that were found
    allowed: dict[int, int]  # by the number of what it comes to; not where it is open


class Left:
    """The boxes left of a question's table, by the numbers of flat records."""

    def __init__(
        self, question: Question, ready: ReadyTable, demand: Demand, parts: Parts, signatures: Signatures
    ) -> None:
        """`demand` is the one by parts."""
        self.all_bits = ready.all_bits
        self._parts = parts
        self._signatures = signatures
        #: of things that may not be there it counts whether they are
        self.there = signatures.structure & parts.bits_near(parts.root)
        self.facts: list[FactInput] = []
        self.figures: list[FigureInput] = []
        places = parts.places()
        for name, index in ready.inputs.items():
            if (demand.kind, name) in places:
                self.figures.append(FigureInput(index, places[demand.kind, name], {}))
            else:
                behind = parts.bits_behind(demand.input(question.per, name))
                if behind:  # else it is open in all records alike
                    self.facts.append(FactInput(name, index, signatures.fields.get(name, 0), behind, {}))

    def key(self, signature: int, found: list[int]) -> tuple[int, ...]:
        """What the table makes of records with this number, for which this was found of its figures: equal for those of
        which it says the same."""
        left = self.all_bits
        unknown: list[tuple[int, int, int]] = []  # the boxes with a cell on it, which input, and all that it turns on
        for i, fact in enumerate(self.facts):
            allowed = fact.allowed.get(signature & fact.field)
            if allowed is None:
                allowed = self._by_fact(fact, signature)
            if allowed is None:
                unknown.append((fact.cells.constrained, i, signature & fact.behind))
            else:
                left &= allowed
        for i, figure in enumerate(self.figures):
            came_to = found[figure.place]
            allowed = figure.allowed.get(came_to)
            if allowed is None:
                allowed = self._by_figure(figure, came_to)
            if allowed is None:
                unknown.append((figure.cells.constrained, ~i, came_to))
            else:
                left &= allowed
        key = [left, signature & self.there]
        for constrained, which, what in unknown:
            if left & constrained:
                key += (which, what)
        return tuple(key)

    def _by_fact(self, fact: FactInput, signature: int) -> int | None:
        """The boxes that what is given of a fact allows; None where nothing is."""
        given = self._signatures.given(signature, [fact.name]) if fact.field else {}
        if not given:
            return None
        if len(fact.allowed) >= _MOST_KEPT:
            fact.allowed.clear()
        allowed = fact.allowed[signature & fact.field] = fact.cells.allowed(given[fact.name])
        return allowed

    def _by_figure(self, figure: FigureInput, number: int) -> int | None:
        """The boxes that what a figure comes to allows; None where it is open, or turns on readings."""
        settled = self._parts.came_to[number] if number >= 0 else ()
        if len(settled) != 1:
            return None
        [(_, value)] = settled
        val = Val(value) if isinstance(value, NotApplicable) else Val(known(value))
        if len(figure.allowed) >= _MOST_KEPT:
            figure.allowed.clear()
        [(_, allowed)] = parts_of(val, figure.cells)
        figure.allowed[number] = allowed
        return allowed

"""What is left of boxes by all that is known of their inputs in flat records.

A table, or a figure that is a matter of boxes, comes to the same in all records that leave the same boxes, as far as
its inputs are known. Of an input that is open all that it turns on counts as well, if a box that is left has a cell on
it.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from yokebook.flat.bounded import keep
from yokebook.flat.signatures import Signatures
from yokebook.flat.views import Settled
from yokebook.openness import parts_of
from yokebook.values import CellIndex, NotApplicable, Val, known

#: The most values of one input that are kept; past it one starts anew.
_MOST_KEPT = 20_000


class Boxes(NamedTuple):
    """Boxes as bits, with what each input allows of them."""

    inputs: Mapping[str, CellIndex]
    all_bits: int


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
    """The boxes that are left, by the numbers of flat records."""

    def __init__(
        self,
        boxes: Boxes,
        there: int,
        behind: Mapping[str, int],
        places: Mapping[str, int],
        came_to: Mapping[int, Settled],
        signatures: Signatures,
    ) -> None:
        """`there` are the bits that say whether things are there, where that counts; `behind` gives for each input the
        bits of all that it turns on, `places` for figures where they are found, and `came_to` what they come to."""
        self.all_bits = boxes.all_bits
        self.there = there
        self._came_to = came_to
        self._signatures = signatures
        self.facts: list[FactInput] = []
        self.figures: list[FigureInput] = []
        for name, cells in boxes.inputs.items():
            if name in places:
                self.figures.append(FigureInput(cells, places[name], {}))
            elif behind[name]:  # else it is open in all records alike
                self.facts.append(FactInput(name, cells, signatures.fields.get(name, 0), behind[name], {}))

    def key(self, signature: int, found: list[int]) -> tuple[int, ...]:
        """What the boxes make of records with this number, for which this was found of their figures: equal for those
        that come to the same."""
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
        return keep(fact.allowed, signature & fact.field, fact.cells.allowed(given[fact.name]), _MOST_KEPT)

    def _by_figure(self, figure: FigureInput, number: int) -> int | None:
        """The boxes that what a figure comes to allows; None where it is open, or turns on readings."""
        settled = self._came_to[number] if number >= 0 else ()
        if len(settled) != 1:
            return None
        [(_, value)] = settled
        val = Val(value) if isinstance(value, NotApplicable) else Val(known(value))
        [(_, allowed)] = parts_of(val, figure.cells)
        return keep(figure.allowed, number, allowed, _MOST_KEPT)

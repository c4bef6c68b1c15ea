"""Boxes and their cells."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Literal, get_args

from yokebook import units
from yokebook.entities import Kind
from yokebook.load.faults import Fault, listed, suggest
from yokebook.load.nodes import MappingNode, Node, Scalar, SequenceNode, kind_name
from yokebook.load.scalars import number_of, truth_of, word_of
from yokebook.load.scope import Domain, Input, Scope, units_fit
from yokebook.model import Box, Cell, NamedNumber, NoneOf, Number, OneOf, Value, Within

Relation = Literal["at_least", "more_than", "at_most", "less_than"]
RELATIONS: tuple[Relation, ...] = get_args(Relation)
_RELATION_NAMED: dict[str, Relation] = {relation: relation for relation in RELATIONS}


@dataclass(frozen=True, slots=True)
class Place:
    """From where names are seen: by a thing of which kind (None: any), in which document (None: any)."""

    entity: Kind | None
    document: str | None = None


class Boxes:
    """Reads boxes, noting faults."""

    def __init__(self, scope: Scope, faults: list[Fault]) -> None:
        self.scope = scope
        self.faults = faults

    def boxes(self, node: Node, place: Place, what: str) -> tuple[Box, ...]:
        """A box, or a list of at least one."""
        if isinstance(node, SequenceNode):
            if not node.items:
                self.faults.append(Fault(node.at, f"{what} is an empty list; allowed: a box, or a list of boxes"))
            return tuple(self.box(item, place, what) for item in node.items)
        return (self.box(node, place, what),)

    def box(self, node: Node, place: Place, what: str) -> Box:
        """A mapping from inputs to cells."""
        if not isinstance(node, MappingNode):
            self.faults.append(Fault(node.at, f"{what} is a mapping from facts to values; found {kind_name(node)}"))
            return {}
        box: dict[str, Cell] = {}
        for name, entry in node.entries.items():
            try:
                found = self.scope.find(name, place.entity)
            except ValueError as error:
                self.faults.append(Fault(entry.key.at, str(error)))
                continue
            if found is None:
                continue
            if found.type == "text":
                self.faults.append(Fault(entry.key.at, f"`{name}` is free text, which no cell can test"))
                continue
            cell = self._cell(entry.value, found, place)
            if cell is not None:
                box[name] = cell
        return box

    def _cell(self, node: Node, found: Input, place: Place) -> Cell | None:
        if not isinstance(node, MappingNode):
            values = self._values(node, found, place)
            return OneOf(values) if values else None
        if "not" in node.entries:
            for key, entry in node.entries.items():
                if key != "not":
                    self.faults.append(Fault(entry.key.at, f"`{key}` cannot stand beside `not` in a cell"))
            values = self._values(node.entries["not"].value, found, place)
            return NoneOf(values) if values else None
        return self._within(node, found, place)

    def _values(self, node: Node, found: Input, place: Place) -> frozenset[Value | NamedNumber]:
        nodes = node.items if isinstance(node, SequenceNode) else [node]
        if not nodes:
            self.faults.append(Fault(node.at, f"the cell of `{found.id}` is an empty list, which nothing fits"))
        values: set[Value | NamedNumber] = set()
        for item in nodes:
            value = self.value(item, found, place)
            if value is not None and value in values:
                self.faults.append(Fault(item.at, f"{kind_name(item)} stands twice in the cell of `{found.id}`"))
            if value is not None:
                values.add(value)
        return frozenset(values)

    def value(self, node: Node, found: Input, place: Place) -> Value | NamedNumber | None:
        """One value that the input may have; None, with a fault, for anything else."""
        try:
            if found.type == "yes_no":
                return truth_of(node)
            if found.type == "choice":
                return word_of(node, found.words, f"a value of `{found.id}`")
        except ValueError as error:
            text = str(error) if found.type == "choice" else f"`{found.id}`: {error}"
            self.faults.append(Fault(node.at, text))
            return None
        return self.number(node, found, place)

    def number(self, node: Node, found: Input, place: Place, *, bound: bool = False) -> Number | None:
        """A number in the input's unit, and in its domain unless it is only the bound of a range; or a named one. None,
        with a fault, for anything else."""
        try:
            if isinstance(node, Scalar) and node.text.startswith("value."):
                return self.named(node, found.unit, place)
            number = number_of(node, found.unit)
            outside = "" if bound else _outside(number, found)
            if outside:
                raise ValueError(outside)
        except ValueError as error:
            self.faults.append(Fault(node.at, f"`{found.id}`: {error}"))
            return None
        return number

    def named(self, node: Scalar, unit: str | None, place: Place) -> NamedNumber:
        """The named number `value.ID`, which must be of the unit. Raises ValueError."""
        name = node.text.removeprefix("value.")
        if node.text in self.scope.broken:
            return NamedNumber(name)
        its_unit = self.scope.value_unit(name, place.document)
        if not units_fit(its_unit, unit):
            its = "a plain number" if its_unit is None else units.allowed_forms(its_unit)
            raise ValueError(f"`{node.text}` is {its}; allowed: {units.allowed_forms(unit)}")
        return NamedNumber(name)

    def _within(self, node: MappingNode, found: Input, place: Place) -> Within | None:
        if found.type != "number":
            text = f"the cell of `{found.id}` is a value, a list of values or {{not: …}}; found keys"
            self.faults.append(Fault(node.at, f"{text} {listed(node.entries)}" if node.entries else f"{text}: none"))
            return None
        ends: dict[Relation, Number] = {}
        good = True
        for key, entry in node.entries.items():
            relation = _RELATION_NAMED.get(key)
            if relation is None:
                allowed = (*RELATIONS, "not")
                text = f"`{key}` is no key of a cell{suggest(key, allowed)}; allowed: {listed(allowed)}"
                self.faults.append(Fault(entry.key.at, text))
                good = False
                continue
            number = self.number(entry.value, found, place, bound=True)
            if number is None:
                good = False
            else:
                ends[relation] = number
        if not good:
            return None
        try:
            return _range(ends, found)
        except ValueError as error:
            self.faults.append(Fault(node.at, f"the cell of `{found.id}` {error}"))
            return None


def _range(ends: dict[Relation, Number], found: Input) -> Within:
    """Raises ValueError for no end, two of one side, and a range that no value of the input is in."""
    for one, other in (("at_least", "more_than"), ("at_most", "less_than")):
        if one in ends and other in ends:
            raise ValueError(f"has both `{one}` and `{other}`; allowed: one of them")
    if not ends:
        raise ValueError(f"is empty; allowed: {listed(RELATIONS)}, `not`, a value or a list")
    low = ends.get("at_least", ends.get("more_than"))
    high = ends.get("at_most", ends.get("less_than"))
    within = Within(low, "more_than" in ends, high, "less_than" in ends)
    domain = found.domain
    for bottom, bottom_open in ((low, within.low_open), (domain.low, domain.low_open)):
        for top, top_open in ((high, within.high_open), (domain.high, domain.high_open)):
            if not isinstance(bottom, Fraction) or not isinstance(top, Fraction):
                continue
            if bottom > top or (bottom == top and (bottom_open or top_open)):
                allowed = domain_text(domain, found.unit)
                raise ValueError("is a range that no value of it is in" + (f"; allowed: {allowed}" if allowed else ""))
    return within


def _outside(number: Fraction, found: Input) -> str:
    """Why the number can never be a value of the input; "" if it can."""
    domain = found.domain
    shown = units.format_number(number, found.unit)
    if domain.whole and number.denominator != 1:
        return f"{shown} is not a whole number"
    below = domain.low is not None and (number < domain.low or (number == domain.low and domain.low_open))
    above = domain.high is not None and (number > domain.high or (number == domain.high and domain.high_open))
    return f"{shown} can never be its value; allowed: {domain_text(domain, found.unit)}" if below or above else ""


def domain_text(domain: Domain, unit: str | None) -> str:
    """A number's domain in words, "" if it may be any number."""
    parts = []
    if domain.low is not None:
        parts.append(f"{'more than' if domain.low_open else 'at least'} {units.format_number(domain.low, unit)}")
    if domain.high is not None:
        parts.append(f"{'less than' if domain.high_open else 'at most'} {units.format_number(domain.high, unit)}")
    return " and ".join(parts)

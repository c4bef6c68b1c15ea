"""Normative text as canonical data, and read back: named numbers replaced, what has no order sorted, wording left out.

Numbers are exact text such as "17/2". Words and numbers look alike there, so reading back needs the rulebook, which
says of each input what kind of value it has.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from fractions import Fraction
from typing import Any, cast

from yokebook.entities import Kind
from yokebook.load.faults import suggest
from yokebook.model import (
    Arithmetic,
    Book,
    Box,
    ByReading,
    Calculation,
    Cell,
    Comparison,
    Constant,
    Expression,
    FactType,
    Grouped,
    LookUp,
    NamedNumber,
    Nearest,
    NoneOf,
    Number,
    NumberValue,
    Of,
    OneOf,
    Over,
    Rule,
    Table,
    Tiers,
    Uncovered,
    Value,
    WhereBox,
    Within,
)

#: What is hashed: text, yes or no, nothing, lists and mappings of these.
Canonical = str | bool | None | list["Canonical"] | dict[str, "Canonical"]


class Writer:
    """Writes normative text as canonical data. `used` takes up each named number that was replaced, as exact text."""

    def __init__(self, values: Mapping[str, NumberValue], used: dict[str, str] | None = None) -> None:
        self.values = values
        self.used: dict[str, str] = {} if used is None else used

    def number(self, number: Number | None) -> Canonical:
        """A number as exact text; None for an absent end; `value.ID` where the document does not set it."""
        if isinstance(number, NamedNumber):
            known = self.values.get(number.id)
            if known is None:
                return f"value.{number.id}"
            self.used[number.id] = str(known.value)
            return str(known.value)
        return None if number is None else str(number)

    def value(self, value: Value | NamedNumber) -> Canonical:
        """A value of a cell or a look-up."""
        if isinstance(value, bool):
            return value
        return value if isinstance(value, str) else self.number(value)

    def cell(self, cell: Cell) -> Canonical:
        """A cell as a mapping."""
        if isinstance(cell, Within):
            return {
                "low": self.number(cell.low),
                "low_open": cell.low_open,
                "high": self.number(cell.high),
                "high_open": cell.high_open,
            }
        key = "one_of" if isinstance(cell, OneOf) else "none_of"
        return {key: _sorted(self.value(value) for value in cell.values)}

    def box(self, box: Box) -> Canonical:
        """A box as cells by input."""
        return {name: self.cell(cell) for name, cell in box.items()}

    def boxes(self, boxes: Iterable[Box]) -> Canonical:
        """Boxes, any of which will do."""
        return _sorted(self.box(box) for box in boxes)

    def rule(self, rule: Rule) -> dict[str, Canonical]:
        """The normative fields of a rule."""
        return {
            "id": rule.id,
            "where": self.boxes(rule.where),
            "but_not": self.boxes(rule.but_not),
            "then": rule.then,
            "exception_to": "all" if rule.exception_to == "all" else _sorted(rule.exception_to),
            "prevails_over": _sorted(rule.prevails_over),
        }

    def table(self, table: Table) -> Canonical:
        """A table's rules by id and what it says where none fires."""
        rules = sorted(table.rules, key=lambda rule: rule.id)
        return {"rules": [self.rule(rule) for rule in rules], "none_fires": table.none_fires.then}

    def calculation(self, calculation: Calculation) -> Canonical:
        """What a calculation gives and how."""
        return {
            "type": calculation.type,
            "unit": calculation.unit,
            "expression": self.expression(calculation.expression),
        }

    def expression(self, expression: Expression) -> Canonical:
        """An expression, parts in their order."""
        match expression:
            case Of(name):
                return {"of": name}
            case Constant(value):
                return {"number": self.number(value)}
            case NamedNumber():
                return {"number": self.number(expression)}
            case Arithmetic(op, parts):
                return {op: [self.expression(part) for part in parts]}
            case Over(op, over, where, are, of):
                of_what = None if of is None else self.expression(of)
                return {op: over, "where": self.boxes(where), "are": self.boxes(are), "of": of_what}
            case Grouped() | Uncovered() | Nearest():
                return self._of_list(expression)
            case Tiers(of, steps):
                rates: list[Canonical] = [[self.number(end), self.number(rate)] for end, rate in steps]
                return {"tiers": self.expression(of), "steps": rates}
            case LookUp(by, table, otherwise):
                rows = _sorted([self.value(k), self.value(v)] for k, v in table.items())
                return {"look_up": by, "table": rows, "otherwise": None if otherwise is None else self.value(otherwise)}
            case Comparison(left, relation, right):
                return {"value": self.expression(left), relation: self.expression(right)}
            case WhereBox(boxes):
                return {"where": self.boxes(boxes)}
            case ByReading(reading, alternatives):
                ways: Canonical = {name: self.expression(each) for name, each in alternatives.items()}
                return {"by_reading": reading, "alternatives": ways}

    def _of_list(self, expression: Grouped | Uncovered | Nearest) -> Canonical:
        where = self.boxes(expression.where)
        match expression:
            case Grouped(op, over, _, by, figure, are, of):
                of_what = None if of is None else self.expression(of)
                own: dict[str, Canonical] = {op: over, "group_by": by, figure: of_what, "are": self.boxes(are)}
            case Uncovered(length, over, _, at, reach):
                parts = {"length": length, "at": at, "reach": reach}
                own = {"uncovered_length": over, **{key: self.expression(part) for key, part in parts.items()}}
            case Nearest(over, _, along, on, x, y, otherwise):
                optional = {"along": along, "x": x, "y": y, "otherwise": otherwise}
                taken = {key: None if part is None else self.expression(part) for key, part in optional.items()}
                own = {"nearest": over, "on": on, **taken}
        return {**own, "where": where}


def _sorted(items: Iterable[Canonical]) -> list[Canonical]:
    return sorted(items, key=lambda item: json.dumps(item, sort_keys=True))


# ---- reading back ------------------------------------------------------------------------------------------------

_ARITHMETIC = ("times", "plus", "minus", "ratio", "round_up")
_OVER = ("any", "all", "count", "sum", "largest", "smallest", "share")
_RELATIONS = ("at_least", "more_than", "at_most", "less_than", "equals")


class Reader:
    """Reads canonical data back into what it was written of, named numbers staying the numbers they were.

    Every method raises ValueError, saying what is wrong, for data that cannot have been written of any rule of this
    rulebook.
    """

    def __init__(self, book: Book) -> None:
        self.book = book

    def number(self, data: Any) -> Number:
        """A number, or the name of one that was not set."""
        if isinstance(data, str) and data.startswith("value."):
            return NamedNumber(data.removeprefix("value."))
        try:
            return Fraction(_text(data, "a number"))
        except (ValueError, ZeroDivisionError):
            raise ValueError(f"`{data}` is no exact number") from None

    def value(self, type_: FactType, data: Any) -> Value | NamedNumber:
        """A value of an input of this type."""
        if type_ == "yes_no":
            if not isinstance(data, bool):
                raise ValueError(f"`{data}` is not yes or no")
            return data
        return self.number(data) if type_ == "number" else _text(data, "a word")

    def type_of(self, name: str) -> FactType:
        """The type of an input's values. Raises ValueError for a name that this rulebook does not have."""
        if name.startswith(("reading.", "answer.")):
            return "choice"
        if name in self.book.facts:
            return self.book.facts[name].type
        if name in self.book.calculations:
            return self.book.calculations[name].type
        hint = suggest(name, [*self.book.facts, *self.book.calculations])
        raise ValueError(f"`{name}` is no fact and no calculation of this rulebook{hint}")

    def cell(self, name: str, data: Any) -> Cell:
        """A cell on this input."""
        cell = _mapping(data, f"a cell on `{name}`")
        if set(cell) == {"low", "low_open", "high", "high_open"}:
            low, high = (None if cell[end] is None else self.number(cell[end]) for end in ("low", "high"))
            return Within(low, _flag(cell["low_open"]), high, _flag(cell["high_open"]))
        if set(cell) in ({"one_of"}, {"none_of"}):
            type_ = self.type_of(name)
            values = frozenset(self.value(type_, each) for each in _list(next(iter(cell.values())), "values"))
            return OneOf(values) if "one_of" in cell else NoneOf(values)
        raise ValueError(f"a cell on `{name}` has {_keys(cell)}")

    def box(self, data: Any) -> Box:
        """A box."""
        return {name: self.cell(name, cell) for name, cell in _mapping(data, "a box").items()}

    def boxes(self, data: Any) -> tuple[Box, ...]:
        """A list of boxes."""
        return tuple(self.box(box) for box in _list(data, "boxes"))

    def links(self, data: Any) -> tuple[str, ...]:
        """The ids of rules that a rule prevails over."""
        return tuple(_text(each, "a rule's id") for each in _list(data, "rules"))

    def expression(self, type_: FactType, data: Any) -> Expression:
        """An expression whose result has this type."""
        it = _mapping(data, "an expression")
        keys = set(it)
        if keys == {"of"}:
            return Of(_text(it["of"], "a name"))
        if keys == {"number"}:
            number = self.number(it["number"])
            return number if isinstance(number, NamedNumber) else Constant(number)
        if keys == {"where"}:
            return WhereBox(self.boxes(it["where"]))
        if keys == {"by_reading", "alternatives"}:
            ways = _mapping(it["alternatives"], "alternatives")
            return ByReading(
                _text(it["by_reading"], "a reading"), {name: self.expression(type_, way) for name, way in ways.items()}
            )
        if keys == {"look_up", "table", "otherwise"}:
            return self._look_up(type_, it)
        if "group_by" in keys or keys & {"uncovered_length", "nearest"}:
            return self._of_list(it)
        if keys == {"tiers", "steps"}:
            return Tiers(self.expression("number", it["tiers"]), self._steps(it["steps"]))
        return self._operation(it)

    def _steps(self, data: Any) -> tuple[tuple[Number | None, Number], ...]:
        steps: list[tuple[Number | None, Number]] = []
        for step in _list(data, "steps"):
            end, rate = _list(step, "a step")
            steps.append((None if end is None else self.number(end), self.number(rate)))
        return tuple(steps)

    def _of_list(self, it: Mapping[str, Any]) -> Expression:
        """A figure over groups, an uncovered length or a nearest distance. What they take are numbers."""
        if set(it) == {"uncovered_length", "length", "at", "reach", "where"}:
            length, at, reach = (self.expression("number", it[key]) for key in ("length", "at", "reach"))
            return Uncovered(length, _text(it["uncovered_length"], "a list"), self.boxes(it["where"]), at, reach)
        if set(it) == {"nearest", "on", "along", "x", "y", "otherwise", "where"}:
            along, x, y, otherwise = (
                None if it[key] is None else self.expression("number", it[key])
                for key in ("along", "x", "y", "otherwise")
            )
            on = None if it["on"] is None else cast(Kind, _text(it["on"], "a kind of thing"))
            return Nearest(_text(it["nearest"], "a list"), self.boxes(it["where"]), along, on, x, y, otherwise)
        for op in ("largest", "smallest"):
            for figure in ("count", "sum", "share"):
                if set(it) == {op, "group_by", figure, "are", "where"}:
                    of = None if it[figure] is None else self.expression("number", it[figure])
                    by, over = _text(it["group_by"], "a name"), _text(it[op], "a list")
                    where, are = self.boxes(it["where"]), self.boxes(it["are"])
                    return Grouped(cast(Any, op), over, where, by, cast(Any, figure), are, of)
        raise ValueError(f"an expression has {_keys(it)}")

    def _look_up(self, type_: FactType, it: Mapping[str, Any]) -> LookUp:
        by = _text(it["look_up"], "a name")
        rows: dict[Value, Value] = {}
        for row in _list(it["table"], "rows"):
            key, result = _list(row, "a row")
            rows[self._plain(self.type_of(by), key)] = self._plain(type_, result)
        return LookUp(by, rows, None if it["otherwise"] is None else self._plain(type_, it["otherwise"]))

    def _plain(self, type_: FactType, data: Any) -> Value:
        value = self.value(type_, data)
        if isinstance(value, NamedNumber):
            raise ValueError(f"a look-up names `value.{value.id}`")
        return value

    def _operation(self, it: Mapping[str, Any]) -> Expression:
        """Arithmetic, a figure over a list or a comparison. Their parts are numbers."""
        for relation in _RELATIONS:
            if set(it) == {"value", relation}:
                left, right = self.expression("number", it["value"]), self.expression("number", it[relation])
                return Comparison(left, cast(Any, relation), right)
        for op in _OVER:
            if set(it) == {op, "where", "are", "of"}:
                of = None if it["of"] is None else self.expression("number", it["of"])
                over = _text(it[op], "a list")
                return Over(cast(Any, op), over, self.boxes(it["where"]), self.boxes(it["are"]), of)
        for op in _ARITHMETIC:
            if set(it) == {op}:
                parts = tuple(self.expression("number", part) for part in _list(it[op], "parts"))
                return Arithmetic(cast(Any, op), parts)
        raise ValueError(f"an expression has {_keys(it)}")


def _keys(mapping: Mapping[str, Any]) -> str:
    return f"the keys {', '.join(f'`{key}`' for key in sorted(mapping)) or 'none'}"


def _text(data: Any, what: str) -> str:
    if not isinstance(data, str):
        raise ValueError(f"`{data}` is not {what}")
    return data


def _flag(data: Any) -> bool:
    if not isinstance(data, bool):
        raise ValueError(f"`{data}` is not yes or no")
    return data


def _list(data: Any, what: str) -> Sequence[Any]:
    if not isinstance(data, list):
        raise ValueError(f"`{data}` is no list of {what}")
    return data


def _mapping(data: Any, what: str) -> Mapping[str, Any]:
    if not isinstance(data, dict):
        raise ValueError(f"`{data}` is not {what}")
    return data

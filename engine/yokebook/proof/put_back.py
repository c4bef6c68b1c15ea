"""The text below a layer as it was when an op was pinned, made again from the record of the pin.

Only what the record holds is put back: the rule, number, reading, calculations and lower tables that the pin was made
over. Everything else stays as it is now.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any, Literal, cast

from yokebook.canonical_rules import Canonical, Reader, Writer
from yokebook.changes import question_of, target_of
from yokebook.entities import KIND_OF_PREFIX
from yokebook.model import (
    Alternative,
    At,
    Book,
    Box,
    ByReading,
    Calculation,
    Cell,
    Checked,
    Cite,
    Expression,
    LookUp,
    NumberValue,
    Op,
    Reading,
    Resolved,
    Rule,
    Step,
    Table,
)
from yokebook.pins import Pinned, RecordedPart, RecordedPin
from yokebook.reach import answer_named

_AT = At("a record of pins", 1, 1)
_CITE = Cite("a record of pins", "")
_CHECKED = Checked("assumed", "a record of pins")

#: The parts of a rule's own text, and the fields they are.
_OWN = {
    "where": "where",
    "but not": "but_not",
    "then": "then",
    "exception to": "exception_to",
    "prevails over": "prevails_over",
}


@dataclass(frozen=True)
class Text:
    """A document below a layer, with the rulebook that it stands in."""

    book: Book
    below: Resolved


def put_back(now: Text, op: Op, due: Pinned, recorded: RecordedPin) -> Text:
    """The text below as it was when `op` was pinned. Named numbers that the rules still use keep their names.

    Raises ValueError, saying what is wrong, where the record does not keep the old text or it cannot be read back.
    """
    if not recorded.whole:
        raise ValueError("the record is from before old texts were kept whole")
    try:
        return _Putting(now, due, recorded).done(*target_of(op))
    except (KeyError, TypeError, AttributeError):
        raise ValueError("the record does not hold all that the pin was made over") from None


class _Putting:
    """One text on its way back."""

    def __init__(self, now: Text, due: Pinned, recorded: RecordedPin) -> None:
        self.due = due
        self.parts = recorded.parts
        self.book, self.below = now.book, now.below
        self.reader = Reader(now.book)
        self.values = _numbers_back(now.below.values, recorded.numbers)
        self.below = replace(self.below, values=self.values)
        self.write = Writer(self.values)

    def done(self, kind: Literal["rule", "none_fires", "value", "reading"], name: str) -> Text:
        if kind == "value":
            self._value(name)
        elif kind == "reading":
            whole = {part: self.parts[part].canonical for part in ("alternatives", "plain", "chosen below")}
            self._reading(name, whole)
        elif kind == "none_fires":
            table = self.below.tables[question_of(name)]
            then = self.parts["then"].canonical
            self._table(replace(table, none_fires=replace(table.none_fires, then=cast("str | None", then))))
        else:
            self._own_rule(name)
        for name, part in self._others(kind):
            self._other(name, part.canonical)
        return Text(self.book, self.below)

    def _others(self, kind: str) -> Iterator[tuple[str, RecordedPart]]:
        """The parts that are not the op's own, those that moved."""
        own = {
            "value": {"value", "stricter"},
            "reading": {"alternatives", "plain", "chosen below"},
            "none_fires": {"then"},
            "rule": set(_OWN),
        }[kind]
        for name, part in self.parts.items():
            if name not in own and part.digest != self.due.digests.get(name):
                yield name, part

    def _other(self, name: str, data: Canonical) -> None:
        answer = answer_named(name, self.book)
        if name.startswith("reading."):
            self._reading(name.removeprefix("reading."), cast("dict[str, Any]", data))
        elif answer is not None and isinstance(data, dict):
            if answer[1] not in self.below.tables:
                raise ValueError(f"`{answer[1]}` is no table of this edition any more")
            self._table(self._old_table(self.below.tables[answer[1]], data))
        elif answer is None:
            self._calculation(name, cast("dict[str, Any]", data))

    # ---- numbers and readings ---------------------------------------------------------------------------------------

    def _value(self, name: str) -> None:
        number, _, unit = str(self.parts["value"].canonical).partition(" ")
        now = self.below.values[name]
        if unit != (now.unit or ""):
            raise ValueError(f"`value.{name}` was in `{unit or 'no unit'}`, and is in `{now.unit or 'no unit'}` now")
        old = replace(
            now, value=_fraction(number), stricter=cast("Literal['lower']", str(self.parts["stricter"].canonical))
        )
        self.below = replace(self.below, values={**self.below.values, name: old})

    def _reading(self, name: str, data: Mapping[str, Any]) -> None:
        if name not in self.book.readings:
            raise ValueError(f"`{name}` is no reading of this rulebook any more")
        now = self.book.readings[name]
        standing: Mapping[str, Any] = data["alternatives"]
        in_order = [*(each for each in now.alternatives if each in standing), *standing]
        alternatives = {each: _alternative(now, each, standing[each]) for each in in_order}
        old = replace(now, plain=str(data["plain"]), alternatives=alternatives)
        self.book = replace(self.book, readings={**self.book.readings, name: old})
        write = Writer(self.values)
        there = [(alt, None if box is None else write.box(box)) for r, alt, box, _ in self.below.chosen if r == name]
        if [list(each) for each in there] != data["chosen below"]:
            made = [
                (name, str(alternative), None if box is None else self.reader.box(box), _step(self.below, name))
                for alternative, box in data["chosen below"]
            ]
            rest = [choice for choice in self.below.chosen if choice[0] != name]
            self.below = replace(self.below, chosen=(*made, *rest))

    # ---- rules, tables, calculations --------------------------------------------------------------------------------

    def _own_rule(self, name: str) -> None:
        table = self.below.tables[question_of(name)]
        data = {field: self.parts[part].canonical for part, field in _OWN.items()}
        self._table(
            replace(table, rules=tuple(self._old_rule(name, data, r) if r.id == name else r for r in table.rules))
        )

    def _table(self, table: Table) -> None:
        self.below = replace(self.below, tables={**self.below.tables, table.question: table})

    def _old_table(self, now: Table, data: Mapping[str, Any]) -> Table:
        there = {rule.id: rule for rule in now.rules}
        rules = tuple(self._old_rule(str(each["id"]), each, there.get(str(each["id"]))) for each in data["rules"])
        return replace(now, rules=rules, none_fires=replace(now.none_fires, then=data["none_fires"]))

    def _old_rule(self, name: str, data: Mapping[str, Any], now: Rule | None) -> Rule:
        if now is not None and self.write.rule(now) == {**data, "id": name}:
            return now
        blank = Rule(name, (), (), "", (), (), "", _CITE, _CHECKED, _AT) if now is None else now
        cells = list(_cells(blank))
        return replace(
            blank,
            where=self._boxes(data["where"], cells),
            but_not=self._boxes(data["but_not"], cells),
            then=str(data["then"]),
            exception_to="all" if data["exception_to"] == "all" else self.reader.links(data["exception_to"]),
            prevails_over=self.reader.links(data["prevails_over"]),
        )

    def _boxes(self, data: Any, cells: list[tuple[str, Cell]]) -> tuple[Box, ...]:
        """Old boxes, in which a cell that the rule still has with the numbers as they were is that cell."""
        same = {(name, str(self.write.cell(cell))): cell for name, cell in cells}
        return tuple(
            {name: same.get((name, str(self.write.cell(cell))), cell) for name, cell in box.items()}
            for box in self.reader.boxes(data)
        )

    def _calculation(self, name: str, data: Mapping[str, Any]) -> None:
        now = self.book.calculations.get(name)
        if now is not None and self.write.calculation(now) == data:
            return
        type_ = data["type"]
        expression = self.reader.expression(type_, data["expression"])
        if now is None:
            kind = KIND_OF_PREFIX.get(name.partition(".")[0])
            if kind is None:
                raise ValueError(f"`{name}` was a calculation of no kind of thing there is now")
            now = Calculation(name, kind, type_, "", None, {}, expression, None, _CHECKED, _AT)
        words = {str(v): str(v) for v in _results(expression)} if type_ == "choice" else {}
        old = replace(now, type=type_, unit=data["unit"], expression=expression, values={**now.values, **words})
        self.book = replace(self.book, calculations={**self.book.calculations, name: old})


def _numbers_back(values: Mapping[str, NumberValue], old: Mapping[str, str]) -> dict[str, NumberValue]:
    """The named numbers, those used as they were then."""
    back = {name: replace(values[name], value=_fraction(text)) for name, text in old.items() if name in values}
    return {**values, **back}


def _fraction(text: str) -> Fraction:
    try:
        return Fraction(text)
    except (ValueError, ZeroDivisionError):
        raise ValueError(f"`{text}` is no exact number") from None


def _alternative(now: Reading, name: str, standing: Any) -> Alternative:
    there = now.alternatives.get(name)
    return Alternative(name, name, standing, "", "") if there is None else replace(there, standing=standing)


def _step(below: Resolved, reading: str) -> Step:
    made = [step for name, _, _, step in below.chosen if name == reading]
    return made[0] if made else Step("a layer below", "choose_reading", None, "", _AT)


def _cells(rule: Rule) -> Iterator[tuple[str, Cell]]:
    for box in (*rule.where, *rule.but_not):
        yield from box.items()


def _results(expression: Expression) -> Iterable[object]:
    """The words that an expression gives by look-ups."""
    if isinstance(expression, LookUp):
        yield from (*expression.table.values(), *(() if expression.otherwise is None else (expression.otherwise,)))
    elif isinstance(expression, ByReading):
        for each in expression.alternatives.values():
            yield from _results(each)

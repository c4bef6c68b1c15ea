"""Every single fault that a hand may make in a row of a table: the table with just that fault, one after the other.

Which of them differ from the table, and whether anything in the rulebook's cases would notice, is in `survivors.py`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from yokebook.boxes import CannotJoin, join_boxes
from yokebook.law import Law, plain_cell, plain_number
from yokebook.model import (
    Box,
    Cell,
    NamedNumber,
    NoneFires,
    NoneOf,
    Number,
    OneOf,
    Rule,
    Table,
    Value,
    Within,
)
from yokebook.proof.domains import domain_of
from yokebook.showing import show_value, unit_of
from yokebook.values import Range, Some, in_order

#: A row that somebody wrote: a rule, or what a table says where none fires.
Row = Rule | NoneFires


@dataclass(frozen=True)
class Mutant:
    """A table with one fault: in which row (`TABLE#none_fires` for what it says where no rule fires), of which kind,
    and in words."""

    rule_id: str
    kind: str
    words: str
    table: Table


def mutants(law: Law, question: str, own: Callable[[Row], bool]) -> Iterator[Mutant]:
    """Every mutant of the rows of a law's table for which `own` says yes, row by row."""
    maker = _Maker(law, question)
    for rule in maker.table.rules:
        if own(rule):
            yield from maker.of_rule(rule)
    if own(maker.table.none_fires):
        yield from maker.of_none_fires()


class _Maker:
    """Makes the mutants of one table."""

    def __init__(self, law: Law, question: str) -> None:
        self.law = law
        self.asked = law.book.questions[question]
        self.table = law.resolved.tables[question]
        self.cells = _Cells(law, question)

    def of_none_fires(self) -> Iterator[Mutant]:
        """Another word where no rule fires."""
        now = self.table.none_fires
        for word in () if now.then is None else self._others(now.then):
            table = replace(self.table, none_fires=replace(now, then=word))
            name = f"{self.table.question}#none_fires"
            yield Mutant(name, "other outcome", f"says `{word}` where no rule fires", table)

    def of_rule(self, rule: Rule) -> Iterator[Mutant]:
        """Every fault in one rule."""
        others = tuple(each for each in self.table.rules if each is not rule)
        yield Mutant(rule.id, "drop rule", "the rule is left out", replace(self.table, rules=others))
        yield from self._boxes(rule, "where")
        yield from self._boxes(rule, "but_not")
        yield from self._links(rule)
        for word in self._others(rule.then):
            yield self._with(rule, "other outcome", f"says `{word}`", replace(rule, then=word))

    def _others(self, word: str) -> list[str]:
        return [other for other in self.asked.outcomes if other != word]

    def _with(self, rule: Rule, kind: str, words: str, instead: Rule) -> Mutant:
        rules = tuple(instead if each is rule else each for each in self.table.rules)
        return Mutant(rule.id, kind, words, replace(self.table, rules=rules))

    # ---- boxes ------------------------------------------------------------------------------------------------------

    def _boxes(self, rule: Rule, part: str) -> Iterator[Mutant]:
        boxes = rule.where if part == "where" else rule.but_not
        for number, box in enumerate(boxes):
            which = f"`{part}`" if len(boxes) == 1 else f"box {number + 1} of `{part}`"
            for kind, words, changed in self._changed(box):
                now = (*boxes[:number], changed, *boxes[number + 1 :])
                yield self._with(rule, kind, f"{words} in {which}", _with_boxes(rule, part, now))
            if len(boxes) > 1 or part == "but_not":
                left = (*boxes[:number], *boxes[number + 1 :])
                yield self._with(rule, "drop box", f"{which} is left out", _with_boxes(rule, part, left))

    def _changed(self, box: Box) -> Iterator[tuple[str, str, Box]]:
        """A box with one cell left out or changed: kind, words, box."""
        for name, cell in box.items():
            less = {other: kept for other, kept in box.items() if other != name}
            yield "drop cell", f"`{name}` is left out", less
            for kind, words, changed in self.cells.changed(name, cell):
                yield kind, f"`{name}` {words}", {**box, name: changed}

    # ---- which rule prevails ----------------------------------------------------------------------------------------

    def _links(self, rule: Rule) -> Iterator[Mutant]:
        if rule.exception_to == "all":
            yield self._with(rule, "drop link", "is an exception to none", replace(rule, exception_to=()))
        else:
            for other in rule.exception_to:
                left = tuple(each for each in rule.exception_to if each != other)
                words = f"is no exception to `{other}`"
                yield self._with(rule, "drop link", words, replace(rule, exception_to=left))
        for other in rule.prevails_over:
            left = tuple(each for each in rule.prevails_over if each != other)
            words = f"does not prevail over `{other}`"
            yield self._with(rule, "drop link", words, replace(rule, prevails_over=left))
        if rule.exception_to or rule.prevails_over:
            return
        for each in self.table.rules:
            if each.then != rule.then and _meet(rule.where, each.where):
                words = f"is an exception to `{each.id}`"
                yield self._with(rule, "add link", words, replace(rule, exception_to=(each.id,)))


def _with_boxes(rule: Rule, part: str, boxes: tuple[Box, ...]) -> Rule:
    return replace(rule, where=boxes) if part == "where" else replace(rule, but_not=boxes)


def _meet(one: Sequence[Box], other: Sequence[Box]) -> bool:
    """Whether two rules may fire together, as far as their boxes show."""
    try:
        return bool(join_boxes(one, other))
    except CannotJoin:
        return True


class _Cells:
    """Changes single cells of one table."""

    def __init__(self, law: Law, question: str) -> None:
        self.law = law
        self.asked = law.book.questions[question]
        self.bounds = _bounds(law, question)

    def changed(self, name: str, cell: Cell) -> Iterator[tuple[str, str, Cell]]:
        """The cell with one fault: kind, words, cell."""
        if isinstance(cell, Within):
            yield from self._ends(name, cell)
        else:
            yield from self._values(name, cell)

    # ---- ranges -----------------------------------------------------------------------------------------------------

    def _ends(self, name: str, cell: Within) -> Iterator[tuple[str, str, Cell]]:
        if cell.low is not None:
            flipped, word = replace(cell, low_open=not cell.low_open), "at least" if cell.low_open else "more than"
            yield "flip bound", f"is {word} {self._shown(name, cell.low)}", flipped
            for number in self._beside(name, cell.low):
                word = "more than" if cell.low_open else "at least"
                yield "shift bound", f"is {word} {self._shown(name, number)}", replace(cell, low=number)
        if cell.high is not None:
            flipped, word = replace(cell, high_open=not cell.high_open), "at most" if cell.high_open else "less than"
            yield "flip bound", f"is {word} {self._shown(name, cell.high)}", flipped
            for number in self._beside(name, cell.high):
                word = "less than" if cell.high_open else "at most"
                yield "shift bound", f"is {word} {self._shown(name, number)}", replace(cell, high=number)

    def _shown(self, name: str, number: Number) -> str:
        return show_value(plain_number(number, self.law.resolved.values, name), unit_of(self.law.book, name))

    def _beside(self, name: str, number: Number) -> tuple[Fraction, Fraction]:
        """A number a small step below and one above: the step is 1 for what is counted, else the smaller of 1 and a
        tenth of the number; a bound that the table has on the input comes first where it is nearer."""
        at = plain_number(number, self.law.resolved.values, name)
        every, _ = domain_of(self.law, self.asked, name, self.law.book)
        counted = isinstance(every, Range) and every.whole
        step = Fraction(1) if counted or at == 0 else min(Fraction(1), abs(at) / 10)
        below = max([at - step, *(n for n in self.bounds.get(name, ()) if n < at)])
        above = min([at + step, *(n for n in self.bounds.get(name, ()) if n > at)])
        return below, above

    # ---- lists of values --------------------------------------------------------------------------------------------

    def _values(self, name: str, cell: OneOf | NoneOf) -> Iterator[tuple[str, str, Cell]]:
        plain = plain_cell(cell, self.law.resolved.values, name)
        assert isinstance(plain, OneOf | NoneOf)
        values = frozenset(v for v in plain.values if not isinstance(v, NamedNumber))
        if len(values) == 1 and isinstance(next(iter(values)), bool):
            yield self._listed("negate", name, cell, frozenset({True, False}) - values)
            return
        for value in in_order(values):
            if len(values) > 1:
                yield self._listed("remove value", name, cell, values - {value})
        for value in self._more(name, values):
            yield self._listed("add value", name, cell, values | {value})
        for value in in_order(values):
            if isinstance(value, Fraction):
                for number in self._beside(name, value):
                    yield self._listed("shift bound", name, cell, values - {value} | {number})

    def _listed(
        self, kind: str, name: str, cell: OneOf | NoneOf, values: frozenset[Value]
    ) -> tuple[str, str, Cell]:
        changed = replace(cell, values=values)
        return kind, f"is {self._list(name, changed)}", changed

    def _list(self, name: str, cell: OneOf | NoneOf) -> str:
        unit = unit_of(self.law.book, name)
        words = " or ".join(
            show_value(v, unit) for v in in_order(v for v in cell.values if not isinstance(v, NamedNumber))
        )
        return f"not {words}" if isinstance(cell, NoneOf) else words

    def _more(self, name: str, values: frozenset[Value]) -> list[Value]:
        """The values that the input may have besides these, where they are a list."""
        every, _ = domain_of(self.law, self.asked, name, self.law.book)
        return in_order(every.values - values) if isinstance(every, Some) else []


def _bounds(law: Law, question: str) -> Mapping[str, frozenset[Fraction]]:
    """The numbers that a table's cells name, by input."""
    found: dict[str, set[Fraction]] = {}
    for rule in law.resolved.tables[question].rules:
        for box in (*rule.where, *rule.but_not):
            for name, cell in box.items():
                plain = plain_cell(cell, law.resolved.values, rule.id)
                members = (plain.low, plain.high) if isinstance(plain, Within) else plain.values
                found.setdefault(name, set()).update(n for n in members if isinstance(n, Fraction))
    return {name: frozenset(numbers) for name, numbers in found.items()}

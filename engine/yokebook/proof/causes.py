"""What changed below a table: named numbers inside calculations, readings chosen, answers whose own tables changed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from yokebook.law import Law
from yokebook.model import Book, Box, NumberValue, Step
from yokebook.reach import answer_named, names_in_boxes, names_in_expression, names_in_rule
from yokebook.units import format_number

#: How a number or an outcome moved: against the order in which the rulebook lists outcomes, or as a number says of
#: itself which direction is stricter.
Direction = Literal["stricter", "less strict", "neither"]

#: A question as documents of one kind answer it.
Asked = tuple[str, str]


@dataclass(frozen=True)
class NumberChange:
    """A named number that is not the same; None where one side does not set it."""

    kind: str  # of document
    id: str
    was: str | None
    now: str | None
    direction: Direction
    says: str
    cites: tuple[dict[str, str] | None, dict[str, str] | None]
    by: str  # the edition or amendment that set the new one; of one that went, the old one's


@dataclass(frozen=True)
class ReadingChange:
    """A reading that only one side chooses, or that the two choose differently; `open` where one leaves it open."""

    kind: str  # of document
    id: str
    asks: str
    was: str
    now: str
    by: str


@dataclass(frozen=True)
class Cause:
    """Something below a table that changed: the table's rulings may change through it."""

    what: Literal["number", "reading", "answer"]
    name: str
    words: str


def number_changes(was: Law, now: Law) -> dict[str, NumberChange]:
    """The named numbers that differ, by id."""
    old, new = was.resolved.values, now.resolved.values
    found: dict[str, NumberChange] = {}
    for name in sorted({*old, *new}):
        before, after = old.get(name), new.get(name)
        if before is not None and after is not None and (before.value, before.unit) == (after.value, after.unit):
            continue
        told = after or before
        assert told is not None
        found[name] = NumberChange(
            now.kind, name, _number(before), _number(after), _direction(before, after), told.says,
            (_cite(before), _cite(after)), _last(told.chain),
        )  # fmt: skip
    return found


def _number(value: NumberValue | None) -> str | None:
    return None if value is None else format_number(value.value, value.unit)


def _cite(value: NumberValue | None) -> dict[str, str] | None:
    return None if value is None else {"document": value.cite.document, "section": value.cite.section}


def _last(chain: tuple[Step, ...]) -> str:
    changing = [step.by for step in chain if step.op != "carried"]
    return changing[-1] if changing else ""


def _direction(before: NumberValue | None, after: NumberValue | None) -> Direction:
    if before is None or after is None or after.stricter == "neither" or before.unit != after.unit:
        return "neither"
    rose: Fraction = after.value - before.value
    return "stricter" if (rose > 0) == (after.stricter == "higher") else "less strict"


def reading_changes(was: Law, now: Law, book: Book) -> dict[str, ReadingChange]:
    """The readings that the two sides do not choose alike, by id."""
    found: dict[str, ReadingChange] = {}
    for name in sorted({*was.chosen, *now.chosen}):
        old = [(c.alternative, c.where) for c in was.chosen.get(name, ())]
        new = [(c.alternative, c.where) for c in now.chosen.get(name, ())]
        if old == new:
            continue
        chosen = now.chosen.get(name) or was.chosen[name]
        by = dict.fromkeys(c.step.by for c in chosen)
        found[name] = ReadingChange(
            now.kind, name, book.readings[name].asks, _choice(old), _choice(new), ", ".join(by)
        )
    return found


def _choice(chosen: list[tuple[str, Box | None]]) -> str:
    """What is chosen in words."""
    parts = [alternative if where is None else f"{alternative} for some records" for alternative, where in chosen]
    return "; ".join(parts) or "open"


class Causes:
    """What each question reaches that changed, for all kinds of document of two codes.

    `moved` says in words of each question with a change of its own what that is.
    """

    def __init__(
        self,
        book: Book,
        laws: Mapping[str, tuple[Law, Law]],
        numbers: Mapping[str, Mapping[str, NumberChange]],
        readings: Mapping[str, Mapping[str, ReadingChange]],
        moved: Mapping[Asked, str],
    ) -> None:
        self.book = book
        self.laws = laws
        self.numbers = numbers
        self.readings = readings
        self.moved = moved

    def of(self, asked: Asked) -> tuple[list[Cause], list[Asked]]:
        """Everything below a question that changed, each once by the shortest way, and the answers that it reaches."""
        causes: dict[tuple[str, str, str], Cause] = {}
        answers: dict[Asked, None] = {}
        seen: set[tuple[str, str]] = set()
        # a name, who takes it, the answers on the way to it, and the kind of document whose numbers and answers it has
        waiting: list[tuple[str, str, tuple[str, ...], str]] = [
            (name, "", (), asked[0]) for name in self._of_table(asked)
        ]
        for name, user, via, kind in waiting:  # grows while it is walked
            if (kind, name) in seen:
                continue
            seen.add((kind, name))
            for cause in self._cause(kind, name, user, via):
                causes.setdefault((kind, cause.what, cause.name), cause)
            answer = answer_named(name, self.book)
            if answer is not None:
                below = (answer[0] or kind, answer[1])
                answers[below] = None
                further = (*via, name)
                waiting += [(inner, name, further, below[0]) for inner in self._of_table(below)]
            else:
                waiting += [(inner, name, via, kind) for inner in self._behind(name)]
        return list(causes.values()), list(answers)

    def _of_table(self, asked: Asked) -> list[str]:
        """What the rules of both sides' tables name, without the numbers in their cells: these are part of the table,
        and what they change it does."""
        found: dict[str, None] = {}
        for law in self.laws.get(asked[0], ()):
            if law.answers(asked[1]):
                found.update(
                    (name, None) for rule in law.resolved.tables[asked[1]].rules for name in names_in_rule(rule)
                )
        return [name for name in found if not name.startswith("value.")]

    def _behind(self, name: str) -> Iterable[str]:
        if name in self.book.calculations:
            return names_in_expression(self.book.calculations[name].expression)
        if name in self.book.facts and (box := self.book.facts[name].applies_when) is not None:
            return names_in_boxes([box])
        if name.startswith("reading."):  # a choice may hold for some records only
            boxes = [
                chosen.where
                for pair in self.laws.values()
                for law in pair
                for chosen in law.chosen.get(name.removeprefix("reading."), ())
                if chosen.where is not None
            ]
            return names_in_boxes(boxes)
        return ()

    def _cause(self, kind: str, name: str, user: str, via: tuple[str, ...]) -> Iterator[Cause]:
        further = via[:-1] if via[-1:] == (user,) else via
        way = f", by way of {', '.join(further)}" if further else ""
        used = f", used by {user}" if user else ""
        if name.startswith("value."):
            number = self.numbers.get(kind, {}).get(name.removeprefix("value."))
            if number is not None:
                moved = f"{number.was or 'not set'}, now {number.now or 'not set'}"
                yield Cause("number", name, f"{name}: {moved}{used}{way}")
        elif name.startswith("reading."):
            reading = self.readings.get(kind, {}).get(name.removeprefix("reading."))
            if reading is not None:
                yield Cause("reading", name, f"{name}: {reading.was}, now {reading.now} ({reading.by}){used}{way}")
        else:
            answer = answer_named(name, self.book)
            if answer is not None:
                below = (answer[0] or kind, answer[1])
                if below in self.moved:
                    yield Cause("answer", name, f"{name}: {self.moved[below]}{used}{way}")

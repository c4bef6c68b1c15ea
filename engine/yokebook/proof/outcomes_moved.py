"""Whether a text that moved gives any record another outcome: exactly where only a table's own text moved, else by a
search for a record that shows it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product
from typing import Literal

from yokebook.canonical_rules import Canonical, Writer
from yokebook.law import Law, LawFault, plain_cell
from yokebook.model import Book, Box, NoneOf, OneOf, Resolved, Rule, Table
from yokebook.proof.cover import NotDecided, Region
from yokebook.proof.deciding_rows import Says
from yokebook.proof.differences import Difference, at_boundary, differences
from yokebook.proof.elements import Side, Space, space_of
from yokebook.proof.shown import point_data, point_of, record_data, region_data
from yokebook.proof.two_laws import Readings, Shown, State, TwoLaws
from yokebook.reach import answer_named, names_in_boxes, names_in_rule, names_reached
from yokebook.session import published

Effect = Literal["editorial", "no outcome changes", "changes outcomes", "not shown to change any outcome"]

#: How many combinations of alternatives of readings are ruled on at once.
_MOST_READINGS = 8


@dataclass(frozen=True)
class Changed:
    """Records of one table that get another outcome: the old one and the new, the widest region where it is worked out
    exactly, and a raw record that shows it where one was found."""

    question: str
    was: str
    now: str
    region: tuple[Mapping[str, str], ...] = ()
    regions: tuple[tuple[Mapping[str, str], ...], ...] = ()
    more: int = 0
    boundary: tuple[str, ...] = ()
    point: tuple[tuple[str, str], ...] = ()
    record: Mapping[str, object] | None = None


@dataclass(frozen=True)
class Weighed:
    """What a moved text does to a table's outcomes. `exact`: worked out over all values of the table's inputs, not
    searched for; then `changed` may hold differences of which no raw record was found. `why` says what stood in the way
    of working it out, "" where nothing did."""

    question: str
    effect: Effect
    changed: tuple[Changed, ...] = ()
    exact: bool = True
    why: str = ""


class Weighing:
    """Weighs the tables of one state of the law against another state of it, each table once."""

    def __init__(self, was: State, now: State) -> None:
        self.was, self.now = was, now
        self.write = {True: Writer(was.law.resolved.values), False: Writer(now.law.resolved.values)}
        self._done: dict[str, Weighed] = {}

    def of(self, question: str) -> Weighed:
        """What moved in a table, or in what it reaches, does to its outcomes."""
        if question not in self._done:
            try:
                self._done[question] = self._weigh(question)
            except LawFault as fault:
                self._done[question] = _not_shown(question, str(fault))
        return self._done[question]

    def _weigh(self, question: str) -> Weighed:
        moved = _Moved(self, question)
        if not moved.anything:
            return Weighed(question, "no outcome changes")
        if moved.only_own_text:
            try:
                return self._exactly(question)
            except NotDecided:
                return self._searched(question, moved, "it would take too many steps")
        return self._searched(question, moved, moved.why)

    def _exactly(self, question: str) -> Weighed:
        sides = [Side(_held(state.law), question) for state in (self.was, self.now)]
        space = space_of(sides, self.now.book, tied=True)
        found = differences(space)
        if not found:
            return Weighed(question, "no outcome changes")
        changed = tuple(self._changed(space, each) for each in found)
        if all(each.record is None for each in changed):
            # what ties inputs is not all known: where no record shows it, the difference may be one that cannot occur
            return Weighed(question, "not shown to change any outcome", changed)
        return Weighed(question, "changes outcomes", changed)

    def _changed(self, space: Space, change: Difference) -> Changed:
        question = space.question.id
        shown: Shown | None = None
        region = change.regions[0]
        for region in change.regions:
            shown = self._show(space, region, change)
            if shown is not None:
                break
        return Changed(
            question,
            said_words(change.was),
            said_words(change.now),
            tuple(region_data(space, region)),
            tuple(tuple(region_data(space, each)) for each in change.regions if each != region),
            change.more,
            tuple(at_boundary(space, region)),
            tuple(point_data(self.now.book, point_of(space, region)).items()),
            None if shown is None else _record(self.now.book, shown),
        )

    def _show(self, space: Space, region: Region, change: Difference) -> Shown | None:
        """A raw record of the region on which the two states differ by the evaluator, as the tables do."""
        question = space.question.id
        found = self.now.realiser.find(question, space.spans(region), change.now[0])
        shown = None if found is None else TwoLaws(self.was, self.now, question).near(found)
        said = (said_words(change.was), said_words(change.now))
        return shown if shown is not None and (shown.was, shown.now) == said else None

    def _searched(self, question: str, moved: _Moved, why: str) -> Weighed:
        search = TwoLaws(self.was, self.now, question, *moved.readings)
        shown = search.anywhere(moved.inputs, only_through=moved.only_inputs)
        if shown is None:
            return _not_shown(question, why)
        changed = Changed(question, shown.was, shown.now, record=_record(self.now.book, shown))
        return Weighed(question, "changes outcomes", (changed,), exact=False, why=why)


def _not_shown(question: str, why: str) -> Weighed:
    return Weighed(question, "not shown to change any outcome", exact=False, why=why)


def said_words(says: Says) -> str:
    """What a table says, as a word: the outcome, `conflict` or `silent`."""
    return says[1] or says[0]


def _record(book: Book, shown: Shown) -> dict[str, object]:
    return {**record_data(book, shown.record), "outcome": shown.now, "was": shown.was}


# ---- what moved ------------------------------------------------------------------------------------------------------


class _Moved:
    """What is not the same in two states, as far as one table reaches."""

    def __init__(self, weighing: Weighing, question: str) -> None:
        self.of = weighing
        self.question = question
        self.books = {True: weighing.was.book, False: weighing.now.book}
        self.laws = {True: weighing.was.law, False: weighing.now.law}
        self.direct = {old: self._named(old) for old in (True, False)}
        self.reached = self._all_reached(self.direct[True] | self.direct[False])
        own = {old: weighing.write[old].table(self.laws[old].resolved.tables[question]) for old in (True, False)}
        self.own = own[True] != own[False]
        self.figures = {name for name in self.reached if self._figure_moved(name)}
        self.answers = {name for name in self.reached if self._answer_moved(name)}
        names = {name.removeprefix("reading.") for name in self.reached if name.startswith("reading.")}
        self.changed_readings = {name for name in names if self._reading(True, name) != self._reading(False, name)}
        self.impossible = self._impossible(True) != self._impossible(False)

    @property
    def anything(self) -> bool:
        """Whether anything moved at all."""
        return bool(self.own or self.figures or self.answers or self.changed_readings or self.impossible)

    @property
    def only_own_text(self) -> bool:
        """Whether nothing moved but the table's own rules and readings that a layer chose for every record."""
        return not self.why

    @property
    def only_inputs(self) -> bool:
        """Whether nothing moved but figures and lower answers that the table's own inputs lead to."""
        return not (self.own or self.changed_readings or self.impossible)

    @property
    def why(self) -> str:
        """What moved that makes it a matter of search."""
        told = [f"`{name}` moved" for name in sorted({*self.figures, *self.answers})]
        told += [f"the reading `{name}` moved" for name in sorted(self.changed_readings) if not self._can_hold(name)]
        told += ["what cannot occur moved"] if self.impossible else []
        return " and ".join(told)

    @property
    def inputs(self) -> list[str]:
        """The table's inputs that lead to what moved."""
        gone = {*self.figures, *self.answers}
        return sorted(
            name
            for name in self.direct[True] & self.direct[False]
            if not name.startswith(("reading.", "value.")) and self._all_reached({name}) & gone
        )

    @property
    def readings(self) -> tuple[Sequence[Readings], Sequence[Readings]]:
        """The alternatives to hold before and now of the readings of which others are published now."""
        names = [n for n in sorted(self.changed_readings) if self._published(True, n) != self._published(False, n)]
        before, now = (_combined({name: self._published(old, name) for name in names}) for old in (True, False))
        return before, now

    # ---- one by one -------------------------------------------------------------------------------------------------

    def _named(self, old: bool) -> frozenset[str]:
        table = self.laws[old].resolved.tables[self.question]
        return frozenset(name for rule in table.rules for name in names_in_rule(rule))

    def _all_reached(self, names: frozenset[str] | set[str]) -> frozenset[str]:
        """As far as calculations go in either state, with what says where facts apply."""
        return all_reached(names, self.books[True]) | all_reached(names, self.books[False])

    def _figure_moved(self, name: str) -> bool:
        before, now = (self._figure(old, name) for old in (True, False))
        return before != now

    def _figure(self, old: bool, name: str) -> Canonical:
        book, write = self.books[old], self.of.write[old]
        if name in book.calculations:
            return write.calculation(book.calculations[name])
        box = book.facts[name].applies_when if name in book.facts else None
        return None if box is None else write.box(box)

    def _answer_moved(self, name: str) -> bool:
        answer = answer_named(name, self.books[False])
        if answer is None or answer[0] not in (None, self.laws[False].kind) or answer[1] == self.question:
            return False
        there = [self.laws[old].answers(answer[1]) for old in (True, False)]
        if not all(there):
            return any(there)
        return self.of.of(answer[1]).effect != "no outcome changes"

    def _reading(self, old: bool, name: str) -> tuple[Canonical, Sequence[str]]:
        """What a layer chose of a reading, and what is published of it where none did for every record."""
        chosen = self.laws[old].chosen.get(name, [])
        write = self.of.write[old]
        made: list[Canonical] = [[c.alternative, None if c.where is None else write.box(c.where)] for c in chosen]
        return made, self._published(old, name)

    def _published(self, old: bool, name: str) -> list[str]:
        if any(each.where is None for each in self.laws[old].chosen.get(name, [])):
            return []
        return sorted(published(self.books[old], name)) if name in self.books[old].readings else []

    def _can_hold(self, name: str) -> bool:
        """Whether a reading that moved can be held to what was chosen: it is chosen for every record or, before or now,
        for none; the same is published; and no figure turns on it."""
        chosen = [self.laws[old].chosen.get(name, []) for old in (True, False)]
        if any(each.where is not None for choices in chosen for each in choices):
            return False
        if not any(chosen) and self._published(True, name) != self._published(False, name):
            return False
        through = {other for other in self.reached if not other.startswith("reading.")}
        behind = {n for other in through for n in self._all_reached({other}) if other != n}
        return f"reading.{name}" not in behind

    def _impossible(self, old: bool) -> list[Canonical]:
        return [self.of.write[old].box(each.where) for each in self.books[old].impossible]


def all_reached(names: Iterable[str], book: Book) -> frozenset[str]:
    """These names and all that lies behind them through calculations and through what says where facts apply."""
    found = names_reached(names, book)
    boxes = [fact.applies_when for name in found if (fact := book.facts.get(name)) is not None]
    further = {name for box in boxes if box is not None for name in names_in_boxes([box])} - found
    return all_reached(found | further, book) if further else found


def _combined(alternatives: Mapping[str, Sequence[str]]) -> list[Readings]:
    """Every combination of one alternative of each reading; one without any where there is no reading to hold."""
    ways = product(*(each or [""] for each in alternatives.values()))
    made = [{name: word for name, word in zip(alternatives, way, strict=True) if word} for way in ways]
    return list(made[:_MOST_READINGS])


# ---- readings held ---------------------------------------------------------------------------------------------------


def _held(law: Law) -> Law:
    """The law with every reading that is chosen for all records written into its tables: a cell on it is left out where
    it allows what was chosen, and its box where it does not."""
    chosen = {name: choices[0].alternative for name, choices in law.chosen.items() if choices[0].where is None}
    if not chosen:
        return law
    resolved: Resolved = law.resolved
    tables = {name: _held_table(table, law, chosen) for name, table in resolved.tables.items()}
    return Law(replace(resolved, tables=tables), law.book)


def _held_table(table: Table, law: Law, chosen: Mapping[str, str]) -> Table:
    def boxes(rule: Rule, its: tuple[Box, ...]) -> tuple[Box, ...]:
        return tuple(_without(law, rule, box, chosen) for box in its if _allowed(law, rule, box, chosen))

    rules = (replace(rule, where=boxes(rule, rule.where), but_not=boxes(rule, rule.but_not)) for rule in table.rules)
    return replace(table, rules=tuple(rules))


def _on_chosen(box: Box, chosen: Mapping[str, str]) -> Iterator[tuple[str, str]]:
    for name in box:
        if name.startswith("reading.") and name.removeprefix("reading.") in chosen:
            yield name, chosen[name.removeprefix("reading.")]


def _allowed(law: Law, rule: Rule, box: Box, chosen: Mapping[str, str]) -> bool:
    for name, alternative in _on_chosen(box, chosen):
        cell = plain_cell(box[name], law.resolved.values, rule.id)
        assert isinstance(cell, OneOf | NoneOf)
        if (alternative in cell.values) != isinstance(cell, OneOf):
            return False
    return True


def _without(law: Law, rule: Rule, box: Box, chosen: Mapping[str, str]) -> Box:
    out = {name for name, _ in _on_chosen(box, chosen)}
    return {name: cell for name, cell in box.items() if name not in out}

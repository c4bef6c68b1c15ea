"""Amendments whose base has moved: which part of the text below, and whether any record gets another outcome by it,
below the layer and with the amendment on top."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

from yokebook.changes import question_of, target_of
from yokebook.law import InForce, Law
from yokebook.layers import LayerUse, apply_layer, layer_uses
from yokebook.load.faults import RulebookFaults
from yokebook.model import Amendment, Book, Op, Resolved
from yokebook.pins import Pinned, RecordedPin, pin_of_op, wording_of_op
from yokebook.proof.laws import Standing, place_laws
from yokebook.proof.moved_parts import Moved, moved_parts, moved_wording
from yokebook.proof.outcomes_moved import Effect, Weighed, Weighing, all_reached
from yokebook.proof.put_back import Text, put_back
from yokebook.proof.two_laws import State
from yokebook.reach import names_in_rule

#: A record's pins by layer, amendment, op and target.
Records = Mapping[tuple[str, str, str, str], RecordedPin]


@dataclass(frozen=True)
class Level:
    """What a moved base does to outcomes at one level of the law, table by table."""

    effect: Effect
    tables: tuple[Weighed, ...] = ()
    why: str = ""  # what stood in the way of working it out at all


@dataclass(frozen=True)
class MovedBase:
    """An op whose base is no longer as it was pinned. `known` says whether a record of the old text was there to tell
    what moved by; the pin itself holds where only wording moved."""

    use: LayerUse
    amendment: Amendment
    op: Op
    due: Pinned
    laws: tuple[str, ...]
    known: bool
    moved: tuple[Moved, ...]
    wording: tuple[Moved, ...]
    below: Level
    layered: Level

    @property
    def stale(self) -> bool:
        """Whether the pin no longer fits; False where only wording, section or mark of the base moved."""
        return self.op.pin != self.due.pin


def moved_bases(book: Book, place: str, records: Records) -> list[MovedBase]:
    """Every op of a place's layers whose pin no longer fits the text below or, where it fits, whose base is worded,
    cited or marked otherwise than when it was pinned; in file order. Ops without a pin are left out.

    `records` is what the record beside the place's file keeps of each pin; what it lacks is said of each finding.
    """
    found: dict[tuple[str, str], MovedBase] = {}
    shared = _Shared(book)
    for use, wrong in layer_uses(book):
        if use.owner.id != place or wrong:
            continue
        for amendment in use.layer.amendments:
            for op in amendment.ops:
                due = None if op.op == "add" or op.pin is None else pin_of_op(use.below, book, op)
                if due is None:
                    continue
                key, law = (str(op.at), due.pin), shared.name(use)
                if key in found:
                    found[key] = replace(found[key], laws=tuple(dict.fromkeys((*found[key].laws, law))))
                    continue
                recorded = records.get((use.layer.id, amendment.id, op.op, op.target))
                moved = _moved_base(book, use, amendment, op, due, recorded, shared)
                if moved is not None:
                    found[key] = moved
    return sorted(found.values(), key=lambda each: (each.op.at.line, each.op.at.column))


class _Shared:
    """What the ops of a place share: the documents in force beside the one that a layer amends, for each entry, and
    what was weighed already."""

    def __init__(self, book: Book) -> None:
        self.book = book
        self._standings: dict[str, list[Standing]] = {}
        self._weighed: list[tuple[Text, Text, Weighing]] = []

    def name(self, use: LayerUse) -> str:
        """The law that a layer is part of, for people."""
        return f"{use.place.id} {use.entry.id}"

    def of(self, use: LayerUse) -> Mapping[str, InForce]:
        """Every document in force but the amended one, on the first day of the entry."""
        if use.place.id not in self._standings:
            self._standings[use.place.id] = list(place_laws(self.book, frozenset({use.place.id})))
        for standing in self._standings[use.place.id]:
            if standing.entry is use.entry and standing.law.resolved.document.id == use.below.document.id:
                return standing.in_force
        return {}

    def weighing(self, use: LayerUse, was: Text, now: Text) -> Weighing:
        """The weighing of one text against another; of two that were weighed already, that one."""
        for one, other, done in self._weighed:
            if one == was and other == now:
                return done
        beside = self.of(use)
        made = Weighing(*(State(text.book, Law(text.below, text.book), beside) for text in (was, now)))
        self._weighed.append((was, now, made))
        return made


def _moved_base(
    book: Book,
    use: LayerUse,
    amendment: Amendment,
    op: Op,
    due: Pinned,
    recorded: RecordedPin | None,
    shared: _Shared,
) -> MovedBase | None:
    known = recorded is not None and recorded.pin == op.pin
    wording: tuple[Moved, ...] = ()
    if recorded is not None and known:
        wording = tuple(moved_wording(wording_of_op(use.below, book, op), recorded))
    laws = (shared.name(use),)
    if op.pin == due.pin:
        level = Level("editorial")
        return MovedBase(use, amendment, op, due, laws, True, (), wording, level, level) if wording else None
    if recorded is None or not known:
        level = Level("not shown to change any outcome", (), "no record of the text with this pin is kept")
        return MovedBase(use, amendment, op, due, laws, False, (), (), level, level)
    moved = tuple(moved_parts(use.below, due, recorded))
    below, layered = _Levels(book, use, op, due, recorded, shared).weigh()
    return MovedBase(use, amendment, op, due, laws, True, moved, wording, below, layered)


# ---- outcomes -----------------------------------------------------------------------------------------------------


class _Levels:
    """The tables that an op's base concerns, weighed below the layer and with it on top."""

    def __init__(
        self, book: Book, use: LayerUse, op: Op, due: Pinned, recorded: RecordedPin, shared: _Shared
    ) -> None:
        self.book, self.use, self.op, self.due, self.recorded = book, use, op, due, recorded
        self.shared = shared

    def weigh(self) -> tuple[Level, Level]:
        """Below, and layered."""
        try:
            old = self._old
        except ValueError as fault:
            level = Level("not shown to change any outcome", (), str(fault))
            return level, level
        below = self._level(old, Text(self.book, self.use.below))
        try:
            above = [replace(text, below=self._layered(text)) for text in (old, Text(self.book, self.use.below))]
        except RulebookFaults as faults:
            why = f"over the old text the layer cannot be applied: {faults.faults[0].message}"
            return below, Level("not shown to change any outcome", (), why)
        return below, self._level(*above)

    @cached_property
    def _old(self) -> Text:
        return put_back(Text(self.book, self.use.below), self.op, self.due, self.recorded)

    def _layered(self, text: Text) -> Resolved:
        return apply_layer(text.book, text.below, self.use.layer, drafts=True)

    def _level(self, was: Text, now: Text) -> Level:
        weighing = self.shared.weighing(self.use, was, now)
        there = [question for question in now.below.tables if question in was.below.tables]
        tables = tuple(weighing.of(question) for question in there if self._concerned(question, was, now))
        effects = {table.effect for table in tables}
        for effect in ("changes outcomes", "not shown to change any outcome"):
            if effect in effects:
                return Level(effect, tables)
        return Level("no outcome changes", tables)

    def _concerned(self, question: str, was: Text, now: Text) -> bool:
        """Whether it is the table that an op is made in; of a number or reading, whether the table uses it itself or in
        a figure. One that only takes another table's answer changes no more than that one does."""
        kind, name = target_of(self.op)
        if kind in ("rule", "none_fires"):
            return question == question_of(name)
        named = (
            all_reached((n for rule in text.below.tables[question].rules for n in names_in_rule(rule)), text.book)
            for text in (was, now)
        )
        return any(f"{kind}.{name}" in names for names in named)

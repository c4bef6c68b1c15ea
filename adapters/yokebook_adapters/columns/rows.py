"""Rows that the evaluator rules: cells as a flat record, and its ruling as the columns that are added."""

from __future__ import annotations

import gc
from collections.abc import Collection, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass

from yokebook.code import Code
from yokebook.decision import Decision
from yokebook.front_door import FrontDoor
from yokebook.graph import Graph
from yokebook.intake.entry import Entry, Fields, Member, from_python
from yokebook.load.faults import Fault, InputFaults
from yokebook.ruling import Ruling
from yokebook_adapters.columns.given import SourceColumn, Words
from yokebook_adapters.outcome import REFUSED, status_of
from yokebook_adapters.schedule_columns import NOT_GIVEN
from yokebook_adapters.schedule_rows import cell_entry, unfit_cell

_NOT_GIVEN = frozenset(word.casefold() for word in NOT_GIVEN)

#: What the outcome column says of a row whose record was refused.
REFUSED_WORD = "refused"


@dataclass(frozen=True)
class Ruled:
    """What is added to rows that the evaluator rules alike; lists are text with commas between."""

    outcome: str
    rules: str
    ask: str | None
    also_held: str | None
    by: str  # "evaluator", or "front door" for a record that was refused
    faults: tuple[Fault, ...]
    status: int  # the exit status that such a row alone gives


def entry_of(source: SourceColumn, cell: object) -> Entry:
    """A cell as the front door reads it: text as in a CSV schedule, anything else as the value that it is.

    Raises InputFaults for text that cannot be read at all.
    """
    at = f"column `{source.name}`"
    if not isinstance(cell, str):
        return from_python(cell, at)
    text = cell.strip()
    unfit = unfit_cell(text)
    if unfit is not None:
        raise InputFaults([Fault(at, unfit)])
    return cell_entry(text, source.term, at, _NOT_GIVEN, (at, 1))


def record_of(columns: Sequence[SourceColumn], cells: Mapping[str, object], door: FrontDoor) -> Graph:
    """The record of a row, by columns' names. Raises InputFaults with every fault of it, each with its column."""
    members: list[Member] = []
    faults: list[Fault] = []
    for source in columns:
        try:
            entry = entry_of(source, cells.get(source.name))
        except InputFaults as unfit:
            faults += unfit.faults
        else:
            members.append(Member(source.key, entry.at, entry))
    try:
        graph = door.record(Entry("row", Fields(tuple(members))))
    except InputFaults as refused:
        raise InputFaults([*faults, *(_said_once(fault) for fault in refused.faults)]) from None
    if faults:
        raise InputFaults(faults)
    return graph


def _said_once(fault: Fault) -> Fault:
    """The fault of a cell without the name of the fact, where its column is called so."""
    name = str(fault.at).removeprefix("column ")
    return Fault(fault.at, fault.message.removeprefix(f"{name}: "))


class Evaluator:
    """Rules rows on one question, each as it comes. What the law in force said of a row it says again of every other
    that the question cannot tell from it, in later runs under the same `Code` as well."""

    def __init__(self, code: Code, question: str, document: str | None, columns: Sequence[SourceColumn]) -> None:
        self.code = code
        self.question = question
        self.document = code.kind(question, document)
        self.columns = columns
        self.door = FrontDoor(code.book)
        self.against = code.book.questions[question].against
        laws = [each.law for each in code.in_force[self.document].candidates if each.law is not None]
        tables = [law.resolved.tables[question] for law in laws if law.answers(question)]
        ids = dict.fromkeys(rule.id for table in tables for rule in table.rules)
        #: the place in the table of each rule that may stand, by its id
        self.order = {rule: place for place, rule in enumerate(ids)}

    def rule(self, cells: Mapping[str, object]) -> Ruled:
        """The ruling on one row, or why its record was refused."""
        try:
            graph = record_of(self.columns, cells, self.door)
            return self._ruled(self.code.decide(self.question, graph, self.document))
        except InputFaults as refused:
            return Ruled(REFUSED_WORD, "", None, None, "front door", tuple(refused.faults), REFUSED)

    def _ruled(self, decision: Decision) -> Ruled:
        """A decision as columns: the rules that stand in the table's order."""
        held = ", ".join(
            dict.fromkeys(f"{' or '.join(h.outcomes)} ({h.reading}: {h.alternative})" for h in decision.also_held)
        )
        against = decision.outcome in self.against
        return Ruled(
            decision.word,
            ", ".join(sorted(decision.rules, key=self.order.__getitem__)),
            decision.ask[0].fact if decision.ask else None,
            held or None,
            "evaluator",
            (),
            status_of({"status": decision.status, "not_checked": decision.not_checked, "against": against}),
        )

    def explain(self, cells: Mapping[str, object]) -> tuple[Ruling, Graph]:
        """The ruling with every rule tried, and the record. Raises InputFaults for a record that is refused."""
        graph = record_of(self.columns, cells, self.door)
        return self.code.explain(self.question, graph, self.document), graph


@contextmanager
def many_in_a_row() -> Iterator[None]:
    """While many rows are ruled the garbage collector leaves out what was there before: the rulebook above all, which
    it would go through again and again."""
    if gc.get_freeze_count():  # the program keeps things from it already
        yield
        return
    gc.freeze()
    try:
        yield
    finally:
        gc.unfreeze()


def read_words(source: SourceColumn, found: Collection[str], usual: Collection[str], door: FrontDoor) -> Words:
    """What the words of a text column say that are not in a usual form: read by the front door once each."""
    read: dict[str, str | bool | None] = {}
    refused: list[str] = []
    for word in sorted(set(found) - set(usual)):
        try:
            graph = record_of([source], {source.name: word}, door)
        except InputFaults:
            refused.append(word)
            continue
        value = next((thing.given[source.key] for thing in graph if source.key in thing.given), None)
        assert value is None or isinstance(value, str | bool)
        read[word] = value
    return Words(read, tuple(refused))

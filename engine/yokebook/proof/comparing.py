"""Two laws compared: every question of which some record is ruled otherwise, where, by which rules, and a record."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import TypeVar

from yokebook.code import Code
from yokebook.law import InForce, Law
from yokebook.model import Book, Question
from yokebook.parts_of_ruling import rule_head
from yokebook.progress import Progress, nobody
from yokebook.proof.causes import Asked, Causes, number_changes, reading_changes
from yokebook.proof.changes import (
    Change,
    Changes,
    DocumentChange,
    TableChange,
    Through,
    ThroughShown,
    Witness,
    direction_of,
    said_of,
)
from yokebook.proof.cover import STATES, NotDecided, Region
from yokebook.proof.deciding_rows import Says
from yokebook.proof.differences import Difference, Joint, Pair, at_boundary, differences
from yokebook.proof.elements import Side, Space, space_of
from yokebook.proof.possible import UNDER_BOTH, Possible
from yokebook.proof.shown import point_data, point_of, region_data
from yokebook.proof.twins import Key, Shown, Twins
from yokebook.proof.witnesses import moved_inputs, record_of, rows_at, standing_at


def compare(
    was: Code,
    now: Code,
    questions: Collection[str] | None = None,
    document: str | None = None,
    states: int = STATES,
    progress: Progress = nobody,
) -> Changes:
    """What changes from one law to another, for the questions wanted (all by default) of documents of one kind (by
    default of each kind that both have). `document` is a kind or the id of a document. `progress` is told of questions,
    each of which is looked at twice: for itself, and for what comes through others.

    Raises ValueError: rulebooks with different questions, facts, calculations or readings; more than one entry that may
    govern on a side; an unknown question or document.
    """
    _same_book(was, now)
    _one_entry_each(was, now)
    _known(now.book, questions, document)
    return _Comparison(was, now, questions, document, states, progress).make()


def _same_book(was: Code, now: Code) -> None:
    a, b = was.book, now.book
    if a is not b and (a.questions, a.facts, a.impossible, a.calculations, a.readings) != (
        b.questions, b.facts, b.impossible, b.calculations, b.readings,
    ):  # fmt: skip
        raise ValueError("the two laws are of rulebooks with different questions, facts, calculations or readings")


def _one_entry_each(was: Code, now: Code) -> None:
    faults = [*_several("in the old law", was), *_several("in the new law", now)]
    if faults:
        raise ValueError("; ".join(faults))


def _several(where: str, code: Code) -> Iterator[str]:
    for kind, line in code.in_force.items():
        if len(line.candidates) > 1:
            entries = ", ".join(f"`{candidate.id}`" for candidate in line.candidates)
            wanted = " and ".join(_need(need) for need in line.needs)
            yield f"{where} more than one entry may govern the {kind} document ({entries}); give {wanted}"


def _need(need: tuple[str, str, str, tuple[str, ...]]) -> str:
    what, name, _, alternatives = need
    if what == "date":
        return f"the date of the {name}"
    return f"the choice `{name}` ({', '.join(f'`{way}`' for way in alternatives)})"


def _known(book: Book, questions: Collection[str] | None, document: str | None) -> None:
    for question in questions or ():
        if question not in book.questions:
            raise ValueError(f"there is no question `{question}`")
    documents = {name for each in book.documents.values() for name in (each.id, each.kind)}
    if document is not None and document not in documents:
        raise ValueError(f"there is no document `{document}`, and no kind of document of that name")


def _governing(line: InForce | None) -> Law | None:
    return None if line is None else line.candidates[0].law


_T = TypeVar("_T")


@dataclass
class _Compared:
    """One question as two laws answer it."""

    asked: Asked
    space: Space
    changes: list[Change]
    shown: list[Shown]
    same_table: bool


@dataclass
class _Comparison:
    was: Code
    now: Code
    questions: Collection[str] | None
    document: str | None
    states: int
    progress: Progress
    done: dict[Asked, _Compared] = field(default_factory=dict)
    not_decided: list[Asked] = field(default_factory=list)

    @cached_property
    def laws(self) -> dict[str, tuple[Law, Law]]:
        """The laws to compare, by kind of document: of each kind that both sides have."""
        both = {kind: self._pair(kind) for kind in self._kinds()}
        return {kind: (old, new) for kind, (old, new) in both.items() if old is not None and new is not None}

    @cached_property
    def twins(self) -> dict[str, Twins]:
        """By kind of document, what rules a record under both laws."""
        in_force = (self.was.in_force, self.now.in_force)
        return {kind: Twins(self.now.book, pair, in_force) for kind, pair in self.laws.items()}

    def make(self) -> Changes:
        """The comparison of everything that is wanted. What lies below a question is always compared too."""
        book = self.now.book
        laws = self.laws
        only = list(self._only(laws))
        to_compare = self._to_compare()
        for number, (kind, question) in enumerate(to_compare):
            self.progress(number, 2 * len(to_compare))
            self._compare((kind, question), laws[kind])
        numbers = {kind: number_changes(*pair) for kind, pair in laws.items()}
        readings = {kind: reading_changes(*pair, book) for kind, pair in laws.items()}
        causes = Causes(book, laws, numbers, readings, self._moved(only))
        through = self._through(causes)
        wanted = [asked for asked in self.done if self._wanted(asked)]
        return Changes(
            documents=[self._documents(kind) for kind in self._kinds() if self._of_document(kind)],
            tables=[table for table in only if self._wanted((table.kind, table.question))],
            changes=[change for asked in wanted for change in self.done[asked].changes],
            through=[each for each in through if self._wanted((each.kind, each.question))],
            numbers=self._listed(numbers),
            readings=self._listed(readings),
            same=self._same(wanted, through),
            not_decided=[
                {"kind": kind, "question": question} for kind, question in self.not_decided
                if self._wanted((kind, question))
            ],
        )  # fmt: skip

    # ---- what there is to compare -----------------------------------------------------------------------------------

    def _kinds(self) -> list[str]:
        return list(dict.fromkeys((*self.was.in_force, *self.now.in_force)))

    def _pair(self, kind: str) -> tuple[Law | None, Law | None]:
        return _governing(self.was.in_force.get(kind)), _governing(self.now.in_force.get(kind))

    def _of_document(self, kind: str) -> bool:
        if self.document is None or self.document == kind:
            return True
        return any(law is not None and law.resolved.document.id == self.document for law in self._pair(kind))

    def _wanted(self, asked: Asked) -> bool:
        return self._of_document(asked[0]) and (self.questions is None or asked[1] in self.questions)

    def _to_compare(self) -> list[Asked]:
        """The questions in both laws that are wanted, and those that lie below one that is."""
        both = [
            (kind, question)
            for kind, pair in self.laws.items()
            for question in self.now.book.questions
            if all(law.answers(question) for law in pair)
        ]
        reach = Causes(self.now.book, self.laws, {}, {}, {})
        wanted = [asked for asked in both if self._wanted(asked)]
        needed = {*wanted, *(below for asked in wanted for below in reach.of(asked)[1])}
        return [asked for asked in both if asked in needed]

    def _documents(self, kind: str) -> DocumentChange:
        was, now = _document_words(self.was, kind), _document_words(self.now, kind)
        return DocumentChange(kind, was, now, kind in self.laws)

    def _only(self, laws: Mapping[str, tuple[Law, Law]]) -> Iterator[TableChange]:
        """The tables that only one of two laws of one kind has."""
        for kind, pair in laws.items():
            for question in self.now.book.questions.values():
                has = [law.answers(question.id) for law in pair]
                if has[0] != has[1]:
                    law = pair[has.index(True)]
                    table = law.resolved.tables[question.id]
                    chain = [step.by for step in table.none_fires.chain]
                    yield TableChange(
                        question.id, question.ruling, question.asks, kind, "appears" if has[1] else "goes",
                        dict(question.outcomes), chain[0] if chain else "", [rule_head(rule) for rule in table.rules],
                    )  # fmt: skip

    def _moved(self, only: Sequence[TableChange]) -> dict[Asked, str]:
        """What changes about each question by itself, in words, for those that reach it."""
        moved = {
            asked: f"its own table changes ({_pairs_in_words(each.changes)})"
            for asked, each in self.done.items()
            if each.changes
        }
        for table in only:
            moved[table.kind, table.question] = f"answered only {'now' if table.state == 'appears' else 'before'}"
        for asked in self.not_decided:
            moved[asked] = "whether its own table changes was not decided"
        for kind in self._kinds():
            if kind not in self.laws:
                for n, law in enumerate(self._pair(kind)):
                    for question in law.resolved.tables if law is not None else ():
                        moved[kind, question] = f"answered only {'now' if n else 'before'}"
        return moved

    def _listed(self, by_kind: Mapping[str, Mapping[str, _T]]) -> list[_T]:
        return [change for kind, changes in by_kind.items() if self._of_document(kind) for change in changes.values()]

    def _same(self, wanted: Sequence[Asked], through: Sequence[Through]) -> list[dict[str, str]]:
        reached = {(each.kind, each.question) for each in through}
        return [
            {"kind": kind, "question": question}
            for kind, question in wanted
            if not self.done[kind, question].changes and (kind, question) not in reached
        ]

    # ---- tables -----------------------------------------------------------------------------------------------------

    def _compare(self, asked: Asked, pair: tuple[Law, Law]) -> None:
        space = space_of([Side(law, asked[1]) for law in pair], self.now.book)
        try:
            same = next(_pairs(space, self.states), None) is None
            # what can be under one law only comes through what lies below, and is told there
            found = [] if same else differences(space, self.states, Possible(space).likely, UNDER_BOTH)
        except NotDecided:
            self.not_decided.append(asked)
            return
        each = self.done[asked] = _Compared(asked, space, [], [], same)
        for difference in found:
            self._change(each, difference)

    def _change(self, each: _Compared, difference: Difference) -> None:
        space, question = each.space, each.space.question
        regions = list(difference.regions)
        wanted = (_key(difference.was), _key(difference.now))
        twins = self.twins[each.asked[0]]
        shown: Shown | None = None
        for n, region in enumerate(regions):
            shown = twins.in_region(question.id, space.spans(region), wanted)
            if shown is not None:
                regions.insert(0, regions.pop(n))  # the record stands for the region that is told first
                each.shown.append(shown)
                break
        was, now = said_of(question, wanted[0]), said_of(question, wanted[1])
        edges = {name: cell for region in regions for name, cell in _edges(space, region)}
        change = Change(
            question.id, question.ruling, question.asks, each.asked[0], was, now, direction_of(question, was, now),
            [region_data(space, region) for region in regions], difference.more, difference.boundary_only,
            [{"input": name, "is": words} for name, words in edges.items()],
            _witness(twins, space, regions[0], shown),
        )  # fmt: skip
        each.changes.append(change)

    # ---- what comes through -----------------------------------------------------------------------------------------

    def _through(self, causes: Causes) -> list[Through]:
        """What may change through something below, questions below first so that their records help those above."""
        found: dict[Asked, Through] = {}
        records: dict[Asked, list[Shown]] = {asked: list(each.shown) for asked, each in self.done.items()}
        for number, asked in enumerate(self._below_first(causes)):
            self.progress(len(self.done) + number, 2 * len(self.done))
            because, answers = causes.of(asked)
            if not because or not self._wanted(asked):
                continue
            below = [shown for answer in answers for shown in records.get(answer, ())]
            each = self.done[asked]
            twins = self.twins[asked[0]]
            shown = [
                one
                for one in twins.drawn(asked[1], below)
                if each.same_table or moved_inputs(twins, asked[1], one)  # or it is the table's own change
            ]
            records[asked] += shown
            question = each.space.question
            found[asked] = Through(
                question.id, question.ruling, question.asks, asked[0], each.same_table,
                [cause.words for cause in because], [_through_shown(twins, question, one) for one in shown],
            )  # fmt: skip
        return [found[asked] for asked in self.done if asked in found]

    def _below_first(self, causes: Causes) -> list[Asked]:
        return sorted(self.done, key=lambda asked: (len(causes.of(asked)[1]), asked))


def _pairs(space: Space, states: int = STATES, region: Region | None = None) -> Iterator[Pair]:
    """The parts of a space (of a region of it) in which its two sides say different things."""
    was, now = space.rows
    return Joint(was, now, states).pairs(region)


def _key(says: Says) -> Key:
    """What the evaluator calls what a table says."""
    return says if says[0] == "ruled" else (says[0], says[0])


def _edges(space: Space, region: Region) -> Iterator[tuple[str, str]]:
    """The inputs that a region holds to single numbers, and these in words."""
    data = {cell["input"]: cell["is"] for cell in region_data(space, region)}
    yield from ((name, data[name]) for name in at_boundary(space, region) if name in data)


def _witness(twins: Twins, space: Space, region: Region, shown: Shown | None) -> Witness:
    part = next(_pairs(space, region=region)).region
    point = point_data(space.book, point_of(space, part))
    if shown is None:
        low = tuple(mask & -mask for mask in part)
        rules = [rows_at(side, rows, low) for side, rows in zip(space.sides, space.rows, strict=True)]
        return Witness("not shown", point, None, [], *rules)
    return _shown_witness(twins, space.question, shown, point)


def _shown_witness(twins: Twins, question: Question, shown: Shown, point: dict[str, str]) -> Witness:
    rules = [standing_at(law, question.id, leaf) for law, leaf in zip(twins.laws, shown.leaves, strict=True)]
    return Witness("shown", point, record_of(twins.book, shown), moved_inputs(twins, question.id, shown), *rules)


def _through_shown(twins: Twins, question: Question, shown: Shown) -> ThroughShown:
    was, now = (said_of(question, key) for key in shown.keys)
    return ThroughShown(was, now, direction_of(question, was, now), _shown_witness(twins, question, shown, {}))


def _pairs_in_words(changes: Sequence[Change]) -> str:
    return ", ".join(dict.fromkeys(f"{change.was.word} -> {change.now.word}" for change in changes))


def _document_words(code: Code, kind: str) -> str | None:
    """What stands of a kind of document: its name, or why there is none; None where nothing is said of that kind."""
    line = code.in_force.get(kind)
    if line is None:
        return None
    law = line.candidates[0].law
    if law is None:
        return f"{line.candidates[0].state}: {line.candidates[0].reason}"
    resolved = law.resolved
    words = f"{resolved.document.title}, {resolved.edition} edition"
    if resolved.place is not None:
        words += f", as {code.book.places[resolved.place].name} has it"
    if resolved.amendments:
        words += f" with {', '.join(amendment.id for amendment in resolved.amendments)}"
    return words

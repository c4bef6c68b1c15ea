"""Documents, their editions, what places adopt and amend, and the whole book."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from typing import Literal, NamedTuple

from yokebook.frozen import dataclass
from yokebook.model.asked import Calculation, Fact, Impossible, Question, Reading
from yokebook.model.rows import At, Box, Checked, Cite, NoneFires, NumberValue, Rule, Step, Table


@dataclass(frozen=True, slots=True)
class Carried:
    """An edition's word that rules stand as the edition before had them; a section or mark may move."""

    rules: tuple[str, ...]  # full ids, `TABLE#none_fires`, or `value.ID`
    section: str | None  # None: as before
    checked: Checked
    at: At


OpName = Literal["add", "replace", "narrow", "delete", "prevails_over", "set_value", "choose_reading"]


@dataclass(frozen=True, slots=True)
class Op:
    """One change to one rule, value or reading."""

    op: OpName
    target: str  # full rule id, value id or reading id
    at: At
    pin: str | None = None
    pin_at: At | None = None
    rule: Rule | None = None  # add, replace: the whole rule (chain empty)
    add_where: tuple[Box, ...] = ()  # narrow: cells joined to every box of the base
    add_but_not: tuple[Box, ...] = ()  # narrow
    over: tuple[str, ...] = ()  # prevails_over
    value: NumberValue | None = None  # set_value
    alternative: str | None = None  # choose_reading
    was: str | None = None  # choose_reading, in plain words
    where: Box | None = None  # choose_reading: only for records in this box
    none_fires: NoneFires | None = None  # replace of TABLE#none_fires; add of it begins a table in a layer
    #: An op's own words where it brings no whole rule or value (narrow, delete, prevails_over): why, where it is
    #: written, and how well that was checked. In a layer all three default to the amendment's.
    says: str = ""
    cite: Cite | None = None
    checked: Checked | None = None


@dataclass(frozen=True, slots=True)
class Amendment:
    id: str
    says: str
    cite: Cite
    checked: Checked
    ops: tuple[Op, ...]
    at: At


@dataclass(frozen=True, slots=True)
class Window:
    """The days of one event of the project on which a layer is over the text: `on_or_after` one day, `before` another,
    or both."""

    event: str
    on_or_after: str | None  # ISO date
    before: str | None  # ISO date


@dataclass(frozen=True, slots=True)
class Layer:
    """What one body changes in one document from one day: amendments in one file of one place."""

    id: str
    amendments: tuple[Amendment, ...]
    at: At
    #: why this body may only make the document stricter, such as the law that says so; "" where it may do either
    stricter_only: str = ""
    #: why these amendments are meant to ask for less than the text below; "" where nobody said so
    less_strict: str = ""
    #: where the day of another event than the entry's decides whether it is over the text; None: wherever adopted
    window: Window | None = None


@dataclass(frozen=True, slots=True)
class Edition:
    document: str
    edition: str
    follows: str | None  # the edition it starts from; None: the tables below are whole
    tables: tuple[Table, ...]
    values: tuple[NumberValue, ...]
    carried: tuple[Carried, ...]
    changes: tuple[Op, ...]  # ops against the edition before; they need no pin
    how_checked: str
    at: At
    published: str = ""


@dataclass(frozen=True, slots=True)
class Document:
    id: str
    kind: str  # "electrical", "energy", …
    title: str
    publisher: str
    editions: tuple[str, ...]  # in order
    at: At


#: Of a place's amendments: `none can be entered` where they were looked for, and what was found cannot be entered.
AmendmentsEntered = Literal["all entered", "some entered", "none can be entered", "not looked for"]


@dataclass(frozen=True, slots=True)
class Adopts:
    document: str
    edition: str
    layers: tuple[str, ...]
    amendments: AmendmentsEntered


@dataclass(frozen=True, slots=True)
class NotEntered:
    """An alternative of a choice that this rulebook does not have, and why."""

    reason: str


@dataclass(frozen=True, slots=True)
class Entry:
    """One step of a place's line of time. Exactly one of adopts, follows, none_in_force, not_entered, choice is set."""

    id: str
    event: str | None  # None on the first entry of a line that has always stood
    on_or_after: str | None  # ISO date
    adopts: Adopts | None
    follows: str | None  # a place's id
    none_in_force: str | None  # the reason
    not_entered: str | None  # the reason
    choice: Mapping[str, Adopts | NotEntered] | None
    choice_id: str | None  # the project's fact that picks: choices.ID
    choice_asks: str | None
    says: str
    source: str
    at: At
    #: of an entry that follows: what this place puts over what it follows, and how complete that is
    layers: tuple[str, ...] = ()
    amendments: AmendmentsEntered | None = None


@dataclass(frozen=True, slots=True)
class Place:
    id: str  # path under places/, such as "demo/tamarisk/brindle-falls"
    name: str
    within: str | None
    office: str  # whom to ask
    demo: bool
    lines: Mapping[str, tuple[Entry, ...]]  # by kind of document, in file order
    layers: Mapping[str, Layer]
    at: At


@dataclasses.dataclass(frozen=True)
class Resolved:
    """One document as it stands for one place entry (or bare edition): what the evaluator reads."""

    document: Document
    edition: str
    place: str | None
    entry: Entry | None
    tables: Mapping[str, Table]  # by question id
    values: Mapping[str, NumberValue]
    chosen: tuple[tuple[str, str, Box | None, Step], ...]  # reading, alternative, where, step
    amendments: tuple[Amendment, ...]
    amendments_entered: AmendmentsEntered | Literal["none"]  # "none" for a bare edition
    note: str = ""
    extra: Mapping[str, str] = dataclasses.field(default_factory=dict)


#: What names a document as it stands somewhere: its id, the edition, and the layers over it from below, each with the
#: place that it belongs to.
LawName = tuple[str, str, tuple[tuple[str, str], ...]]


class Overview(NamedTuple):
    """What one knows of a rulebook only once all of it was read, and has to know before the first ruling."""

    events: tuple[str, ...]  # that lines of time and layers go by
    choices: Mapping[str, tuple[str, ...]]  # that lines of time leave to the project, with their alternatives
    answers: tuple[str, ...]  # `answer.KIND.QUESTION` wherever one kind of document takes it from another
    asked_of: Mapping[str, frozenset[str]]  # by kind of document: the questions that some edition answers


class WorkedOut(NamedTuple):
    """What was worked out of a book when it was packed, so that nobody has to do it again."""

    overview: Overview
    laws: Mapping[LawName, Resolved]  # every bare edition, and every document with the layers that a place adopts


@dataclasses.dataclass(frozen=True)
class Book:
    """A loaded rulebook: everything authored, nothing resolved."""

    root: str
    questions: Mapping[str, Question]
    facts: Mapping[str, Fact]
    impossible: tuple[Impossible, ...]
    calculations: Mapping[str, Calculation]
    readings: Mapping[str, Reading]
    documents: Mapping[str, Document]
    editions: Mapping[tuple[str, str], Edition]
    places: Mapping[str, Place]
    cautions: tuple[str, ...]
    #: only of a book from a pack; a book that is made of another with something changed has none
    worked_out: WorkedOut | None = dataclasses.field(default=None, init=False, compare=False, repr=False)

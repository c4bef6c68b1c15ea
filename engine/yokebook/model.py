"""The rulebook as typed data: what load.py makes, resolve.py changes and evaluate.py reads. Nothing here has behaviour
beyond small look-ups."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Literal

from yokebook.entities import Kind

#: A fact's value: yes or no, a choice's word, or a number in the fact's own unit (exact).
Value = bool | str | Fraction

CheckMark = Literal["seen", "memory", "assumed", "derived"]

#: Weakest first: a ruling is only as well checked as the weakest thing it rests on.
CHECK_ORDER: tuple[CheckMark, ...] = ("assumed", "memory", "derived", "seen")


@dataclass(frozen=True, slots=True)
class At:
    """A place in a file, lines and columns counted from 1."""

    file: str
    line: int
    column: int

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}"


@dataclass(frozen=True, slots=True)
class Checked:
    """How sure we are of a row, and on whose word."""

    mark: CheckMark
    source: str


@dataclass(frozen=True, slots=True)
class Cite:
    document: str
    section: str


@dataclass(frozen=True, slots=True)
class NamedNumber:
    """A reference `value.ID` to a named number of the edition."""

    id: str


@dataclass(frozen=True, slots=True)
class NumberValue:
    """A named number: what it is in its fact's unit, and which direction is stricter."""

    id: str
    value: Fraction
    unit: str | None  # a unit of units.py, or None for a plain count or share
    written: str  # as the file has it, such as "20 min"
    stricter: Literal["lower", "higher", "neither"]
    says: str
    cite: Cite
    checked: Checked
    at: At
    chain: tuple[Step, ...] = ()


Number = Fraction | NamedNumber


@dataclass(frozen=True, slots=True)
class OneOf:
    """Cell: the input is one of these."""

    values: frozenset[Value | NamedNumber]


@dataclass(frozen=True, slots=True)
class NoneOf:
    """Cell `{not: […]}`: the input applies and is none of these."""

    values: frozenset[Value | NamedNumber]


@dataclass(frozen=True, slots=True)
class Within:
    """Cell `{at_least | more_than, at_most | less_than}` on a number; an absent end is None."""

    low: Number | None = None
    low_open: bool = False  # True for more_than
    high: Number | None = None
    high_open: bool = False  # True for less_than


Cell = OneOf | NoneOf | Within

#: One cell an input; an input is a fact, a calculation, `answer.QUESTION`, `answer.KIND.QUESTION` or `reading.ID`.
#: A cell's input that is absent from the box may have any value.
Box = Mapping[str, Cell]


@dataclass(frozen=True, slots=True)
class Step:
    """One thing that made or changed a rule or value: an edition or an amendment."""

    by: str  # "nfpa-70 2017", or an amendment's id such as "BF-1"
    op: str  # written, carried, add, replace, narrow, delete, prevails_over, set_value, choose_reading
    cite: Cite | None
    says: str
    at: At


@dataclass(frozen=True, slots=True)
class Rule:
    id: str  # full: "marking.required#automatic"
    where: tuple[Box, ...]  # any of; () never fires, ({},) always
    but_not: tuple[Box, ...]
    then: str
    exception_to: tuple[str, ...] | Literal["all"]  # full ids, or every rule of the table with another outcome …
    prevails_over: tuple[str, ...]  # full ids; what layers add
    says: str
    cite: Cite
    checked: Checked
    at: At
    chain: tuple[Step, ...] = ()


@dataclass(frozen=True, slots=True)
class NoneFires:
    """What a table says where no rule fires. `then` None = forbidden: silence there is a fault of the table."""

    then: str | None
    says: str
    cite: Cite | None
    checked: Checked
    at: At
    chain: tuple[Step, ...] = ()


@dataclass(frozen=True, slots=True)
class Table:
    """One question answered for one document in one edition (and, once layered, one place)."""

    question: str
    none_fires: NoneFires
    rules: tuple[Rule, ...]
    at: At


# ---- what can be asked, and facts -------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Question:
    id: str
    ruling: str  # "R03"
    asks: str
    per: Kind
    outcomes: Mapping[str, str]  # least to most strict: word -> trade words
    against: frozenset[str]
    at: At
    #: outcomes that mean the question does not arise here; default output counts them without listing
    idle: frozenset[str] = frozenset()


FactType = Literal["choice", "yes_no", "number", "text"]


@dataclass(frozen=True, slots=True)
class Fact:
    id: str  # "control.off_delay_min"
    entity: Kind
    type: FactType
    says: str
    asks: str
    look: str  # where to look
    values: Mapping[str, str]  # choices: word -> plain words, in order; {} for other types
    unit: str | None  # of a number
    low: Fraction | None  # domain of a number
    low_open: bool
    high: Fraction | None
    high_open: bool
    whole: bool  # only whole numbers
    applies_when: Box | None
    at: At


@dataclass(frozen=True, slots=True)
class Impossible:
    """A combination that cannot occur, with the reason in plain words."""

    entity: Kind
    where: Box
    because: str
    at: At


# ---- calculations -----------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Of:
    """The value of a fact, a calculation or an answer of the thing at hand or of something it has exactly one of."""

    name: str


@dataclass(frozen=True, slots=True)
class Constant:
    value: Fraction


@dataclass(frozen=True, slots=True)
class Arithmetic:
    op: Literal["times", "plus", "minus", "ratio", "round_up"]
    of: tuple[Expression, ...]


@dataclass(frozen=True, slots=True)
class Over:
    """A figure over a list. `where` keeps items; `are` is what any / all / share test; `of` what sum, largest and
    smallest take of each item."""

    op: Literal["any", "all", "count", "sum", "largest", "smallest", "share"]
    over: str  # "contact.controls"
    where: tuple[Box, ...]  # ({},) keeps all
    are: tuple[Box, ...]
    of: Expression | None


@dataclass(frozen=True, slots=True)
class LookUp:
    by: str  # a fact or calculation
    table: Mapping[Value, Value]
    otherwise: Value | None  # None: a value that the table does not list makes the result not applicable


@dataclass(frozen=True, slots=True)
class Comparison:
    left: Expression
    relation: Literal["at_least", "more_than", "at_most", "less_than", "equals"]
    right: Expression


@dataclass(frozen=True, slots=True)
class WhereBox:
    """yes where any of the boxes holds, else no."""

    boxes: tuple[Box, ...]


@dataclass(frozen=True, slots=True)
class ByReading:
    reading: str
    alternatives: Mapping[str, Expression]


Expression = Of | Constant | NamedNumber | Arithmetic | Over | LookUp | Comparison | WhereBox | ByReading


@dataclass(frozen=True, slots=True)
class Refuse:
    """Values that nobody may state for a calculation, and why: a usual slip, with the right form in the reason."""

    values: frozenset[Value]
    because: str


@dataclass(frozen=True, slots=True)
class Calculation:
    id: str  # "contact.automatic_control"
    entity: Kind
    type: FactType
    says: str
    unit: str | None
    values: Mapping[str, str]  # of a choice
    expression: Expression
    cite: Cite | None
    checked: Checked
    at: At
    asks: str = ""
    refuse: tuple[Refuse, ...] = ()
    ask_first: bool = False  # people read it off a nameplate sooner than what it is computed from


# ---- readings ---------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Alternative:
    id: str
    says: str
    standing: Literal["published", "argued"]
    holders: str
    source: str


@dataclass(frozen=True, slots=True)
class Reading:
    id: str
    cite: Cite
    editions: tuple[str, ...]  # () = all
    asks: str
    plain: str  # the alternative where the text points; it counts as published
    plain_because: str
    alternatives: Mapping[str, Alternative]
    at: At


# ---- documents, editions, layers, places --------------------------------------------------------------------------


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
class Layer:
    """What one body changes in one document from one day: amendments in one file of one place."""

    id: str
    amendments: tuple[Amendment, ...]
    at: At


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


@dataclass(frozen=True, slots=True)
class Adopts:
    document: str
    edition: str
    layers: tuple[str, ...]
    amendments: Literal["all entered", "some entered", "not looked for"]


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
    choice: Mapping[str, Adopts] | None
    choice_id: str | None  # the project's fact that picks: choices.ID
    choice_asks: str | None
    says: str
    source: str
    at: At


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


@dataclass(frozen=True)
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


@dataclass(frozen=True)
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
    amendments_entered: str  # "all entered", "some entered", "not looked for", or "none" for a bare edition
    note: str = ""
    extra: Mapping[str, str] = field(default_factory=dict)

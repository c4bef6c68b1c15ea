"""Cells, rules, named numbers and tables, and how sure we are of each row."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import Literal

from yokebook.frozen import dataclass

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

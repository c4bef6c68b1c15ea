"""What can be asked, the facts a record can carry, calculations, and clauses that are read in more than one way."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from yokebook.entities import Kind
from yokebook.model.rows import At, Box, Checked, Cite, NamedNumber, Value


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


# ---- calculations ----


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


# ---- readings ----


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

"""What can be asked, the facts a record can carry, calculations, and clauses that are read in more than one way."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import Literal

from yokebook.entities import Kind
from yokebook.frozen import dataclass
from yokebook.model.rows import At, Box, Checked, Cite, NamedNumber, Number, Value


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
    #: the topic with which it is asked; "" where it is asked of every project without being named
    topic: str = ""


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
class Grouped:
    """The largest or smallest over groups of a list's items, those with one value of `by` together: of each group how
    many they are, the sum of `of`, or the share that fits `are`."""

    op: Literal["largest", "smallest"]
    over: str
    where: tuple[Box, ...]
    by: str  # a fact, calculation or answer of the items
    figure: Literal["count", "sum", "share"]
    are: tuple[Box, ...]
    of: Expression | None


@dataclass(frozen=True, slots=True)
class Uncovered:
    """The part of a stretch, from 0 to `length`, that no item's reach covers: from `position` less `reach` to
    `position` and `reach`, both of the item."""

    length: Expression
    over: str
    where: tuple[Box, ...]
    position: Expression
    reach: Expression


@dataclass(frozen=True, slots=True)
class Nearest:
    """The distance from the thing at hand to the nearest item, itself left out.

    With `along` alone it is the difference of positions along the one stretch that all items are on; with `x` and `y`
    the straight line between plan coordinates. With all of them it is the one for two that are on the same stretch,
    which is the thing of the kind `on` that each has one of, and the other for any two else. `otherwise` is what it is
    where there is no other; without it the distance is then not applicable.
    """

    over: str
    where: tuple[Box, ...]
    along: Expression | None
    on: Kind | None
    x: Expression | None
    y: Expression | None
    otherwise: Expression | None = None


@dataclass(frozen=True, slots=True)
class Tiers:
    """A number taken piece by piece: up to each step's end at that step's rate, and the rest at the last one's."""

    of: Expression
    steps: tuple[tuple[Number | None, Number], ...]  # (up to, at); None for the last


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


#: The expressions that run over a list.
OverList = Over | Grouped | Uncovered | Nearest

Expression = Of | Constant | NamedNumber | Arithmetic | OverList | Tiers | LookUp | Comparison | WhereBox | ByReading


def boxes_on_items(expression: OverList) -> tuple[Box, ...]:
    """Every box that an expression tests a list's items with."""
    are = expression.are if isinstance(expression, Over | Grouped) else ()
    return (*expression.where, *are)


def taken_of_items(expression: OverList) -> tuple[Expression, ...]:
    """The expressions that are taken of each item of the list."""
    match expression:
        case Over(of=of):
            parts: tuple[Expression | None, ...] = (of,)
        case Grouped(by=by, of=of):
            parts = (Of(by), of)
        case Uncovered(position=position, reach=reach):
            parts = (position, reach)
        case Nearest(along=along, x=x, y=y):
            parts = (along, x, y)
    return tuple(part for part in parts if part is not None)


def taken_of_itself(expression: Expression) -> tuple[Expression, ...]:
    """The expressions that one takes directly of the thing at hand, those of a list's items left out."""
    match expression:
        case Arithmetic(of=parts):
            return parts
        case Comparison(left=left, right=right):
            return (left, right)
        case ByReading(alternatives=alternatives):
            return tuple(alternatives.values())
        case Tiers(of=of, steps=steps):
            return (of, *(number for step in steps for number in step if isinstance(number, NamedNumber)))
        case Uncovered(length=length):
            return (length,)
        case Nearest(otherwise=otherwise):
            return (*taken_of_items(expression), *([] if otherwise is None else [otherwise]))
    return ()


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
    look: str = ""  # where to look for it when it is stated; "" = a nameplate or data sheet


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

"""A comparison of two laws as data."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any, Literal

from yokebook.model import Question
from yokebook.proof.causes import Direction, NumberChange, ReadingChange
from yokebook.proof.twins import Key


@dataclass(frozen=True)
class Said:
    """What one law says: the outcome's word and what the trade calls it; of a table in conflict or silent, that."""

    status: str
    word: str
    says: str

    @property
    def key(self) -> Key:
        """As the evaluator names it."""
        return self.status, self.word


@dataclass(frozen=True)
class Witness:
    """One record for a change.

    `point` has one value for each of the table's own inputs. `record` is a raw record, as data, that was ruled under
    both laws with just these outcomes; None where none was found, so that the change is not shown to come about.
    `moved` lists the table's inputs that the two laws themselves give otherwise for that record. `was` and `now` are
    the rules that stand, with section, words and how each came about.
    """

    reachable: Literal["shown", "not shown"]
    point: dict[str, str]
    record: dict[str, Any] | None
    moved: list[dict[str, str]]
    was: list[dict[str, Any]]
    now: list[dict[str, Any]]


@dataclass(frozen=True)
class Change:
    """Where a question's own table says one thing in the old law and another in the new.

    `regions` are the widest found, each as `[{"input", "is"}]` with inputs that may be anything left out; the witness
    is of the first. `more` counts parts that are in none of them. `at_boundary` names inputs that some region holds to
    a single number of a scale without steps; `boundary_only`: every region does, so that nothing changes beside it.
    """

    question: str
    ruling: str
    asks: str
    kind: str
    was: Said
    now: Said
    direction: Direction
    regions: list[list[dict[str, str]]]
    more: int
    boundary_only: bool
    at_boundary: list[dict[str, str]]
    witness: Witness


@dataclass(frozen=True)
class ThroughShown:
    """One record whose ruling changes through something below the question's table."""

    was: Said
    now: Said
    direction: Direction
    witness: Witness


@dataclass(frozen=True)
class Through:
    """A question that reaches something that changed: a number in a calculation, a reading, an answer.

    `because` says in words what. `shown` holds a record for each (old, new) that a bounded search found; where it is
    empty, no change of the rulings was shown, which does not show that there is none. `same_table`: the question's own
    table says the same everywhere.
    """

    question: str
    ruling: str
    asks: str
    kind: str
    same_table: bool
    because: list[str]
    shown: list[ThroughShown]

    @property
    def reachable(self) -> Literal["shown", "not shown"]:
        """Whether a record was found whose ruling changes."""
        return "shown" if self.shown else "not shown"


@dataclass(frozen=True)
class TableChange:
    """A question that only one of two laws answers: what it asks, its outcomes, who wrote the table, and its rules."""

    question: str
    ruling: str
    asks: str
    kind: str
    state: Literal["appears", "goes"]
    outcomes: dict[str, str]
    by: str
    rules: list[dict[str, Any]]


@dataclass(frozen=True)
class DocumentChange:
    """What stands of one kind of document on each side, in words; None where that side has no such kind. `compared`:
    both sides have a document, so that its tables were compared."""

    kind: str
    was: str | None
    now: str | None
    compared: bool


@dataclass(frozen=True)
class Changes:
    """What changes from one law to another. See the parts; `same` lists the questions in both of which nothing changes
    and nothing below does, `not_decided` those whose tables would take too many cases to compare."""

    documents: list[DocumentChange]
    tables: list[TableChange]
    changes: list[Change]
    through: list[Through]
    numbers: list[NumberChange]
    readings: list[ReadingChange]
    same: list[dict[str, str]]
    not_decided: list[dict[str, str]]

    def __bool__(self) -> bool:
        """Whether anything changes, or may."""
        return bool(self.tables or self.changes or self.through or self.numbers or self.readings or self.not_decided)

    def to_dict(self) -> dict[str, Any]:
        """All of it as JSON-able data."""
        data = asdict(self)
        for through, each in zip(self.through, data["through"], strict=True):
            each["reachable"] = through.reachable
        return data


def said_of(question: Question, key: Key) -> Said:
    """What an outcome of the evaluator says."""
    status, word = key
    return Said(status, word, question.outcomes.get(word, "") if status == "ruled" else _FAULTS.get(status, ""))


_FAULTS = {
    "conflict": "rules say different things here: a fault of the rulebook",
    "silent": "no rule speaks here: a fault of the rulebook",
}


def direction_of(question: Question, was: Said, now: Said) -> Direction:
    """Which way an outcome moved, by the order in which the question lists its outcomes."""
    if was.status != "ruled" or now.status != "ruled":
        return "neither"
    rank = {word: n for n, word in enumerate(question.outcomes)}
    return "stricter" if rank[now.word] > rank[was.word] else "less strict"

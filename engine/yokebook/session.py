"""What the rulings on one record share (the record, the law, what has been worked out), and what a completion gives."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from yokebook.entities import Kind
from yokebook.graph import Graph, Thing
from yokebook.law import InForce
from yokebook.model import Book, Fact, Question, Value
from yokebook.values import YES_NO, Range, Some, Span, Val, Var

#: How many parts one ruling may try before it says that it did not decide.
BUDGET = 20_000

Status = Literal["ruled", "conflict", "silent", "not entered", "none in force", "not decided"]


@dataclass(frozen=True)
class Outcome:
    """What one completion gives: a word of the question, or why there is none."""

    status: Status
    word: str
    #: the rules that stand, where they say something; the conflicting ones in a conflict
    standing: tuple[str, ...] = ()
    table: str = ""  # the question whose table is in conflict or silent
    because: str = ""

    def key(self) -> tuple[str, str]:
        """What makes two outcomes the same answer."""
        return (self.status, self.word)


class LowerFault(Exception):
    """A lower answer that the ruling needs is in conflict or silent."""

    def __init__(self, outcome: Outcome) -> None:
        super().__init__(outcome.because)
        self.outcome = outcome


class OverBudget(Exception):
    """More parts to try than the budget allows."""


def key_of(thing: Thing) -> tuple[str, str]:
    """What names a thing in a variable."""
    return (thing.kind, thing.id)


def domain(fact: Fact) -> Span:
    """All values that a fact may have."""
    if fact.type == "choice":
        return Some(frozenset(fact.values))
    if fact.type == "yes_no":
        return YES_NO
    return Range(fact.low, fact.low_open, fact.high, fact.high_open, fact.whole)


@dataclass
class Session:
    """One record or project under the law of a day: what every ruling on it shares."""

    graph: Graph
    book: Book
    in_force: Mapping[str, InForce]
    #: figures and answers that rest on given facts alone, so that they hold in every completion
    figure_cache: dict[tuple[int, tuple[str, str], str], Val] = field(default_factory=dict)
    answer_cache: dict[tuple[int, tuple[str, str], str], Outcome] = field(default_factory=dict)
    #: why a thing cannot be as it is given or assumed, with what was assumed of each unknown thing looked at for it
    reasons: dict[tuple[int, tuple[str, str], str], list[tuple[dict[Var, Span | None], str | None]]] = field(
        default_factory=dict
    )
    #: whether a stated figure is being computed, to see if it can be as stated
    checking: bool = False
    phantoms: dict[tuple[tuple[str, str], str], Thing] = field(default_factory=dict)
    #: facts taken for not given, to see what they decide: (thing, full id)
    hidden: frozenset[tuple[tuple[str, str], str]] = frozenset()
    #: facts taken for something else than given, to see what that would do
    instead: Mapping[tuple[tuple[str, str], str], Value] = field(default_factory=dict)
    #: given facts that were looked at, where that is wanted
    used: dict[tuple[tuple[str, str], str], None] | None = None
    tried: int = 0

    def phantom(self, thing: Thing, kind: Kind) -> Thing:
        """The thing that a reference nobody gave would lead to: nothing is known of it."""
        key = (key_of(thing), kind)
        if key not in self.phantoms:
            label = f"what is plugged in at {thing.label}" if kind == "load" else f"the {kind} of {thing.label}"
            self.phantoms[key] = Thing(
                kind, f"{thing.id}/{kind}", label, refs={"project": self.graph.project}, named=False
            )
        return self.phantoms[key]


def published(book: Book, reading_id: str) -> list[str]:
    """The alternatives of a reading that count as published: those marked so and the plain one, in file order."""
    reading = book.readings[reading_id]
    return [a.id for a in reading.alternatives.values() if a.standing == "published" or a.id == reading.plain]


def answer_of(book: Book, name: str, own_kind: str) -> tuple[str, Question]:
    """The kind of document and the question that `answer.NAME` means."""
    if name in book.questions:
        return own_kind, book.questions[name]
    kind, _, question = name.partition(".")
    return kind, book.questions[question]

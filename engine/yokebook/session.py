"""What the rulings on one record share (the record, the law, what has been worked out), and what a completion gives."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from yokebook.entities import KIND_OF_PREFIX, LISTS, ONE, Kind
from yokebook.graph import Graph, Missing, Thing
from yokebook.law import InForce
from yokebook.model import Book, Calculation, Fact, Impossible, Question, Value
from yokebook.remembering import Memo
from yokebook.values import YES_NO, Range, Some, Span

#: How many parts one ruling may try before it says that it did not decide.
BUDGET = 20_000

#: What names something worked out: the law, the thing, and the calculation, question or what else it is.
Key = tuple[int, tuple[str, str], str]

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
    #: what was worked out: figures, answers, why a thing cannot be as it is given or assumed
    memos: dict[tuple[object, ...], Memo[Any]] = field(default_factory=dict)
    #: whether a stated figure is being computed, to see if it can be as stated
    checking: bool = False
    #: whether it is known that everything in the graph can be as it is given, whatever is assumed of what is not
    all_can_be: bool = False
    phantoms: dict[tuple[tuple[str, str], str], Thing] = field(default_factory=dict)
    #: facts taken for not given, to see what they decide: (thing, full id)
    hidden: frozenset[tuple[tuple[str, str], str]] = frozenset()
    #: facts taken for something else than given, to see what that would do
    instead: Mapping[tuple[tuple[str, str], str], Value] = field(default_factory=dict)
    #: given facts that were looked at, where that is wanted
    used: dict[tuple[tuple[str, str], str], None] | None = None
    tried: int = 0
    #: all things by name, in order: those of the graph, then those that nobody listed as they turn up
    _numbered: dict[tuple[str, str], tuple[int, Thing]] = field(default_factory=dict)
    _around: dict[tuple[str, str], list[Thing]] = field(default_factory=dict)
    _meant: dict[str, tuple[Kind, Calculation | None, Fact | None]] = field(default_factory=dict)
    _one: dict[tuple[Thing, Kind], Thing | Missing | None] = field(default_factory=dict)
    _impossible: dict[str, list[Impossible]] = field(default_factory=dict)
    _domains: dict[str, Span] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for thing in self.graph:
            self._number(thing)

    @property
    def as_given(self) -> bool:
        """Whether every fact is taken as it is given, and which ones are looked at is not asked for."""
        return self.used is None and not self.hidden and not self.instead

    def _number(self, thing: Thing) -> None:
        self._numbered[key_of(thing)] = (len(self._numbered), thing)

    def named(self, names: Collection[tuple[str, str]]) -> list[Thing]:
        """The things that these name, in the order of the graph, those that nobody listed last."""
        found = sorted((self._numbered[name] for name in names if name in self._numbered), key=lambda each: each[0])
        return [thing for _, thing in found]

    def given_one(self, thing: Thing, kind: Kind) -> Thing | Missing | None:
        """The thing of that kind that `thing` is given to have one of, or what stands for one that nobody gave."""
        key = (thing, kind)
        if key not in self._one:
            self._one[key] = thing.one(kind)
        return self._one[key]

    def stands_for(self, thing: Thing, kind: Kind, phantom: Thing) -> Thing:
        """Keeps what stands for the thing of that kind that nobody gave, where there must be one."""
        self._one[thing, kind] = phantom
        return phantom

    def around(self, thing: Thing) -> list[Thing]:
        """The thing, what it has one of and what its lists hold."""
        found = self._around.get(key_of(thing))
        if found is None:
            found = [thing]
            for kind in ONE[thing.kind]:
                there = thing.one(kind)
                if there is not None and not isinstance(there, Missing):
                    found.append(there)
            for name in LISTS[thing.kind]:
                found += thing.list_of(name)[0]
            self._around[key_of(thing)] = found
        return found

    def meant(self, name: str) -> tuple[Kind, Calculation | None, Fact | None]:
        """The kind of thing that a name of a fact or calculation belongs to, and which of the two it is."""
        found = self._meant.get(name)
        if found is None:
            kind, book = KIND_OF_PREFIX[name.partition(".")[0]], self.book
            found = self._meant[name] = (kind, book.calculations.get(name), book.facts.get(name))
        return found

    def impossible_of(self, kind: Kind) -> list[Impossible]:
        """The combinations that are declared impossible of things of this kind."""
        if not self._impossible:
            for combination in self.book.impossible:
                self._impossible.setdefault(combination.entity, []).append(combination)
        return self._impossible.get(kind, [])

    def domain(self, fact: Fact) -> Span:
        """As the function of this name, made once for each fact."""
        if fact.id not in self._domains:
            self._domains[fact.id] = domain(fact)
        return self._domains[fact.id]

    def phantom(self, thing: Thing, kind: Kind) -> Thing:
        """The thing that a reference nobody gave would lead to: nothing is known of it."""
        key = (key_of(thing), kind)
        if key not in self.phantoms:
            label = f"what is plugged in at {thing.label}" if kind == "load" else f"the {kind} of {thing.label}"
            self.phantoms[key] = Thing(
                kind, f"{thing.id}/{kind}", label, refs={"project": self.graph.project}, named=False
            )
            self._number(self.phantoms[key])
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

"""Questions that are made of facts and answers alone: their tables as bits, and what is unknown tried part by part.

What is done here is what the evaluator does, on whole numbers in place of values: it finds the same parts in the same
order. Tables with calculations or readings, things that may not be there, facts that may not apply and combinations
that cannot be are left to the evaluator.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

from yokebook.decision import Asked, Decision
from yokebook.entities import ONE, PREFIX, Kind
from yokebook.exploring import live
from yokebook.law import Law, ReadyTable
from yokebook.model import Book, Fact, Question, Value
from yokebook.openness import merged
from yokebook.ruling import TOLD
from yokebook.session import Outcome, answer_of, domain
from yokebook.turning_on import Told
from yokebook.values import Span, Var

#: Steps on the way to a thing that is there in every record.
ALWAYS_THERE = frozenset({"yoke", "space", "project"})

#: The most parts that are tried; with more it is the evaluator's.
_MOST_TRIED = 190


class NotPlain(Exception):
    """The evaluator is to decide."""


@dataclass(eq=False)
class PlainTable:
    """A table with the inputs it has: facts, and answers of other tables."""

    ready: ReadyTable
    facts: dict[str, Fact] = field(default_factory=dict)
    answers: dict[str, PlainTable] = field(default_factory=dict)


class _Open(NamedTuple):
    """An input that is open: the boxes it leaves open, and its parts, or what is to be split for it."""

    bits: int
    name: str
    parts: list[tuple[Span, int]]
    split: _Split | None


class _Split(Exception):
    """What to try part by part."""

    def __init__(self, fact: str, parts: list[Span]) -> None:
        super().__init__(fact)
        self.fact = fact
        self.parts = parts


class Plain:
    """A question as plain tables. Raises NotPlain where it is not made of facts and answers alone."""

    def __init__(self, book: Book, laws: Mapping[str, list[Law]], kind: str, question: Question) -> None:
        self.book = book
        self.question = question
        self._laws = laws
        self._tables: dict[tuple[str, str], PlainTable] = {}
        around = {question.per, *ONE[question.per]}
        if any(combination.entity in around for combination in book.impossible):
            raise NotPlain
        self.top = self._table(kind, question)
        self.facts = {name: fact for table in self._tables.values() for name, fact in table.facts.items()}
        self._domains = {name: domain(fact) for name, fact in self.facts.items()}

    def tables(self) -> list[PlainTable]:
        """The tables, each after those whose answers it takes."""
        return list(self._tables.values())

    def _table(self, kind: str, question: Question) -> PlainTable:
        if (kind, question.id) in self._tables:
            return self._tables[kind, question.id]
        laws = self._laws.get(kind, [])
        if len(laws) != 1 or not laws[0].answers(question.id):
            raise NotPlain
        table = PlainTable(laws[0].ready(question.id))
        for name in table.ready.inputs:
            if name.startswith("answer."):
                its_kind, lower = answer_of(self.book, name.removeprefix("answer."), kind)
                self._always_there(question.per, lower.per)
                table.answers[name] = self._table(its_kind, lower)
                continue
            fact = self.book.facts.get(name)
            if fact is None or fact.applies_when is not None:
                raise NotPlain
            self._always_there(question.per, fact.entity)
            table.facts[name] = fact
        self._tables[kind, question.id] = table
        return table

    def _always_there(self, kind: Kind, to: Kind) -> None:
        if kind != to and not set(ONE[kind].get(to, ("not",))) <= ALWAYS_THERE:
            raise NotPlain

    # ---- deciding ---------------------------------------------------------------------------------------------------

    def decide(self, given: Mapping[str, Value]) -> Decision:
        """The decision where these facts are given and nothing else. Raises NotPlain where it is to be left to the
        evaluator."""
        leaves: list[tuple[Mapping[str, Span], Outcome]] = []
        stack: list[dict[str, Span]] = [{}]
        tried = 0
        while stack:
            assumed = stack.pop()
            try:
                leaves.append((assumed, self._outcome(self.top, given, assumed)))
            except _Split as split:
                tried += 1
                if tried > _MOST_TRIED:
                    raise NotPlain from None
                stack.extend({**assumed, split.fact: part} for part in reversed(split.parts))
        return self._decision(leaves)

    def full(self, left: int) -> Decision:
        """The decision where just these boxes of the top table hold. Raises NotPlain as `decide`."""
        word, rules = standing(self.top.ready, left)
        if word is None:
            raise NotPlain
        return Decision("settled", word, word, (word,), rules)

    def _decision(self, leaves: list[tuple[Mapping[str, Span], Outcome]]) -> Decision:
        outcomes = {outcome.key(): outcome for _, outcome in leaves}
        order = {word: i for i, word in enumerate(self.question.outcomes)}
        words = {outcome.word for outcome in outcomes.values()}
        possible = tuple(sorted(words, key=lambda word: (order.get(word, len(order)), word)))
        if len(outcomes) == 1:
            enough = frozenset.intersection(*(frozenset(outcome.standing) for _, outcome in leaves))
            rules = enough or _told(leaves, single=True)
            [outcome] = outcomes.values()
            return Decision("settled", outcome.word, outcome.word, possible, tuple(sorted(rules)))
        rules = _told(leaves, single=False)
        return Decision("cannot tell", "cannot tell", None, possible, tuple(sorted(rules)), self._ask(leaves))

    def _ask(self, leaves: list[tuple[Mapping[str, Span], Outcome]]) -> tuple[Asked, ...]:
        def var(name: str) -> Var:
            kind = self.facts[name].entity
            return Var("fact", (kind, PREFIX[kind]), name)

        told = [Told({var(name): span for name, span in assumed.items()}, outcome) for assumed, outcome in leaves]
        asked = live(told, False)
        return tuple(Asked(var.subject[1], var.name, self.facts[var.name].entity) for var in asked)

    def _outcome(self, table: PlainTable, given: Mapping[str, Value], assumed: Mapping[str, Span]) -> Outcome:
        """The outcome of a table in one part; raises _Split where it is open."""
        ready = table.ready
        may = ready.all_bits
        pending: list[_Open] = []
        for name, index in ready.inputs.items():
            if not may & index.constrained:
                continue
            if name in given:
                may &= index.allowed(given[name])
                continue
            lower = table.answers.get(name)
            if lower is not None:
                try:
                    may &= index.allowed(self._outcome(lower, given, assumed).word)
                except _Split as split:
                    pending.append(_Open(index.constrained, name, [], split))
                continue
            parts = index.pieces(assumed.get(name, self._domains[name]))
            union, common = 0, ready.all_bits
            for _, bits in parts:
                union |= bits
                common &= bits
            may &= union
            if union != common:
                pending.append(_Open(union & ~common, name, parts, None))
        return _said(ready, _fired(ready, may, pending))


def _fired(ready: ReadyTable, may: int, pending: list[_Open]) -> list[int]:
    """The rules that fire and that none which fires prevails over; raises _Split where that is open."""
    unsure = 0
    for open_input in pending:
        unsure |= open_input.bits
    fired: list[int] = []
    rest = may
    while rest:  # the boxes of a rule stand together, rules before those they prevail over
        i = ready.boxes[(rest & -rest).bit_length() - 1].rule
        rest &= ~(ready.where[i] | ready.but_not[i])
        where = ready.where[i] & may
        if not where or not ready.beaten_by[i].isdisjoint(fired):
            continue
        but_not = ready.but_not[i] & may
        if but_not & ~unsure:
            continue
        if where & ~unsure and not but_not:
            fired.append(i)
            continue
        matter = but_not if where & ~unsure else where | but_not
        first = next(each for each in pending if each.bits & matter)
        raise first.split or _Split(first.name, merged(first.parts, may))
    return fired


def _said(ready: ReadyTable, fired: list[int]) -> Outcome:
    word = _word(ready, fired)
    if word is None:
        raise NotPlain  # a conflict, or silence where there must be none
    return Outcome("ruled", word, tuple(ready.rules[i].id for i in fired), ready.table.question)


def _word(ready: ReadyTable, fired: list[int]) -> str | None:
    words = {ready.rules[i].then for i in fired}
    word = words.pop() if words else ready.table.none_fires.then
    return None if words else word


def standing(ready: ReadyTable, left: int) -> tuple[str | None, tuple[str, ...]]:
    """What a table says where just these boxes hold (None in a conflict, or where it must not be silent), and the ids
    of the rules that stand."""
    fired = _fired(ready, left, [])
    return _word(ready, fired), tuple(sorted(ready.rules[i].id for i in fired))


def _told(leaves: list[tuple[Mapping[str, Span], Outcome]], *, single: bool) -> frozenset[str]:
    """The rules that stand in the parts that are told of."""
    firsts = dict.fromkeys((*outcome.key(), outcome.standing) for _, outcome in leaves)
    return frozenset(rule for first in list(firsts)[: TOLD[single]] for rule in first[2])

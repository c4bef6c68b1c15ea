"""Questions that are made of facts and answers alone: their tables as bits, and what is unknown tried part by part.

What is done here is what the evaluator does, on whole numbers in place of values: it finds the same parts in the same
order. Tables with calculations or readings, things that may not be there, facts that may not apply and combinations
that cannot be are left to the evaluator.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from fractions import Fraction
from typing import NamedTuple

from yokebook.decision import Asked, Decision
from yokebook.entities import LISTS, ONE, PREFIX, Kind
from yokebook.exploring import COUNTED_AFTER, live
from yokebook.flat.plain_tables import Elements, Open, Part, PlainTable
from yokebook.law import Law
from yokebook.model import Book, Question, Value
from yokebook.ruling import SETTLED_AS, TOLD
from yokebook.session import Outcome, answer_of
from yokebook.turning_on import Told
from yokebook.values import Some, Var

#: Steps on the way to a thing that is there in every record.
ALWAYS_THERE = frozenset({"yoke", "space", "project"})


class NotPlain(Exception):
    """The evaluator is to decide."""


class Left(NamedTuple):
    """A record as far as it matters: for each table the boxes that the facts given leave, and the facts not given."""

    boxes: Sequence[int]
    missing: frozenset[str]


class _Split(NamedTuple):
    """A fact to try part by part."""

    fact: str
    parts: list[Part]


class _Tried(NamedTuple):
    """One part of the completions: what is assumed, and what tables are found to say there."""

    left: Left
    assumed: Mapping[str, Part]
    known: dict[int, Outcome | _Split]


#: A part of the completions with its outcome.
_Leaf = tuple[Mapping[str, Part], Outcome]


class Plain:
    """A question as plain tables. Raises NotPlain where it is not made of facts and answers alone."""

    def __init__(self, book: Book, laws: Mapping[str, list[Law]], kind: str, question: Question) -> None:
        self.book = book
        self.question = question
        self._laws = laws
        self._tables: dict[tuple[str, str], PlainTable] = {}
        around = {question.per, *ONE[question.per], *(of.kind for of in LISTS[question.per].values())}
        if any(combination.entity in around for combination in book.impossible):
            raise NotPlain
        self.top = self._table(kind, question)
        self.facts = {name: fact for table in self._tables.values() for name, fact in table.facts.items()}
        self._elements: dict[str, Elements] = {}
        for name, fact in self.facts.items():
            tables = [table for table in self._tables.values() if name in table.facts]
            elements = self._elements[name] = Elements(fact, [table.ready.inputs[name] for table in tables])
            for table in tables:
                table.allowed[name] = [table.ready.inputs[name].allowed(value) for value in elements.values]
        self._behind = [table.behind for table in self._tables.values()]
        self._shown: dict[Part, Some] = {}

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
        table.behind = table.facts.keys() | {name for lower in table.answers.values() for name in lower.behind}
        table.number = len(self._tables)
        self._tables[kind, question.id] = table
        return table

    def _always_there(self, kind: Kind, to: Kind) -> None:
        if kind != to and not set(ONE[kind].get(to, ("not",))) <= ALWAYS_THERE:
            raise NotPlain

    # ---- deciding ---------------------------------------------------------------------------------------------------

    def decide(self, given: Mapping[str, Value]) -> Decision:
        """The decision where these facts are given and nothing else. Raises NotPlain where it is to be left to the
        evaluator."""
        boxes: list[int] = []
        for table in self._tables.values():
            may = table.ready.all_bits
            for name in table.facts:
                if name in given:
                    may &= table.ready.inputs[name].allowed(given[name])
            boxes.append(may)
        return self.decide_left(Left(boxes, frozenset(self.facts.keys() - given.keys())))

    def decide_left(self, left: Left) -> Decision:
        """As `decide`, from what the facts given leave."""
        leaves: list[_Leaf] = []
        stack = [_Tried(left, {}, {})]
        tried = 0
        while stack:
            part = stack.pop()
            found = self._find(self.top, part)
            if isinstance(found, Outcome):
                leaves.append((part.assumed, found))
                continue
            tried += 1
            if tried >= COUNTED_AFTER:
                raise NotPlain
            stack.extend(self._parts(part, found))
        return self._decision(leaves, left)

    def _parts(self, tried: _Tried, split: _Split) -> Iterable[_Tried]:
        """What to try in place of one part, last first."""
        known = {n: found for n, found in tried.known.items() if split.fact not in self._behind[n]}
        for part in reversed(split.parts):
            yield _Tried(tried.left, {**tried.assumed, split.fact: part}, dict(known))

    def full(self, boxes: int, at_fault: Iterable[str]) -> Decision | None:
        """The decision where just these boxes of the top table hold, and these lower answers are at fault; None where
        it turns on one of them."""
        outcome = self.top.outcome(boxes, at_fault)
        if outcome is None:
            return None
        status = SETTLED_AS[outcome.status]
        word = outcome.word if status == "settled" else None
        return Decision(status, word or status, word, (outcome.word,), tuple(sorted(outcome.standing)))

    def _decision(self, leaves: Sequence[_Leaf], left: Left) -> Decision:
        outcomes = {outcome.key(): outcome for _, outcome in leaves}
        order = {word: i for i, word in enumerate(self.question.outcomes)}
        words = {outcome.word for outcome in outcomes.values()}
        possible = tuple(sorted(words, key=lambda word: (order.get(word, len(order)), word)))
        rules = tuple(sorted(self._rules(leaves, left)))
        if len(outcomes) > 1:
            return Decision("cannot tell", "cannot tell", None, possible, rules, self._ask(leaves))
        [outcome] = outcomes.values()
        status = SETTLED_AS[outcome.status]
        settled = outcome.word if status == "settled" else None
        return Decision(status, settled or status, settled, possible, rules)

    def _rules(self, leaves: Sequence[_Leaf], left: Left) -> Iterable[str]:
        """The rules that are told of: of a single outcome those that give it in every part, where there are any."""
        firsts: dict[tuple[str, str, tuple[str, ...]], Mapping[str, Part]] = {}
        for assumed, outcome in leaves:
            firsts.setdefault((outcome.status, outcome.word, outcome.standing), assumed)
        single = len({outcome.key() for _, outcome in leaves}) == 1
        told = list(firsts.items())[: TOLD[single]]
        enough: frozenset[str] = frozenset()
        if single:
            enough = frozenset.intersection(*(frozenset(outcome.standing) for _, outcome in leaves))
        if all(outcome.table == self.question.id for _, outcome in leaves):
            return enough or {rule for (_, _, standing), _ in told for rule in standing}
        parts = [_Tried(left, assumed, {}) for _, assumed in told]
        rules = {rule for part in parts for rule in self.top.surely_fire(*self._weighed(self.top, part))}
        return rules & enough if enough else rules

    def _ask(self, leaves: Sequence[_Leaf]) -> tuple[Asked, ...]:
        var = {name: Var("fact", (fact.entity, PREFIX[fact.entity]), name) for name, fact in self.facts.items()}
        told = [
            Told({var[name]: self._shown_as(part) for name, part in assumed.items()}, outcome)
            for assumed, outcome in leaves
        ]
        asked = live(told, False)
        return tuple(Asked(var.subject[1], var.name, self.facts[var.name].entity) for var in asked)

    def _shown_as(self, part: Part) -> Some:
        """A part as a span: numbers of its elements, as only what is in both of two parts matters."""
        found = self._shown.get(part)
        if found is None:
            elements = frozenset(Fraction(i) for i in range(part.bit_length()) if part >> i & 1)
            found = self._shown[part] = Some(elements)
        return found

    def _find(self, table: PlainTable, tried: _Tried) -> Outcome | _Split:
        """What a table says in one part, which is what a lower one says where that is at fault and matters; or what to
        split first where that is open."""
        found = tried.known.get(table.number)
        if found is None:
            found = tried.known[table.number] = self._found(table, tried)
        return found

    def _found(self, table: PlainTable, tried: _Tried) -> Outcome | _Split:
        may, pending = self._weighed(table, tried)
        said = table.say(may, pending)
        if isinstance(said, Outcome):
            return said
        lower = table.answers.get(said.name)
        if lower is not None:
            return self._find(lower, tried)
        elements = self._elements[said.name]
        part = tried.assumed.get(said.name, elements.all)
        return _Split(said.name, elements.split(table.allowed[said.name], part, may))

    def _weighed(self, table: PlainTable, tried: _Tried) -> tuple[int, list[Open]]:
        """The boxes of a table that may hold in one part, and its inputs that leave some of them open."""
        may = tried.left.boxes[table.number]
        pending: list[Open] = []
        for name, index in table.ready.inputs.items():
            if not may & index.constrained:
                continue
            lower = table.answers.get(name)
            if lower is not None:
                found = self._find(lower, tried)
                if isinstance(found, Outcome) and found.status == "ruled":
                    may &= index.allowed(found.word)
                else:
                    pending.append(Open(index.constrained, name, isinstance(found, Outcome)))
            elif name in tried.left.missing:
                union, common = table.weigh(name, tried.assumed.get(name, self._elements[name].all))
                may &= union
                if union != common:
                    pending.append(Open(union & ~common, name))
        return may, pending

"""Questions that are made of facts and answers alone: their tables as bits, and what is unknown tried part by part.

What is done here is what the evaluator does, on whole numbers in place of values: it finds the same parts in the same
order. Tables with calculations or readings, things that may not be there, facts that may not apply and combinations
that cannot be are left to the evaluator.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import NamedTuple

from yokebook.decision import Asked, Decision
from yokebook.entities import ONE, PREFIX, Kind
from yokebook.exploring import COUNTED_AFTER, live
from yokebook.law import Law, ReadyTable
from yokebook.model import Book, Fact, Question, Value
from yokebook.ruling import SETTLED_AS, TOLD
from yokebook.session import Outcome, answer_of, domain
from yokebook.turning_on import Told
from yokebook.values import CellIndex, Range, Some, Var, in_order, inside, intersect

#: Steps on the way to a thing that is there in every record.
ALWAYS_THERE = frozenset({"yoke", "space", "project"})


class NotPlain(Exception):
    """The evaluator is to decide."""


#: Values of a fact that are alike, as bits: those that all tables treat alike are one element of it.
Part = int


class Elements:
    """The values that a fact may have, cut where any table tells them apart, in order."""

    def __init__(self, fact: Fact, indexes: Iterable[CellIndex]) -> None:
        self.fact = fact
        all_of_it = domain(fact)
        self.values: list[Value]
        if isinstance(all_of_it, Some):
            self.values = in_order(all_of_it.values)
        else:
            assert isinstance(all_of_it, Range)
            cuts = sorted({cut for index in indexes for cut in index.cuts})
            self.values = [inside(stretch) for stretch in _stretches(all_of_it, cuts)]
        self.all: Part = (1 << len(self.values)) - 1

    def split(self, allowed: Sequence[int], part: Part, matter: int) -> list[Part]:
        """A part cut where a table tells its values apart in what matters. `allowed` says which boxes each element
        allows. Of numbers only neighbours are put together."""
        numbers = self.fact.type == "number"
        found: list[Part] = []
        place: dict[int, int] = {}
        for i, bits in enumerate(allowed):
            if not part >> i & 1:
                continue
            bits &= matter
            if numbers and place.keys() != {bits}:
                place.clear()
            at = place.setdefault(bits, len(found))
            if at == len(found):
                found.append(0)
            found[at] |= 1 << i
        return found


def _stretches(all_of_it: Range, cuts: Sequence[Fraction]) -> Iterable[Range]:
    """The numbers of a range between and at the cuts; none that are empty."""
    low: Fraction | None = None
    for cut in cuts:
        for stretch in (Range(low, True, cut, True), Range(cut, False, cut, False)):
            found = intersect(all_of_it, stretch)
            if isinstance(found, Range):
                yield found
        low = cut
    found = intersect(all_of_it, Range(low, True, None, True))
    if isinstance(found, Range):
        yield found


@dataclass(eq=False)
class PlainTable:
    """A table with its place among the tables and the inputs it has: facts, and answers of other tables. `behind` are
    its facts and those of the tables behind it; `allowed` says for each element of its facts which boxes it allows."""

    ready: ReadyTable
    number: int = 0
    facts: dict[str, Fact] = field(default_factory=dict)
    answers: dict[str, PlainTable] = field(default_factory=dict)
    behind: set[str] = field(default_factory=set)
    allowed: dict[str, list[int]] = field(default_factory=dict)
    #: what parts of facts leave: of some part they allow, and for all of it
    weighed: dict[tuple[str, Part], tuple[int, int]] = field(default_factory=dict)

    def weigh(self, name: str, part: Part) -> tuple[int, int]:
        """The boxes that some value of this part allows, and those that every value does."""
        found = self.weighed.get((name, part))
        if found is None:
            union, common = 0, self.ready.all_bits
            for i, bits in enumerate(self.allowed[name]):
                if part >> i & 1:
                    union |= bits
                    common &= bits
            found = self.weighed[name, part] = (union, common)
        return found


class _Open(NamedTuple):
    """An input that is open: the boxes it leaves open, and the part of it that is possible, or what is to be split for
    it, or the fault of a lower table."""

    bits: int
    name: str
    part: Part
    why: _Split | _Fault | None


class _Split(Exception):
    """What to try part by part."""

    def __init__(self, fact: str, parts: list[Part]) -> None:
        super().__init__(fact)
        self.fact = fact
        self.parts = parts


class _Fault(Exception):
    """A lower table, whose answer is needed, is in conflict or silent."""

    def __init__(self, outcome: Outcome) -> None:
        super().__init__(outcome.table)
        self.outcome = outcome


class _TurnsOn(Exception):
    """What a table says turns on an input that is open."""

    def __init__(self, first: _Open) -> None:
        super().__init__(first.name)
        self.first = first


class Left(NamedTuple):
    """A record as far as it matters: for each table the boxes that the facts given leave, and the facts not given."""

    boxes: Sequence[int]
    missing: frozenset[str]


class _Tried(NamedTuple):
    """One part of the completions: what is assumed, and what lower tables are known to give there."""

    left: Left
    assumed: Mapping[str, Part]
    known: dict[int, Outcome | _Split | _Fault]


#: A part of the completions with its outcome.
_Leaf = tuple[Mapping[str, Part], Outcome]


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
            try:
                leaves.append((part.assumed, self._outcome(self.top, part)))
            except _Fault as fault:
                leaves.append((part.assumed, fault.outcome))
            except _Split as split:
                tried += 1
                if tried >= COUNTED_AFTER:
                    raise NotPlain from None
                stack.extend(self._parts(part, split))
        return self._decision(leaves, left)

    def _parts(self, tried: _Tried, split: _Split) -> Iterable[_Tried]:
        """What to try in place of one part, last first."""
        known = {n: found for n, found in tried.known.items() if split.fact not in self._behind[n]}
        for part in reversed(split.parts):
            yield _Tried(tried.left, {**tried.assumed, split.fact: part}, dict(known))

    def full(self, boxes: int, at_fault: Iterable[str]) -> Decision | None:
        """The decision where just these boxes of the top table hold, and these lower answers are at fault; None where
        it turns on one of them."""
        outcome = _outcome_of(self.top, boxes, at_fault)
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
        rules = {rule for _, assumed in told for rule in self._fire(left, assumed)}
        return rules & enough if enough else rules

    def _fire(self, left: Left, assumed: Mapping[str, Part]) -> list[str]:
        """The rules of the top table that surely fire and that no other such prevails over, where lower tables are at
        fault."""
        ready = self.top.ready
        may, pending = self._weighed(self.top, _Tried(left, assumed, {}))
        unsure = _unsure(pending)
        sure = may & ~unsure
        fire = [i for i in range(len(ready.rules)) if ready.where[i] & sure and not ready.but_not[i] & may]
        return [ready.rules[i].id for i in fire if ready.beaten_by[i].isdisjoint(fire)]

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

    def _outcome(self, table: PlainTable, tried: _Tried) -> Outcome:
        """The outcome of a table in one part; raises _Split where it is open, _Fault where it turns on a lower table at
        fault."""
        may, pending = self._weighed(table, tried)
        try:
            return said(table.ready, _fired(table.ready, may, pending))
        except _TurnsOn as turns_on:
            first = turns_on.first
        if first.why is not None:
            raise first.why
        raise _Split(first.name, self._elements[first.name].split(table.allowed[first.name], first.part, may))

    def _answer(self, table: PlainTable, tried: _Tried) -> Outcome:
        """As `_outcome`, of a lower table; _Fault where it is at fault itself. Worked out once for what is assumed."""
        found = tried.known.get(table.number)
        if found is None:
            try:
                found = self._outcome(table, tried)
                if found.status != "ruled":
                    found = _Fault(found)
            except (_Split, _Fault) as why:
                found = why
            tried.known[table.number] = found
        if isinstance(found, Outcome):
            return found
        raise found

    def _weighed(self, table: PlainTable, tried: _Tried) -> tuple[int, list[_Open]]:
        """The boxes of a table that may hold in one part, and its inputs that leave some of them open."""
        may = tried.left.boxes[table.number]
        pending: list[_Open] = []
        for name, index in table.ready.inputs.items():
            if not may & index.constrained:
                continue
            lower = table.answers.get(name)
            if lower is not None:
                try:
                    may &= index.allowed(self._answer(lower, tried).word)
                except (_Split, _Fault) as why:
                    pending.append(_Open(index.constrained, name, 0, why))
            elif name in tried.left.missing:
                part = tried.assumed.get(name, self._elements[name].all)
                union, common = table.weigh(name, part)
                may &= union
                if union != common:
                    pending.append(_Open(union & ~common, name, part, None))
        return may, pending


def _unsure(pending: Iterable[_Open]) -> int:
    unsure = 0
    for open_input in pending:
        unsure |= open_input.bits
    return unsure


def _fired(ready: ReadyTable, may: int, pending: Sequence[_Open]) -> list[int]:
    """The rules that fire and that none which fires prevails over; raises _TurnsOn where that is open."""
    unsure = _unsure(pending)
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
        raise _TurnsOn(_first(pending, but_not if where & ~unsure else where | but_not))
    return fired


def _first(pending: Sequence[_Open], matter: int) -> _Open:
    """What to settle first of what matters: something not known before a fault that it may make irrelevant."""
    those = [each for each in pending if each.bits & matter]
    return next((each for each in those if not isinstance(each.why, _Fault)), those[0])


def said(ready: ReadyTable, fired: Sequence[int]) -> Outcome:
    """What a table says where these rules fire and stand."""
    words = {ready.rules[i].then for i in fired}
    standing = tuple(ready.rules[i].id for i in fired)
    question = ready.table.question
    if len(words) > 1:
        return Outcome("conflict", "conflict", standing, question)
    word = words.pop() if words else ready.table.none_fires.then
    return Outcome("silent", "silent", (), question) if word is None else Outcome("ruled", word, standing, question)


def answer(table: PlainTable, boxes: int, at_fault: Iterable[str]) -> str | None:
    """The answer of a table where just these boxes hold and these lower answers are at fault; None where it is at fault
    itself."""
    outcome = _outcome_of(table, boxes, at_fault)
    return outcome.word if outcome is not None and outcome.status == "ruled" else None


def _outcome_of(table: PlainTable, boxes: int, at_fault: Iterable[str]) -> Outcome | None:
    ready = table.ready
    pending = [_Open(ready.inputs[name].constrained, name, 0, _A_FAULT) for name in at_fault]
    try:
        return said(ready, _fired(ready, boxes, pending))
    except _TurnsOn:
        return None


#: A fault of which it does not matter which one it is.
_A_FAULT = _Fault(Outcome("silent", "silent"))

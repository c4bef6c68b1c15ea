"""A raw record that two states of the law rule on differently, searched for through the evaluator.

Both states rule on the same small building of which nothing is given; wherever either asks for something, the answers
are tried. The search is bounded and its order fixed, so that it finds the same record every time; finding none shows
nothing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from hashlib import sha256

from yokebook.deciding import Context
from yokebook.entities import KIND_OF_PREFIX, ONE, Kind
from yokebook.exploring import explore, impossible
from yokebook.graph import Graph, Thing
from yokebook.law import Candidate, InForce, Law
from yokebook.model import Book, Value
from yokebook.proof.buildings import SHAPES, building
from yokebook.proof.realise import Realised, Realiser, a_value
from yokebook.session import LowerFault, Outcome, OverBudget, Session, answer_of, key_of
from yokebook.stated import disagreements
from yokebook.values import NotApplicable, Some, Span, Split, Val, Var, in_order, intersect, known, single

#: How many parts one search may try in one building, in one order.
STEPS = 240

#: How many orders are tried of what a building may be like.
ORDERS = 2

Readings = Mapping[str, str]


class State:
    """One state of the law: a document with the rulebook it stands in and the documents in force beside it."""

    def __init__(self, book: Book, law: Law, beside: Mapping[str, InForce]) -> None:
        self.book = book
        self.law = law
        own = InForce(law.kind, (Candidate("this law", "in force", law, ""),))
        self.in_force: dict[str, InForce] = {**beside, law.kind: own}
        self.realiser = Realiser(book, law, self.in_force)


@dataclass(frozen=True)
class Shown:
    """A record on which two states differ: as the new one rules on it, and the old outcome and the new in words. Under
    several alternatives of a reading an outcome may be several words."""

    record: Realised
    was: str
    now: str


@dataclass(frozen=True)
class _Way:
    """One state under some readings held fixed."""

    state: State
    old: bool
    readings: Readings


class TwoLaws:
    """Searches for records on which two states of the law differ in one question.

    `was_under` and `now_under` are the readings to hold: where there are several, the outcomes under all of them
    together are compared, as where it has changed which alternatives are published.
    """

    def __init__(
        self,
        was: State,
        now: State,
        question: str,
        was_under: Sequence[Readings] = ({},),
        now_under: Sequence[Readings] = ({},),
    ) -> None:
        self.was, self.now = was, now
        self.question = question
        self.per: Kind = now.book.questions[question].per
        self.ways = [*(_Way(was, True, r) for r in was_under), *(_Way(now, False, r) for r in now_under)]

    def anywhere(self, through: Sequence[str] = (), *, only_through: bool = False) -> Shown | None:
        """A record that shows a difference; None where none was found.

        `through` names inputs of the table: first records are tried in which one of them differs. `only_through`: no
        others can differ.
        """
        reached = [name for name in through if self._reached(name)]
        alone = only_through and len(reached) == len(through)
        for guide in [reached] if alone else [reached, []] if reached else [[]]:
            for shape in SHAPES:
                graph = building(shape)
                if not graph.things[self.per]:
                    continue
                for order in range(ORDERS):
                    search = _Search(self, graph, graph.things[self.per][0], {}, guide, order)
                    found = search.run()
                    if found is not None:
                        return found
                    if not search.stopped:
                        break
        return None

    def near(self, found: Realised) -> Shown | None:
        """The record, with more facts given if need be, as one that shows a difference; None where it shows none."""
        assumed: dict[Var, Span] = {}
        for thing in found.graph:
            thing.given.clear()
        for thing, name, value in found.facts:
            if name in self.now.book.facts:
                var = Var("fact", key_of(thing), name)
            elif name in self.now.book.calculations:
                var = Var("figure", key_of(thing), f"{self.now.law.kind}:{name}")
            else:
                kind, question = answer_of(self.now.book, name.removeprefix("answer."), self.now.law.kind)
                var = Var("answer", key_of(thing), f"{kind}:{question.id}")
            assumed[var] = known(value)
        held = TwoLaws(self.was, self.now, self.question, (found.readings,), (found.readings,))
        return _Search(held, found.graph, found.subject, assumed, [], 0).run()

    def _reached(self, name: str) -> bool:
        """Whether an input belongs to the thing asked about or to one that it has exactly one of."""
        if name.startswith(("reading.", "answer.")):
            return True
        kind = KIND_OF_PREFIX[name.partition(".")[0]]
        return kind == self.per or kind in ONE[self.per]


class _Search:
    """One building, searched depth first under every way at once: all assume the same of what is not given."""

    def __init__(
        self,
        of: TwoLaws,
        graph: Graph,
        subject: Thing,
        assumed: Mapping[Var, Span],
        guide: Sequence[str],
        order: int,
    ) -> None:
        self.of = of
        self.graph = graph
        self.subject = subject
        self.guide = guide
        self.order = order
        self.stopped = False  # whether the steps ran out before everything was tried
        self.sessions = {id(s): Session(graph, s.book, s.in_force) for s in (of.was, of.now)}
        self.start = [Context(self.sessions[id(way.state)], dict(assumed), way.readings, set()) for way in of.ways]

    def run(self) -> Shown | None:
        stack = [self.start]
        for _ in range(STEPS):
            if not stack:
                return None
            for session in self.sessions.values():
                session.tried = 0
            node = stack.pop()
            try:
                found = self._look(node)
            except (LowerFault, OverBudget, KeyError):
                continue  # under one of the states this cannot be ruled on
            if isinstance(found, Shown):
                return found
            stack.extend([c.assume(var, part) for c in node] for var, part in reversed(self._ordered(found)))
        self.stopped = True
        return None

    def _ordered(self, ways: list[tuple[Var, Span]]) -> list[tuple[Var, Span]]:
        """What to try next in this search's own order: as it comes, or shuffled in a fixed way."""
        if self.order == 0:
            return ways
        return sorted(ways, key=lambda way: sha256(f"{self.order} {way[0]} {_words(way[1])}".encode()).digest())

    def _look(self, node: list[Context]) -> Shown | list[tuple[Var, Span]]:
        """A difference, or what to try next; [] where there is none to be found here."""
        if self.guide:
            further = self._guided(node)
            if further is not None:
                return further
        outcomes: list[Outcome] = []
        for way, context in zip(self.of.ways, node, strict=True):
            try:
                outcomes.append(context.decide(way.state.law, self.subject, self.of.question))
            except LowerFault as fault:
                outcomes.append(fault.outcome)
            except Split as split:
                return self._ways(way, context, split)
        if self._words_of(outcomes, True) == self._words_of(outcomes, False):
            return []
        for way, context in zip(self.of.ways, node, strict=True):
            try:
                if impossible(context, way.state.law.kind, self.subject) is not None:
                    return []
            except Split as split:
                return self._ways(way, context, split)
        return self._shortest(node) or []

    def _shortest(self, node: list[Context]) -> Shown | None:
        """The difference with nothing given that it does not need; None where it is no raw record that shows it."""
        assumed = dict(node[-1].assumed)
        if self._anew(assumed) is None:
            return None
        for var in node[-1].assumed:
            less = {other: span for other, span in assumed.items() if other != var}
            if self._anew(less) is not None:
                assumed = less
        return self._anew(assumed)

    def _anew(self, assumed: Mapping[Var, Span]) -> Shown | None:
        """What was assumed as a raw record, ruled anew with its facts given and nothing assumed; None where it is none,
        cannot stand as it is given, is open under one of the states, or has the same outcome in both. Its facts stay
        given."""
        facts = self._facts(assumed)
        if facts is None:
            return None
        for thing in self.graph:
            thing.given.clear()
        for thing, name, value in facts:
            thing.given[name] = value
        readings = {var.name: str(a_value(span)) for var, span in assumed.items() if var.kind == "reading"}
        sessions = {id(s): Session(self.graph, s.book, s.in_force) for s in (self.of.was, self.of.now)}
        outcomes: list[Outcome] = []
        for way in self.of.ways:
            fixed, kind = {**readings, **way.readings}, way.state.law.kind
            anew = explore(sessions[id(way.state)], self.of.question, self.subject, kind, fixed)
            if not anew.decided or not anew.leaves or not anew.single:
                return None
            outcomes.append(anew.leaves[0].outcome)
        was, now = (self._words_of(outcomes, old) for old in (True, False))
        if was == now or any(disagreements(session) for session in sessions.values()):
            return None
        if len(self.of.ways) == 2:
            readings |= self.of.ways[-1].readings
        record = Realised(self.graph, self.subject, tuple(facts), readings, outcomes[-1])
        return Shown(record, " or ".join(was), " or ".join(now))

    def _words_of(self, outcomes: Sequence[Outcome], old: bool) -> list[str]:
        ways = zip(self.of.ways, outcomes, strict=True)
        return sorted({outcome.word or outcome.status for way, outcome in ways if way.old == old})

    def _guided(self, node: list[Context]) -> list[tuple[Var, Span]] | None:
        """What to try next for an input of the guide that is open; [] where none of them differs, None where one
        does."""
        differs = False
        for name in self.guide:
            vals: dict[bool, set[tuple[Span, bool]]] = {True: set(), False: set()}
            for way, context in zip(self.of.ways, node, strict=True):
                try:
                    val = context.input(way.state.law, self.subject, name)
                except Split as split:
                    return self._ways(way, context, split)
                if val.maybe_na or (single(val.span) is None and not isinstance(val.span, NotApplicable)):
                    return self._narrowing(way, context, val)
                vals[way.old].add((val.span, val.maybe_na))
            differs = differs or vals[True] != vals[False]
        return None if differs else []

    def _narrowing(self, way: _Way, context: Context, val: Val) -> list[tuple[Var, Span]]:
        for var in val.needs or ((val.var,) if val.var else ()):
            options = self._options(way, context, var)
            if options:
                return options
        return []

    def _ways(self, way: _Way, context: Context, split: Split) -> list[tuple[Var, Span]]:
        """What to try where the evaluator asks: raw facts behind a figure, not the figure itself."""
        if split.var.kind == "figure":
            for need in split.needs:
                options = self._options(way, context, need)
                if options:
                    return options
        return [(split.var, part) for part in split.parts]

    def _options(self, way: _Way, context: Context, var: Var) -> list[tuple[Var, Span]]:
        """Single values of an unknown thing that are still possible; none where it is settled already."""
        now = context.assumed.get(var)
        if now is not None and single(now) is not None:
            return []
        name = _stated_as(var, way.state.book)
        if name is not None:
            points = dict.fromkeys((*self.of.was.realiser.points(name), *self.of.now.realiser.points(name)))
            return [(var, known(value)) for value in points if now is None or intersect(now, known(value)) is not None]
        if isinstance(now, Some):
            return [(var, known(value)) for value in in_order(now.values)]
        return []

    def _facts(self, assumed: Mapping[Var, Span]) -> list[tuple[Thing, str, Value]] | None:
        """What was assumed as raw facts; None where a figure is assumed of which only bounds are known."""
        things = {key_of(thing): thing for thing in self.graph}
        facts: list[tuple[Thing, str, Value]] = []
        for var, span in assumed.items():
            name = _stated_as(var, self.of.now.book)
            if var.kind == "answer" and var.subject in things:
                facts.append((things[var.subject], f"answer.{var.name.replace(':', '.', 1)}", a_value(span)))
            elif name is not None and var.subject in things:
                facts.append((things[var.subject], name, a_value(span)))
            elif var.kind not in ("entry", "reading"):
                return None
        return facts


def _stated_as(var: Var, book: Book) -> str | None:
    """The fact that a record would state for an unknown thing, or the figure that people read off a nameplate."""
    if var.kind == "fact" and var.name in book.facts:
        return var.name
    if var.kind == "figure":
        name = var.name.partition(":")[2]
        return name if name in book.calculations and book.calculations[name].ask_first else None
    return None


def _words(span: Span) -> str:
    """A span as text that is the same in every run."""
    return str(in_order(span.values)) if isinstance(span, Some) else str(span)

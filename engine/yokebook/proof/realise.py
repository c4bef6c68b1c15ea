"""A record of raw facts in which the inputs of a table have wanted values: that it exists, shown by the evaluator.

A table's inputs may be figures and answers, which are computed. Not every combination of them can come about; one that
does has a record. It is searched for by ruling on small buildings of which nothing is given, and following, wherever
the evaluator asks for something, the answers that may lead to what is wanted.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from yokebook.deciding import Context
from yokebook.exploring import explore, impossible
from yokebook.graph import Graph, Thing
from yokebook.law import InForce, Law
from yokebook.model import Book, Value
from yokebook.proof.buildings import SHAPES, building
from yokebook.proof.cells import cells_on, ends_of
from yokebook.session import LowerFault, Outcome, OverBudget, Session, key_of
from yokebook.stated import disagreements
from yokebook.values import (
    NotApplicable,
    Range,
    Some,
    Span,
    Split,
    Val,
    Var,
    in_order,
    inside,
    intersect,
    known,
    single,
    within,
)

#: How many parts one search may try in one building.
STEPS = 400

#: Numbers tried of a fact that no cell cuts.
_USUAL = (Fraction(1), Fraction(0), Fraction(2), Fraction(10), Fraction(100), Fraction(1000))

#: What a number to show is rounded to, if that leaves it within its stretch: the first that does.
_ROUND = tuple(Fraction(step) for step in ("100", "10", "5", "1", "1/2", "1/4", "1/10"))


@dataclass(frozen=True)
class Realised:
    """A building that has what was wanted: its facts by thing and name, the readings it is ruled under, the outcome."""

    graph: Graph
    subject: Thing
    facts: tuple[tuple[Thing, str, Value], ...]
    readings: Mapping[str, str]
    outcome: Outcome


class Realiser:
    """Searches for records under one law. `in_force` holds every document in force beside it."""

    def __init__(self, book: Book, law: Law, in_force: Mapping[str, InForce]) -> None:
        self.book = book
        self.law = law
        self.in_force = in_force
        self._points: dict[str, tuple[Value, ...]] = {}

    def find(
        self, question: str, wanted: Mapping[str, Sequence[Span]], status: str, steps: int = STEPS
    ) -> Realised | None:
        """A building in which every input is among what is wanted of it and the table's outcome has this status.

        None where none was found within the steps, which does not show that there is none.
        """
        per = self.book.questions[question].per
        for shape in SHAPES:
            graph = building(shape)
            if graph.things[per]:
                found = _Search(self, graph, graph.things[per][0], question, wanted, steps).run(status)
                if found is not None:
                    return found
        return None

    def points(self, name: str) -> tuple[Value, ...]:
        """Values of a fact to try: every word, or a number in every stretch that some cell of the law tells apart."""
        if name not in self._points:
            self._points[name] = tuple(self._make_points(name))
        return self._points[name]

    def _make_points(self, name: str) -> Iterator[Value]:
        if name in self.book.calculations:  # one that people read off a nameplate
            its = self.book.calculations[name]
            type_, unit, words = its.type, its.unit, its.values
            whole = Range(Fraction(0), False, None, True)
        else:
            fact = self.book.facts[name]
            type_, unit, words = fact.type, fact.unit, fact.values
            whole = Range(fact.low, fact.low_open, fact.high, fact.high_open, fact.whole)
        if type_ == "yes_no":
            yield from (True, False)
        elif type_ == "choice":
            yield from words
        else:
            numbers = dict.fromkeys((*self._near(name, unit), *_USUAL))
            yield from (number for number in numbers if within(number, whole))

    def _near(self, name: str, unit: str | None) -> Iterator[Fraction]:
        """Numbers that the law's cells on a fact, and its named numbers in the same unit, have for an end; then one
        below and one above each, so that both sides of it are tried."""
        ends = {n for cell in cells_on(name, self.law, self.book) for n in ends_of(cell)}
        if unit is not None:
            ends |= {value.value for value in self.law.resolved.values.values() if value.unit == unit}
        yield from sorted(ends)
        for end in sorted(ends):
            yield from (end + 1, end - 1, end * 2)


class _Search:
    """One building, searched depth first."""

    def __init__(
        self,
        realiser: Realiser,
        graph: Graph,
        subject: Thing,
        question: str,
        wanted: Mapping[str, Sequence[Span]],
        steps: int,
    ) -> None:
        self.of = realiser
        self.law = realiser.law
        self.graph = graph
        self.subject = subject
        self.question = question
        self.fixed = _readings(wanted)
        self.wanted = {name: spans for name, spans in wanted.items() if not name.startswith("reading.")}
        self.names = sorted(self.wanted, key=lambda name: name not in realiser.book.facts)
        self.left = steps

    def run(self, status: str) -> Realised | None:
        session = Session(self.graph, self.of.book, self.of.in_force)
        stack = [Context(session, {}, self.fixed, set())]
        while stack:
            self.left -= 1
            if self.left < 0:
                return None
            session.tried = 0
            context = stack.pop()
            try:
                further = self._further(context)
            except (LowerFault, OverBudget):
                continue
            if further is None:
                done = self._done(context, status)
                if isinstance(done, Realised):
                    return done
                further = done
            stack.extend(context.assume(var, part) for var, part in reversed(further))
        return None

    def _further(self, context: Context) -> list[tuple[Var, Span]] | None:
        """What to try next: for the first input that is open, the ways that may lead to what is wanted; [] where any
        input cannot be what is wanted, None where all are."""
        first: list[tuple[Var, Span]] | None = None
        for name in self.names:
            ways = self._ways_to(context, name)
            if ways == []:
                return []
            first = first or ways
        return first

    def _ways_to(self, context: Context, name: str) -> list[tuple[Var, Span]] | None:
        """As `_further`, for one input."""
        try:
            val = context.input(self.law, self.subject, name)
        except Split as split:
            return self._ways(context, split)
        spans = self.wanted[name]
        parts = [part for span in spans if (part := intersect(val.span, span)) is not None]
        if not parts and not (val.maybe_na and any(isinstance(span, NotApplicable) for span in spans)):
            return []
        if parts == [val.span] and not val.maybe_na:
            return None
        return list(self._towards(context, val, parts))

    def _towards(self, context: Context, val: Val, parts: Sequence[Span]) -> Iterator[tuple[Var, Span]]:
        """Ways to narrow a value to the parts wanted of it."""
        if val.var is not None and val.var.kind != "figure" and not val.maybe_na:
            if not val.preimage:
                yield from ((val.var, part) for part in parts)
                return
            back = dict(val.preimage)
            keys = {k for v, ks in back.items() for k in ks if any(intersect(known(v), part) for part in parts)}
            yield from ((val.var, known(key)) for key in in_order(keys))
            return
        for var in val.needs or ((val.var,) if val.var else ()):
            options = list(self._options(context, var))
            if options:
                yield from options
                return

    def _ways(self, context: Context, split: Split) -> list[tuple[Var, Span]]:
        """What to try where the evaluator asks: raw facts behind a figure, not the figure itself."""
        if split.var.kind == "figure":
            for need in split.needs:
                options = list(self._options(context, need))
                if options:
                    return options
        return [(split.var, part) for part in split.parts]

    def _options(self, context: Context, var: Var) -> Iterator[tuple[Var, Span]]:
        """Single values of an unknown thing that are still possible; none where it is settled already."""
        now = context.assumed.get(var)
        if now is not None and single(now) is not None:
            return
        name = self._to_state(var)
        if name is not None:
            for value in self.of.points(name):
                if now is None or intersect(now, known(value)) is not None:
                    yield var, known(value)
        elif isinstance(now, Some):
            yield from ((var, known(value)) for value in in_order(now.values))

    def _to_state(self, var: Var) -> str | None:
        """The fact that a record would state for an unknown thing, or the figure that people read off a nameplate."""
        if var.kind == "fact" and var.name in self.of.book.facts:
            return var.name
        if var.kind == "figure":
            name = var.name.partition(":")[2]
            return name if self.of.book.calculations[name].ask_first else None
        return None

    def _done(self, context: Context, status: str) -> Realised | list[tuple[Var, Span]]:
        """The building, if it can be and its outcome is what is wanted; else what more to try."""
        try:
            outcome = context.decide(self.law, self.subject, self.question)
            if outcome.status != status or impossible(context, self.law.kind, self.subject) is not None:
                return []
        except (LowerFault, OverBudget):
            return []
        except Split as split:
            return self._ways(context, split)
        facts: list[tuple[Thing, str, Value]] = []
        things = {key_of(thing): thing for thing in self.graph}
        for var, span in context.assumed.items():
            name = self._to_state(var)
            if name is not None and var.subject in things:
                facts.append((things[var.subject], name, a_value(span)))
            elif var.kind == "answer" and var.subject in things:
                facts.append((things[var.subject], f"answer.{var.name.replace(':', '.', 1)}", a_value(span)))
            elif var.kind not in ("fact", "answer", "entry", "reading"):
                return []  # a figure that only bounds are known of is no raw record
        readings = {v.name: str(a_value(span)) for v, span in context.assumed.items() if v.kind == "reading"}
        found = Realised(self.graph, self.subject, tuple(facts), {**readings, **self.fixed}, outcome)
        return found if self._stands(found) else []

    def _stands(self, found: Realised) -> bool:
        """Whether the record by itself has the outcome: ruled anew with its facts given and nothing assumed, and what
        it states agreeing with the rest of it. Its facts stay given only then."""
        for thing, name, value in found.facts:
            thing.given[name] = value
        session = Session(self.graph, self.of.book, self.of.in_force)
        anew = explore(session, self.question, self.subject, self.law.kind, found.readings)
        outcomes = {leaf.outcome.key() for leaf in anew.leaves}
        if anew.decided and outcomes == {found.outcome.key()} and not disagreements(session):
            return True
        for thing in self.graph:
            thing.given.clear()
        return False


def _readings(wanted: Mapping[str, Sequence[Span]]) -> dict[str, str]:
    """One alternative of each reading that is wanted."""
    chosen: dict[str, str] = {}
    for name, spans in wanted.items():
        if name.startswith("reading."):
            values: Iterable[Value] = (v for span in spans if isinstance(span, Some) for v in in_order(span.values))
            chosen[name.removeprefix("reading.")] = str(next(iter(values)))
    return chosen


def a_value(span: Span) -> Value:
    """One value of a span: the first word, or a round number well inside."""
    if isinstance(span, Some):
        return in_order(span.values)[0]
    assert isinstance(span, Range)
    return round_number(span)


def round_number(span: Range) -> Fraction:
    """A number in a range that is not empty, the roundest that is not at an end if there is one."""
    middle = inside(span)
    for step in _ROUND:
        near = Fraction(ceil(middle / step)) * step
        for number in (near, near - step):
            if within(number, span) and number not in (span.low, span.high):
                return number
    return middle

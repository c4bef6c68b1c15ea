"""A record of raw facts in which the inputs of a table have wanted values: that it exists, shown by the evaluator.

A table's inputs may be figures and answers, which are computed. Not every combination of them can come about; one that
does has a record. It is searched for by ruling on small buildings of which nothing is given, and following, wherever
the evaluator asks for something, the answers that may lead to what is wanted.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property
from itertools import islice
from math import ceil

from yokebook.deciding import Context
from yokebook.exploring import explore, impossible
from yokebook.graph import Graph, Thing
from yokebook.law import InForce, Law, LawFault
from yokebook.model import Book, Value
from yokebook.proof.buildings import SHAPES, building
from yokebook.proof.tries import Points, ends_of_spans, names_behind, through, ways_to_read
from yokebook.session import LowerFault, Outcome, OverBudget, Session, key_of
from yokebook.stated import disagreements
from yokebook.values import (
    NA,
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

#: So many times fewer for each further way to read the law.
_LESS = 8

#: A number that is worked out is tried only if it can be written with a few decimal places.
_PLACES = 10**3

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
        self.tries = Points(book, law)

    def find(
        self, question: str, wanted: Mapping[str, Sequence[Span]], status: str, steps: int = STEPS
    ) -> Realised | None:
        """A building in which every input is among what is wanted of it and the table's outcome has this status.

        None where none was found within the steps, which does not show that there is none.
        """
        per = self.book.questions[question].per
        behind = names_behind(self.book, self.law, wanted)
        ways = [(self.book, readings) for readings in ways_to_read(self.book, self.law, wanted, behind)]
        if any(name in behind and its.ask_first for name, its in self.book.calculations.items()):
            ways.append((self._nothing_stated, ways[0][1]))
        for number, (book, readings) in enumerate(ways):
            most = ceil(steps / _LESS) if number else steps
            for shape in SHAPES:
                graph = building(shape)
                if graph.things[per]:
                    search = _Search(self, book, graph, graph.things[per][0], question, wanted, readings, most)
                    found = search.run(status)
                    if found is not None:
                        return found
        return None

    @cached_property
    def _nothing_stated(self) -> Book:
        """The rulebook with every figure computed, those too that people read off a nameplate: what is computed may
        want values of what is behind it that no stated figure agrees with."""
        its = {name: replace(each, ask_first=False) for name, each in self.book.calculations.items()}
        return replace(self.book, calculations=its)

    def points(self, name: str) -> tuple[Value, ...]:
        """Values of a fact to try: every word, or a number in every stretch that some cell of the law tells apart."""
        return self.tries.of(name)


class _Search:
    """One building, searched depth first."""

    def __init__(
        self,
        realiser: Realiser,
        book: Book,
        graph: Graph,
        subject: Thing,
        question: str,
        wanted: Mapping[str, Sequence[Span]],
        readings: Mapping[str, str],
        steps: int,
    ) -> None:
        self.of = realiser
        self.book = book
        self.law = realiser.law
        self.graph = graph
        self.subject = subject
        self.question = question
        self.fixed = readings
        self.wanted = {name: spans for name, spans in wanted.items() if not name.startswith("reading.")}
        self.names = sorted(self.wanted, key=lambda name: name not in realiser.book.facts)
        self.left = steps
        #: what the numbers wanted of figures end at, for the facts behind them
        self.ends = [n for spans in self.wanted.values() for n in ends_of_spans(spans)]

    def run(self, status: str) -> Realised | None:
        session = Session(self.graph, self.book, self.of.in_force)
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
            except LawFault:  # an input that only the law compared with asks for: this one does not set its numbers
                return None
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
        return list(self._towards(context, name, val, parts))

    def _towards(
        self, context: Context, name: str, val: Val, parts: Sequence[Span]
    ) -> Iterator[tuple[Var, Span]]:
        """Ways to narrow a value to the parts wanted of it."""
        if val.var is not None and val.var.kind != "figure" and not val.maybe_na:
            if not val.preimage:
                yield from ((val.var, part) for part in parts)
                return
            back = dict(val.preimage)
            keys = {k for v, ks in back.items() for k in ks if any(intersect(known(v), part) for part in parts)}
            yield from ((val.var, known(key)) for key in in_order(keys))
            return
        needs = val.needs or ((val.var,) if val.var else ())
        left_open = list(islice((var for var in needs if any(True for _ in self._options(context, var))), 2))
        if len(left_open) == 1:
            yield from self._solving(context, name, left_open[0], parts)
        if left_open:
            yield from self._options(context, left_open[0])

    def _solving(self, context: Context, name: str, var: Var, parts: Sequence[Span]) -> Iterator[tuple[Var, Span]]:
        """Numbers of the one fact left open behind a figure at which the figure is what is wanted, where it grows
        evenly with the fact or with one over it."""
        fact, tries = self._to_state(var), self.of.tries
        if fact is None or not tries.is_number(fact):
            return
        known_at = [(x, y) for x in tries.of(fact)[:4] if (y := self._figure_at(context, name, var, x)) is not None]
        wanted = [n for part in parts if isinstance(n := None if part == NA else a_value(part), Fraction)]
        for x in through(known_at[:2], wanted) if len(known_at) > 1 else ():
            if tries.allowed(fact, x) and (x * _PLACES).denominator == 1:
                yield var, known(x)

    def _figure_at(self, context: Context, name: str, var: Var, value: Value) -> Fraction | None:
        """What a figure is with a fact at a value, if that settles it."""
        try:
            figure = single(context.assume(var, known(value)).input(self.law, self.subject, name).span)
        except (Split, LowerFault, OverBudget):
            return None
        return figure if isinstance(figure, Fraction) else None

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
            for value in self._points(name):
                if now is None or intersect(now, known(value)) is not None:
                    yield var, known(value)
        elif isinstance(now, Some):
            yield from ((var, known(value)) for value in in_order(now.values))

    def _points(self, name: str) -> Iterable[Value]:
        tries = self.of.tries
        if not tries.is_number(name):
            return tries.of(name)
        return dict.fromkeys((*tries.of(name), *(n for n in self.ends if tries.allowed(name, n))))

    def _to_state(self, var: Var) -> str | None:
        """The fact that a record would state for an unknown thing, or the figure that people read off a nameplate."""
        if var.kind == "fact" and var.name in self.book.facts:
            return var.name
        if var.kind == "figure":
            name = var.name.partition(":")[2]
            return name if self.book.calculations[name].ask_first else None
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
        return found if self._stands(found) else self._narrower(context)

    def _narrower(self, context: Context) -> list[tuple[Var, Span]]:
        """Where the values taken of what is assumed do not stand together: other single values of the first that has
        several."""
        for var in context.assumed:
            options = list(self._options(context, var))
            if options:
                return options
        return []

    def _stands(self, found: Realised) -> bool:
        """Whether the record by itself has the outcome: ruled anew with its facts given and nothing assumed, and what
        it states agreeing with the rest of it. Its facts stay given only then."""
        for thing, name, value in found.facts:
            thing.given[name] = value
        session = Session(self.graph, self.book, self.of.in_force)
        if not self._cannot_be(session, found.readings):
            anew = explore(session, self.question, self.subject, self.law.kind, found.readings)
            outcomes = {leaf.outcome.key() for leaf in anew.leaves}
            if anew.decided and outcomes == {found.outcome.key()} and not disagreements(session):
                return True
        for thing in self.graph:
            thing.given.clear()
        return False

    def _cannot_be(self, session: Session, readings: Mapping[str, str]) -> bool:
        """Whether the record cannot be as it is given, where that shows before anything is assumed: most that do not
        stand fail here, which takes far less than to rule on them."""
        try:
            return impossible(Context(session, {}, readings, set()), self.law.kind, self.subject) is not None
        except (Split, LowerFault, OverBudget):
            return False


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

"""Records ruled under two laws: that a change comes about is shown by one, ruled by the evaluator under both."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass

from yokebook.deciding import Context
from yokebook.exploring import Exploration, Leaf, explore
from yokebook.graph import Graph, Thing
from yokebook.law import InForce, Law
from yokebook.model import Book, Value
from yokebook.proof.buildings import SHAPES, building
from yokebook.proof.realise import Realiser, a_value
from yokebook.session import LowerFault, Outcome, OverBudget, Session, key_of
from yokebook.stated import disagreements
from yokebook.values import Span, Split, Var, known, single

#: What an outcome is, as `Outcome.key()` gives it.
Key = tuple[str, str]

#: How many parts one search for a record may try in one building.
STEPS = 140

#: How many records are drawn in one building, or from one record that is known to change a lower answer: as long as
#: none was found that changes, and after that.
DRAWS, FURTHER_DRAWS = 12, 3

#: How many facts one drawn record may need.
_MOST_FACTS = 64

#: How often facts that only one of the laws looks at are added to a record before it is given up.
_ROUNDS = 6


@dataclass(frozen=True)
class Shown:
    """A record that was ruled under both laws: its facts, the readings it is ruled under, and one completion of each,
    the old law's first."""

    graph: Graph
    subject: Thing
    facts: Mapping[tuple[Thing, str], Value]
    readings: Mapping[str, str]
    leaves: tuple[Leaf, Leaf]

    @property
    def keys(self) -> tuple[Key, Key]:
        """What the old law says of it and what the new one does."""
        return self.leaves[0].outcome.key(), self.leaves[1].outcome.key()


@dataclass
class Dice:
    """Numbers that look drawn by chance and are the same every time."""

    state: int = 1

    def below(self, count: int) -> int:
        """A number from 0 to count - 1."""
        self.state = (self.state * 48271) % 2147483647
        return self.state % count


class Twins:
    """Two laws of one kind of document, each with all that is in force beside it, the old one first."""

    def __init__(
        self, book: Book, laws: tuple[Law, Law], in_force: tuple[Mapping[str, InForce], Mapping[str, InForce]]
    ) -> None:
        self.book = book
        self.laws = laws
        self.in_force = in_force
        self.kind = laws[0].kind
        self.realisers = [Realiser(book, law, line) for law, line in zip(laws, in_force, strict=True)]
        self._points: dict[str, tuple[Value, ...]] = {}

    # ---- a record for a region --------------------------------------------------------------------------------------

    def in_region(
        self, question: str, spans: Mapping[str, Sequence[Span]], wanted: tuple[Key, Key], steps: int = STEPS
    ) -> Shown | None:
        """A record whose inputs are in a region and whose ruling changes as wanted; None where none was found."""
        for realiser, key in ((self.realisers[1], wanted[1]), (self.realisers[0], wanted[0])):
            found = realiser.find(question, spans, key[0], steps)
            if found is not None:
                facts = {(thing, name): value for thing, name, value in found.facts}
                shown = self.verified(question, found.graph, found.subject, facts, found.readings, wanted)
                if shown is not None:
                    return shown
        return None

    def verified(
        self,
        question: str,
        graph: Graph,
        subject: Thing,
        facts: Mapping[tuple[Thing, str], Value],
        readings: Mapping[str, str],
        wanted: tuple[Key, Key],
    ) -> Shown | None:
        """The record with these facts added, ruled under both laws, if every completion changes as wanted; facts that
        only one law looks at are added where it needs them. None where it does not come to that.

        The facts are left on the graph only where the record is given back.
        """
        stated, chosen = dict(facts), dict(readings)
        before = {id(thing): dict(thing.given) for thing in graph}
        for _ in range(_ROUNDS):
            for (thing, name), value in stated.items():
                thing.given[name] = value
            explored = [self._explored(side, question, graph, subject, chosen) for side in (0, 1)]
            fitting = [
                [leaf for leaf in found.leaves if leaf.outcome.key() == key] if found is not None else []
                for found, key in zip(explored, wanted, strict=True)
            ]
            if not all(fitting):
                break
            open_sides = [n for n, found in enumerate(explored) if found is not None and not found.single]
            if not open_sides:
                if self._stands(graph):
                    return Shown(graph, subject, stated, chosen, (fitting[0][0], fitting[1][0]))
                break
            more = self._stated(graph, fitting[open_sides[0]][0].assumed)
            if more is None or not (more[0] or more[1]):
                break
            stated.update(more[0])
            chosen.update(more[1])
        for thing in graph:
            thing.given = before[id(thing)]
        return None

    def _explored(
        self, side: int, question: str, graph: Graph, subject: Thing, readings: Mapping[str, str]
    ) -> Exploration | None:
        session = Session(graph, self.book, self.in_force[side])
        found = explore(session, question, subject, self.kind, readings)
        return found if found.decided else None

    def _stands(self, graph: Graph) -> bool:
        """Whether nothing stated is given otherwise by other facts, under either law."""
        return not any(disagreements(Session(graph, self.book, line)) for line in self.in_force)

    def _stated(
        self, graph: Graph, assumed: Mapping[Var, Span]
    ) -> tuple[dict[tuple[Thing, str], Value], dict[str, str]] | None:
        """What is assumed as facts to state and readings to rule under; None where it holds something else."""
        facts: dict[tuple[Thing, str], Value] = {}
        readings: dict[str, str] = {}
        things = {key_of(thing): thing for thing in graph}
        for var, span in assumed.items():
            if var.kind == "reading":
                readings[var.name] = str(a_value(span))
                continue
            name = self._to_state(var)
            if name is None or var.subject not in things:
                return None
            facts[things[var.subject], name] = a_value(span)
        return facts, readings

    def _to_state(self, var: Var) -> str | None:
        """The name under which a record states an unknown thing; None for what no record states."""
        if var.kind == "fact":
            return var.name
        if var.kind == "answer":
            return f"answer.{var.name.replace(':', '.', 1)}"
        if var.kind == "figure":
            name = var.name.partition(":")[2]
            return name if self.book.calculations[name].ask_first else None
        return None

    # ---- records drawn ----------------------------------------------------------------------------------------------

    def drawn(self, question: str, known_records: Sequence[Shown]) -> Iterator[Shown]:
        """Records whose ruling on a question differs, each (old, new) once: drawn in small buildings, and first from
        records that are known to change an answer below."""
        per = self.book.questions[question].per
        dice = Dice()
        found: set[tuple[Key, Key]] = set()
        for make in self._starts(known_records):
            here = 0
            while here < (FURTHER_DRAWS if found else DRAWS):
                here += 1
                graph = make()
                subjects = graph.things[per]
                if not subjects:
                    break
                shown = self._draw(question, graph, subjects[dice.below(len(subjects))], dice, found)
                if shown is not None and shown.keys not in found:
                    found.add(shown.keys)
                    yield shown

    def _starts(self, known_records: Sequence[Shown]) -> Iterator[Callable[[], Graph]]:
        for shown in known_records:
            yield lambda shown=shown: deepcopy(shown.graph)  # type: ignore[misc]
        for shape in SHAPES:
            yield lambda shape=shape: building(shape)  # type: ignore[misc]

    def _draw(
        self, question: str, graph: Graph, subject: Thing, dice: Dice, found: set[tuple[Key, Key]]
    ) -> Shown | None:
        """One record, what is looked at drawn as it is asked for; given back where the two laws say different things
        that were not found yet."""
        assumed: dict[Var, Span] = {}
        outcomes: list[Outcome] = []
        for law, line in zip(self.laws, self.in_force, strict=True):
            outcome = self._drawn_outcome(question, Session(graph, self.book, line), law, subject, dice, assumed)
            if outcome is None:
                return None
            outcomes.append(outcome)
        keys = (outcomes[0].key(), outcomes[1].key())
        if keys[0] == keys[1] or keys in found:
            return None
        stated = self._stated(graph, assumed)
        if stated is None:
            return None
        return self.verified(question, graph, subject, *stated, keys)

    def _drawn_outcome(
        self, question: str, session: Session, law: Law, subject: Thing, dice: Dice, assumed: dict[Var, Span]
    ) -> Outcome | None:
        context = Context(session, dict(assumed), {}, set())
        for _ in range(_MOST_FACTS):
            session.tried = 0
            try:
                return context.decide(law, subject, question)
            except LowerFault as fault:
                return fault.outcome
            except OverBudget:
                return None
            except Split as split:
                picked = self._pick(split, assumed, dice)
                if picked is None:
                    return None
                assumed[picked[0]] = picked[1]
                context = context.assume(*picked)
        return None

    def _pick(self, split: Split, assumed: Mapping[Var, Span], dice: Dice) -> tuple[Var, Span] | None:
        """One value of what the evaluator asks for: raw facts behind a figure, not the figure itself."""
        for var in (split.var, *split.needs):
            name = self._to_state(var)
            if var.kind == "answer":
                name = None
            now = assumed.get(var)
            if now is not None and single(now) is not None:
                continue
            if name is not None:
                points = self._values(name)
                return var, known(points[dice.below(len(points))])
            if var.kind != "figure" and var == split.var:
                return var, split.parts[dice.below(len(split.parts))]
        return None

    def _values(self, name: str) -> tuple[Value, ...]:
        """Values of a fact to draw from: those that either law tells apart."""
        if name not in self._points:
            both = (*self.realisers[1].points(name), *self.realisers[0].points(name))
            self._points[name] = tuple(dict.fromkeys(both))
        return self._points[name]

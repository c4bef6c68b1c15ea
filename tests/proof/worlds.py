"""Random rulebooks about whole buildings: facts of every kind of thing, calculations of every form that take each
other, a lower table, combinations that cannot be; and random buildings of which everything is given."""

from __future__ import annotations

import random
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

from ruling import small
from yokebook.deciding import Context
from yokebook.entities import KIND_OF_PREFIX, KINDS, LISTS, ONE, PREFIX, Kind
from yokebook.exploring import impossible
from yokebook.graph import Graph, Thing
from yokebook.law import Candidate, InForce, Law
from yokebook.model import (
    Arithmetic,
    Book,
    Box,
    ByReading,
    Calculation,
    Cell,
    Comparison,
    Constant,
    Expression,
    Fact,
    Impossible,
    LookUp,
    NamedNumber,
    NoneOf,
    NumberValue,
    Of,
    OneOf,
    Over,
    Question,
    Resolved,
    Rule,
    Step,
    Table,
    Value,
    WhereBox,
    Within,
)
from yokebook.prevails import prevails
from yokebook.proof.buildings import SHAPES, building
from yokebook.proof.domains import of_calculation
from yokebook.session import Session
from yokebook.stated import disagreements
from yokebook.values import NotApplicable, Range, Some, in_order, single, within

ENDS = tuple(Fraction(n, 2) for n in range(-2, 7))  # -1, -1/2, … 3
#: on, between and beyond all ends
NUMBERS = tuple(Fraction(n, 4) for n in range(-6, 15))
ALTERNATIVES = ("one", "two", "three")
CLASSES = ("light", "heavy")
RELATIONS = ("at_least", "more_than", "at_most", "less_than", "equals")


@dataclass
class World:
    """A rulebook with its one law; `upper` is the table at hand, asked of things of the kind `per`."""

    book: Book
    law: Law
    per: Kind

    @property
    def in_force(self) -> dict[str, InForce]:
        """The law in force."""
        return {"small": InForce("small", (Candidate("entry", "in force", self.law, ""),))}


@dataclass
class Full:
    """One building of which everything is given, and the readings it is ruled under."""

    world: World
    graph: Graph
    readings: dict[str, str]
    session: Session = field(init=False)
    context: Context = field(init=False)

    def __post_init__(self) -> None:
        self.session = Session(self.graph, self.world.book, self.world.in_force)
        self.context = Context(self.session, {}, self.readings, set())

    def can_be(self, thing: Thing) -> bool:
        """Whether the record stands: nothing in it is impossible, and nothing stated disagrees."""
        return impossible(self.context, "small", thing) is None and not disagreements(self.session)


# ---- buildings -------------------------------------------------------------------------------------------------------


def random_full(rng: random.Random, world: World, *, stated: bool = True) -> Full:
    """A building with every fact that applies, and with `stated` now and then a figure that need not be."""
    graph = building(rng.choice(SHAPES))
    for contact in graph.things["contact"]:
        for name in ("circuit", "load"):
            if contact.refs.get(name) is not None and rng.random() < 0.2:
                there = contact.refs[name]
                assert there is not None
                there.many["contacts"] = [c for c in there.many["contacts"] if c is not contact]
                contact.refs[name] = None
    readings = {name: rng.choice(ALTERNATIVES) for name in world.book.readings}
    full = Full(world, graph, readings)
    for fact in world.book.facts.values():
        for thing in graph.things[fact.entity]:
            if Full(world, graph, readings).context.applies(world.law, thing, fact):
                thing.given[fact.id] = rng.choice(values_of(fact))
    if stated and rng.random() < 0.3 and world.book.calculations:
        its = rng.choice(list(world.book.calculations.values()))
        for thing in graph.things[its.entity]:
            thing.given[its.id] = _stated(rng, world, its)
    return Full(world, graph, full.readings)


def _stated(rng: random.Random, world: World, its: Calculation) -> Value:
    """A value that the calculation could give: of one that does not apply anything may be stated."""
    span = of_calculation(world.law, its, world.book)
    if isinstance(span, Some):
        return rng.choice(in_order(span.values))
    assert isinstance(span, Range)
    return rng.choice([n for n in NUMBERS if within(n, span)])


def values_of(fact: Fact) -> list[Value]:
    """Values of a fact on, between and beyond all ends of cells."""
    if fact.type == "yes_no":
        return [True, False]
    if fact.type == "choice":
        return list(fact.values)
    return [n for n in NUMBERS if _allowed(fact, n)]


def _allowed(fact: Fact, n: Fraction) -> bool:
    if fact.whole and n.denominator != 1:
        return False
    if fact.low is not None and (n < fact.low or (fact.low_open and n == fact.low)):
        return False
    return fact.high is None or n < fact.high or (n == fact.high and not fact.high_open)


def inputs_of(full: Full, thing: Thing, names: Iterable[str]) -> dict[str, Value | None]:
    """What each input of a table is for a thing by the evaluator; None where it does not apply. Raises LowerFault."""
    found: dict[str, Value | None] = {}
    for name in names:
        val = full.context.input(full.world.law, thing, name)
        found[name] = single(val.span)
        assert not val.maybe_na and (found[name] is not None or isinstance(val.span, NotApplicable)), (name, val)
    return found


# ---- rulebooks -------------------------------------------------------------------------------------------------------


def random_world(rng: random.Random, calculations: int = 6) -> World:
    """A rulebook that a loader could give."""
    while True:
        world = Maker(rng).world(calculations)
        if all(acyclic(table) for table in world.law.resolved.tables.values()):
            return world


def acyclic(table: Table) -> bool:
    """Whether no rule of a table prevails over itself, which is refused at load."""
    return not any(winner in losers for winner, losers in prevails(table).items())


class Maker:
    """Draws a rulebook."""

    def __init__(self, rng: random.Random) -> None:
        self.rng = rng
        self.facts: dict[str, Fact] = {}
        self.figures: dict[str, Calculation] = {}
        self.lower: Kind | None = None

    def world(self, calculations: int) -> World:
        rng = self.rng
        for kind in KINDS:
            self._facts(kind)
        for n in range(calculations):
            self._figure(n)
        lows: tuple[Kind, ...] = ("contact", "yoke", "control", "contact")
        low: Kind = rng.choice(lows)
        lower = self._table("lower", low)
        self.lower = low
        for n in range(calculations, calculations + 3):
            self._figure(n)
        kinds: tuple[Kind, ...] = ("contact", "contact", "contact", "yoke", "control", "space", "circuit")
        per: Kind = rng.choice(kinds)
        upper = self._table("upper", per)
        impossible = tuple(self._impossible() for _ in range(rng.choice((0, 0, 1, 2))))
        asked: tuple[tuple[str, Kind], ...] = (("upper", per), ("lower", low))
        questions = {
            name: Question(name, "R00", f"{name}?", kind, {o: o for o in small.OUTCOMES}, frozenset(), small.AT)
            for name, kind in asked
        }
        book = replace(
            small.book(self.figures), facts=self.facts, questions=questions, impossible=tuple(impossible)
        )
        values = {
            name: NumberValue(name, rng.choice(ENDS), None, "", "neither", "", small.CITE, small.SEEN, small.AT)
            for name in ("limit", "least")
        }
        chosen: tuple[tuple[str, str, Box | None, Step], ...] = ()
        step = Step("X-1", "choose_reading", None, "", small.AT)
        if rng.random() < 0.3:
            chosen = (("r", rng.choice(ALTERNATIVES), None, step),)
        tables = {"upper": upper, "lower": lower}
        resolved = Resolved(small.DOCUMENT, "1", None, None, tables, values, chosen, (), "none")
        return World(book, Law(resolved, book), per)

    # ---- facts

    def _facts(self, kind: Kind) -> None:
        rng, prefix = self.rng, PREFIX[kind]
        for name, type_ in (("x", "choice"), ("p", "yes_no"), ("n", "number"), ("m", "number")):
            fact = small.fact(name, type_, whole=name == "m")
            low = rng.choice((None, Fraction(0), Fraction(-1)))
            high = rng.choice((None, Fraction(2)))
            if type_ == "number":
                fact = replace(fact, low=low, high=high, low_open=low is not None and rng.random() < 0.3)
            box: Box | None = None
            if rng.random() < 0.25:
                box = self.box([n for n in self._seen(kind) if n in self.facts], 2) or None
            self.facts[f"{prefix}.{name}"] = replace(fact, id=f"{prefix}.{name}", entity=kind, applies_when=box)

    def _seen(self, kind: Kind) -> list[str]:
        """What a thing of a kind sees: its own and what it has one of."""
        kinds = {kind, *ONE[kind]}
        names = [*self.facts, *self.figures]
        found = [name for name in names if KIND_OF_PREFIX[name.partition(".")[0]] in kinds]
        return [*found, *(["answer.lower"] if self.lower in kinds else [])]

    def _impossible(self) -> Impossible:
        kind: Kind = self.rng.choice(KINDS)
        names = [n for n in self._seen(kind) if n in self.facts]
        return Impossible(kind, self.box(names, 2) or self.box(names, 1), "so it is", small.AT)

    # ---- cells

    def box(self, names: Sequence[str], most: int) -> Box:
        count = min(len(names), self.rng.randint(1, most))
        return {name: self.cell(name) for name in self.rng.sample(list(names), count)}

    def cell(self, name: str) -> Cell:
        rng = self.rng
        if name == "answer.lower":
            return rng.choice((OneOf, NoneOf))(frozenset(rng.sample(small.OUTCOMES, rng.choice((1, 2)))))
        if name == "reading.r":
            return OneOf(frozenset(rng.sample(ALTERNATIVES, rng.choice((1, 2)))))
        its: Fact | Calculation = self.facts[name] if name in self.facts else self.figures[name]
        if its.type == "yes_no":
            return OneOf(frozenset({rng.random() < 0.5}))
        if its.type == "choice":
            words = list(its.values)
            return rng.choice((OneOf, OneOf, NoneOf))(frozenset(rng.sample(words, rng.randint(1, len(words) - 1))))
        kind = rng.random()
        if kind < 0.3:
            return OneOf(frozenset({rng.choice(ENDS)}))
        if kind < 0.4:
            return NoneOf(frozenset({rng.choice(ENDS)}))
        end: Fraction | NamedNumber = NamedNumber(rng.choice(("limit", "least"))) if kind < 0.5 else rng.choice(ENDS)
        if kind < 0.75:
            return Within(end, rng.random() < 0.5)
        return Within(None, False, end, rng.random() < 0.5)

    # ---- tables

    def _table(self, question: str, per: Kind) -> Table:
        rng = self.rng
        seen = self._seen(per)
        names = rng.sample(seen, min(len(seen), rng.randint(2, 4)))
        figures = [name for name in seen if name in self.figures or name == "answer.lower"]
        if figures and not set(figures) & set(names):
            names.append(rng.choice(figures))
        names += ["reading.r"] if rng.random() < 0.3 else []
        rules: list[Rule] = []
        for n in range(rng.randint(1, 4)):
            ids = [rule.id for rule in rules]
            some = tuple(rng.sample(ids, min(len(ids), 1)))
            link: object = "all" if ids and rng.random() < 0.15 else some if rng.random() < 0.4 else ()
            where = [self.box(names, 2) for _ in range(rng.choice((1, 1, 2)))]
            but_not = [self.box(names, 2) for _ in range(rng.choice((0, 0, 1)))]
            rules.append(small.rule(f"{question}#{n}", where, rng.choice(small.OUTCOMES), but_not, link))
        return small.table(question, rules, rng.choice((*small.OUTCOMES, None)))

    # ---- calculations

    def _figure(self, n: int) -> None:
        rng = self.rng
        kind: Kind = rng.choice(("contact", "contact", "yoke", "control", "space", "circuit", "load"))
        type_ = rng.choice(("yes_no", "yes_no", "number", "number", "choice"))
        made = {"yes_no": self._truth, "number": self._number, "choice": self._word}[type_](kind, 2)
        words = {c: c for c in CLASSES} if type_ == "choice" else {}
        name = f"{PREFIX[kind]}.f{n}"
        ask_first = rng.random() < 0.2
        self.figures[name] = Calculation(
            name, kind, type_, "", None, words, made, None, small.SEEN, small.AT, ask_first=ask_first  # type: ignore[arg-type]
        )

    def _numeric(self, kind: Kind) -> list[str]:
        every = {**self.facts, **self.figures}
        return [name for name in self._seen(kind) if name in every and every[name].type == "number"]

    def _list(self, kind: Kind) -> tuple[str, Kind]:
        lists: list[tuple[str, Kind]] = [
            (f"{PREFIX[k]}.{name}", of.kind)
            for k in (kind, *ONE[kind])
            for name, of in LISTS[k].items()
        ]
        name, item = self.rng.choice(lists)
        return name, item

    def _truth(self, kind: Kind, deep: int) -> Expression:
        rng = self.rng
        names = self._seen(kind)
        match rng.choice(("where", "where", "compare", "any", "all", "look_up", "reading")):
            case "compare":
                return Comparison(self._number(kind, deep - 1), rng.choice(RELATIONS), self._number(kind, deep - 1))  # type: ignore[arg-type]
            case "any" | "all" as op if any(LISTS[k] for k in (kind, *ONE[kind])):
                name, item = self._list(kind)
                where = ({},) if rng.random() < 0.6 else (self.box(self._seen(item), 1),)
                return Over(op, name, where, (self.box(self._seen(item), 2),), None)  # type: ignore[arg-type]
            case "look_up":
                return self._look_up(kind, [True, False])
            case "reading" if deep > 0:
                return ByReading("r", {each: self._truth(kind, deep - 1) for each in ALTERNATIVES})
        return WhereBox(tuple(self.box(names, 2) for _ in range(rng.choice((1, 2)))))

    def _word(self, kind: Kind, deep: int) -> Expression:
        return self._look_up(kind, list(CLASSES))

    def _look_up(self, kind: Kind, results: list[Value]) -> LookUp:
        rng = self.rng
        by = rng.choice(self._seen(kind))
        keys: list[Value]
        if by == "answer.lower":
            keys = list(small.OUTCOMES)
        else:
            its: Fact | Calculation = self.facts[by] if by in self.facts else self.figures[by]
            keys = {"yes_no": [True, False], "choice": list(its.values), "number": list(ENDS)}[its.type]
        table = {key: rng.choice(results) for key in keys if rng.random() < 0.7} or {keys[0]: results[0]}
        return LookUp(by, table, rng.choice((None, *results)))

    def _number(self, kind: Kind, deep: int) -> Expression:
        rng = self.rng
        numeric = self._numeric(kind)
        simple = ["of", "of", "constant", "named"]
        form = rng.choice([*simple, "arithmetic", "over", "over", "look_up", "reading"] if deep else simple)
        match form:
            case "constant":
                return Constant(rng.choice(ENDS))
            case "named":
                return NamedNumber("limit")
            case "arithmetic":
                op = rng.choice(("times", "plus", "minus", "ratio", "round_up"))
                count = 1 if op == "round_up" else 2
                return Arithmetic(op, tuple(self._number(kind, deep - 1) for _ in range(count)))  # type: ignore[arg-type]
            case "over":
                name, item = self._list(kind)
                where = ({},) if rng.random() < 0.6 else (self.box(self._seen(item), 1),)
                op = rng.choice(("count", "sum", "largest", "smallest", "share"))
                are = (self.box(self._seen(item), 1),) if op == "share" else ()
                of = self._number(item, deep - 1) if op in ("sum", "largest", "smallest") else None
                return Over(op, name, where, are, of)  # type: ignore[arg-type]
            case "look_up":
                return self._look_up(kind, [Fraction(1), Fraction(-1), Fraction(2)])
            case "reading":
                return ByReading("r", {each: self._number(kind, deep - 1) for each in ALTERNATIVES})
        return Of(rng.choice(numeric)) if numeric else Constant(Fraction(1))

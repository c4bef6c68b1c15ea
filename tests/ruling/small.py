"""Small rulebooks made by hand or by hypothesis, and a naive second evaluator that follows the definition literally.

The naive evaluator shares no code with the engine's index, split or bounds: it rules on full records only, rule by
rule.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from fractions import Fraction
from itertools import product

from hypothesis import strategies as st

from yokebook.graph import Graph, Thing
from yokebook.law import Candidate, InForce, Law
from yokebook.model import (
    Alternative,
    At,
    Book,
    Box,
    Calculation,
    Cell,
    Checked,
    Cite,
    Document,
    Fact,
    NoneFires,
    NoneOf,
    OneOf,
    Question,
    Reading,
    Resolved,
    Rule,
    Table,
    Value,
    Within,
)
from yokebook.session import Session

AT = At("small.yaml", 1, 1)
CITE = Cite("small", "1")
SEEN = Checked("seen", "made up for the test")
DOCUMENT = Document("small", "small", "A small document", "nobody", ("1",), AT)

#: Facts of one contact, each with a few values on and between the numbers that cells use.
LETTERS = ("a", "b", "c")
POINTS = tuple(Fraction(n, 2) for n in range(9))  # 0, 1/2, … 4


def fact(name: str, kind: str, whole: bool = False) -> Fact:
    """A fact of a contact: `choice` of three letters, `yes_no`, or a `number` from 0 to 4."""
    number = kind == "number"
    return Fact(
        id=f"contact.{name}", entity="contact", type=kind, says=name, asks=f"{name}?", look="",  # type: ignore[arg-type]
        values={letter: letter for letter in LETTERS} if kind == "choice" else {}, unit=None,
        low=Fraction(0) if number else None, low_open=False, high=Fraction(4) if number else None, high_open=False,
        whole=whole, applies_when=None, at=AT,
    )  # fmt: skip


FACTS = {
    f.id: f
    for f in (
        fact("x", "choice"), fact("y", "choice"), fact("p", "yes_no"), fact("q", "yes_no"),
        fact("n", "number"), fact("m", "number", whole=True),
    )
}  # fmt: skip

#: The values over which a fact is completed by brute force: every element that cells can tell apart.
COMPLETIONS: dict[str, tuple[Value, ...]] = {
    "contact.x": LETTERS, "contact.y": LETTERS, "contact.p": (True, False), "contact.q": (True, False),
    "contact.n": tuple(Fraction(n, 4) for n in range(17)), "contact.m": tuple(Fraction(n) for n in range(5)),
}  # fmt: skip

READINGS = {
    "r": Reading(
        "r", CITE, (), "r?", "one", "it says so",
        {
            "one": Alternative("one", "one", "published", "a", "s"),
            "two": Alternative("two", "two", "published", "b", "s"),
            "three": Alternative("three", "three", "argued", "c", "s"),
        }, AT,
    )
}  # fmt: skip
PUBLISHED = ("one", "two")

OUTCOMES = ("low", "middle", "high")
QUESTIONS = {
    name: Question(name, "R00", f"{name}?", "contact", {o: o for o in OUTCOMES}, frozenset(), AT)
    for name in ("upper", "lower")
}


def book(calculations: Mapping[str, Calculation] | None = None) -> Book:
    """A rulebook with the small facts, the reading `r` and the questions `upper` and `lower`."""
    return Book("", QUESTIONS, FACTS, (), dict(calculations or {}), READINGS, {"small": DOCUMENT}, {}, {}, ())


def rule(id_: str, where: Iterable[Box], then: str, but_not: Iterable[Box] = (), exception_to: object = ()) -> Rule:
    """A rule of the table that its id names."""
    return Rule(id_, tuple(where), tuple(but_not), then, exception_to, (), "", CITE, SEEN, AT)  # type: ignore[arg-type]


def table(question: str, rules: Iterable[Rule], none_fires: str | None = None) -> Table:
    """A table for a small question; `none_fires` None makes silence a fault."""
    return Table(question, NoneFires(none_fires, "", None, SEEN, AT), tuple(rules), AT)


def session(tables: Iterable[Table], given: Mapping[str, Value], the_book: Book | None = None) -> Session:
    """A session on one contact with these facts given, under these tables."""
    the_book = the_book or book()
    resolved = Resolved(DOCUMENT, "1", None, None, {t.question: t for t in tables}, {}, (), (), "none")
    law = Law(resolved, the_book)
    project = Thing("project", "project")
    contact = Thing("contact", "c", "c", dict(given), refs={"load": None, "project": project})
    graph = Graph(form="record")
    graph.things["project"].append(project)
    graph.things["contact"].append(contact)
    return Session(graph, the_book, {"small": InForce("small", (Candidate("entry", "in force", law, ""),))})


# ---- the definition, literally -------------------------------------------------------------------------------------


def cell_holds(cell: Cell, value: Value) -> bool:
    """design: a cell is a value, a list, `not` a list, or bounds."""
    if isinstance(cell, OneOf):
        return any(value == v for v in cell.values)
    if isinstance(cell, NoneOf):
        return all(value != v for v in cell.values)
    assert isinstance(cell, Within) and isinstance(value, Fraction)
    if cell.low is not None and not (value > cell.low if cell.low_open else value >= cell.low):  # type: ignore[operator]
        return False
    return cell.high is None or bool(value < cell.high if cell.high_open else value <= cell.high)  # type: ignore[operator]


def naive(tables: Mapping[str, Table], question: str, record: Mapping[str, Value]) -> tuple[str, str]:
    """(status, word) of a full record, readings included in it as `reading.r`.

    A lower answer at fault is needed where a rule that nothing beats turns on it: then the upper has the same status.
    """
    t = tables[question]
    over = naive_prevails(t.rules)
    states = {r.id: state(tables, r, record) for r in t.rules}
    fires = [r for r in t.rules if states[r.id] is True]
    unbeaten = [r for r in t.rules if not any((other.id, r.id) in over for other in fires)]
    for r in sorted(unbeaten, key=lambda r: r.id):
        if isinstance(states[r.id], str):
            return str(states[r.id]), str(states[r.id])
    words = {r.then for r in fires if r in unbeaten}
    if not fires:
        return ("ruled", t.none_fires.then) if t.none_fires.then else ("silent", "silent")
    return ("ruled", words.pop()) if len(words) == 1 else ("conflict", "conflict")


def state(tables: Mapping[str, Table], r: Rule, record: Mapping[str, Value]) -> bool | str:
    """Whether a rule fires, or the status of the lower answer at fault that it turns on."""
    inside = [box_state(tables, b, record) for b in r.where]
    outside = [box_state(tables, b, record) for b in r.but_not]
    if True in outside or all(i is False for i in inside):
        return False
    if True in inside:
        return next((o for o in outside if isinstance(o, str)), True)
    return next(i for i in (*inside, *outside) if isinstance(i, str))


def box_state(tables: Mapping[str, Table], box: Box, record: Mapping[str, Value]) -> bool | str:
    """Whether a box holds, or the status of the lower answer at fault that it turns on."""
    fault: str | None = None
    for name, cell in box.items():
        if name.startswith("answer."):
            status, word = naive(tables, name.removeprefix("answer."), record)
            if status != "ruled":
                fault = status
            elif not cell_holds(cell, word):
                return False
        elif name not in record or not cell_holds(cell, record[name]):
            return False  # a fact that is not in a full record does not apply, and is in no cell
    return True if fault is None else fault


def naive_prevails(rules: Iterable[Rule]) -> set[tuple[str, str]]:
    """Pairs (winner, loser), by repeated joining until nothing is new; `all` names no exception."""
    rules = list(rules)
    pairs = {(r.id, loser) for r in rules if r.exception_to != "all" for loser in r.exception_to}
    closed = close(pairs)
    for r in rules:
        if r.exception_to == "all":
            for other in rules:
                if other.then != r.then and not other.exception_to and (other.id, r.id) not in closed:
                    pairs.add((r.id, other.id))
    return close(pairs)


def close(pairs: set[tuple[str, str]]) -> set[tuple[str, str]]:
    """Transitive closure."""
    while True:
        more = {(a, d) for a, b in pairs for c, d in pairs if b == c} - pairs
        if not more:
            return pairs
        pairs = pairs | more


def completions(given: Mapping[str, Value], names: Iterable[str]) -> Iterable[dict[str, Value]]:
    """Every full record that the given facts leave possible."""
    missing = [n for n in names if n not in given]
    for values in product(*(COMPLETIONS[n] for n in missing)):
        yield {**given, **dict(zip(missing, values, strict=True))}


# ---- random tables -------------------------------------------------------------------------------------------------


def cells(name: str) -> st.SearchStrategy[Cell]:
    """A cell on a fact, single points, open and closed ends and empty whole-number gaps included."""
    if name == "reading.r":
        alternatives = st.sets(st.sampled_from(("one", "two", "three")), min_size=1, max_size=2)
        return alternatives.map(lambda v: OneOf(frozenset(v)))
    if name.startswith("answer."):
        return st.sets(st.sampled_from(OUTCOMES), min_size=1, max_size=2).map(lambda v: OneOf(frozenset(v)))
    kind = FACTS[name].type
    if kind == "yes_no":
        return st.booleans().map(lambda v: OneOf(frozenset({v})))
    if kind == "choice":
        some = st.sets(st.sampled_from(LETTERS), min_size=1, max_size=2)
        return some.flatmap(lambda v: st.sampled_from((OneOf(frozenset(v)), NoneOf(frozenset(v)))))
    number = st.sampled_from(POINTS)
    ends = st.tuples(st.none() | number, st.booleans(), st.none() | number, st.booleans())
    point = number.map(lambda v: OneOf(frozenset({v})))
    return point | ends.filter(lambda e: e[0] is not None or e[2] is not None).map(lambda e: Within(*e))


@st.composite
def boxes(draw: st.DrawFn, names: tuple[str, ...], most: int = 3) -> Box:
    """A box over a few of the names."""
    picked = draw(st.lists(st.sampled_from(names), unique=True, max_size=most))
    return {name: draw(cells(name)) for name in picked}


@st.composite
def tables(draw: st.DrawFn, question: str, names: tuple[str, ...], most: int = 5) -> Table:
    """A table with exceptions to exceptions, `all`, but_not boxes, and silence allowed or not."""
    count = draw(st.integers(1, most))
    rules = []
    for i in range(count):
        earlier = [f"{question}#{j}" for j in range(i)]
        links = draw(st.sampled_from(("none", "all", "list"))) if earlier else "none"
        picked: object = ()
        if links == "all":
            picked = "all"
        elif links == "list":
            picked = tuple(draw(st.lists(st.sampled_from(earlier), min_size=1, max_size=2, unique=True)))
        where = draw(st.lists(boxes(names), min_size=1, max_size=2))
        but_not = draw(st.lists(boxes(names, most=2), max_size=1))
        rules.append(rule(f"{question}#{i}", where, draw(st.sampled_from(OUTCOMES)), but_not, picked))
    return table(question, rules, draw(st.sampled_from((*OUTCOMES, None))))


@st.composite
def records(draw: st.DrawFn, names: tuple[str, ...], full: bool = False) -> dict[str, Value]:
    """A record with some facts given (all, with `full`), numbers on and between the ends of cells."""
    given: dict[str, Value] = {}
    for name in names:
        if full or draw(st.booleans()):
            given[name] = draw(st.sampled_from(COMPLETIONS[name]))
    return given

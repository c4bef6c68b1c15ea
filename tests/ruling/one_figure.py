"""A table on one figure of a thing in a small building, for figures held against brute force."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction

from hypothesis import strategies as st

from ruling import small
from yokebook.entities import Kind
from yokebook.graph import Graph, Thing
from yokebook.law import Candidate, InForce, Law
from yokebook.model import Book, Calculation, Cell, Expression, Fact, OneOf, Resolved, Value, Within
from yokebook.ruling import Ruling, rule_on
from yokebook.session import Session

P = {"contact.p": OneOf(frozenset({True}))}
Q = {"contact.q": OneOf(frozenset({True}))}

#: Every half from 0 to 4.
HALVES = tuple(Fraction(n, 2) for n in range(9))


@dataclass(frozen=True)
class Item:
    """What is given of one contact device; None = not given. The wall is one of A and B, `none`, or not given."""

    p: bool | None = True
    q: bool | None = None
    n: Fraction | None = None
    m: Fraction | None = None
    x: str | None = None
    wall: str | None = "A"

    def facts(self) -> dict[str, Value]:
        """The given facts by full id."""
        named = {f"contact.{key}": getattr(self, key) for key in "pqnmx"}
        return {name: value for name, value in named.items() if value is not None}


def own_fact(kind: Kind) -> Fact:
    """A number of the thing that has the figure: `control.long` or the like, from 0 to 4."""
    return replace(small.fact("long", "number"), id=f"{kind}.long", entity=kind)


def figure_of(kind: Kind, expression: Expression, type_: str = "number") -> Calculation:
    """The calculation `KIND.figure`."""
    return Calculation(f"{kind}.figure", kind, type_, "", None, {}, expression, None, small.SEEN, small.AT)  # type: ignore[arg-type]


def building(items: Iterable[Item], complete: bool, long: Fraction | None = None) -> Graph:
    """A room with walls A and B and one yoke for each contact device, all of them on the control S."""
    graph = Graph()
    project = Thing("project", "project")
    space = Thing("space", "room", "the room", refs={"project": project})
    walls = {name: Thing("wall", f"room/{name}", name, refs={"space": space, "project": project}) for name in "AB"}
    control = Thing("control", "S", "S", refs={"project": project})
    if long is not None:
        control.given["control.long"] = long
    yokes: list[Thing] = []
    contacts: list[Thing] = []
    for number, item in enumerate(items):
        refs: dict[str, Thing | None] = {"space": space, "project": project}
        if item.wall is not None:
            refs["wall"] = walls.get(item.wall)
        yoke = Thing("yoke", f"room/R{number}", f"R{number}", refs=refs)
        contact = Thing("contact", f"{yoke.id}/a", yoke.label, given=item.facts(), refs={"yoke": yoke, "load": None})
        yoke.many["contacts"] = [contact]
        yoke.complete["contacts"] = True
        yokes.append(yoke)
        contacts.append(contact)
    space.many = {"walls": list(walls.values()), "yokes": yokes}
    space.complete = {"walls": True, "yokes": complete}
    control.many, control.complete = {"contacts": contacts}, {"contacts": complete}
    project.many, project.complete = {"spaces": [space]}, {"spaces": True}
    for thing in (project, space, *walls.values(), *yokes, *contacts, control):
        graph.things[thing.kind].append(thing)
    return graph


def session_on(graph: Graph, calculations: Mapping[str, Calculation], cell: Cell, name: str) -> Session:
    """A session in which `upper` is `high` where the figure `name` is in the cell, else `low`."""
    kind = calculations[name].entity
    book: Book = replace(small.book(calculations), facts={**small.FACTS, f"{kind}.long": own_fact(kind)})
    question = replace(small.QUESTIONS["upper"], per=kind)
    book = replace(book, questions={**book.questions, "upper": question})
    table = small.table("upper", [small.rule("upper#0", [{name: cell}], "high")], "low")
    resolved = Resolved(small.DOCUMENT, "1", None, None, {"upper": table}, {}, (), (), "none")
    in_force = {"small": InForce("small", (Candidate("entry", "in force", Law(resolved, book), ""),))}
    return Session(graph, book, in_force)


def ruling_on(graph: Graph, thing: Thing, expression: Expression, cell: Cell, type_: str = "number") -> Ruling:
    """The ruling for a thing by a figure with this expression."""
    calc = figure_of(thing.kind, expression, type_)
    session = session_on(graph, {calc.id: calc}, cell, calc.id)
    return rule_on(session, session.book.questions["upper"], thing, "small")


def cells() -> st.SearchStrategy[Cell]:
    """At least, more than, at most or less than a number on or between the places that figures can have."""
    points = st.sampled_from(tuple(Fraction(n, 4) for n in range(17)))
    return st.tuples(points, st.booleans(), st.booleans()).map(
        lambda t: Within(low=t[0], low_open=t[1]) if t[2] else Within(high=t[0], high_open=t[1])
    )


def held(ruling: Ruling, due: set[str], everything_known: bool) -> None:
    """Asserts that a ruling leaves nothing out, settles on nothing else, and settles where everything is known."""
    assert due <= set(ruling.possible)
    if ruling.status == "settled":
        assert due == {ruling.outcome}
    if everything_known:
        assert ruling.status == "settled"


def outcome(cell: Cell, value: Value | None) -> str:
    """What the table says of a figure; None = not applicable, which is in no cell."""
    return "high" if value is not None and small.cell_holds(cell, value) else "low"

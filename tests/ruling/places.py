"""Small places made by hand: a contact with its controls, several kinds of document, several entries of a line."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import product

from ruling import small
from yokebook.graph import Graph, Thing
from yokebook.law import Candidate, InForce, Law
from yokebook.model import (
    Alternative,
    Book,
    Calculation,
    Cell,
    Document,
    Expression,
    Fact,
    NoneFires,
    OneOf,
    Question,
    Reading,
    Resolved,
    Table,
    Value,
)
from yokebook.ruling import Ruling, rule_on
from yokebook.session import Session


def only(*values: Value) -> Cell:
    """A cell with these values."""
    return OneOf(frozenset(values))


def calculation(id_: str, expression: Expression, type_: str = "yes_no", mark: str = "seen") -> Calculation:
    """A calculation of the kind of thing that its id begins with."""
    checked = replace(small.SEEN, mark=mark)  # type: ignore[arg-type]
    kind = id_.partition(".")[0]
    return Calculation(id_, kind, type_, "", None, {}, expression, None, checked, small.AT)  # type: ignore[arg-type]


def reading(id_: str, *argued: str) -> Reading:
    """A reading with the alternatives one and two published, and these argued."""
    ways = {a: Alternative(a, a, "published", "x", "s") for a in ("one", "two")}
    ways |= {a: Alternative(a, a, "argued", "x", "s") for a in argued}
    return Reading(id_, small.CITE, (), f"{id_}?", "one", "so it says", ways, small.AT)


def facts_of(kind: str, *facts: Fact) -> dict[str, Fact]:
    """Small facts moved to another kind of thing."""
    moved = [replace(f, id=f"{kind}.{f.id.partition('.')[2]}", entity=kind) for f in facts]  # type: ignore[arg-type]
    return {f.id: f for f in moved}


def book(
    facts: Mapping[str, Fact] | None = None,
    calculations: Iterable[Calculation] = (),
    readings: Iterable[Reading] = (),
    questions: Mapping[str, str] | None = None,
) -> Book:
    """A rulebook of these parts; questions by id with the kind of thing that each is asked of."""
    asked = {
        q: Question(q, "R00", f"{q}?", per, {o: o for o in small.OUTCOMES}, frozenset(), small.AT)  # type: ignore[arg-type]
        for q, per in (questions or {"upper": "contact", "lower": "contact"}).items()
    }
    return replace(
        small.book({c.id: c for c in calculations}),
        facts={**small.FACTS, **(facts or {})},
        readings={r.id: r for r in readings} or small.READINGS,
        questions=asked,
    )


def law(the_book: Book, tables: Iterable[Table], kind: str = "small", edition: str = "1") -> Law:
    """A document of a kind with these tables."""
    document = Document(kind, kind, f"The {kind} document", "nobody", (edition,), small.AT)
    return Law(Resolved(document, edition, None, None, {t.question: t for t in tables}, {}, (), (), "none"), the_book)


@dataclass
class Place:
    """A record under its law: one contact `c`, the controls it is on, one project."""

    the_book: Book
    in_force: dict[str, InForce]
    contact: Mapping[str, Value] = field(default_factory=dict)
    controls: Sequence[Mapping[str, Value]] = ()
    complete: bool = True
    load: Mapping[str, Value] | str | None = None  # `not given` where it is not said what is plugged in
    project: Mapping[str, Value] = field(default_factory=dict)

    def session(self) -> Session:
        """A session on the record."""
        graph = Graph(form="record")
        project = Thing("project", "project", given=dict(self.project))
        contact = Thing("contact", "c", "c", dict(self.contact), refs={"project": project})
        if self.load is None or isinstance(self.load, Mapping):
            load = None if self.load is None else Thing("load", "l", "l", dict(self.load), refs={"project": project})
            contact.refs["load"] = load
            graph.things["load"] = [] if load is None else [load]
        controls = [
            Thing("control", f"s{i}", f"s{i}", dict(given), refs={"project": project})
            for i, given in enumerate(self.controls)
        ]
        contact.many["controls"] = controls
        contact.complete["controls"] = self.complete
        graph.things["project"], graph.things["contact"], graph.things["control"] = [project], [contact], controls
        return Session(graph, self.the_book, self.in_force)

    def ruling(self, question: str = "upper", kind: str = "small") -> Ruling:
        """The ruling on the contact."""
        session = self.session()
        return rule_on(session, self.the_book.questions[question], session.graph.things["contact"][0], kind)


def stands(*laws: Law) -> dict[str, InForce]:
    """Each document in force on the day, one entry a kind."""
    return {one.kind: InForce(one.kind, (Candidate("entry", "in force", one, ""),)) for one in laws}


def none_fires(table: Table, mark: str) -> Table:
    """The table with its word for silence checked so."""
    old = table.none_fires
    checked = replace(old.checked, mark=mark)  # type: ignore[arg-type]
    return replace(table, none_fires=NoneFires(old.then, old.says, old.cite, checked, old.at))


def ways(
    names: Iterable[str], given: Mapping[str, Value], all_of: Mapping[str, Sequence[Value]]
) -> Iterable[dict[str, Value]]:
    """Every full record that the given facts leave possible."""
    missing = [n for n in names if n not in given]
    for values in product(*(all_of[n] for n in missing)):
        yield {**given, **dict(zip(missing, values, strict=True))}

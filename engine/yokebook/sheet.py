"""Rulings on a project, and a filed sheet of them: `{made, rulings, basis, digests}`.

`basis` holds all that the rulings rest on, so that they can be made again with nothing else at hand. `made` (when, with
which version, for whom, who stated each fact) is in no digest, and the engine's version is in none either.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from yokebook.canonical import decode, digest, encode
from yokebook.graph import Graph, Thing
from yokebook.law import Candidate, Chosen, InForce, Law
from yokebook.load.faults import Fault
from yokebook.model import Book, Resolved
from yokebook.reach import answer_named, names_in_boxes, names_in_expression, names_in_rule
from yokebook.ruling import Ruling, rule_on
from yokebook.session import Session

FORMAT = "yokebook sheet 1"


@dataclass
class Sheet:
    """The rulings of one project under the law of one place and day; `refused` is what the front door turned away."""

    rulings: list[Ruling]
    session: Session
    place: str | None
    dates: dict[str, str]
    on: str | None
    choices: dict[str, str]
    refused: list[Fault] = field(default_factory=list)

    def filed(self, made: Mapping[str, Any] | None = None) -> dict[str, Any]:
        """The sheet as JSON-able data to file. `made` is what the caller knows of the making: when, for whom, which
        version; who stated each fact is added from the project."""
        rulings = [ruling.to_dict() for ruling in self.rulings]
        basis = _basis(self)
        stated_by = {
            f"{thing.id}: {name}": who for thing in self.session.graph for name, who in thing.stated_by.items()
        }
        return {
            "format": FORMAT,
            "made": {**(made or {}), "stated_by": stated_by},
            "rulings": rulings,
            "basis": basis,
            "digests": digests(basis, rulings),
        }


def digests(basis: Mapping[str, Any], rulings: list[dict[str, Any]]) -> dict[str, str]:
    """The digests of a sheet: of the record, of the law (only what decides) and of the rulings."""
    parts = ("questions", "facts", "calculations", "readings", "impossible")
    law = {
        "documents": [_normative_line(line) for line in basis["in_force"]],
        **{part: encode(decode(basis[part]), normative=True) for part in parts},
    }
    return {"record": digest(basis["record"]), "law": digest(law), "rulings": digest(rulings)}


def _normative_line(line: Mapping[str, Any]) -> dict[str, Any]:
    return {
        "kind": line["kind"],
        "candidates": [
            {"state": c["state"], "resolved": encode(decode(c["resolved"]), normative=True)} for c in line["candidates"]
        ],
    }


# ---- making the basis -----------------------------------------------------------------------------------------------


class _Reach:
    """What the rulings' questions reach: tables, named numbers, facts, calculations and readings."""

    def __init__(self, book: Book, in_force: Mapping[str, InForce]) -> None:
        self.book = book
        self.in_force = in_force
        self.tables: set[tuple[str, str]] = set()  # kind, question
        self.names: set[str] = set()
        self._taken: set[tuple[str, str]] = set()  # kind of document, name: an own answer differs by kind

    def question(self, kind: str, question: str) -> None:
        """Takes in a question's tables in every entry that may govern, and all that they name."""
        if (kind, question) in self.tables:
            return
        self.tables.add((kind, question))
        for law in _laws(self.in_force.get(kind)):
            for boxes in law.resolved.chosen:
                if boxes[2] is not None:
                    self.take(kind, names_in_boxes([boxes[2]]))
            if law.answers(question):
                for rule in law.resolved.tables[question].rules:
                    self.take(kind, names_in_rule(rule))

    def take(self, kind: str, names: Iterable[str]) -> None:
        """Takes in names and what lies behind them."""
        for name in names:
            answer = answer_named(name, self.book)
            if answer is not None:
                self.question(answer[0] or kind, answer[1])
                continue
            if (kind, name) in self._taken:
                continue
            self._taken.add((kind, name))
            self.names.add(name)
            if name in self.book.calculations:
                self.take(kind, names_in_expression(self.book.calculations[name].expression))
            elif name in self.book.facts and (box := self.book.facts[name].applies_when) is not None:
                self.take(kind, names_in_boxes([box]))


def _laws(line: InForce | None) -> list[Law]:
    return [c.law for c in line.candidates if c.law is not None] if line is not None else []


def _basis(sheet: Sheet) -> dict[str, Any]:
    book, in_force = sheet.session.book, sheet.session.in_force
    reach = _Reach(book, in_force)
    for ruling in sheet.rulings:
        for kind in in_force if ruling.document is None else [ruling.document["kind"]]:
            reach.question(kind, ruling.question)
    for kind in sorted({kind for kind, _ in reach.tables} | {""}):
        for thing in sheet.session.graph:
            reach.take(kind, thing.given)
        for box in book.impossible:
            reach.take(kind, names_in_boxes([box.where]))
    questions = {question for _, question in reach.tables}
    return {
        "place": sheet.place,
        "dates": sheet.dates,
        "on": sheet.on,
        "choices": sheet.choices,
        "asked": [[r.question, r.document["kind"] if r.document else "", r.subject["id"]] for r in sheet.rulings],
        "record": _record(sheet.session.graph),
        "in_force": [_line(kind, line, reach) for kind, line in in_force.items()],
        "questions": encode({k: q for k, q in book.questions.items() if k in questions}),
        "facts": encode({k: f for k, f in book.facts.items() if k in reach.names}),
        "calculations": encode({k: c for k, c in book.calculations.items() if k in reach.names}),
        "readings": encode({k: r for k, r in book.readings.items() if f"reading.{k}" in reach.names}),
        "impossible": encode(book.impossible),
    }


def _line(kind: str, line: InForce, reach: _Reach) -> dict[str, Any]:
    return {
        "kind": kind,
        "needs": [list(need) for need in line.needs],
        "candidates": [
            {
                "id": c.id,
                "state": c.state,
                "reason": c.reason,
                "office": c.office,
                "resolved": encode(_reached(c.law.resolved, kind, reach)) if c.law is not None else None,
            }
            for c in line.candidates
        ],
    }


def _reached(resolved: Resolved, kind: str, reach: _Reach) -> Resolved:
    """The resolved document without the tables and numbers that nothing asked reaches."""
    tables = {q: table for q, table in resolved.tables.items() if (kind, q) in reach.tables}
    values = {v: number for v, number in resolved.values.items() if f"value.{v}" in reach.names}
    # an amendment's ops are in the tables already; what is kept is who amended
    amendments = tuple(replace(amendment, ops=()) for amendment in resolved.amendments)
    chosen = tuple(choice for choice in resolved.chosen if f"reading.{choice[0]}" in reach.names)
    return replace(resolved, tables=tables, values=values, amendments=amendments, chosen=chosen, entry=None)


def _record(graph: Graph) -> dict[str, Any]:
    """The record as data: what is given, what refers to what, and which lists are complete."""
    return {
        "form": graph.form,
        "things": [
            {
                "kind": thing.kind,
                "id": thing.id,
                "label": thing.label,
                "given": {name: encode(value) for name, value in sorted(thing.given.items())},
                "text": dict(sorted(thing.text.items())),
                "refs": {key: None if to is None else [to.kind, to.id] for key, to in sorted(thing.refs.items())},
                "many": {key: [[to.kind, to.id] for to in items] for key, items in sorted(thing.many.items())},
                "complete": dict(sorted(thing.complete.items())),
                "named": thing.named,
            }
            for thing in graph
        ],
    }


# ---- ruling again ---------------------------------------------------------------------------------------------------


def rule_again(sheet: Mapping[str, Any]) -> list[Ruling]:
    """The rulings of a filed sheet made anew on the sheet's own basis.

    Raises ValueError for data that is no filed sheet, or whose digests are not those of its content.
    """
    _check(sheet)
    basis = sheet["basis"]
    book = Book(
        root="a filed sheet",
        questions=decode(basis["questions"]),
        facts=decode(basis["facts"]),
        impossible=decode(basis["impossible"]),
        calculations=decode(basis["calculations"]),
        readings=decode(basis["readings"]),
        documents={},
        editions={},
        places={},
        cautions=(),
    )
    in_force = {line["kind"]: _line_again(line, book) for line in basis["in_force"]}
    session = Session(graph_again(basis["record"]), book, in_force)
    things = {(thing.kind, thing.id): thing for thing in session.graph}
    return [
        rule_on(session, book.questions[question], things[book.questions[question].per, subject], kind)
        for question, kind, subject in basis["asked"]
    ]


def _check(sheet: Mapping[str, Any]) -> None:
    if sheet.get("format") != FORMAT:
        raise ValueError(f"this is no filed sheet: `format` is `{sheet.get('format')}`, not `{FORMAT}`")
    missing = [part for part in ("made", "rulings", "basis", "digests") if part not in sheet]
    if missing:
        raise ValueError(f"the filed sheet has no `{missing[0]}`")
    due = digests(sheet["basis"], sheet["rulings"])
    for part, value in due.items():
        if sheet["digests"].get(part) != value:
            found = sheet["digests"].get(part)
            raise ValueError(f"the filed sheet was changed: its {part} digest is `{found}`, by its content `{value}`")


def _line_again(line: Mapping[str, Any], book: Book) -> InForce:
    candidates = []
    for c in line["candidates"]:
        resolved: Resolved | None = decode(c["resolved"])
        law = Law(resolved, book) if resolved is not None else None
        candidates.append(Candidate(c["id"], c["state"], law, c["reason"], c["office"]))
    needs = tuple((what, name, asks, tuple(alternatives)) for what, name, asks, alternatives in line["needs"])
    return InForce(line["kind"], tuple(candidates), needs)


def graph_again(record: Mapping[str, Any]) -> Graph:
    """The graph that a filed record stands for. Raises ValueError for values that no front door lets in."""
    graph = Graph(form=record["form"])
    things: dict[tuple[str, str], Thing] = {}
    for data in record["things"]:
        given = {name: decode(value) for name, value in data["given"].items()}
        thing = Thing(data["kind"], data["id"], data["label"], given, dict(data["text"]), named=data["named"])
        thing.complete = dict(data["complete"])
        things[thing.kind, thing.id] = thing
        graph.things[thing.kind].append(thing)
    for data in record["things"]:
        thing = things[data["kind"], data["id"]]
        thing.refs = {key: None if to is None else things[to[0], to[1]] for key, to in data["refs"].items()}
        thing.many = {key: [things[to[0], to[1]] for to in items] for key, items in data["many"].items()}
    return graph


__all__ = ["FORMAT", "Chosen", "Sheet", "digests", "graph_again", "rule_again"]

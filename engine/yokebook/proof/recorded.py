"""A worked case as the table that answers it sees it: what each of the table's inputs is in its record."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

from yokebook.deciding import Context
from yokebook.graph import Graph, Thing
from yokebook.law import Candidate, InForce, Law
from yokebook.model import Book, Table
from yokebook.proof.survivors import Recorded
from yokebook.ruling import rule_on
from yokebook.session import LowerFault, OverBudget, Session
from yokebook.values import NA, Span, Split, Val, single


def recorded(
    name: str, expect: str, graph: Graph, thing: Thing, question: str, kind: str, in_force: Mapping[str, InForce]
) -> Recorded | None:
    """The case of this name: the ruling on a question for a thing, and the word that is due. None where the law of its
    kind of document is not settled."""
    line = in_force.get(kind)
    law = line.candidates[0].law if line is not None and len(line.candidates) == 1 else None
    if law is None or not law.answers(question):
        return None
    context = Context(Session(graph, law.book, in_force), {}, {}, set())
    inputs: dict[str, tuple[Span, ...]] = {}
    sure = expect in law.book.questions[question].outcomes
    for each in law.ready(question).inputs:
        val = _input(context, law, thing, each)
        if val is None:
            sure = False
            continue
        inputs[each] = (val.span, NA) if val.maybe_na else (val.span,)
        # under every published reading the outcome is the one that is due
        sure = sure and (each.startswith("reading.") or (not val.maybe_na and _settled(val.span)))
    return Recorded(name, expect, inputs, sure, _ruler(graph, thing, question, law, in_force))


def _input(context: Context, law: Law, thing: Thing, name: str) -> Val | None:
    try:
        return context.input(law, thing, name)
    except (Split, LowerFault, OverBudget):
        return None


def _settled(span: Span) -> bool:
    return span == NA or single(span) is not None


def _ruler(
    graph: Graph, thing: Thing, question: str, law: Law, in_force: Mapping[str, InForce]
) -> Callable[[Table], str]:
    """What gives the word of the ruling with a table in the stead of the law's own."""
    book: Book = law.book

    def ruled(table: Table) -> str:
        tables = {**law.resolved.tables, question: table}
        instead = Law(replace(law.resolved, tables=tables), book)
        line = InForce(law.kind, (Candidate("with another table", "in force", instead, ""),))
        session = Session(graph, book, {**in_force, law.kind: line})
        return rule_on(session, book.questions[question], thing, law.kind).word

    return ruled

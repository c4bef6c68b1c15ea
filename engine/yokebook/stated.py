"""Values stated that other facts of the same record give otherwise: an error that shows both."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from yokebook import figures
from yokebook.deciding import Context
from yokebook.front_door import Disagreement, record_to_graph, stated_faults
from yokebook.graph import Graph, Thing
from yokebook.law import InForce, Law, LawFault
from yokebook.load.faults import InputFaults
from yokebook.model import Book, Value
from yokebook.session import LowerFault, Session, answer_of, key_of
from yokebook.showing import show_span, show_value, unit_of
from yokebook.values import NotApplicable, Span, Split, agrees, known


def session_on(book: Book, in_force: Mapping[str, InForce], record: Mapping[str, Any] | Graph) -> Session:
    """A session on one record under this law. Raises InputFaults for a bad record, and for a value stated that its
    other facts give otherwise."""
    graph = record if isinstance(record, Graph) else record_to_graph(record, book)
    session = Session(graph, book, in_force)
    faults = stated_faults(disagreements(session))
    if faults:
        raise InputFaults(faults)
    return session


def disagreements(session: Session, things: Iterable[Thing] | None = None) -> list[Disagreement]:
    """Every calculation or answer stated (of some things, by default of all) that cannot be what the facts given make
    of it, whatever is still unknown."""
    lines = [[c.law for c in line.candidates if c.law is not None] for line in session.in_force.values()]
    facts = session.book.facts
    among = session.graph if things is None else things
    stating = [thing for thing in among if any(name not in facts for name in thing.given)]
    if not stating:
        return []
    apart = Session(session.graph, session.book, session.in_force)
    return [found for thing in stating for found in _of_thing(apart, thing, lines)]


def _of_thing(session: Session, thing: Thing, lines: list[list[Law]]) -> Iterator[Disagreement]:
    """One for each value that some document, whichever of its entries governs, gives otherwise."""
    for name, value in thing.given.items():
        if name not in session.book.facts:
            found = (_under(session, thing, name, value, laws) for laws in lines)
            yield from [each for each in found if each is not None][:1]


def _under(session: Session, thing: Thing, name: str, value: Value, laws: list[Law]) -> Disagreement | None:
    """The disagreement under the entries of one line; None where one of them agrees or none can say."""
    first: Disagreement | None = None
    for law in laws:
        session.tried = 0
        spans = _computed(Context(session, {}, {}, set()), law, thing, name)
        if spans is None:
            continue  # this document does not set a number that it takes, or does not answer
        if not spans or any(agrees(span, value) for span in spans):
            return None
        watched = Session(session.graph, session.book, session.in_force, used={})
        _computed(Context(watched, {}, {}, set()), law, thing, name)  # once more, to see what it is computed from
        unit = unit_of(session.book, name)
        computed = " or ".join(dict.fromkeys(show_span(span, unit) for span in spans))
        found = Disagreement(thing, name, show_value(value, unit), computed, _because(watched, thing, name))
        first = first or found
    return first


def _computed(context: Context, law: Law, thing: Thing, name: str) -> list[Span] | None:
    """All that the value may be by the other facts; None where this law cannot say, [] where it may not apply."""
    calculation = context.book.calculations.get(name)
    try:
        if calculation is None:
            return _answered(context, law, thing, name.removeprefix("answer."))
        found, _ = context.each_way(law, lambda inner: figures.evaluate(inner, law, thing, calculation))
    except (LawFault, LowerFault, Split):
        return None
    if any(isinstance(val.span, NotApplicable) or val.maybe_na for val in found):
        return []
    return [val.span for val in found]


def _answered(context: Context, law: Law, thing: Thing, name: str) -> list[Span] | None:
    kind, question = answer_of(context.book, name, law.kind)
    if kind != law.kind or not law.answers(question.id):
        return None
    outcomes, _ = context.each_way(law, lambda inner: inner.decide(law, thing, question.id))
    return [known(outcome.word) for outcome in outcomes if outcome.status == "ruled"]


def _because(watched: Session, thing: Thing, name: str) -> str:
    """The given facts that were looked at, as `fact` is `value`."""
    used = [(key, fact) for key, fact in (watched.used or {}) if not (key == key_of(thing) and fact == name)]
    things = {key_of(t): t for t in watched.graph}
    return _listed(
        f"`{fact}` is `{show_value(things[key].given[fact], unit_of(watched.book, fact))}`" for key, fact in used[:4]
    )


def _listed(parts: Iterable[str]) -> str:
    *first, last = list(parts) or ["it follows from its definition"]
    return f"{', '.join(first)} and {last}" if first else last

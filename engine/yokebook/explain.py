"""An explanation: every rule tried, the facts that are enough, and what would change the outcome."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from fractions import Fraction
from typing import Any

from yokebook.deciding import Context
from yokebook.exploring import explore
from yokebook.graph import Thing
from yokebook.model import Question, Value
from yokebook.parts_of_ruling import traced_data
from yokebook.ruling import Ruling, rule_on
from yokebook.session import Session, key_of
from yokebook.showing import show_span, show_value, unit_of
from yokebook.trace import trace_rules
from yokebook.values import Range, Span, Var, inside, known, single, within

#: How many ways of changing an outcome are told.
MOST_CHANGES = 12

GivenFact = tuple[tuple[str, str], str]


def explain_on(session: Session, question: Question, thing: Thing, kind: str) -> Ruling:
    """The ruling of `rule_on` with every rule tried, what would change it and the facts that are enough for it."""
    ruling = rule_on(session, question, thing, kind)
    used = used_facts(session, question, thing, kind)
    return replace(
        ruling,
        tried=_tried(session, question, thing, kind),
        would_change=would_change(session, question, thing, kind, used),
        sufficient=sufficient(session, question, thing, kind, used),
    )


def fresh(session: Session, hidden: frozenset[GivenFact] = frozenset()) -> Session:
    """The same record and law with nothing remembered, and some facts taken for not given."""
    return Session(session.graph, session.book, session.in_force, hidden=hidden)


def used_facts(session: Session, question: Question, thing: Thing, kind: str) -> list[GivenFact]:
    """The given facts that were looked at to rule, in the order they were."""
    watched = fresh(session)
    watched.used = {}
    explore(watched, question.id, thing, kind, {})
    return list(watched.used)


def _tried(session: Session, question: Question, thing: Thing, kind: str) -> list[dict[str, Any]]:
    found = explore(session, question.id, thing, kind, {})
    if not found.leaves:
        return []
    first = found.leaves[0].assumed
    context = Context(session, first if len(found.leaves) == 1 else _entry_only(first), {}, set())
    candidate = context.candidate(kind)
    if candidate is None or candidate.law is None or not candidate.law.answers(question.id):
        return []
    return [traced_data(rule) for rule in trace_rules(context, candidate.law, thing, question.id)]


def _entry_only(assumed: Mapping[Var, Span]) -> dict[Var, Span]:
    """With several outcomes possible, only which entry governs is assumed: the rest is told as not known."""
    return {var: span for var, span in assumed.items() if var.kind == "entry"}


def would_change(
    session: Session, question: Question, thing: Thing, kind: str, used: list[GivenFact]
) -> list[dict[str, Any]]:
    """Single facts that would give another outcome: whose, from what to what, and the outcome then; outcomes that are
    not against first.

    Each was ruled again with that fact alone changed, a range of numbers as a whole. Empty where no single fact does
    it, or nothing is settled.
    """
    now = {leaf.outcome.key() for leaf in explore(session, question.id, thing, kind, {}).leaves}
    if len(now) != 1:
        return []
    changes: list[dict[str, Any]] = []
    for fact in used:
        by_outcome: dict[str, list[Span]] = {}
        for part in _other_parts(session, question, thing, kind, fact):
            for whole_or_point in _ways(part):
                word = _outcome_with(session, question, thing, kind, fact, whole_or_point)
                if word is not None:
                    if ("ruled", word) not in now:
                        by_outcome.setdefault(word, []).append(whole_or_point)
                    break
        subject, name = fact
        unit = unit_of(session.book, name)
        for word, parts in by_outcome.items():
            changes.append(
                {
                    "subject": subject[1],
                    "fact": name,
                    "from": show_value(_given(session, subject, name), unit),
                    "to": " or ".join(show_span(part, unit) for part in parts),
                    "outcome": word,
                }
            )
    changes.sort(key=lambda change: change["outcome"] in question.against)
    return changes[:MOST_CHANGES]


def _other_parts(session: Session, question: Question, thing: Thing, kind: str, fact: GivenFact) -> list[Span]:
    """What else the fact could be: each other word, or each range of numbers that the tables tell apart."""
    (_, name), value = fact, _given(session, *fact)
    declared = session.book.facts.get(name)
    if isinstance(value, bool):
        return [known(not value)]
    if isinstance(value, str):
        return [known(word) for word in (declared.values if declared else ()) if word != value]
    found = explore(fresh(session, frozenset({fact})), question.id, thing, kind, {})
    var = Var("fact", *fact)
    spans = {leaf.assumed[var] for leaf in found.leaves if var in leaf.assumed}
    ranges = [span for span in spans if isinstance(span, Range) and not within(value, span)]
    return [*sorted(ranges, key=_low_end)]


def _low_end(span: Range) -> tuple[bool, Fraction, bool]:
    return (span.low is not None, span.low or Fraction(0), span.low_open)


def _ways(part: Span) -> list[Span]:
    """A part as a whole and, where that has several outcomes, one number of it."""
    return [part, known(inside(part))] if isinstance(part, Range) and single(part) is None else [part]


def _outcome_with(
    session: Session, question: Question, thing: Thing, kind: str, fact: GivenFact, part: Span
) -> str | None:
    """The one outcome with the fact so, or None where there is no single one or it cannot be so."""
    value = single(part)
    if value is None:
        found = explore(fresh(session, frozenset({fact})), question.id, thing, kind, {}, {Var("fact", *fact): part})
    else:
        changed = Session(session.graph, session.book, session.in_force, instead={fact: value})
        found = explore(changed, question.id, thing, kind, {})
    outcomes = {leaf.outcome.key() for leaf in found.leaves}
    if len(outcomes) != 1 or not found.decided:
        return None
    status, word = outcomes.pop()
    return word if status == "ruled" else None


def sufficient(
    session: Session, question: Question, thing: Thing, kind: str, used: list[GivenFact]
) -> list[dict[str, Any]]:
    """Facts that force the outcome by themselves, none of which can be left out; empty where nothing is settled."""
    now = {leaf.outcome.key() for leaf in explore(session, question.id, thing, kind, {}).leaves}
    if len(now) != 1:
        return []
    # what was not looked at must not come in by the back door when something else is left out
    hidden = frozenset((key_of(t), name) for t in session.graph for name in t.given) - frozenset(used)
    for fact in reversed(used):
        found = explore(fresh(session, hidden | {fact}), question.id, thing, kind, {})
        if found.decided and {leaf.outcome.key() for leaf in found.leaves} == now:
            hidden |= {fact}
    return [
        {
            "subject": subject[1],
            "fact": name,
            "value": show_value(_given(session, subject, name), unit_of(session.book, name)),
        }
        for subject, name in used
        if (subject, name) not in hidden
    ]


def _given(session: Session, subject: tuple[str, str], name: str) -> Value:
    return next(thing.given[name] for thing in session.graph if key_of(thing) == subject)

"""An explanation: every rule tried, the facts that are enough, and what would change the outcome."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from fractions import Fraction
from itertools import combinations, islice
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

#: How many changes of two facts are ruled on, and how many sets of facts, before the rest is left untried.
MOST_PAIRS = 144
MOST_SETS = 60

GivenFact = tuple[tuple[str, str], str]


def explain_on(session: Session, question: Question, thing: Thing, kind: str) -> Ruling:
    """The ruling of `rule_on` with every rule tried, what would change it and the facts that are enough for it."""
    ruling = rule_on(session, question, thing, kind)
    used = used_facts(session, question, thing, kind)
    changes = would_change(session, question, thing, kind, used)
    enough, smallest = sufficient(session, question, thing, kind, used)
    return replace(
        ruling,
        tried=tried(session, question, thing, kind),
        would_change=changes or would_change_together(session, question, thing, kind, used),
        sufficient=enough,
        sufficient_is="smallest" if smallest else "none can be left out",
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


def tried(session: Session, question: Question, thing: Thing, kind: str) -> list[dict[str, Any]]:
    """Every rule of the table tried on the thing, cell by cell, in the order of the table; none where no table governs
    or the thing cannot be as it is given."""
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


def would_change_together(
    session: Session, question: Question, thing: Thing, kind: str, used: list[GivenFact]
) -> list[dict[str, Any]]:
    """Two facts that together would give another outcome, as `would_change` has them with the second fact under
    `together_with`: the first of each outcome found. For where no single fact does it; each was ruled again.

    Past MOST_PAIRS rulings the rest is not tried.
    """
    now = {leaf.outcome.key() for leaf in explore(session, question.id, thing, kind, {}).leaves}
    if len(now) != 1:
        return []
    values = {fact: _points(_other_parts(session, question, thing, kind, fact)) for fact in used}
    pairs = (
        (one, other, a, b) for one, other in combinations(used, 2) for a in values[one] for b in values[other]
    )
    found: dict[str, dict[str, Any]] = {}
    for one, other, a, b in islice(pairs, MOST_PAIRS):
        changed = Session(session.graph, session.book, session.in_force, instead={one: a, other: b})
        tried = explore(changed, question.id, thing, kind, {})
        outcomes = {leaf.outcome.key() for leaf in tried.leaves}
        if len(outcomes) == 1 and tried.decided and outcomes != now:
            status, word = outcomes.pop()
            if status == "ruled":
                first = _change(session, one, a)
                found.setdefault(word, {**first, "outcome": word, "together_with": _change(session, other, b)})
    return sorted(found.values(), key=lambda change: change["outcome"] in question.against)


def _points(parts: list[Span]) -> list[Value]:
    """One value of each part."""
    return [value for part in parts if (value := _one(part)) is not None]


def _one(part: Span) -> Value | None:
    return inside(part) if isinstance(part, Range) else single(part)


def _change(session: Session, fact: GivenFact, value: Value) -> dict[str, Any]:
    subject, name = fact
    unit = unit_of(session.book, name)
    given = show_value(_given(session, subject, name), unit)
    return {"subject": subject[1], "fact": name, "from": given, "to": show_value(value, unit)}


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
) -> tuple[list[dict[str, Any]], bool]:
    """Facts that force the outcome by themselves, none of which can be left out, and whether no smaller set of the
    facts looked at does; empty where nothing is settled."""
    now = {leaf.outcome.key() for leaf in explore(session, question.id, thing, kind, {}).leaves}
    if len(now) != 1:
        return [], False
    # what was not looked at must not come in by the back door when something else is left out
    beside = frozenset((key_of(t), name) for t in session.graph for name in t.given) - frozenset(used)

    def forces(kept: Iterable[GivenFact]) -> bool:
        hidden = beside | (frozenset(used) - frozenset(kept))
        found = explore(fresh(session, hidden), question.id, thing, kind, {})
        return found.decided and {leaf.outcome.key() for leaf in found.leaves} == now

    kept, smallest = _smallest(used, forces)
    enough = [
        {
            "subject": subject[1],
            "fact": name,
            "value": show_value(_given(session, subject, name), unit_of(session.book, name)),
        }
        for subject, name in kept
    ]
    return enough, smallest


def _smallest(used: list[GivenFact], forces: Callable[[Iterable[GivenFact]], bool]) -> tuple[list[GivenFact], bool]:
    """A smallest set of facts that forces the outcome, and whether that it is one was shown within MOST_SETS tries.

    A fact without which all the others do not force it is in every such set; the rest is tried by size.
    """
    needed = [fact for fact in used if not forces(other for other in used if other != fact)]
    kept = list(used)
    for fact in reversed(used):
        if fact not in needed and forces(other for other in kept if other != fact):
            kept.remove(fact)
    others = [fact for fact in used if fact not in needed]
    smaller = (few for size in range(len(kept) - len(needed)) for few in combinations(others, size))
    for tries, few in enumerate(smaller):
        if tries == MOST_SETS:
            return kept, False
        if forces((*needed, *few)):
            return [fact for fact in used if fact in needed or fact in few], True
    return kept, True


def _given(session: Session, subject: tuple[str, str], name: str) -> Value:
    return next(thing.given[name] for thing in session.graph if key_of(thing) == subject)

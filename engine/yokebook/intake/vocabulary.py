"""What may be stated about each kind of thing: the rulebook's facts, and its calculations under their own names."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import NamedTuple

from yokebook.entities import KINDS, LISTS, PREFIX, REFERENCE, Kind
from yokebook.model import Book, Box, Calculation, Fact, FactType, LookUp, Question, Refuse, Value
from yokebook.overview import all_choices, all_events, answers_taken
from yokebook.reach import answer_named


class Term(NamedTuple):
    """One thing that may be stated, and which values it may have."""

    id: str  # "control.off_delay_min"
    key: str  # what a project file calls it: "off_delay_min"
    kind: Kind
    type: FactType
    says: str
    values: Mapping[str, str]  # of a choice
    unit: str | None  # of a number
    low: Fraction | None
    low_open: bool
    high: Fraction | None
    high_open: bool
    whole: bool
    applies_when: Box | None
    computed: bool
    #: of a calculation that looks its value up: every value that it can give
    only: frozenset[Value] | None = None
    refuse: tuple[Refuse, ...] = ()


class Vocabulary(NamedTuple):
    """Every term of a rulebook, and the days and choices on which its places' lines of time turn."""

    terms: Mapping[str, Term]  # by full id
    keys: Mapping[Kind, Mapping[str, Term]]  # by the key in a project file
    record_keys: frozenset[str]  # every key of a flat record but `project.date.*` and `project.choice.*`
    places: tuple[str, ...]
    events: tuple[str, ...]
    choices: Mapping[str, tuple[str, ...]]


def vocabulary(book: Book) -> Vocabulary:
    """The vocabulary of a loaded rulebook."""
    terms = {fact.id: _of_fact(fact) for fact in book.facts.values()}
    terms |= {calculation.id: _of_calculation(calculation) for calculation in book.calculations.values()}
    terms |= {term.id: term for term in _answers(book)}
    keys: dict[Kind, dict[str, Term]] = {kind: {} for kind in KINDS}
    for term in terms.values():
        keys[term.kind][term.key] = term
    return Vocabulary(
        terms=terms,
        keys=keys,
        record_keys=frozenset(terms) | structural_record_keys(),
        places=tuple(book.places),
        events=all_events(book),
        choices=all_choices(book),
    )


def structural_record_keys() -> frozenset[str]:
    """The keys of a flat record that are no fact: who said it, which lists are complete, where there is nothing."""
    keys = {"stated_by", "project.place"} | {f"{prefix}.stated_by" for prefix in PREFIX.values()}
    for kind, lists in LISTS.items():
        keys |= {f"{PREFIX[kind]}.{name}.complete" for name, of in lists.items() if of.flagged}
    for kind, references in REFERENCE.items():
        keys |= {f"{PREFIX[kind]}.{name}" for name in references}
    return frozenset(keys)


def _answers(book: Book) -> list[Term]:
    """Answers that one kind of document takes from another: where that other has no entry they can be stated."""
    found: list[Term] = []
    for name in answers_taken(book):
        answer = answer_named(name, book)
        assert answer is not None
        found.append(_of_answer(name, book.questions[answer[1]]))
    return found


def _of_answer(name: str, question: Question) -> Term:
    return _computed(name, name, question.per, "choice", question.asks, question.outcomes)


def _computed(
    full_id: str, key: str, kind: Kind, type_: FactType, says: str, values: Mapping[str, str], unit: str | None = None
) -> Term:
    """A term that something else gives: it has no domain of its own, and always applies."""
    return Term(
        id=full_id,
        key=key,
        kind=kind,
        type=type_,
        says=says,
        values=values,
        unit=unit,
        low=None,
        low_open=False,
        high=None,
        high_open=False,
        whole=False,
        applies_when=None,
        computed=True,
    )


def _key(full_id: str) -> str:
    return full_id.partition(".")[2]


def _of_fact(fact: Fact) -> Term:
    return Term(
        id=fact.id,
        key=_key(fact.id),
        kind=fact.entity,
        type=fact.type,
        says=fact.says,
        values=fact.values,
        unit=fact.unit,
        low=fact.low,
        low_open=fact.low_open,
        high=fact.high,
        high_open=fact.high_open,
        whole=fact.whole,
        applies_when=fact.applies_when,
        computed=False,
    )


def _of_calculation(calculation: Calculation) -> Term:
    c = calculation
    term = _computed(c.id, _key(c.id), c.entity, c.type, c.says, c.values, c.unit)
    return term._replace(only=looked_up(c), refuse=c.refuse)


def looked_up(calculation: Calculation) -> frozenset[Value] | None:
    """Every value that a calculation can give which looks it up; None for another calculation."""
    expression = calculation.expression
    if not isinstance(expression, LookUp):
        return None
    otherwise = [] if expression.otherwise is None else [expression.otherwise]
    return frozenset([*expression.table.values(), *otherwise])

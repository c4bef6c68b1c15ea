"""The values that an input of a table may have, and whether it may be not applicable."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from yokebook.entities import KIND_OF_PREFIX, ONE, REFERENCE, Kind
from yokebook.law import Law
from yokebook.model import (
    Arithmetic,
    Book,
    ByReading,
    Calculation,
    Comparison,
    Constant,
    Expression,
    Grouped,
    LookUp,
    NamedNumber,
    Nearest,
    Of,
    Over,
    Question,
    Tiers,
    Uncovered,
    Value,
    WhereBox,
    taken_of_itself,
)
from yokebook.proof.cells import parts_of_expression
from yokebook.session import answer_of, domain
from yokebook.values import ANY_NUMBER, YES_NO, Range, Some, Span, intersect, known

_COUNTS = Range(Fraction(0), False, None, True, True)
_NOT_NEGATIVE = Range(Fraction(0), False, None, True)


def domain_of(
    law: Law, question: Question, name: str, book: Book, *, all_answers: bool = False
) -> tuple[Span, bool]:
    """All values that an input of a question's table may have where it applies, and whether it may not apply.

    Readings that a layer has chosen for every record have that one alternative, and own answers are those that the
    table below gives; with `all_answers`, every alternative and every outcome. A calculation's numbers are bounded as
    far as its expression shows.
    """
    if name.startswith("reading."):
        reading = name.removeprefix("reading.")
        if all_answers:
            return Some(frozenset(book.readings[reading].alternatives)), False
        return _alternatives(law, reading, book), False
    if name.startswith("answer."):
        kind, asked = answer_of(book, name.removeprefix("answer."), law.kind)
        given = Some(frozenset(asked.outcomes)) if all_answers else _answers(law, kind, asked)
        return given, may_be_absent(question.per, asked.per)
    owner = KIND_OF_PREFIX[name.partition(".")[0]]
    absent = may_be_absent(question.per, owner)
    if name in book.facts:
        fact = book.facts[name]
        return domain(fact), absent or fact.applies_when is not None
    calculation = book.calculations[name]
    return of_calculation(law, calculation, book), absent or _may_fail(law, calculation.expression, book, owner, set())


def may_be_absent(entity: Kind, target: Kind) -> bool:
    """Whether the thing that an input belongs to may be said not to be there."""
    if entity == target:
        return False
    here = entity
    for step in ONE[entity][target]:
        if step in REFERENCE.get(here, {}):
            return True
        here = step if step in ONE else here  # every step is named after the kind that it leads to
    return False


def _alternatives(law: Law, reading: str, book: Book) -> Span:
    chosen = law.chosen.get(reading, [])
    if chosen and chosen[0].where is None:
        return Some(frozenset({chosen[0].alternative}))
    return Some(frozenset(book.readings[reading].alternatives))


def _answers(law: Law, kind: str, asked: Question) -> Span:
    if kind != law.kind or not law.answers(asked.id):
        return Some(frozenset(asked.outcomes))
    table = law.resolved.tables[asked.id]
    words: set[Value] = {rule.then for rule in table.rules}
    if table.none_fires.then is not None:
        words.add(table.none_fires.then)
    return Some(frozenset(words))


def of_calculation(law: Law, calculation: Calculation, book: Book) -> Span:
    """All values that a calculation may have, as far as its expression shows."""
    if calculation.type == "yes_no":
        return YES_NO
    if calculation.type == "choice":
        return Some(frozenset(calculation.values))
    return _numbers(law, calculation.expression, book)


def _numbers(law: Law, expression: Expression, book: Book) -> Span:
    match expression:
        case Over("count"):
            return _COUNTS
        case Grouped(figure="count"):
            return Range(Fraction(1), False, None, True, True)
        case Over("share") | Grouped(figure="share"):
            return Range(Fraction(0), False, Fraction(1), False)
        case Nearest(otherwise=otherwise) if otherwise is not None:
            return _NOT_NEGATIVE if _not_negative(_numbers(law, otherwise, book)) else ANY_NUMBER
        case Uncovered() | Nearest():
            return _NOT_NEGATIVE
        case Tiers(of=of, steps=steps):
            rates = [_numbers(law, rate, book) if isinstance(rate, NamedNumber) else _one(rate) for _, rate in steps]
            kept = all(_not_negative(span) for span in (_numbers(law, of, book), *rates))
            return _NOT_NEGATIVE if kept else ANY_NUMBER
        case Over(of=of) | Grouped(of=of) if of is not None:
            inner = _numbers(law, of, book)
            return _NOT_NEGATIVE if _not_negative(inner) else ANY_NUMBER
        case LookUp(table=table, otherwise=otherwise):
            values = set(table.values()) | ({otherwise} if otherwise is not None else set())
            return Some(frozenset(values))
        case Constant(value):
            return Some(frozenset({value}))
        case NamedNumber(name):
            known = law.resolved.values.get(name)
            return Some(frozenset({known.value})) if known is not None else ANY_NUMBER
        case Of(name) if name in book.facts and book.facts[name].type == "number":
            return domain(book.facts[name])
        case Of(name) if name in book.calculations:
            return of_calculation(law, book.calculations[name], book)
        case Arithmetic("round_up", (part,)):
            inner = _numbers(law, part, book)
            return _COUNTS if _not_negative(inner) else Range(None, True, None, True, True)
        case Arithmetic(op, parts) if op in ("times", "plus", "ratio"):
            kept = all(_not_negative(_numbers(law, part, book)) for part in parts)
            return _NOT_NEGATIVE if kept else ANY_NUMBER
        case ByReading(_, alternatives):
            spans = {_numbers(law, each, book) for each in alternatives.values()}
            if len(spans) == 1:
                return spans.pop()
            return _NOT_NEGATIVE if all(_not_negative(span) for span in spans) else ANY_NUMBER
    return ANY_NUMBER


def _one(number: Fraction) -> Span:
    return Some(frozenset({number}))


def _not_negative(span: Span) -> bool:
    if isinstance(span, Some):
        return all(isinstance(v, Fraction) and v >= 0 for v in span.values)
    return isinstance(span, Range) and span.low is not None and span.low >= 0


# ---- whether a figure may have no value ------------------------------------------------------------------------------


def _may_fail(law: Law, expression: Expression, book: Book, owner: Kind, within: set[str]) -> bool:
    """Whether an expression may be not applicable, as far as its form shows. `within` guards against circles."""
    match expression:
        case Of(name):
            return _name_may_fail(law, name, book, owner, within)
        case Constant() | NamedNumber() | WhereBox():
            return False
        case Arithmetic(op, parts):
            by_zero = op == "ratio" and _may_be_zero(_numbers(law, parts[1], book))
            return by_zero or any(_may_fail(law, part, book, owner, within) for part in parts)
        case Over(op, over):
            return op in ("largest", "smallest", "share") or _no_list(owner, over)
        case Nearest(otherwise=otherwise) if otherwise is not None:
            return any(_may_fail(law, part, book, owner, within) for part in taken_of_itself(expression))
        case Grouped() | Nearest():
            return True
        case Uncovered(length=part, over=over):
            return _no_list(owner, over) or _may_fail(law, part, book, owner, within)
        case Tiers(of=part):
            return _may_fail(law, part, book, owner, within)
        case LookUp(by, table, otherwise):
            unlisted = otherwise is None and not _lists_all(by, table, book)
            return unlisted or _name_may_fail(law, by, book, owner, within)
        case Comparison(left, _, right):
            return any(_may_fail(law, part, book, owner, within) for part in (left, right))
        case ByReading(_, alternatives):
            return any(_may_fail(law, each, book, owner, within) for each in alternatives.values())


def needs_of(law: Law, expression: Expression, book: Book, owner: Kind) -> tuple[str, ...] | None:
    """The names of a thing such that the expression has a value wherever all of them apply; None where more than that
    decides it."""
    match expression:
        case Of(name):
            return (name,)
        case Arithmetic("ratio", (_, divisor)) if _may_be_zero(_numbers(law, divisor, book)):
            return None
        case Arithmetic() | Comparison() | ByReading():
            parts = [needs_of(law, part, book, owner) for part in parts_of_expression(expression)]
            return None if None in parts else tuple(dict.fromkeys(name for part in parts for name in part or ()))
        case LookUp(by, table, otherwise):
            return (by,) if otherwise is not None or _lists_all(by, table, book) else None
    return None if _may_fail(law, expression, book, owner, set()) else ()


def _may_be_zero(span: Span) -> bool:
    return intersect(span, known(Fraction(0))) is not None


def _no_list(owner: Kind, over: str) -> bool:
    """Whether what has a list may be said not to be there."""
    return may_be_absent(owner, KIND_OF_PREFIX[over.partition(".")[0]])


def _name_may_fail(law: Law, name: str, book: Book, owner: Kind, within: set[str]) -> bool:
    if name.startswith(("reading.", "value.")):
        return False
    if name.startswith("answer."):
        return True
    its = KIND_OF_PREFIX[name.partition(".")[0]]
    if may_be_absent(owner, its):
        return True
    if name in book.facts:
        return book.facts[name].applies_when is not None
    if name in within:
        return False
    return _may_fail(law, book.calculations[name].expression, book, its, within | {name})


def _lists_all(by: str, table: Mapping[Value, Value], book: Book) -> bool:
    """Whether a look-up lists every word that what it looks up by may have."""
    fact = book.facts.get(by)
    if fact is None or fact.type == "number":
        return False
    every: set[Value] = {True, False} if fact.type == "yes_no" else set(fact.values)
    return every <= set(table)

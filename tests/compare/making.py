"""Small laws made by hand, to compare: one contact, the questions `upper` and `lower`, outcomes low, middle, high."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from fractions import Fraction

from ruling import places, small
from yokebook import Code
from yokebook.law import Law
from yokebook.model import (
    Book,
    Box,
    Cell,
    Comparison,
    NamedNumber,
    NoneFires,
    NumberValue,
    Of,
    Resolved,
    Rule,
    Step,
    Table,
    Value,
    Within,
)

#: Whether the number `n` is over the named number `limit`.
LATE = places.calculation("contact.late", Comparison(Of("contact.n"), "more_than", NamedNumber("limit")))
BOOK: Book = small.book({LATE.id: LATE})


def at_least(number: int) -> Within:
    return Within(low=Fraction(number))


def over(number: int) -> Within:
    return Within(low=Fraction(number), low_open=True)


def rule(id_: str, where: Box, then: str, exception_to: object = (), says: str = "") -> Rule:
    """A rule with one box."""
    return replace(small.rule(id_, [where], then, exception_to=exception_to), says=says)


def table(question: str, *rules: Rule, none_fires: str | None = "low") -> Table:
    """A table; where no rule fires the outcome is `low` unless another is wanted (None: silence is a fault)."""
    return Table(question, NoneFires(none_fires, "", None, small.SEEN, small.AT), rules, small.AT)


def limit(number: int) -> dict[str, NumberValue]:
    """The named number `limit`, of which lower is stricter."""
    made = NumberValue(
        "limit", Fraction(number), None, str(number), "lower", "the limit", small.CITE, small.SEEN, small.AT,
        (Step("small 1", "written", small.CITE, "", small.AT),),
    )  # fmt: skip
    return {"limit": made}


def chosen(reading: str, alternative: str) -> tuple[tuple[str, str, Box | None, Step], ...]:
    """A reading chosen by the amendment A-1."""
    return ((reading, alternative, None, Step("A-1", "choose_reading", small.CITE, "", small.AT)),)


def code(
    *tables: Table,
    values: Mapping[str, NumberValue] | None = None,
    readings: tuple[tuple[str, str, Box | None, Step], ...] = (),
    book: Book = BOOK,
) -> Code:
    """A law with these tables, in force by itself."""
    made = {each.question: each for each in tables}
    resolved = Resolved(small.DOCUMENT, "1", None, None, made, dict(values or {}), readings, (), "none")
    return Code(book, places.stands(Law(resolved, book)), None, {}, None, {})


def only(*values: Value) -> Cell:
    return places.only(*values)


def value_of(name: str, text: str) -> Value:
    """The value of a small fact that a record shows as text."""
    kind = small.FACTS[name].type
    if kind == "yes_no":
        return text == "yes"
    return Fraction(text) if kind == "number" else text


def facts_of(record: Mapping[str, object]) -> dict[str, Value]:
    """The facts of the one contact that a witness is about."""
    found: Iterable[Mapping[str, str]] = record["facts"]  # type: ignore[assignment]
    return {
        fact["fact"]: value_of(fact["fact"], fact["value"]) for fact in found if fact["subject"] == record["subject"]
    }

"""Laws of one table of the small document, for tests of its mutants."""

from __future__ import annotations

from fractions import Fraction

from ruling import small
from yokebook.law import Law
from yokebook.model import Book, NumberValue, OneOf, Resolved, Table, Within

A_OR_B = OneOf(frozenset({"a", "b"}))
YES = OneOf(frozenset({True}))
TWO = Fraction(2)

#: A rule, and an exception to it that has an exception of its own.
LETTER = small.rule("upper#letter", [{"contact.x": A_OR_B, "contact.p": YES}], "high")
NUMBER = small.rule(
    "upper#number",
    [{"contact.n": Within(high=TWO)}],
    "low",
    [{"contact.m": OneOf(frozenset({Fraction(3)}))}],
    ("upper#letter",),
)
TWO_RULES = small.table("upper", [LETTER, NUMBER], "low")


def law(table: Table, book: Book | None = None, **numbers: Fraction) -> Law:
    """The law of one table, with these named numbers."""
    values = {
        name: NumberValue(name, n, None, "", "neither", "", small.CITE, small.SEEN, small.AT)
        for name, n in numbers.items()
    }
    resolved = Resolved(small.DOCUMENT, "1", None, None, {table.question: table}, values, (), (), "none")
    return Law(resolved, book or small.book())


def every(_: object) -> bool:
    """Every row is one's own."""
    return True

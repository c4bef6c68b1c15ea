"""Values, cells and variables as people read them."""

from __future__ import annotations

from fractions import Fraction

from yokebook.entities import KIND_OF_PREFIX, Kind
from yokebook.model import Book, Cell, NamedNumber, NoneOf, Number, Value, Within
from yokebook.units import format_number
from yokebook.values import NotApplicable, Range, Some, Span, Val, as_good_as_exact, in_order, single


def unit_of(book: Book, name: str) -> str | None:
    """The unit of a fact or calculation; None where it has none."""
    if name in book.facts:
        return book.facts[name].unit
    if name in book.calculations:
        return book.calculations[name].unit
    return None


def show_value(value: Value, unit: str | None) -> str:
    """A known value as text: yes or no, the word, or the number with its unit."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str):
        return value
    return format_number(value, unit)


def show_span(span: Span, unit: str | None) -> str:
    """A span as text, such as `17 A`, `at least 3`, `over 20 min`, `left or right`."""
    if isinstance(span, NotApplicable):
        return "not applicable"
    value = single(span)
    if value is not None:
        return show_value(value, unit)
    if isinstance(span, Some):
        return " or ".join(show_value(v, unit) for v in in_order(span.values))
    return show_range(span, unit)


def show_range(span: Range, unit: str | None) -> str:
    """A range as text; `any number` where nothing is known."""
    if span.low is not None and as_good_as_exact(span):
        return f"about {format_number(span.low, unit)}"
    parts = []
    if span.low is not None:
        parts.append(f"{'over' if span.low_open else 'at least'} {format_number(span.low, unit)}")
    if span.high is not None:
        parts.append(f"{'under' if span.high_open else 'at most'} {format_number(span.high, unit)}")
    return " and ".join(parts) or "any number"


def show_val(val: Val, unit: str | None) -> str:
    """What is known of a value, `not known` where nothing is."""
    text = show_span(val.span, unit)
    if val.var is not None and single(val.span) is None and text in ("any number", "yes or no"):
        return "not known"
    if isinstance(val.span, Some) and len(val.span.values) > 4:
        return "not known"
    return f"{text}, or not applicable" if val.maybe_na and not isinstance(val.span, NotApplicable) else text


def show_cell(cell: Cell, unit: str | None) -> str:
    """A cell (named numbers already replaced) as text."""
    if isinstance(cell, Within):
        return show_range(Range(_set(cell.low), cell.low_open, _set(cell.high), cell.high_open), unit)
    words = " or ".join(show_value(v, unit) for v in in_order(v for v in cell.values if not isinstance(v, NamedNumber)))
    return f"not {words}" if isinstance(cell, NoneOf) else words


def _set(number: Number | None) -> Fraction | None:
    assert not isinstance(number, NamedNumber)
    return number


def kind_of(name: str) -> Kind:
    """The kind of thing that a fact or calculation belongs to."""
    return KIND_OF_PREFIX[name.partition(".")[0]]

"""Cells as FEEL unary tests, and boxes taken out of boxes, exact for open and closed ends."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction

from yokebook.model import Box, Cell, NoneOf, OneOf
from yokebook.values import ANY_NUMBER, Range, intersect

#: FEEL's numbers have at most so many digits.
DIGITS = 34


@dataclass(frozen=True, slots=True)
class Words:
    """Text values: these, or with `all_but` every value but these."""

    values: frozenset[str]
    all_but: bool = False


@dataclass(frozen=True, slots=True)
class YesNo:
    """Some of yes and no."""

    values: frozenset[bool]


@dataclass(frozen=True, slots=True)
class Numbers:
    """Ranges in order that do not touch; none for no number at all."""

    ranges: tuple[Range, ...]


Allowed = Words | YesNo | Numbers
#: What each input of a row may be; an input that is not in it may be anything.
Row = Mapping[str, Allowed]

_BOTH = frozenset({True, False})


def allowed_by(cell: Cell) -> Allowed:
    """The values that a cell (named numbers already replaced) allows, of those that apply."""
    if not isinstance(cell, OneOf | NoneOf):
        low, high = _plain(cell.low), _plain(cell.high)
        span = Range(low, cell.low_open or low is None, high, cell.high_open or high is None)
        return Numbers(() if span.empty() else (span,))
    words = frozenset(v for v in cell.values if isinstance(v, str))
    bools = frozenset(v for v in cell.values if isinstance(v, bool))
    numbers = sorted(v for v in cell.values if isinstance(v, Fraction))
    found: Allowed = Words(words)
    if bools:
        found = YesNo(bools)
    elif numbers:
        found = Numbers(tuple(Range(n, False, n, False) for n in numbers))
    return outside(found) if isinstance(cell, NoneOf) else found


def _plain(number: object) -> Fraction | None:
    assert number is None or isinstance(number, Fraction), number
    return number


def outside(allowed: Allowed) -> Allowed:
    """Every value that is not allowed, of those that apply."""
    match allowed:
        case Words(values, all_but):
            return Words(values, not all_but)
        case YesNo(bools):
            return YesNo(_BOTH - bools)
        case Numbers(ranges):
            left: tuple[Range, ...] = (ANY_NUMBER,)
            for taken in ranges:
                left = (*left[:-1], *_without(left[-1], taken))
            return Numbers(left)


def _without(span: Range, taken: Range) -> tuple[Range, ...]:
    """The span below and above what is taken out of it."""
    below = Range(span.low, span.low_open, taken.low, not taken.low_open) if taken.low is not None else None
    above = Range(taken.high, not taken.high_open, span.high, span.high_open) if taken.high is not None else None
    return tuple(part for part in (below, above) if part is not None and not part.empty())


def both(left: Allowed, right: Allowed) -> Allowed:
    """The values that both allow. The two are of one input, so of one kind."""
    match left, right:
        case Words(a, a_but), Words(b, b_but):
            if a_but and b_but:
                return Words(a | b, all_but=True)
            if a_but or b_but:
                return Words(b - a if a_but else a - b)
            return Words(a & b)
        case YesNo(a), YesNo(b):
            return YesNo(a & b)
        case Numbers(a), Numbers(b):
            parts = (intersect(x, y) for x in a for y in b)
            return Numbers(tuple(part for part in parts if isinstance(part, Range)))
        case _:
            raise TypeError(f"cells of different kinds on one input: {left} and {right}")


def nothing(allowed: Allowed) -> bool:
    """Whether no value is left."""
    match allowed:
        case Words(values, all_but):
            return not all_but and not values
        case YesNo(bools):
            return not bools
        case Numbers(ranges):
            return not ranges


def rows_of(where: Iterable[Box], but_not: Iterable[Box]) -> list[Row]:
    """The records in some `where` box and in no `but_not` box, as rows: those of one `where` box share no record."""
    rows = [row for box in where if (row := _row(box)) is not None]
    for off in but_not:
        taken = _row(off)
        if taken is not None:
            rows = [piece for row in rows for piece in minus(row, taken)]
    return rows


def _row(box: Box) -> Row | None:
    """The box as a row; None where no value is left for some cell."""
    row = {name: allowed_by(cell) for name, cell in box.items()}
    return None if any(nothing(allowed) for allowed in row.values()) else row


def minus(row: Row, taken: Row) -> list[Row]:
    """The row without the records of another, in pieces that share none: one piece for each cell of what is taken.

    The first piece fails the first cell; the second meets the first and fails the second; and so on.
    """
    pieces: list[Row] = []
    kept = dict(row)
    for name, cell in taken.items():
        fails = both(kept[name], outside(cell)) if name in kept else outside(cell)
        if not nothing(fails):
            pieces.append({**kept, name: fails})
        meets = both(kept[name], cell) if name in kept else cell
        if nothing(meets):
            return pieces
        kept[name] = meets
    return pieces


# ---- as text --------------------------------------------------------------------------------------------------------


def unary_tests(allowed: Allowed | None) -> str:
    """The values as FEEL unary tests; `-` for any value. Raises ValueError for a number that no decimal is equal to.

    >>> unary_tests(Numbers((Range(Fraction(15), False, Fraction(20), True),)))
    '[15..20)'
    >>> unary_tests(Words(frozenset({"b", "a"}), all_but=True))
    'not("a","b")'
    """
    match allowed:
        case None:
            return "-"
        case Words(values, all_but):
            text = ",".join(feel_text(value) for value in sorted(values))
            return (f"not({text})" if text else "-") if all_but else text
        case YesNo(bools):
            return ",".join("true" if value else "false" for value in sorted(bools, reverse=True))
        case Numbers(ranges):
            rest = outside(allowed)
            if isinstance(rest, Numbers) and all(span.low == span.high for span in rest.ranges):
                text = ",".join(_range(span) for span in rest.ranges)
                return f"not({text})" if text else "-"
            return ",".join(_range(span) for span in ranges)


def _range(span: Range) -> str:
    if span.low is None:
        assert span.high is not None
        return f"{'<' if span.high_open else '<='} {decimal(span.high)}"
    if span.high is None:
        return f"{'>' if span.low_open else '>='} {decimal(span.low)}"
    if span.low == span.high:
        return decimal(span.low)
    return f"{'(' if span.low_open else '['}{decimal(span.low)}..{decimal(span.high)}{')' if span.high_open else ']'}"


def feel_text(value: str) -> str:
    """A text as a FEEL string literal.

    >>> feel_text('the "hot" side')
    '"the \\\\"hot\\\\" side"'
    """
    return '"' + value.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n").replace("\t", "\\t") + '"'


def decimal(number: Fraction) -> str:
    """The number as an exact decimal. Raises ValueError where no decimal of at most 34 digits is equal to it.

    >>> decimal(Fraction(-5, 8)), decimal(Fraction(2040))
    ('-0.625', '2040')
    """
    places = next((n for n in range(DIGITS + 1) if (number * 10**n).denominator == 1), None)
    digits = "" if places is None else str(abs(number.numerator) * 10**places // number.denominator)
    if places is None or len(digits) > DIGITS:
        raise ValueError(f"no decimal of at most {DIGITS} digits is equal to {number}")
    digits = digits.rjust(places + 1, "0")
    whole, rest = (digits[:-places], digits[-places:]) if places else (digits, "")
    return f"{'-' if number < 0 else ''}{whole}{'.' if rest else ''}{rest}"

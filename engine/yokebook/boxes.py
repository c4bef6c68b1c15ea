"""Joining boxes: the records that are in both."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from yokebook.model import Box, Cell, NamedNumber, NoneOf, Number, OneOf, Value, Within


class CannotJoin(ValueError):
    """Two cells on one input that no single cell can stand for. The message says why."""


def join_boxes(left: Iterable[Box], right: Iterable[Box]) -> tuple[Box, ...]:
    """Every box of the left joined to every box of the right, those that no record can be in left out.

    Raises CannotJoin.
    """
    right = tuple(right)
    joined = (_join(a, b) for a in left for b in right)
    return tuple(box for box in joined if box is not None)


def _join(left: Box, right: Box) -> Box | None:
    both = dict(left)
    for name, cell in right.items():
        if name in both:
            common = join_cells(name, both[name], cell)
            if common is None:
                return None
            both[name] = common
        else:
            both[name] = cell
    return both


_TWICE = "the rule has a cell on `{}` already"


def join_cells(name: str, left: Cell, right: Cell) -> Cell | None:
    """The cell that both cells on this input allow; None where they have nothing in common.

    Raises CannotJoin where the answer hangs on a named number, or is a range with holes.
    """
    if left == right:
        return left
    if isinstance(left, Within) and isinstance(right, Within):
        return _join_ranges(name, left, right)
    if _names_numbers(left) or _names_numbers(right):
        raise CannotJoin(f"{_TWICE.format(name)} and a named number is in one of the two")
    match left, right:
        case OneOf(a), OneOf(b):
            return _one_of(a & b)
        case NoneOf(a), NoneOf(b):
            return NoneOf(a | b)
        case (OneOf(a), NoneOf(b)) | (NoneOf(b), OneOf(a)):
            return _one_of(a - b)
        case (OneOf(a), Within() as span) | (Within() as span, OneOf(a)):
            return _one_of(frozenset(v for v in a if isinstance(v, Fraction) and _inside(v, span)))
        case _:
            raise CannotJoin(f"{_TWICE.format(name)} and the two leave a range with holes")


def _one_of(values: frozenset[Value | NamedNumber]) -> OneOf | None:
    return OneOf(values) if values else None


def _names_numbers(cell: Cell) -> bool:
    members = (cell.low, cell.high) if isinstance(cell, Within) else cell.values
    return any(isinstance(member, NamedNumber) for member in members)


def _inside(value: Fraction, span: Within) -> bool:
    assert not isinstance(span.low, NamedNumber) and not isinstance(span.high, NamedNumber)
    above = span.low is None or value > span.low or (value == span.low and not span.low_open)
    below = span.high is None or value < span.high or (value == span.high and not span.high_open)
    return above and below


_End = tuple[Number | None, bool]  # the number and whether it is itself left out


def _join_ranges(name: str, left: Within, right: Within) -> Within | None:
    low, low_open = _tighter(name, (left.low, left.low_open), (right.low, right.low_open), higher=True)
    high, high_open = _tighter(name, (left.high, left.high_open), (right.high, right.high_open), higher=False)
    joined = Within(low, low_open, high, high_open)
    if isinstance(low, Fraction) and isinstance(high, Fraction):
        empty = low > high or (low == high and (low_open or high_open))
        return None if empty else joined
    return joined  # with a named number the range may come out empty, and then the rule never fires, as it should


def _tighter(name: str, one: _End, other: _End, *, higher: bool) -> _End:
    """The end that leaves less: the higher low or the lower high, and of two equal ones the open one."""
    if one[0] is None or one == other:
        return other
    if other[0] is None:
        return one
    if one[0] == other[0]:
        return one[0], True
    if isinstance(one[0], NamedNumber) or isinstance(other[0], NamedNumber):
        raise CannotJoin(f"{_TWICE.format(name)} and a named number is in one of the two")
    return one if (one[0] > other[0]) == higher else other

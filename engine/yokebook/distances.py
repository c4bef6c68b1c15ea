"""How far one thing is from another: along a stretch exactly, across a plan between two numbers very close together.

A straight line's length is mostly no exact number: it is given between two exact ones, of which neither is reached.
"""

from __future__ import annotations

from fractions import Fraction
from math import isqrt

from yokebook.values import Range, Val, hull

#: How close together the two numbers are that an inexact root lies between, in parts of one.
FINENESS = 10**12

_ZERO = Fraction(0)

#: The distance of two things of whose places nothing is known.
ANYWHERE = Range(_ZERO, False, None, True)


def apart(here: Val, there: Val) -> Range | None:
    """How far two positions are apart; None where one of them does not apply."""
    a, b = hull(here.span), hull(there.span)
    if a is None or b is None:
        return None
    ends = [_less(a.low, b.high), _less(b.low, a.high)]  # how far each surely lies above the other
    low = max([_ZERO, *(end for end in ends if end is not None)])
    most = [_less(a.high, b.low), _less(b.high, a.low)]
    known = [end for end in most if end is not None]
    high = max(known) if len(known) == len(most) else None
    return Range(low, False, high, high is None)


def _less(a: Fraction | None, b: Fraction | None) -> Fraction | None:
    return None if a is None or b is None else a - b


def straight(across: Range, along: Range) -> Range:
    """The length of the straight line between two points that are so far apart each way."""
    low = _root(_square(across.low) + _square(along.low))
    if across.high is None or along.high is None:
        return Range(low.low, low.low_open, None, True)
    high = _root(_square(across.high) + _square(along.high))
    return Range(low.low, low.low_open, high.high, high.high_open)


def _square(number: Fraction | None) -> Fraction:
    return _ZERO if number is None else number * number


def _root(square: Fraction) -> Range:
    top, bottom = isqrt(square.numerator), isqrt(square.denominator)
    if top * top == square.numerator and bottom * bottom == square.denominator:
        exact = Fraction(top, bottom)
        return Range(exact, False, exact, False)
    below = Fraction(isqrt(square.numerator * FINENESS**2 // square.denominator), FINENESS)
    return Range(below, True, below + Fraction(1, FINENESS), True)


def either(one: Range, other: Range) -> Range:
    """What holds of a distance that may be either of two: from the least of both to the greatest."""
    low = min(one.low or _ZERO, other.low or _ZERO)
    high = None if one.high is None or other.high is None else max(one.high, other.high)
    return Range(low, False, high, high is None)

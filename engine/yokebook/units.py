"""Numbers with units, exact. A number of a kind with more than one usual unit is written with its unit; it is kept as a
Fraction in the kind's own unit (inches, square feet, minutes, watts, volt-amperes, horsepower, amperes, volts)."""

from __future__ import annotations

import re
from collections.abc import Mapping
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

_FOOT_IN_METRES = Fraction("0.3048")
_INCH_IN_METRES = _FOOT_IN_METRES / 12


class Measure(NamedTuple):
    """A kind of quantity: its own unit, every unit it may be written in with its size in the own unit, and whether a
    number must carry its unit."""

    name: str
    unit: str
    sizes: Mapping[str, Fraction]
    must_carry: bool
    mixed: bool = False  # may be written in several units at once, such as 5 ft 6 in


MEASURES: tuple[Measure, ...] = (
    Measure(
        "length",
        "in",
        {"in": Fraction(1), "ft": Fraction(12), "mm": 1 / (1000 * _INCH_IN_METRES), "m": 1 / _INCH_IN_METRES},
        must_carry=True,
        mixed=True,
    ),
    Measure("area", "sq ft", {"sq ft": Fraction(1), "sq m": 1 / _FOOT_IN_METRES**2}, must_carry=True),
    Measure("time", "min", {"min": Fraction(1), "s": Fraction(1, 60), "h": Fraction(60)}, must_carry=True, mixed=True),
    Measure("power", "W", {"W": Fraction(1), "kW": Fraction(1000)}, must_carry=True),
    Measure("apparent power", "VA", {"VA": Fraction(1), "kVA": Fraction(1000)}, must_carry=True),
    Measure("motor power", "hp", {"hp": Fraction(1)}, must_carry=True),
    Measure("current", "A", {"A": Fraction(1)}, must_carry=False),
    Measure("voltage", "V", {"V": Fraction(1)}, must_carry=False),
)

#: By the unit that a fact, calculation or value may declare.
MEASURE_OF: dict[str, Measure] = {measure.unit: measure for measure in MEASURES}
_MEASURE_WRITTEN: dict[str, Measure] = {name: measure for measure in MEASURES for name in measure.sizes}

_LONGEST = 60
_NUMBER = r"(?:[0-9]+ [0-9]+/[0-9]+|[0-9]+/[0-9]+|[0-9]+(?:\.[0-9]+)?(?:[eE][+-]?[0-9]{1,2})?)"
_BARE = re.compile(rf"(-?)({_NUMBER})( ?%)?")
_TERM = re.compile(rf"({_NUMBER}) ?([A-Za-z][A-Za-z ]*)")

#: Simple fractions that the trade writes as such.
_TRADE_FRACTIONS = (2, 3, 4, 6, 8, 20)


class QuantityError(ValueError):
    """Text that is no number, or not one of the kind wanted. The message says what was found and what is allowed."""


def must_carry_unit(unit: str | None) -> bool:
    """Whether a number of this declared unit has to be written with a unit."""
    return unit is not None and MEASURE_OF[unit].must_carry


def allowed_forms(unit: str | None) -> str:
    """How a number of this declared unit may be written, for messages.

    >>> allowed_forms("min")
    'a time in `min`, `s` or `h`'
    """
    if unit is None:
        return "a plain number"
    measure = MEASURE_OF[unit]
    names = [f"`{name}`" for name in measure.sizes]
    text = names[0] if len(names) == 1 else f"{', '.join(names[:-1])} or {names[-1]}"
    return f"{_with_article(measure.name)} in {text}"


def _with_article(name: str) -> str:
    return f"an {name}" if name[0] in "aeiou" else f"a {name}"


def parse(text: str, unit: str | None, *, bare_allowed: bool = False) -> Fraction:
    """The number that `text` writes, in `unit` (None: a plain number, which may also be a percentage).

    `bare_allowed` takes a number without a unit as being in `unit` already, as flat records may give it.

    Raises QuantityError.

    >>> parse("5 ft 6 in", "in"), parse("1 1/2 hp", "hp"), parse("50%", None)
    (Fraction(66, 1), Fraction(3, 2), Fraction(1, 2))
    """
    value, found = _read(text, allowed_forms(unit))
    if found is None:
        if must_carry_unit(unit) and not bare_allowed:
            raise QuantityError(f"`{text}` has no unit; allowed: {allowed_forms(unit)}")
        if unit is not None and text.endswith("%"):
            raise QuantityError(f"`{text}` is a percentage; allowed: {allowed_forms(unit)}")
        return value
    if found != unit:
        raise QuantityError(f"`{text}` is {_with_article(MEASURE_OF[found].name)}; allowed: {allowed_forms(unit)}")
    return value


def parse_any(text: str) -> tuple[Fraction, str | None]:
    """The number that `text` writes and the own unit of its kind, None for a number without a unit.

    Raises QuantityError.

    >>> parse_any("1/2 h"), parse_any("0.5")
    ((Fraction(30, 1), 'min'), (Fraction(1, 2), None))
    """
    return _read(text, f"a number, alone or in {', '.join(f'`{name}`' for name in _MEASURE_WRITTEN)}")


def _read(text: str, allowed: str) -> tuple[Fraction, str | None]:
    if len(text) > _LONGEST:
        raise QuantityError(f"`{text[:20]}…` is too long for a number; allowed: {allowed}")
    bare = _BARE.fullmatch(text)
    if bare:
        value = _number(bare[2], text) / (100 if bare[3] else 1)
        return (-value if bare[1] else value), None
    terms = _terms(text)
    if terms is None and _terms(text.replace(",", "")):
        raise QuantityError(f"`{text}` has a comma; write `{text.replace(',', '')}`, with a point for decimals")
    if terms is None:
        raise QuantityError(f"`{text}` is not a number; allowed: {allowed}")
    measures = {name: _MEASURE_WRITTEN.get(name) for _, name in terms}
    for name, measure in measures.items():
        if measure is None:
            raise QuantityError(f"`{name}` in `{text}` is not a unit; allowed: {allowed}")
    first = measures[terms[0][1]]
    assert first is not None
    if len(terms) > 1:
        sizes = [first.sizes.get(name) for _, name in terms]
        falling = all(a is not None and b is not None and a > b for a, b in pairwise(sizes))
        if not (first.mixed and falling):
            raise QuantityError(f"`{text}` mixes units; allowed: {allowed}")
    return sum((_number(number, text) * first.sizes[name] for number, name in terms), Fraction(0)), first.unit


def _terms(text: str) -> list[tuple[str, str]] | None:
    """(number, unit name) pairs that make up the whole text, or None."""
    terms: list[tuple[str, str]] = []
    position = 0
    while position < len(text):
        found = _TERM.match(text, position)
        if found is None:
            return None
        terms.append((found[1], found[2].rstrip(" ")))
        position = found.end()
    return terms or None


def _number(number: str, text: str) -> Fraction:
    try:
        return sum((Fraction(part) for part in number.split(" ")), Fraction(0))
    except ZeroDivisionError:
        raise QuantityError(f"`{text}` divides by zero") from None


def format_number(value: Fraction, unit: str | None = None) -> str:
    """`value` as people write it, with its unit: exact where it has at most three decimals (horsepower: as a simple
    fraction), else rounded to two, for print only.

    >>> format_number(Fraction(17), "A"), format_number(Fraction(145, 12), "A"), format_number(Fraction(3, 2), "hp")
    ('17 A', '12.08 A', '1 1/2 hp')
    """
    sign = "-" if value < 0 else ""
    text = sign + (_simple_fraction(abs(value)) if unit == "hp" else _decimal(abs(value)))
    return text if unit is None else f"{text} {unit}"


def format_feet(inches: Fraction) -> str:
    """A length in inches as people write it along a wall, in feet and inches.

    >>> format_feet(Fraction(168)), format_feet(Fraction(67, 2)), format_feet(Fraction(8))
    ('14 ft', '2 ft 9.5 in', '8 in')
    """
    feet, rest = divmod(abs(inches), 12)
    parts = [f"{feet} ft"] if feet else []
    if rest or not feet:
        parts.append(f"{_decimal(rest)} in" if rest or feet else "0 ft")
    return ("-" if inches < 0 else "") + " ".join(parts)


def _decimal(value: Fraction) -> str:
    places = next((n for n in range(4) if (value * 10**n).denominator == 1), None)
    if places is None:
        places = 2
    scaled = (value * 10**places * 2 + 1) // 2  # halves go up, as people round
    whole, rest = divmod(scaled, 10**places)
    return f"{whole}.{rest:0{places}d}".rstrip("0").rstrip(".") if places else str(whole)


def _simple_fraction(value: Fraction) -> str:
    whole, rest = divmod(value, 1)
    if rest == 0 or rest.denominator not in _TRADE_FRACTIONS:
        return _decimal(value)
    return f"{whole} {rest}" if whole else str(rest)

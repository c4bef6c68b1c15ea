"""How a spreadsheet shows a number, for the few formats in which that is simply told."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from decimal import Decimal

#: Formats that leave the digits to the program.
_LEFT_OPEN = ("General", "@", "")

#: General shows a number of more digits than these with an exponent, or rounds it.
_MOST_DIGITS = 11

#: A spreadsheet computes with more digits than it shows of any number.
_DIGITS = 15

_TOKEN = re.compile(r'"([^"]*)"|\\(.)|_(.)|\*.|\[[^\]]*\]|([0#?.,])|(.)', re.DOTALL)
#: Signs that stand in a format for themselves without quotes.
_THEMSELVES = " -/():+$"
_PLAIN = re.compile(r"#*(0+)(?:\.(0+))?")


@dataclass(frozen=True, slots=True)
class Number:
    """A number of a cell, in full and as its format shows it."""

    text: str  # in full, without an exponent
    shown: str | None  # None where the format does more than can be told here
    fixed: bool  # whether the format says how many digits are shown
    quantity: str | None  # in full with the words of the format; None where it may show as another number


def read_number(value: int | float, number_format: str) -> Number | None:
    """The number and how it shows; None for what is no finite number.

    >>> read_number(7, "000")
    Number(text='7', shown='007', fixed=True, quantity='7')
    >>> read_number(210.1, "General")
    Number(text='210.1', shown='210.1', fixed=False, quantity='210.1')
    >>> read_number(20, '0" A"').quantity
    '20 A'
    """
    if isinstance(value, float) and not math.isfinite(value):
        return None
    exact = Decimal(value) if isinstance(value, int) else Decimal(f"{value:.{_DIGITS}g}")
    text = f"{exact:f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    if number_format in _LEFT_OPEN:
        return Number(text, text if len(text) <= _MOST_DIGITS else None, False, text)
    before, places, after, odd = _parts(_section(number_format, exact))
    shown = None if odd else _in_places(exact, places)
    return Number(
        text,
        shown=None if shown is None else f"{before}{shown}{after}".strip(),
        fixed=shown is not None,
        quantity=_quantity(before, text, after, odd, scaled=places.endswith(",")),
    )


def _quantity(before: str, text: str, after: str, odd: str, *, scaled: bool) -> str | None:
    """The number with the words of its format; None where the format may show it as another number."""
    if not odd:
        return None if scaled else f"{before}{text}{after}".strip()
    return None if "%" in odd or any(sign.isalpha() for sign in before + after) else text


def _section(number_format: str, value: Decimal) -> str:
    """The part of a format that is for numbers of this sign."""
    sections = re.split(r';(?=(?:[^"]*"[^"]*")*[^"]*$)', number_format)
    if value == 0 and len(sections) > 2:
        return sections[2]
    return sections[1] if value < 0 and len(sections) > 1 else sections[0]


def _parts(section: str) -> tuple[str, str, str, str]:
    """The words before the digits, the digits' places, the words after them, and whatever else is in it."""
    before, places, after, odd = "", "", "", ""
    for match in _TOKEN.finditer(section):
        quoted, escaped, blank, place, other = match.groups()
        word = quoted or escaped or (" " if blank is not None else "")
        if place is not None:
            odd += "digits on both sides of words" if after.strip() else ""
            places += place
        elif other is not None and other not in _THEMSELVES:
            odd += other
        else:
            word += other or ""
            odd += "colour or condition" if match[0].startswith("[") else ""
        if places:
            after += word
        else:
            before += word
    return before, places, after, odd


def _in_places(value: Decimal, places: str) -> str | None:
    """The digits as plain places show them; None for other places, and where they do not show all of it."""
    match = _PLAIN.fullmatch(places)
    if match is None or value < 0:
        return None
    decimals = len(match[2] or "")
    rounded = f"{value:.{decimals}f}"
    if Decimal(rounded) != value:
        return None
    whole, dot, rest = rounded.partition(".")
    return whole.zfill(len(match[1])) + dot + rest

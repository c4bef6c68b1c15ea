"""Plain text for people: wrapping, lists in words, counts. ASCII, no colour, no boxes."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence

WIDTH = 100


def wrap(text: str, width: int = WIDTH, indent: int = 0, hang: int = 2) -> list[str]:
    """The text as lines of at most `width` columns, indented, later lines `hang` columns further in.

    A word longer than a line (an address, a path) stays whole.

    >>> wrap("Ask: what takes the power away?", width=20, indent=2)
    ['  Ask: what takes', '    the power away?']
    """
    return textwrap.wrap(
        ascii_signs(" ".join(text.split())),
        width=width,
        initial_indent=" " * indent,
        subsequent_indent=" " * (indent + hang),
        break_long_words=False,
        break_on_hyphens=False,
    )


def in_words(items: Iterable[str], joined_by: str = "and") -> str:
    """The items as one would say them.

    >>> in_words(["upper", "lower", "left"])
    'upper, lower and left'
    """
    *first, last = [*items] or [""]
    return f"{', '.join(first)} {joined_by} {last}" if first else last


def many(count: int, one: str, more: str | None = None) -> str:
    """The count with its noun.

    >>> many(1, "half", "halves"), many(3, "half", "halves"), many(2, "ruling")
    ('1 half', '3 halves', '2 rulings')
    """
    return f"{count} {one if count == 1 else more or one + 's'}"


def capital(text: str) -> str:
    """The text with a capital at the start; it must not be empty.

    >>> capital("not in one room")
    'Not in one room'
    """
    return text[0].upper() + text[1:]


def sentence(text: str) -> str:
    """The text with a capital at the start and a full stop at the end.

    >>> sentence("the breaker is 20 A")
    'The breaker is 20 A.'
    """
    text = text.strip()
    if not text:
        return ""
    return capital(text) + ("" if text[-1] in ".?!" else ".")


def columns(rows: Sequence[Sequence[str]], gap: int = 2) -> list[str]:
    """The rows with their cells under each other, the last cell free.

    >>> columns([["a", "1"], ["bcd", "2"]])
    ['a    1', 'bcd  2']
    """
    widths = [max(len(row[index]) for row in rows) for index in range(len(rows[0]) - 1)] if rows else []
    padded = ([cell.ljust(size + gap) for cell, size in zip(row, widths, strict=False)] + [row[-1]] for row in rows)
    return ["".join(row).rstrip() for row in padded]


_ASCII = str.maketrans(
    {
        "\N{GREATER-THAN OR EQUAL TO}": ">=",
        "\N{LESS-THAN OR EQUAL TO}": "<=",
        "\N{NOT EQUAL TO}": "is not",
        "\N{MULTIPLICATION SIGN}": "x",
        "\N{MINUS SIGN}": "-",
        "\N{EN DASH}": "-",
        "\N{EM DASH}": "-",
        "\N{HORIZONTAL ELLIPSIS}": "...",
        "\N{RIGHT SINGLE QUOTATION MARK}": "'",
        "\N{VULGAR FRACTION ONE HALF}": "1/2",
    }
)


def ascii_signs(text: str) -> str:
    """The text with signs that not every terminal and printer has written out.

    >>> ascii_signs("15 A ≤ 20 A, a schedule …")
    '15 A <= 20 A, a schedule ...'
    """
    return text.translate(_ASCII)


def caution_lines(cautions: Iterable[str], columns: int = WIDTH) -> list[str]:
    """The cautions that every output for people ends with, under a heading; nothing where there are none."""
    lines = [line for caution in cautions for line in wrap(f"- {sentence(caution)}", columns, indent=2)]
    return ["CAUTIONS", *lines] if lines else []

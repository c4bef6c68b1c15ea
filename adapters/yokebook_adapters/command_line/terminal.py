"""What the commands know of the terminal: its width, and whether it has shown the text."""

from __future__ import annotations

import sys
from collections.abc import Iterable

from yokebook_adapters.lines import WIDTH

_NARROWEST = 32


def width() -> int:
    """The columns to print in: the terminal's, at most 100; 100 in a pipe or file, so that output stays the same."""
    if not sys.stdout.isatty():
        return WIDTH
    from shutil import get_terminal_size

    return max(_NARROWEST, min(WIDTH, get_terminal_size((WIDTH, 24)).columns))


def say_refused(faults: Iterable[str], output: str) -> None:
    """Says on standard error what was refused, unless a terminal has just shown `output`, the text, which lists it; a
    file that the text goes to has not."""
    if output != "text" or not sys.stdout.isatty():
        sys.stderr.writelines(f"{fault}\n" for fault in faults)

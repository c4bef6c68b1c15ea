"""What the commands know of the terminal: its width, and whether it has shown the text."""

from __future__ import annotations

import sys
from collections.abc import Iterable
from time import monotonic

from yokebook_adapters.lines import WIDTH

_NARROWEST = 32

#: Seconds before anything is shown of work that takes long, and between two showings.
_SHOWN_AFTER, _SHOWN_EVERY = 1.0, 0.25
#: Back to the line's start, and what is on it taken away.
_EMPTY = "\r\x1b[K"


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


class Progress:
    """How far work has come, on standard error, if that is a terminal and the work takes longer than a second."""

    def __init__(self, doing: str, pieces: str = "rulings") -> None:
        self.doing, self.pieces = doing, pieces
        self._on = sys.stderr.isatty()
        self._next = monotonic() + _SHOWN_AFTER
        self._shown = False

    def part(self, number: int, parts: int, done: int, of: int) -> None:
        """Shows that so many of a part's pieces are done, where it is the `number`th of `parts`, counted from 0."""
        if self._on and monotonic() >= self._next:
            self._next = monotonic() + _SHOWN_EVERY
            self._shown = True
            share = (number + done / max(1, of)) / parts
            count = f"{number:,} of {parts:,} rows" if parts > 1 else f"{done:,} of {of:,} {self.pieces}"
            sys.stderr.write(f"{_EMPTY}{self.doing}: {share:4.0%}, {count}")
            sys.stderr.flush()

    def __enter__(self) -> Progress:
        return self

    def __exit__(self, *_: object) -> None:
        """Takes away what is shown."""
        if self._shown:
            sys.stderr.write(_EMPTY)
            sys.stderr.flush()

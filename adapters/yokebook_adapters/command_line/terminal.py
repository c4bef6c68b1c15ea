"""What the commands know of the terminal: only its width."""

from __future__ import annotations

import shutil
import sys

from yokebook_adapters.lines import WIDTH

_NARROWEST = 32


def width() -> int:
    """The columns to print in: the terminal's, at most 100; 100 in a pipe or file, so that output stays the same."""
    if not sys.stdout.isatty():
        return WIDTH
    return max(_NARROWEST, min(WIDTH, shutil.get_terminal_size((WIDTH, 24)).columns))

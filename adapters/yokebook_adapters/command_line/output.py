"""Where a command's output goes, and pages in the form asked for."""

from __future__ import annotations

import argparse
import contextlib
import io
import sys
from collections.abc import Callable
from pathlib import Path

from yokebook_adapters.command_line.arguments import UsageFault

#: The formats that the extra `reports` makes.
PAGES = ("html", "pdf")


def add_output(parser: argparse._ActionsContainer) -> None:
    """Adds the option that names a file to write to."""
    parser.add_argument("--output", metavar="FILE", help="write to this file instead of standard output")


def into_file(path: str, run: Callable[[], int]) -> int:
    """Runs with standard output going to the file, which is written once all of it is there. Returns the exit status;
    raises UsageFault where the file cannot be written."""
    kept = io.BytesIO()
    text = io.TextIOWrapper(kept, encoding="utf-8", newline="", write_through=True)
    with contextlib.redirect_stdout(text):
        status = run()
    try:
        Path(path).write_bytes(kept.getvalue())
    except OSError as fault:
        raise UsageFault(f"cannot write `{path}`: {fault.strerror}") from None
    return status


def write_page(make: Callable[[], str], form: str) -> None:
    """Writes the page that `make` gives to standard output, as HTML or as PDF. Raises UsageFault where a library for it
    is missing, and for a PDF that would go to a terminal."""
    from yokebook_adapters.pages.paper import as_pdf
    from yokebook_adapters.pages.printing import CannotPrint

    if form == "pdf" and sys.stdout.isatty():
        raise UsageFault("a PDF is not for a terminal; name a file with --output")
    try:
        html = make()
        if form == "html":
            sys.stdout.write(html)
            return
        made = as_pdf(html)
    except CannotPrint as missing:
        raise UsageFault(str(missing)) from None
    sys.stdout.flush()
    sys.stdout.buffer.write(made)

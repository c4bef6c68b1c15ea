"""Where a command's output goes, and output that is no text: pages in the form asked for, workbooks."""

from __future__ import annotations

import argparse
import contextlib
import io
import sys
from collections.abc import Callable
from pathlib import Path

from yokebook_adapters.command_line.arguments import UsageFault, needs_extra

#: The formats that the extra `reports` makes.
PAGES = ("html", "pdf")


def add_output(parser: argparse._ActionsContainer) -> None:
    """Adds the option that names a file to write to."""
    parser.add_argument("--output", metavar="FILE", help="write to this file instead of standard output")


def into_output(run: Callable[[argparse.Namespace], int]) -> Callable[[argparse.Namespace], int]:
    """The command with its standard output going to the file that --output names, if it does. The file is written once
    all of it is there. Raises UsageFault where the file cannot be written."""

    def into_file(args: argparse.Namespace) -> int:
        if args.output is None:
            return run(args)
        kept = io.BytesIO()
        text = io.TextIOWrapper(kept, encoding="utf-8", newline="", write_through=True)
        with contextlib.redirect_stdout(text):
            status = run(args)
        try:
            Path(args.output).write_bytes(kept.getvalue())
        except OSError as fault:
            raise UsageFault(f"cannot write `{args.output}`: {fault.strerror}") from None
        return status

    return into_file


def write_page(make: Callable[[], str], form: str) -> None:
    """Writes the page that `make` gives to standard output, as HTML or as PDF. Raises UsageFault where a library for it
    is missing, and for a PDF that would go to a terminal."""
    from yokebook_adapters.pages.paper import as_pdf
    from yokebook_adapters.pages.printing import CannotPrint

    if form == "pdf":
        _refuse_terminal("a PDF")
    try:
        html = make()
        if form == "html":
            sys.stdout.write(html)
            return
        made = as_pdf(html)
    except CannotPrint as missing:
        raise UsageFault(str(missing)) from None
    _write_bytes(made)


def write_workbook(make: Callable[[], bytes]) -> None:
    """Writes the workbook that `make` gives to standard output. Raises UsageFault where the library for it is missing,
    and where it would go to a terminal."""
    _refuse_terminal("a workbook")
    try:
        made = make()
    except ModuleNotFoundError as missing:
        raise needs_extra(missing) from None
    _write_bytes(made)


def _refuse_terminal(what: str) -> None:
    if sys.stdout.isatty():
        raise UsageFault(f"{what} is not for a terminal; name a file with --output")


def _write_bytes(made: bytes) -> None:
    sys.stdout.flush()
    sys.stdout.buffer.write(made)

"""Output that is no text and goes into a file: the option for it, and the writing."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path

from yokebook_adapters.command_line.arguments import UsageFault, needs_extra

#: The formats that are no text.
FILE_FORMATS = ("xlsx",)


def add_output(parser: argparse._ActionsContainer) -> None:
    """Adds the option for the file."""
    parser.add_argument("--output", metavar="FILE", help="the file to write, for --format xlsx")


def check_output(args: argparse.Namespace) -> bool:
    """Whether the output goes into a file. Raises UsageFault where format and option do not go together."""
    if args.format in FILE_FORMATS and args.output is None:
        raise UsageFault(f"--format {args.format} writes a file; name it with --output")
    if args.format not in FILE_FORMATS and args.output is not None:
        raise UsageFault(f"--output is for --format {' or '.join(FILE_FORMATS)}; send other formats on with `>`")
    return args.format in FILE_FORMATS


def write_output(args: argparse.Namespace, make: Callable[[], bytes]) -> None:
    """Writes what `make` gives. Raises UsageFault where it cannot be made or written."""
    try:
        data = make()
    except ModuleNotFoundError as missing:
        raise needs_extra(missing) from None
    try:
        Path(args.output).write_bytes(data)
    except OSError as fault:
        raise UsageFault(f"cannot write `{args.output}`: {fault.strerror or fault}") from None

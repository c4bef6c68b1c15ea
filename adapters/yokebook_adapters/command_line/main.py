"""Entry point of the command `yokebook`."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence

from yokebook_adapters.command_line import (
    ask,
    authority,
    check,
    compare,
    differ,
    draw,
    explain,
    pin,
    places,
    rerun,
    rule,
    schedule,
    serve,
    table,
)
from yokebook_adapters.command_line.arguments import Parser, Stopped
from yokebook_adapters.outcome import USAGE

#: What a shell reports for a program whose reader went away.
_READER_WENT_AWAY = 141

_EPILOG = """exit status:
  0  everything asked is settled and nothing is against
  1  something is against: not satisfied, not permitted, or a load to be moved
  2  wrong usage
  3  a record was refused, or the rulebook has a fault; everything else is still printed
  4  nothing is against, but something cannot be told, is read differently, was not checked or is not entered
The first of 2, 3, 1, 4, 0 that holds is given."""


def build_parser() -> Parser:
    """The parser of all commands."""
    parser = Parser(
        prog="yokebook",
        description="Rules on receptacles and what controls them, from the adopted code as data, and says why.",
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action="store_true", help="print the version and stop")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", title="commands")
    for module in (
        rule, schedule, authority, draw, explain, ask, table, compare, differ, places, check, pin, rerun, serve,
    ):  # fmt: skip
        module.add(commands)
    return parser


def main(argv: Sequence[str] | None = None) -> int:
    """Runs the command that `argv` (without the program's name; default: the process's) asks for.

    Returns the exit status. Data goes to standard output, messages to standard error.
    """
    try:
        status = _run(argv)
        sys.stdout.flush()
        return status
    except Stopped as stopped:
        sys.stdout.flush()
        print(f"yokebook: {stopped}", file=sys.stderr)
        return stopped.status
    except SystemExit as stop:  # argparse: help, or a usage error that it has printed
        return stop.code if isinstance(stop.code, int) else USAGE
    except BrokenPipeError:
        # Keep the interpreter from complaining when it flushes at the end.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return _READER_WENT_AWAY
    except KeyboardInterrupt:
        print("yokebook: stopped", file=sys.stderr)
        return 130


def _run(argv: Sequence[str] | None) -> int:
    parser = build_parser()
    args = parser.parse_args(argv)
    if args.version:
        from yokebook_adapters.version import version

        print(f"yokebook {version()}")
        return 0
    if args.command is None:
        parser.print_help(sys.stderr)
        return USAGE
    status: int = args.run(args)
    return status


if __name__ == "__main__":
    sys.exit(main())

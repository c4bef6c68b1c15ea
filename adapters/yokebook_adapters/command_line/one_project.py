"""What the commands have in common that make one output of one project or schedule."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from typing import TYPE_CHECKING

from yokebook_adapters.command_line.arguments import Parser, UsageFault, add_law, add_topic
from yokebook_adapters.command_line.output import add_output

if TYPE_CHECKING:
    from yokebook.sheet import Sheet
    from yokebook_adapters.command_line.session import Session
    from yokebook_adapters.report import Report


def add_one_project(parser: Parser, formats: Sequence[str]) -> None:
    """Adds the file, or the demo in its stead, how it is read and by which law; and the formats, the default first."""
    help_file = "project (YAML, JSON), schedule (CSV, XLSX), or - for stdin"
    parser.add_argument("file", metavar="FILE", nargs="?", help=help_file)
    parser.add_argument("--demo", action="store_true", help="take the shipped, invented building")
    add_topic(parser)
    parser.add_argument("--mapping", metavar="FILE", help="what the columns of a schedule mean")
    parser.add_argument("--format", choices=formats, default=formats[0], help=f"default: {formats[0]}")
    add_output(parser)
    add_law(parser)


def rule_one_project(args: argparse.Namespace) -> tuple[Session, list[Sheet], Report]:
    """The rulings on the file or the demo. Raises UsageFault for both or neither."""
    from yokebook_adapters.building import make_report
    from yokebook_adapters.command_line.session import Session, demo_file

    if (args.file is None) != args.demo:
        raise UsageFault("give one file: a project or schedule, - for standard input, or --demo")
    file = demo_file() if args.demo else args.file
    session = Session(args)
    sheets, faults = session.sheets(file, args.mapping, [], session.topics(args.topic))
    return session, sheets, make_report(file, sheets, session.rulebook, faults)

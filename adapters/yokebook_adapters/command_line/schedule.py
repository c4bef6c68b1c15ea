"""`yokebook schedule`: the marking schedule of a project, one line for each device, and what to order."""

from __future__ import annotations

import argparse
import sys
from typing import TYPE_CHECKING, Any

from yokebook_adapters.command_line.arguments import Commands, Parser, UsageFault, add_law, add_topic

if TYPE_CHECKING:
    from yokebook_adapters.report import Report

_EPILOG = """examples:
  yokebook schedule project.yaml
  yokebook schedule --demo --format csv > schedule.csv
  yokebook schedule project.yaml --topic protection --topic wiring

In CSV, a cell that a spreadsheet could take for a formula begins with an apostrophe; how many do is said on standard
error. The exit status is that of `yokebook rule` on the same project."""


def add(commands: Commands) -> None:
    """Adds the command."""
    parser: Parser = commands.add_parser(
        "schedule",
        help="the marking schedule: device to buy, tabs, marks, controls, what to order",
        description="One line for each device in walking order: what to buy, which tabs to break, what feeds each "
        "half, the mark, the control and the rating it needs, what not to plug in; then totals to order.",
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("file", metavar="FILE", nargs="?", help="project (YAML, JSON), schedule (CSV), or - for stdin")
    parser.add_argument("--demo", action="store_true", help="take the shipped, invented building")
    add_topic(parser)
    parser.add_argument("--mapping", metavar="FILE", help="what the columns of a CSV schedule mean")
    parser.add_argument("--format", choices=["text", "json", "csv"], default="text", help="default: text")
    add_law(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Prints the schedule and returns the exit status of the rulings in it."""
    from yokebook_adapters.building import make_report
    from yokebook_adapters.command_line.session import Session, demo_file
    from yokebook_adapters.marking_schedule import kinds_to_keep_off, marking_schedule

    if (args.file is None) != args.demo:
        raise UsageFault("give one file: a project or schedule, - for standard input, or --demo")
    file = demo_file() if args.demo else args.file
    session = Session(args)
    sheets, faults = session.sheets(file, args.mapping, [], session.topics(args.topic))
    report = make_report(file, sheets, session.rulebook, faults)
    kept_off = [each for sheet in sheets for each in kinds_to_keep_off(sheet.session.in_force, session.book)]
    keep_off = [each for i, each in enumerate(kept_off) if each not in kept_off[:i]]
    graphs = [sheet.session.graph for sheet in sheets]
    _write(report, marking_schedule(report.rulings, graphs, session.book, keep_off), args.format)
    # A terminal has just shown the text, which lists what was refused; a file that the text goes to has not.
    if args.format != "text" or not sys.stdout.isatty():
        sys.stderr.writelines(f"{fault}\n" for fault in report.refused)
    return report.exit_status()


def _write(report: Report, schedule: dict[str, Any], how: str) -> None:
    from yokebook_adapters.as_json import output_json
    from yokebook_adapters.command_line.terminal import width
    from yokebook_adapters.marking_schedule_csv import as_csv
    from yokebook_adapters.marking_schedule_text import render_schedule

    if how == "json":
        sys.stdout.write(output_json(report, schedule=schedule))
    elif how == "csv":
        text, changed = as_csv(schedule["lines"])
        sys.stdout.write(text)
        if changed:
            sys.stderr.write(f"yokebook: {changed} of the cells begin with an apostrophe, so that no spreadsheet takes "
                             "them for a formula\n")  # fmt: skip
    else:
        sys.stdout.write(render_schedule(report, schedule, width()))

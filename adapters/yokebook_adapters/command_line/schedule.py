"""`yokebook schedule`: the marking schedule of a project, one line for each device, and what to order."""

from __future__ import annotations

import argparse
import sys
from typing import TYPE_CHECKING, Any

from yokebook_adapters.command_line.arguments import Commands, Parser
from yokebook_adapters.command_line.one_project import add_one_project, rule_one_project
from yokebook_adapters.command_line.output import PAGES, into_output, write_page, write_workbook
from yokebook_adapters.command_line.terminal import say_refused, width

if TYPE_CHECKING:
    from yokebook_adapters.report import Report

_EPILOG = """examples:
  yokebook schedule project.yaml
  yokebook schedule --demo --format csv > schedule.csv
  yokebook schedule project.yaml --topic protection --topic wiring
  yokebook schedule project.yaml --format pdf --output schedule.pdf
  yokebook schedule project.yaml --format xlsx --output schedule.xlsx

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
    add_one_project(parser, ["text", "json", "csv", *PAGES, "xlsx"])
    parser.set_defaults(run=into_output(run))


def run(args: argparse.Namespace) -> int:
    """Prints the schedule and returns the exit status of the rulings in it."""
    from yokebook_adapters.marking_schedule import kinds_to_keep_off, marking_schedule

    session, sheets, report = rule_one_project(args)
    kept_off = [each for sheet in sheets for each in kinds_to_keep_off(sheet.session.in_force, session.book)]
    keep_off = [each for i, each in enumerate(kept_off) if each not in kept_off[:i]]
    graphs = [sheet.session.graph for sheet in sheets]
    schedule = marking_schedule(report.rulings, graphs, session.book, keep_off)
    _write(report, schedule, args.format)
    say_refused(report.refused, args.format)
    return report.exit_status()


def _workbook(report: Report, schedule: dict[str, Any]) -> bytes:
    from yokebook_adapters.spreadsheet.marking_schedule import as_xlsx

    return as_xlsx(report, schedule)


def _write(report: Report, schedule: dict[str, Any], how: str) -> None:
    from yokebook_adapters.as_json import output_json
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
    elif how in PAGES:
        from yokebook_adapters.pages.schedule import marking_schedule_page

        write_page(lambda: marking_schedule_page(report, schedule), how)
    elif how == "xlsx":
        write_workbook(lambda: _workbook(report, schedule))
    else:
        sys.stdout.write(render_schedule(report, schedule, width()))

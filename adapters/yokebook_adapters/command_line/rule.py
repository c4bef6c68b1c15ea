"""`yokebook rule`: rules on every device of a project."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING

from yokebook_adapters.command_line import rule_columns
from yokebook_adapters.command_line.arguments import (
    Commands,
    Parser,
    Stopped,
    UsageFault,
    add_law,
    add_topic,
    worst,
)
from yokebook_adapters.command_line.output import PAGES, add_output, into_output, write_page, write_workbook

if TYPE_CHECKING:
    from yokebook.sheet import Sheet
    from yokebook_adapters.command_line.session import Session
    from yokebook_adapters.report import Report

    _Made = tuple[str, list[Sheet], list[str]]  # a file, the sheets made of it, and what was refused

_EPILOG = """examples:
  yokebook rule --demo
  yokebook rule project.yaml
  yokebook rule project.yaml --format sarif > findings.sarif
  yokebook rule project.yaml --format pdf --full --output sheet.pdf
  yokebook rule schedule.csv --mapping mapping.yaml --place demo/tamarisk/brindle-falls --on 2024-10-15
  cat project.json | yokebook rule - --format jsonl
  yokebook rule devices.parquet --question marking.required --edition nfpa-70:2023 --output ruled.parquet"""


def add(commands: Commands) -> None:
    """Adds the command."""
    parser: Parser = commands.add_parser(
        "rule",
        help="rule on every device of a project",
        description="Rules on every device of a project: what is against and what is unsettled first, then counts.",
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument(
        "files", metavar="FILE", nargs="*",
        help="project (YAML, JSON), schedule (CSV, XLSX; with --mapping), or a table with a record in each row; "
        "- for stdin",
    )  # fmt: skip
    parser.add_argument("--demo", action="store_true", help="rule on the shipped, invented building")
    parser.add_argument(
        "--question",
        metavar="QUESTION",
        action="append",
        default=[],
        help="only this question, by id or ruling number (marking.required, R03); may be given several times",
    )
    add_topic(parser)
    parser.add_argument("--mapping", metavar="FILE", help="what the columns of a schedule mean")
    formats = ["text", "json", "jsonl", "sarif", "csv", *PAGES, "xlsx"]
    help_format = "default: text; of a table csv (the default) or jsonl"
    parser.add_argument("--format", choices=formats, help=help_format)
    parser.add_argument("--full", action="store_true", help="html, pdf: whole reasons, and what is settled too")
    add_output(parser)
    parser.add_argument("--sheet", metavar="FILE", help="also file the rulings with all they rest on, for `rerun`")
    parser.add_argument("--all", action="store_true", help="text: list settled rulings too")
    rule_columns.add_options(parser)
    add_law(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Prints the rulings and returns the exit status."""
    if rule_columns.is_table(args):
        return rule_columns.run(args)
    rule_columns.no_options(args)
    args.format = args.format or "text"
    return into_output(_rule)(args)


def _rule(args: argparse.Namespace) -> int:
    from yokebook_adapters.building import make_report
    from yokebook_adapters.command_line.session import Session, demo_file
    from yokebook_adapters.command_line.terminal import say_refused
    from yokebook_adapters.report import exit_status_of

    files = [*args.files, *([demo_file()] if args.demo else [])]
    if not files:
        raise UsageFault("no file given; name a project or schedule, - for standard input, or --demo")
    session = Session(args)
    made, stops = _sheets(session, files, args)
    if args.sheet and made:
        _file_sheet(args.sheet, [sheet for _, sheets, _ in made for sheet in sheets])
    reports = [make_report(file, sheets, session.rulebook, faults) for file, sheets, faults in made]
    if args.format in ("text", "xlsx", *PAGES):
        _look_again(reports)
    if args.format in PAGES and made:
        _write_sheet(reports, made, args)
    elif args.format == "xlsx" and made:
        _write_workbook(reports)
    elif reports:
        _write(reports, args)
    say_refused((fault for report in reports for fault in report.refused), args.format)
    if stops:
        raise worst(stops)
    return exit_status_of(reports)


def _look_again(reports: Sequence[Report]) -> None:
    """Works out what would change each ruling that is against, which the outputs for people say. It takes longer than
    the rulings, so a terminal is shown how far it is; the outputs then find it worked out."""
    from yokebook_adapters.command_line.terminal import Progress

    against = [(report, ruling) for report in reports for ruling in report.rulings if ruling["against"]]
    with Progress("looking for what would change what is against") as progress:
        for number, (report, ruling) in enumerate(against):
            progress.part(0, 1, number, len(against))
            report.would_change(ruling)


def _sheets(session: Session, files: Sequence[str], args: argparse.Namespace) -> tuple[list[_Made], list[Stopped]]:
    """What was made of each file, and why the others could not be ruled on at all."""
    made: list[_Made] = []
    stops: list[Stopped] = []
    topics = session.topics(args.topic)
    for file in files:
        try:
            made.append((file, *session.sheets(file, args.mapping, args.question, topics)))
        except Stopped as stopped:
            stops.append(stopped)
    return made, stops


def _file_sheet(path: str, sheets: list[Sheet]) -> None:
    """Files the one sheet that was made, with when and by which version; `yokebook rerun` rules it again."""
    import json
    from datetime import UTC, datetime
    from pathlib import Path

    from yokebook_adapters.version import version

    if len(sheets) != 1:
        raise UsageFault(f"--sheet files one project, and {len(sheets)} were ruled on")
    now = datetime.now(UTC).isoformat(timespec="seconds")
    filed = sheets[0].filed({"when": now, "version": version()})
    try:
        Path(path).write_text(json.dumps(filed, ensure_ascii=False, indent=1) + "\n", encoding="utf-8")
    except OSError as fault:
        raise UsageFault(f"cannot write `{path}`: {fault.strerror}") from None


def _write_sheet(reports: list[Report], made: Sequence[_Made], args: argparse.Namespace) -> None:
    """Writes the ruling sheet of the one project, rooms with what is given of their walls and places drawn."""
    from yokebook_adapters.drawings.plan import draw_plan
    from yokebook_adapters.drawings.plan_data import plan_of
    from yokebook_adapters.pages.ruling_sheet import ruling_sheet

    if len(reports) != 1:
        raise UsageFault(f"--format {args.format} prints one project, and {len(reports)} were ruled on")
    plans = {}
    for number, sheet in enumerate(made[0][1]):
        for space in sheet.session.graph.things["space"]:
            plan = plan_of(space, reports[0].rulings, sheet.session)
            if plan:
                plans[space.label] = draw_plan(plan, f"plan-{number}-{space.id}").inline()
    write_page(lambda: ruling_sheet(reports[0], full=args.full, plans=plans), args.format)


def _write_workbook(reports: list[Report]) -> None:
    if len(reports) != 1:
        raise UsageFault(f"--format xlsx prints one project, and {len(reports)} were ruled on")

    def workbook() -> bytes:
        from yokebook_adapters.spreadsheet.rulings import as_xlsx

        return as_xlsx(reports[0])

    write_workbook(workbook)


def _write(reports: list[Report], args: argparse.Namespace) -> None:
    from yokebook_adapters import as_json, sarif, text
    from yokebook_adapters.command_line.terminal import width

    if args.format == "json":
        sys.stdout.write(as_json.as_json(reports))
    elif args.format == "jsonl":
        sys.stdout.writelines(as_json.as_json_lines(reports))
    elif args.format == "sarif":
        sys.stdout.write(sarif.as_sarif(reports))
    else:
        pages = (text.render(report, everything=args.all, width=width()) for report in reports)
        sys.stdout.write("\n".join(pages))

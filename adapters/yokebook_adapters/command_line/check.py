"""`yokebook check`: what can be found in a rulebook, or in a draft of a place's file, before anybody is ruled by it."""

from __future__ import annotations

import argparse
import json
import sys
from typing import TYPE_CHECKING

from yokebook_adapters.command_line.arguments import Commands, Parser, UsageFault, add_rulebook
from yokebook_adapters.outcome import REFUSED, UNSETTLED

if TYPE_CHECKING:
    from yokebook.model import Book
    from yokebook.proof.findings import Report


def add(commands: Commands) -> None:
    """Adds the command."""
    parser: Parser = commands.add_parser(
        "check",
        help="prove that tables have no gap and no contradiction, and that amendments still fit",
        description="Analyses every table as it stands in every edition and at every entry of every place: gaps, "
        "rules that contradict each other, rules that never decide, amendments whose base has moved, layers that "
        "relax what they amend, days for which nothing says what governs. Each finding has a record that shows it. "
        "With files, only the places of these files are looked at; a file may be a draft that is not in the "
        "rulebook yet.",
    )
    parser.add_argument("files", metavar="FILE", nargs="*", help="files of places, such as a draft of an amendment")
    parser.add_argument(
        "--place",
        metavar="PLACE",
        action="append",
        default=[],
        help="look at this place only; may be given several times",
    )
    parser.add_argument("--all", action="store_true", help="print notes in full too")
    parser.add_argument("--format", choices=["text", "json", "sarif"], default="text", help="default: text")
    add_rulebook(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Checks and prints. Returns 0 where nothing is wrong, 3 where something is, 4 where something was not decided."""
    from pathlib import Path

    import yokebook
    from yokebook.load.faults import suggest
    from yokebook.proof.checking import load_findings
    from yokebook.proof.findings import Report
    from yokebook_adapters.checked import check
    from yokebook_adapters.command_line.session import must_exist

    if args.rulebook is not None and not Path(args.rulebook).is_dir():
        raise UsageFault(f"no folder `{args.rulebook}`; --rulebook takes a folder with a rulebook in it")
    for file in args.files:
        must_exist(file)
    drafts = [Path(file) for file in args.files]
    try:
        book = yokebook.load(args.rulebook, drafts=drafts).book
    except yokebook.RulebookFaults as faulty:
        return _print(args, Report(tuple(load_findings(faulty.faults))), None)
    for place in args.place:
        if place not in book.places:
            raise UsageFault(f"no place `{place}` in this rulebook{suggest(place, book.places)}")
    return _print(args, check(book, drafts, args.place), book)


def _print(args: argparse.Namespace, report: Report, book: Book | None) -> int:
    from yokebook_adapters.check_sarif import as_sarif
    from yokebook_adapters.check_text import as_text
    from yokebook_adapters.command_line.terminal import width

    if args.format == "json":
        data = {
            "laws": report.laws,
            "tables": report.tables,
            "rules": report.rules,
            "findings": [finding.to_dict() for finding in report.findings],
        }
        sys.stdout.write(json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False) + "\n")
    elif args.format == "sarif":
        sys.stdout.write(as_sarif(report))
    else:
        sys.stdout.write(as_text(report, book, width(), every=args.all))
    if report.of("error"):
        return REFUSED
    return UNSETTLED if report.of("not decided") else 0

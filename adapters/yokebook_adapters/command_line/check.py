"""`yokebook check`: what can be found in a rulebook, or in a draft of a place's file, before anybody is ruled by it."""

from __future__ import annotations

import argparse
import sys
from functools import partial
from typing import TYPE_CHECKING

from yokebook_adapters.command_line.arguments import Commands, Parser, UsageFault, add_rulebook
from yokebook_adapters.outcome import REFUSED, UNSETTLED

if TYPE_CHECKING:
    from collections.abc import Sequence

    from yokebook.model import Book
    from yokebook.proof.findings import Report


_DESCRIPTION = """\
Analyses every table as it stands in every edition and at every entry of every
place: gaps, rules that contradict each other, rules that never decide,
amendments whose base has moved, layers that relax what they amend or that
nothing adopts, days for which nothing says what governs. Findings come with a
record that shows them. With files, only the places of these files are looked
at; a file may be a draft that is not in the rulebook yet."""

_EPILOG = """exit status:
  0  no errors; there may be warnings and notes
  2  wrong usage
  3  errors, or a file that cannot be read as what it is
  4  no errors, but something was not decided: it would take too many steps"""


def add(commands: Commands) -> None:
    """Adds the command."""
    parser: Parser = commands.add_parser(
        "check",
        help="prove that tables have no gap and no contradiction, and that amendments still fit",
        description=_DESCRIPTION,
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
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
    from yokebook_adapters.command_line.terminal import Progress

    if args.rulebook is not None and not Path(args.rulebook).is_dir():
        raise UsageFault(f"no folder `{args.rulebook}`; --rulebook takes a folder with a rulebook in it")
    for file in args.files:
        _must_exist(file, args.rulebook)
    drafts = [Path(file) for file in args.files]
    try:
        book = yokebook.load(args.rulebook, drafts=drafts).book
    except yokebook.RulebookFaults as faulty:
        return _print(args, Report(tuple(load_findings(faulty.faults))), None)
    for place in args.place:
        if place not in book.places:
            hint = suggest(place, book.places) or "; `yokebook places` lists them"
            raise UsageFault(f"no place `{place}` in this rulebook{hint}")
    with Progress("checking", "laws") as progress:
        report = check(book, drafts, args.place, partial(progress.part, 0, 1))
    return _print(args, report, book)


def _must_exist(file: str, rulebook: str | None) -> None:
    """Raises UsageFault where there is no such file; of the name of a place it says which option takes it."""
    from pathlib import Path

    import yokebook
    from yokebook_adapters.command_line.session import must_exist

    if not Path(file).exists() and "/" in file and not file.endswith(".yaml"):
        try:
            places = yokebook.load(rulebook).book.places
        except yokebook.RulebookFaults:
            places = {}
        if file in places:
            raise UsageFault(f"there is no file `{file}`; to look at the place, give `--place {file}`")
    must_exist(file)


def draft_notes(book: Book, files: Sequence[str]) -> list[str]:
    """A sentence for each of these files that is no file of the rulebook: in whose stead it is, or that the rulebook
    does not have its place yet."""
    from pathlib import Path

    given = [Path(file) for file in files]
    said: list[str] = []
    for place in book.places.values():
        own = Path(book.root) / "places" / f"{place.id}.yaml"
        file = Path(place.at.file)
        if file not in given or (own.exists() and own.samefile(file)):
            continue
        if own.exists():
            stead = f"stands in for the rulebook's own file of {place.id}; what it leaves out is gone."
        else:
            stead = f"is of {place.id}, a place that the rulebook does not have yet."
        said.append(f"`{file}` {stead}")
    return said


def _print(args: argparse.Namespace, report: Report, book: Book | None) -> int:
    from yokebook_adapters.as_json import json_text
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
        sys.stdout.write(json_text(data))
    elif args.format == "sarif":
        sys.stdout.write(as_sarif(report))
    else:
        drafts = [] if book is None else draft_notes(book, args.files)
        sys.stdout.write(as_text(report, book, width(), every=args.all, drafts=drafts))
    if report.of("error"):
        return REFUSED
    return UNSETTLED if report.of("not decided") else 0

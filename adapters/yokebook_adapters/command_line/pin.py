"""`yokebook pin`: writes into a place's file the pins of what it amends, and shows each base rule."""

from __future__ import annotations

import argparse
import sys
from typing import TYPE_CHECKING

from yokebook_adapters.command_line.arguments import Commands, Parser, UsageFault, add_rulebook

if TYPE_CHECKING:
    from yokebook_adapters.pinfile import PinReport, PinRow


def add(commands: Commands) -> None:
    """Adds the command."""
    parser: Parser = commands.add_parser(
        "pin",
        help="tie a place's amendments to the rules they amend",
        description="Shows the rule below each amendment of a place's file, writes its pin into the file (comments "
        "kept) and what was pinned into FILE.pins.json beside it. Until an amendment is pinned it is a draft; when "
        "the rule below moves, the pin no longer fits and the place is refused until somebody has looked.",
    )
    parser.add_argument("file", metavar="FILE", help="a place's file, in the places folder of a rulebook")
    add_rulebook(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Pins the file and prints what each amendment stands on."""
    from pathlib import Path

    from yokebook_adapters.command_line.session import must_exist, stopping
    from yokebook_adapters.command_line.terminal import width
    from yokebook_adapters.pinfile import pin_file

    must_exist(args.file)
    if args.rulebook is not None and not Path(args.rulebook).is_dir():
        raise UsageFault(f"no folder `{args.rulebook}`; --rulebook takes a folder with a rulebook in it")
    with stopping():
        report = pin_file(Path(args.file), Path(args.rulebook) if args.rulebook else None)
    sys.stdout.write(_text(report, width()))
    return 0


def _text(report: PinReport, columns: int) -> str:
    from yokebook_adapters.lines import many, wrap

    lines: list[str] = []
    for row in report.rows:
        lines += _row(row, columns)
        effect = report.effects.get(row.at)
        lines += wrap(f"{effect}.", columns, indent=2) if effect else []
    changed = sum(1 for row in report.rows if row.state != "kept")
    if report.written:
        lines += wrap(
            f"{report.path}: {many(changed, 'pin')} written; what they stand on is in {report.record}", columns
        )
    else:
        lines += wrap(f"{report.path}: {many(len(report.rows), 'pin')}, all as they should be", columns)
    return "\n".join(lines) + "\n"


def _row(row: PinRow, columns: int) -> list[str]:
    from yokebook_adapters.lines import wrap

    was = {"kept": "kept", "missing": "new", "stale": f"was {row.found}"}[row.state]
    lines = wrap(f"{row.amendment} {row.op} {row.target}: pin {row.due} ({was})", columns)
    lines += wrap(f"on {row.base}, which says: {row.words}", columns, indent=2)
    for part in row.moved:
        lines += wrap(f"moved: {part.name}", columns, indent=2)
        lines += wrap(f"was: {part.was or 'not there'}", columns, indent=4)
        lines += wrap(f"is: {part.now or 'no longer there'}", columns, indent=4)
    return lines

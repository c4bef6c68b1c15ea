"""`yokebook rerun`: a filed sheet ruled again, on what it was made from and under today's rulebook."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

from yokebook_adapters.command_line.arguments import Commands, Parser, Stopped, add_rulebook
from yokebook_adapters.outcome import REFUSED

if TYPE_CHECKING:
    from yokebook.code import Code
    from yokebook.ruling import Ruling
    from yokebook_adapters.command_line.session import Session

RulingKey = tuple[str, str, str]


def add(commands: Commands) -> None:
    """Adds the command."""
    parser: Parser = commands.add_parser(
        "rerun",
        help="rule a filed sheet again, then and now",
        description="Rules a filed sheet again on the law and facts that it holds itself, which must give what it "
        "says, and then under today's rulebook for the same place and dates, and prints what would come out "
        "otherwise. Sheets are filed by `yokebook rule FILE --sheet SHEET.json`.",
    )
    parser.add_argument("sheet", metavar="SHEET", help="a filed sheet (JSON)")
    add_rulebook(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Prints both comparisons. Returns 3 where the sheet's own basis does not give what the sheet says, else the exit
    status of the rulings of today."""
    from yokebook.sheet import graph_again, rule_again
    from yokebook_adapters.command_line.session import Session
    from yokebook_adapters.command_line.terminal import width
    from yokebook_adapters.lines import many, wrap
    from yokebook_adapters.outcome import exit_status

    sheet = _read(args.sheet)
    try:
        again = [ruling.to_dict() for ruling in rule_again(sheet)]
        graph = graph_again(sheet["basis"]["record"])
    except (ValueError, KeyError, TypeError) as fault:
        raise Stopped(f"{args.sheet}: {fault}") from None
    filed = sheet["rulings"]
    lines = wrap(f"{args.sheet}: {many(len(filed), 'ruling')}, {_about(sheet['basis'])}", width())
    own = differences(filed, again)
    lines += _told("On its own law and facts", own, filed, width())
    code = _law_today(Session(args), sheet["basis"])
    today = [r.to_dict() for r in _rule_today(code, graph, filed)]
    which = f"Under the rulebook in {args.rulebook}" if args.rulebook else "Under today's rulebook"
    lines += _told(which, differences(filed, today), filed, width())
    sys.stdout.write("\n".join(lines) + "\n")
    return REFUSED if own else exit_status(today)


def _read(file: str) -> dict[str, Any]:
    from pathlib import Path

    from yokebook_adapters.command_line.session import must_exist

    must_exist(file)
    try:
        sheet = json.loads(Path(file).read_text(encoding="utf-8"))
    except (UnicodeDecodeError, json.JSONDecodeError) as fault:
        raise Stopped(f"{file}: no JSON text: {fault}") from None
    if not isinstance(sheet, dict):
        raise Stopped(f"{file}: no filed sheet, which is a JSON object")
    return sheet


def _about(basis: Mapping[str, Any]) -> str:
    dates = [f"{event} {day}" for event, day in basis["dates"].items()] + ([basis["on"]] if basis["on"] else [])
    return ", ".join([basis["place"] or "a bare edition", *dates])


def _law_today(session: Session, basis: Mapping[str, Any]) -> Code:
    from yokebook.canonical import decode
    from yokebook_adapters.command_line.session import stopping

    with stopping():
        if basis["place"]:
            return session.rulebook.in_force(basis["place"], basis["dates"], basis["on"], basis["choices"])
        resolved = decode(basis["in_force"][0]["candidates"][0]["resolved"])
        return session.rulebook.edition(resolved.document.id, resolved.edition)


def _rule_today(code: Code, graph: Any, filed: Iterable[Mapping[str, Any]]) -> list[Ruling]:
    """Today's ruling for each filed one whose question a document in force still answers for its subject."""
    rulings = []
    for then in filed:
        kind = then["document"]["kind"] if then["document"] else None
        if then["question"] in code.book.questions and kind in code.kinds_for(then["question"]):
            rulings.append(code.rule(then["question"], graph, kind, then["subject"]["id"]))
    return rulings


def differences(
    filed: Iterable[Mapping[str, Any]], now: Iterable[Mapping[str, Any]]
) -> list[tuple[RulingKey, str, str]]:
    """(question, kind of document, subject) with what the sheet says and what comes out now, where these differ in
    anything, their reasons included."""
    by_key = {_key(ruling): ruling for ruling in now}
    changed = []
    for then in filed:
        ruling = by_key.get(_key(then))
        if ruling is None:
            changed.append((_key(then), _word(then), "no longer asked"))
        elif json.loads(json.dumps(ruling)) != json.loads(json.dumps(then)):
            same_word = _word(then) == _word(ruling)
            changed.append((_key(then), _word(then), "the same, for other reasons" if same_word else _word(ruling)))
    return changed


def _key(ruling: Mapping[str, Any]) -> RulingKey:
    document = ruling["document"]
    return ruling["question"], document["kind"] if document else "", ruling["subject"]["id"]


def _word(ruling: Mapping[str, Any]) -> str:
    held = [f"also held {' or '.join(h['outcomes'])}" for h in ruling["also_held"]]
    return "; ".join([ruling["word"], *held])


def _told(
    lead: str, changed: list[tuple[RulingKey, str, str]], filed: list[Mapping[str, Any]], columns: int
) -> list[str]:
    from yokebook_adapters.lines import many, wrap

    if not changed:
        return wrap(f"{lead}: every ruling comes out as filed.", columns)
    lines = wrap(f"{lead}: {len(changed)} of {many(len(filed), 'ruling')} otherwise:", columns)
    for (question, kind, subject), then, now in changed:
        lines += wrap(f"{subject}, {question} ({kind}): {then} -> {now}", columns, indent=2)
    return lines

"""`yokebook compare`: what changes from one law to another, and for which devices of one's own projects."""

from __future__ import annotations

import argparse
import sys
from dataclasses import dataclass, field
from functools import partial
from typing import TYPE_CHECKING

from yokebook_adapters.command_line.arguments import Commands, Parser, Stopped, UsageFault, add_rulebook, iso_date
from yokebook_adapters.command_line.output import PAGES, add_output, into_output, write_page

if TYPE_CHECKING:
    from collections.abc import Sequence

    from yokebook.code import Code
    from yokebook_adapters.command_line.session import Session
    from yokebook_adapters.compare_project_text import CompareProject

_DESCRIPTION = """\
Compares two laws: every question that some record is ruled otherwise on, where,
by which rules, with a record that was ruled under both; and, of the projects
given, the devices whose ruling changes."""

_EPILOG = """A and B are each one of
  DOCUMENT:EDITION   a bare edition, such as nfpa-70:2017
  PLACE@DATE         what is in force there, every event on that day, such as
                     demo/tamarisk@2024-10-01
  FILE.yaml@DATE     the place of a draft file, in the stead of the whole of the
                     rulebook's own file; its layers need no pins
In the place of DATE there may be EVENT=DATE,EVENT=DATE, and CHOICE=ALTERNATIVE
where a place leaves a choice.

examples:
  yokebook compare nfpa-70:2014 nfpa-70:2017
  yokebook compare demo/tamarisk@2024-06-30 demo/tamarisk@2024-07-01
  yokebook compare nfpa-70:2023 "demo/tamarisk@permit application=2024-10-15" \\
      project.yaml
  yokebook compare nfpa-70:2020 nfpa-70:2023 --format pdf --output changes.pdf

exit status:
  0  compared, whatever changes
  2  wrong usage
  3  a project was refused, everything else is printed; or the rulebook or the
     draft has a fault
  4  a table would take too many cases to compare; or nothing was compared,
     because no kind of document is in force on both sides"""

_ALLOWED = (
    "allowed: DOCUMENT:EDITION such as nfpa-70:2017, PLACE@DATE such as demo/tamarisk@2024-10-01, or FILE.yaml@DATE"
)


def add(commands: Commands) -> None:
    """Adds the command."""
    parser: Parser = commands.add_parser(
        "compare",
        help="what changes from one edition, date, place or draft to another",
        description=_DESCRIPTION,
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("was", metavar="A", help="the old law")
    parser.add_argument("now", metavar="B", help="the new law")
    parser.add_argument(
        "projects",
        metavar="PROJECT",
        nargs="*",
        default=[],  # else the message for a missing B asks for one too
        help="project (YAML, JSON), or - for stdin; its own place is left out",
    )
    parser.add_argument(
        "--question",
        metavar="QUESTION",
        action="append",
        default=[],
        help="only this question, by id or ruling number (marking.required, R03); may be given several times",
    )
    parser.add_argument("--document", metavar="DOCUMENT", help="only this document or kind of document")
    parser.add_argument("--format", choices=["text", "json", *PAGES], default="text", help="default: text")
    parser.add_argument(
        "--all", action="store_true", help="text, html, pdf: every region, every device, what stays the same"
    )
    add_output(parser)
    add_rulebook(parser)
    parser.set_defaults(run=into_output(run))


@dataclass(frozen=True)
class Side:
    """One law as it was asked for: a bare edition (`name` the document), a place, or the file of a draft."""

    text: str
    name: str
    edition: str | None = None
    draft: bool = False
    on: str | None = None
    dates: dict[str, str] = field(default_factory=dict)
    choices: dict[str, str] = field(default_factory=dict)


def run(args: argparse.Namespace) -> int:
    """Prints the comparison and returns the exit status."""
    import yokebook
    from yokebook_adapters.as_json import json_text
    from yokebook_adapters.command_line.check import draft_notes
    from yokebook_adapters.command_line.session import STDIN, Session, must_exist
    from yokebook_adapters.command_line.terminal import Progress, say_refused, width
    from yokebook_adapters.compare_text import Compared, as_data, render
    from yokebook_adapters.outcome import REFUSED, SETTLED, UNSETTLED

    sides = side(args.was), side(args.now)
    for file in args.projects:
        if file != STDIN:
            must_exist(file)
    session = Session(args)
    questions = [q.id for name in args.question for q in session.question(name)] or None
    was, now = (_law(session, one, args.rulebook) for one in sides)
    try:
        with Progress("comparing", "steps") as progress:
            changes = yokebook.compare(was, now, questions, args.document, progress=partial(progress.part, 0, 1))
    except ValueError as fault:
        raise UsageFault(str(fault)) from None
    projects, refused = _projects(session, args.projects, was, now, questions, args.document)
    drafts = {one.name: code for one, code in zip(sides, (was, now), strict=True) if code.book is not session.book}
    notes = [note for name, code in drafts.items() for note in draft_notes(code.book, [name])]
    compared = Compared(sides[0].text, sides[1].text, changes, projects, refused, notes)
    told = not changes.not_decided and any(each.compared for each in changes.documents)
    status = REFUSED if refused else SETTLED if told else UNSETTLED
    if args.format == "json":
        data = as_data(compared, session.book, status)
        sys.stdout.write(json_text(data))
    elif args.format in PAGES:
        from yokebook_adapters.pages.comparison import comparison_page

        write_page(lambda: comparison_page(compared, session.book, everything=args.all), args.format)
    else:
        sys.stdout.write(render(compared, session.book, everything=args.all, width=width()))
    say_refused(refused, args.format)
    return status


# ---- the two laws ---------------------------------------------------------------------------------------------------


def side(text: str) -> Side:
    """What one of the two arguments asks for. Raises UsageFault for what it cannot be."""
    name, at, when = text.rpartition("@")
    if not at:
        document, colon, edition = text.partition(":")
        if not colon and ("/" in text or _is_file_name(text)):
            raise UsageFault(f"`{text}` has no date; write `{text}@DATE` with the day to compare for")
        if not (colon and document and edition):
            raise UsageFault(f"`{text}` names no law; {_ALLOWED}")
        return Side(text, document, edition)
    if not (name and when):
        raise UsageFault(f"`{text}` names no law; {_ALLOWED}")
    on, dates, choices = _when(text, when)
    return Side(text, name, None, _is_file_name(name), on, dates, choices)


def _is_file_name(name: str) -> bool:
    return name.lower().endswith((".yaml", ".yml"))


def _when(text: str, when: str) -> tuple[str | None, dict[str, str], dict[str, str]]:
    """The day for every event, the dates of single events, and the choices."""
    on: str | None = None
    dates: dict[str, str] = {}
    choices: dict[str, str] = {}
    for part in when.split(","):
        key, equals, value = (piece.strip() for piece in part.partition("="))
        if not equals:
            if on is not None:
                raise UsageFault(f"`{text}` has two dates for every event; name the event, as EVENT=DATE")
            on = _date(text, key)
        elif key in dates or key in choices:
            raise UsageFault(f"`{text}` gives `{key}` twice")
        elif value[:1].isdigit():
            dates[key] = _date(text, value)
        else:
            choices[key] = value
    return on, dates, choices


def _date(text: str, day: str) -> str:
    try:
        return iso_date(day)
    except argparse.ArgumentTypeError as fault:
        raise UsageFault(f"{text}: {fault}") from None


def _law(session: Session, one: Side, folder: str | None) -> Code:
    """The law that a side asks for. Raises UsageFault for what the rulebook does not have, Stopped for its faults."""
    from pathlib import Path

    import yokebook
    from yokebook.load.faults import suggest
    from yokebook.model import At
    from yokebook_adapters.command_line.session import must_exist

    try:
        if one.edition is not None:
            return session.rulebook.edition(one.name, one.edition)
        if one.name in session.book.places:
            return session.rulebook.in_force(one.name, one.dates, one.on, one.choices)
        if not one.draft and not Path(one.name).exists():
            hint = suggest(one.name, session.book.places) or "; `yokebook places` lists them"
            raise UsageFault(f"{one.text}: no place `{one.name}` in this rulebook{hint}")
        must_exist(one.name)
        book = yokebook.load(folder, drafts=[one.name])
        place = next(place.id for place in book.book.places.values() if _is(place.at.file, one.name))
        return book.in_force(place, one.dates, one.on, one.choices, drafts=True)
    except yokebook.RulebookFaults as faulty:
        text = "\n".join(str(fault) for fault in faulty.faults)
        if any(isinstance(fault.at, At) and _is(fault.at.file, one.name) for fault in faulty.faults):
            raise Stopped(f"`{one.name}` cannot be used as the draft of a place:\n{text}") from None
        if any(isinstance(fault.at, At) for fault in faulty.faults):
            raise Stopped(f"the rulebook cannot be used:\n{text}") from None
        raise UsageFault("\n".join(f"{one.text}: {fault.message}" for fault in faulty.faults)) from None


def _is(file: str, given: str) -> bool:
    from pathlib import Path

    return Path(file) == Path(given)


# ---- projects -------------------------------------------------------------------------------------------------------


def _projects(
    session: Session,
    files: Sequence[str],
    was: Code,
    now: Code,
    questions: list[str] | None,
    document: str | None,
) -> tuple[list[CompareProject], list[str]]:
    """The projects ruled under both laws, and the faults of those that were refused."""
    import yokebook
    from yokebook.proof.comparing_projects import compare_project
    from yokebook_adapters.command_line.session import STDIN
    from yokebook_adapters.compare_project_text import CompareProject

    done: list[CompareProject] = []
    refused: list[str] = []
    for file in files:
        try:
            graph = session.project(file)
            name = graph.project.text.get("project.name", "")
            done.append(CompareProject(file, name, compare_project(was, now, graph, questions, document)))
        except yokebook.InputFaults as faulty:
            here = f"{STDIN}:"
            told = (str(fault) for fault in faulty.faults)
            refused += [f"standard input:{f.removeprefix(here)}" if f.startswith(here) else f for f in told]
    return done, refused

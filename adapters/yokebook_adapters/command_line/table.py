"""`yokebook table`: the resolved table of one question, as it stands for a place and day or in a bare edition."""

from __future__ import annotations

import argparse
import sys
from typing import TYPE_CHECKING

from yokebook_adapters.command_line.arguments import Commands, Parser, Stopped, UsageFault, add_law

if TYPE_CHECKING:
    from yokebook_adapters.command_line.session import Session


def add(commands: Commands) -> None:
    """Adds the command."""
    parser: Parser = commands.add_parser(
        "table",
        help="the rules that answer a question, put together",
        description="Prints the table that answers a question: every rule with what it wants, its section, who read "
        "it, and how edition and amendments made it what it is.",
    )
    parser.add_argument("question", metavar="QUESTION", help="the question, by id or ruling number")
    parser.add_argument("--document", metavar="DOCUMENT", help="which document, where several answer")
    parser.add_argument(
        "--format",
        choices=["text", "md", "dmn"],
        default="text",
        help="text, Markdown, or OMG DMN 1.5 (one table; refused where its rules are in conflict); default: text",
    )
    add_law(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Prints the table of every document in force that answers (or of the one named)."""
    from yokebook_adapters.command_line.session import Session
    from yokebook_adapters.command_line.terminal import width
    from yokebook_adapters.lines import caution_lines
    from yokebook_adapters.table_text import as_markdown, as_text

    session = Session(args)
    code = session.code()
    if args.format == "dmn":
        return _dmn(session, args)
    pages = []
    for question in session.question(args.question):
        for kind in session.kinds(code, question.id, args.document):
            try:
                _, law = code.table(question.id, kind)
            except ValueError as fault:
                raise UsageFault(str(fault)) from None
            if args.format == "md":
                pages.append(as_markdown(law.resolved, question.id, session.book))
            else:
                pages.append(as_text(law.resolved, question.id, session.book, width()))
    if not pages:
        raise UsageFault(f"no document in force answers `{args.question}`")
    if args.format == "md":
        pages.append("## Cautions\n\n" + "".join(f"- {caution}\n" for caution in session.book.cautions))
    else:
        pages.append("".join(f"{line}\n" for line in caution_lines(session.book.cautions, width())))
    sys.stdout.write("\n".join(pages))
    return 0


def _dmn(session: Session, args: argparse.Namespace) -> int:
    """Prints one table as DMN. Raises Stopped where it has no faithful form, UsageFault where several answer."""
    from yokebook.proof.checking import conflicts_of
    from yokebook_adapters.dmn import CannotExport, as_dmn

    code = session.code()
    found = [(q.id, kind) for q in session.question(args.question) for kind in session.kinds(code, q.id, args.document)]
    if len(found) != 1:
        several = ", ".join(f"{question} of the {kind} document" for question, kind in found) or "none"
        raise UsageFault(f"DMN holds one table a file; `{args.question}` means {several}; name one, with --document")
    question, kind = found[0]
    try:
        _, law = code.table(question, kind)
    except ValueError as fault:
        raise UsageFault(str(fault)) from None
    try:
        text = as_dmn(law, question, session.book, conflicts=conflicts_of(code, question, kind))
    except CannotExport as refused:
        raise Stopped(str(refused)) from None
    sys.stdout.write(text)
    return 0

"""`yokebook table`: the resolved table of one question, as it stands for a place and day or in a bare edition."""

from __future__ import annotations

import argparse
import sys
from typing import TYPE_CHECKING

from yokebook_adapters.command_line.arguments import Commands, Parser, Stopped, UsageFault, add_law
from yokebook_adapters.command_line.output import PAGES, add_output, into_output, write_page, write_workbook

if TYPE_CHECKING:
    from yokebook.code import Code
    from yokebook.law import Law
    from yokebook.model import Book, Resolved
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
        choices=["text", "md", "dmn", "svg", *PAGES, "xlsx"],
        default="text",
        help="text, Markdown, a page, a picture (one table), a workbook, or OMG DMN 1.5 (one table; refused where its "
        "rules are in conflict); default: text",
    )
    add_output(parser)
    add_law(parser)
    parser.set_defaults(run=into_output(run))


def run(args: argparse.Namespace) -> int:
    """Prints the table of every document in force that answers (or of the one named)."""
    from yokebook_adapters.command_line.session import Session
    from yokebook_adapters.command_line.terminal import width
    from yokebook_adapters.lines import caution_lines
    from yokebook_adapters.table_text import as_markdown, as_text

    session = Session(args)
    code = session.code()
    if args.format == "dmn":
        return _dmn(session, code, args)
    if args.format == "svg":
        return _picture(session, code, args)
    tables: list[tuple[Resolved, str]] = []
    for asked in session.question(args.question):
        for kind in session.kinds(code, asked.id, args.document):
            try:
                _, law = code.table(asked.id, kind)
            except ValueError as fault:
                raise UsageFault(str(fault)) from None
            tables.append((law.resolved, asked.id))
    if not tables:
        raise UsageFault(f"no document in force answers `{args.question}`")
    if args.format in PAGES:
        from yokebook_adapters.pages.law import tables_page

        write_page(lambda: tables_page(tables, session.book), args.format)
        return 0
    if args.format == "xlsx":
        write_workbook(lambda: _workbook(tables, session.book))
        return 0
    if args.format == "md":
        pages = [as_markdown(resolved, question, session.book) for resolved, question in tables]
        pages.append("## Cautions\n\n" + "".join(f"- {caution}\n" for caution in session.book.cautions))
    else:
        pages = [as_text(resolved, question, session.book, width()) for resolved, question in tables]
        pages.append("".join(f"{line}\n" for line in caution_lines(session.book.cautions, width())))
    sys.stdout.write("\n".join(pages))
    return 0


def _one_table(session: Session, code: Code, args: argparse.Namespace, what: str) -> tuple[str, str, Law]:
    """The question, kind of document and law of the one table asked for. Raises UsageFault where several answer."""
    found = [(q.id, kind) for q in session.question(args.question) for kind in session.kinds(code, q.id, args.document)]
    if len(found) != 1:
        several = ", ".join(f"{question} of the {kind} document" for question, kind in found) or "none"
        raise UsageFault(f"{what} one table a file; `{args.question}` means {several}; name one, with --document")
    question, kind = found[0]
    try:
        return question, kind, code.table(question, kind)[1]
    except ValueError as fault:
        raise UsageFault(str(fault)) from None


def _picture(session: Session, code: Code, args: argparse.Namespace) -> int:
    """Prints one table as a picture."""
    from yokebook_adapters.drawings.table_picture import draw_table, picture_of_law

    question, _, law = _one_table(session, code, args, "SVG shows")
    sys.stdout.write(draw_table(picture_of_law(law.resolved, question, session.book), question).document())
    return 0


def _workbook(tables: list[tuple[Resolved, str]], book: Book) -> bytes:
    from yokebook_adapters.spreadsheet.tables import as_xlsx

    return as_xlsx(tables, book)


def _dmn(session: Session, code: Code, args: argparse.Namespace) -> int:
    """Prints one table as DMN. Raises Stopped where it has no faithful form, UsageFault where several answer."""
    from yokebook.proof.checking import conflicts_of
    from yokebook_adapters.dmn import CannotExport, as_dmn

    question, kind, law = _one_table(session, code, args, "DMN holds")
    try:
        text = as_dmn(law, question, session.book, conflicts=conflicts_of(code, question, kind))
    except CannotExport as refused:
        raise Stopped(str(refused)) from None
    sys.stdout.write(text)
    return 0

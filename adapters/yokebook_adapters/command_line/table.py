"""`yokebook table`: the resolved table of one question, as it stands for a place and day or in a bare edition."""

from __future__ import annotations

import argparse
import sys

from yokebook_adapters.command_line.arguments import Commands, Parser, UsageFault, add_law


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
    parser.add_argument("--format", choices=["text", "md"], default="text", help="text or Markdown; default: text")
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

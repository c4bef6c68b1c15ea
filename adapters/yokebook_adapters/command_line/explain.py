"""`yokebook explain`: one device and one question, with every rule tried."""

from __future__ import annotations

import argparse
import sys
from typing import TYPE_CHECKING, Any

from yokebook_adapters.command_line import rule_columns
from yokebook_adapters.command_line.arguments import Commands, Parser, Stopped, UsageFault, add_law
from yokebook_adapters.command_line.output import PAGES, add_output, into_output, write_page

if TYPE_CHECKING:
    from yokebook_adapters.command_line.session import Session
    from yokebook_adapters.report import Report


def add(commands: Commands) -> None:
    """Adds the command."""
    parser: Parser = commands.add_parser(
        "explain",
        help="the whole trace of one device and question",
        description="Rules on one question for one thing of a project and shows every rule tried, cell by cell, the "
        "facts that are enough, and what would change the outcome.",
    )
    parser.add_argument("file", metavar="FILE", help="project (YAML or JSON), - for standard input, or a table")
    parser.add_argument(
        "subject", metavar="SUBJECT", help="the thing, by its path: living/R1/upper, S1, LP-1/3; of a table the row's number"
    )
    parser.add_argument("question", metavar="QUESTION", help="the question, by id or ruling number")
    parser.add_argument("--format", choices=["text", "json", "svg", *PAGES], default="text", help="default: text")
    add_output(parser)
    add_law(parser)
    parser.set_defaults(run=into_output(run))


def run(args: argparse.Namespace) -> int:
    """Prints the explanation and returns the exit status of the rulings in it."""
    from yokebook_adapters.as_json import as_json
    from yokebook_adapters.building import names
    from yokebook_adapters.command_line.session import Session
    from yokebook_adapters.command_line.terminal import width
    from yokebook_adapters.explain_text import render_explanation
    from yokebook_adapters.report import Report

    session = Session(args)
    if rule_columns.names_a_table(args.file):
        rulings = [rule_columns.explained(args, session)]
    else:
        rulings = _of_project(args, session)
    report = Report(args.file, rulings=rulings, **names(session.book))
    if args.format == "svg":
        _picture(report, session)
    elif args.format in PAGES:
        from yokebook_adapters.pages.law import trace_page

        write_page(lambda: trace_page(report, session.book), args.format)
    else:
        sys.stdout.write(render_explanation(report, width()) if args.format == "text" else as_json([report]))
    return report.exit_status()


def _of_project(args: argparse.Namespace, session: Session) -> list[dict[str, Any]]:
    """The explanations for the one thing of a project, one of each document in force that answers."""
    import yokebook
    from yokebook_adapters.building import placed

    try:
        graph = session.project(args.file)
    except yokebook.InputFaults as refused:
        raise Stopped(f"the project was refused:\n{refused}") from None
    code = session.code(graph.place, graph.dates, graph.choices)
    try:
        thing = graph.find(args.subject)
    except KeyError as unknown:
        raise UsageFault(str(unknown.args[0])) from None
    asked = [question for question in session.question(args.question) if question.per == thing.kind]
    try:
        rulings = [
            placed(code.explain(question.id, graph, kind, thing.id), graph)
            for question in asked
            for kind in code.kinds_for(question.id)
        ]
    except yokebook.InputFaults as refused:  # what is stated and what comes out differ
        raise Stopped(f"the project was refused:\n{refused}") from None
    if not rulings:
        raise UsageFault(f"no document in force answers `{args.question}` for a {thing.kind}, which `{thing.id}` is")
    return rulings


def _picture(report: Report, session: Session) -> None:
    """Prints the table with the row that decided lit. Raises UsageFault where several documents answer."""
    from yokebook_adapters.drawings.table_picture import draw_table, picture_of_trace

    if len(report.rulings) != 1:
        raise UsageFault(f"SVG shows one table a file, and {len(report.rulings)} documents answer; take --format html")
    sys.stdout.write(draw_table(picture_of_trace(report.rulings[0], session.book)).document())

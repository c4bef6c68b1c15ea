"""`yokebook authority`: what to ask the authority about a project, the answers that matter most first."""

from __future__ import annotations

import argparse
import sys

from yokebook_adapters.command_line.arguments import Commands, Parser
from yokebook_adapters.command_line.one_project import add_one_project, rule_one_project
from yokebook_adapters.command_line.output import PAGES, into_output, write_page
from yokebook_adapters.command_line.terminal import say_refused, width

_EPILOG = """examples:
  yokebook authority project.yaml
  yokebook authority --demo --format json
  yokebook authority project.yaml --format pdf --output questions.pdf

The exit status is that of `yokebook rule` on the same project."""


def add(commands: Commands) -> None:
    """Adds the command."""
    parser: Parser = commands.add_parser(
        "authority",
        help="what to ask the authority: readings that matter, law not entered, what only it may allow",
        description="The questions that only the authority can answer: each clause that people read in more than one "
        "way and that matters here, with what each answer would give for how many devices, who holds which, and what "
        "holds until there is an answer; law that nobody entered; and what only the authority may allow.",
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    add_one_project(parser, ["text", "json", *PAGES])
    parser.set_defaults(run=into_output(run))


def run(args: argparse.Namespace) -> int:
    """Prints the questions and returns the exit status of the rulings behind them."""
    from yokebook_adapters.as_json import output_json
    from yokebook_adapters.authority import questions_for_authority
    from yokebook_adapters.authority_text import render_questions

    session, sheets, report = rule_one_project(args)
    graphs = [sheet.session.graph for sheet in sheets]
    questions = questions_for_authority(report.rulings, graphs, session.book.readings, session.book.questions)
    if args.format == "json":
        sys.stdout.write(output_json(report, questions=questions))
    elif args.format in PAGES:
        from yokebook_adapters.pages.questions import questions_page

        write_page(lambda: questions_page(report, questions), args.format)
    else:
        sys.stdout.write(render_questions(report, questions, width()))
    say_refused(report.refused, args.format)
    return report.exit_status()

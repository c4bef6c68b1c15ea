"""`yokebook authority`: what to ask the authority about a project, the answers that matter most first."""

from __future__ import annotations

import argparse
import sys

from yokebook_adapters.command_line.arguments import Commands, Parser, UsageFault, add_law, add_topic

_EPILOG = """examples:
  yokebook authority project.yaml
  yokebook authority --demo --format json

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
    parser.add_argument("file", metavar="FILE", nargs="?", help="project (YAML, JSON), schedule (CSV), or - for stdin")
    parser.add_argument("--demo", action="store_true", help="take the shipped, invented building")
    add_topic(parser)
    parser.add_argument("--mapping", metavar="FILE", help="what the columns of a CSV schedule mean")
    parser.add_argument("--format", choices=["text", "json"], default="text", help="default: text")
    add_law(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Prints the questions and returns the exit status of the rulings behind them."""
    from yokebook_adapters.as_json import output_json
    from yokebook_adapters.authority import questions_for_authority
    from yokebook_adapters.authority_text import render_questions
    from yokebook_adapters.building import make_report
    from yokebook_adapters.command_line.session import Session, demo_file
    from yokebook_adapters.command_line.terminal import width

    if (args.file is None) != args.demo:
        raise UsageFault("give one file: a project or schedule, - for standard input, or --demo")
    file = demo_file() if args.demo else args.file
    session = Session(args)
    sheets, faults = session.sheets(file, args.mapping, [], session.topics(args.topic))
    report = make_report(file, sheets, session.rulebook, faults)
    graphs = [sheet.session.graph for sheet in sheets]
    questions = questions_for_authority(report.rulings, graphs, session.book.readings, session.book.questions)
    if args.format == "json":
        sys.stdout.write(output_json(report, questions=questions))
    else:
        sys.stdout.write(render_questions(report, questions, width()))
    # A terminal has just shown the text, which lists what was refused; a file that the text goes to has not.
    if args.format != "text" or not sys.stdout.isatty():
        sys.stderr.writelines(f"{fault}\n" for fault in report.refused)
    return report.exit_status()

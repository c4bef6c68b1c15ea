"""`yokebook differ`: where what was built differs from what was drawn."""

from __future__ import annotations

import argparse
import sys
from typing import TYPE_CHECKING

from yokebook_adapters.command_line.arguments import Commands, Parser, Stopped, UsageFault, add_law, add_topic

if TYPE_CHECKING:
    from collections.abc import Sequence

    from yokebook.graph import Graph
    from yokebook.sheet import Sheet
    from yokebook_adapters.command_line.session import Session

_EPILOG = """examples:
  yokebook differ plan.yaml field.yaml
  yokebook differ plan.yaml - --format json < field.json

exit status:
  0  no difference, neither in what is given nor in what is ruled of it
  1  something differs
  2  wrong usage
  3  a record was refused, or the rulebook has a fault"""


def add(commands: Commands) -> None:
    """Adds the command."""
    parser: Parser = commands.add_parser(
        "differ",
        help="where what was built differs from what was drawn",
        description="Compares two records of one project, matched by path: facts, references and lists that differ, "
        "things that only one has, and rulings whose word differs. Both are ruled on by the law of the plan, or that "
        "of the options.",
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("plan", metavar="PLAN", help="the project as drawn (YAML, JSON), or - for standard input")
    parser.add_argument("field", metavar="FIELD", help="the project as found, or - for standard input")
    add_topic(parser)
    parser.add_argument("--format", choices=["text", "json"], default="text", help="default: text")
    add_law(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Prints the differences; returns 0 where there are none and 1 where there are."""
    from yokebook_adapters.as_json import output_json
    from yokebook_adapters.building import make_report
    from yokebook_adapters.command_line.session import STDIN, Session
    from yokebook_adapters.command_line.terminal import width
    from yokebook_adapters.field_differences import differences
    from yokebook_adapters.field_differences_text import render_differences

    if args.plan == args.field == STDIN:
        raise UsageFault("only one of the two can come from standard input")
    session = Session(args)
    topics = session.topics(args.topic)
    graphs = _graphs(session, [args.plan, args.field])
    plan, field = _sheets(session, [args.plan, args.field], graphs, topics)
    report = make_report(args.plan, [plan], session.rulebook)
    there = make_report(args.field, [field], session.rulebook)
    found = differences(graphs[0], graphs[1], session.book, report.rulings, there.rulings)
    status = 1 if found["count"] else 0
    if args.format == "json":
        sys.stdout.write(output_json(report, exit_status=status, field=args.field, differences=found))
    else:
        sys.stdout.write(render_differences(report, args.field, found, width()))
    return status


def _graphs(session: Session, files: Sequence[str]) -> list[Graph]:
    """Both records. Raises UsageFault for a file that is none, Stopped with the faults of both where one is refused."""
    import yokebook

    graphs: list[Graph] = []
    faults: list[str] = []
    for file in files:
        if file.lower().endswith(".csv"):
            raise UsageFault(f"`{file}` is a schedule; differ takes two projects (YAML or JSON)")
        try:
            graphs.append(session.project(file))
        except yokebook.InputFaults as refused:
            faults += [str(fault) for fault in refused.faults]
    if faults:
        raise _refused(faults)
    return graphs


def _sheets(session: Session, files: Sequence[str], graphs: Sequence[Graph], topics: Sequence[str]) -> list[Sheet]:
    """Both ruled on by the plan's law. Raises Stopped where what one states and what comes out differ."""
    import yokebook

    plan = graphs[0]
    code = session.code(plan.place, plan.dates, plan.choices)
    sheets: list[Sheet] = []
    faults: list[str] = []
    for file, graph in zip(files, graphs, strict=True):
        try:
            sheets.append(code.rule_project(graph, None, topics))
        except yokebook.InputFaults as refused:
            faults += [f"{file}: {fault}" if file not in str(fault) else str(fault) for fault in refused.faults]
    if faults:
        raise _refused(faults)
    return sheets


def _refused(faults: Sequence[str]) -> Stopped:
    return Stopped("nothing was compared, because a record was refused:\n" + "\n".join(faults))

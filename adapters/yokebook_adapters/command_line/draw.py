"""`yokebook draw`: a drawing of one device's face, or of one room with what its receptacles reach."""

from __future__ import annotations

import argparse
import sys
from typing import TYPE_CHECKING

from yokebook_adapters.command_line.arguments import Commands, Parser, Stopped, UsageFault, add_law
from yokebook_adapters.command_line.output import add_output, into_output

if TYPE_CHECKING:
    from yokebook.code import Code
    from yokebook.graph import Thing
    from yokebook.session import Session
    from yokebook_adapters.drawings.svg import Picture

_EPILOG = """examples:
  yokebook draw project.yaml living/R1 --output face.svg
  yokebook draw project.yaml living > plan.svg

The drawing is SVG, with a title and a description in words. A wall is drawn where its length is given, a receptacle
where its place along a wall or on the plan is."""


def add(commands: Commands) -> None:
    """Adds the command."""
    parser: Parser = commands.add_parser(
        "draw",
        help="a drawing of a device's face, or of a room with what its receptacles reach",
        description="Draws the face of one device, with the halves that are always on, those that are controlled, "
        "those to be marked and where the mark sits; or one room, with its walls, what each receptacle reaches, and "
        "how far the nearest controlled one is.",
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("file", metavar="FILE", help="project (YAML or JSON), or - for standard input")
    parser.add_argument("subject", metavar="SUBJECT", help="the device or room, by its path: living/R1, living")
    add_output(parser)
    add_law(parser)
    parser.set_defaults(run=into_output(run))


def run(args: argparse.Namespace) -> int:
    """Prints the drawing; the exit status is 0 whatever is ruled."""
    import yokebook
    from yokebook_adapters.command_line.session import Session

    session = Session(args)
    try:
        graph = session.project(args.file)
        try:
            thing = _drawn(graph.find(args.subject))
        except KeyError as unknown:
            raise UsageFault(str(unknown.args[0])) from None
        code = session.code(graph.place, graph.dates, graph.choices)
        draw = _face if thing.kind == "yoke" else _plan
        picture = draw(code, code.session(graph), thing)
    except yokebook.InputFaults as refused:
        raise Stopped(f"the project was refused:\n{refused}") from None
    sys.stdout.write(picture.document())
    return 0


def _drawn(thing: Thing) -> Thing:
    """What is drawn of a thing: its device or its room. Raises UsageFault where there is no drawing."""
    if thing.kind in ("yoke", "space"):
        return thing
    whole = thing.refs.get({"contact": "yoke", "wall": "space"}.get(thing.kind, ""))
    if whole is None:
        raise UsageFault(f"`{thing.id}` is a {thing.kind}, of which there is no drawing; name a device or a room")
    return whole


def _face(code: Code, session: Session, yoke: Thing) -> Picture:
    from yokebook_adapters.drawings.of_device import face_of

    picture = face_of(code, session, yoke)
    if picture is None:
        raise UsageFault(f"no document in force rules on the mark of `{yoke.id}`, so there is nothing to draw")
    return picture


def _plan(code: Code, session: Session, space: Thing) -> Picture:
    from yokebook_adapters.drawings.of_device import rulings_on
    from yokebook_adapters.drawings.plan import draw_plan
    from yokebook_adapters.drawings.plan_data import measuring, plan_of

    shown = measuring(session)
    plan = plan_of(space, rulings_on(code, session, shown, [space, *space.list_of("walls")[0]]), session)
    if not plan:
        raise UsageFault(
            f"of `{space.id}` nothing can be drawn: no wall has its length, and no receptacle its place, given"
        )
    return draw_plan(plan, f"plan-{space.id}")

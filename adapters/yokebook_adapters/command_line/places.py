"""`yokebook places`: the places that are entered, their lines of time and how complete they are."""

from __future__ import annotations

import argparse
import sys

from yokebook_adapters.command_line.arguments import Commands, Parser, UsageFault, add_rulebook
from yokebook_adapters.command_line.output import PAGES, add_output, into_output, write_page


def add(commands: Commands) -> None:
    """Adds the command."""
    parser: Parser = commands.add_parser(
        "places",
        help="the places entered, from when which edition governs there",
        description="Lists the places of the rulebook; with a place, its lines of time, its amendments and how "
        "complete they are.",
    )
    parser.add_argument("place", metavar="PLACE", nargs="?", help="one place, such as demo/tamarisk/brindle-falls")
    parser.add_argument(
        "--format", choices=["text", "svg", *PAGES], default="text", help="svg, html, pdf: of one place; default: text"
    )
    add_output(parser)
    add_rulebook(parser)
    parser.set_defaults(run=into_output(run))


def run(args: argparse.Namespace) -> int:
    """Prints the list of places, or one place whole."""
    from yokebook.load.faults import suggest
    from yokebook_adapters.command_line.session import Session
    from yokebook_adapters.command_line.terminal import width
    from yokebook_adapters.lines import caution_lines
    from yokebook_adapters.places_text import list_of_places, whole_place

    book = Session(args).book
    ending = "\n" + "".join(f"{line}\n" for line in caution_lines(book.cautions, width()))
    if args.place is None and args.format != "text":
        raise UsageFault(f"--format {args.format} is of one place; name it")
    if args.place is None:
        sys.stdout.write(list_of_places(book, width()) + ending)
        return 0
    if args.place not in book.places:
        raise UsageFault(f"there is no place `{args.place}`{suggest(args.place, book.places)}")
    place = book.places[args.place]
    if args.format == "svg":
        from yokebook_adapters.drawings.timeline import draw_timeline

        sys.stdout.write(draw_timeline(book, place).document())
        return 0
    if args.format in PAGES:
        from yokebook_adapters.pages.law import place_page

        write_page(lambda: place_page(book, place), args.format)
        return 0
    sys.stdout.write(whole_place(book, place, width()) + ending)
    return 0

"""What the commands' arguments have in common, and how they are read."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING, Any, NamedTuple

from yokebook_adapters.outcome import REFUSED, USAGE

if TYPE_CHECKING:
    Commands = argparse._SubParsersAction["Parser"]
else:
    Commands = object


class Stopped(Exception):
    """The command cannot go on; the message says why, and `status` is the exit status to give."""

    status = REFUSED


class UsageFault(Stopped):
    """The command cannot be run as asked; the message says what to give instead."""

    status = USAGE


def needs_extra(missing: ModuleNotFoundError) -> UsageFault:
    """What to say where the library of an optional extra is not installed. Raises the error itself for any other."""
    if missing.name != "openpyxl":
        raise missing
    return UsageFault(f"workbooks need the library {missing.name}: pip install 'yokebook[spreadsheet]'")


def worst(stops: Sequence[Stopped]) -> Stopped:
    """One stop for several: every message once, and wrong usage before anything else."""
    found = UsageFault if any(isinstance(stop, UsageFault) for stop in stops) else Stopped
    return found("\n".join(dict.fromkeys(str(stop) for stop in stops)))


class Parser(argparse.ArgumentParser):
    """A parser that takes options only in full and prints without colour."""

    def __init__(self, **settings: Any) -> None:
        super().__init__(**settings, allow_abbrev=False)
        self.color = False  # Python 3.14 on would colour its help


class Edition(NamedTuple):
    """A bare edition of a document, without any place: `nfpa-70:2023`."""

    document: str
    edition: str


def add_law(parser: Parser) -> None:
    """Adds the options that say which law to rule by."""
    group = parser.add_argument_group("which law")
    group.add_argument("--place", metavar="PLACE", help="rule as in this place, such as demo/tamarisk/brindle-falls")
    group.add_argument("--on", metavar="DATE", type=iso_date, help="take this date for every event")
    group.add_argument(
        "--date",
        metavar="EVENT=DATE",
        type=_event_date,
        action="append",
        default=[],
        help='the date of one event, such as "permit application=2024-10-15"; may be given several times',
    )
    group.add_argument(
        "--choice",
        metavar="ID=ALTERNATIVE",
        type=pair,
        action="append",
        default=[],
        help="what the project chose where the place leaves a choice; may be given several times",
    )
    group.add_argument(
        "--edition",
        metavar="DOCUMENT:EDITION",
        type=_edition,
        help="rule by a bare edition of one document, without any place, such as nfpa-70:2023",
    )
    add_rulebook(group)


def add_topic(parser: argparse._ActionsContainer) -> None:
    """Adds the option for the questions that are asked only with their topic."""
    parser.add_argument(
        "--topic",
        metavar="TOPIC",
        action="append",
        default=[],
        help="also the questions of this topic, such as protection, or of `all`; may be given several times",
    )


def add_rulebook(parser: argparse._ActionsContainer) -> None:
    """Adds the option for another rulebook than the shipped one."""
    parser.add_argument("--rulebook", metavar="FOLDER", help="use this rulebook instead of the shipped one")


def iso_date(text: str) -> str:
    """The date as given, if it is one."""
    try:
        if len(text) != len("2024-10-15"):
            raise ValueError
        date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"`{text}` is not a date; write it as 2024-10-15") from None
    return text


def pair(text: str) -> tuple[str, str]:
    """The two parts with `=` between them."""
    key, equals, value = text.partition("=")
    if not (equals and key.strip() and value.strip()):
        raise argparse.ArgumentTypeError(f"`{text}` has no `=` between two parts")
    return key.strip(), value.strip()


def _event_date(text: str) -> tuple[str, str]:
    event, value = pair(text)
    return event, iso_date(value)


def _edition(text: str) -> Edition:
    document, colon, edition = text.partition(":")
    if not (colon and document and edition):
        raise argparse.ArgumentTypeError(f"`{text}` is not an edition; write document and edition as nfpa-70:2023")
    return Edition(document, edition)

"""Every output for people ends with the cautions: line voltage, two sources on one yoke, licensed practice, the
authority decides."""

from __future__ import annotations

import pytest

from command_line.running import DEMO, Command
from shipped_book import rulebook
from yokebook.adopted_layers import adoptions

USUAL = ("Line voltage can kill", "one yoke may carry two sources", "people licensed or qualified", "authority having")


@pytest.mark.parametrize(
    "argv",
    [
        ("rule", DEMO),
        ("explain", DEMO, "copy/R3/upper", "R60"),
        ("ask", "R01", "--edition", "nfpa-70:2023"),
        ("table", "marking.required", "--edition", "nfpa-70:2023"),
        ("table", "marking.required", "--edition", "nfpa-70:2023", "--format", "md"),
        ("places",),
        ("places", "demo/tamarisk"),
    ],
    ids=lambda argv: " ".join(str(a) for a in argv if a is not DEMO),
)
def test_it_ends_with_the_cautions(command: Command, argv: tuple[str, ...]) -> None:
    words = command(*argv).words
    assert all(usual in words for usual in USUAL)
    # nothing stands after them
    assert words.endswith(" ".join(rulebook().book.cautions[-1].split()))


def test_what_the_caution_on_machines_names_is_ruled_on_when_asked_for(command: Command) -> None:
    """It says which rules speak of a restart: they answer that question, and no place has them in force."""
    [caution] = [text for text in rulebook().book.cautions if "power comes back" in text]
    assert "only when the workplace rules are asked for (--edition osha-1910:2005)" in caution
    assert command("table", "machine.restart", "--edition", "osha-1910:2005").status == 0
    book = rulebook().book
    entered = {
        adopted.document
        for place in book.places.values()
        for line in place.lines.values()
        for entry in line
        for adopted in adoptions(entry)
    }
    assert entered and "osha-1910" not in entered

"""`yokebook places`: of every place it says whether all, some or none of the amendments are entered."""

from __future__ import annotations

from pathlib import Path

import pytest

from command_line.running import Command
from shipped_book import rulebook
from small_rulebook import FILES, write

TOWN = "places/town.yaml"
STATES = (
    *("amendments: all entered", "amendments: some entered", "amendments: none can be entered"),
    *("amendments: not looked for", "no amendments entered", "none in force"),
)


def blocks(out: str) -> dict[str, list[str]]:
    """By place, the text of each of its lines of time, from the list of all places."""
    found: dict[str, list[str]] = {}
    for line in out.partition("\nCAUTIONS")[0].splitlines():
        if line and not line.startswith(" "):
            found[line.partition(":")[0]] = []
        elif line.startswith("  ") and not line.startswith("    "):
            next(reversed(found.values())).append(line.strip())
        elif line.strip():
            of_this = next(reversed(found.values()))
            of_this[-1] += f" {line.strip()}"
    return found


def test_every_line_of_every_place_says_how_complete_it_is(command: Command) -> None:
    found = blocks(command("places").out)
    book = rulebook().book
    assert {place: len(lines) for place, lines in found.items()} == {p.id: len(p.lines) for p in book.places.values()}
    assert [line for lines in found.values() for line in lines if not any(state in line for state in STATES)] == []


def test_each_of_the_three_is_there(command: Command) -> None:
    """All: the 2023 code in Texas, whose rule was read. Some: Utah. None: Maine, whose amendments nothing here fits."""
    found = blocks(command("places").out)
    for place, state in (("us/tx", "all entered"), ("us/ut", "some entered"), ("us/me", "none can be entered")):
        assert f"amendments: {state}" in found[place][0]


@pytest.fixture
def _small(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    text = FILES[TOWN].replace(
        'adopts: {document: code, edition: "2017"}\n      amendments: all entered',
        """choice:
        id: houses
        asks: Is it a house?
        alternatives:
          house: {not_entered: houses have a code of their own}
          other: {document: code, edition: "2017"}
      amendments: some entered""",
    )
    hamlet = """\
place: hamlet
name: Hamlet
office: the counter
lines:
  electrical:
    - id: H1
      follows: town
      layers: [hamlet-1]
      amendments: all entered
      source: invented
layers:
  hamlet-1:
    less_strict: the hamlet's resolution
    applies: {event: inspection, on_or_after: 2019-01-01, before: 2020-01-01}
    amendments:
      - id: H-1
        says: Nothing is marked.
        cite: {document: Hamlet ordinance, section: "1"}
        checked: {seen: the ordinance}
        ops:
          - add: marking.required#hamlet
            where: {contact.supply: controlled}
            then: not required
            exception_to: all
"""
    write(Path("book"), {TOWN: text, "places/hamlet.yaml": hamlet})


@pytest.mark.usefixtures("_small")
class TestInWords:
    def test_a_place_that_follows_and_one_that_lets_choose(self, command: Command) -> None:
        found = blocks(command("places", "--rulebook", "book").out)
        town = (
            "last: permit application on or after 2018-01-01, the project chooses (--choice houses=...): Is it a "
            "house?; house = not entered (houses have a code of their own); other = A code, 2017 edition; amendments: "
            "some entered"
        )
        assert found["town"] == [f"electrical: 2 entries; {town}"]
        assert found["hamlet"] == [
            "electrical: 1 entry; last: always, as in Town with hamlet-1; amendments of its own: all entered; there "
            + town
        ]

    def test_a_layer_says_when_it_applies_and_why_it_asks_for_less(self, command: Command) -> None:
        out = command("places", "hamlet", "--rulebook", "book").out
        assert "LAYER hamlet-1: inspection on or after 2019-01-01 and before 2020-01-01\n" in out
        assert "  Meant to ask for less: the hamlet's resolution\n" in out

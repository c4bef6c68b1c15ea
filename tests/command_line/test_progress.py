"""Long work says on a terminal how far it is, and nothing anywhere else."""

from __future__ import annotations

import io
import sys
from pathlib import Path

import pytest

import yokebook
from command_line.running import Command
from outputs.small_shop import shop
from shipped_book import book, rulebook
from spreadsheet.test_written import DEVICES
from yokebook.proof.checking import check_book
from yokebook_adapters.command_line import terminal
from yokebook_adapters.command_line.terminal import Progress

#: A booth with one receptacle and one sensor, which waits too long.
BOOTH = DEVICES.replace("turns_off_by: presence,", "turns_off_by: presence, off_delay_min: 30 min,")


class Screen(io.StringIO):
    """Standard error that is a terminal."""

    def isatty(self) -> bool:
        return True


def a_screen(monkeypatch: pytest.MonkeyPatch) -> Screen:
    """Standard error as a terminal. Not a fixture, because pytest puts its own there before each test."""
    made = Screen()
    monkeypatch.setattr(sys, "stderr", made)
    return made


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    """Seconds as the work sees them, last in the list."""
    seconds = [0.0]
    monkeypatch.setattr(terminal, "monotonic", lambda: seconds[-1])
    return seconds


def test_work_of_less_than_a_second_shows_nothing(monkeypatch: pytest.MonkeyPatch, clock: list[float]) -> None:
    screen = a_screen(monkeypatch)
    with Progress("ruling on a.csv") as progress:
        clock.append(0.9)
        progress.part(0, 1, 5, 10)
    assert screen.getvalue() == ""


def test_longer_work_shows_how_far_it_is_at_most_four_times_a_second_and_cleans_up(
    monkeypatch: pytest.MonkeyPatch, clock: list[float]
) -> None:
    screen = a_screen(monkeypatch)
    with Progress("ruling on a.csv") as progress:
        for seconds, done in ((1.0, 250), (1.1, 300), (1.25, 500)):
            clock.append(seconds)
            progress.part(0, 1, done, 1_000)
    empty = "\r\x1b[K"
    assert screen.getvalue() == (
        f"{empty}ruling on a.csv:  25%, 250 of 1,000 rulings{empty}ruling on a.csv:  50%, 500 of 1,000 rulings{empty}"
    )


def test_of_many_rows_it_says_at_which_it_is(monkeypatch: pytest.MonkeyPatch, clock: list[float]) -> None:
    """Row 3,000 of 12,000 is a quarter."""
    screen = a_screen(monkeypatch)
    with Progress("ruling on a.csv") as progress:
        clock.append(2.0)
        progress.part(3_000, 12_000, 1, 2)
    assert "ruling on a.csv:  25%, 3,000 of 12,000 rows" in screen.getvalue()


def test_every_ruling_of_a_project_is_told() -> None:
    told: list[tuple[int, int]] = []
    code = rulebook().in_force("demo/tamarisk/brindle-falls", on="2024-10-15")
    sheet = code.rule_project(shop(), ["marking.required"], progress=lambda done, of: told.append((done, of)))
    assert len(sheet.rulings) == 7  # one for each contact device of the shop
    assert told == [(done, 7) for done in range(7)]


def test_a_command_shows_it_and_a_pipe_does_not(
    command: Command, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, clock: list[float]
) -> None:
    (tmp_path / "s.csv").write_text("Mark,Config\nR1,5-15R\nR2,5-20R\n", encoding="utf-8")
    (tmp_path / "m.yaml").write_text(
        "rows: record\ncall_rows_by: [Mark]\ncolumns: {Mark: receptacle.name, Config: receptacle.configuration}\n",
        encoding="utf-8",
    )
    monkeypatch.setattr(terminal, "_SHOWN_AFTER", 0.0)
    monkeypatch.setattr(terminal, "_SHOWN_EVERY", 0.0)
    argv = ("rule", tmp_path / "s.csv", "--mapping", tmp_path / "m.yaml", "--edition", "nfpa-70:2023", "--question")
    assert command(*argv, "R03").err == ""
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True, raising=False)
    assert command(*argv, "R03").err == (
        "\r\x1b[Kruling on s.csv:   0%, 0 of 2 rows\r\x1b[Kruling on s.csv:  50%, 1 of 2 rows\r\x1b[K"
    )


def test_looking_for_what_would_change_is_shown_as_well(
    command: Command, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, clock: list[float]
) -> None:
    """A sensor may wait 20 minutes in the city, and this one waits 30."""
    project = tmp_path / "p.yaml"
    project.write_text(BOOTH, encoding="utf-8")
    argv = ("rule", project, "--question", "R23", "--output", tmp_path / "out.txt")
    assert command(*argv).err == ""
    plain = (tmp_path / "out.txt").read_text("utf-8")
    assert "not satisfied - it waits too long" in plain
    monkeypatch.setattr(terminal, "_SHOWN_AFTER", 0.0)
    monkeypatch.setattr(terminal, "_SHOWN_EVERY", 0.0)
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True, raising=False)
    shown = command(*argv).err
    looking = "\r\x1b[Klooking for what would change what is against:"
    assert shown.endswith(f"{looking}   0%, 0 of 1 rulings\r\x1b[K")
    assert (tmp_path / "out.txt").read_text("utf-8") == plain


def test_checks_and_comparisons_are_told_step_by_step() -> None:
    of_check: list[tuple[int, int]] = []
    city = frozenset({"demo/tamarisk/brindle-falls"})
    check_book(book(), city, progress=lambda done, of: of_check.append((done, of)))
    laws = len(of_check)
    assert laws > 1 and of_check == [(done, laws) for done in range(laws)]
    of_compare: list[tuple[int, int]] = []
    was, now = (rulebook().edition("nfpa-70", edition) for edition in ("2014", "2017"))
    yokebook.compare(was, now, ["marking.form"], progress=lambda done, of: of_compare.append((done, of)))
    steps = len(of_compare)
    assert steps > 1 and of_compare == [(done, steps) for done in range(steps)]

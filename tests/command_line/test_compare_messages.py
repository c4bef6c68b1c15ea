"""What `yokebook compare` prints, word by word: what cannot be compared, what a draft stands for, arguments that miss
something, and who did what to a rule."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from command_line.running import Command
from small_rulebook import FILES, write

TOWN = "places/town.yaml"


@pytest.fixture(autouse=True)
def _here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A small rulebook in `book`, a draft of its town beside it."""
    monkeypatch.chdir(tmp_path)
    write(tmp_path / "book")
    Path("mine.yaml").write_text(FILES[TOWN], encoding="utf-8")


class TestNothingToCompare:
    """Before 2015 nothing is entered for the town: that is not the same as that nothing changes."""

    def test_whole(self, command: Command) -> None:
        ran = command("compare", "mine.yaml@2001-01-01", "code:2014", "--rulebook", "book")
        assert (ran.status, ran.err) == (4, "")
        assert ran.out == """\
old: mine.yaml@2001-01-01
new: code:2014
  electrical, old: not entered: no adoption entered for this date
  electrical, new: A code, 2014 edition
    only one side has a document of this kind, so its tables are not compared
`mine.yaml` stands in for the rulebook's own file of town; what it leaves out is gone.

Nothing was compared: no kind of document is in force on both sides.

CAUTIONS
  - Line voltage can kill.
"""

    def test_as_data(self, command: Command) -> None:
        ran = command("compare", "mine.yaml@2001-01-01", "code:2014", "--rulebook", "book", "--format", "json")
        data = json.loads(ran.out)
        assert (ran.status, data["exit_status"], data["changes"]) == (4, 4, [])
        assert data["drafts"] == [
            "`mine.yaml` stands in for the rulebook's own file of town; what it leaves out is gone."
        ]


class TestDraft:
    @pytest.mark.parametrize("name", ["mine.yml", "MINE.YAML", "mine.txt", "mine"])
    def test_whatever_its_file_is_called(self, command: Command, name: str) -> None:
        Path("mine.yaml").rename(name)
        ran = command("compare", "code:2014", f"{name}@2016-01-01", "--rulebook", "book")
        assert (ran.status, ran.err) == (0, "")
        assert "electrical, new: A code, 2014 edition, as Town has it with T-1\n" in ran.out

    def test_of_a_place_that_does_not_exist_yet(self, command: Command) -> None:
        Path("mine.yaml").write_text(FILES[TOWN].replace("place: town", "place: village"), encoding="utf-8")
        ran = command("compare", "code:2014", "./mine.yaml@2016-01-01", "--rulebook", "book")
        assert ran.status == 0
        assert "\n`mine.yaml` is of village, a place that the rulebook does not have yet.\n" in ran.out

    def test_a_project_in_its_stead(self, command: Command) -> None:
        Path("house.yaml").write_text("project: {name: A house}\n", encoding="utf-8")
        ran = command("compare", "code:2014", "house.yaml@2016-01-01", "--rulebook", "book")
        assert (ran.status, ran.out, ran.err) == (
            3,
            "",
            "yokebook: `house.yaml` cannot be used as the draft of a place:\n"
            "house.yaml:1:1: a draft of a place says which place it is: `place:` with the place's id is missing\n",
        )

    def test_a_fault_elsewhere_is_the_rulebooks(self, command: Command) -> None:
        Path("book/cautions.yaml").write_text("caution: []\n", encoding="utf-8")
        ran = command("compare", "code:2014", "mine.yaml@2016-01-01", "--rulebook", "book")
        assert ran.status == 3
        assert ran.err.startswith("yokebook: the rulebook cannot be used:\nbook/cautions.yaml:1:1: ")


@pytest.mark.parametrize(
    ("law", "message"),
    [
        ("mine.yaml", "`mine.yaml` has no date; write `mine.yaml@DATE` with the day to compare for"),
        ("demo/tamarisk", "`demo/tamarisk` has no date; write `demo/tamarisk@DATE` with the day to compare for"),
        (
            "elsewhere@2016-01-01",
            "elsewhere@2016-01-01: no place `elsewhere` in this rulebook; `yokebook places` lists them",
        ),
        ("book@2016-01-01", "`book` is a folder; give a file"),
        ("town@01.10.2016", "town@01.10.2016: `01.10.2016` is not a date; write it as 2024-10-15"),
        ("code@2014", "code@2014: `2014` is not a date; write it as 2024-10-15"),
    ],
)
def test_a_law_that_is_none(command: Command, law: str, message: str) -> None:
    for sides in (("code:2014", law), (law, "code:2014")):
        ran = command("compare", *sides, "--rulebook", "book")
        assert (ran.status, ran.out, ran.err) == (2, "", f"yokebook: {message}\n")


def test_one_law_alone(command: Command) -> None:
    """What is missing is the new law; a project need not be given."""
    ran = command("compare", "code:2014")
    assert (ran.status, ran.out) == (2, "")
    assert ran.err.endswith("yokebook compare: error: the following arguments are required: B\n")


def test_a_project_that_is_not_there_is_told_before_anything_is_compared(command: Command) -> None:
    ran = command("compare", "nowhere:1", "code:2014", "house.yaml", "--rulebook", "book")
    assert (ran.status, ran.out, ran.err) == (2, "", "yokebook: there is no file `house.yaml`\n")


def test_help_fits_the_terminal(command: Command) -> None:
    ran = command("compare", "--help")
    assert ran.status == 0
    assert [line for line in ran.out.splitlines() if len(line) > 80] == []


def test_who_did_what_to_a_rule(command: Command) -> None:
    """T-2 adds the rule that says so now; it is named with what it did, in the past."""
    text = FILES[TOWN].replace(
        "          - delete: marking.required#slow\n",
        "          - add: marking.required#here\n            exception_to: all\n"
        "            where: {contact.supply: controlled}\n            then: not required\n"
        "            says: Here it is not.\n",
    )
    Path("mine.yaml").write_text(text, encoding="utf-8")
    ran = command("compare", "code:2014", "mine.yaml@2016-01-01", "--rulebook", "book")
    assert ran.status == 0
    assert "  new: marking.required#here, Town ordinance 1, added by T-1. Here it is not.\n" in ran.out
    # the region's inputs and the record's facts are explained once, below
    names = ran.out.partition("\nNAMES\n")[2].partition("\n\n")[0]
    assert "  contact.supply: Whether anything switches it.\n" in f"{names}\n"
    assert "(whether" not in ran.out

"""`yokebook compare`: the text of a small comparison whole, drafts, projects, JSON, and every way to ask wrongly."""

from __future__ import annotations

import json
import re
from functools import partial
from pathlib import Path

import pytest

import yokebook
from command_line.running import DEMO, Command
from small_rulebook import FILES, write
from yokebook.proof import comparing

#: The edition of 2017 lets a wait of up to 30 min pass for not slow, where the one of 2014 had 20 min.
EDITION_2017 = """\
document: code
edition: "2017"
follows: "2014"
how_checked: not read
carried:
  - rules: ["marking.required#*", "control.acts#*"]
    checked: {assumed: as before}
changes:
  - set_value: longest
    value: 30 min
    stricter: lower
    says: The longest wait.
    cite: {document: code, section: "2"}
    checked: {seen: the text}
"""

#: By the definition: what is switched by itself is marked but where the wait is over 20 min, now over 30 min; so over
#: 20 and up to 30 min the mark comes. A shorter longest wait is the stricter one.
WHOLE = """\
old: code:2014
new: code:2017
  electrical, old: A code, 2014 edition
  electrical, new: A code, 2017 edition
1 question stays as before

STRICTER (1)
marking.required: not required -> required, where
    contact.slowest_min: over 20 min and at most 30 min
    contact.automatic: yes
  Must it be marked? Old: no mark. New: a mark.
  for example room/R1/a, with
    control1: control.delay_min 30 min, control.kind sensor
  old: marking.required#slow, code 1. Slow ones are not.
  new: marking.required#automatic, code 1 [not checked in this edition]. What is switched by itself
    is marked.

NAMED NUMBERS
value.longest: 20 min -> 30 min (less strict), by code 2017; code 2. The longest wait.

NAMES
  contact.slowest_min: The longest wait.
  contact.automatic: Something switches it by itself.
  control.delay_min: How long it waits.
  control.kind: What it is.

CAUTIONS
  - Line voltage can kill.
"""


@pytest.fixture(autouse=True)
def _here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A small rulebook in `book`, a draft of its town beside it."""
    monkeypatch.chdir(tmp_path)
    write(tmp_path / "book", {"electrical/2017/edition.yaml": EDITION_2017})
    Path("mine.yaml").write_text(FILES["places/town.yaml"], encoding="utf-8")


def small(command: Command, *argv: str) -> str:
    """What the comparison prints with the small rulebook; it succeeds and says nothing else."""
    ran = command("compare", *argv, "--rulebook", "book")
    assert (ran.status, ran.err) == (0, "")
    return ran.out


def test_the_whole_text(command: Command) -> None:
    out = small(command, "code:2014", "code:2017")
    waits = re.findall(r"control\.delay_min (\d+) min", out)
    assert len(waits) == 1 and 20 < int(waits[0]) <= 30
    assert out.replace(f"control.delay_min {waits[0]} min", "control.delay_min 30 min") == WHOLE


def test_what_shrinks_comes_before_what_grows(command: Command) -> None:
    """Forth it grows over 20 min, back it shrinks; the city's layer deletes the exception, which grows."""
    assert "LESS STRICT (1)\nmarking.required: required -> not required" in small(command, "code:2017", "code:2014")
    wanted = ("share.listed", "share.exempt", "furniture.feeders", "control.override")
    options = [word for question in wanted for word in ("--question", question)]
    out = command("compare", "demo/tamarisk@2024-07-01", "demo/tamarisk/brindle-falls@2024-07-01", *options).out
    headings = [line for line in out.splitlines() if line.isupper() or line.startswith(("LESS", "STRICTER"))]
    assert [heading.partition(" (")[0] for heading in headings] == [
        "LESS STRICT", "STRICTER", "QUESTIONS THAT COME OR GO", "THROUGH WHAT LIES BELOW", "NAMED NUMBERS",
        "READINGS CHOSEN", "NAMES", "CAUTIONS",
    ]  # fmt: skip


def test_nothing_changes(command: Command) -> None:
    out = small(command, "code:2014", "code:2014", "--all")
    assert "2 questions stay as before: marking.required and control.acts\n\nNothing changes.\n" in out


def test_a_place_before_and_after_a_day(command: Command) -> None:
    out = small(command, "mine.yaml@2017-12-31", "town@permit application=2018-01-01")
    assert "electrical, old: A code, 2014 edition, as Town has it with T-1" in out
    assert "electrical, new: A code, 2017 edition, as Town has it" in out
    # the town's amendment deleted the exception for slow ones; the edition of 2017 comes without it
    assert "LESS STRICT (1)\nmarking.required: required -> not required" in out
    assert "contact.slowest_min: over 30 min" in out
    assert "reading.sensor-is-switch: switch -> open, by T-1" in out


def test_a_draft_needs_no_pins_and_what_is_in_force_does(command: Command) -> None:
    out = small(command, "code:2014", "mine.yaml@2016-01-01")
    assert "marking.required: not required -> required, where\n    contact.slowest_min: over 20 min" in out
    ran = command("compare", "code:2014", "town@2016-01-01", "--rulebook", "book")
    assert ran.status == 3
    assert ran.err.startswith(
        "yokebook: the rulebook cannot be used:\n"
        "book/places/town.yaml:27:13: `delete` of `marking.required#slow` has no pin, so layer `town-1` is a draft"
    )


def test_faults_of_a_draft_name_its_file(command: Command) -> None:
    text = FILES["places/town.yaml"].replace("delete: marking.required#slow", "delete: marking.required#slwo")
    Path("mine.yaml").write_text(text, encoding="utf-8")
    ran = command("compare", "code:2014", "mine.yaml@2016-01-01", "--rulebook", "book")
    assert ran.status == 3
    assert ran.err.startswith("yokebook: `mine.yaml` cannot be used as the draft of a place:\nmine.yaml:27:")


def test_json(command: Command) -> None:
    data = json.loads(small(command, "code:2014", "code:2017", "--format", "json"))
    assert (data["exit_status"], data["was"], data["now"]) == (0, "code:2014", "code:2017")
    [change] = data["changes"]
    assert change["was"] == {"status": "ruled", "word": "not required", "says": "no mark"}
    assert change["now"] == {"status": "ruled", "word": "required", "says": "a mark"}
    assert change["direction"] == "stricter" and change["witness"]["reachable"] == "shown"
    assert change["regions"] == [
        [
            {"input": "contact.slowest_min", "is": "over 20 min and at most 30 min"},
            {"input": "contact.automatic", "is": "yes"},
        ]
    ]
    assert data["same"] == [{"kind": "electrical", "question": "control.acts"}]
    assert data["cautions"] == ["Line voltage can kill."]


def test_a_project_is_ruled_under_both(command: Command) -> None:
    """The demo building names a place of its own, which does not count here: neither side is that place."""
    ran = command("compare", "nfpa-70:2014", "nfpa-70:2017", DEMO, "--question", "marking.form")
    assert ran.status == 0
    assert "DEVICES of Copper Kettle Block, six rooms (invented):" in ran.out
    assert "marking.form: symbol -> symbol and word (stricter): " in ran.out
    assert ran.out.index("STRICTER (1)") < ran.out.index("DEVICES") < ran.out.index("CAUTIONS")


def test_a_project_that_is_refused(command: Command) -> None:
    Path("bad.yaml").write_text("project: {}\ncontrols: [{id: S1, kind: swich}]\n", encoding="utf-8")
    ran = command("compare", "code:2014", "code:2017", "bad.yaml", "--rulebook", "book")
    assert ran.status == 3
    assert "STRICTER (1)" in ran.out and "REFUSED\nbad.yaml:2:" in ran.out
    assert ran.err.startswith("bad.yaml:2:") and "`swich`" in ran.err


def test_what_was_not_decided_is_told(command: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(yokebook, "compare", partial(comparing.compare, states=1))
    ran = command("compare", "code:2014", "code:2017", "--rulebook", "book")
    assert ran.status == 4
    assert "NOT DECIDED\nmarking.required: too many cases to compare\n" in ran.out


ALLOWED = (
    "allowed: DOCUMENT:EDITION such as nfpa-70:2017, PLACE@DATE such as demo/tamarisk@2024-10-01, or FILE.yaml@DATE"
)


@pytest.mark.parametrize(
    ("law", "message"),
    [
        ("town", f"`town` names no law; {ALLOWED}"),
        ("code:", f"`code:` names no law; {ALLOWED}"),
        ("town@", f"`town@` names no law; {ALLOWED}"),
        ("code:2011", "code:2011: `code` has no edition `2011` in this rulebook; it has 2014, 2017"),
        ("cod:2014", "cod:2014: there is no document `cod` (did you mean `code`?)"),
        ("twon@2016-01-01", "twon@2016-01-01: no place `twon` in this rulebook (did you mean `town`?)"),
        ("town@2016-13-01", "town@2016-13-01: `2016-13-01` is not a date; write it as 2024-10-15"),
        (
            "town@2016-01-01,2017-01-01",
            "`town@2016-01-01,2017-01-01` has two dates for every event; name the event, as EVENT=DATE",
        ),
        (
            "town@permit application=2016-01-01,permit application=2017-01-01",
            "`town@permit application=2016-01-01,permit application=2017-01-01` gives `permit application` twice",
        ),
        (
            "town@permit=2016-01-01",
            "town@permit=2016-01-01: no place of this rulebook goes by a date of `permit` "
            "(did you mean `permit application`?)",
        ),
        ("none.yaml@2016-01-01", "there is no file `none.yaml`"),
    ],
)
def test_a_law_that_is_none(command: Command, law: str, message: str) -> None:
    for sides in (("code:2014", law), (law, "code:2014")):
        ran = command("compare", *sides, "--rulebook", "book")
        assert (ran.status, ran.out, ran.err) == (2, "", f"yokebook: {message}\n")


def test_dates_left_open(command: Command) -> None:
    """The demo city's law turns on the permit application; a date of another event leaves every entry possible."""
    ran = command("compare", "nfpa-70:2023", "demo/tamarisk/brindle-falls@permit purchase=2024-10-01")
    assert ran.status == 2
    assert ran.err.startswith(
        "yokebook: in the new law more than one entry may govern the electrical document (`BF-EC23`, "
    )
    assert "); give the date of the permit application; in the new law more than one entry may govern the energy" in (
        ran.err
    )


@pytest.mark.parametrize(
    ("option", "message"),
    [
        (("--question", "marking.requir"), "there is no question `marking.requir` (did you mean `marking.required`?)"),
        (("--document", "codes"), "there is no document `codes`, and no kind of document of that name"),
    ],
)
def test_options_that_name_nothing(command: Command, option: tuple[str, str], message: str) -> None:
    ran = command("compare", "code:2014", "code:2017", *option, "--rulebook", "book")
    assert (ran.status, ran.out, ran.err) == (2, "", f"yokebook: {message}\n")

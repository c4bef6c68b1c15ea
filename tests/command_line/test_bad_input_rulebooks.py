"""A rulebook of one's own with something wrong in it, through the real command: every word that a person reads."""

from __future__ import annotations

from pathlib import Path

import pytest

from command_line.running import Command, Ran
from small_rulebook import FILES, edited, write

MARKS = "electrical/2014/marking.required.yaml"
ACTS = "electrical/2014/control.acts.yaml"
LATER = "electrical/2017/edition.yaml"
EDITION = "electrical/2014/edition.yaml"
TOWN = "places/town.yaml"

HEAD = "yokebook: the rulebook cannot be used:\n"
COMMA = "inside { } a comma in unquoted text starts a new key, so put text that holds a comma in quotes"

#: Ruled by the edition of 2014 as the town amends it, and by the bare one of 2017.
OLD = "project: {place: town, dates: {permit application: 2016-05-10}}\ncontrols: [{id: S1, kind: sensor}]\n"
NEW = OLD.replace("2016", "2019")


@pytest.fixture(autouse=True)
def _here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("old.yaml").write_text(OLD, encoding="utf-8")
    Path("new.yaml").write_text(NEW, encoding="utf-8")


def words(ran: Ran) -> dict[str, str]:
    """The word for each file."""
    return {line["file"]: line["word"] for line in ran.lines if "word" in line}


CASES: dict[str, tuple[dict[str, str], str]] = {
    "cycle of exceptions": (
        edited(MARKS, "  - id: automatic\n", "  - id: automatic\n    exception_to: [slow]\n"),
        f"book/{MARKS}:4:5: exceptions go round in a circle: `marking.required#automatic` over "
        "`marking.required#slow` over `marking.required#automatic`; of two rules only one can prevail\n",
    ),
    "exception to nothing": (
        edited(MARKS, "exception_to: [automatic]", "exception_to: [automatc]"),
        f"book/{MARKS}:10:5: `marking.required#slow` is an exception to `marking.required#automatc`, which this table "
        "does not have (did you mean `marking.required#automatic`?)\n",
    ),
    "missing target of a change": (
        edited(TOWN, "marking.required#slow", "marking.required#slwo"),
        f"book/{TOWN}:27:13: `delete` names `marking.required#slwo`, which code 2014 does not have (did you mean "
        "`marking.required#slow`?)\n",
    ),
    "two changes of one rule": (
        edited(
            TOWN,
            "          - delete: marking.required#slow\n",
            "          - delete: marking.required#slow\n"
            "          - {narrow: marking.required#slow, where: {contact.supply: controlled}}\n",
        ),
        f"book/{TOWN}:28:13: `narrow` is a second change to `marking.required#slow`; `delete` of T-1 at "
        f"book/{TOWN}:27:13 is the first, and one layer or edition may change an id only once\n",
    ),
    "edition that forgets rules and a number": (
        edited(LATER, '"marking.required#*", "control.acts#*", value.longest', '"marking.required#automatic"'),
        "".join(
            f"book/{LATER}:1:1: code 2017 forgets `{name}`: carry or change it; code 2014 has it at book/{at}\n"
            for name, at in (
                ("control.acts#none_fires", f"{ACTS}:2:13"),
                ("control.acts#sensor", f"{ACTS}:4:5"),
                ("control.acts#switch", f"{ACTS}:10:5"),
                ("marking.required#none_fires", f"{MARKS}:2:13"),
                ("marking.required#slow", f"{MARKS}:10:5"),
                ("value.longest", f"{EDITION}:6:3"),
            )
        ),
    ),
    "section without quotes": (
        {MARKS: FILES[MARKS].replace('section: "1"', "section: 210.10", 1)},
        f"book/{MARKS}:8:37: `section` of `cite` of the rule `automatic`: `210.10` reads as a number where text is "
        "due; put it in quotes\n",
    ),
    "comma in unquoted text": (
        edited(MARKS, "says: No rule asks for a mark.,", "says: No rule, none at all, asks for a mark.,"),
        f"book/{MARKS}:2:49: `none at all` has no value: {COMMA}\n"
        f"book/{MARKS}:2:62: `asks for a mark.` has no value: {COMMA}\n",
    ),
    "unknown outcomes": (
        edited(ACTS, "then: automatic", "then: automatically")
        | edited(MARKS, "{then: not required,", "{then: not needed,"),
        f"book/{ACTS}:6:11: `then` of the rule `sensor`: `automatically` is not an outcome of `control.acts` (did you "
        "mean `automatic`?); allowed: `manual`, `automatic`\n"
        f"book/{MARKS}:2:20: `then` of `none_fires`: `not needed` is not an outcome of `marking.required` (did you "
        "mean `not required`?); allowed: `not required`, `required`\n",
    ),
    "unknown reading in a rule": (
        edited(MARKS, "{contact.automatic: yes}", "{contact.automatic: yes, reading.sensor-is-swich: switch}"),
        f"book/{MARKS}:5:37: `reading.sensor-is-swich` is no reading (did you mean `reading.sensor-is-switch`?); "
        "readings: `reading.sensor-is-switch`\n",
    ),
    "unknown reading chosen by a place": (
        edited(TOWN, "choose_reading: sensor-is-switch", "choose_reading: sensor-is-swich"),
        f"book/{TOWN}:28:30: there is no reading `sensor-is-swich` (did you mean `sensor-is-switch`?)\n",
    ),
    "unknown fact": (
        edited(ACTS, "{control.kind: sensor}", "{control.knd: sensor}"),
        f"book/{ACTS}:5:13: `control.knd` is no fact or calculation (did you mean `control.kind`?)\n",
    ),
    "unknown place": (
        edited(TOWN, 'adopts: {document: code, edition: "2017"}\n      amendments: all entered', "follows: twn"),
        f"book/{TOWN}:13:7: entry `E2` follows `twn`, which is no place of this rulebook (did you mean `town`?)\n",
    ),
    "number of another kind, and none": (
        edited(EDITION, "value: 20 min", "value: 20 ft") | edited(ACTS, "control.kind: sensor", "control.floors: yes"),
        f"book/{ACTS}:5:29: `control.floors`: `yes` is a yes or no where a number is due; allowed: a plain number\n"
        f"book/{MARKS}:12:46: `contact.slowest_min`: `value.longest` is a length in `in`, `ft`, `mm` or `m`; allowed: "
        "a time in `min`, `s` or `h`\n",
    ),
    "key twice, alias, tag and an empty file": (
        edited(ACTS, "then: automatic", "then: automatic\n    then: manual")
        | edited(MARKS, "exception_to: [automatic]", "exception_to: &a !all [automatic]")
        | {"cautions.yaml": ""},
        "book/cautions.yaml:1:1: the file is empty\n"
        f"book/{ACTS}:7:5: `then` stands twice here, first in line 6\n"
        f"book/{MARKS}:11:19: `&a` is an anchor; anchors and aliases are not allowed, leave it out\n",
    ),
    "pin typed by hand": (
        edited(TOWN, "- delete: marking.required#slow", "- {delete: marking.required#slow, pin: 1234}"),
        f"book/{TOWN}:27:50: `pin` of `delete` of `marking.required#slow`: `1234` reads as a number where text is due; "
        "put it in quotes\n",
    ),
    "a file that nothing reads": (
        {"notes.yaml": "a: b\n"},
        "book/notes.yaml:1:1: nothing reads this file: no document has an edition in this folder, and it is in none of "
        "`questions/`, `facts/`, `calculations/`, `readings/`, `documents/`, `places/`, `cases/`\n",
    ),
}


@pytest.mark.parametrize(("changes", "told"), CASES.values(), ids=CASES)
def test_a_bad_rulebook(command: Command, tmp_path: Path, changes: dict[str, str], told: str):
    write(tmp_path / "book", changes)
    ran = command("rule", "new.yaml", "--rulebook", "book")
    assert ran.err == HEAD + told
    assert (ran.status, ran.out) == (3, "")
    table = command("table", "R03", "--place", "town", "--on", "2019-05-10", "--rulebook", "book")
    assert (table.status, table.out, table.err) == (3, "", HEAD + told)


DRAFT = (
    f"book/{TOWN}:27:13: `delete` of `marking.required#slow` has no pin, so layer `town-1` is a draft and cannot be in "
    "force; due is `{slow}`, which `yokebook pin` writes once you have read the text below\n"
    f"book/{TOWN}:28:13: `choose_reading` of `sensor-is-switch` has no pin, so layer `town-1` is a draft and cannot be "
    "in force; due is `{reading}`, which `yokebook pin` writes once you have read the text below\n"
)


def pins(out: str) -> dict[str, str]:
    """What `yokebook pin` printed: the pin for each thing changed."""
    rows = [line.split() for line in out.splitlines() if line.startswith("T-1 ")]
    return {row[2].rstrip(":"): row[4] for row in rows}


def test_a_draft_is_refused_and_the_other_day_of_the_same_place_is_ruled(command: Command, tmp_path: Path):
    write(tmp_path / "book")
    drafts = command("rule", "old.yaml", "new.yaml", "--rulebook", "book", "--question", "R01", "--format", "jsonl")
    table = command("table", "R03", "--place", "town", "--on", "2016-05-10", "--rulebook", "book")
    ask = command("ask", "R03", "--place", "town", "--on", "2016-05-10", "--rulebook", "book")
    made = pins(command("pin", f"book/{TOWN}", "--rulebook", "book").out)
    told = DRAFT.format(slow=made["marking.required#slow"], reading=made["sensor-is-switch"])
    assert drafts.err == "old.yaml: nothing was ruled on it, because the rulebook cannot be used:\n" + told
    assert drafts.status == 3
    assert words(drafts) == {"new.yaml": "would be automatic"}  # carried unread into the edition of 2017
    for ran in (table, ask):
        assert (ran.status, ran.out, ran.err) == (3, "", HEAD + told)
    pinned = command("rule", "old.yaml", "--rulebook", "book", "--question", "R01", "--format", "jsonl")
    assert (pinned.status, pinned.err, words(pinned)) == (0, "", {"old.yaml": "automatic"})


def test_a_stale_pin(command: Command, tmp_path: Path):
    write(tmp_path / "book")
    was = pins(command("pin", f"book/{TOWN}", "--rulebook", "book").out)["marking.required#slow"]
    table = tmp_path / "book" / MARKS
    table.write_text(FILES[MARKS].replace("more_than: value.longest", "at_least: value.longest"), encoding="utf-8")
    ran = command("rule", "old.yaml", "new.yaml", "--rulebook", "book", "--question", "R01", "--format", "jsonl")
    shown = command("pin", f"book/{TOWN}", "--rulebook", "book")
    now = pins(shown.out)["marking.required#slow"]
    assert ran.err == (
        "old.yaml: nothing was ruled on it, because the rulebook cannot be used:\n"
        f"book/{TOWN}:28:18: `delete` of `marking.required#slow` has the pin `{was}`; the text below the layer "
        f"has `{now}`, so it is no longer what was amended; `yokebook pin` shows the old text beside the new\n"
    )
    assert (ran.status, words(ran)) == (3, {"new.yaml": "would be automatic"})
    assert "was: contact.slowest_min is more than 20 min is: contact.slowest_min is at least 20 min" in shown.words


@pytest.mark.parametrize(
    ("argv", "status", "told"),
    [
        (
            ["rule", "new.yaml", "--rulebook", "gone"],
            2,
            "yokebook: no folder `gone`; --rulebook takes a folder with a rulebook in it\n",
        ),
        (
            ["rule", "new.yaml", "--rulebook", "old.yaml"],
            2,
            "yokebook: no folder `old.yaml`; --rulebook takes a folder with a rulebook in it\n",
        ),
        (
            ["rule", "new.yaml", "--rulebook", "nothing"],
            3,
            f"{HEAD}nothing/cautions.yaml:1:1: the rulebook has no such file; it lists the cautions on every output\n",
        ),
    ],
    ids=["no folder", "a file", "an empty folder"],
)
def test_no_rulebook_there(command: Command, argv: list[str], status: int, told: str):
    Path("nothing").mkdir()
    ran = command(*argv)
    assert (ran.status, ran.out, ran.err) == (status, "", told)


def test_pins_of_a_file_that_is_no_place(command: Command, tmp_path: Path):
    write(tmp_path / "book")
    ran = command("pin", "old.yaml", "--rulebook", "book")
    assert (ran.status, ran.out) == (2, "")
    assert ran.err == (
        "yokebook: old.yaml: not the file of a place of the rulebook book; only places have layers, and their files "
        f"are in {tmp_path / 'book' / 'places'}\n"
    )

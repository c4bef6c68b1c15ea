"""`yokebook check`: the shipped rulebook is clean; faults of every kind are told with file, line and column; drafts."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft7Validator

from command_line.running import Command
from proof.clean_book import ACTS, CLEAN, MARKS, TOWN, planted, written
from shipped_book import rulebook
from small_rulebook import FILES
from yokebook.layers import adopted_here

OASIS_SCHEMA = Path(__file__).parents[2] / ".." / "shared" / "standards" / "sarif-schema-2.1.0.json"
DRAFTS = Path(__file__).parents[2] / "adapters" / "yokebook_adapters" / "demo" / "drafts"


@pytest.fixture(autouse=True)
def _here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


#: Real places that took the code with less than it asks, each with a layer that says why.
RELAXING = {"us/ia", "us/ma", "us/mn", "us/nj", "us/sc", "us/ut", "us/wi"}


def test_the_whole_shipped_rulebook_is_clean(command: Command) -> None:
    ran = command("check", "--format", "json")
    report = json.loads(ran.out)
    assert ran.status == 0  # so nothing is left undecided
    assert [f for f in report["findings"] if f["severity"] != "note"] == []
    less = [f for f in report["findings"] if f["kind"] == "less strict than the text below"]
    assert {law.split()[0] for f in less for law in f["laws"] if f["reachable"] == "shown"} == RELAXING
    assert [f["says"] for f in less if not f["blamed"] or not all(rule.get("by") for rule in f["blamed"])] == []
    book = rulebook().book
    adopted = sum(
        len(adopted_here(book, place, kind, entry))
        for place in book.places.values()
        for kind, line in place.lines.items()
        for entry in line
    )
    assert report["laws"] == len(book.editions) + adopted
    # each edition's tables at least once, but those carried unchanged
    assert report["tables"] >= max(len(edition.tables) for edition in book.editions.values())


class TestFaultsInFiles:
    """What loading finds is told as findings too, all at once, each with its place."""

    @staticmethod
    def told(command: Command, *changes: dict[str, str]) -> list[tuple[str, str]]:
        together = {name: text for change in changes for name, text in change.items()}
        written(Path(), together, pinned=False)
        ran = command("check", "--rulebook", "book", "--format", "json")
        assert ran.status == 3
        findings: list[dict[str, Any]] = json.loads(ran.out)["findings"]
        assert {(f["kind"], f["severity"]) for f in findings} == {("fault in a file", "error")}
        return [(f["at"], f["says"]) for f in findings]

    def test_a_cycle(self, command: Command) -> None:
        change = planted(ACTS, "  - id: sensor\n", "  - id: sensor\n    exception_to: [button]\n")
        assert self.told(command, change) == [
            (
                f"book/{ACTS}:17:5",
                "exceptions go round in a circle: `control.acts#button` over `control.acts#sensor` over "
                "`control.acts#button`; of two rules only one can prevail",
            )
        ]

    def test_an_unknown_fact(self, command: Command) -> None:
        change = planted(ACTS, "where: {control.kind: switch}", "where: {control.kin: switch}")
        says = "`control.kin` is no fact or calculation (did you mean `control.kind`?)"
        assert self.told(command, change) == [(f"book/{ACTS}:11:13", says)]

    def test_an_unknown_value(self, command: Command) -> None:
        change = planted(ACTS, "where: {control.kind: switch}", "where: {control.kind: swich}")
        says = "`swich` is not a value of `control.kind` (did you mean `switch`?); allowed: `switch`, `sensor`"
        assert self.told(command, change) == [(f"book/{ACTS}:11:27", says)]

    def test_a_missing_target(self, command: Command) -> None:
        op = "          - delete: marking.required#fast\n          - {choose_reading"
        assert self.told(command, planted(TOWN, "          - {choose_reading", op)) == [
            (
                f"book/{TOWN}:28:13",
                "`delete` names `marking.required#fast`, which code 2014 does not have (did you mean "
                "`marking.required#slow`?)",
            )
        ]

    def test_an_orphaned_exception(self, command: Command) -> None:
        op = "          - delete: marking.required#automatic\n          - {choose_reading"
        assert self.told(command, planted(TOWN, "          - {choose_reading", op)) == [
            (
                f"book/{TOWN}:28:13",
                "`delete` of `marking.required#automatic` leaves rules that name it in `exception_to` or "
                "`prevails_over`: `marking.required#slow`; replace or delete them too",
            )
        ]

    def test_two_ops_on_one_rule(self, command: Command) -> None:
        ops = """\
          - delete: marking.required#slow
          - narrow: marking.required#slow
            where: {contact.supply: controlled}
          - {choose_reading"""
        assert self.told(command, planted(TOWN, "          - {choose_reading", ops)) == [
            (
                f"book/{TOWN}:29:13",
                f"`narrow` is a second change to `marking.required#slow`; `delete` of T-1 at book/{TOWN}:28:13 is the "
                "first, and one layer or edition may change an id only once",
            )
        ]

    def test_an_edition_that_forgets_a_rule(self, command: Command) -> None:
        name = "electrical/2017/edition.yaml"
        change = {name: FILES[name].replace('"marking.required#*"', '"marking.required#automatic"')}
        assert (
            f"book/{name}:1:1",
            "code 2017 forgets `marking.required#slow`: carry or change it; code 2014 has it at "
            f"book/{MARKS}:10:5",
        ) in self.told(command, change)

    def test_all_of_them_at_once(self, command: Command) -> None:
        told = self.told(
            command,
            planted(ACTS, "where: {control.kind: switch}", "where: {control.kin: switch}"),
            planted(TOWN, "alternative: switch", "alternative: swich"),
        )
        assert [at for at, _ in told] == [f"book/{ACTS}:11:13", f"book/{TOWN}:28:61"]


class TestText:
    def test_a_conflict_in_full(self, command: Command) -> None:
        written(Path(), planted(ACTS, "    exception_to: [sensor]\n", ""))
        ran = command("check", "--rulebook", "book")
        assert ran.status == 3
        told, _, rest = ran.out.partition("\nNAMES\n")
        assert told == f"""\
error: conflict in control.acts (code 2014, code 2017, town E1 and 1 more)
  book/{ACTS}:16:5
  `control.acts#button` says manual and `control.acts#sensor` says automatic of the same record, and
    neither prevails.
  Rules:
    control.acts#button: manual, code 2014, book/{ACTS}:16:5
      A sensor with a button is a switch. (code, 1)
    control.acts#sensor: automatic, code 2014, book/{ACTS}:4:5
      A sensor acts by itself. (code, 1)
  Wherever:
    control.kind: sensor
    control.by_hand: yes
    reading.sensor-is-switch: switch
  For example control1, with
    control1: control.kind sensor, control.by_hand yes
    reading.sensor-is-switch: switch
  To mend it:
    - Say which prevails: `exception_to: [sensor]` in `control.acts#button`, or `exception_to:
      [button]` in `control.acts#sensor` (in a layer, `prevails_over`).
    - Narrow `control.acts#button` or `control.acts#sensor` so that they do not meet.
"""
        assert rest == """\
  control.kind: What it is.
  control.by_hand: It has a button.
  reading.sensor-is-switch: How people read it: Is a sensor a switch?

1 error and 1 note; looked at 4 laws with 4 different tables of 10 rules.
Notes not printed: 1 of `where no rule fires`; `--all` prints them.

CAUTIONS
  - Line voltage can kill.
"""

    def test_all_prints_what_none_fires_answers(self, command: Command) -> None:
        written(Path())
        ran = command("check", "--rulebook", "book", "--all")
        assert ran.status == 0
        assert "note: where no rule fires in marking.required" in ran.out
        # the one rule marks what is automatic, the other is for more than 20 min
        assert (
            "  Wherever:\n    contact.slowest_min: at least 0 min and at most 20 min or not applicable\n"
            "    contact.automatic: no\n"
        ) in ran.out


class TestMeantToAskForLess:
    """An amendment that relaxes the text below is warned of, unless its layer says why it is meant to."""

    NARROW = """\
          - narrow: marking.required#automatic
            where: {contact.supply: controlled}
          - {choose_reading"""
    WHY = "the council's resolution 7"
    LESS = "`marking.required` is not required here, and without the amendments it is required"

    def told(self, command: Command, text: str) -> list[tuple[str, str]]:
        written(Path(), {TOWN: text})
        ran = command("check", "--rulebook", "book", "--format", "json")
        findings = json.loads(ran.out)["findings"]
        return [(f["severity"], f["says"]) for f in findings if f["kind"] == "less strict than the text below"]

    def text(self, head: str = "") -> str:
        text = CLEAN[TOWN].replace("          - {choose_reading", self.NARROW)
        return text.replace("  town-1:\n", f"  town-1:\n{head}")

    def test_where_nobody_says_so_it_is_a_warning(self, command: Command) -> None:
        assert self.told(command, self.text()) == [("warning", self.LESS)]

    def test_where_its_layer_says_why_it_is_a_note_that_names_it(self, command: Command) -> None:
        because = f"{self.LESS}; layer `town-1` is meant to ask for less: {self.WHY}"
        assert self.told(command, self.text(f"    less_strict: {self.WHY}\n")) == [("note", because)]

    def test_a_number_set_to_the_laxer_side_too(self, command: Command) -> None:
        text = CLEAN[TOWN].replace("  town-1:\n", f"  town-1:\n    less_strict: {self.WHY}\n")
        set_to = "          - {set_value: value.longest, value: 30 min}\n          - {choose_reading"
        text = text.replace("          - {choose_reading", set_to)
        told = self.told(command, text)
        assert {severity for severity, _ in told} == {"note"}
        assert (
            "`value.longest` is 30 min here, and without the amendments it is 20 min; lower is stricter; layer "
            f"`town-1` is meant to ask for less: {self.WHY}"
        ) in [says for _, says in told]

    @pytest.mark.parametrize(("head", "severity"), [("town-1", "note"), ("town-2", "warning")])
    def test_of_two_layers_the_one_to_blame_has_to_say_it(self, command: Command, head: str, severity: str) -> None:
        other = """\
  town-2:
    amendments:
      - id: T-2
        says: What is built in is marked.
        cite: {document: Town ordinance, section: "2"}
        checked: {seen: the ordinance}
        ops:
          - add: marking.required#built-in
            where: {contact.supply: controlled}
            then: required
"""
        text = self.text() + other
        text = text.replace("layers: [town-1]", "layers: [town-1, town-2]")
        text = text.replace(f"  {head}:\n", f"  {head}:\n    less_strict: {self.WHY}\n")
        assert [each for each, _ in self.told(command, text)] == [severity]


def test_only_some_places(command: Command) -> None:
    written(Path())
    ran = command("check", "--rulebook", "book", "--place", "town")
    # the town's two adoptions, the first with its layer: two tables of five rules in each
    assert (ran.status, ran.out.partition("\n")[0]) == (
        0,
        "1 note; looked at 2 laws with 4 different tables of 10 rules.",
    )
    ran = command("check", "--rulebook", "book", "--place", "twon")
    assert (ran.status, ran.err) == (2, "yokebook: no place `twon` in this rulebook (did you mean `town`?)\n")


def test_sarif_is_valid_and_points_at_the_rules(command: Command) -> None:
    written(Path(), planted(ACTS, "    exception_to: [sensor]\n", ""))
    log = json.loads(command("check", "--rulebook", "book", "--format", "sarif").out)
    results = log["runs"][0]["results"]
    clash = next(result for result in results if result["ruleId"] == "conflict")
    assert clash["level"] == "error"
    where = clash["locations"][0]["physicalLocation"]
    assert where["artifactLocation"]["uri"] == f"book/{ACTS}"
    assert where["region"] == {"startLine": 16, "startColumn": 5}
    if not OASIS_SCHEMA.exists():
        pytest.skip("the OASIS schema is not at hand")
    schema = json.loads(OASIS_SCHEMA.read_text(encoding="utf-8"))
    assert [error.message for error in Draft7Validator(schema).iter_errors(log)] == []


class TestDrafts:
    """The three drafts kept for practice: what a clerk is told of each."""

    def test_a_contradiction(self, command: Command) -> None:
        ran = command("check", DRAFTS / "contradiction.yaml", "--format", "json")
        assert ran.status == 3
        errors = [f for f in json.loads(ran.out)["findings"] if f["severity"] == "error"]
        # the draft excepts its rule from the one on automatic control, and two more say that a mark is required
        assert [(f["kind"], [b["id"] for b in f["blamed"]]) for f in errors] == [
            ("conflict", ["marking.required#copy-room", "marking.required#any-switch"]),
            ("conflict", ["marking.required#copy-room", "marking.required#built-in"]),
        ]
        assert all({"input": "space.use", "is": "print-copy"} in f["region"] for f in errors)

    def test_a_duty_that_shrinks(self, command: Command) -> None:
        ran = command("check", DRAFTS / "duty-that-shrinks.yaml", "--format", "json")
        assert ran.status == 0
        less = next(f for f in json.loads(ran.out)["findings"] if f["severity"] == "warning")
        assert less["kind"] == "less strict than the text below"
        assert [b["id"] for b in less["blamed"]] == ["marking.required#automatic"]
        # none of the rooms that the draft names is among those that lose the duty
        rooms = next(each["is"] for each in less["region"] if each["input"] == "space.use")
        lost = rooms.startswith("not ") == ("open office" in rooms)
        assert lost, rooms

    def test_a_stale_pin(self, command: Command) -> None:
        ran = command("check", DRAFTS / "stale-pin.yaml", "--format", "json")
        assert ran.status == 3
        errors = [f for f in json.loads(ran.out)["findings"] if f["severity"] == "error"]
        assert [f["kind"] for f in errors] == ["stale pin"]

    def test_mended_they_are_clean(self, command: Command, tmp_path: Path) -> None:
        text = (DRAFTS / "contradiction.yaml").read_text(encoding="utf-8")
        mended = tmp_path / "mended.yaml"
        mended.write_text(text.replace("exception_to: [automatic]", "exception_to: all"), encoding="utf-8")
        ran = command("check", mended)
        assert ran.status == 0
        assert "error" not in ran.out.partition("NAMES")[0]


def test_a_file_that_is_not_there(command: Command) -> None:
    ran = command("check", "nowhere.yaml")
    assert ran.status == 2
    assert "nowhere.yaml" in ran.err

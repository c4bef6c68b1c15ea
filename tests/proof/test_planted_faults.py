"""One fault of each kind planted in a small clean rulebook: what is found, where, with which record, and nothing else.

Regions, witnesses and whom to blame are worked out by hand from the few rules of the rulebook.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from proof.clean_book import ACTS, CLEAN, MARKS, TOWN, checked, loaded, planted, written, wrong
from small_rulebook import FILES
from yokebook.proof.checking import check_book
from yokebook.proof.findings import Finding

pytestmark = pytest.mark.usefixtures("in_a_folder")


@pytest.fixture
def in_a_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def found(*changes: dict[str, str], pinned: bool = True) -> list[Finding]:
    together = {name: text for change in changes for name, text in change.items()}
    return wrong(checked(written(Path(), together, pinned=pinned)))


def only(findings: list[Finding]) -> Finding:
    assert len(findings) == 1, [str(finding) for finding in findings]
    return findings[0]


def region(finding: Finding) -> dict[str, str]:
    return {each["input"]: each["is"] for each in finding.region}


def facts(finding: Finding) -> dict[str, str]:
    assert finding.record is not None
    return {each["fact"]: each["value"] for each in finding.record["facts"]}


def test_the_clean_rulebook_is_clean() -> None:
    report = checked(written(Path()))
    assert wrong(report) == []
    assert report.clean
    # two editions, and two entries of the town; the 2017 tables are carried whole
    assert (report.laws, report.rules) == (4, 10)


class TestGap:
    def test_a_narrowed_rule_leaves_a_hole(self) -> None:
        cell = "where: {control.kind: switch}"
        gap = only(found(planted(ACTS, cell, "where: {control.kind: switch, control.floors: {at_least: 1}}")))
        assert (gap.kind, gap.severity, str(gap.at)) == ("gap", "error", f"book/{ACTS}:10:5")
        assert gap.says == "`control.acts` must not be silent, and no rule says anything here"
        assert region(gap) == {"control.kind": "switch", "control.floors": "under 1"}
        assert facts(gap)["control.kind"] == "switch"
        assert int(facts(gap)["control.floors"]) < 1
        assert [each.id for each in gap.blamed] == ["control.acts#switch"]
        assert gap.repairs == (
            "add a rule for this region, or give `control.acts` an answer where none fires",
            "widen the cell on `control.floors` of `control.acts#switch`",
        )
        assert gap.reachable == "shown"
        assert gap.laws == ("code 2014", "code 2017", "town E1", "town E2")

    def test_a_hole_that_is_one_boundary_point_is_said_to_be_one(self) -> None:
        short = "where: {control.kind: sensor, control.delay_min: {less_than: 20 min}}"
        rule = FILES[ACTS][FILES[ACTS].index("  - id: sensor") : FILES[ACTS].index("  - id: switch")]
        text = CLEAN[ACTS].replace("where: {control.kind: sensor}", short, 1)
        text += rule.replace("id: sensor", "id: long").replace(
            "where: {control.kind: sensor}", "where: {control.kind: sensor, control.delay_min: {more_than: 20 min}}"
        )
        gap = only([each for each in found({ACTS: text}) if each.kind == "gap"])
        assert gap.says == (
            "`control.acts` must not be silent, and no rule says anything here; it is only where "
            "`control.delay_min` is exactly 20 min"
        )
        assert gap.boundary == ("control.delay_min",)
        assert region(gap)["control.delay_min"] == "20 min"
        assert facts(gap)["control.delay_min"] == "20 min"


class TestConflict:
    def test_an_exception_that_is_not_declared(self) -> None:
        clash = only(found(planted(ACTS, "    exception_to: [sensor]\n", "")))
        assert (clash.kind, clash.severity, str(clash.at)) == ("conflict", "error", f"book/{ACTS}:16:5")
        assert clash.says == (
            "`control.acts#button` says manual and `control.acts#sensor` says automatic of the same record, and "
            "neither prevails"
        )
        assert region(clash) == {
            "control.kind": "sensor",
            "control.by_hand": "yes",
            "reading.sensor-is-switch": "switch",
        }
        assert facts(clash) == {"control.kind": "sensor", "control.by_hand": "yes"}
        assert clash.record is not None and clash.record["readings"] == {"sensor-is-switch": "switch"}
        assert [(each.id, str(each.at)) for each in clash.blamed] == [
            ("control.acts#button", f"book/{ACTS}:16:5"),
            ("control.acts#sensor", f"book/{ACTS}:4:5"),
        ]
        assert clash.repairs == (
            "say which prevails: `exception_to: [sensor]` in `control.acts#button`, or `exception_to: [button]` in "
            "`control.acts#sensor` (in a layer, `prevails_over`)",
            "narrow `control.acts#button` or `control.acts#sensor` so that they do not meet",
        )

    def test_one_that_no_record_was_found_for_is_a_note(self) -> None:
        # a contact is not automatic and without any control at once; the two are no inputs of each other's
        none = """\
  - id: no-control
    where: {contact.automatic: yes, contact.supply: always on}
    then: not required
    says: What is not switched is not marked.
    cite: {document: code, section: "1"}
    checked: {seen: the text}
"""
        never = "impossible:\n  - {where: {contact.supply: always on, contact.count: {at_least: 1}}, because: so}\n"
        count = "  contact.count:\n    type: number\n    says: How many.\n    count: {over: contact.controls}\n"
        changes = {
            MARKS: FILES[MARKS] + none,
            "facts/contact.yaml": FILES["facts/contact.yaml"] + never,
            "calculations/contact.yaml": FILES["calculations/contact.yaml"] + count,
        }
        report = checked(written(Path(), changes))
        assert wrong(report) == []
        note = only([each for each in report.findings if each.kind == "conflict"])
        assert (note.severity, note.reachable, note.record) == ("note", "not shown", None)


class TestRulesThatDecideNothing:
    def test_a_rule_that_exceptions_cover(self) -> None:
        text = CLEAN[ACTS].replace("control.by_hand: yes, reading.sensor-is-switch: switch", "control.by_hand: yes")
        other = text[text.index("  - id: button") :].replace("id: button", "id: no-button")
        text += other.replace("control.by_hand: yes", "control.by_hand: no").replace("then: manual", "then: automatic")
        dead = only([each for each in found({ACTS: text}) if each.kind == "rule that never decides"])
        assert (dead.severity, str(dead.at)) == ("error", f"book/{ACTS}:4:5")
        assert dead.says == (
            "`control.acts#sensor` never decides anything: wherever it fires, `control.acts#button` and "
            "`control.acts#no-button` prevail"
        )
        assert dead.repairs == (
            "narrow `control.acts#button` and `control.acts#no-button` so that something is left to "
            "`control.acts#sensor`",
            "take `control.acts#sensor` out",
        )

    def test_in_a_place_that_leaves_an_editions_rule_dead_it_is_a_note(self) -> None:
        over = """\
          - add: control.acts#all-by-hand
            exception_to: [sensor]
            where: {control.kind: sensor}
            then: manual
            says: Here a sensor is a switch.
          - {choose_reading"""
        report = checked(written(Path(), planted(TOWN, "          - {choose_reading", over)))
        dead = only([each for each in report.findings if each.kind == "rule that never decides"])
        assert (dead.severity, dead.laws) == ("note", ("town E1",))
        assert dead.says == (
            "`control.acts#sensor` never decides anything: wherever it fires, `control.acts#all-by-hand` prevails"
        )

    def test_a_rule_that_says_what_others_say_anyway(self) -> None:
        again = """\
  - id: again
    where: {control.kind: switch, control.floors: {at_least: 2}}
    then: manual
    says: A switch over several floors does not act by itself.
    cite: {document: code, section: "1"}
    checked: {seen: the text}
"""
        report = checked(written(Path(), {ACTS: CLEAN[ACTS] + again}))
        same = only([each for each in report.findings if each.kind == "redundant rule"])
        assert (same.severity, str(same.at)) == ("note", f"book/{ACTS}:23:5")
        assert same.says == (
            "`control.acts#again` could be left out: everywhere it fires the table says manual without it too"
        )


def test_a_cell_that_no_value_fits() -> None:
    cell = "where: {control.kind: switch, control.floors: {more_than: 2, less_than: 3}}"
    findings = found(planted(ACTS, "where: {control.kind: switch}", cell))
    empty = only([each for each in findings if each.kind == "empty cell"])
    assert (empty.severity, str(empty.at)) == ("error", f"book/{ACTS}:10:5")
    assert empty.says == (
        "no value of `control.floors` is over 2 and under 3, so this box of `control.acts#switch` never holds"
    )
    assert {each.kind for each in findings} == {"empty cell", "gap", "rule that never decides"}


def test_a_cell_that_a_named_number_empties() -> None:
    cell = "{contact.slowest_min: {more_than: value.longest, at_most: 20 min}}"
    findings = found(planted(MARKS, "{contact.slowest_min: {more_than: value.longest}}", cell))
    assert [each.says for each in findings if each.kind == "empty cell"] == [
        "no value of `contact.slowest_min` is over 20 min and at most 20 min, so this box of `marking.required#slow` "
        "never holds"
    ]


class TestPins:
    def test_a_missing_pin(self) -> None:
        missing = only(found(pinned=False))
        assert (missing.kind, missing.severity) == ("missing pin", "error")
        assert missing.at is not None and missing.at.file == f"book/{TOWN}"
        assert missing.says.startswith(
            "`choose_reading` of `sensor-is-switch` has no pin, so layer `town-1` is a draft and cannot be in force; "
        )

    def test_a_stale_pin(self) -> None:
        book = written(Path())
        readings = book / "readings" / "sensor.yaml"
        text = readings.read_text(encoding="utf-8")
        readings.write_text(
            text.replace("it is one, standing: argued", "it is one, standing: published"), encoding="utf-8"
        )
        stale = only(wrong(checked(book)))
        assert (stale.kind, stale.severity) == ("stale pin", "error")
        assert stale.at is not None and stale.at.file == f"book/{TOWN}"


class TestReadings:
    def test_one_that_changes_nothing(self) -> None:
        text = CLEAN[ACTS].replace(", reading.sensor-is-switch: switch", "")
        idle = only(found({ACTS: text}))
        assert (idle.kind, idle.severity) == ("reading that changes nothing", "error")
        assert str(idle.at) == "book/readings/sensor.yaml:2:3"
        assert idle.says == "the reading `sensor-is-switch` changes nothing: no table gives another outcome by it"

    def test_one_whose_rule_says_what_the_table_says_anyway(self) -> None:
        manual = "then: manual\n    says: A sensor with a button is a switch."
        automatic = "then: automatic\n    says: A sensor with a button is one all the same."
        idle = only(found(planted(ACTS, manual, automatic)))
        assert idle.kind == "reading that changes nothing"

    def test_one_chosen_by_two_layers(self) -> None:
        again = """\
  town-2:
    amendments:
      - id: T-2
        says: A sensor is no switch after all.
        cite: {document: Town ordinance, section: "2"}
        checked: {seen: the ordinance}
        ops:
          - {choose_reading: sensor-is-switch, alternative: no switch, was: open}
"""
        text = CLEAN[TOWN].replace("layers: [town-1]", "layers: [town-1, town-2]") + again
        twice = only(found({TOWN: text}))
        assert (twice.kind, twice.severity) == ("reading chosen by two layers", "error")
        assert twice.says == (
            "`T-2` chooses `no switch` of the reading `sensor-is-switch`, for which `T-1` of a layer below has chosen "
            "`switch` already"
        )
        assert [each.id for each in twice.blamed] == ["T-2", "T-1"]
        assert (
            found({TOWN: text.replace("alternative: no switch, was: open", "alternative: no switch, was: switch")})
            == []
        )


class TestLinesOfTime:
    def test_days_before_a_line_begins_are_a_note(self) -> None:
        report = checked(
            written(Path(), planted(TOWN, "    - {id: E0, not_entered: nothing before 2015 is entered}\n", ""))
        )
        assert wrong(report) == []
        hole = only([each for each in report.findings if each.kind == "hole in a line of time"])
        assert hole.says == "Town: nothing says which electrical document governs before 2015-01-01"

    def test_days_that_a_place_followed_leaves_open(self) -> None:
        town = CLEAN[TOWN].replace("    - {id: E0, not_entered: nothing before 2015 is entered}\n", "")
        village = """\
place: village
name: Village
office: the town's counter
lines:
  electrical:
    - {id: V0, not_entered: nothing before 2010 is entered}
    - {id: V1, event: permit application, on_or_after: 2010-01-01, follows: town, source: invented}
"""
        hole = only(found({TOWN: town, "places/village.yaml": village}))
        assert (hole.kind, hole.severity) == ("hole in a line of time", "error")
        assert hole.says == (
            "Village: nothing says which electrical document governs from 2010-01-01 to the day before 2015-01-01"
        )
        assert str(hole.at) == "book/places/village.yaml:7:7"


class TestRelaxing:
    CHANGE = """\
          - narrow: marking.required#automatic
            where: {contact.supply: controlled}
          - {choose_reading"""

    def test_a_duty_that_shrinks_is_a_warning(self) -> None:
        less = only(found(planted(TOWN, "          - {choose_reading", self.CHANGE)))
        assert (less.kind, less.severity) == ("less strict than the text below", "warning")
        assert less.says == "`marking.required` is not required here, and without the amendments it is required"
        assert region(less)["contact.supply"] == "always on"
        assert region(less)["contact.automatic"] == "yes"
        assert [each.id for each in less.blamed] == ["marking.required#automatic"]
        assert less.blamed[0].by == "T-1"

    def test_where_a_layer_may_only_be_stricter_it_is_an_error(self) -> None:
        text = CLEAN[TOWN].replace("          - {choose_reading", self.CHANGE)
        text = text.replace("  town-1:\n", "  town-1:\n    stricter_only: the state's enabling act, section 3\n")
        less = only(found({TOWN: text}))
        assert (less.kind, less.severity) == ("less strict than the text below", "error")
        assert less.says == (
            "`marking.required` is not required here, and without the amendments it is required; layer `town-1` may "
            "only be stricter: the state's enabling act, section 3"
        )

    def test_so_is_a_number_set_to_the_laxer_side(self) -> None:
        change = """\
          - set_value: value.longest
            value: 30 min
          - {choose_reading"""
        text = CLEAN[TOWN].replace("          - {choose_reading", change)
        text = text.replace("  town-1:\n", "  town-1:\n    stricter_only: the state's enabling act, section 3\n")
        says = [each.says for each in found({TOWN: text}) if each.severity == "error"]
        assert (
            "`value.longest` is 30 min here, and without the amendments it is 20 min; lower is stricter; layer "
            "`town-1` may only be stricter: the state's enabling act, section 3"
        ) in says


def test_past_the_budget_it_is_not_decided_and_never_fine() -> None:
    book = loaded(written(Path()))
    report = check_book(book, states=0)
    undecided = [each for each in report.findings if each.severity == "not decided"]
    assert undecided
    assert not report.clean
    assert all(each.says.endswith("is not decided: it would take more than 0 steps") for each in undecided)


def test_the_edition_that_takes_a_number_down_is_told_by_its_own_name() -> None:
    # the empty cell of `slow` is the edition's own fault only from 2017 on
    change = (
        FILES["electrical/2017/edition.yaml"].replace(", value.longest]", "]")
        + """\
changes:
  - set_value: value.longest
    value: 240 min
    stricter: lower
    says: Longer.
    cite: {document: code, section: "2"}
    checked: {seen: the text}
"""
    )
    above = FILES[MARKS].replace("{more_than: value.longest}", "{more_than: value.longest, at_most: 240 min}")
    empty = [
        each for each in found({"electrical/2017/edition.yaml": change, MARKS: above}) if each.kind == "empty cell"
    ]
    assert [each.laws for each in empty] == [("code 2017", "town E2")]

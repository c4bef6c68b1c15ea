"""`schedule` and `authority` on the demo building, `differ` on a small shop; expected values come from their files."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path
from typing import Any

import pytest

from command_line.running import DEMO, Command, Ran
from outputs.small_shop import SHOP
from shipped_book import rulebook

#: Yokes of the demo in its order, the halves that something switches, and whether halves are fed apart. In the invented
#: city every controlled receptacle outside dwellings is marked; the lamp in the living room is not, the timer's are.
YOKES = {
    "living/R1": ("none", "keep"),
    "living/R2": ("none", "remove"),
    "den/R1": ("both", "keep"),
    "office/P1": ("the one", "none on this device"),
    "office/R1": ("upper", "remove"),
    "office/R2": ("upper", "remove"),
    "office/R3": ("upper", "remove"),
    "office/R4": ("upper", "remove"),
    "copy/R1": ("upper", "remove"),
    "copy/R2": ("upper", "remove"),
    "copy/R3": ("upper", "remove"),
    "break/C1": ("upper", "remove"),
    "break/W1": ("upper", "remove"),
    "guest/D1": ("both", "keep"),
    "guest/B1": ("upper", "remove"),
    "guest/B2": ("upper", "remove"),
    "guest/V1": ("upper", "remove"),
    "guest/M1": ("none", "keep"),
}


#: What a command printed for the same words, so that the demo is ruled on once for each.
_RAN: dict[tuple[str, ...], Ran] = {}


def once(command: Command, *argv: str | Path) -> Ran:
    key = tuple(str(argument) for argument in argv)
    if key not in _RAN:
        _RAN[key] = command(*argv)
    return _RAN[key]


def as_json(command: Command, *argv: str | Path) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(once(command, *argv, "--format", "json").out)
    return found


class TestSchedule:
    def test_every_yoke_with_its_mark_and_tab(self, command: Command):
        lines = as_json(command, "schedule", DEMO)["schedule"]["lines"]
        assert {line["yoke"]: (line["marked"], line["hot_tab"]) for line in lines} == YOKES
        assert [line["yoke"] for line in lines] == list(YOKES)

    def test_what_to_order(self, command: Command):
        """Counted in the file: 5-15R in the dwelling rooms, 5-20R elsewhere, one single at the plotter."""
        order = as_json(command, "schedule", DEMO)["schedule"]["order"]
        assert {each["device"]: each["count"] for each in order["devices"]} == {
            "5-15R duplex, unmarked": 2,
            "5-15R duplex, marked as controlled on both halves": 1,
            "5-20R single, marked as controlled": 1,
            "5-20R duplex, marked as controlled on upper half": 12,
            "5-20R duplex, marked as controlled on both halves": 1,
            "5-20R duplex, unmarked": 1,
        }
        assert sum(each["hot_tab_removed"] for each in order["devices"]) == 13
        assert order["breaker_ties"] == []

    def test_a_sensor_that_is_too_small(self, command: Command):
        """1,800 W over 120 V are 15 A; the breaker is 20 A; 1,440 W and 600 W at 120 V take 17 A."""
        lines = as_json(command, "schedule", DEMO)["schedule"]["lines"]
        [sensor] = next(line for line in lines if line["yoke"] == "copy/R1")["controls"]
        assert (sensor["rated"], sensor["rating"]) == ("15 A", ["not satisfied"])
        assert {figure["exact"] for figure in sensor["needed"]} == {"20"}
        assert [f["exact"] for f in sensor["carries"] if f["calculation"] == "control.load_amps"] == ["17"]
        assert sensor["order"] == "wall-box sensor, at least 20 A, may feed receptacles: permitted"

    def test_the_refrigerator_is_to_be_moved(self, command: Command):
        lines = as_json(command, "schedule", DEMO)["schedule"]["lines"]
        moves = {line["yoke"]: line["move"] for line in lines if line["move"]}
        assert moves == {
            "break/W1": [{"load": "refrigerator", "half": "upper", "word": "move to always-on [R51]"}]
        }

    def test_text_and_exit_status(self, command: Command):
        ran = once(command, "schedule", "--demo")
        assert ran.status == 1  # as `rule` on the same building
        assert "Device: 5-20R duplex, marked as controlled on upper half" in ran.words
        assert "Not sure: timer in the home office: readings differ" in ran.words
        assert "ON THE LINES ABOVE, FROM MEMORY" in ran.out
        assert ran.words.endswith(" ".join(rulebook().book.cautions[-1].split()))

    def test_csv_has_a_row_for_each_yoke(self, command: Command):
        ran = command("schedule", DEMO, "--format", "csv")
        rows = list(csv.DictReader(io.StringIO(ran.out)))
        assert [row["path"] for row in rows] == list(YOKES)
        assert ran.err == ""

    def test_csv_says_how_many_cells_got_an_apostrophe(self, command: Command):
        """Two of the shop's four devices are on its shop floor."""
        named = SHOP.replace("name: shop floor", 'name: "=HYPERLINK(1)"')
        ran = command("schedule", "-", "--format", "csv", stdin=named)
        rows = list(csv.DictReader(io.StringIO(ran.out)))
        assert [row["room"] for row in rows] == ["'=HYPERLINK(1)", "'=HYPERLINK(1)", "store", "store"]
        assert ran.err == (
            "yokebook: 2 of the cells begin with an apostrophe, so that no spreadsheet takes them for a formula\n"
        )

    def test_a_topic_brings_its_questions(self, command: Command):
        """A ground-fault duplex has no tab to break: with the topic, the ruling on tabs says so too."""
        found = json.loads(command("schedule", "-", "--format", "json", "--topic", "wiring", stdin=SHOP).out)
        line = next(line for line in found["schedule"]["lines"] if line["yoke"] == "shop/G1")
        assert "R31 G1, at the sink, shop floor: other device" in line["against"]
        assert any(note.startswith("other device: ") for note in line["wires"])

    def test_json_says_what_it_stands_on(self, command: Command):
        found = as_json(command, "schedule", DEMO)
        assert found["dates"] == {"permit application": "2024-10-15"}
        assert [document["edition"] for document in found["documents"]] == ["2023", "2021"]
        assert found["exit_status"] == 1
        assert found["cautions"] == list(rulebook().book.cautions)

    def test_a_schedule_in_csv_goes_in_with_its_mapping(self, command: Command):
        demo = DEMO.with_name("brindle-falls-devices.csv")
        ran = command("schedule", demo, "--mapping", demo.with_suffix(".mapping.yaml"), "--format", "json")
        lines = json.loads(ran.out)["schedule"]["lines"]
        assert lines and {line["room"] for line in lines} >= {"Conference 2"}

    def test_law_without_marks(self, command: Command):
        ran = command("schedule", DEMO, "--edition", "brindle-falls-energy:2021")
        assert "No line: no document in force rules on the mark of a receptacle given here." in ran.words

    def test_no_file_and_a_file_beside_the_demo_are_wrong_usage(self, command: Command):
        for argv in (("schedule",), ("schedule", DEMO, "--demo"), ("authority",), ("authority", DEMO, "--demo")):
            ran = command(*argv)
            assert (ran.status, ran.out) == (2, "")
            assert ran.err == "yokebook: give one file: a project or schedule, - for standard input, or --demo\n"

    def test_an_unknown_topic(self, command: Command):
        assert command("schedule", DEMO, "--topic", "wirring").status == 2

    def test_a_refused_record(self, command: Command):
        ran = command("schedule", "-", "--format", "json", stdin="spaces: [{id: a, use: nowhere}]")
        assert ran.status == 3
        assert json.loads(ran.out)["schedule"]["lines"] == []
        assert "nowhere" in ran.err


class TestAuthority:
    def test_the_demo_asks_three_things(self, command: Command):
        """The card switch feeds D1, B1, B2 and V1; the two switches on whose rating a clause is read in two ways, or
        could matter, feed den/R1, B1 and B2; the timer feeds den/R1. Of eighteen devices three are a tenth."""
        questions = as_json(command, "authority", DEMO)["questions"]
        assert [(q["id"], q["rank"], q["devices"]) for q in questions] == [
            ("card-switch", "many devices", ["guest/D1", "guest/B1", "guest/B2", "guest/V1"]),
            ("switch-rating", "many devices", ["den/R1", "guest/B1", "guest/B2"]),
            ("count-down-timer", "other", ["den/R1"]),
        ]

    def test_what_each_reading_would_give(self, command: Command):
        [rating] = [q for q in as_json(command, "authority", DEMO)["questions"] if q["id"] == "switch-rating"]
        gives = {each["id"]: each["gives"]["R12"] for each in rating["alternatives"]}
        assert gives == {
            "largest permitted breaker": {"not satisfied": 1, "cannot tell": 1},
            "actual breaker": {"satisfied": 1, "cannot tell": 1},
        }
        assert rating["meanwhile"]["id"] == "largest permitted breaker"

    def test_text_and_exit_status(self, command: Command):
        ran = once(command, "authority", "--demo")
        assert ran.status == 1
        assert "Answer of Brindle Falls building counter: ____________ date: ________" in ran.words
        assert "2 of 2 rest on memory" in ran.words
        assert ran.words.endswith(" ".join(rulebook().book.cautions[-1].split()))

    def test_a_code_that_is_not_entered(self, command: Command):
        """From 2018 until the first edition, the invented city's line of time says that nothing is entered."""
        questions = as_json(command, "authority", DEMO, "--date", "permit application=2018-06-01")["questions"]
        entries = [q for q in questions if q["kind"] == "entry"]
        assert entries and entries[0]["rank"] == "many devices"
        assert entries[0]["office"] == "Brindle Falls building counter"


class TestDiffer:
    """The shop's sensor waits 15 minutes, on a copy room's list that asks for 20 at most."""

    PLAN = SHOP.replace("name: shop floor", "name: shop floor\n    occupancy: office\n    use: print-copy")

    def files(self, tmp_path: Path, *changes: tuple[str, str]) -> tuple[Path, Path]:
        text = self.PLAN
        for old, new in changes:
            assert old in text
            text = text.replace(old, new)
        plan, field = tmp_path / "plan.yaml", tmp_path / "field.yaml"
        plan.write_text(self.PLAN, encoding="utf-8")
        field.write_text(text, encoding="utf-8")
        return plan, field

    def test_no_difference(self, command: Command, tmp_path: Path):
        ran = command("differ", *self.files(tmp_path))
        assert ran.status == 0
        assert "No difference, neither in what is given nor in what is ruled of it." in ran.words
        assert ran.words.endswith(" ".join(rulebook().book.cautions[-1].split()))

    def test_a_delay_set_longer_is_against_now(self, command: Command, tmp_path: Path):
        files = self.files(tmp_path, ("off_delay_min: 15 min", "off_delay_min: 25 min"))
        ran = command("differ", *files, "--format", "json")
        found = json.loads(ran.out)
        assert (ran.status, found["exit_status"], found["field"]) == (1, 1, str(files[1]))
        [room] = found["differences"]["rooms"]
        [thing], [ruling] = room["things"], room["rulings"]
        assert (room["room"], thing["path"]) == ("shop floor", "C1")
        assert [(fact["what"], fact["was"], fact["is"]) for fact in thing["facts"]] == [
            ("control.off_delay_min", "15 min", "25 min")
        ]
        assert (ruling["ruling"], ruling["against"]) == ("R23", True)
        assert ruling["was"].startswith("satisfied") and ruling["is"].startswith("not satisfied")

    def test_text(self, command: Command, tmp_path: Path):
        ran = command("differ", *self.files(tmp_path, ("off_delay_min: 15 min", "off_delay_min: 25 min")))
        assert ran.status == 1
        assert "1 ruling with another word, 1 of them against as it is now." in ran.words
        assert "AGAINST control C1, shop sensor: Does the control switch off soon enough" in ran.words

    def test_both_are_ruled_on_by_the_plans_law(self, command: Command, tmp_path: Path):
        """Another place and date in the field's record are differences, and nothing else is."""
        city, county = "demo/tamarisk/brindle-falls", "demo/tamarisk"
        files = self.files(tmp_path, ("2024-10-15", "2018-06-01"), (f"place: {city}", f"place: {county}"))
        found = json.loads(command("differ", *files, "--format", "json").out)
        assert found["differences"]["project"] == [
            {"what": "place", "was": city, "is": county},
            {"what": "permit application", "was": "2024-10-15", "is": "2018-06-01"},
        ]
        assert found["differences"]["rooms"] == []
        assert (found["place"], found["dates"]) == (
            "City of Brindle Falls (invented)",
            {"permit application": "2024-10-15"},
        )
        assert {document["place"] for document in found["documents"]} == {city}

    def test_one_from_standard_input(self, command: Command, tmp_path: Path):
        assert command("differ", self.files(tmp_path)[0], "-", stdin=self.PLAN).status == 0

    def test_wrong_usage(self, command: Command, tmp_path: Path):
        ran = command("differ", "-", "-")
        assert (ran.status, ran.err) == (2, "yokebook: only one of the two can come from standard input\n")
        ran = command("differ", DEMO, "schedule.csv")
        assert (ran.status, ran.err) == (
            2,
            "yokebook: `schedule.csv` is a schedule; differ takes two projects (YAML or JSON)\n",
        )
        assert command("differ", DEMO, tmp_path / "none.yaml").status == 2

    def test_a_refused_record(self, command: Command, tmp_path: Path):
        plan, field = self.files(tmp_path, ("kind: refrigeration", "kind: refridgeration"))
        ran = command("differ", plan, field)
        assert (ran.status, ran.out) == (3, "")
        assert ran.err.startswith("yokebook: nothing was compared, because a record was refused:\n")
        assert "field.yaml" in ran.err and "`refridgeration`" in ran.err


@pytest.mark.parametrize("name", ["schedule", "authority", "differ"])
def test_help_tells_what_it_is_for(command: Command, name: str):
    ran = command(name, "--help")
    assert ran.status == 0
    assert "--topic TOPIC" in ran.out and "--place PLACE" in ran.out

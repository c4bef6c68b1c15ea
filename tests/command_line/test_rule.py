"""`yokebook rule` on the demo building and on small projects of one or two devices.

The demo's outcomes are those of the worked scenarios it is made from: a sensor marked 1,800 W at 120 V is 15 A on a
20 A circuit; 1,440 W and 600 W make 2,040 W; a half of nine receptacles rounds up to five; an off-delay of 30 min is
10 over 20.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from command_line.running import DEMO, Command, Ran

ROOM = """\
project: {{place: demo/tamarisk, dates: {{permit application: {day}}}}}
complete: yes
spaces:
  - id: office
    occupancy: office
    use: private office
    required_lighting_outlet: met by luminaire
    yokes:
      - id: R1
        configuration: 5-20R
        device_type: single
        built_in_control: no
        contacts:
          - {{id: only, position: only, supply: controlled, controls: [S1], load: none, mark: {mark}}}
controls:
  - {{id: S1, kind: {kind}, turns_off_by: {off}, location: wall elsewhere, acts_as_wall_switch: yes, wired_loads: []}}
"""


@pytest.fixture
def room(tmp_path: Path):
    """Writes a room with one receptacle on one control; returns the file."""

    def write(day="2023-05-10", mark="none", kind="wall-box sensor", off="presence") -> Path:
        file = tmp_path / "room.yaml"
        file.write_text(ROOM.format(day=day, mark=mark, kind=kind, off=off), encoding="utf-8")
        return file

    return write


#: Enough questions to see every kind of ruling in the demo, in a fraction of the time that all take.
SOME = tuple(word for number in ("R03", "R12", "R23", "R60") for word in ("--question", number))

_RAN: dict[tuple[str, ...], Ran] = {}


def demo(command: Command, *options: str) -> Ran:
    """`yokebook rule --demo` with these options, run once for all tests of it."""
    if options not in _RAN:
        _RAN[options] = command("rule", "--demo", *options)
    return _RAN[options]


class TestDemo:
    def test_text(self, command: Command):
        ran = demo(command)
        assert ran.status == 1  # something in it is against
        assert ran.err == ""
        assert "Copper Kettle Block, six rooms (invented)" in ran.words
        assert "City of Brindle Falls (invented); permit application 2024-10-15" in ran.words
        assert "2023 edition, with BF-1, BF-2 and BF-4" in ran.words
        for title in ("AGAINST", "READINGS DIFFER", "CANNOT TELL", "COUNTS", "BY DEVICE", "CAUTIONS"):
            assert f"\n{title}" in ran.out
        assert "15 A < 20 A by 5 A" in ran.words
        assert "2040 W > 1800 W by 240 W" in ran.words
        assert "4 < 5 by 1" in ran.words
        assert "30 min, which is over 20 min by 10 min" in ran.words
        assert "W1 upper, west wall, at the refrigerator: move to always-on" in ran.words
        assert "R1, R2 and R3: mark upper; 5-20R duplex; hot tab: remove; neutral tab: keep" in ran.words
        assert "D1, at the desk: mark both; 5-20R duplex; keep both tabs" in ran.words

    def test_text_is_plain_and_fits(self, command: Command):
        ran = demo(command, "--all", *SOME)
        assert ran.out.isascii()
        assert "\x1b" not in ran.out
        too_wide = [line for line in ran.out.split("\n") if len(line) > 100 and " " in line.strip()]
        assert too_wide == []

    def test_twice_the_same(self, command: Command):
        assert demo(command, *SOME).out == command("rule", "--demo", *SOME).out

    def test_json_has_the_views(self, command: Command):
        ran = demo(command, "--format", "json", *SOME)
        [project] = json.loads(ran.out)["projects"]
        views = project["views"]
        marks = {entry["yoke"]: entry["mark"] for entry in views["marks_by_yoke"]}
        assert marks["copy/R1"] == "upper"
        assert marks["guest/D1"] == "both"
        assert marks["living/R2"] == "none"
        assert marks["office/P1"] == "the one"
        parts = {entry["yoke"]: entry for entry in views["parts_to_buy"]}
        assert (parts["copy/R1"]["configuration"], parts["copy/R1"]["hot_tab"]) == ("5-20R", "remove")
        effects = {(e["question"], e["subject"]["id"]): e for e in views["amendment_effects"]}
        plotter = effects["marking.required", "office/P1/only"]
        assert (plotter["base"], plotter["amended"], plotter["effect"]) == ("not required", "required", "adds")
        assert plotter["by"] == ["BF-1"]
        assert {(d["kind"], d["entry"]) for d in views["governing_editions"]} == {
            ("electrical", "BF-EC23"),
            ("energy", "BF-ENB-2024"),
        }

    def test_json_lines_and_sarif_agree_with_json_on_every_word(self, command: Command):
        [project] = json.loads(demo(command, "--format", "json", *SOME).out)["projects"]
        lines = [json.loads(line) for line in demo(command, "--format", "jsonl", *SOME).out.splitlines()]
        [run] = json.loads(demo(command, "--format", "sarif", *SOME).out)["runs"]
        words = [ruling["word"] for ruling in project["rulings"]]
        assert [line["word"] for line in lines] == words
        assert [result["properties"]["word"] for result in run["results"]] == words
        fails = [result for result in run["results"] if result["kind"] == "fail"]
        assert len(fails) == project["counts"]["against"]


class TestStatus:
    def test_an_unmarked_controlled_receptacle_is_against_and_exits_1(self, command: Command, room):
        ran = command("rule", room(), "--question", "R60")
        assert ran.status == 1
        assert "not satisfied" in ran.words

    def test_a_hand_switch_needs_no_mark_and_exits_0(self, command: Command, room):
        ran = command("rule", room(kind="snap switch", off="person"), "--question", "marking.required")
        assert ran.status == 0
        assert "not required" in ran.words

    def test_what_cannot_be_told_exits_4(self, command: Command, tmp_path: Path):
        file = tmp_path / "little.yaml"
        file.write_text(
            "project: {place: demo/tamarisk, dates: {permit application: 2023-05-10}}\ncontrols: [{id: S1}]\n",
            encoding="utf-8",
        )
        ran = command("rule", file, "--question", "R01")
        assert ran.status == 4
        assert "S1: cannot tell, could be manual or automatic" in ran.words

    def test_a_day_that_is_not_entered_exits_4(self, command: Command, room):
        ran = command(
            "rule", room(), "--place", "demo/tamarisk/brindle-falls", "--on", "2019-05-01", "--question", "R03"
        )
        assert ran.status == 4
        assert "no adoption entered" in ran.words

    def test_an_edition_nobody_read_exits_4_and_never_1(self, command: Command, room):
        ran = command("rule", room(), "--edition", "nfpa-70:2026", "--question", "R60")
        assert ran.status == 4
        assert "would be not satisfied" in ran.words
        assert "not checked in this edition" in ran.words

    def test_bad_input_exits_3_and_good_files_are_still_ruled(self, command: Command, room, tmp_path: Path):
        bad = tmp_path / "bad.yaml"
        bad.write_text("project: {place: demo/tamarisk}\ncircuits: [{id: C1, breaker_amps: 20 kW}]\n", encoding="utf-8")
        ran = command("rule", bad, room(), "--question", "R60")
        assert ran.status == 3
        assert f"{bad}:2:" in ran.words.replace("bad.yaml: 2", "bad.yaml:2")
        assert "not satisfied" in ran.words

    def test_a_place_in_a_file_that_is_none_exits_3(self, command: Command, tmp_path: Path):
        file = tmp_path / "nowhere.yaml"
        file.write_text("project: {place: demo/nowhere}\n", encoding="utf-8")
        ran = command("rule", file)
        assert ran.status == 3
        assert "`demo/nowhere` is no place" in ran.words

    def test_no_place_at_all_exits_3(self, command: Command, tmp_path: Path):
        file = tmp_path / "p.yaml"
        file.write_text("project: {name: x}\n", encoding="utf-8")
        ran = command("rule", file)
        assert ran.status == 3
        assert "no place is given; add one to the project, or give --place or --edition" in ran.words


@pytest.mark.parametrize(
    ("argv", "message"),
    [
        (["rule"], "no file given; name a project or schedule, - for standard input, or --demo"),
        (["rule", "no-such.yaml"], "there is no file `no-such.yaml`"),
        (["rule", "."], "`.` is a folder; give a file"),
        (["rule", "--demo", "--place", "demo/nowhere"], "no place `demo/nowhere` in this rulebook"),
        (["rule", "--demo", "--on", "2024-13-01"], "`2024-13-01` is not a date; write it as 2024-10-15"),
        (["rule", "--demo", "--edition", "nfpa-70:1999"], "`nfpa-70` has no edition `1999` in this rulebook; it has"),
        (
            ["rule", "--demo", "--edition", "2023"],
            "`2023` is not an edition; write document and edition as nfpa-70:2023",
        ),
        (["rule", "--demo", "--edition", "nfpa-70:2023", "--on", "2024-01-01"], "--edition rules by a bare edition"),
        (
            ["rule", "--demo", "--question", "marking.requird"],
            "no question `marking.requird` (did you mean `marking.req",
        ),
        (["rule", "--demo", "--rulebook", "no-such-folder"], "no folder `no-such-folder`; --rulebook takes a folder"),
        (["rule", "--demo", "--form", "json"], "unrecognized arguments: --form"),
        (["rule", "--demo", "--format", "xml"], "invalid choice: 'xml'"),
        (["rule", "schedule.csv"], "`schedule.csv` is a schedule; --mapping names the file"),
        (["explain", str(DEMO), "office/P9", "R03"], "nothing in the record has the path `office/P9`"),
        (["explain", str(DEMO), "S1", "R03"], "no document in force answers `R03` for a control, which `S1` is"),
        (["table", "R03"], "no place given; give --place, or --edition for a bare edition"),
        (["places", "demo/tamarsk"], "there is no place `demo/tamarsk` (did you mean `demo/tamarisk`?)"),
    ],
    ids=lambda value: " ".join(value)[-40:] if isinstance(value, list) else "",
)
def test_wrong_usage_exits_2_with_one_clear_message(command: Command, argv, message):
    ran = command(*argv)
    assert ran.status == 2
    assert ran.out == ""
    assert message in ran.err


def test_dates_and_place_of_the_command_line_win_over_the_file(command: Command, room):
    """One receptacle on a hand switch: no rule of the 2020 edition marks it, the city's ordinance of 2024 does."""
    file = room(kind="snap switch", off="person", day="2023-05-10")
    assert "1 not required" in command("rule", file, "--question", "R03").words
    there = ["--place", "demo/tamarisk/brindle-falls", "--date", "permit application=2024-10-01"]
    ran = command("rule", file, "--question", "R03", "--all", *there)
    assert "R1, private office: required" in ran.words or "R1: required" in ran.words
    assert "Brindle Falls ordinance 1" in command("explain", file, "office/R1/only", "R03", *there).words


def test_standard_input_as_yaml_and_as_json(command: Command, room):
    text = room().read_text(encoding="utf-8")
    as_yaml = command("rule", "-", "--question", "R60", "--format", "jsonl", stdin=text)
    import yaml

    data = yaml.safe_load(text)
    data["project"]["dates"] = {event: str(day) for event, day in data["project"]["dates"].items()}
    as_json = command("rule", "-", "--question", "R60", "--format", "jsonl", stdin=json.dumps(data))
    assert (as_yaml.status, as_json.status) == (1, 1)
    words = [[json.loads(line)["word"] for line in ran.out.splitlines()] for ran in (as_yaml, as_json)]
    assert "not satisfied" in words[0]
    assert words[0] == words[1]


def test_a_schedule_and_its_mapping(command: Command):
    devices = DEMO.with_name("brindle-falls-devices.csv")
    mapping = DEMO.with_name("brindle-falls-devices.mapping.yaml")
    ran = command("rule", devices, "--mapping", mapping, "--question", "R23")
    assert ran.status == 1
    assert "OS-3: not satisfied" in ran.words  # 30 min against the city's 20 min
    assert "30 min, which is over 20 min by 10 min" in ran.words
    piped = command("rule", "-", "--mapping", mapping, "--question", "R23", stdin=devices.read_bytes())
    assert piped.out.partition("\n")[2] == ran.out.partition("\n")[2] or "OS-3: not satisfied" in piped.words


def test_sheets_are_filed_and_ruled_again(command: Command, room, tmp_path: Path):
    sheet = tmp_path / "sheet.json"
    assert command("rule", room(), "--question", "R60", "--sheet", sheet).status == 1
    ran = command("rerun", sheet)
    assert ran.status == 1
    assert "On its own law and facts: every ruling comes out as filed." in ran.words
    assert "Under today's rulebook: every ruling comes out as filed." in ran.words
    filed = json.loads(sheet.read_text(encoding="utf-8"))
    filed["rulings"][0]["word"] = "satisfied"
    sheet.write_text(json.dumps(filed), encoding="utf-8")
    changed = command("rerun", sheet)
    assert changed.status == 3
    assert "the filed sheet was changed: its rulings digest is" in changed.err
    sheet.write_text("[1", encoding="utf-8")
    assert command("rerun", sheet).status == 3


def test_two_sheets_cannot_be_filed_in_one(command: Command, room, tmp_path: Path):
    ran = command("rule", room(), DEMO, "--sheet", tmp_path / "s.json", "--question", "R01")
    assert ran.status == 2
    assert "--sheet files one project, and 2 were ruled on" in ran.err

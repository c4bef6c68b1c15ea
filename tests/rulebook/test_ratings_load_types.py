"""Loads by kind against what a control is marked for by kind, loads with an unknown power factor, the demand factor of
receptacles, and rooms on several floors of one schedule: the figures with their steps, worked by hand."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pytest

from shipped_book import rulebook
from yokebook import Ruling

YES, NO = "satisfied", "not satisfied"
READ = ["2014", "2017", "2020", "2023"]
Thing = dict[str, Any]
SENSOR: Thing = {
    "contact.supply": "controlled", "control.contacts.complete": True, "control.wired_loads.complete": True,
    "control.kind": "wall-box sensor", "control.tungsten_marked_w": "800 W", "control.ballast_marked_va": "1200 VA",
    "control.horsepower_marked_hp": "1/4 hp", "control.amps": 15, "circuit.volts": 120,
}  # fmt: skip
TUNGSTEN = {"load.kind": "lamp", "load.lamp_type": "tungsten", "load.power_factor": 1}
DRIVER = {"load.kind": "lamp", "load.lamp_type": "other", "load.power_w": "900 W"}
MACHINE = {"load.kind": "motor tool", "load.va": "900 VA"}
HEATER = {"load.kind": "heater", "load.power_factor": 1}


def rule(edition: str, question: str, record: Mapping[str, object], document: str = "nfpa-70") -> Ruling:
    return rulebook().edition(document, edition).rule(question, record)


def steps(ruling: Ruling) -> set[str]:
    return {figure["steps"] for figure in ruling.figures}


# ---- each kind by its own mark -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("load", "word", "step"),
    [
        ({**TUNGSTEN, "load.power_w": "800 W"}, YES, "800 W ≤ 800 W"),
        ({**TUNGSTEN, "load.power_w": "1000 W"}, NO, "1000 W > 800 W by 200 W"),
        ({**DRIVER, "load.va": "1200 VA"}, YES, "1200 VA ≤ 1200 VA"),
        ({**DRIVER, "load.va": "1300 VA"}, NO, "1300 VA > 1200 VA by 100 VA"),
        ({**MACHINE, "load.motor_hp": "1/4 hp"}, YES, "1/4 hp ≤ 1/4 hp"),
        ({**MACHINE, "load.motor_hp": "1/2 hp"}, NO, "1/2 hp > 1/4 hp by 1/4 hp"),
        ({**HEATER, "load.power_w": "1800 W"}, YES, "15 A ≤ 15 A"),
        ({**HEATER, "load.power_w": "2040 W"}, NO, "17 A > 15 A by 2 A"),
    ],
)
@pytest.mark.parametrize("edition", READ)
def test_each_kind_against_its_own_mark(edition: str, load: Thing, word: str, step: str) -> None:
    ruling = rule(edition, "control.load", {**SENSOR, **load})
    assert (ruling.word, ruling.against) == (word, word == NO)
    assert any(text.startswith(step) for text in steps(ruling)), steps(ruling)


def test_the_kinds_do_not_fill_up_each_others_marks() -> None:
    """700 W of tungsten plugged in and 700 VA of ballasts wired: each is within its mark, 1,400 VA is 11.67 A."""
    lamp = {"id": "lamp", "kind": "lamp", "lamp_type": "tungsten", "power_w": "700 W", "power_factor": 1}
    light = {
        "id": "light", "kind": "lamp", "lamp_type": "other", "power_w": "650 W", "va": "700 VA", "volts": 120,
        "wiring": "wired",
    }  # fmt: skip
    own = {name.partition(".")[2]: value for name, value in SENSOR.items() if name.startswith("control.")}
    control = {key: value for key, value in own.items() if not key.endswith("complete")}
    half = {"id": "only", "position": "only", "circuit": "C", "load": "lamp", "supply": "controlled", "controls": ["K"]}
    project = {
        "complete": True, "loads": [lamp, light], "controls": [{"id": "K", "wired_loads": ["light"], **control}],
        "circuits": [{"id": "C", "breaker_amps": 20, "volts": 120}],
        "spaces": [{"id": "room", "yokes": [{"id": "R", "configuration": "5-20R", "contacts": [half]}]}],
    }  # fmt: skip
    (ruling,) = rulebook().edition("nfpa-70", "2020").rule_project(project, ["control.load"]).rulings
    assert ruling.word == YES
    assert {"700 W ≤ 800 W", "700 VA ≤ 1200 VA"} <= {text.split(", ")[0] for text in steps(ruling)}


@pytest.mark.parametrize(
    ("load", "mark"),
    [
        ({**TUNGSTEN, "load.power_w": "60 W"}, {"control.tungsten_marked_w": None, "control.tungsten_marked": False}),
        (
            {**DRIVER, "load.power_w": "54 W", "load.va": "60 VA"},
            {"control.ballast_marked_va": None, "control.ballast_marked": False},
        ),
        (
            {**MACHINE, "load.motor_hp": "1/6 hp"},
            {"control.horsepower_marked_hp": None, "control.horsepower_marked": False},
        ),
        ({**HEATER, "load.power_w": "60 W"}, {"control.amps": None, "control.general_marked": False}),
    ],
)
def test_nothing_is_assumed_where_nothing_is_marked(load: Thing, mark: Thing) -> None:
    others = {"control.listed_for.receptacle_loads": False, "control.listed_for.motor_loads": False}
    record = {**SENSOR, **others, **load, **mark}
    ruling = rule("2020", "control.load", {name: value for name, value in record.items() if value is not None})
    assert (ruling.word, ruling.against) == ("not marked", False)
    # and where nobody says whether it is marked, that is asked
    silent = {name: value for name, value in record.items() if name not in mark}
    unsaid = rule("2020", "control.load", silent)
    assert unsaid.word == "cannot tell"
    assert set(mark) & {ask["fact"] for ask in unsaid.ask}


@pytest.mark.parametrize(("watts", "word"), [(1799, "cannot tell"), (1800, "cannot tell"), (1801, NO)])
def test_watts_without_a_power_factor_are_the_least_volt_amperes(watts: int, word: str) -> None:
    """A power factor is 1 at most: 1,801 W are at least 15.01 A, whatever it is; 1,800 W only at 1 are not more."""
    ruling = rule("2020", "control.load", {**SENSOR, "load.kind": "office machine", "load.power_w": f"{watts} W"})
    assert ruling.word == word
    assert [ask["fact"] for ask in ruling.ask] == ([] if word == NO else ["load.va"])


# ---- dimmers -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("keyed", "word"), [(True, "permitted"), (False, "not permitted")])
def test_only_the_receptacle_of_a_lamp_has_to_be_keyed(keyed: bool, word: str) -> None:
    """406.15 of 2014 speaks of receptacles that supply lighting loads; of the other one nobody is asked."""
    half = {"id": "only", "position": "only", "circuit": "C", "supply": "controlled", "controls": ["D"]}
    yokes = [
        {"id": "lit", "contacts": [{**half, "load": "lamp"}], "keyed_for_dimming": keyed},
        {"id": "free", "contacts": [{**half, "load": "none"}]},
    ]
    dimmer = {"id": "D", "kind": "dimmer", "listed_for.receptacle_loads": True}
    project = {
        "complete": True, "spaces": [{"id": "room", "yokes": yokes}], "circuits": [{"id": "C"}], "controls": [dimmer],
        "loads": [{"id": "lamp", "kind": "lamp"}],
    }  # fmt: skip
    (ruling,) = rulebook().edition("nfpa-70", "2014").rule_project(project, ["control.permitted"]).rulings
    assert (ruling.word, ruling.ask) == (word, [])


# ---- what receptacles count for at a feeder ----------------------------------------------------------------------


def duplex(number: int) -> Thing:
    halves: list[Thing] = [
        {"id": at, "position": at, "circuit": f"C{number // 13}", "load": "none", "supply": "always on", "controls": []}
        for at in ("upper", "lower")
    ]
    return {"id": f"D{number}", "device_type": "duplex", "configuration": "5-20R", "contacts": halves}


def strip(number: int, length: str, together: bool) -> Thing:
    one = {"id": "a", "position": "only", "circuit": "C0", "load": "none", "supply": "always on", "controls": []}
    more = {"strip_length_in": length, "strip_used_together": together}
    return {"id": f"S{number}", "device_type": "hard-wired strip", "contacts": [one], **more}


def counted(yokes: list[Thing], occupancy: str = "office") -> Ruling:
    circuits = [{"id": f"C{n}", "breaker_amps": 20, "volts": 120, "individual": False} for n in range(5)]
    rooms = [{"id": "room", "occupancy": occupancy, "yokes": yokes}]
    project = {"complete": True, "spaces": rooms, "circuits": circuits, "controls": [], "loads": []}
    (ruling,) = rulebook().edition("nfpa-70", "2020").rule_project(project, ["project.receptacle-load"]).rulings
    return ruling


@pytest.mark.parametrize(
    ("number", "word", "demand"),
    [
        (55, "in full", "9900 VA x 1"),  # 55 x 180
        (56, "demand factor", "10000 VA x 1 + 80 VA x 0.5"),  # 56 x 180 = 10,080; 10,040 VA are left
    ],
)
def test_duplexes_below_and_above_the_first_ten_thousand(number: int, word: str, demand: str) -> None:
    ruling = counted([duplex(n) for n in range(number)])
    assert ruling.word == word
    assert {demand, f"({number} x 180 VA) + (0 x 90 VA) + 0 VA"} <= steps(ruling)
    assert counted([duplex(n) for n in range(number)], "dwelling").word == "does not apply"


def test_ten_workstations_with_strips() -> None:
    """EC&M, Commercial Loads Part 2: ten times 10 ft used apart and 3 ft used together are 3,600 + 5,400 = 9,000 VA."""
    strips = [strip(n, "10 ft", False) for n in range(10)] + [strip(n, "3 ft", True) for n in range(10, 20)]
    ruling = counted(strips)
    assert ruling.word == "in full"
    assert {"3600 + 5400", "(0 x 180 VA) + (0 x 90 VA) + 9000 VA"} <= steps(ruling)


# ---- one schedule on several floors ------------------------------------------------------------------------------


def schedule(floors: list[tuple[int, int]], **more: object) -> Ruling:
    """One schedule of Tamarisk County (5,000 sq ft, one floor) over offices, each with its floor and area."""
    rooms: list[Thing] = []
    for number, (floor, area) in enumerate(floors):
        half = {"id": "upper", "position": "upper", "supply": "controlled", "controls": ["T"], "circuit": "C"}
        yokes = [{"id": "R", "configuration": "5-20R", "device_type": "duplex", "contacts": [half]}]
        office = {"occupancy": "office", "use": "open office", "floor": floor, "area_sq_ft": f"{area} sq ft"}
        rooms.append({"id": f"room{number}", "yokes": yokes, **office})
    control = {"id": "T", "kind": "time clock", "turns_off_by": "schedule", **more}
    project = {"complete": True, "spaces": rooms, "controls": [control], "circuits": [{"id": "C"}], "loads": []}
    (ruling,) = rulebook().edition("tamarisk-energy", "2022").rule_project(project, ["control.schedule-zone"]).rulings
    return ruling


@pytest.mark.parametrize(
    ("floors", "number", "word", "zones"),
    [
        ([(1, 3000), (1, 2000)], 1, YES, "1"),  # 5,000 sq ft together
        ([(1, 3000), (1, 2001)], 1, NO, "2"),  # 5,001
        ([(1, 3000), (2, 2001)], 2, NO, "1"),  # one schedule a floor would do, but this is on two
        ([(1, 3000), (1, 8000), (2, 2000)], 2, NO, "3"),  # 11,000 on the first floor
    ],
)
def test_rooms_floor_by_floor(floors: list[tuple[int, int]], number: int, word: str, zones: str) -> None:
    ruling = schedule(floors, schedule_floors=number, schedule_whole_rooms=True)
    assert ruling.word == word
    figures = {figure["calculation"]: figure["exact"] for figure in ruling.figures}
    assert figures.get("control.zones_by_rooms", zones) == zones


def test_a_schedule_that_serves_a_part_of_a_room_goes_by_its_own_area() -> None:
    rooms = [(1, 12000)]
    asked = {ask["fact"] for ask in schedule(rooms, schedule_floors=1).ask}
    assert {"control.schedule_whole_rooms", "control.schedule_area_sq_ft"} <= asked
    assert schedule(rooms, schedule_floors=1, schedule_whole_rooms=True).word == NO
    assert schedule(rooms, schedule_floors=1, schedule_area_sq_ft="5000 sq ft").word == YES
    assert schedule(rooms, schedule_floors=1, schedule_area_sq_ft="5001 sq ft").word == NO

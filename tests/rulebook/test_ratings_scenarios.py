"""Rooms of the demonstration places, their ratings and loads worked by hand.

Each expected value stands with its arithmetic; loads have power factor 1 and run less than three hours unless said. The
County has the 2020 edition as published, the City the 2023 edition with ordinances that touch none of these questions.
"""

from __future__ import annotations

import copy
from fractions import Fraction
from typing import Any

import pytest

from shipped_book import rulebook
from yokebook import Ruling

YES, NO, NONE = "satisfied", "not satisfied", "does not apply"
COUNTY, CITY = ("demo/tamarisk", "2023-05-10"), ("demo/tamarisk/brindle-falls", "2024-10-15")
RATINGS = [
    "control.permitted", "control.rating.cord-and-plug", "control.load", "control.horsepower", "yoke.disconnect",
    "receptacle.single-rating", "receptacle.circuit-rating", "receptacle.plug-load", "circuit.portable-load",
    "circuit.load", "receptacle.horsepower", "load.emergency", "load.always-on",
]  # fmt: skip
Thing = dict[str, Any]


def load(name: str, kind: str, power: int, **more: Any) -> Thing:
    return {"id": name, "kind": kind, "power_w": f"{power} W", "power_factor": 1, "continuous": False, **more}


def contact(position: str, circuit: str, plugged: str, controls: tuple[str, ...]) -> Thing:
    supply = "controlled" if controls else "always on"
    where = {"id": position, "position": position, "circuit": circuit}
    return {**where, "load": plugged, "controls": list(controls), "supply": supply}


def duplex(
    name: str, configuration: str, circuit: str, upper: str = "none", lower: str = "none",
    control: tuple[str, ...] = (), control_lower: tuple[str, ...] = (),
) -> Thing:  # fmt: skip
    halves = [contact("upper", circuit, upper, control), contact("lower", circuit, lower, control_lower)]
    return {"id": name, "configuration": configuration, "contacts": halves}


def single(name: str, circuit: str, plugged: str = "none", control: tuple[str, ...] = ()) -> Thing:
    return {"id": name, "configuration": "5-20R", "contacts": [contact("only", circuit, plugged, control)]}


def circuit(name: str, amps: int, **more: Any) -> Thing:
    return {"id": name, "breaker_amps": amps, "volts": 120, "source": "normal", **more}


def room(
    use: str, occupancy: str, yokes: list[Thing], controls: list[Thing], circuits: list[Thing], loads: list[Thing]
) -> Thing:
    space = {"id": "room", "use": use, "occupancy": occupancy, "yokes": yokes}
    return {"complete": True, "spaces": [space], "controls": controls, "circuits": circuits, "loads": loads}


class Ruled:
    """One room ruled under the law of a place and day."""

    def __init__(self, law: tuple[str, str], project: Thing) -> None:
        place, day = law
        code = rulebook().in_force(place, {"permit application": day})
        facts = {"place": place, "dates": {"permit application": day}}
        self.rulings = code.rule_project({"project": facts, **project}, RATINGS).rulings

    def get(self, question: str, subject: str) -> Ruling:
        return next(r for r in self.rulings if r.question == question and r.subject["id"] == subject)

    def word(self, question: str, subject: str) -> str:
        return self.get(question, subject).word

    def figure(self, question: str, subject: str, calculation: str, of: str | None = None) -> Fraction:
        figures = self.get(question, subject).figures
        return next(
            Fraction(f["exact"]) for f in figures if f["calculation"] == calculation and f["subject"] == (of or subject)
        )

    def steps(self, question: str, subject: str) -> set[str]:
        return {f["steps"] for f in self.get(question, subject).figures}

    def against(self) -> set[tuple[str, str]]:
        return {(r.question, r.subject["id"]) for r in self.rulings if r.against}


LIVING = room(
    "living room", "dwelling",
    [duplex("R1", "5-15R", "L1"), duplex("R2", "5-15R", "L1", "lamp", control=("S1",))],
    [{"id": "S1", "kind": "snap switch", "amps": 15, "turns_off_by": "person"}],
    [circuit("L1", 15)],
    [load("lamp", "lamp", 9)],
)  # fmt: skip


def test_living_room_lamp_on_a_wall_switch() -> None:
    ruled = Ruled(COUNTY, LIVING)
    # one receptacle is controlled: 15 >= 15
    assert ruled.word("control.rating.cord-and-plug", "S1") == YES
    assert ruled.word("control.load", "S1") == YES
    assert ruled.figure("control.load", "S1", "control.load_amps") == Fraction(9, 120)
    assert ruled.word("yoke.disconnect", "room/R2") == NONE
    assert ruled.against() == set()
    assert not [r.subject["id"] for r in ruled.rulings if r.status != "settled"]


def test_whole_duplex_switched_is_two_receptacles() -> None:
    whole = copy.deepcopy(LIVING)
    whole["spaces"][0]["yokes"][1] = duplex("R2", "5-15R", "L1", "lamp", "none", ("S1",), ("S1",))
    ruling = Ruled(COUNTY, whole).get("control.rating.cord-and-plug", "S1")
    assert ruling.status == "readings differ"
    assert {u["readings"]["switch-rating"]: u["outcomes"] for u in ruling.under} == {
        "actual breaker": [YES],  # 15 >= 15
        "largest permitted breaker": [NO],  # a 15 A receptacle may sit on 20 A, and 15 < 20
    }


@pytest.mark.parametrize("law", [COUNTY, CITY])
def test_vacancy_sensor_listed_for_lighting_only(law: tuple[str, str]) -> None:
    project = copy.deepcopy(LIVING)
    sensor = {"id": "S1", "kind": "wall-box sensor", "turns_off_by": "presence", "amps": 5}
    project["controls"] = [{**sensor, "listed_for.permanently_connected_only": True}]
    ruled = Ruled(law, project)
    assert ruled.word("control.permitted", "S1") == "not permitted"
    assert ruled.word("control.rating.cord-and-plug", "S1") == NO  # 5 < 15


def test_home_office_on_a_count_down_timer() -> None:
    timer = {"id": "T1", "kind": "count-down timer", "turns_off_by": "count-down", "amps": 15}
    ruled = Ruled(COUNTY, room(
        "home office", "dwelling", [duplex("R1", "5-15R", "L1", "printer", "strip", ("T1",), ("T1",))],
        [{**timer, "listed_for.receptacle_loads": True}],
        [circuit("L1", 15)],
        [load("printer", "office machine", 480), load("strip", "computer", 35 + 60)],
    ))  # fmt: skip
    permitted = ruled.get("control.permitted", "T1")
    assert {u["readings"]["sensor-on-receptacle"]: u["outcomes"] for u in permitted.under} == {
        "permanently connected only": ["not permitted"], "listed for it": ["permitted"],
    }  # fmt: skip
    assert ruled.word("control.rating.cord-and-plug", "T1") == "readings differ"
    assert ruled.word("control.load", "T1") == YES
    assert ruled.figure("control.load", "T1", "control.load_amps") == Fraction(575, 120)  # 4.79 A


def plotter(law: tuple[str, str], switch: int, outlets: int = 1) -> Ruled:
    extra = [single(f"Q{i}", "L2") for i in range(1, outlets)]
    return Ruled(law, room(
        "private office", "office",
        [single("P", "L2", "plotter", ("S1",)), *extra]
        + [duplex(f"R{i}", "5-20R", "L1", control=("OS",)) for i in range(1, 5)],
        [
            {"id": "S1", "kind": "snap switch", "amps": switch, "turns_off_by": "person"},
            {"id": "OS", "kind": "ceiling sensor and relay", "amps": 20, "turns_off_by": "presence"},
        ],
        [circuit("L1", 20), circuit("L2", 20, individual=outlets == 1)],
        [load("plotter", "office machine", 1500)],
    ))  # fmt: skip


@pytest.mark.parametrize("law", [COUNTY, CITY])
@pytest.mark.parametrize("switch", [20, 15])
def test_plotter_on_its_own_circuit(law: tuple[str, str], switch: int) -> None:
    ruled = plotter(law, switch)
    assert ruled.word("receptacle.single-rating", "room/P/only") == YES  # 20 >= 20
    assert ruled.word("control.rating.cord-and-plug", "S1") == NONE
    assert ruled.word("circuit.portable-load", "room/P/only") == NONE
    assert ruled.word("control.load", "S1") == YES
    assert ruled.figure("control.load", "S1", "control.load_amps") == Fraction(25, 2)  # 1,500 / 120 = 12.5
    assert ruled.word("circuit.load", "L2") == YES


def test_plotter_on_a_circuit_of_two_outlets() -> None:
    ruled = plotter(COUNTY, 15, outlets=2)
    assert ruled.word("control.rating.cord-and-plug", "S1") == NO  # one receptacle of 20 A, and 15 < 20
    assert ruled.word("receptacle.single-rating", "room/P/only") == NONE
    assert ruled.word("circuit.portable-load", "room/P/only") == YES  # 12.5 <= 16


def copy_room(laminator: bool = True, continuous: bool = False) -> Ruled:
    loads = [load("plotter", "office machine", 1440), load("net", "network", 150)]
    loads += [load("laminator", "other", 600)] if laminator else []
    for one in loads:
        one["continuous"] = continuous
    second = duplex("R2", "5-20R", "L1", "laminator" if laminator else "none", control=("OS",))
    return Ruled(CITY, room(
        "print-copy", "office",
        [duplex("R1", "5-20R", "L1", "plotter", "net", ("OS",)), second, duplex("R3", "5-20R", "L1", control=("OS",))],
        [{
            "id": "OS", "kind": "wall-box sensor", "turns_off_by": "presence", "watts_w": "1800 W", "rated_volts": 120,
            "listed_for.receptacle_loads": True,
        }],
        [circuit("L1", 20)], loads,
    ))  # fmt: skip


def test_copy_room_sensor_of_1800_watts() -> None:
    ruled = copy_room()
    assert ruled.word("control.permitted", "OS") == "permitted"
    assert ruled.word("control.rating.cord-and-plug", "OS") == NO  # 1,800 / 120 = 15 < 20, read either way
    assert ruled.word("control.load", "OS") == NO
    assert {"2040 W > 1800 W by 240 W", "17 A > 15 A by 2 A"} <= ruled.steps("control.load", "OS")
    for half, amps in (("R1/upper", 12), ("R2/upper", 5)):
        assert ruled.word("receptacle.plug-load", f"room/{half}") == YES
        assert ruled.figure("receptacle.plug-load", f"room/{half}", "contact.load_amps") == amps
    assert ruled.word("circuit.load", "L1") == YES
    assert ruled.figure("circuit.load", "L1", "circuit.breaker_needed") == Fraction("18.25")  # 17.0 + 1.25
    assert ruled.against() == {("control.rating.cord-and-plug", "OS"), ("control.load", "OS")}


def test_copy_room_with_the_plotter_only_or_all_day() -> None:
    alone = copy_room(laminator=False)
    assert alone.word("control.load", "OS") == YES  # 1,440 <= 1,800
    assert alone.figure("control.load", "OS", "control.load_amps") == 12
    all_day = copy_room(continuous=True)
    assert all_day.word("circuit.load", "L1") == NO
    assert all_day.figure("circuit.load", "L1", "circuit.breaker_needed") == Fraction("18.25") * Fraction("1.25")


def test_guest_room_relay_and_entry_switch() -> None:
    ruled = Ruled(CITY, room(
        "guest room", "guest room",
        [
            duplex("desk", "5-15R", "L1", control=("K",), control_lower=("K",)),
            duplex("B1", "5-15R", "L1", lower="breathing", control=("K", "W")),
            duplex("B2", "5-15R", "L1", control=("K", "W")),
            duplex("TV", "5-15R", "L1", control=("K",)),
            duplex("bar", "5-15R", "L1", lower="minibar"),
        ],
        [{"id": "K", "kind": "card switch", "amps": 20}, {"id": "W", "kind": "snap switch"}],
        [circuit("L1", 20)],
        [load("breathing", "medical", 60), load("minibar", "refrigeration", 80)],
    ))  # fmt: skip
    assert ruled.word("control.rating.cord-and-plug", "K") == YES  # 20 >= 20
    switch = ruled.get("control.rating.cord-and-plug", "W")
    asked = [(a["subject"], a["fact"]) for a in switch.ask]
    assert (switch.status, asked) == ("cannot tell", [("W", "control.general_marked"), ("W", "control.amps")])
    # both stand in halves that nothing switches
    assert ruled.word("load.always-on", "room/B1/lower") == "no concern"
    assert ruled.word("load.always-on", "room/bar/lower") == "no concern"


def break_room(configuration: str = "5-20R", refrigerator: tuple[str, ...] = ()) -> Ruled:
    counter = [
        duplex("C1", configuration, "K1", "brewer", control=("OS",)),
        duplex("C2", configuration, "K1", "microwave", control=("OS",)),
    ]
    for yoke in counter:
        yoke["contacts"][1]["circuit"] = "K2"
        yoke["disconnects_together"] = yoke["id"] == "C1"
    return Ruled(COUNTY, room(
        "break room", "office",
        [
            *counter, duplex("W1", "5-20R", "K3", control=("OS",)), duplex("W2", "5-20R", "K3", control=("OS",)),
            single("F1", "F", "refrigerator", refrigerator), single("V1", "V", "vending"),
        ],
        [{"id": "OS", "kind": "ceiling sensor and relay", "amps": 20}],
        [circuit(name, 20) for name in ("K1", "K2", "K3")]
        + [circuit(name, 20, individual=True) for name in ("F", "V")],
        [
            load("brewer", "cooking", 1450), load("microwave", "cooking", 1200),
            load("refrigerator", "refrigeration", 600), load("vending", "refrigeration", 700),
        ],
    ))  # fmt: skip


def test_break_room_counter() -> None:
    ruled = break_room()
    assert ruled.word("circuit.load", "K1") == NO
    assert ruled.figure("circuit.load", "K1", "circuit.breaker_needed") == Fraction(1450 + 1200, 120)  # 22.08 A
    for half, amps in (("C1/upper", Fraction(1450, 120)), ("C2/upper", Fraction(10))):
        assert ruled.word("receptacle.plug-load", f"room/{half}") == YES  # 12.08 and 10.0 <= 16
        assert ruled.figure("receptacle.plug-load", f"room/{half}", "contact.load_amps") == amps
    # each counter yoke has two circuits; the breakers of the second are not tied
    assert ruled.word("yoke.disconnect", "room/C1") == YES
    assert ruled.word("yoke.disconnect", "room/C2") == NO
    for half in ("F1/only", "V1/only"):
        assert ruled.word("load.always-on", f"room/{half}") == "no concern"
        assert ruled.word("receptacle.single-rating", f"room/{half}") == YES


def test_break_room_with_fifteen_ampere_receptacles() -> None:
    ruled = break_room("5-15R")
    assert ruled.word("receptacle.plug-load", "room/C1/upper") == NO  # 12.08 > 12
    assert ruled.word("receptacle.plug-load", "room/C2/upper") == YES


def test_refrigerator_behind_the_sensor() -> None:
    ruled = break_room(refrigerator=("OS",))
    assert ("load.always-on", "room/F1/only") in ruled.against()

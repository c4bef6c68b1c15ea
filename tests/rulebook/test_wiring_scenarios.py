"""Rooms wired on paper: what a building says of its circuits, devices and controls, worked by hand.

180 VA for each device, 90 VA for each receptacle in a piece of four or more; half of a 15 or 20 A circuit for what is
fastened in place beside lights and plugs.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

from shipped_book import rulebook
from yokebook import Ruling

Thing = dict[str, Any]
LATER = ["2017", "2020", "2023"]
EVERY = ["2014", *LATER]


def rulings(question: str, project: Thing, edition: str = "2023", document: str = "nfpa-70") -> dict[str, Ruling]:
    """The rulings on everything that the question is asked of, by the thing's id."""
    found = rulebook().edition(document, edition).rule_project({"complete": True, **project}, [question]).rulings
    return {str(ruling.subject["id"]): ruling for ruling in found}


def figures(ruling: Ruling) -> dict[str, Fraction]:
    return {each["calculation"]: Fraction(each["exact"]) for each in ruling.figures if each["exact"] is not None}


def contact(position: str, circuit: str, plugged: str = "none", controls: tuple[str, ...] = ()) -> Thing:
    supply = "controlled" if controls else "always on"
    where = {"id": position, "position": position, "circuit": circuit}
    return {**where, "load": plugged, "controls": list(controls), "supply": supply}


def duplex(name: str, upper: str, lower: str | None = None, control: tuple[str, ...] = (), **more: Any) -> Thing:
    halves = [contact("upper", upper, controls=control), contact("lower", lower or upper)]
    return {"id": name, "device_type": "duplex", "configuration": "5-20R", "contacts": halves, **more}


def quad(name: str, circuit: str) -> Thing:
    four = [contact(word, circuit) for word in ("first", "second", "third", "fourth")]
    return {"id": name, "device_type": "quad", "configuration": "5-20R", "contacts": four}


def office(yokes: list[Thing], circuits: list[Thing], **more: Any) -> Thing:
    room = {"id": "room", "occupancy": "office", "use": "open office", "yokes": yokes}
    return {"spaces": [room], "circuits": circuits, "controls": [], "loads": [], **more}


def circuit(name: str, amps: int, **more: Any) -> Thing:
    return {"id": name, "breaker_amps": amps, "volts": 120, "individual": False, **more}


# ---- the load that receptacles count for -----------------------------------------------------------------------------


@pytest.mark.parametrize("edition", EVERY)
def test_a_floor_of_duplexes_and_quads(edition: str) -> None:
    """7 duplexes at 180 and 2 quads at 4 x 90 are 1260 + 720 = 1980 VA, 16.5 A; 2400 - 1980 = 420 takes two more."""
    yokes = [*(duplex(f"D{n}", "C1") for n in range(7)), quad("Q1", "C1"), quad("Q2", "C1")]
    ruling = rulings("circuit.receptacle-load", office(yokes, [circuit("C1", 20)]), edition)["C1"]
    assert ruling.word == "room left"
    found = figures(ruling)
    assert found["circuit.receptacle_va"] == 1980
    assert found["circuit.receptacle_amps"] == Fraction(33, 2)
    assert found["circuit.yokes_carried"] == 13
    assert found["circuit.more_yokes"] == 2


def test_a_duplex_of_two_circuits_counts_on_both() -> None:
    """Nobody can say on which circuit the plug will be, so each carries the whole device: 180 VA, 1.5 A."""
    project = office([duplex("D", "C1", "C2")], [circuit("C1", 20), circuit("C2", 20)])
    found = rulings("circuit.receptacle-load", project)
    assert [figures(found[name])["circuit.receptacle_amps"] for name in ("C1", "C2")] == [Fraction(3, 2)] * 2


@pytest.mark.parametrize(("number", "word"), [(13, "full"), (14, "readings differ")])
def test_the_fourteenth_duplex_on_20_amperes(number: int, word: str) -> None:
    yokes = [duplex(f"D{n}", "C1") for n in range(number)]
    ruling = rulings("circuit.receptacle-load", office(yokes, [circuit("C1", 20)]))["C1"]
    assert ruling.word == word
    assert not ruling.against  # where people differ it is no finding


# ---- fastened in place -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("va", "word"), [(600, "satisfied"), (601, "not satisfied")])
@pytest.mark.parametrize("edition", EVERY)
def test_a_hand_dryer_and_a_heater_beside_a_duplex(edition: str, va: int, word: str) -> None:
    """Half of 20 A at 120 V is 10 A, 1200 VA: 600 plugged in and fastened, and the rest wired; the lamp counts not."""
    loads = [
        {"id": "dryer", "kind": "other", "fastened": True, "va": "600 VA"},
        {"id": "heater", "kind": "other", "fastened": True, "va": f"{va} VA", "circuit": "C1", "wiring": "wired"},
        {"id": "light", "kind": "lamp", "fastened": True, "va": "500 VA", "circuit": "C1", "wiring": "wired"},
    ]
    single = {"id": "S", "device_type": "single", "contacts": [contact("only", "C1", "dryer")]}
    project = office([duplex("D", "C1"), single], [circuit("C1", 20)], loads=loads)
    assert rulings("circuit.fixed-load", project, edition)["C1"].word == word


def test_a_circuit_of_fastened_equipment_alone_may_be_full() -> None:
    loads = [{"id": "dryer", "kind": "other", "fastened": True, "va": "2300 VA", "circuit": "C1", "wiring": "wired"}]
    found = rulings("circuit.fixed-load", office([], [circuit("C1", 20)], loads=loads))
    assert found["C1"].word == "does not apply"


# ---- tabs, controls --------------------------------------------------------------------------------------------------


SENSOR: Thing = {"id": "K", "kind": "ceiling sensor and relay", "turns_off_by": "presence", "location": "ceiling"}


@pytest.mark.parametrize(
    ("shared", "hot", "neutral", "more", "word"),
    [
        (True, "intact", "intact", {"neutral_holds_without_device": True}, "break the hot tab"),
        (True, "removed", "intact", {"neutral_holds_without_device": False}, "pigtail needed"),
        (True, "removed", "intact", {"neutral_holds_without_device": True}, "in order"),
        (False, "removed", "intact", {}, "break both tabs"),
        (False, "removed", "removed", {"neutral_to_each_half": True}, "in order"),
        (False, "removed", "removed", {"neutral_to_each_half": False}, "neutral missing"),
    ],
)
def test_a_controlled_half_on_a_circuit_of_its_own(
    shared: bool, hot: str, neutral: str, more: Thing, word: str
) -> None:
    yoke = duplex("D", "C1", "C2", ("K",), hot_tab=hot, neutral_tab=neutral, **more)
    circuits = [circuit(name, 20, shared_neutral=shared) for name in ("C1", "C2")]
    assert rulings("yoke.tabs", office([yoke], circuits, controls=[SENSOR]))["room/D"].word == word


def test_a_half_behind_a_sensor_on_one_circuit_keeps_its_neutral_tab() -> None:
    yoke = duplex("D", "C1", "C1", ("K",), hot_tab="removed", neutral_tab="intact")
    project = office([yoke], [circuit("C1", 20, shared_neutral=False)], controls=[SENSOR])
    assert rulings("yoke.tabs", project)["room/D"].word == "in order"


def test_a_sensor_of_receptacles_alone_asks_for_no_neutral_in_its_box() -> None:
    yoke = duplex("D", "C1", "C1", ("K",))
    project = office([yoke], [circuit("C1", 20)], controls=[{**SENSOR, "needs_neutral": False}])
    assert {edition: rulings("control.neutral", project, edition)["K"].word for edition in EVERY} == dict.fromkeys(
        EVERY, "not required"
    )


def test_a_dimmer_says_the_same_as_the_rule_on_what_may_feed_a_receptacle() -> None:
    """`only a listed pair` and `not permitted` here are `not permitted` there, for every dimmer in every edition."""
    allowed = {"permitted": "permitted", "only a listed pair": "not permitted", "not permitted": "not permitted"}
    for edition in EVERY:
        for listed in (False, True):
            for keyed in (False, True):
                dimmer = {"id": "K", "kind": "dimmer", "listed_for.receptacle_loads": listed}
                yoke = duplex("D", "C1", "C1", ("K",), keyed_for_dimming=keyed)
                yoke["contacts"][0]["load"] = "lamp"
                project = office([yoke], [circuit("C1", 20)], controls=[dimmer], loads=[{"id": "lamp", "kind": "lamp"}])
                here = rulings("control.dimmer", project, edition)["K"].word
                there = rulings("control.permitted", project, edition)["K"].word
                assert allowed[here] == there, (edition, listed, keyed)


# ---- machines, asked by the workplace rules alone --------------------------------------------------------------------


def test_a_saw_behind_a_time_clock() -> None:
    clock = {"id": "K", "kind": "time clock", "turns_off_by": "schedule", "turns_on_by": "schedule"}
    saw = {"id": "saw", "kind": "motor tool", "restarts": True, "start_can_hurt": True, "machine": "other machine"}
    yoke = duplex("D", "C1", "C1", ("K",))
    yoke["contacts"][0]["load"] = "saw"
    project = office([yoke], [circuit("C1", 20)], controls=[clock], loads=[saw])
    found = rulings("machine.restart", project, "2005", "osha-1910")
    assert found["room/D/upper"].word == "hazard"
    assert found["room/D/upper"].against
    assert found["room/D/lower"].word == "does not apply"


def test_no_place_has_the_workplace_rules_in_force() -> None:
    """The permit is not judged by them; whoever wants them names the document and edition."""
    assert [name for name, place in rulebook().book.places.items() if "workplace" in place.lines] == []


def test_topics_are_asked_for() -> None:
    """None of these is asked of a project that names no topic."""
    mine = {question.ruling for question in rulebook().book.questions.values() if question.topic == "wiring"}
    assert mine == {"R14", "R31", "R36", "R37", "R38", "R45", "R46", "R52", "R53", "R54", "R55", "R58"}


def test_a_figure_that_another_document_computes_may_be_stated() -> None:
    """180 VA a yoke is a number of the electrical code alone: an energy code has nothing against the sum as stated."""
    record = {"space.use": "lobby", "project.receptacle_va": 20_000}
    assert rulebook().edition("ashrae-90.1", "2019").rule("share.listed", record).word == "not listed"

"""Whole rooms under the energy codes that states adopt: what is counted, in pairs, and by distance.

What is expected is counted by hand from the sections: ASHRAE 90.1 8.4.2 and International Energy Conservation Code
C405.11 want half of the receptacles of a room, a duplex being two; the latter a controlled one within 12 in or a
controlled upper half; California's 130.5(d)2 a controlled one within 6 ft or a split device.
"""

from __future__ import annotations

from typing import Any

import pytest

import yokebook
from shipped_book import rulebook
from yokebook import front_door

BOOK = rulebook()
ASHRAE, IECC, CALIFORNIA = ("ashrae-90.1", "2013"), ("iecc", "2021"), ("ca-energy", "2022")
SENSOR = {"id": "S", "kind": "wall-box sensor", "turns_off_by": "presence", "off_delay_min": "20 min"}
PLACES = {2: ("upper", "lower"), 4: ("first", "second", "third", "fourth")}
DEVICES = {2: "duplex", 4: "quad"}


def device(name: str, controlled: list[bool], far: int = 0, straight: int | None = None) -> dict[str, Any]:
    """A device with these contact devices, the uncontrolled ones so many inches from a controlled one."""
    contacts = []
    for place, on in zip(PLACES[len(controlled)], controlled, strict=True):
        contact: dict[str, Any] = {"id": place, "position": place, "only_for": "none", "designation": "none"}
        contact["runs_day_and_night"] = False
        if on:
            contact |= {"supply": "controlled", "controls": ["S"]}
        else:
            near = far if straight is None else straight
            contact |= {
                "supply": "always on",
                "nearest_controlled_in": f"{far} in",
                "straight_controlled_in": f"{near} in",
            }
        contacts.append({**contact, "circuit": "C"})
    kind = DEVICES[len(controlled)]
    return {"id": name, "configuration": "5-20R", "device_type": kind, "contacts": contacts}


def rule(code: tuple[str, str], question: str, *yokes: dict[str, Any], **space: Any) -> yokebook.Ruling:
    """What the code says of a room with these devices."""
    room = {"id": "room", "use": "conference", "occupancy": "office", "shutoff_endangers": False, **space}
    project = {
        "project": {"name": "Ninth Street Controls, national"},
        "complete": True,
        "spaces": [{**room, "yokes": list(yokes)}],
        "controls": [SENSOR],
        "circuits": [{"id": "C", "breaker_amps": "20 A"}],
    }
    graph = front_door.project_to_graph(project, BOOK.book)
    return BOOK.edition(*code).rule(question, graph, code[0], "room")


OFF, ON = [False, False], [True, True]
SPLIT, UPSIDE_DOWN = [True, False], [False, True]


@pytest.mark.parametrize("code", [ASHRAE, IECC])
@pytest.mark.parametrize(
    ("quad", "duplex", "expected"),
    [
        ([False] * 4, ON, "not satisfied"),  # 2 of 6
        ([True] * 4, OFF, "satisfied"),  # 4 of 6
        ([True, True, False, False], SPLIT, "satisfied"),  # 3 of 6
    ],
)
def test_a_quad_and_a_duplex_are_six_receptacles(
    code: tuple[str, str], quad: list[bool], duplex: list[bool], expected: str
) -> None:
    assert rule(code, "share.controlled", device("Q", quad, 40), device("D", duplex, 40)).outcome == expected


WALLS = {
    "every other one controlled": ([OFF, ON, OFF, ON], 4),
    "all split": ([SPLIT] * 4, 4),
    "every other one split": ([OFF, SPLIT, OFF, SPLIT], 2),
}


@pytest.mark.parametrize("wall", WALLS)
def test_a_wall_of_four_duplexes_in_california_and_elsewhere(wall: str) -> None:
    """California asks for distance or a split, the others for half of the eight."""
    devices, controlled = WALLS[wall]
    yokes = [device(f"R{i}", each, 48) for i, each in enumerate(devices)]
    for question in ("share.controlled", "distance.controlled", "uncontrolled.kept"):
        assert rule(CALIFORNIA, question, *yokes).outcome == "satisfied", question
    expected = "satisfied" if controlled >= 4 else "not satisfied"
    assert rule(ASHRAE, "share.controlled", *yokes).outcome == expected


def test_a_split_device_helps_itself_and_no_other_beyond_the_distance() -> None:
    far = [device("R1", SPLIT, 0), device("R2", OFF, 73)]
    assert rule(CALIFORNIA, "distance.controlled", *far).outcome == "not satisfied"
    assert rule(CALIFORNIA, "distance.controlled", device("R1", SPLIT, 0), device("R2", OFF, 72)).outcome == "satisfied"


def test_which_half_matters_in_the_model_code_only() -> None:
    """Controlled below, the upper half is 1 in from a controlled one; give it 14 in to tell split from distance."""
    assert rule(IECC, "distance.controlled", device("R", SPLIT, 14)).outcome == "satisfied"
    assert rule(IECC, "distance.controlled", device("R", UPSIDE_DOWN, 14)).outcome == "not satisfied"
    assert rule(CALIFORNIA, "distance.controlled", device("R", UPSIDE_DOWN, 140)).outcome == "satisfied"


def test_round_a_corner_the_two_ways_of_measuring_differ() -> None:
    """16 in along two walls; a tape across the corner reads less."""
    ruling = rule(IECC, "distance.controlled", device("A", ON), device("B", OFF, 16, straight=12))
    assert ruling.outcome == "satisfied"
    assert [(also["reading"], also["outcomes"]) for also in ruling.also_held] == [
        ("distance-measured", ["not satisfied"])
    ]


def test_nearer_than_the_limit_along_the_wall_no_straight_distance_is_asked_for() -> None:
    near = device("B", OFF, 12)
    for contact in near["contacts"]:
        del contact["straight_controlled_in"]
    ruling = rule(IECC, "distance.controlled", device("A", ON), near)
    assert (ruling.word, ruling.also_held) == ("satisfied", [])


def test_a_room_with_everything_controlled_lacks_an_uncontrolled_one_in_california() -> None:
    yokes = [device("R1", ON), device("R2", ON)]
    assert rule(CALIFORNIA, "uncontrolled.kept", *yokes).outcome == "not satisfied"
    assert rule(ASHRAE, "share.controlled", *yokes).outcome == "satisfied"


def test_an_excused_room_is_asked_nothing() -> None:
    yokes = [device("R1", OFF, 999)]
    for code in (ASHRAE, IECC):
        assert rule(code, "share.controlled", *yokes, shutoff_endangers=True).outcome == "does not apply"
    assert rule(IECC, "distance.controlled", *yokes, shutoff_endangers=True).outcome == "does not apply"


def test_what_nobody_read_never_counts_against_a_room() -> None:
    """90.1-2022 is carried on an assumption: the word says so."""
    assert rule(("ashrae-90.1", "2022"), "share.controlled", device("R", OFF, 9)).word == "would be not satisfied"
    assert rule(("ashrae-90.1", "2016"), "share.controlled", device("R", OFF, 9)).word == "not satisfied"

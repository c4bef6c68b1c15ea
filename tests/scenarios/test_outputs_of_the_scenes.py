"""What is handed out about the scenes: the schedule to buy from, the questions to the authority, plan against field."""

from __future__ import annotations

from typing import Any

import pytest

from scenarios.staging import CITY, Changes, Data, Staged, project_data, stage, stage_data
from scenarios.test_sc04 import SPLIT_ALL
from scenarios.test_sc08 import ONE_MORE_SPLIT, in_a_school
from shipped_book import rulebook
from yokebook_adapters.authority import questions_for_authority
from yokebook_adapters.field_differences import differences

#: The questions that the marking and the part hang on.
MARKING = ["marking.required", "marking.form", "marking.place", "ordinary.permitted"]


def ordered(schedule: Data) -> dict[str, int]:
    """How many of each device the schedule orders."""
    return {each["device"]: each["count"] for each in schedule["order"]["devices"]}


# ---- R05, R09: the schedule -----------------------------------------------------------------------------------------


def test_the_classroom_orders() -> None:
    """SC-08 with its fix, in an elementary school: four tamper-resistant duplexes marked on both halves, one split and
    marked on the upper half; the five that are always on are tamper-resistant too and bear no mark."""
    school = in_a_school("18 in")
    school["class/R5"] = {**school["class/R5"], **ONE_MORE_SPLIT["class/R5"]}
    school["class/R5/upper"] = ONE_MORE_SPLIT["class/R5/upper"]
    data = project_data("sc08", school)
    data["circuits"] = [{"id": "LP-8/1", "breaker_amps": 20, "volts": 120}]
    for half in (half for yoke in data["spaces"][0]["yokes"] for half in yoke["contacts"]):
        half["circuit"] = "LP-8/1"
    schedule = stage_data(data).schedule(only=[*MARKING, "protection.tamper-resistant"])
    assert ordered(schedule) == {
        "5-20R duplex, tamper-resistant, marked as controlled on both halves": 4,
        "5-20R duplex, tamper-resistant, marked as controlled on upper half": 1,
        "5-20R duplex, tamper-resistant, unmarked": 5,
    }
    assert {line["yoke"]: line["hot_tab"] for line in schedule["lines"] if line["marked"] != "none"} == {
        "class/R5": "remove",
        **{f"class/C{i}": "keep" for i in range(1, 5)},
    }


def test_the_split_office_orders() -> None:
    """SC-04's fix: four tabs out, the neutral tabs stay, four upper marks of symbol and word on the face."""
    lines = stage("sc04", SPLIT_ALL).schedule(only=MARKING)["lines"]
    assert {line["yoke"] for line in lines} == {f"office/R{i}" for i in range(1, 5)}
    for line in lines:
        assert (line["hot_tab"], line["neutral_tab"]) == ("remove", "keep")
        assert line["mark"] == {"halves": "upper", "form": ["symbol and word"], "place": ["face"]}


# ---- R57: what the authority is asked -------------------------------------------------------------------------------


def asked(staged: Staged) -> dict[str, list[str]]:
    """The readings that the authority is asked to choose, each with the ruling numbers that hang on it."""
    book = rulebook().book
    found = questions_for_authority(staged.rulings(), [staged.graph], book.readings, book.questions)
    return {
        each["id"]: sorted({ruling["ruling"] for ruling in each["rulings"]})
        for each in found
        if each["kind"] == "reading"
    }


def test_the_county_is_asked_whether_the_sensor_is_the_wall_switch() -> None:
    """SC-02: the mark and the exception hang on it; the City has answered in BF-4 and is not asked."""
    hangs = asked(stage("sc02"))["sensor-as-wall-switch"]
    assert {"R03", "R04"} <= {*hangs}
    assert "sensor-as-wall-switch" not in asked(stage("sc02", place=CITY, day="2024-09-03"))


def test_the_timer_asks_two_more() -> None:
    """SC-03: whether the words of 2020 let it feed a receptacle (R11), and which breaker it has to match (R12)."""
    found = asked(stage("sc03"))
    assert "R11" in found["sensor-on-receptacle"]
    assert "R12" in found["switch-rating"]


# ---- R56: plan against field ----------------------------------------------------------------------------------------

#: The installer has left C always on and put a 15 A device in at B.
AS_BUILT: Changes = {
    "copy/C/upper": {"supply": "always on", "controls": []},
    "copy/B": {"configuration": "5-15R"},
}


@pytest.fixture(scope="module")
def copy_room() -> Data:
    plan, field = stage("sc06"), stage("sc06", AS_BUILT)
    return differences(plan.graph, field.graph, rulebook().book, plan.rulings(), field.rulings())


def test_what_is_different_in_the_room(copy_room: Data) -> None:
    """Two facts and one list, each told where it stands."""
    (room,) = (each for each in copy_room["rooms"] if each["room"] == "copy")
    found: dict[str, list[Any]] = {
        thing["path"]: [(fact["what"], fact["was"], fact["is"]) for fact in (*thing["facts"], *thing["lists"])]
        for thing in room["things"]
    }
    assert found == {
        "copy/B": [("receptacle.configuration", "5-20R", "5-15R")],
        "copy/C/upper": [("contact.supply", "controlled", "always on"), ("controls", "S", "none")],
    }


@pytest.mark.parametrize(
    ("question", "path", "was", "now", "against"),
    [
        ("marking.required", "copy/C/upper", "required", "not required", False),
        ("marking.form", "copy/C/upper", "symbol and word", "no mark", False),
        ("share.controlled", "copy", "satisfied", "not satisfied", True),  # 2 of 6, and 3 needed
    ],
)
def test_what_it_does_to_the_rulings(
    copy_room: Data, question: str, path: str, was: str, now: str, against: bool
) -> None:
    (room,) = (each for each in copy_room["rooms"] if each["room"] == "copy")
    (moved,) = (each for each in room["rulings"] if (each["question"], each["path"]) == (question, path))
    words = [moved[key].partition(" - ")[0] for key in ("was", "is")]
    assert (words, moved["against"]) == ([was, now], against)


def test_it_does_nothing_to_the_others(copy_room: Data) -> None:
    """A is as drawn; a 15 A receptacle may sit on a 20 A circuit, and 600 W / 120 V = 5 A <= 12 A at B."""
    (room,) = (each for each in copy_room["rooms"] if each["room"] == "copy")
    assert {each["path"] for each in room["rulings"]} == {"copy", "copy/C", "copy/C/upper"}


def test_nothing_moved_that_did_not_change() -> None:
    plan = stage("sc06")
    same = differences(plan.graph, stage("sc06").graph, rulebook().book, plan.rulings(), plan.rulings())
    assert same == {"project": [], "rooms": [], "count": 0}

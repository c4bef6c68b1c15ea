"""The whole invented building of the demo, with its later work: every ruling asked, against what the clauses give."""

from __future__ import annotations

import json
from functools import cache
from typing import Any

import pytest

from command_line.running import Command
from scenarios.staging import CITY, COUNTY, also_held, by_reading
from scenarios.whole_house import (
    CANNOT,
    CITY_ON_LATER,
    CITY_ON_PLAN,
    COUNTY_ON_PLAN,
    DIFFER,
    EDITIONS,
    ENERGY,
    EXPECTED,
    FOUND,
    LATER,
    MARKS,
    PLAN,
    PROTECTION,
    RATINGS,
    ROOMS,
    WIRING,
    Words,
)
from shipped_book import rulebook
from yokebook import front_door
from yokebook.ruling import Ruling

#: What is shown and not asked: which halves take a mark (R05), what to buy (R09), what an amendment changes (R10), the
#: field against the plan (R56), the readings (R57).
SHOWN = {"R05", "R09", "R10", "R56", "R57"}
ASKED = [ruling for n in range(1, 61) if (ruling := f"R{n:02}") not in SHOWN]


@pytest.fixture
def command(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Command:
    """Runs `yokebook` in this process."""
    return Command(monkeypatch, capsys)


@cache
def ruled(asked: str) -> dict[tuple[str, str], Ruling]:
    """Every ruling under one law, by question and thing: the City asks everything, the others what is theirs."""
    graph = front_door.read_project(LATER if asked == CITY_ON_LATER else PLAN, rulebook().book)
    if asked in EDITIONS:
        code = rulebook().edition(*EDITIONS[asked])
    else:
        assert graph.place == CITY
        code = rulebook().in_force(COUNTY if asked == COUNTY_ON_PLAN else CITY, graph.dates)
    everything = asked in (CITY_ON_PLAN, CITY_ON_LATER)
    questions = [question for who, words in EXPECTED if who == asked for question in words]
    sheet = code.rule_project(graph, None if everything else questions, ["all"] if everything else [])
    return {(ruling.question, ruling.subject["id"]): ruling for ruling in sheet.rulings}


def word(ruling: Ruling) -> str:
    """The outcome of a settled ruling, else its status."""
    return ruling.outcome or "" if ruling.status == "settled" else ruling.status


# ---- every ruling, and its words ------------------------------------------------------------------------------------


def test_these_are_the_rulings_of_the_rulebook() -> None:
    assert sorted({question.ruling for question in rulebook().book.questions.values()}) == ASKED


@pytest.mark.parametrize("ruling", ASKED)
def test_every_ruling_is_decided_somewhere_in_the_building(ruling: str) -> None:
    decided = {
        (question, thing)
        for _, words in EXPECTED
        for question, things in words.items()
        for thing, expected in things.items()
        if rulebook().book.questions[question].ruling == ruling and expected not in (CANNOT, DIFFER)
    }
    assert decided


@pytest.mark.parametrize(
    ("asked", "question", "things"),
    [
        pytest.param(asked, question, things, id=f"{asked}-{question}")
        for asked, words in EXPECTED
        for question, things in words.items()
    ],
)
def test_what_the_clause_gives(asked: str, question: str, things: dict[str, str]) -> None:
    assert {thing: word(ruled(asked)[question, thing]) for thing in things} == things


@pytest.mark.parametrize("asked", [CITY_ON_PLAN, CITY_ON_LATER])
def test_nothing_is_left_undecided_or_contradicts_itself(asked: str) -> None:
    """All topics asked: each ruling is settled, waits for a fact, or is read differently."""
    statuses = {ruling.status for ruling in ruled(asked).values()}
    assert "settled" in statuses
    assert statuses <= {"settled", CANNOT, DIFFER}


#: Exact figures, worked in `whole_house` beside the words.
FIGURES: dict[tuple[str, str], dict[str, str]] = {
    ("control.load", "C2"): {"control.load_w": "2040", "control.load_amps": "17", "control.amps": "15"},
    ("control.load", "S6"): {"control.load_amps": "50/3"},
    ("control.horsepower", "S6"): {"control.motor_amps": "20", "control.motor_limit": "12"},
    ("receptacle.plug-load", "tutor/R2/upper"): {"contact.load_amps": "25/2"},
    ("circuit.portable-load", "guest-2/R1/lower"): {"contact.portable_limit": "12", "contact.load_amps": "25/2"},
    ("circuit.load", "LP-7"): {"circuit.breaker_needed": "73/4"},
    ("circuit.load", "LP-13"): {"circuit.breaker_needed": "23"},
    ("circuit.fixed-load", "LP-17"): {"circuit.fastened_amps": "11", "circuit.fastened_limit": "10"},
    ("circuit.receptacle-load", "LP-3"): {"circuit.receptacle_amps": "3", "circuit.more_yokes": "11"},
    ("share.controlled", "office"): {"space.share_counted": "5", "space.share_needed": "3", "space.share_have": "2"},
    ("share.controlled", "tutor"): {"space.share_counted": "3", "space.share_needed": "2", "space.share_have": "2"},
    ("share.controlled", "open"): {"space.share_counted": "6", "space.share_needed": "3", "space.share_have": "3"},
    ("distance.controlled", "open"): {"space.worst_distance_in": "84"},
    ("control.schedule-zone", "K2"): {"control.zones_by_area": "2"},
    ("guest-room.controlled", "guest-1"): {"space.guest_counted": "4", "space.guest_have": "3"},
    ("spacing.wall", "living/long"): {"wall.uncovered_in": "18"},
}


@pytest.mark.parametrize(("asked", "expected"), FIGURES.items(), ids=["-".join(key) for key in FIGURES])
def test_the_figures_of_it(asked: tuple[str, str], expected: dict[str, str]) -> None:
    shown = {figure["calculation"]: figure["exact"] for figure in ruled(CITY_ON_PLAN)[asked].figures}
    assert {name: shown.get(name) for name in expected} == expected


# ---- kinds of outcome, readings, law --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "family",
    [
        pytest.param(MARKS, id="marks"),
        pytest.param(RATINGS, id="ratings"),
        pytest.param(ENERGY, id="energy"),
        pytest.param(ROOMS, id="rooms"),
        pytest.param(PROTECTION, id="protection"),
        pytest.param(WIRING, id="wiring"),
    ],
)
def test_each_family_has_something_right_something_against_and_something_that_cannot_be_told(family: Words) -> None:
    questions = rulebook().book.questions
    outcomes = [(questions[name], each) for name, things in family.items() for each in things.values()]
    assert any(each in question.against for question, each in outcomes)
    assert any(each not in (*question.against, *question.idle, CANNOT, DIFFER) for question, each in outcomes)
    assert CANNOT in {each for _, each in outcomes}


@pytest.mark.parametrize(
    ("question", "thing", "sides"),
    [
        (
            "control.rating.cord-and-plug",
            "T1",
            {"actual breaker": "satisfied", "largest permitted breaker": "not satisfied"},
        ),
        ("lighting.met", "guest-2", {"as printed": "not satisfied", "as amended": "satisfied"}),
        ("spacing.counts", "study/R1/upper", {"counts": "counts", "does not count": "left out"}),
    ],
)
def test_readings_stand_side_by_side(question: str, thing: str, sides: dict[str, str]) -> None:
    """R57: what each published reading gives."""
    assert by_reading(ruled(CITY_ON_PLAN)[question, thing]) == sides


def test_what_is_argued_stands_beside_what_is_settled() -> None:
    """R57: a card taken out by hand; a heater listed with its plug."""
    plan = ruled(CITY_ON_PLAN)
    assert also_held(plan["control.acts", "K3"]) == {"by a person": "manual"}
    assert also_held(plan["receptacle.plug-load", "tutor/R2/upper"]) == {"listing decides": "satisfied"}


@pytest.mark.parametrize(
    ("question", "thing", "by"),
    [
        ("marking.required", "office/P1/only", "BF-1"),
        ("which-half.controlled", "lobby/R2", "BF-2"),
        ("guest-room.controlled", "guest-1", "BF-ENG"),
    ],
)
def test_an_amendment_is_in_the_trace(question: str, thing: str, by: str) -> None:
    """R10: the last in the chain behind the rule that stands is the City's."""
    ruling = ruled(CITY_ON_PLAN)[question, thing]
    assert [rule["chain"][-1]["by"] for rule in ruling.standing] == [by]


@pytest.mark.parametrize(
    ("asked", "question", "thing", "edition", "entry"),
    [
        (CITY_ON_PLAN, "marking.required", "office/P1/only", "2023", "BF-EC23"),
        (CITY_ON_LATER, "marking.required", "meeting/R1/upper", "2023", "BF-EC23"),
        (CITY_ON_PLAN, "share.controlled", "office", "2021", "BF-ENB-2024"),
        (COUNTY_ON_PLAN, "marking.required", "office/P1/only", "2020", "TC-EC20"),
    ],
)
def test_which_edition_governs(asked: str, question: str, thing: str, edition: str, entry: str) -> None:
    """R49: the City has the 2023 code since July 2024, the County the 2020 code until 2025."""
    document = ruled(asked)[question, thing].document
    assert document and (document["edition"], document["entry"]) == (edition, entry)


# ---- outputs --------------------------------------------------------------------------------------------------------

#: R05: the halves that take a mark, read off the file: what something switches, but for the lamps of the flat that are
#: worked by hand at a door of a room that no luminaire lights, in the living room and on the bedroom's dimmer.
MARKED = {
    "bedroom/R1": "upper",
    "study/R1": "both",
    "office/P1": "the one",
    "office/R1": "upper",
    "office/R2": "upper",
    "tutor/R1": "both",
    "copy/R1": "upper",
    "copy/R2": "upper",
    "open/F1": "both",
    "open/F3": "first",
    "break/R1": "upper",
    "break/R2": "upper",
    "class/R1": "both",
    "guest-1/R1": "both",
    "guest-1/R2": "upper",
    "guest-2/R1": "upper",
    "exam/E1": "upper",
    "exam/E3": "the one",
    "shop/W2": "both",
    "shop/W3": "both",
    "lobby/R2": "lower",
}


def test_the_schedule(command: Command) -> None:
    """R05 and R09: marks, what to buy, what is not made, which breakers to tie, what to move."""
    ran = command("schedule", PLAN, "--format", "json")
    assert ran.status == 1
    schedule = json.loads(ran.out)["schedule"]
    lines = {line["yoke"]: line for line in schedule["lines"]}
    assert len(lines) == 38
    assert {yoke: line["marked"] for yoke, line in lines.items() if line["marked"] != "none"} == MARKED
    order = {each["device"]: each["count"] for each in schedule["order"]["devices"]}
    assert order["5-20R duplex, hospital grade, marked as controlled on upper half"] == 1
    # the director's two, the copy room's two, the refrigerator's, and one in place of the split ground-fault duplex
    assert order["5-20R duplex, marked as controlled on upper half"] == 6
    assert [yoke for yoke, line in lines.items() if line["made"] == "no"] == ["break/R1"]
    ties = {tie["yoke"]: (tie["circuits"], tie["word"]) for tie in schedule["order"]["breaker_ties"]}
    assert ties == {
        "kitchen/K1": (["HP-3", "HP-5"], "satisfied"),
        "lobby/R1": (["LP-21", "LP-23"], "not satisfied"),
    }
    moved = {move["load"] for line in lines.values() for move in line["move"]}
    assert moved == {"refrigerator", "breathing machine", "vaccine refrigerator", "exit lamp unit"}


def test_what_to_ask_the_office(command: Command) -> None:
    """The timer's rating by two published readings; the essential branch, which no table settles."""
    found = {q["id"]: q for q in json.loads(command("authority", PLAN, "--format", "json").out)["questions"]}
    rating = found["switch-rating"]
    assert rating["devices"] == ["study/R1"]
    assert {each["id"]: each["gives"] for each in rating["alternatives"]} == {
        "largest permitted breaker": {"R12": {"not satisfied": 1}},
        "actual breaker": {"R12": {"satisfied": 1}},
    }
    assert found["load.emergency"]["devices"] == ["exam/E3"]
    assert {"card-switch", "count-down-timer", "vacancy-sensor", "plug-load-limit"} <= set(found)


def test_the_field_against_the_plan(command: Command) -> None:
    """R56: a device put in upside down, an old marked one left, and four more; five of them are against."""
    ran = command("differ", LATER, FOUND, "--topic", "all", "--format", "json")
    assert ran.status == 1
    rulings: list[dict[str, Any]] = [
        ruling for room in json.loads(ran.out)["differences"]["rooms"] for ruling in room["rulings"]
    ]
    assert {(each["question"], each["path"]) for each in rulings if each["against"]} == {
        ("which-half.satisfied", "meeting/R1"),
        ("control.off-delay", "M1"),  # 30 min where 20 are allowed
        ("control.ground-return", "G1"),  # no mark for replacement on it
        ("protection.replacement.grounding.satisfied", "parlour/R1"),  # the plate does not say that there is no ground
        ("protection.weather-resistant.satisfied", "step/R1"),
    }
    [old_mark] = [
        each for each in rulings if (each["question"], each["path"]) == ("marking.existing", "meeting/R2/upper")
    ]
    assert old_mark["is"].startswith("unmarked - ")


def test_nothing_differs_from_itself(command: Command) -> None:
    assert command("differ", LATER, LATER).status == 0


def test_the_workshop_as_a_place_of_work(command: Command) -> None:
    """R52 by the edition alone: the saw starts by itself and works wood; the employer judges the dust collector."""
    ran = command("rule", PLAN, "--edition", "osha-1910:2005", "--question", "R52", "--format", "json")
    assert ran.status == 1
    [project] = json.loads(ran.out)["projects"]
    assert {r["subject"]["id"]: r["word"] for r in project["rulings"] if r["against"]} == {
        "shop/W2/upper": "hazard",
        "shop/W1/only": "judge the hazard",
    }

"""SC-09: a hotel guest room. City, 2023 edition and energy code with its guest-room ordinance, 20 January 2025.

Worked by hand: desk 2 + bedside 2 + television 1 = 5 of 10, need ceil(5.0) = 5; 25 min <= 30 min; relay 20 A >= 20 A.
The minutes of a model code's pattern are 20, and 25 > 20.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from scenarios.staging import Changes, Staged, as_published, by_reading, figure, stage, under_another_law

BEDSIDE = ("room/bed-left/upper", "room/bed-right/upper")
SWAPPED: Changes = {"room/bed-left/upper": {"load": "breathing equipment"}, "room/bed-left/lower": {"load": "bed lamp"}}


@pytest.fixture
def staged() -> Staged:
    return stage("sc09")


def test_guest_room_rule(staged: Staged) -> None:
    """R29: half of the receptacles, within the time."""
    ruling = staged.rule("guest-room.controlled", "room")
    assert ruling.outcome == "satisfied"
    shown = [figure(ruling, f"space.guest_{name}") for name in ("counted", "needed", "have")]
    assert shown == [10, 5, 5]
    assert {step["by"] for rule in ruling.standing for step in rule["chain"]} == {"BF-ENG"}


def test_guest_room_rule_with_20_min(staged: Staged) -> None:
    """R29: under a pattern of 20 min none of the five is off in time."""
    (candidate,) = staged.code.in_force["energy"].candidates
    assert candidate.law is not None
    values = dict(candidate.law.resolved.values)
    values["guest_room_delay"] = replace(values["guest_room_delay"], value=Fraction(20), written="20 min")
    ruling = under_another_law(staged, "energy", values=values).rule("guest-room.controlled", "room")
    assert (ruling.outcome, ruling.against) == ("not satisfied", True)
    assert figure(ruling, "space.guest_have") == 0


@pytest.mark.parametrize("half", BEDSIDE)
def test_bedside_in_the_base_text(staged: Staged, half: str) -> None:
    """R03, R04: a wall switch is there, and the relay is automatic too."""
    base = as_published(staged, "nfpa-70", "2023")
    assert by_reading(base.rule("marking.required", half)) == {"wall switch": "not required", "automatic": "required"}
    assert by_reading(base.rule("marking.lighting-exception", half)) == {
        "wall switch": "excused",
        "automatic": "not available",
    }


@pytest.mark.parametrize("half", BEDSIDE)
def test_bedside_in_the_city(staged: Staged, half: str) -> None:
    """R03, R04: a guest room without cooking is no dwelling unit, so BF-1 has it marked."""
    ruling = staged.rule("marking.required", half)
    assert ruling.outcome == "required"
    assert {rule["chain"][-1]["by"] for rule in ruling.standing} == {"BF-1"}
    assert staged.word("marking.lighting-exception", half) == "not available"


def test_marks(staged: Staged) -> None:
    """R05: five marked."""
    assert staged.marks() == {
        "room/desk": "both",
        "room/bed-left": "upper",
        "room/bed-right": "upper",
        "room/tv": "upper",
        "room/bar": "none",
    }


def test_ratings(staged: Staged) -> None:
    """R12: the relay passes; the entry switch controls two receptacles and its rating is not given."""
    assert staged.word("control.rating.cord-and-plug", "K") == "satisfied"
    switch = staged.rule("control.rating.cord-and-plug", "E")
    assert switch.status == "cannot tell"
    assert figure(switch, "control.receptacles") == 2
    assert {(ask["subject"], ask["fact"]) for ask in switch.ask} <= {
        ("E", "control.general_marked"),
        ("E", "control.amps"),
        ("E", "control.watts_w"),
        ("E", "control.rated_volts"),
    }
    assert switch.ask


def test_what_stays_on(staged: Staged) -> None:
    """R51: breathing equipment in a lower half and the minibar are always on; moved up, the first is a concern."""
    for half in ("room/bed-left/lower", "room/bar/upper"):
        assert staged.word("load.always-on", half) == "no concern"
    ruling = stage("sc09", SWAPPED).rule("load.always-on", "room/bed-left/upper")
    assert (ruling.outcome, ruling.against) == ("move to always-on", True)


#: What a look at the room says beside.
LOOKED_AT: Changes = {
    "E": {"listed": True},
    "LP-9/7": {"afci": "combination breaker"},
    **{
        f"room/{yoke}": {"serves": "general", "height_in": "18 in", "tamper_resistant": True}
        for yoke in ("desk", "bed-left", "bed-right", "tv", "bar")
    },
}


def test_lit_by_switched_receptacles() -> None:
    """R15: guest rooms have the same exception; the entry switch is it, and the relay alone would not be."""
    staged = stage("sc09", LOOKED_AT)
    assert staged.rule("lighting.met", "room").ruling == "R15"
    assert staged.word("lighting.met", "room") == "satisfied"
    assert staged.word("lighting.wall-control", "E") == "accepted"
    assert staged.word("lighting.wall-control", "K") == "not accepted"


def test_presence_beside_the_switch() -> None:
    """R16: the relay goes by presence and is in addition to the switch at the door."""
    assert stage("sc09", LOOKED_AT).word("lighting.sensor", "K") == "beside the switch"


@pytest.mark.parametrize("yoke", ["desk", "bed-left", "bed-right", "tv", "bar"])
def test_tamper_resistant_and_arc_fault(yoke: str) -> None:
    """R41, R44: guest rooms are on both lists."""
    staged = stage("sc09", LOOKED_AT)
    assert staged.word("protection.tamper-resistant", f"room/{yoke}") == "required"
    assert staged.word("protection.tamper-resistant.satisfied", f"room/{yoke}") == "satisfied"
    for half in ("upper", "lower"):
        assert staged.word("protection.arc-fault", f"room/{yoke}/{half}") == "required"
        assert staged.word("protection.arc-fault.satisfied", f"room/{yoke}/{half}") == "satisfied"

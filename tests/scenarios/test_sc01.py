"""SC-01: a living room's lamp on a hand-worked wall switch. County, 2020 edition, permit of 10 May 2023.

Worked by hand: 9 W / 120 V = 0.075 A; the switch controls one receptacle (the upper half), 15 A >= 15 A. A receptacle
covers 6 ft to each side: R1 at 3 ft from 0 to 9 ft, R2 at 11 ft from 5 to 17 ft, together all of the 14 ft wall.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

from scenarios.staging import CITY, Changes, Staged, also_held, by_reading, figure, stage, steps, under_another_law
from yokebook.model import At, Step

WHOLE_DUPLEX: Changes = {
    "living/R2": {"hot_tab": "intact"},
    "living/R2/lower": {"supply": "controlled", "controls": ["S1"]},
}
#: What the plan and a look at the room say beside: the wall, the breaker, the device, the switch's own listing.
PLACED: dict[str, Any] = {"wall": "W", "serves": "general", "height_in": "16 in", "in_cabinet": False}
LOOKED_AT: Changes = {
    "living": {
        "walls": [{"id": "W", "length_in": "14 ft", "behind_counter": "none"}],
        "place_kind": "inside",
        "has_sink": False,
        "has_tub": False,
    },
    "living/R1": {**PLACED, "position_in": "3 ft", "tamper_resistant": True},
    "living/R2": {
        **PLACED,
        "position_in": "11 ft",
        "tamper_resistant": True,
        "neutral_holds_without_device": True,
    },
    "S1": {"listed": True, "needs_neutral": False, "return_on_ground": False},
    "LP-1/3": {"afci": "combination breaker", "shared_neutral": False},
}
WHOLE_LOOKED_AT: Changes = {
    **LOOKED_AT,
    "living/R2": {**LOOKED_AT["living/R2"], **WHOLE_DUPLEX["living/R2"]},
    "living/R2/lower": WHOLE_DUPLEX["living/R2/lower"],
}


@pytest.mark.parametrize(
    ("number", "question", "subject", "expected"),
    [
        ("R01", "control.acts", "S1", "manual"),
        ("R02", "marking.scope", "living/R2", "in scope"),
        ("R03", "marking.required", "living/R2/upper", "not required"),
        ("R03", "marking.required", "living/R2/lower", "not required"),
        ("R04", "marking.lighting-exception", "living/R2/upper", "excused"),
        ("R06", "marking.form", "living/R2/upper", "no mark"),
        ("R08", "ordinary.permitted", "living/R2/upper", "permitted"),
        ("R12", "control.rating.cord-and-plug", "S1", "satisfied"),
        ("R13", "control.load", "S1", "satisfied"),
        ("R30", "yoke.disconnect", "living/R2", "does not apply"),
    ],
)
def test_as_built(number: str, question: str, subject: str, expected: str) -> None:
    staged = stage("sc01")
    assert staged.word(question, subject) == expected
    assert staged.rule(question, subject).ruling == number


def test_the_2020_edition_governs() -> None:
    document = stage("sc01").rule("marking.required", "living/R2/upper").document
    assert document is not None
    assert (document["edition"], document["entry"], document["amendments"]) == ("2020", "TC-EC20", [])


def test_figures() -> None:
    staged = stage("sc01")
    load = staged.rule("control.load", "S1")
    assert figure(load, "contact.load_amps", "living/R2/upper") == Fraction(9, 120)  # 0.075 A
    rating = staged.rule("control.rating.cord-and-plug", "S1")
    assert figure(rating, "control.receptacles") == 1
    assert figure(rating, "control.receptacle_amps") == 15


def test_part_to_buy() -> None:
    """R05 and R09: no mark; an ordinary 5-15R duplex, the hot-side tab removed, the neutral-side tab kept."""
    part = stage("sc01").parts()["living/R2"]
    assert (part["configuration"], part["form"], part["marked"]) == ("5-15R", "duplex", "none")
    assert (part["hot_tab"], part["neutral_tab"], part["ordinary_device"]) == ("remove", "keep", "permitted")


def test_whole_duplex_on_the_switch() -> None:
    """R12: two receptacles now; 15 A reaches the 15 A breaker, and not the 20 A that a 15 A receptacle may sit on."""
    ruling = stage("sc01", WHOLE_DUPLEX).rule("control.rating.cord-and-plug", "S1")
    assert by_reading(ruling) == {"actual breaker": "satisfied", "largest permitted breaker": "not satisfied"}
    assert figure(ruling, "control.receptacles") == 2
    assert figure(ruling, "control.circuit_breaker") == 15
    assert figure(ruling, "control.breaker_permitted") == 20


def test_city_keeps_the_exception_in_a_dwelling() -> None:
    staged = stage("sc01", place=CITY, day="2024-09-03")
    assert staged.word("marking.required", "living/R2/upper") == "not required"


# ---- the room, the wall, the circuit -------------------------------------------------------------------------------


@pytest.mark.parametrize("law", [pytest.param(None, id="county"), pytest.param(CITY, id="city")])
@pytest.mark.parametrize(
    ("number", "question", "subject", "expected"),
    [
        ("R15", "lighting.met", "living", "satisfied"),
        ("R17", "spacing.counts", "living/R2/upper", "left out"),
        ("R17", "spacing.counts", "living/R2/lower", "counts"),
        ("R17", "spacing.wall", "living/W", "satisfied"),
        ("R31", "yoke.tabs", "living/R2", "in order"),
        ("R36", "circuit.fixed-load", "LP-1/3", "does not apply"),
        ("R38", "circuit.receptacle-load", "LP-1/3", "does not apply"),
        ("R41", "protection.tamper-resistant", "living/R2", "required"),
        ("R41", "protection.tamper-resistant.satisfied", "living/R2", "satisfied"),
        ("R42", "protection.weather-resistant", "living/R2", "not required"),
        ("R43", "protection.ground-fault", "living/R2", "not required"),
        ("R44", "protection.arc-fault", "living/R2/upper", "required"),
        ("R44", "protection.arc-fault.satisfied", "living/R2/upper", "satisfied"),
        ("R45", "control.neutral", "S1", "not required"),
        ("R46", "control.ground-return", "S1", "does not apply"),
        ("R58", "yoke.part-exists", "living/R2", "does not apply"),
    ],
)
def test_room_and_wiring(law: str | None, number: str, question: str, subject: str, expected: str) -> None:
    """Kitchens and bathrooms (from 2023 laundries too) are left out of R15, a living room is not; one circuit, one
    neutral, so the hot tab alone is broken (R31); 220.14 counts a home's receptacles by its floor (R38)."""
    staged = stage("sc01", LOOKED_AT, law, "2024-09-03" if law else None)
    assert staged.word(question, subject) == expected
    assert staged.rule(question, subject).ruling == number


def test_wall_is_covered() -> None:
    """R17: 0 to 9 ft and 5 to 14 ft; some leave the lower half out too."""
    ruling = stage("sc01", LOOKED_AT).rule("spacing.wall", "living/W")
    assert figure(ruling, "wall.uncovered_in") == 0
    assert also_held(ruling) == {"does not count": "not satisfied"}


def test_wall_where_the_lower_half_is_left_out() -> None:
    """R17 by the argued reading: R1 alone covers 0 to 9 ft, and 5 ft are left of 14."""
    step = Step("an invented direction", "choose_reading", None, "leaves it out", At("direction", 1, 1))
    chosen = (("other-half-of-switched", "does not count", None, step),)
    staged = under_another_law(stage("sc01", LOOKED_AT), "electrical", chosen=chosen)
    assert uncovered(staged) == ("not satisfied", True, 5)


def test_wall_with_the_whole_duplex_switched() -> None:
    """R17: 9 to 14 ft are out of reach."""
    staged = stage("sc01", WHOLE_LOOKED_AT)
    assert uncovered(staged) == ("not satisfied", True, 5)
    assert "uncovered 5 ft of 14 ft: from 9 ft to 14 ft" in steps(
        staged.rule("spacing.wall", "living/W"), "wall.uncovered_in"
    )


def uncovered(staged: Staged) -> tuple[str | None, bool, Fraction]:
    """The ruling on the wall, whether it is against, and how many feet no receptacle covers."""
    ruling = staged.rule("spacing.wall", "living/W")
    return ruling.outcome, ruling.against, figure(ruling, "wall.uncovered_in") / 12

"""SC-02: the room of SC-01 with a wall-box vacancy sensor. (a) County, 10 May 2023; (b) City, 3 September 2024.

Worked by hand: 5 A < 15 A; 500 W / 120 V = 4.17 A.
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from scenarios.staging import CITY, COUNTY, Changes, Staged, by_reading, chosen, figure, stage

UPPER = "living/R2/upper"


@pytest.fixture
def county() -> Staged:
    return stage("sc02")


@pytest.fixture
def city() -> Staged:
    return stage("sc02", place=CITY, day="2024-09-03")


def test_automatic_in_both(county: Staged, city: Staged) -> None:
    """R01: it goes off by itself."""
    assert county.word("control.acts", "S1") == "automatic"
    assert city.word("control.acts", "S1") == "automatic"


def test_mark_in_the_county(county: Staged) -> None:
    """R03, R04: two published readings of the exception, and the County has chosen neither."""
    assert by_reading(county.rule("marking.required", UPPER)) == {
        "wall switch": "not required",
        "automatic": "required",
    }
    assert by_reading(county.rule("marking.lighting-exception", UPPER)) == {
        "wall switch": "excused",
        "automatic": "not available",
    }


def test_mark_in_the_city(city: Staged) -> None:
    """R03, R04: BF-4 settles the reading; BF-2 wants the upper half controlled, and it is."""
    assert city.word("marking.required", UPPER) == "required"
    assert chosen(city.rule("marking.required", UPPER)) == [("sensor-as-wall-switch", "automatic", "BF-4")]
    assert city.word("marking.required", "living/R2/lower") == "not required"
    assert city.word("marking.lighting-exception", UPPER) == "not available"
    assert city.word("which-half.controlled", "living/R2") == "upper"
    assert city.word("which-half.satisfied", "living/R2") == "satisfied"
    assert city.marks() == {"living/R1": "none", "living/R2": "upper"}


def test_not_permitted_in_either(county: Staged, city: Staged) -> None:
    """R11: a sensor for permanently connected loads in 2020; in the later text, one not listed for receptacles."""
    assert county.word("control.permitted", "S1") == "not permitted"
    assert city.word("control.permitted", "S1") == "not permitted"


def test_too_small_in_either(county: Staged, city: Staged) -> None:
    """R12: 5 A < 15 A, receptacle and breaker alike."""
    for staged in (county, city):
        ruling = staged.rule("control.rating.cord-and-plug", "S1")
        assert (ruling.outcome, ruling.against) == ("not satisfied", True)
        assert figure(ruling, "control.receptacle_amps") == 15


def test_too_small_by_its_watts() -> None:
    """R12: 500 W at 120 V is 4.17 A."""
    by_watts: Changes = {"S1": {"amps": None, "watts_w": "500 W", "rated_volts": 120}}
    ruling = stage("sc02", by_watts).rule("control.rating.cord-and-plug", "S1")
    assert ruling.outcome == "not satisfied"
    assert figure(ruling, "control.amps") == Fraction(500, 120)


BOTH = [pytest.param(COUNTY, "2023-05-10", id="county"), pytest.param(CITY, "2024-09-03", id="city")]
#: What the sensor's instructions say.
NEEDS_NEUTRAL = {"needs_neutral": True, "return_on_ground": False}
ON_GROUND = {"return_on_ground": True, "retrofit_marked": True, "put_in_from_2020": True}
FIT = {"amps": 15, "listed_for.receptacle_loads": True, "listed_for.permanently_connected_only": False}


@pytest.mark.parametrize(("place", "day"), BOTH)
def test_may_be_the_lighting_control(place: str, day: str) -> None:
    """R16: a button, and it sits where the switch would."""
    staged = stage("sc02", None, place, day)
    ruling = staged.rule("lighting.sensor", "S1")
    assert (ruling.ruling, ruling.outcome) == ("R16", "as the switch")


@pytest.mark.parametrize(("place", "day"), BOTH)
def test_may_not_be_it_without_a_button(place: str, day: str) -> None:
    """R16: nothing works it by hand, and no wall switch stands beside it."""
    staged = stage("sc02", {"S1": {"acts_as_wall_switch": False}}, place, day)
    ruling = staged.rule("lighting.sensor", "S1")
    assert (ruling.outcome, ruling.against) == ("not permitted", True)


@pytest.mark.parametrize(("place", "day"), BOTH)
def test_neutral_in_its_box(place: str, day: str) -> None:
    """R45: a switch of receptacles is left out of the rule; the device asks for it all the same."""
    ruling = stage("sc02", {"S1": NEEDS_NEUTRAL}, place, day).rule("control.neutral", "S1")
    assert (ruling.ruling, ruling.outcome) == ("R45", "required by the device")


@pytest.mark.parametrize(("place", "day"), BOTH)
def test_one_that_returns_on_the_ground(place: str, day: str) -> None:
    """R46: not in new work from 2020 on, though it be marked for replacement; this box can have a neutral."""
    staged = stage("sc02", {"S1": {**ON_GROUND, "old_box_without_neutral": False}}, place, day)
    ruling = staged.rule("control.ground-return", "S1")
    assert (ruling.ruling, ruling.outcome, ruling.against) == ("R46", "not permitted", True)


def test_advice_a_sensor_for_receptacles_of_15_a() -> None:
    """R11, R12: in the City it is permitted and large enough; in the County the words of 2020 are read both ways."""
    city, county = stage("sc02", {"S1": FIT}, CITY, "2024-09-03"), stage("sc02", {"S1": FIT})
    assert city.word("control.permitted", "S1") == "permitted"
    assert by_reading(county.rule("control.permitted", "S1")) == {
        "permanently connected only": "not permitted",
        "listed for it": "permitted",
    }
    for staged in (city, county):
        assert staged.word("control.rating.cord-and-plug", "S1") == "satisfied"  # one receptacle, 15 A >= 15 A


def test_advice_a_hand_switch() -> None:
    """R03, R11, R12: nothing is left of all this with the snap switch of SC-01."""
    for place, day in ((COUNTY, "2023-05-10"), (CITY, "2024-09-03")):
        staged = stage("sc01", None, place, day)
        assert staged.word("control.permitted", "S1") == "permitted"
        assert staged.word("control.rating.cord-and-plug", "S1") == "satisfied"
        assert staged.word("marking.required", UPPER) == "not required"

"""SC-02: the room of SC-01 with a wall-box vacancy sensor. (a) County, 10 May 2023; (b) City, 3 September 2024.

Worked by hand: 5 A < 15 A; 500 W / 120 V = 4.17 A.
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from scenarios.staging import CITY, Changes, Staged, by_reading, chosen, figure, stage

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

"""SC-07: an open-plan office of 6,400 sq ft. City, 2023 edition and energy code with its ordinances, 3 February 2025.

Worked by hand: 24 x 4 + 6 x 2 = 108 contact devices, 54 needed, 24 x 2 + 6 = 54 controlled; 18 in and 0 in <= 72 in;
ceil(6,400 / 5,000) = 2 zones; 4 h > 2 h. By the yoke, 54 yokes, 27 needed: a split one as 0 gives 24, as 1/2 gives
24 + 3 = 27, as 1 gives 30.
"""

from __future__ import annotations

from collections import Counter

import pytest

from scenarios.staging import COUNTY, also_held, figure, stage, under_another_law
from yokebook.model import At, Step

BEFORE_BF_3 = "2024-02-05"


def test_share() -> None:
    """R19, R18: listed, and passes exactly."""
    staged = stage("sc07")
    assert staged.word("share.listed", "floor") == "listed"
    ruling = staged.rule("share.controlled", "floor")
    assert ruling.outcome == "satisfied"
    shown = [figure(ruling, f"space.share_{name}") for name in ("counted", "needed", "have")]
    assert shown == [108, 54, 54]


@pytest.mark.parametrize(
    ("alternative", "have", "expected"),
    [
        ("yoke, half as 0", 24, "not satisfied"),
        ("yoke, half as 1/2", 27, "satisfied"),
        ("yoke, half as 1", 30, "satisfied"),
    ],
)
def test_share_by_other_readings(alternative: str, have: int, expected: str) -> None:
    """R18: what a place that counted by the yoke would find."""
    step = Step("an invented direction", "choose_reading", None, "counts by the yoke", At("direction", 1, 1))
    chosen = (("share-counting-unit", alternative, None, step),)
    ruling = under_another_law(stage("sc07"), "energy", chosen=chosen).rule("share.controlled", "floor")
    assert ruling.outcome == expected
    shown = [figure(ruling, f"space.share_{name}") for name in ("counted", "needed", "have")]
    assert shown == [54, 27, have]


def test_before_the_ordinance_the_unit_is_open() -> None:
    """R18, R57: without BF-3 the count that fails is printed beside the outcome; with it, nothing is."""
    before = stage("sc07", day=BEFORE_BF_3).rule("share.controlled", "floor")
    assert before.outcome == "satisfied"
    assert also_held(before)["yoke, half as 0"] == "not satisfied"
    after = stage("sc07").rule("share.controlled", "floor")
    assert [held for held in after.also_held if held["reading"] == "share-counting-unit"] == []


def test_distance() -> None:
    """R21: 18 in at worst."""
    ruling = stage("sc07").rule("distance.controlled", "floor")
    assert ruling.outcome == "satisfied"
    assert figure(ruling, "space.worst_distance_in") == 18


def test_schedule() -> None:
    """R24: two zones needed. R25: 240 min > 120 min."""
    staged = stage("sc07")
    zone = staged.rule("control.schedule-zone", "T")
    assert (zone.outcome, zone.against) == ("not satisfied", True)
    assert figure(zone, "control.zones_by_area") == 2
    override = staged.rule("control.override", "T")
    assert (override.outcome, override.against) == ("not satisfied", True)


def test_marks() -> None:
    """R05: 54 marked contact devices on 30 yokes: 24 both halves, 6 the upper only."""
    marks = stage("sc07").marks()
    assert Counter(marks.values()) == {"both": 24, "upper": 6, "none": 24}
    assert {yoke for yoke, mark in marks.items() if mark == "upper"} == {f"floor/W{i}" for i in range(1, 7)}


@pytest.mark.parametrize(("controlled", "expected"), [(2, "satisfied"), (1, "not satisfied")])
def test_furniture_not_on_the_drawings(controlled: int, expected: str) -> None:
    """R26, in the County: 8 feeders, 8 x 25 % = 2 controlled ones needed."""
    feeders = {
        "furniture_feeders": 8,
        "furniture_feeders_controlled": controlled,
        "furniture_on_documents": False,
    }
    ruling = stage("sc07", {"floor": feeders}, COUNTY).rule("furniture.feeders", "floor")
    assert ruling.outcome == expected
    assert figure(ruling, "space.feeders_needed") == 2

"""SC-08: an elementary classroom of 900 sq ft. City, 2023 edition and energy code, permit of 12 November 2024.

Worked by hand: 20 contact devices less 2 designated = 18, 9 needed, 4 x 2 = 8 controlled, short 1; one more split gives
9 of 18; 78 in > 72 in by 6 in; 20 min <= 20 min.
"""

from __future__ import annotations

import pytest

from scenarios.staging import CITY, Changes, figure, stage, steps

ONE_MORE_SPLIT: Changes = {
    "class/R5": {"hot_tab": "removed"},
    "class/R5/upper": {"supply": "controlled", "controls": ["S"], "nearest_controlled_in": None},
}


@pytest.mark.parametrize("half", ["upper", "lower"])
def test_designated(half: str) -> None:
    """R20: one duplex, both halves."""
    staged = stage("sc08")
    assert staged.word("share.exempt", f"class/N/{half}") == "exempt"
    assert staged.word("share.counts", f"class/N/{half}") == "left out"
    assert staged.word("share.exempt", f"class/R1/{half}") == "not exempt"


@pytest.mark.parametrize(
    ("changes", "expected", "have"),
    [pytest.param({}, "not satisfied", 8, id="short by one"), pytest.param(ONE_MORE_SPLIT, "satisfied", 9, id="fix")],
)
def test_share(changes: Changes, expected: str, have: int) -> None:
    """R18."""
    ruling = stage("sc08", changes).rule("share.controlled", "class")
    assert ruling.outcome == expected
    shown = [figure(ruling, f"space.share_{name}") for name in ("counted", "needed", "have")]
    assert shown == [18, 9, have]


def test_short_by_one_is_said() -> None:
    """R18: have 8, need 9."""
    assert steps(stage("sc08").rule("share.controlled", "class"), "space.share_enough") == "8 < 9 by 1"


def test_distance() -> None:
    """R21: 6 in too far, in a room of more than 200 sq ft."""
    ruling = stage("sc08").rule("distance.controlled", "class")
    assert (ruling.outcome, ruling.against) == ("not satisfied", True)
    assert figure(ruling, "space.worst_distance_in") - 72 == 6


def test_delay() -> None:
    """R23: 20 min is within 20 min."""
    assert stage("sc08").word("control.off-delay", "S") == "satisfied"


def test_marks() -> None:
    """R05, R09: four duplexes marked both; after the fix one more, split and marked on the upper half."""
    marks = stage("sc08").marks()
    assert {yoke for yoke, mark in marks.items() if mark == "both"} == {f"class/C{i}" for i in range(1, 5)}
    assert set(marks.values()) == {"both", "none"}
    part = stage("sc08", ONE_MORE_SPLIT).parts()["class/R5"]
    assert (part["form"], part["marked"], part["hot_tab"]) == ("duplex", "upper", "remove")


YOKES = ("N", *(f"R{i}" for i in range(1, 6)), *(f"C{i}" for i in range(1, 5)))


def in_a_school(height: str) -> Changes:
    """An elementary school, every receptacle so high above the floor."""
    placed: Changes = {f"class/{yoke}": {"serves": "general", "height_in": height} for yoke in YOKES}
    return {"class": {"premises": "school"}, **placed}


@pytest.mark.parametrize(
    ("height", "expected"), [("18 in", "required"), ("66 in", "required"), ("67 in", "not required")]
)
def test_tamper_resistant_within_reach(height: str, expected: str) -> None:
    """R41: an elementary school; only above 5 1/2 ft, 66 in, it need not be."""
    staged = stage("sc08", in_a_school(height))
    assert staged.rule("protection.tamper-resistant", "class/C1").ruling == "R41"
    assert {staged.word("protection.tamper-resistant", f"class/{yoke}") for yoke in YOKES} == {expected}


def test_tamper_resistant_there() -> None:
    """R41: one that is not is against."""
    plain = in_a_school("18 in")
    plain["class/C1"] = {**plain["class/C1"], "tamper_resistant": False}
    ruling = stage("sc08", plain).rule("protection.tamper-resistant.satisfied", "class/C1")
    assert (ruling.outcome, ruling.against) == ("not satisfied", True)


def test_before_schools_were_on_the_list() -> None:
    """R41: the 2014 edition names dwellings, guest rooms and child care."""
    staged = stage("sc08", in_a_school("18 in"), CITY, "2016-05-02")
    assert staged.word("protection.tamper-resistant", "class/C1") == "not required"

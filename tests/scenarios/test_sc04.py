"""SC-04: a private office of 150 sq ft. County, 2020 edition and energy code, permit of 11 March 2024.

Worked by hand: 4 of 8 controlled, need ceil(4.0) = 4; R2 is 30 in from a controlled one, 12 in allowed, over by 18 in;
the sensor waits 30 min, 20 min allowed.
"""

from __future__ import annotations

from scenarios.staging import CITY, Changes, figure, stage

HALVES = ("upper", "lower")
ON: Changes = {
    f"office/{yoke}/upper": {"supply": "controlled", "controls": ["S"], "nearest_controlled_in": None}
    for yoke in ("R1", "R2")
}
OFF: Changes = {f"office/{yoke}/lower": {"supply": "always on", "controls": []} for yoke in ("R3", "R4")}
SPLIT_ALL: Changes = ON | OFF


def test_share() -> None:
    """R19, R18: listed; 4 of 8 is enough."""
    staged = stage("sc04")
    assert staged.word("share.listed", "office") == "listed"
    ruling = staged.rule("share.controlled", "office")
    assert ruling.outcome == "satisfied"
    shown = [figure(ruling, f"space.share_{name}") for name in ("have", "counted", "needed")]
    assert shown == [4, 8, 4]


def test_distance() -> None:
    """R21: R2 is 18 in too far."""
    ruling = stage("sc04").rule("distance.controlled", "office")
    assert (ruling.outcome, ruling.against) == ("not satisfied", True)
    assert figure(ruling, "space.worst_distance_unsplit_in") - 12 == 18


def test_distance_without_r2() -> None:
    """R1's 8 in is within 12 in."""
    near: Changes = {f"office/R2/{half}": {"nearest_controlled_in": "8 in"} for half in HALVES}
    assert stage("sc04", near).word("distance.controlled", "office") == "satisfied"


def test_delay() -> None:
    """R23: 30 min; reset to 20 it passes."""
    assert stage("sc04").word("control.off-delay", "S") == "not satisfied"
    assert stage("sc04", {"S": {"off_delay_min": "20 min"}}).word("control.off-delay", "S") == "satisfied"


def test_marks() -> None:
    """R03, R05: both halves of R3 and R4."""
    staged = stage("sc04")
    assert staged.marks() == {"office/R1": "none", "office/R2": "none", "office/R3": "both", "office/R4": "both"}
    for yoke, word in (("R1", "not required"), ("R2", "not required"), ("R3", "required"), ("R4", "required")):
        for half in HALVES:
            assert staged.word("marking.required", f"office/{yoke}/{half}") == word


def test_fix_split_all_four() -> None:
    """Upper halves controlled throughout: 4 of 8, the split meets the distance rule, four upper marks, four tabs."""
    staged = stage("sc04", SPLIT_ALL)
    ruling = staged.rule("share.controlled", "office")
    assert ruling.outcome == "satisfied"
    assert figure(ruling, "space.share_have") == 4
    assert staged.word("distance.controlled", "office") == "satisfied"
    parts = staged.parts()
    assert {part["marked"] for part in parts.values()} == {"upper"}
    assert [part["hot_tab"] for part in parts.values()] == ["remove"] * 4


def test_in_the_city() -> None:
    """150 sq ft is not more than 200, so no distance; the share passes; 30 min fails there too."""
    staged = stage("sc04", place=CITY)
    assert staged.word("distance.controlled", "office") == "does not apply"
    assert staged.word("share.controlled", "office") == "satisfied"
    assert staged.word("control.off-delay", "S") == "not satisfied"

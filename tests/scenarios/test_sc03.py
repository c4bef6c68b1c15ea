"""SC-03: a home office with a count-down timer on a whole duplex. County, 2020 edition, permit of 20 February 2024.

Worked by hand: 480 + 35 + 60 = 575 W; 575 W / 120 V = 4.79 A <= 15 A; two receptacles, 15 A >= 15 A and 15 A < 20 A.
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from scenarios.staging import Changes, also_held, by_reading, figure, stage

HALVES = ("study/R1/upper", "study/R1/lower")
#: The duplex in the middle of a wall of 8 ft.
ON_A_WALL: Changes = {
    "study": {"walls": [{"id": "W", "length_in": "8 ft", "behind_counter": "none"}]},
    "study/R1": {
        "wall": "W",
        "position_in": "4 ft",
        "serves": "general",
        "height_in": "16 in",
        "in_cabinet": False,
    },
}


def test_automatic_and_what_else_is_held() -> None:
    """R01: it ends by itself; some hold that a person starts it."""
    staged = stage("sc03")
    assert staged.word("control.acts", "T1") == "automatic"
    assert also_held(staged.rule("control.acts", "T1"))["by a person"] == "manual"


@pytest.mark.parametrize("half", HALVES)
def test_both_halves_marked(half: str) -> None:
    """R03 to R08: marked, the exception is not available, and an ordinary device does not serve."""
    staged = stage("sc03")
    assert staged.word("marking.required", half) == "required"
    assert also_held(staged.rule("marking.required", half))["by a person"] == "not required"
    assert staged.word("marking.lighting-exception", half) == "not available"
    assert staged.word("marking.form", half) == "symbol and word"
    assert staged.word("marking.place", half) == "face"
    assert staged.word("ordinary.permitted", half) == "not permitted"


def test_part_to_buy() -> None:
    """R05, R09: a 5-15R duplex marked on both halves, its tab left in."""
    part = stage("sc03").parts()["study/R1"]
    assert (part["configuration"], part["form"], part["marked"]) == ("5-15R", "duplex", "both")
    assert (part["hot_tab"], part["neutral_tab"], part["ordinary_device"]) == ("keep", "keep", "not permitted")


def test_no_share_in_a_dwelling() -> None:
    """R18, R19: a home office is not on the County's list."""
    staged = stage("sc03")
    assert staged.word("share.listed", "study") == "not listed"
    assert staged.word("share.controlled", "study") == "does not apply"


def test_may_a_timer_feed_a_receptacle() -> None:
    """R11: the 2020 words name permanently connected loads; this one is listed for receptacles."""
    assert by_reading(stage("sc03").rule("control.permitted", "T1")) == {
        "permanently connected only": "not permitted",
        "listed for it": "permitted",
    }


def test_rating() -> None:
    """R12: two receptacles; the breaker that is there, or the largest that they may sit on."""
    ruling = stage("sc03").rule("control.rating.cord-and-plug", "T1")
    assert by_reading(ruling) == {"actual breaker": "satisfied", "largest permitted breaker": "not satisfied"}
    assert figure(ruling, "control.receptacles") == 2


def test_load() -> None:
    """R13: 575 W, 4.79 A."""
    ruling = stage("sc03").rule("control.load", "T1")
    assert ruling.outcome == "satisfied"
    assert figure(ruling, "control.load_amps") == Fraction(575, 120)


@pytest.mark.parametrize("half", HALVES)
def test_wall_spacing(half: str) -> None:
    """R17: switched beside a luminaire, not in its place; read both ways in print."""
    ruling = stage("sc03", ON_A_WALL).rule("spacing.counts", half)
    assert ruling.ruling == "R17"
    assert by_reading(ruling) == {"counts": "counts", "does not count": "left out"}


def test_wall() -> None:
    """R17: 4 ft to each side of it are within 6 ft, or all of the 8 ft are without one."""
    ruling = stage("sc03", ON_A_WALL).rule("spacing.wall", "study/W")
    assert by_reading(ruling) == {"counts": "satisfied", "does not count": "not satisfied"}


def test_lighting_outlet_is_the_luminaire() -> None:
    """R15: nothing has to be stood in for."""
    assert stage("sc03").word("lighting.met", "study") == "does not apply"

"""SC-03: a home office with a count-down timer on a whole duplex. County, 2020 edition, permit of 20 February 2024.

Worked by hand: 480 + 35 + 60 = 575 W; 575 W / 120 V = 4.79 A <= 15 A; two receptacles, 15 A >= 15 A and 15 A < 20 A.
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from scenarios.staging import also_held, by_reading, figure, stage

HALVES = ("study/R1/upper", "study/R1/lower")


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

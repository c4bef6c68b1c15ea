"""SC-06: a copy room whose sensor is marked 1,800 W at 120 V. City, 2023 edition, 15 October 2024.

Worked by hand: 1,440 + 600 = 2,040 W, 240 W over 1,800 W; 2,040 / 120 = 17.0 A > 1,800 / 120 = 15.0 A; with 150 W of
network gear the circuit carries 17.0 + 1.25 = 18.25 A, and 18.25 x 1.25 = 22.81 A if all of it ran three hours.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

from scenarios.staging import Changes, figure, stage, steps

YOKES = ("copy/A", "copy/B", "copy/C")
UPPER = [f"{yoke}/upper" for yoke in YOKES]
PLOTTER_ONLY: Changes = {"copy/B/upper": {"load": "none"}}
ALL_CONTINUOUS: Changes = {name: {"continuous": True} for name in ("plotter", "laminator", "network gear")}
RELAY: Changes = {"S": {"kind": "ceiling sensor and relay", "watts_w": None, "rated_volts": None, "amps": 20}}
DESIGNATED = {"designation": "continuous operation"}
MOVED_DOWN: Changes = {"copy/A/upper": {"load": "none"}, "copy/A/lower": {"load": "plotter", **DESIGNATED}}
ALWAYS_ON_ABOVE: Changes = {"copy/A/upper": {"supply": "always on", "controls": [], **DESIGNATED}}


@pytest.mark.parametrize("upper", UPPER)
def test_upper_halves_marked(upper: str) -> None:
    """R03, R06, R07: symbol and word, on the face."""
    staged = stage("sc06")
    assert staged.word("marking.required", upper) == "required"
    assert staged.word("marking.form", upper) == "symbol and word"
    assert staged.word("marking.place", upper) == "face"
    assert staged.word("ordinary.permitted", upper) == "not permitted"


def test_which_halves() -> None:
    """R05, R22: three upper halves, as BF-2 wants them."""
    staged = stage("sc06")
    assert staged.marks() == dict.fromkeys(YOKES, "upper")
    for yoke in YOKES:
        assert staged.word("marking.required", f"{yoke}/lower") == "not required"
        assert staged.word("which-half.satisfied", yoke) == "satisfied"


def test_share_and_distance() -> None:
    """R18: 3 of 6. R21: 120 sq ft is not more than 200."""
    staged = stage("sc06")
    ruling = staged.rule("share.controlled", "copy")
    assert ruling.outcome == "satisfied"
    assert [figure(ruling, f"space.share_{name}") for name in ("have", "counted")] == [3, 6]
    assert staged.word("distance.controlled", "copy") == "does not apply"


def test_load() -> None:
    """R13: 240 W too much; 17.0 A against 15.0 A."""
    ruling = stage("sc06").rule("control.load", "S")
    assert (ruling.outcome, ruling.against) == ("not satisfied", True)
    assert figure(ruling, "control.load_w") == 2040
    assert steps(ruling, "control.load_fits_watts") == "2040 W > 1800 W by 240 W"
    assert [figure(ruling, f"control.{name}") for name in ("load_amps", "amps")] == [17, 15]


def test_plotter_only() -> None:
    """R13: 1,440 W <= 1,800 W, 12.0 A."""
    ruling = stage("sc06", PLOTTER_ONLY).rule("control.load", "S")
    assert ruling.outcome == "satisfied"
    assert [figure(ruling, f"control.{name}") for name in ("load_w", "load_amps")] == [1440, 12]


def test_rating() -> None:
    """R12: 15.0 A < 20 A by either reading."""
    ruling = stage("sc06").rule("control.rating.cord-and-plug", "S")
    assert (ruling.outcome, ruling.against) == ("not satisfied", True)
    assert figure(ruling, "control.amps") == 15
    assert {rule["rule"] for rule in ruling.standing} == {
        "control.rating.cord-and-plug#several-actual-short",
        "control.rating.cord-and-plug#several-permitted-short",
    }


@pytest.mark.parametrize(("half", "amps"), [("copy/A/upper", 12), ("copy/B/upper", 5)])
def test_each_plug(half: str, amps: int) -> None:
    """R34: 12.0 A and 5.0 A, 16 A allowed."""
    ruling = stage("sc06").rule("receptacle.plug-load", half)
    assert ruling.outcome == "satisfied"
    assert figure(ruling, "contact.load_amps") == amps


def test_circuit() -> None:
    """R37: 18.25 A <= 20 A; all continuous, 22.81 A > 20 A."""
    ruling = stage("sc06").rule("circuit.load", "LP-6/4")
    assert ruling.outcome == "satisfied"
    assert figure(ruling, "circuit.breaker_needed") == Fraction("18.25")
    ruling = stage("sc06", ALL_CONTINUOUS).rule("circuit.load", "LP-6/4")
    assert (ruling.outcome, ruling.against) == ("not satisfied", True)
    assert figure(ruling, "circuit.breaker_needed") == Fraction("18.25") * Fraction("1.25")


def test_relay_of_20_a() -> None:
    """The fix: 20 A >= 20 A, and 17.0 A <= 20 A."""
    staged = stage("sc06", RELAY)
    assert staged.word("control.rating.cord-and-plug", "S") == "satisfied"
    ruling = staged.rule("control.load", "S")
    assert ruling.outcome == "satisfied"
    assert figure(ruling, "control.load_amps") == 17


@pytest.mark.parametrize(
    ("changes", "expected", "have"),
    [
        pytest.param(MOVED_DOWN, "satisfied", 3, id="moved to a lower half"),
        pytest.param(ALWAYS_ON_ABOVE, "not satisfied", 2, id="upper half made always on"),
    ],
)
def test_plotter_designated(changes: Changes, expected: str, have: int) -> None:
    """R20, R18: the plotter's half leaves the count; of 5 left, ceil(2.5) = 3 are needed."""
    staged = stage("sc06", changes)
    exempt = "copy/A/lower" if changes is MOVED_DOWN else "copy/A/upper"
    assert staged.word("share.exempt", exempt) == "exempt"
    ruling = staged.rule("share.controlled", "copy")
    assert ruling.outcome == expected
    shown = [figure(ruling, f"space.share_{name}") for name in ("counted", "needed", "have")]
    assert shown == [5, 3, have]


def test_relay_or_pack_is_listed_for_the_duty() -> None:
    """R55: listed, for receptacles; a pack listed for lighting alone is none, nor a plastic one in a plenum."""
    fit: dict[str, Any] = {**RELAY["S"], "listed": True}
    assert stage("sc06", {"S": fit}).word("control.listed-for-place", "S") == "satisfied"
    lighting = stage("sc06", {"S": {**fit, "listed_for.receptacle_loads": False}})
    ruling = lighting.rule("control.listed-for-place", "S")
    assert (ruling.ruling, ruling.outcome, ruling.against) == ("R55", "not satisfied", True)
    plenum = {**fit, "location": "ceiling", "in_air_space": True}
    for enclosure, expected in (("metal", "satisfied"), ("other nonmetallic", "not satisfied")):
        staged = stage("sc06", {"S": {**plenum, "enclosure": enclosure}})
        assert staged.word("control.listed-for-place", "S") == expected


def test_three_duplexes_count_540_va() -> None:
    """R38: 3 x 180 VA = 540 VA, 4.5 A of 20; 2,400 - 540 = 1,860 VA is room for ten more."""
    ruling = stage("sc06").rule("circuit.receptacle-load", "LP-6/4")
    assert (ruling.ruling, ruling.outcome) == ("R38", "room left")
    shown = [figure(ruling, f"circuit.{name}") for name in ("receptacle_va", "receptacle_amps", "more_yokes")]
    assert shown == [540, Fraction(9, 2), 10]

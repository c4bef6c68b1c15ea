"""SC-10: a break room of 180 sq ft. County, 2020 edition and energy code, permit of 5 September 2023.

Worked by hand: 8 + 2 - 2 designated = 8 counted, 4 needed, 4 controlled; 1,450 / 120 = 12.08 A and 1,200 / 120 = 10 A,
together 22.08 A > 20 A; each <= 16 A; 12.08 A > the 12 A of a 15 A receptacle.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

from scenarios.staging import Changes, figure, stage

SPLIT = ("C1", "C2", "W1", "W2")
BREWER, MICROWAVE = Fraction(1450, 120), Fraction(1200, 120)
BEHIND_THE_SENSOR: Changes = {f"break/{n}/only": {"supply": "controlled", "controls": ["S"]} for n in ("F1", "V1")}


def test_share() -> None:
    """R18, R20: the two designated ones leave the count."""
    staged = stage("sc10")
    for name in ("F1", "V1"):
        assert staged.word("share.exempt", f"break/{name}/only") == "exempt"
    ruling = staged.rule("share.controlled", "break")
    assert ruling.outcome == "satisfied"
    shown = [figure(ruling, f"space.share_{name}") for name in ("counted", "needed", "have")]
    assert shown == [8, 4, 4]


def test_distance() -> None:
    """R21, R22: met by the split, the upper half controlled."""
    staged = stage("sc10")
    assert staged.word("distance.controlled", "break") == "satisfied"
    assert {staged.word("share.which-half", f"break/{name}") for name in SPLIT} == {"upper"}


def test_circuit() -> None:
    """R37: 22.08 A > 20 A."""
    ruling = stage("sc10").rule("circuit.load", "LP-10/1")
    assert (ruling.outcome, ruling.against) == ("not satisfied", True)
    assert figure(ruling, "circuit.breaker_needed") == BREWER + MICROWAVE == Fraction(2650, 120)


@pytest.mark.parametrize(("half", "amps"), [("break/C1/upper", BREWER), ("break/C2/upper", MICROWAVE)])
def test_each_plug(half: str, amps: Fraction) -> None:
    """R34: each alone is within 16 A."""
    ruling = stage("sc10").rule("receptacle.plug-load", half)
    assert (ruling.outcome, figure(ruling, "contact.load_amps")) == ("satisfied", amps)


def test_15_a_receptacles() -> None:
    """R34: 12.08 A > 12 A, and 10.00 A is within."""
    smaller: Changes = {"break/C1": {"configuration": "5-15R"}, "break/C2": {"configuration": "5-15R"}}
    staged = stage("sc10", smaller)
    ruling = staged.rule("receptacle.plug-load", "break/C1/upper")
    assert (ruling.outcome, ruling.against) == ("not satisfied", True)
    assert figure(ruling, "contact.load_amps") - 12 == Fraction(1, 12)
    assert staged.word("receptacle.plug-load", "break/C2/upper") == "satisfied"


def test_refrigeration() -> None:
    """R51: never behind the sensor."""
    for name in ("F1", "V1"):
        half = f"break/{name}/only"
        assert stage("sc10").word("load.always-on", half) == "no concern"
        ruling = stage("sc10", BEHIND_THE_SENSOR).rule("load.always-on", half)
        assert (ruling.outcome, ruling.against) == ("move to always-on", True)


def test_marks() -> None:
    """R03, R05: four upper halves."""
    marks = stage("sc10").marks()
    assert marks == {f"break/{n}": "upper" for n in SPLIT} | {"break/F1": "none", "break/V1": "none"}


# ---- water, and the part to buy -------------------------------------------------------------------------------------

#: Feet from the sink.
FROM_SINK = {"C1": 3, "C2": 5, "W1": 12, "W2": 14, "F1": 10, "V1": 15}
PLAIN: dict[str, Any] = {"serves": "general", "moisture": "dry", "usb": False, "isolated_ground": False}
AT_SINK: Changes = {
    "break": {"place_kind": "inside", "has_sink": True, "has_tub": False},
    **{f"break/{yoke}": {**PLAIN, "distance_to_sink_in": f"{feet} ft"} for yoke, feet in FROM_SINK.items()},
}


@pytest.mark.parametrize("yoke", ["C1", "C2"])
def test_ground_fault_within_6_ft_of_the_sink(yoke: str) -> None:
    """R43: 3 ft and 5 ft."""
    ruling = stage("sc10", AT_SINK).rule("protection.ground-fault", f"break/{yoke}")
    assert (ruling.ruling, ruling.outcome) == ("R43", "required")


@pytest.mark.parametrize("yoke", ["W1", "W2", "F1", "V1"])
def test_ground_fault_farther_off(yoke: str) -> None:
    """R43: whether the whole room is fitted out for food is asked; with and without it the answer is settled."""
    ruling = stage("sc10", AT_SINK).rule("protection.ground-fault", f"break/{yoke}")
    assert ruling.status == "cannot tell"
    assert [(ask["subject"], ask["fact"]) for ask in ruling.ask] == [("break", "space.food_provisions")]
    for fitted, expected in (("food or cooking", "required"), ("none", "not required")):
        fitted_out: Changes = {**AT_SINK, "break": {**AT_SINK["break"], "food_provisions": fitted}}
        assert stage("sc10", fitted_out).word("protection.ground-fault", f"break/{yoke}") == expected


@pytest.mark.parametrize(
    ("device", "protected_by", "expected"),
    [
        ("duplex", "breaker", "exists"),
        ("duplex", "upstream device", "exists"),
        ("GFCI duplex", "this device", "change the design"),
        ("duplex", "this device", "change the design"),
    ],
)
def test_split_and_ground_fault(device: str, protected_by: str, expected: str) -> None:
    """R58: marked upper half, always-on lower half; a ground-fault duplex has no tab to break."""
    built: Changes = {"break/C1": {**AT_SINK["break/C1"], "device_type": device, "gfci": protected_by}}
    ruling = stage("sc10", {**AT_SINK, **built}).rule("yoke.part-exists", "break/C1")
    assert (ruling.ruling, ruling.outcome, ruling.against) == ("R58", expected, expected == "change the design")

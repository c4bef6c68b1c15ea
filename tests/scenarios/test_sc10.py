"""SC-10: a break room of 180 sq ft. County, 2020 edition and energy code, permit of 5 September 2023.

Worked by hand: 8 + 2 - 2 designated = 8 counted, 4 needed, 4 controlled; 1,450 / 120 = 12.08 A and 1,200 / 120 = 10 A,
together 22.08 A > 20 A; each <= 16 A; 12.08 A > the 12 A of a 15 A receptacle.
"""

from __future__ import annotations

from fractions import Fraction

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

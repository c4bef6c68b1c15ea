"""SC-05: a private office with a plotter on a hand switch. (a) County, 11 March 2024; (b) City, 1 October 2024.

Worked by hand: 1,500 W / 120 V = 12.5 A; 4 of 9 controlled, need ceil(4.5) = 5, short 1; with the plotter's receptacle
designated 4 of 8.
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from scenarios.staging import CITY, COUNTY, Changes, Staged, also_held, figure, stage

PLOTTER = "office/P/only"
LAWS = [pytest.param(COUNTY, "2024-03-11", id="county"), pytest.param(CITY, "2024-10-01", id="city")]


def at(place: str, day: str, changes: Changes | None = None) -> Staged:
    return stage("sc05", changes, place, day)


@pytest.mark.parametrize(("place", "day"), LAWS)
@pytest.mark.parametrize(
    ("number", "question", "subject", "expected"),
    [
        ("R01", "control.acts", "H", "manual"),
        ("R32", "receptacle.single-rating", PLOTTER, "satisfied"),
        ("R12", "control.rating.cord-and-plug", "H", "does not apply"),
        ("R13", "control.load", "H", "satisfied"),
        ("R35", "circuit.portable-load", PLOTTER, "does not apply"),
        ("R37", "circuit.load", "LP-5/1", "satisfied"),
        ("R18", "share.controlled", "office", "not satisfied"),
    ],
)
def test_in_both(place: str, day: str, number: str, question: str, subject: str, expected: str) -> None:
    staged = at(place, day)
    assert staged.word(question, subject) == expected
    assert staged.rule(question, subject).ruling == number


def test_mark_in_the_county() -> None:
    """R03, R04: nothing automatic; some would mark any switched receptacle but for lighting."""
    staged = at(COUNTY, "2024-03-11")
    assert staged.word("marking.required", PLOTTER) == "not required"
    assert also_held(staged.rule("marking.required", PLOTTER))["all but lighting"] == "required"
    assert staged.word("marking.lighting-exception", PLOTTER) == "not needed"


def test_mark_in_the_city() -> None:
    """R03, R04: BF-1 marks it, and excuses only dwelling units."""
    staged = at(CITY, "2024-10-01")
    ruling = staged.rule("marking.required", PLOTTER)
    assert ruling.outcome == "required"
    (rule,) = ruling.standing
    assert rule["cite"] == {"document": "Brindle Falls ordinance", "section": "1"}
    assert rule["chain"][-1]["by"] == "BF-1"
    assert staged.word("marking.lighting-exception", PLOTTER) == "not available"


@pytest.mark.parametrize(("place", "day"), LAWS)
@pytest.mark.parametrize("amps", [20, 15])
def test_load(place: str, day: str, amps: int) -> None:
    """R13: 12.5 A is within a switch of 20 A, and for this load within one of 15 A."""
    ruling = at(place, day, {"H": {"amps": amps}}).rule("control.load", "H")
    assert ruling.outcome == "satisfied"
    assert figure(ruling, "control.load_amps") == Fraction(25, 2)
    assert "nothing stops" in ruling.standing[0]["says"]  # the advice that a bigger load may be plugged in


@pytest.mark.parametrize(("place", "day"), LAWS)
def test_two_outlets_on_the_circuit(place: str, day: str) -> None:
    """R12: one receptacle controlled on a general-purpose circuit; 15 A < the receptacle's 20 A."""
    shared: Changes = {"H": {"amps": 15}, "LP-5/1": {"individual": False}, "office/R4/lower": {"circuit": "LP-5/1"}}
    ruling = at(place, day, shared).rule("control.rating.cord-and-plug", "H")
    assert (ruling.outcome, ruling.against) == ("not satisfied", True)
    assert figure(ruling, "control.receptacles") == 1
    assert figure(ruling, "control.receptacle_amps") == 20


@pytest.mark.parametrize(("place", "day"), LAWS)
def test_share(place: str, day: str) -> None:
    """R18: a hand switch is no automatic control, so the plotter's receptacle counts as uncontrolled."""
    ruling = at(place, day).rule("share.controlled", "office")
    shown = [figure(ruling, f"space.share_{name}") for name in ("counted", "needed", "have")]
    assert shown == [9, 5, 4]


@pytest.mark.parametrize(("place", "day"), LAWS)
def test_designated(place: str, day: str) -> None:
    """R20: designated for continuous operation it leaves the count: 4 of 8."""
    staged = at(place, day, {PLOTTER: {"designation": "continuous operation"}})
    assert staged.word("share.exempt", PLOTTER) == "exempt"
    ruling = staged.rule("share.controlled", "office")
    assert ruling.outcome == "satisfied"
    assert [figure(ruling, f"space.share_{name}") for name in ("have", "counted")] == [4, 8]

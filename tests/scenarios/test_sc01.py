"""SC-01: a living room's lamp on a hand-worked wall switch. County, 2020 edition, permit of 10 May 2023.

Worked by hand: 9 W / 120 V = 0.075 A; the switch controls one receptacle (the upper half), 15 A >= 15 A.
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from scenarios.staging import CITY, Changes, by_reading, figure, stage

WHOLE_DUPLEX: Changes = {
    "living/R2": {"hot_tab": "intact"},
    "living/R2/lower": {"supply": "controlled", "controls": ["S1"]},
}


@pytest.mark.parametrize(
    ("number", "question", "subject", "expected"),
    [
        ("R01", "control.acts", "S1", "manual"),
        ("R02", "marking.scope", "living/R2", "in scope"),
        ("R03", "marking.required", "living/R2/upper", "not required"),
        ("R03", "marking.required", "living/R2/lower", "not required"),
        ("R04", "marking.lighting-exception", "living/R2/upper", "excused"),
        ("R06", "marking.form", "living/R2/upper", "no mark"),
        ("R08", "ordinary.permitted", "living/R2/upper", "permitted"),
        ("R12", "control.rating.cord-and-plug", "S1", "satisfied"),
        ("R13", "control.load", "S1", "satisfied"),
        ("R30", "yoke.disconnect", "living/R2", "does not apply"),
    ],
)
def test_as_built(number: str, question: str, subject: str, expected: str) -> None:
    staged = stage("sc01")
    assert staged.word(question, subject) == expected
    assert staged.rule(question, subject).ruling == number


def test_the_2020_edition_governs() -> None:
    document = stage("sc01").rule("marking.required", "living/R2/upper").document
    assert document is not None
    assert (document["edition"], document["entry"], document["amendments"]) == ("2020", "TC-EC20", [])


def test_figures() -> None:
    staged = stage("sc01")
    load = staged.rule("control.load", "S1")
    assert figure(load, "contact.load_amps", "living/R2/upper") == Fraction(9, 120)  # 0.075 A
    rating = staged.rule("control.rating.cord-and-plug", "S1")
    assert figure(rating, "control.receptacles") == 1
    assert figure(rating, "control.receptacle_amps") == 15


def test_part_to_buy() -> None:
    """R05 and R09: no mark; an ordinary 5-15R duplex, the hot-side tab removed, the neutral-side tab kept."""
    part = stage("sc01").parts()["living/R2"]
    assert (part["configuration"], part["form"], part["marked"]) == ("5-15R", "duplex", "none")
    assert (part["hot_tab"], part["neutral_tab"], part["ordinary_device"]) == ("remove", "keep", "permitted")


def test_whole_duplex_on_the_switch() -> None:
    """R12: two receptacles now; 15 A reaches the 15 A breaker, and not the 20 A that a 15 A receptacle may sit on."""
    ruling = stage("sc01", WHOLE_DUPLEX).rule("control.rating.cord-and-plug", "S1")
    assert by_reading(ruling) == {"actual breaker": "satisfied", "largest permitted breaker": "not satisfied"}
    assert figure(ruling, "control.receptacles") == 2
    assert figure(ruling, "control.circuit_breaker") == 15
    assert figure(ruling, "control.breaker_permitted") == 20


def test_city_keeps_the_exception_in_a_dwelling() -> None:
    staged = stage("sc01", place=CITY, day="2024-09-03")
    assert staged.word("marking.required", "living/R2/upper") == "not required"

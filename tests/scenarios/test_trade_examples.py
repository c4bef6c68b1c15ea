"""Everyday examples of the trade. No source prints them: they are common practice, and the outcomes follow from it."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

from scenarios.staging import CITY, COUNTY, EVENT, Changes, as_published, figure, stage
from shipped_book import rulebook
from yokebook.ruling import Ruling

EDITIONS = ("2014", "2017", "2020", "2023")

#: One contact device of an office's 5-20R receptacle, nothing built in, and all its controls named.
CONTACT: dict[str, Any] = {
    "receptacle.configuration": "5-20R",
    "receptacle.built_in_control": False,
    "contact.supply": "controlled",
    "contact.controls.complete": True,
    "space.occupancy": "office",
    "space.use": "private office",
    "space.required_lighting_outlet": "none required",
}
SENSOR: dict[str, Any] = {
    "control.kind": "ceiling sensor and relay",
    "control.turns_off_by": "presence",
    "control.turns_on_by": "presence",
    "control.location": "ceiling",
    "control.purpose": "energy or automation",
}
HAND_SWITCH: dict[str, Any] = {
    "control.kind": "snap switch",
    "control.turns_off_by": "person",
    "control.location": "wall elsewhere",
    "control.purpose": "convenience",
}
TIMER: dict[str, Any] = {
    "control.kind": "program timer",
    "control.turns_off_by": "schedule",
    "control.turns_on_by": "schedule",
    "control.location": "wall elsewhere",
    "control.purpose": "energy or automation",
}
OFFICE_MACHINE = {"load.kind": "office machine"}
LAMP_AT_HOME: dict[str, Any] = {
    "load.kind": "lamp",
    "space.occupancy": "dwelling",
    "space.use": "living room",
    "space.required_lighting_outlet": "met by luminaire",
}


def in_edition(edition: str, question: str, record: dict[str, Any]) -> Ruling:
    return rulebook().edition("nfpa-70", edition).rule(question, record)


@pytest.mark.parametrize("edition", EDITIONS)
def test_lamp_on_a_wall_switch_that_is_the_lighting_outlet(edition: str) -> None:
    """An ordinary split duplex will do, in every edition."""
    staged = as_published(stage("sc01"), "nfpa-70", edition)
    assert staged.word("marking.required", "living/R2/upper") == "not required"
    assert staged.word("ordinary.permitted", "living/R2/upper") == "permitted"


def test_lamp_on_a_wall_switch_in_an_edition_nobody_read() -> None:
    """The 2026 rows are carried on, so the word says what would be."""
    ruling = as_published(stage("sc01"), "nfpa-70", "2026").rule("ordinary.permitted", "living/R2/upper")
    assert (ruling.outcome, ruling.word, ruling.not_checked) == ("permitted", "would be permitted", True)


@pytest.mark.parametrize("edition", EDITIONS)
def test_office_machine_on_an_occupancy_sensor(edition: str) -> None:
    record = CONTACT | SENSOR | OFFICE_MACHINE
    assert in_edition(edition, "marking.required", record).outcome == "required"
    assert in_edition(edition, "ordinary.permitted", record).outcome == "not permitted"


@pytest.mark.parametrize("edition", EDITIONS)
def test_two_appliances_on_one_duplex_both_controlled(edition: str) -> None:
    """Both halves are marked, and the tab between them stays."""
    lower: Changes = {"copy/A/lower": {"supply": "controlled", "controls": ["S"], "load": "laminator"}}
    staged = as_published(stage("sc06", lower | {"copy/B/upper": {"load": "none"}}), "nfpa-70", edition)
    assert staged.marks()["copy/A"] == "both"


@pytest.mark.parametrize("edition", EDITIONS)
def test_lamp_on_a_timer(edition: str) -> None:
    record = CONTACT | LAMP_AT_HOME | TIMER
    assert in_edition(edition, "marking.required", record).outcome == "required"


def test_authority_wants_every_controlled_receptacle_marked() -> None:
    """A hand switch: nothing in the code asks for a mark; the City's ordinance does, and it is what is cited."""
    record = CONTACT | HAND_SWITCH | OFFICE_MACHINE
    code = rulebook().in_force(CITY, {EVENT: "2024-10-01"})
    ruling = code.rule("marking.required", record)
    assert ruling.outcome == "required"
    assert [rule["cite"]["document"] for rule in ruling.standing] == ["Brindle Falls ordinance"]
    assert {rule["chain"][-1]["by"] for rule in ruling.standing} == {"BF-1"}
    county = rulebook().in_force(COUNTY, {EVENT: "2024-10-01"}).rule("marking.required", record)
    assert county.outcome == "not required"


@pytest.mark.parametrize("edition", EDITIONS)
@pytest.mark.parametrize("controlled", [2, 3])
def test_sensor_of_1800_w_on_a_20_a_circuit(edition: str, controlled: int) -> None:
    """1,800 W / 120 V = 15 A < 20 A, though a 9 W load is all there is."""
    changes: Changes = {
        "copy/A/upper": {"load": "network gear"},
        "copy/B/upper": {"load": "none"},
        "copy/C/lower": {"load": "none"},
        "network gear": {"power_w": "9 W"},
    }
    if controlled == 2:
        changes["copy/C/upper"] = {"supply": "always on", "controls": []}
    staged = as_published(stage("sc06", changes), "nfpa-70", edition)
    ruling = staged.rule("control.rating.cord-and-plug", "S")
    assert (ruling.outcome, ruling.against) == ("not satisfied", True)
    assert figure(ruling, "control.amps") == 15
    assert figure(ruling, "control.receptacles") == controlled
    load = staged.rule("control.load", "S")
    assert (load.outcome, figure(load, "control.load_amps")) == ("satisfied", Fraction(9, 120))


@pytest.mark.parametrize("edition", EDITIONS)
@pytest.mark.parametrize(("motor", "expected"), [("1/2 hp", "satisfied"), ("3/4 hp", "not satisfied")])
def test_receptacle_marked_for_half_a_horsepower(edition: str, motor: str, expected: str) -> None:
    record = {
        "receptacle.configuration": "5-20R",
        "receptacle.horsepower_marked": True,
        "receptacle.horsepower_marked_hp": "1/2 hp",
        "load.kind": "motor tool",
        "load.motor_hp": motor,
        "load.fastened": False,
    }
    ruling = in_edition(edition, "receptacle.horsepower", record)
    assert (ruling.outcome, ruling.against) == (expected, expected == "not satisfied")


@pytest.mark.parametrize("edition", EDITIONS)
def test_controlled_half_without_a_mark(edition: str) -> None:
    """R60: it does not satisfy, and that is against."""
    ruling = in_edition(edition, "marking.satisfied", CONTACT | SENSOR | {"contact.mark": "none"})
    assert (ruling.outcome, ruling.against) == ("not satisfied", True)


@pytest.mark.parametrize("kind", ["medical", "vaccine storage", "refrigeration"])
def test_load_that_must_not_go_off(kind: str) -> None:
    """R51: on a controlled half it is never passed over."""
    ruling = in_edition("2023", "load.always-on", CONTACT | SENSOR | {"load.kind": kind})
    assert (ruling.outcome, ruling.against) == ("move to always-on", True)

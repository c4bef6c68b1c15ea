"""What cannot be exported, and records that must not be fed to an exported table: the whole messages."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import pytest

import yokebook
from dmn.test_text import ACTS, law
from shipped_book import rulebook
from small_rulebook import FILES, edited, write
from yokebook.model import Value
from yokebook_adapters.dmn import CannotExport, as_dmn, full_record

RECORD: dict[str, Value] = {
    "control.kind": "sensor",
    "control.delay_min": Fraction(61, 4),
    "control.floors": Fraction(2),
    "control.by_hand": False,
}


def refusal(folder: Path, table: str, conflicts: tuple[str, ...] = ()) -> str:
    its = law(folder, table)
    with pytest.raises(CannotExport) as caught:
        as_dmn(its, "control.acts", its.book, conflicts=conflicts)
    assert isinstance(caught.value, ValueError)
    return str(caught.value)


def test_a_table_in_conflict(tmp_path: Path) -> None:
    assert refusal(tmp_path / "1", ACTS, ("`held` and `timed` fire together on a Monday",)) == (
        "`control.acts` cannot be a first-match table: its rules are in conflict, and the first row that matches would "
        "hide it\n- `held` and `timed` fire together on a Monday"
    )
    assert refusal(tmp_path / "2", ACTS, ("one", "two")) == (
        "`control.acts` cannot be a first-match table: its rules are in conflict, and the first row that matches would "
        "hide them\n- one\n- two"
    )


def test_numbers_that_no_decimal_is_equal_to(tmp_path: Path) -> None:
    thirds = ACTS.replace("at_least: 15 min", "at_least: 50 s").replace("at_most: 30 min", "at_most: 1750 s")
    assert refusal(tmp_path, thirds) == (
        "`control.acts#timed` compares `control.delay_min` with 5/6, and no decimal of at most 34 digits is equal to "
        "5/6\n"
        "`control.acts#timed` compares `control.delay_min` with 175/6, and no decimal of at most 34 digits is equal to "
        "175/6"
    )


def test_two_inputs_that_would_be_one_variable(tmp_path: Path) -> None:
    """Two readings whose ids differ by a hyphen only."""
    readings = FILES["readings/sensor.yaml"]
    other = readings.replace("sensor-is-switch", "sensor_is_switch")
    table = ACTS.replace(
        "{control.by_hand: yes, control.floors: [3, 1]}",
        "{reading.sensor-is-switch: switch, reading.sensor_is_switch: switch}",
    )
    changes = {"readings/other.yaml": other, "electrical/2014/control.acts.yaml": table}
    code = yokebook.load(write(tmp_path, changes)).edition("code", "2014")
    with pytest.raises(CannotExport) as caught:
        as_dmn(code.table("control.acts")[1], "control.acts", code.book, conflicts=())
    assert str(caught.value) == (
        "`control.acts`: `reading.sensor-is-switch` and `reading.sensor_is_switch` would both be the variable "
        "`reading_sensor_is_switch`"
    )


def test_an_outcome_that_would_stand_for_none(tmp_path: Path) -> None:
    outcomes = "outcomes: {manual: by hand, automatic: by itself}"
    changes = edited("questions/all.yaml", outcomes, outcomes.replace("{", "{silent: it says nothing, "))
    code = yokebook.load(write(tmp_path, changes)).edition("code", "2014")
    with pytest.raises(CannotExport) as caught:
        as_dmn(code.table("control.acts")[1], "control.acts", code.book, conflicts=())
    assert str(caught.value) == "`control.acts` has an outcome `silent`, which here stands for no outcome at all"


def test_a_full_record(tmp_path: Path) -> None:
    its = law(tmp_path)
    assert full_record(its, "control.acts", {**RECORD, "contact.supply": "controlled"}) == {
        "control_by_hand": False,
        "control_delay_min": Decimal("15.25"),
        "control_floors": Decimal(2),
        "control_kind": "sensor",
    }


def test_every_missing_input_is_named(tmp_path: Path) -> None:
    its = law(tmp_path)
    with pytest.raises(ValueError) as caught:
        full_record(its, "control.acts", {"control.floors": Fraction(2), "control.kind": "switch"})
    assert str(caught.value) == (
        "`control.acts`: 2 inputs not given: `control.by_hand` and `control.delay_min`; a table in this form must "
        "never be fed a record with missing facts, or with facts that do not apply"
    )


def test_values_that_an_input_cannot_have(tmp_path: Path) -> None:
    its = law(tmp_path)
    wrong: dict[str, Value] = {
        "control.by_hand": "yes",
        "control.delay_min": Fraction(1, 3),
        "control.floors": True,
        "control.kind": "dimmer",
    }
    with pytest.raises(ValueError) as caught:
        full_record(its, "control.acts", wrong)
    assert str(caught.value).splitlines() == [
        "`control.acts`: `control.by_hand` is yes; allowed: yes or no",
        "`control.acts`: `control.delay_min` is 1/3: no decimal of at most 34 digits is equal to 1/3",
        "`control.acts`: `control.floors` is yes; allowed: a number",
        "`control.acts`: `control.kind` is dimmer; allowed: switch or sensor",
    ]


def test_a_reading_that_a_place_has_chosen_otherwise() -> None:
    code = rulebook().in_force("demo/tamarisk", on="2025-02-01")
    _, its = code.table("marking.required")
    with pytest.raises(ValueError) as caught:
        full_record(its, "marking.required", {"reading.any-switch": "automatic or built-in only"})
    assert str(caught.value).splitlines()[1:] == [
        "`marking.required`: `reading.any-switch` is automatic or built-in only; allowed: all but lighting"
    ]

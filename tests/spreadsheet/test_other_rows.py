"""Rows of schedules that are no devices: totals, headings and notes, as people write them between and below."""

from __future__ import annotations

from typing import Any

from spreadsheet.test_panels import DEVICES, JOINED, PANEL, building
from spreadsheet.workbooks import read

#: Below a heading that nobody merged: the devices, a total with a formula, and notes in the column of rooms.
OTHERS: list[Any] = [
    DEVICES[0],
    ("LEVEL 1",),
    *DEVICES[1:],
    (None, None, None, "in all", None, "=SUM(F3:F6)"),
    ("Notes:",),
    ("1. White devices.",),
]
SKIPPING = f"skip_rows_without: [Mark, Half]\n{JOINED}"
TOTAL: list[Any] = [*PANEL, (None, "Connected load", 55, None, None, None)]


def test_rows_that_leave_the_columns_of_devices_blank_are_passed_over_and_named():
    good, faults, notes = read(building(OTHERS), SKIPPING)
    assert (good, faults) == (["project"], [])
    assert "s.xlsx:Devices: passed over, with nothing in `Mark`, `Half`: rows 2, 7, 8, 9" in notes


def test_without_that_word_they_are_refused_and_the_message_says_what_to_write():
    _, faults, _ = read(building(OTHERS), JOINED)
    hint = "; if it is no device's row, such as a total, say under `skip_rows_without` in mapping.yaml which columns "
    missing = f"the id of the receptacle is missing; allowed: text{hint}such rows leave blank"
    assert f"s.xlsx:Devices!B2, column `Mark`: {missing}" in faults
    refused = {fault.partition(",")[0].rpartition("!")[2] for fault in faults}
    assert refused >= {"B2", "F7", "B8", "B9"}


def test_a_row_that_gives_one_of_the_columns_is_a_device_and_refused_for_what_it_lacks():
    _, faults, notes = read(building([*DEVICES, ("Office", "R4", None, "5-15R", "LP-1", 4)]), SKIPPING)
    assert faults == ["s.xlsx:Devices!C6, column `Half`: the id of the contact is missing; allowed: text"]
    assert not [note for note in notes if "passed over" in note]


def test_what_is_filled_down_does_not_make_a_device_of_a_total():
    devices = [DEVICES[0], DEVICES[1], ("Office", None, "L", "5-15R", "LP-1", 2), (None, None, None, "in all: 2")]
    filling = f"fill_down: [Mark]\nskip_rows_without: [Mark, Half]\n{JOINED}"
    good, faults, notes = read(building(devices), filling)
    assert (good, faults) == (["project"], [])
    assert "s.xlsx:Devices: passed over, with nothing in `Mark`, `Half`: row 4" in notes


def test_a_column_that_the_schedule_lacks_is_named():
    _, faults, _ = read(building(), JOINED + "skip_rows_without: [Marc]\n")
    assert [fault.partition("; allowed")[0] for fault in faults] == [
        f"mapping.yaml:{JOINED.count(chr(10)) + 1}:21: the schedule has no column `Marc` (did you mean `Mark`?)"
    ]


def test_a_row_of_a_panel_without_a_circuit_is_refused_unless_the_mapping_says_that_it_is_none():
    told = "s.xlsx:LP-1!A6, column `Ckt`: the row gives `circuit.breaker_amps` and no circuit; allowed: text"
    assert read(building(DEVICES, TOTAL), JOINED)[1] == [told]
    skipping = JOINED.replace("  circuit: Ckt\n", "  circuit: Ckt\n  skip_rows_without_circuit: yes\n", 1)
    _, faults, notes = read(building(DEVICES, TOTAL), skipping)
    assert faults == []
    assert "s.xlsx:LP-1: passed over, with nothing in `Ckt`: row 6" in notes

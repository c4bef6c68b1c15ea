"""What a spreadsheet program makes of the cells of a schedule: every trap, and every word that a person reads of it."""

from __future__ import annotations

from datetime import date, datetime, time
from fractions import Fraction
from typing import Any

import openpyxl
import pytest

from spreadsheet.workbooks import HEADER, RECORDS, graphs, read, refusal, workbook

GOOD = ("R1", "5-15R", "Y", 120, 20, "by the door")
AS_TEXT = "(format the column as text, then type it again)"


def told(*cells: Any, mapping: str = RECORDS) -> list[str]:
    """The faults of one row beside a good one, which is always read."""
    good, faults, notes = read(workbook(HEADER, cells, GOOD), mapping)
    assert good[-1] == "R1"
    assert notes == []
    assert faults == [] or len(good) == 1
    return faults


def test_text_and_numbers_are_read_as_they_stand() -> None:
    graph = graphs(workbook(HEADER, ("007", "5-15R", "Y", 120.5, 20, None), ("3E5", "5-15R", "N", "130 sq ft", "15 A")))
    assert list(graph) == ["007", "3E5"]
    assert graph["007"].find("007/space").given == {"space.area_sq_ft": Fraction(241, 2)}
    assert graph["007"].find("007/circuit").given == {"circuit.breaker_amps": 20}
    assert graph["3E5"].find("3E5/space").given == {"space.area_sq_ft": 130}
    assert graph["3E5"].find("3E5/contact").given == {"contact.supply": "always on"}


@pytest.mark.parametrize("text", ["007", "3E5", "210.10", "1/2", "2024-10-15", "TRUE", "+3", "-5", "1,3", "@x", "7.0"])
def test_an_id_in_a_text_cell_is_taken_letter_for_letter(text: str) -> None:
    assert list(graphs(workbook(HEADER, ((text, "@"), "5-15R", "Y", 120, 20)))) == [text]


@pytest.mark.parametrize(
    ("value", "number_format", "shown"),
    [(7, "000", "007"), (210.1, "0.00", "210.10"), (7, "0", "7"), (12, '"R-"0', "R-12"), (5, r"\R00", "R05")],
)
def test_a_number_is_an_id_where_its_format_says_how_it_is_shown(value: float, number_format: str, shown: str) -> None:
    assert list(graphs(workbook(HEADER, ((value, number_format), "5-15R", "Y", 120, 20)))) == [shown]


LOST_WHOLE = "and whether a zero before it, or an E as in 3E5, was typed cannot be seen; allowed: text " + AS_TEXT
LOST_END = "and whether a zero at its end was typed cannot be seen; allowed: text " + AS_TEXT
LISTED = ", or the column's name under `numbers_as_shown` in mapping.yaml"


@pytest.mark.parametrize(
    ("cell", "message"),
    [
        (7, f"`7` is a number here, {LOST_WHOLE}{LISTED}"),
        (300000, f"`300000` is a number here, {LOST_WHOLE}{LISTED}"),
        (210.1, f"`210.1` is a number here, {LOST_END}"),
        ((210.1, "0.0E+00"), f"`210.1` is a number here, {LOST_END}"),
        ((210.14, "0.0"), f"`210.14` is a number here, {LOST_END}"),
        ((12, "#,##0"), f"`12` is a number here, {LOST_WHOLE}"),
        (123456789012, f"`123456789012` is a number here, {LOST_WHOLE}"),
        (
            date(2024, 3, 5),
            "the cell is a date, 2024-03-05; what was typed before the program made a date of it cannot be seen; "
            f"allowed: text {AS_TEXT}",
        ),
        (
            time(12, 30),
            "the cell is a date, 12:30:00; what was typed before the program made a date of it cannot be seen; "
            f"allowed: text {AS_TEXT}",
        ),
        (True, f"the cell is the program's own TRUE, where an id is due; allowed: text {AS_TEXT}"),
        ("=1+1", "`=1+1` is a formula, and no id is taken from one; allowed: text"),
        ("#REF!", "the cell holds the error `#REF!`; allowed: text"),
    ],
)
def test_an_id_that_a_program_may_have_changed_is_refused(cell: Any, message: str) -> None:
    assert told(cell, "5-15R", "Y", 120, 20) == [f"s.xlsx:Devices!A2, column `Mark`: {message}"]


def test_whole_numbers_are_ids_as_shown_where_the_mapping_says_so() -> None:
    mapping = RECORDS + "numbers_as_shown: [Mark]\n"
    good, faults, _ = read(workbook(HEADER, (7, "5-15R", "Y"), (300000, "5-15R", "Y"), (210.1, "5-15R", "Y")), mapping)
    assert good == ["7", "300000"]
    assert faults == [f"s.xlsx:Devices!A4, column `Mark`: `210.1` is a number here, {LOST_END}"]


def test_every_fault_of_every_cell_is_told_at_once_with_its_address() -> None:
    assert told(7, date(2024, 5, 15), True, date(2024, 5, 15), True, "=A1") == [
        f"s.xlsx:Devices!A2, column `Mark`: `7` is a number here, {LOST_WHOLE}{LISTED}",
        "s.xlsx:Devices!B2, column `Config`: the cell is a date, 2024-05-15; what was typed before the program made a "
        f"date of it cannot be seen; allowed: text {AS_TEXT}",
        "s.xlsx:Devices!D2, column `Area`: the cell is a date, 2024-05-15; what was typed before the program made a "
        "date of it cannot be seen; allowed: a number",
    ]
    assert told("R0", "5-99R", True, "wide", True) == [
        "s.xlsx:Devices!B2, column `Config`: `receptacle.configuration`: `5-99R` is none of the answers (did you "
        "mean `5-15R`?); allowed: `5-15R`, `6-20R`",
        "s.xlsx:Devices!C2, column `Switched`: `contact.supply`: `TRUE` is none of the answers; allowed: `always "
        "on`, `controlled`",
        "s.xlsx:Devices!D2, column `Area`: `space.area_sq_ft`: `wide` is not a number; allowed: an area "
        "in `sq ft` or `sq m`, above 0",
        "s.xlsx:Devices!E2, column `Breaker`: `circuit.breaker_amps`: `TRUE` is a yes or no where a number is due; "
        "allowed: a current in `A`, above 0",
    ]


@pytest.mark.parametrize(
    ("cell", "square_feet"),
    [
        ((120, "0"), 120),
        ((119.6, "0"), Fraction(598, 5)),  # the number itself, not what its format rounds it to
        ((0.1 + 0.2, "General"), Fraction(3, 10)),  # fifteen digits, which is all that a program shows
        ((1200, "#,##0"), 1200),
        ((0.5, "# ?/?"), Fraction(1, 2)),
        ((12, '0" sq ft"'), 12),
        (("120 sq ft", "@"), 120),
    ],
)
def test_a_number_counts_in_full(cell: Any, square_feet: Fraction) -> None:
    graph = graphs(workbook(HEADER, ("R1", "5-15R", "Y", cell, 20)))["R1"]
    assert graph.find("R1/space").given == {"space.area_sq_ft": square_feet}


def test_a_number_with_another_unit_in_its_format_and_a_percentage_are_refused() -> None:
    assert told("R0", "5-15R", "Y", (12, '0" ft"'), (0.2, "0%")) == [
        "s.xlsx:Devices!E2, column `Breaker`: `0.2` has a format that may show it as another number, such as a "
        "percentage; allowed: a number in a plain format"
    ]
    assert told("R0", "5-15R", "Y", (12, '0" ft"'), 20) == [
        "s.xlsx:Devices!D2, column `Area`: `space.area_sq_ft`: `12 ft` is a length; allowed: an area in `sq ft` or "
        "`sq m`, above 0"
    ]


@pytest.mark.parametrize("blank", [None, "", "N/A", "n/a", "-", "TBD", "  ", "\u00a0"])
def test_what_counts_as_not_given(blank: str | None) -> None:
    graph = graphs(workbook(HEADER, ("R1", blank, "Y", blank, blank)))["R1"]
    assert graph.find("R1/receptacle").given == {}
    assert graph.find("R1/space").given == {}


TRUTHS = """\
rows: record
columns:
  Mark: receptacle.name
  Listed: control.listed_for.receptacle_loads
  Wired: {fact: contact.supply, words: {TRUE: controlled}}
"""


def test_a_program_s_own_yes_and_no() -> None:
    rows = [
        ("Mark", "Listed", "Wired"),
        ("R1", True, True),
        ("R2", False, None),
        ("R3", "=TRUE()", None),
        ("R4", "yes"),
    ]
    found = graphs(workbook(*rows), TRUTHS)
    listed = {name: graph.find(f"{name}/control").given for name, graph in found.items()}
    yes, no = {"control.listed_for.receptacle_loads": True}, {"control.listed_for.receptacle_loads": False}
    assert listed == {"row 2": yes, "row 3": no, "row 4": yes, "row 5": yes}
    assert found["row 2"].find("row 2/contact").given == {"contact.supply": "controlled"}
    _, faults, _ = read(workbook(("Mark", "Listed", "Wired"), ("R1", 1, None), ("R2", 0, None)), TRUTHS)
    assert faults == [
        f"s.xlsx:Devices!B{row}, column `Listed`: `control.listed_for.receptacle_loads`: `{number}` is neither yes nor "
        "no; allowed: yes, no, true, false"
        for row, number in ((2, 1), (3, 0))
    ]


def test_a_day_is_a_date_and_a_time_of_day_is_not() -> None:
    mapping = "rows: record\ncolumns: {Mark: receptacle.name, Permit: project.date.permit application}\n"
    rows = [("Mark", "Permit"), ("R1", date(2024, 10, 15)), ("R2", "2024-10-15"), ("R3", datetime(2024, 10, 15, 12))]
    good, faults, _ = read(workbook(*rows, ("R4", 45580)), mapping)
    assert good == ["row 2", "row 3"]
    assert [graph.dates for graph in graphs(workbook(*rows[:3]), mapping).values()] == [
        {"permit application": "2024-10-15"}
    ] * 2
    assert [fault.partition(": ")[0] for fault in faults] == [
        f"s.xlsx:Devices!B{row}, column `Permit`" for row in (4, 5)
    ]


def test_a_formula_gives_what_it_last_came_to_but_no_id() -> None:
    """A library writes no results; test_spreadsheet_program.py reads those that a real program leaves."""
    assert told("R0", "5-15R", "Y", "=10*12", 20) == [
        "s.xlsx:Devices!D2, column `Area`: the file does not say what the formula `=10*12` comes to; open and save it "
        "in a spreadsheet program, or write the value; allowed: a number"
    ]
    assert told("R0", "5-15R", "Y", 120, 20, "=HYPERLINK(1)") == []  # in a column that carries nothing


@pytest.mark.parametrize("column", HEADER[:5])
def test_no_text_that_looks_like_a_formula_is_one(column: str) -> None:
    def as_text(book: openpyxl.Workbook) -> None:
        for cell in book.worksheets[0][2]:
            if cell.value == "=1+1":
                cell.data_type = "s"

    row = tuple("=1+1" if name == column else value for name, value in zip(HEADER, GOOD, strict=True))
    good, faults, _ = read(workbook(HEADER, row, change=as_text))
    assert good == (["=1+1"] if column == "Mark" else [])
    assert all("`=1+1`" in fault and "formula" not in fault for fault in faults)
    assert len(faults) == (0 if column == "Mark" else 1)


def test_a_cell_with_a_line_break_control_characters_or_a_novel() -> None:
    header = ("Mark", "Con\r\nfig", "Switched", "Area", "Breaker", "Notes")
    mapping = RECORDS.replace("Config:", "Con fig:")
    assert read(workbook(header, GOOD), mapping)[:2] == (["R1"], [])
    assert told("R0", "5-15R", "Y", 120, 20, "x" * 10_001) == [
        "s.xlsx:Devices!F2, column `Notes`: the cell has 10,001 characters; allowed: 10,000"
    ]


def test_nothing_of_the_file_is_lost_where_a_row_is_long() -> None:
    assert told(*GOOD[:0], "R0", "5-15R", "Y", 120, 20, None, "spare") == [
        "s.xlsx:Devices!G2: the row is long: `spare` stands under no column"
    ]


def test_a_header_that_names_nothing_says_where_else_to_look() -> None:
    data = workbook(("Copper Kettle Block",), HEADER, GOOD)
    assert read(data)[1] == [
        "s.xlsx:Devices: row 1: this row names none of the columns that mapping.yaml maps (`Mark`, `Config`, "
        "`Switched`, `Area`, `Breaker`); its columns are: `Copper Kettle Block`; if the header is in another row, say "
        "`header_row` in the mapping, and if it is on another sheet, `sheet`"
    ]
    assert read(data, RECORDS + "header_row: 2\n") == (["R1"], [], [])
    assert read(data, RECORDS + "header_row: 9\n")[1] == ["s.xlsx:Devices: row 9: the file ends before its header row"]
    assert read(workbook(HEADER))[1] == ["s.xlsx:Devices: row 1: no row with a device in it follows the header"]
    assert refusal(workbook()) == "s.xlsx: no visible sheet has anything in it"

"""Sheets as people lay them out: titles, merged cells, hidden parts, several sheets; and files that are not read."""

from __future__ import annotations

import io
import random
import re
import zipfile
from datetime import date
from typing import Any

import openpyxl
import pytest

import yokebook_adapters.spreadsheet.guard as guard
from spreadsheet.workbooks import HEADER, RECORDS, filled, graphs, read, refusal, saved, workbook
from yokebook.load.faults import InputFaults
from yokebook_adapters.schedule_sources import LARGEST_WORKBOOK

ROWS = [HEADER, ("R1", "5-15R", "Y", 120, 20), ("R2", "5-15R", "Y"), ("R3", "6-20R", "N", 90, 15)]


def merging(*ranges: str) -> Any:
    def change(book: Any) -> None:
        for cells in ranges:
            book.worksheets[0].merge_cells(cells)

    return change


def test_a_cell_merged_down_counts_for_every_row_that_it_spans() -> None:
    found = graphs(workbook(*ROWS, change=merging("D2:D3", "E2:E3")))
    assert [found[name].find(f"{name}/space").given for name in ("R1", "R2", "R3")] == [
        {"space.area_sq_ft": 120},
        {"space.area_sq_ft": 120},
        {"space.area_sq_ft": 90},
    ]


def test_a_title_merged_over_the_header_and_a_heading_among_the_rows() -> None:
    rows = [("Schedule E-2",), (), HEADER, ("FIRST FLOOR",), *ROWS[1:3], ("SECOND FLOOR",), ROWS[3]]
    data = workbook(*rows, change=merging("A1:F1", "A4:F4", "A7:F7"))
    good, faults, notes = read(data, RECORDS + "header_row: 3\n")
    assert (good, faults) == (["R1", "R2", "R3"], [])
    assert notes == ["s.xlsx:Devices: passed over as headings: rows 4, 7"]


def test_cells_merged_across_columns_are_refused_where_each_means_something_else() -> None:
    good, faults, _ = read(workbook(*ROWS, change=merging("B2:C2")))
    assert good == ["R2", "R3"]
    assert faults == [
        "s.xlsx:Devices!B2:C2: the cells of `Config`, `Switched` are merged into one; allowed: one cell for each column"
    ]


def test_a_header_cell_merged_over_two_rows_names_its_column() -> None:
    rows = [("Mark", "Device", None, "Area", "Breaker", "Notes"), (None, "Config", "Switched"), *ROWS[1:]]
    data = workbook(*rows, change=merging("A1:A2", "B1:C1", "D1:D2", "E1:E2", "F1:F2"))
    assert read(data, RECORDS + "header_row: 2\n") == (["R1", "R2", "R3"], [], [])


def test_blank_cells_have_what_stands_above_where_the_mapping_says_so() -> None:
    found = graphs(workbook(*ROWS), RECORDS + "fill_down: [Area]\n")
    areas = [graph.find(f"{name}/space").given["space.area_sq_ft"] for name, graph in found.items()]
    assert areas == [120, 120, 90]
    assert found["R2"].find("R2/circuit").given == {}  # the mapping says nothing of that column


def test_empty_rows_at_the_end_and_between_are_passed_over() -> None:
    def formatted(book: Any) -> None:
        for row in range(5, 100):
            for column in range(1, 7):
                book.worksheets[0].cell(row, column).number_format = "0.00"

    data = workbook(*ROWS[:2], (), (None, " ", ""), *ROWS[2:], change=formatted)
    assert read(data) == (["R1", "R2", "R3"], [], [])


def test_hidden_rows_columns_and_sheets_are_named() -> None:
    def hide(book: Any) -> None:
        sheet = book.worksheets[0]
        sheet.row_dimensions[3].hidden = True
        sheet.column_dimensions["D"].hidden = True
        filled(book.create_sheet("Old"), ROWS).sheet_state = "hidden"

    data = workbook(*ROWS, change=hide)
    assert read(data) == (
        ["R1", "R2", "R3"],
        [],
        [
            "s.xlsx:Devices: hidden, and read like the others: row 3",
            "s.xlsx:Devices: hidden, and read like the others: column D",
            "s.xlsx: hidden sheets that this one was not read from: `Old`",
        ],
    )
    good, faults, notes = read(data, RECORDS + "sheet: Old\n")
    assert (good, faults) == (["R1", "R2", "R3"], [])
    assert notes == ["s.xlsx:Old: the sheet is hidden, and was read because the mapping names it"]


def test_which_sheet_is_meant() -> None:
    book = openpyxl.Workbook()
    filled(book.worksheets[0], ROWS).title = "First floor"
    filled(book.create_sheet("Second floor"), ROWS[:2])
    book.create_sheet("Blank")
    data = saved(book)
    assert refusal(data) == (
        "s.xlsx: the workbook has several sheets; say in the mapping which `sheet`: `First floor`, `Second floor`"
    )
    assert read(data, RECORDS + "sheet: Second floor\n")[0] == ["R1"]
    assert refusal(data, RECORDS + "sheet: Frist floor\n") == (
        "s.xlsx: the workbook has no sheet `Frist floor` (did you mean `First floor`?); allowed: `First floor`, "
        "`Second floor`, `Blank`"
    )
    csv = (",".join(HEADER) + "\nR1,5-15R,Y,120,20,\n").encode()
    assert refusal(csv, RECORDS + "sheet: Second floor\n", "s.csv") == (
        "s.csv: a CSV file has no sheet `Second floor`; leave it out of the mapping"
    )


# ---- files that are not read -----------------------------------------------------------------------------------------


def repacked(data: bytes, **parts: bytes) -> bytes:
    """The workbook with parts replaced or added; `__` in a name stands for the slash, `_` for the point."""
    named = {name.replace("__", "/").replace("_", "."): content for name, content in parts.items()}
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for part in old.infolist():
            if part.filename not in named:
                new.writestr(part, old.read(part))
        for name, content in named.items():
            new.writestr(name, content)
    return out.getvalue()


SAVE_AS = "save it as .xlsx, without a password, or as CSV in UTF-8"


@pytest.mark.parametrize(
    ("data", "name", "message"),
    [
        (
            b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1 old",
            "s.xls",
            f"this is a workbook of the older kind (.xls), or one locked with a password; {SAVE_AS}",
        ),
        (b"Mark,Config\n", "s.xlsx", f"this is no workbook, whatever its name says; {SAVE_AS}"),
        (b"PK\x03\x04 and so on", "s.ods", f"workbooks of the kind .ods are not read; {SAVE_AS}"),
        (b"PK\x03\x04 cut off", "s.xlsx", "this is no workbook that can be unpacked: File is not a zip file"),
        (
            repacked(workbook(*ROWS), xl__workbook_bin=b"x"),
            "s.xlsx",
            "workbooks of the kind .xlsb are not read; save it as .xlsx, or as CSV in UTF-8",
        ),
        (
            repacked(workbook(*ROWS), xl__styles_xml=b'<!DOCTYPE a [<!ENTITY b "c">]><a>&b;</a>'),
            "s.xlsx",
            "`xl/styles.xml` in it declares a document type, which no workbook does; it was not read",
        ),
        (
            b"PK\x03\x04" + b"\0" * LARGEST_WORKBOOK,
            "s.xlsx",
            "the workbook has more than 20,000,000 bytes; allowed: at most that many",
        ),
    ],
    ids=["old", "not packed", "other program", "cut off", "binary", "entities", "big"],
)
def test_a_file_that_is_not_read_says_what_to_do(data: bytes, name: str, message: str) -> None:
    assert refusal(data, name=name) == f"{name}: {message}"


def test_a_file_with_a_broken_part_is_not_read() -> None:
    """What is said of it is the parser's, and there are two that may be installed."""
    told = refusal(repacked(workbook(*ROWS), xl__workbook_xml=b"<x"))
    assert re.fullmatch(r"s\.xlsx: this workbook cannot be read: .*\bline 1\b.*", told)


def test_a_packed_file_that_is_no_workbook() -> None:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as packed:
        packed.writestr("letter.txt", "x")
    assert refusal(out.getvalue()) == (
        "s.xlsx: this is a packed file, and no workbook of the kind .xlsx; save it as .xlsx, or as CSV in UTF-8"
    )


def test_a_file_that_unpacks_to_too_much_is_refused_before_it_is_unpacked() -> None:
    bomb = repacked(workbook(*ROWS), xl__media__picture_png=b"\0" * 70_000_000)
    assert len(bomb) < 100_000
    told = refusal(bomb)
    assert told.startswith("s.xlsx: the workbook has ")
    assert told.endswith(
        "bytes unpacked; allowed: at most 2,000 with 60,000,000; keep the schedule alone in a workbook, or save it as "
        "CSV"
    )


@pytest.mark.parametrize("element", ["mergeCell", "hyperlink"])
def test_a_range_that_grows_to_millions_of_cells_is_refused(element: str) -> None:
    with zipfile.ZipFile(io.BytesIO(workbook(*ROWS))) as packed:
        sheet = packed.read("xl/worksheets/sheet1.xml").decode()
    grown = sheet.replace("</sheetData>", f'</sheetData><{element}s><{element} ref="A9:XFD1048576"/></{element}s>')
    assert grown != sheet
    assert refusal(repacked(workbook(*ROWS), xl__worksheets__sheet1_xml=grown.encode())) == (
        "s.xlsx: the workbook has more than 500,000 cells and rows, those that are merged or linked included; allowed: "
        "at most 500,000; keep the schedule alone in a workbook, or save it as CSV"
    )


def test_too_many_cells_rows_or_columns_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    far = "allowed: at most 50,000 and 500; longer schedules are read from CSV"

    def put(row: int, column: int) -> Any:
        return lambda book: book.worksheets[0].cell(row, column, "x")

    assert refusal(workbook(*ROWS, change=put(1_048_576, 1))) == (
        f"s.xlsx:Devices: the sheet has 1,048,576 rows and 6 columns; {far}"
    )
    assert refusal(workbook(*ROWS, change=put(1, 16_384))) == (
        f"s.xlsx:Devices: the sheet has 4 rows and 16,384 columns; {far}"
    )
    monkeypatch.setattr(guard, "_MOST_CELLS", 10)
    assert refusal(workbook(*ROWS)).startswith("s.xlsx: the workbook has more than 10 cells")


def test_a_workbook_with_macros_is_read_and_nothing_in_it_runs() -> None:
    with zipfile.ZipFile(io.BytesIO(workbook(*ROWS))) as packed:
        types = packed.read("[Content_Types].xml").decode()
    plain = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"
    macros = types.replace(plain, "application/vnd.ms-excel.sheet.macroEnabled.main+xml")
    assert macros != types
    data = repacked(workbook(*ROWS), xl__vbaProject_bin=b"no project")
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w") as new:
        for part in old.infolist():
            new.writestr(part, macros if part.filename == "[Content_Types].xml" else old.read(part))
    assert read(out.getvalue(), name="s.xlsm") == (["R1", "R2", "R3"], [], [])


#: What stands in a damaged part in place of a value.
_ODD = (
    b"",
    b"-1",
    b"99999999",
    b"1e999",
    b"NaN",
    b"A0",
    b"XFD1048576",
    b"2958466",
    b"-5.5",
    b"b",
    b"d",
    b"e",
    b"\xc3\xa9",
)


def damaged(parts: dict[str, bytes], chance: random.Random) -> bytes:
    """The workbook with one part damaged: a value replaced, a byte changed, or some bytes cut out."""
    name = chance.choice([name for name in parts if name.endswith((".xml", ".rels"))])
    part = parts[name]
    values = [match.span() for match in re.finditer(rb'(?<=")[^"<>]*(?=")|(?<=>)[^<>]+(?=<)', part)]
    first, last = chance.choice(values)
    at = chance.randrange(len(part))
    changed = chance.choice(
        [
            part[:first] + chance.choice(_ODD) + part[last:],
            part[:at] + bytes([chance.randrange(256)]) + part[at + 1 :],
            part[:at] + part[at + chance.randrange(1, 60) :],
        ]
    )
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as packed:
        for other, content in parts.items():
            packed.writestr(other, changed if other == name else content)
    return out.getvalue()


def test_a_damaged_workbook_is_refused_or_read_and_nothing_else(capsys: pytest.CaptureFixture[str]) -> None:
    odd = [((7, "000"), "5-15R", "N", date(2024, 1, 1), "=1+1"), (True, "5-15R", None, (0.2, "0%"), 15)]
    with zipfile.ZipFile(io.BytesIO(workbook(*ROWS, *odd, change=merging("F2:F3")))) as packed:
        parts = {part.filename: packed.read(part) for part in packed.infolist()}
    chance, seen = random.Random(7), {"read": 0, "refused": 0}
    for _ in range(60):
        data = damaged(parts, chance)
        try:
            read(data)
            seen["read"] += 1
        except InputFaults as refused:
            assert str(refused).startswith("s.xlsx")
            seen["refused"] += 1
    assert min(seen.values()) > 5
    assert capsys.readouterr() == ("", "")

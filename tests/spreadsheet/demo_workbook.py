"""Makes the demo's workbook from its CSV file: `PYTHONPATH=tests python tests/spreadsheet/demo_workbook.py`.

The device schedule gets a title and rooms merged over their rows; its circuits lose their panel and breaker, which
stand in a panel schedule on a sheet of its own, two circuits a row.
"""

from __future__ import annotations

import csv
from itertools import groupby
from pathlib import Path

import openpyxl
from openpyxl.worksheet.worksheet import Worksheet

import yokebook_adapters
from yokebook_adapters.spreadsheet.writing import as_bytes, put

DEMO = Path(yokebook_adapters.__file__).parent / "demo"
CSV_FILE = DEMO / "brindle-falls-devices.csv"
WORKBOOK = DEMO / "brindle-falls-devices.xlsx"

HEADER_ROW = 4
NUMBERS = ("Area (sq ft)", "Off after (min)", "Watts")
ROOM = ("Room", "Room use", "Area (sq ft)")
PANEL_HEAD = ("Ckt", "Description", "Trip", "Poles", "Poles", "Trip", "Description", "Ckt")
#: left: circuit, description, trip, poles; right the other way round
PANEL = (
    (1, "Lighting, west", 15, 1, 1, 15, "Lighting, east", 2),
    (3, "Corridor receptacles", 20, 1, 1, 20, "Water heater controls", 4),
    (5, "Spare", None, None, 2, 30, "Roof unit", 6),
    (7, "Conference 2", 20, 1, None, None, "Roof unit", 8),
    (9, "Office 14", 20, 1, 1, 20, "Spare", 10),
    (11, "Break room counter", 20, 1, 1, 20, "Dishwasher", 12),
)


def made() -> bytes:
    """The workbook."""
    book = openpyxl.Workbook()
    devices = book.worksheets[0]
    devices.title = "Devices"
    _devices(devices)
    _panel(book.create_sheet("LP-3"))
    return as_bytes(book)


def _devices(sheet: Worksheet) -> None:
    with CSV_FILE.open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    head: list[str] = []
    for name in rows[0]:
        head += {"Circuit": ["Panel", "Ckt"], "Breaker": []}.get(name, [name])
    put(sheet, 1, 1, "Copper Kettle Annex (invented): device schedule", wrap=False)
    put(sheet, 2, 1, "Half: U upper, L lower. Marks as on sheet E-2.", wrap=False)
    sheet.merge_cells(start_row=1, start_column=1, end_row=1, end_column=len(head))
    for column, name in enumerate(head, start=1):
        put(sheet, HEADER_ROW, column, name)
    for number, row in enumerate(rows, start=HEADER_ROW + 1):
        panel, _, circuit = row["Circuit"].partition("/")
        cells = row | {"Panel": panel, "Ckt": circuit}
        for column, name in enumerate(head, start=1):
            text = cells[name]
            number_here = name in (*NUMBERS, "Ckt") and text.isdecimal()
            put(sheet, number, column, int(text) if number_here else text)
    first = HEADER_ROW + 1
    for _, group in groupby(rows, key=lambda row: row["Room"]):
        last = first + len(list(group)) - 1
        for name in ROOM:
            column = head.index(name) + 1
            for number in range(first + 1, last + 1):
                sheet.cell(number, column).value = None
            sheet.merge_cells(start_row=first, start_column=column, end_row=last, end_column=column)
        first = last + 1
    sheet.freeze_panes = f"A{first - len(rows)}"


def _panel(sheet: Worksheet) -> None:
    put(sheet, 1, 1, "Panel: LP-3", wrap=False)
    put(sheet, 2, 1, "100 A main, 208Y/120 V, 3 phases, surface mounted, corridor", wrap=False)
    sheet.merge_cells(start_row=1, start_column=1, end_row=1, end_column=len(PANEL_HEAD))
    for column, name in enumerate(PANEL_HEAD, start=1):
        put(sheet, 5, column, name)
    for number, row in enumerate(PANEL, start=6):
        for column, value in enumerate(row, start=1):
            put(sheet, number, column, value)
    sheet.merge_cells("F8:F9")  # the breaker with two poles
    sheet.merge_cells("G8:G9")


if __name__ == "__main__":
    WORKBOOK.write_bytes(made())

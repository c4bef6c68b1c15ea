"""Workbooks made for tests, and schedules read from them."""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from typing import Any

import openpyxl
from openpyxl.worksheet.worksheet import Worksheet

from front_door.small_book import BOOK
from yokebook.graph import Graph
from yokebook.load.faults import InputFaults
from yokebook_adapters.schedule_mapping import read_mapping
from yokebook_adapters.schedule_reading import read_schedule

#: A value with the number format of its cell.
Shown = tuple[Any, str]

RECORDS = """\
rows: record
call_rows_by: [Mark]
columns:
  Mark: receptacle.name
  Config: receptacle.configuration
  Switched: {fact: contact.supply, words: {Y: controlled, N: always on}}
  Area: {fact: space.area_sq_ft, unit: sq ft}
  Breaker: circuit.breaker_amps
leave_out: [Notes]
"""
HEADER = ("Mark", "Config", "Switched", "Area", "Breaker", "Notes")


def filled(sheet: Worksheet, rows: Sequence[Sequence[Any]]) -> Worksheet:
    """The sheet with these rows; text stays text, but for what begins with `=`, and a tuple brings its format."""
    for number, row in enumerate(rows, start=1):
        for column, value in enumerate(row, start=1):
            cell = sheet.cell(number, column)
            if isinstance(value, tuple):
                cell.value, cell.number_format = value
            else:
                cell.value = value
    return sheet


def workbook(*rows: Sequence[Any], sheet: str = "Devices", change: Callable[[Any], None] | None = None) -> bytes:
    """A workbook with one sheet of these rows; `change` does the rest to it."""
    book = openpyxl.Workbook()
    filled(book.worksheets[0], rows).title = sheet
    if change is not None:
        change(book)
    return saved(book)


def saved(book: Any) -> bytes:
    """The workbook as a file."""
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def read(data: bytes, mapping: str = RECORDS, name: str = "s.xlsx") -> tuple[list[str], list[str], list[str]]:
    """What the good rows are called, the faults of the others and the notes, as text."""
    notes: list[str] = []
    good, faults = read_schedule(data, read_mapping(mapping.encode(), BOOK), BOOK, name, notes)
    return [called for called, _ in good], [str(fault) for fault in faults], notes


def graphs(data: bytes, mapping: str = RECORDS) -> dict[str, Graph]:
    """The good rows; no row may be refused."""
    good, faults = read_schedule(data, read_mapping(mapping.encode(), BOOK), BOOK, "s.xlsx")
    assert faults == []
    return dict(good)


def refusal(data: bytes, mapping: str = RECORDS, name: str = "s.xlsx") -> str:
    """Why the whole file is refused."""
    try:
        read(data, mapping, name)
    except InputFaults as refused:
        return str(refused)
    raise AssertionError("the file was read")

"""The sheets of a workbook as pages of typed cells. Values only: no macro, no link and no formula is ever run."""

from __future__ import annotations

import io
import re
import warnings
from collections import defaultdict
from collections.abc import Iterator, Mapping
from contextlib import redirect_stdout
from datetime import date, datetime, time, timedelta
from functools import cached_property
from typing import Any, NoReturn

import openpyxl
from openpyxl.cell.cell import Cell as OpenCell
from openpyxl.worksheet.worksheet import Worksheet

from yokebook.load.faults import Fault, InputFaults, listed, suggest
from yokebook_adapters.schedule_cells import EMPTY, Cell, CellRow, Page, letters, plain
from yokebook_adapters.spreadsheet.guard import check_file
from yokebook_adapters.spreadsheet.number_formats import read_number

_MOST_ROWS = 50_000
_MOST_COLUMNS = 500

#: How many hidden rows or columns one note names.
_NAMED = 12

#: What some programs write for the values that they show as TRUE and FALSE.
_TRUTH_FORMULAS = {"=TRUE()": True, "=FALSE()": False}


_ESCAPED = re.compile("_x000D_|_x005F_")


class Workbook:
    """An open workbook. Raises InputFaults where it cannot be read."""

    def __init__(self, data: bytes, file: str) -> None:
        check_file(data, file)
        self.data = data
        self.file = file
        self.book = _load(data, file, values=False)

    def page(self, sheet: str | None) -> Page:
        """The sheet of this name; without one, the only visible sheet with anything in it."""
        found = self._only() if sheet is None else self._named(sheet)
        name = f"{self.file}:{found.title}"
        cells = _cells_of(found)
        widest = max((column for row in cells.values() for column in row), default=0)
        if max(cells, default=0) > _MOST_ROWS or widest > _MOST_COLUMNS:
            self._refuse(
                name,
                f"the sheet has {max(cells):,} rows and {widest:,} columns; allowed: at most {_MOST_ROWS:,} and "
                f"{_MOST_COLUMNS:,}; longer schedules are read from CSV",
            )
        page = Page(name, iter(()), lettered=True, sheet=found.title, notes=self._notes(found, name, widest))
        page.rows = _Reading(found, cells, self._values(found, cells)).rows()
        return page

    def _only(self) -> Worksheet:
        full: list[Worksheet] = [sheet for sheet in self.book.worksheets if _cells_of(sheet)]
        visible = [sheet for sheet in full if sheet.sheet_state == "visible"]
        if not visible:
            hidden = f"; hidden: {listed(sheet.title for sheet in full)}" if full else ""
            self._refuse(self.file, f"no visible sheet has anything in it{hidden}")
        if len(visible) > 1:
            named = listed(sheet.title for sheet in visible)
            self._refuse(self.file, f"the workbook has several sheets; say in the mapping which `sheet`: {named}")
        return visible[0]

    def _named(self, sheet: str) -> Worksheet:
        titles = [each.title for each in self.book.worksheets]
        if sheet not in titles:
            close = suggest(sheet, titles)
            self._refuse(self.file, f"the workbook has no sheet `{sheet}`{close}; allowed: {listed(titles, 30)}")
        found: Worksheet = self.book.worksheets[titles.index(sheet)]
        return found

    def _refuse(self, at: str, message: str) -> NoReturn:
        raise InputFaults([Fault(at, message)])

    def _notes(self, sheet: Worksheet, name: str, widest: int) -> list[str]:
        """What is hidden in a sheet, which is read like the rest, and which other sheets are."""
        notes = [f"{name}: the sheet is hidden, and was read because the mapping names it"]
        notes = notes if sheet.sheet_state != "visible" else []
        full = {row for row, _ in sheet._cells}
        hidden_rows = [str(n) for n, row in sorted(sheet.row_dimensions.items()) if row.hidden and n in full]
        hidden_columns = _hidden_columns(sheet, widest)
        for what, hidden in (("row", hidden_rows), ("column", hidden_columns)):
            if hidden:
                more = f" and {len(hidden) - _NAMED} more" if len(hidden) > _NAMED else ""
                named = f"{what}{'s' if len(hidden) > 1 else ''} {', '.join(hidden[:_NAMED])}{more}"
                notes.append(f"{name}: hidden, and read like the others: {named}")
        others = [each.title for each in self.book.worksheets if each.sheet_state != "visible" and each is not sheet]
        if others:
            notes.append(f"{self.file}: hidden sheets that this one was not read from: {listed(others)}")
        return notes

    def _values(self, sheet: Worksheet, cells: _Cells) -> Mapping[str, Any]:
        """What the file says that the sheet's formulas came to, by the cell's name."""
        formulas = {cell.coordinate for row in cells.values() for cell in row.values() if cell.data_type == "f"}
        if not formulas:
            return {}
        values = self._calculated[sheet.title]
        return {name: values[name] for name in formulas}

    @cached_property
    def _calculated(self) -> Any:
        """The workbook with what its formulas came to."""
        return _load(self.data, self.file, values=True)


_Cells = Mapping[int, Mapping[int, OpenCell]]


def _load(data: bytes, file: str, *, values: bool) -> Any:
    try:
        with warnings.catch_warnings(), redirect_stdout(io.StringIO()):  # the library prints some of its complaints
            warnings.simplefilter("ignore")
            return openpyxl.load_workbook(io.BytesIO(data), data_only=values, keep_links=False)
    except Exception as error:  # a broken part makes the library raise whatever it meets
        reason = " ".join(str(error).split())[:200] or type(error).__name__
        raise InputFaults([Fault(file, f"this workbook cannot be read: {reason}")]) from None


def _cells_of(sheet: Worksheet) -> _Cells:
    """The cells of a sheet that hold something, by row and column, both from 1."""
    found: dict[int, dict[int, OpenCell]] = defaultdict(dict)
    for (row, column), cell in sheet._cells.items():
        if isinstance(cell, OpenCell) and cell.value is not None:
            found[row][column] = cell
    return found


def _hidden_columns(sheet: Worksheet, last: int) -> list[str]:
    hidden: set[int] = set()
    for dimension in sheet.column_dimensions.values():
        if dimension.hidden:
            first = dimension.min or 1
            hidden |= set(range(first, min(dimension.max or first, last) + 1))
    return [letters(column - 1) for column in sorted(hidden)]


class _Reading:
    """One sheet on its way to rows: merged cells filled down, and noted where they reach across columns."""

    def __init__(self, sheet: Worksheet, cells: _Cells, values: Mapping[str, Any]) -> None:
        self.cells = cells
        self.values = values
        self.last = max(cells, default=0)
        self.above: dict[tuple[int, int], tuple[int, int]] = {}  # (row, column) -> the cell that is shown there
        self.across: dict[int, list[tuple[int, int]]] = defaultdict(list)
        for merged in sheet.merged_cells.ranges:
            last_row = min(merged.max_row, _MOST_ROWS)
            holds = (merged.min_row, merged.min_col)
            if merged.min_col < merged.max_col and cells.get(holds[0], {}).get(holds[1]) is not None:
                for row in range(merged.min_row, last_row + 1):
                    self.across[row].append((merged.min_col - 1, merged.max_col - 1))
            for row in range(merged.min_row + 1, last_row + 1):
                self.above[row, merged.min_col] = holds
            if cells.get(holds[0], {}).get(holds[1]) is not None:
                self.last = max(self.last, last_row)
        self.filled: dict[int, list[int]] = defaultdict(list)
        for row, column in self.above:
            self.filled[row].append(column)

    def rows(self) -> Iterator[CellRow]:
        """Every row down to the last that shows something; blank ones too, so that they are counted."""
        for number in range(1, self.last + 1):
            row = self.cells.get(number, {})
            shown = {column: self.read(cell) for column, cell in row.items()}
            for column in self.filled.get(number, ()):
                top = self.cells.get(self.above[number, column][0], {}).get(column)
                if column not in shown and top is not None:
                    shown[column] = self.read(top)
            width = max(shown, default=0)
            cells = tuple(shown.get(column, EMPTY) for column in range(1, width + 1))
            yield CellRow(number, cells, tuple(self.across.get(number, ())))

    def read(self, cell: OpenCell) -> Cell:
        """One cell by its type."""
        if cell.data_type != "f":
            return typed(cell.value, cell.data_type, cell.number_format)
        formula = cell.value if isinstance(cell.value, str) else f"={getattr(cell.value, 'text', None) or ''}"
        if formula.upper() in _TRUTH_FORMULAS:
            return typed(_TRUTH_FORMULAS[formula.upper()], "b", "")
        held = self.values[cell.coordinate]
        if held.value is None:
            return Cell(formula, formula=formula, calculated=False)
        made = typed(held.value, held.data_type, held.number_format)
        return Cell(made.text, made.kind, made.shown, made.fixed, made.quantity, formula=formula)


def as_meant(text: str) -> str:
    """Text of a cell with the escapes undone that the format has for a carriage return and for its own sign of one.

    >>> as_meant("_x005F_x0041_"), as_meant("a_x000D_")
    ('_x0041_', 'a\\r')
    """
    return _ESCAPED.sub(lambda match: "\r" if match[0] == "_x000D_" else "_", text)


def typed(value: object, data_type: str, number_format: str) -> Cell:
    """A value as openpyxl gives it, as a cell."""
    if data_type == "e":
        return Cell(str(value), "error")
    match value:
        case bool():
            return Cell("TRUE" if value else "FALSE", "yes or no")
        case int() | float():
            number = read_number(value, number_format)
            if number is None:
                return Cell(str(value), "error")
            return Cell(number.text, "number", number.shown, number.fixed, number.quantity)
        case datetime():
            return Cell(_day(value), "date")
        case date() | time() | timedelta():
            return Cell(str(value), "date")
        case _:
            return Cell(plain(as_meant(str(value))))


def _day(moment: datetime) -> str:
    """A moment as text, a day alone where it is midnight."""
    return moment.date().isoformat() if moment.time() == time() else moment.isoformat(sep=" ")

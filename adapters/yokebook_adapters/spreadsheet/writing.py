"""Workbooks as files: pages of text and numbers that print well, safe from formulas, the same bytes every time.

Text is written into text cells, so that no program makes a number, a date or a formula of it; numbers are numbers.
"""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import openpyxl
from openpyxl.cell.cell import Cell
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils import get_column_letter
from openpyxl.utils.indexed_list import IndexedList
from openpyxl.worksheet.worksheet import Worksheet

from yokebook_adapters.drawings.measure import fit

#: A cell of a page: text, a number, or nothing.
Value = str | int | None

#: The longest text that a cell of the format can hold.
_LONGEST = 32_767
_CUT = "... (longer than a cell can hold)"

_AS_TEXT = "@"
_FONT, _SIZE = "Arial", 9
#: The typeface that a column's width is counted in: the width of one of its figures, which is 5.25 points. Without it a
#: program takes a typeface of its own, and columns are as wide as that one happens to be.
_COUNTED_IN, _UNIT = Font(name=_FONT, size=10), 5.25
#: In points: what a cell keeps free at its sides; from line to line; above and below the lines.
_SIDES, _LINE_HEIGHT, _ABOVE = 5.0, 11.5, 3.0
#: The highest that a row can be, in points, and what goes into it.
_HIGHEST = 409
_MOST_LINES = int((_HIGHEST - _ABOVE) / _LINE_HEIGHT)
_LINE = Side(style="thin", color="808080")
_ALL_ROUND = Border(left=_LINE, right=_LINE, top=_LINE, bottom=_LINE)
_HEAD = PatternFill("solid", fgColor="D9D9D9")
_TOP = Alignment(vertical="top", wrap_text=True)
_CENTRED = Alignment(vertical="top", horizontal="center")

#: What XML cannot hold, and what the format takes for the escape of a sign.
_NOT_XML = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")
_ESCAPE = re.compile("_(?=x[0-9A-Fa-f]{4}_)")

#: The only moment that a file holds: the first that its packing can name. What was ruled has dates of its own.
_MOMENT = (1980, 1, 1, 0, 0, 0)
_PROPERTIES = (
    '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n'
    '<cp:coreProperties xmlns:cp="http://schemas.openxmlformats.org/package/2006/metadata/core-properties" '
    'xmlns:dc="http://purl.org/dc/elements/1.1/"><dc:creator>yokebook</dc:creator></cp:coreProperties>'
)

#: Letter paper, the only one that fits the printers of a place where feet are measured in.
_LETTER = 1

#: The columns of a sheet are at most this wide together, so that it is printed in letters of 8 points and more on paper
#: of which 10.5 inches are free; what is wider is printed smaller.
READABLE = 152


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a table: its head, and its width in characters."""

    head: str
    width: float


@dataclass(frozen=True)
class Section:
    """A short table on a page of several: its title, its head (which may be empty), its rows."""

    title: str
    head: Sequence[str]
    rows: Sequence[Sequence[Value]]


def new_workbook() -> openpyxl.Workbook:
    """A workbook without a sheet."""
    book = openpyxl.Workbook()
    for sheet in book.worksheets:
        book.remove(sheet)
    inner: Any = book  # the library has no public name for the typeface that widths are counted in
    inner._fonts = IndexedList([_COUNTED_IN])
    inner._named_styles["Normal"].font = _COUNTED_IN
    return book


def add_table(
    book: openpyxl.Workbook, title: str, heading: str, columns: Sequence[Column], rows: Iterable[Sequence[Value]]
) -> Worksheet:
    """A sheet with a table: its head frozen, repeated on each printed page and with a filter; `heading` stands above
    each printed page. A text that no row is high enough for is whole in its cell, and not to its end on the page."""
    sheet = _new_sheet(book, title, heading)
    for index, column in enumerate(columns, start=1):
        sheet.column_dimensions[get_column_letter(index)].width = column.width
    widths = [column.width for column in columns]
    _put_head(sheet, 1, [column.head for column in columns], widths)
    last = 1
    for last, row in enumerate(rows, start=2):
        _put_row(sheet, last, row, widths)
    sheet.freeze_panes = "A2"
    sheet.print_title_rows = "1:1"
    if last > 1:
        sheet.auto_filter.ref = f"A1:{get_column_letter(len(columns))}{last}"
    return sheet


def add_sections(
    book: openpyxl.Workbook, title: str, heading: str, widths: Sequence[float], sections: Iterable[Section]
) -> Worksheet:
    """A sheet with several short tables under each other; one without rows is left out. A text that no row is high
    enough for goes on in the next."""
    sheet = _new_sheet(book, title, heading)
    for index, width in enumerate(widths, start=1):
        sheet.column_dimensions[get_column_letter(index)].width = width
    row = 0
    for section in sections:
        if not section.rows:
            continue
        row += 2 if row else 1
        put(sheet, row, 1, section.title, wrap=False).font = Font(name=_FONT, size=_SIZE + 1, bold=True)
        if section.head:
            row += 1
            _put_head(sheet, row, section.head, widths)
        for values in section.rows:
            for part in _in_rows(values, widths):
                row += 1
                _put_row(sheet, row, part, widths)
    return sheet


def _in_rows(values: Sequence[Value], widths: Sequence[float]) -> list[Sequence[Value]]:
    """The values as rows that are not too high for a page: one, unless a text has more lines than fit."""
    lines = [_lines(value, width) for value, width in zip(values, widths, strict=False)]
    most = max(map(len, lines), default=0)
    if most <= _MOST_LINES:
        return [values]
    return [
        [" ".join(its[first : first + _MOST_LINES]) or None if len(its) > _MOST_LINES else None if first else value
         for value, its in zip(values, lines, strict=True)]
        for first in range(0, most, _MOST_LINES)
    ]  # fmt: skip


def _put_head(sheet: Worksheet, row: int, texts: Sequence[str], widths: Sequence[float]) -> None:
    for index, text in enumerate(texts, start=1):
        cell = put(sheet, row, index, text)
        cell.font, cell.fill, cell.border = Font(name=_FONT, size=_SIZE, bold=True), _HEAD, _ALL_ROUND
    _set_height(sheet, row, texts, widths, bold=True)


def _put_row(sheet: Worksheet, row: int, values: Sequence[Value], widths: Sequence[float]) -> None:
    for index, value in enumerate(values, start=1):
        cell = put(sheet, row, index, value)
        if index > 1 or value is not None:  # what stands alone on its row needs no empty box before it
            cell.border = _ALL_ROUND
    _set_height(sheet, row, values, widths)


def _set_height(
    sheet: Worksheet, row: int, values: Sequence[Value], widths: Sequence[float], *, bold: bool = False
) -> None:
    """Makes a row as high as its longest text needs, because not every program does so when it opens a file."""
    lines = max((len(_lines(value, width, bold)) for value, width in zip(values, widths, strict=False)), default=1)
    sheet.row_dimensions[row].height = min(_HIGHEST, max(1, lines) * _LINE_HEIGHT + _ABOVE)


def _lines(value: Value, width: float, bold: bool = False) -> tuple[str, ...]:
    """The lines that a value takes up in a column of this width."""
    return _fitted(value, width, bold) if isinstance(value, str) else ("",)


@lru_cache(maxsize=4096)
def _fitted(text: str, width: float, bold: bool) -> tuple[str, ...]:
    room = width * _UNIT - _SIDES
    return tuple(line for part in text.splitlines() for line in fit(part, room, _SIZE, bold=bold) or ("",))


def put(sheet: Worksheet, row: int, column: int, value: Value, *, wrap: bool = True) -> Cell:
    """Writes a text into a text cell, or a number; gives the cell."""
    cell = sheet.cell(row, column)
    assert isinstance(cell, Cell)
    cell.font = Font(name=_FONT, size=_SIZE)
    cell.alignment = _TOP if wrap else Alignment(vertical="top")
    if isinstance(value, str) and value:
        cell.value = cell_text(value)
        cell.data_type = "s"  # also what begins like a formula
        cell.number_format = _AS_TEXT
    elif isinstance(value, int):
        cell.value = value
        cell.alignment = _CENTRED  # away from the text beside it
    return cell


def cell_text(text: str) -> str:
    """Text as a cell of the format can hold it: signs that it cannot hold are replaced, what looks like an escape of
    the format is escaped itself, and a text longer than a cell ends with a word that it was cut.

    >>> cell_text("=1+1"), cell_text("_x0041_"), cell_text("bell \\x07")
    ('=1+1', '_x005F_x0041_', 'bell \\ufffd')
    """
    safe = _ESCAPE.sub("_x005F_", _NOT_XML.sub("\N{REPLACEMENT CHARACTER}", text)).replace("\r", "_x000D_")
    return safe if len(safe) <= _LONGEST else safe[: _LONGEST - len(_CUT)] + _CUT


def _new_sheet(book: openpyxl.Workbook, title: str, heading: str) -> Worksheet:
    sheet: Worksheet = book.create_sheet(title)
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.paperSize = _LETTER
    sheet.page_setup.fitToWidth = 1
    sheet.page_setup.fitToHeight = 0
    assert sheet.sheet_properties.pageSetUpPr is not None
    sheet.sheet_properties.pageSetUpPr.fitToPage = True
    margins = sheet.page_margins
    margins.left = margins.right = 0.25
    margins.top = margins.bottom = 0.7
    margins.header = margins.footer = 0.3
    header, footer = sheet.oddHeader, sheet.oddFooter
    assert header is not None
    assert footer is not None
    header.left.text, header.left.size = heading.replace("&", "&&")[:200], _SIZE
    footer.left.text, footer.right.text = "&A", "Page &P of &N"
    return sheet


def sheet_titles(wanted: Iterable[str]) -> list[str]:
    """Names of sheets that a workbook takes: no forbidden signs, at most 31 characters, none twice.

    >>> sheet_titles(["marking.required of the electrical document", "a/b", "A/B"])
    ['marking.required of the elec...', 'a-b', 'A-B 2']
    """
    taken: dict[str, None] = {}
    titles = []
    for text in wanted:
        plain = re.sub(r"[\[\]:*?/\\]", "-", text).strip("'") or "sheet"
        title, number = _short(plain, ""), 1
        while title.casefold() in taken:
            number += 1
            title = _short(plain, f" {number}")
        taken[title.casefold()] = None
        titles.append(title)
    return titles


def _short(text: str, end: str) -> str:
    room = 31 - len(end)
    return (text if len(text) <= room else f"{text[: room - 3]}...") + end


def as_bytes(book: openpyxl.Workbook) -> bytes:
    """The workbook as a file. The same workbook gives the same bytes: no clock, no name of a person or machine."""
    written = io.BytesIO()
    book.save(written)
    packed = io.BytesIO()
    with zipfile.ZipFile(written) as old, zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as new:
        for part in old.infolist():
            data = _PROPERTIES.encode() if part.filename == "docProps/core.xml" else old.read(part)
            info = zipfile.ZipInfo(part.filename, _MOMENT)
            info.compress_type = zipfile.ZIP_DEFLATED
            new.writestr(info, data)
    return packed.getvalue()

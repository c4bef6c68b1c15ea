"""A schedule's cells as they came, and what a column may take from each: ids stay text, numbers stay exact.

A spreadsheet program makes numbers and dates of what people type. What was typed cannot be got back, so a cell of an id
column is taken only where it shows what was meant, and refused otherwise.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Literal

from yokebook.load.faults import Fault
from yokebook.load.nodes import shorten

CellKind = Literal["text", "number", "yes or no", "date", "error"]

#: What a column gives. "id" is any text that is kept as it stands: ids, names, what findings call a row.
Role = Literal["id", "word", "number", "yes or no", "date"]


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell. Of a CSV file every cell is text."""

    #: without blanks at its ends; a number in full, a date as 2024-10-15, TRUE or FALSE, an error's name
    text: str
    kind: CellKind = "text"
    #: of a number: how its format shows it; None where that is not simply told
    shown: str | None = None
    #: of a number: whether its format says how many digits it shows
    fixed: bool = False
    #: of a number: the number in full with the words of its format, such as `20 A`; None where the format may show
    #: another one, as with a percentage
    quantity: str | None = None
    #: the formula that the cell holds, if any; the rest is then what it last came to
    formula: str = ""
    #: whether the file says what the formula came to
    calculated: bool = True


EMPTY = Cell("")

_NO_BREAK = re.compile("[\N{NO-BREAK SPACE}\N{FIGURE SPACE}\N{NARROW NO-BREAK SPACE}]")


@dataclass(frozen=True, slots=True)
class CellRow:
    """One row of a page. Rows are counted as a spreadsheet counts them, from 1."""

    number: int
    cells: tuple[Cell, ...]
    #: first and last column, from 0, of each range of the row's cells that are merged across columns
    across: tuple[tuple[int, int], ...] = ()


@dataclass
class Page:
    """A CSV file, or one sheet of a workbook. `name` is how faults name it."""

    name: str
    rows: Iterator[CellRow | Fault]
    #: whether its cells are named by letter and number, as in a workbook
    lettered: bool = False
    #: the sheet's own name, in a workbook
    sheet: str | None = None
    #: what a reader should know and no fault: hidden rows, headings passed over
    notes: list[str] = field(default_factory=list)

    def row_at(self, number: int) -> str:
        """A row as faults name it."""
        return f"{self.name}: row {number}"

    def cell_at(self, number: int, index: int, column: str) -> str:
        """A cell as faults name it; `index` counts columns from 0, `column` is what the header calls it."""
        if self.lettered:
            return f"{self.name}!{letters(index)}{number}, column `{column}`"
        return f"{self.row_at(number)}, column `{column}`"


def plain(text: str) -> str:
    """The text of a cell: blanks that do not break, which come with copied text and look like any other, as such, and
    none at the ends.

    >>> plain(" private\N{NO-BREAK SPACE}office")
    'private office'
    """
    return _NO_BREAK.sub(" ", text).strip()


def letters(index: int) -> str:
    """A column's letters; `index` counts from 0.

    >>> letters(0), letters(25), letters(26), letters(16383)
    ('A', 'Z', 'AA', 'XFD')
    """
    text = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        text = chr(ord("A") + rest) + text
    return text


def take(cell: Cell, role: Role, as_shown: bool, mapping: str) -> str:
    """What a column takes from a cell, as text that the mapping's words and the front door read on.

    `as_shown` says that whole numbers of an id column are right as shown, which `mapping` (its file) may say. Raises
    ValueError with what was found and what is allowed.
    """
    if cell.formula:
        _check_formula(cell, role)
    if cell.kind == "text":
        return cell.text
    if cell.kind == "error":
        raise ValueError(f"the cell holds the error `{cell.text}`; allowed: {_ALLOWED[role]}")
    if cell.kind == "number":
        return _number(cell, role, as_shown, mapping)
    if cell.kind == "date":
        if role == "date":
            return cell.text
        raise ValueError(
            f"the cell is a date, {cell.text}; what was typed before the program made a date of it cannot be seen; "
            f"allowed: {_ALLOWED[role]}{_AS_TEXT if role in ('id', 'word') else ''}"
        )
    if role == "id":
        raise ValueError(f"the cell is the program's own {cell.text}, where an id is due; allowed: text{_AS_TEXT}")
    return cell.text


_AS_TEXT = " (format the column as text, then type it again)"
_ALLOWED: Mapping[Role, str] = {
    "id": "text",
    "word": "text",
    "number": "a number",
    "yes or no": "yes, no, TRUE, FALSE",
    "date": "a date, or text such as 2024-10-15",
}


def _check_formula(cell: Cell, role: Role) -> None:
    formula = shorten(cell.formula)
    if role == "id":
        raise ValueError(f"`{formula}` is a formula, and no id is taken from one; allowed: text")
    if not cell.calculated:
        raise ValueError(
            f"the file does not say what the formula `{formula}` comes to; open and save it in a spreadsheet program, "
            f"or write the value; allowed: {_ALLOWED[role]}"
        )


def _number(cell: Cell, role: Role, as_shown: bool, mapping: str) -> str:
    if role == "number":
        if cell.quantity is None:
            raise ValueError(
                f"`{cell.text}` has a format that may show it as another number, such as a percentage; allowed: a "
                "number in a plain format"
            )
        return cell.quantity
    if role != "id":
        return cell.text if cell.shown is None else cell.shown
    whole = cell.text.isdecimal()
    if cell.shown is not None and (cell.fixed or (as_shown and whole)):
        return cell.shown
    lost = "a zero before it, or an E as in 3E5," if whole else "a zero at its end"
    hint = f", or the column's name under `numbers_as_shown` in {mapping}" if whole and cell.shown is not None else ""
    raise ValueError(
        f"`{cell.text}` is a number here, and whether {lost} was typed cannot be seen; allowed: text{_AS_TEXT}{hint}"
    )

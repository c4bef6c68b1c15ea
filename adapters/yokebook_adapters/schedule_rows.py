"""The rows of a CSV schedule, one at a time, each cell with the place that faults name."""

from __future__ import annotations

import csv
import re
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass

from yokebook.intake.entry import Entry, Member
from yokebook.intake.vocabulary import Term
from yokebook.load.faults import Fault, listed, suggest
from yokebook.load.nodes import Scalar
from yokebook_adapters.schedule_mapping import ColumnUse, ScheduleMapping

#: What a byte that is not UTF-8 becomes when a file is opened with errors="surrogateescape".
_NOT_UTF8 = re.compile("[\udc80-\udcff]")
#: Control characters have no business in a cell, and some move a terminal's cursor about.
_CONTROL = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")
_NUMBER = re.compile(r"[0-9]+(?:\.[0-9]+)?|[0-9]+ [0-9]+/[0-9]+|[0-9]+/[0-9]+")
_LONGEST_CELL = 10_000


@dataclass(frozen=True, slots=True)
class Row:
    """One row with something in it. Rows are counted as a spreadsheet counts them, from 1."""

    file: str
    number: int
    cells: dict[str, str]  # by column; without blanks at the ends

    @property
    def place(self) -> str:
        """The row as faults name it."""
        return f"{self.file}: row {self.number}"

    def at(self, column: str) -> str:
        """A cell as faults name it."""
        return f"{self.place}, column `{column}`"


def read_rows(lines: Iterable[str], mapping: ScheduleMapping, file: str) -> Iterator[Row | Fault]:
    """The schedule's rows under its header, as they come; a fault in place of each row that cannot be read. Blank rows
    are skipped. Stops after the header's faults, or where the text is no longer CSV."""
    reader = csv.reader(lines, delimiter=mapping.delimiter, strict=True)
    header: list[str] | None = None
    number = 0
    empty = True
    try:
        for number, cells in enumerate(reader, start=1):
            if number < mapping.header_row:
                continue
            if header is None:
                header = [cell.strip() for cell in cells]
                faults = list(_header_faults(header, mapping, f"{file}: row {number}"))
                yield from faults
                if faults:
                    return
                continue
            if any(cell.strip() for cell in cells):
                empty = False
                yield from _row(header, cells, file, number)
    except csv.Error as error:
        yield Fault(f"{file}: row {number + 1}", f"{_not_csv(error)}; the rows from here on were not read")
        return
    except OSError as error:
        yield Fault(f"{file}: row {number + 1}", f"cannot be read: {error.strerror or error}")
        return
    if header is None:
        yield Fault(f"{file}: row {mapping.header_row}", "the file ends before its header row")
    elif empty:
        yield Fault(f"{file}: row {mapping.header_row}", "no row with a device in it follows the header")


def _not_csv(error: csv.Error) -> str:
    if str(error) == "unexpected end of data":
        return "the quotation mark that opens a cell in this row is never closed"
    return f"this is not CSV: {error}"


def _header_faults(header: list[str], mapping: ScheduleMapping, place: str) -> Iterator[Fault]:
    columns = [column for column in header if column]
    for column in columns:
        unclean = _unclean(column)
        if unclean is not None:
            yield Fault(place, unclean)
            return
    for column in dict.fromkeys(columns):
        if columns.count(column) > 1:
            yield Fault(place, f"the column `{column}` stands {columns.count(column)} times; allowed: once")
    wanted = mapping.wanted_columns()
    known = listed(columns, 30) or "none, because the row is empty"
    if wanted and not set(wanted) & set(columns):
        yield Fault(
            place,
            f"this row names none of the columns that {mapping.file} maps ({listed(wanted, 30)}); its columns are: "
            f"{known}; if the header is in another row, say `header_row` in the mapping, and if something else than "
            f"{mapping.delimiter_word} divides the cells, `delimiter`",
        )
        return
    meant: set[str] = set()
    for column, at in wanted.items():
        if column not in columns:
            close = suggest(column, columns)
            meant |= {name for name in columns if close and f"`{name}`" in close}
            yield Fault(at, f"the schedule has no column `{column}`{close}; allowed: {known}")
    if mapping.leave_out is not None:
        for column in dict.fromkeys(columns):
            if column not in wanted and column not in mapping.leave_out and column not in meant:
                hint = f"map it, or list it under `leave_out` in {mapping.file}"
                yield Fault(place, f"the mapping says nothing of the column `{column}`; {hint}")


def _row(header: list[str], cells: list[str], file: str, number: int) -> Iterator[Row | Fault]:
    place = f"{file}: row {number}"
    faults: list[Fault] = []
    if len(cells) < len(header):
        missing = header[len(cells)]
        sizes = f"it has {len(cells)} of {len(header)} cells"
        faults.append(Fault(place, f"the row is short: {sizes}, and none from column `{missing}` on"))
    beyond = [index for index, cell in enumerate(cells) if cell.strip() and (index >= len(header) or not header[index])]
    if beyond:
        faults.append(Fault(place, f"the row is long: `{cells[beyond[0]].strip()}` stands under no column"))
    row = Row(file, number, {name: cell.strip() for name, cell in zip(header, cells, strict=False) if name})
    for name, cell in row.cells.items():
        unfit = unfit_cell(cell)
        if unfit is not None:
            faults.append(Fault(row.at(name), unfit))
    if faults:
        yield from faults
    else:
        yield row


def unfit_cell(cell: str) -> str | None:
    """Why a cell cannot be read as text at all; None where it can."""
    unclean = _unclean(cell)
    if unclean is None and len(cell) > _LONGEST_CELL:
        return f"the cell has {len(cell):,} characters; allowed: {_LONGEST_CELL:,}"
    return unclean


def _unclean(cell: str) -> str | None:
    """What is in a cell that is no text; None for text."""
    bad = _NOT_UTF8.search(cell)
    if bad:
        return f"byte 0x{ord(bad[0]) - 0xDC00:02x} is not UTF-8; save the file as UTF-8"
    odd = _CONTROL.search(cell)
    return None if odd is None else f"control character U+{ord(odd[0]):04X} is not allowed in text"


def stated(row: Row, use: ColumnUse, mapping: ScheduleMapping) -> Entry:
    """What a row's cell gives for its fact; null for a cell that says that nothing is given."""
    text = row.cells[use.column]
    at = row.at(use.column)
    if text in use.words:
        return Entry(at, use.words[text].value)
    if use.unit is not None and _NUMBER.fullmatch(text) and text.casefold() not in mapping.not_given:
        text = f"{text} {use.unit}"
    return cell_entry(text, use.term, at, mapping.not_given)


def cell_entry(text: str, term: Term | None, at: str, not_given: Collection[str]) -> Entry:
    """What a cell's text gives for a term (None: another key of a flat record), where `not_given` are the words, in
    small letters, that say that nothing is given: null for these. The text has no blanks at its ends."""
    if text.casefold() in not_given:
        return Entry(at, None)
    if term is not None and term.type in ("text", "choice"):
        return Entry(at, text)
    # Only the fact's type tells whether a cell is a number, a yes or a word, just as with an unquoted word of YAML.
    return Entry(at, Scalar(at, 1, 1, text, plain=True))


def members(row: Row, mapping: ScheduleMapping) -> list[Member]:
    """Everything that a row states, the mapping's constants first."""
    constants = [Member(key, entry.at, entry) for key, entry in mapping.constants]
    columns = [Member(use.key, row.at(use.column), stated(row, use, mapping)) for use in mapping.columns]
    return constants + columns


def name_of(row: Row, mapping: ScheduleMapping) -> str:
    """What the schedule calls a row: the cells that the mapping names for it, or its number."""
    cells = [row.cells[column] for column, _ in mapping.call_rows_by]
    given = [cell for cell in cells if cell.casefold() not in mapping.not_given]
    return "/".join(given) or f"row {row.number}"

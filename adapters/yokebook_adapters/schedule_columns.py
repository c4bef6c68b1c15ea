"""What a mapping file says, as data: what the columns of somebody's device schedule and panel schedules mean."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from yokebook.entities import KIND_OF_PREFIX, LISTS, Kind
from yokebook.intake.entry import Entry
from yokebook.intake.vocabulary import Term
from yokebook.model import At

RowsAre = Literal["record", "contact"]
ROWS_ARE: tuple[RowsAre, ...] = ("record", "contact")

#: What people write in a cell to say that they do not know.
NOT_GIVEN = ("", "N/A", "-", "TBD")

#: How the circuits of a panel schedule stand: one a row, or two a row, each column's name twice in the header.
LAYOUTS = ("one circuit a row", "two circuits a row", "odd left, even right")

#: Where the name of a panel stands.
PANEL_FROM = ("cell", "column", "always", "sheet_name")

#: What can stand between two cells of a CSV file, by the word for it.
DELIMITERS: Mapping[str, str] = {"comma": ",", "semicolon": ";", "tab": "\t"}

CELL = re.compile(r"([A-Z]{1,3})([1-9][0-9]{0,6})")

#: Which things a row of a project may name by id, and whether it must.
ID_KINDS: Mapping[Kind, bool] = {
    "space": True,
    "yoke": True,
    "contact": True,
    "control": False,
    "circuit": False,
    "load": False,
}


@dataclass(frozen=True, slots=True)
class ColumnUse:
    """One column that gives one fact."""

    column: str
    key: str  # a fact's or calculation's full id, or a flat record's other key
    term: Term | None  # None for a flat record's other key
    unit: str | None  # of the column's numbers
    words: Mapping[str, Entry]  # what a cell's word stands for
    at: At


@dataclass(frozen=True, slots=True)
class IdUse:
    """Where the id of a row's thing of one kind comes from: columns, or the same text for every row."""

    kind: Kind
    columns: tuple[str, ...]  # several: their cells make one id, with `joined_by` between them
    joined_by: str
    always: str | None
    split: str | None  # several ids in one cell stand between this
    own: bool  # a load: the cell says what it is, and each row has one of its own
    at: At


@dataclass(frozen=True, slots=True)
class PanelUse:
    """How panel schedules are read: what each says of its circuits, and by what device rows name these."""

    files: tuple[tuple[Path, At], ...]  # none: sheets of the schedule's own workbook
    sheets: tuple[tuple[str, At], ...]  # none: a file's only sheet
    header_row: int
    layout: str  # one of LAYOUTS
    panel_from: str  # one of PANEL_FROM
    panel: str  # the cell, the column, or the name itself
    after: str  # what stands before the panel's name in its cell
    circuit: str  # the column of the circuit's number
    joined_by: str  # stands between panel and number in a circuit's id
    columns: tuple[ColumnUse, ...]  # facts of circuits
    by: IdUse | None  # of rows that are records: where the circuit's id comes from
    numbers_as_shown: frozenset[str]
    skip_rows_without_circuit: bool  # whether a row without a circuit's number is passed over, whatever else it gives


@dataclass(frozen=True)
class ScheduleMapping:
    """A mapping file as read."""

    file: str
    rows: RowsAre
    columns: tuple[ColumnUse, ...]
    constants: tuple[tuple[str, Entry], ...]
    complete: tuple[str, ...]  # lists such as "contact.controls"
    not_given: frozenset[str]  # casefolded
    leave_out: frozenset[str] | None  # columns that carry nothing; None: any other column
    call_rows_by: tuple[tuple[str, At], ...]
    ids: Mapping[Kind, IdUse] = field(default_factory=dict)
    project: Entry | None = None
    header_row: int = 1
    delimiter: str = ","
    sheet: str | None = None
    fill_down: tuple[str, ...] = ()  # columns in which a blank cell has what stands above it
    numbers_as_shown: frozenset[str] = frozenset()  # id columns in which whole numbers are right as shown
    panels: PanelUse | None = None
    skip_rows_without: tuple[tuple[str, At], ...] = ()  # columns; a row that leaves all of them blank is passed over

    def id_uses(self) -> list[IdUse]:
        """Everywhere that ids come from."""
        by = None if self.panels is None else self.panels.by
        return [*self.ids.values(), *([] if by is None else [by])]

    def terms(self) -> dict[str, Term]:
        """What each mapped fact may be."""
        uses = (*self.columns, *(() if self.panels is None else self.panels.columns))
        return {use.key: use.term for use in uses if use.term is not None}

    def wanted_columns(self) -> dict[str, At]:
        """Every column that the mapping needs, and where it says so first."""
        wanted: dict[str, At] = {}
        of_ids = [(column, use.at) for use in self.id_uses() for column in use.columns]
        named = (*self.call_rows_by, *self.skip_rows_without)
        for column, at in (*named, *of_ids, *((use.column, use.at) for use in self.columns)):
            wanted.setdefault(column, at)
        return dict(sorted(wanted.items(), key=lambda item: (item[1].line, item[1].column)))

    @property
    def delimiter_word(self) -> str:
        """What divides the cells, in words."""
        return next(f"a {word}" for word, sign in DELIMITERS.items() if sign == self.delimiter)


def list_of(name: str) -> tuple[Kind, str, Kind]:
    """The owner, the name and the kind of the items of a list such as `contact.controls`."""
    prefix, _, rest = name.partition(".")
    kind = KIND_OF_PREFIX[prefix]
    return kind, rest, LISTS[kind][rest].kind

"""The rows of a schedule's page under its header, one at a time, each cell with the place that faults name."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial

from yokebook.intake.entry import Entry, Member
from yokebook.intake.record import DATE_PREFIX
from yokebook.intake.vocabulary import Term
from yokebook.load.faults import Fault, listed, suggest
from yokebook.load.nodes import Scalar
from yokebook_adapters.schedule_cells import EMPTY, Cell, CellRow, Page, Role, letters, take
from yokebook_adapters.schedule_columns import DELIMITERS, ColumnUse, ScheduleMapping

#: What a byte that is not UTF-8 becomes when a file is opened with errors="surrogateescape".
_NOT_UTF8 = re.compile("[\udc80-\udcff]")
#: Control characters have no business in a cell, and some move a terminal's cursor about.
_CONTROL = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")
#: Signs that take up no room come with copied text, and make two ids of what looks like one.
_UNSEEN = re.compile("[\N{SOFT HYPHEN}\N{ZERO WIDTH SPACE}\N{WORD JOINER}\N{ZERO WIDTH NO-BREAK SPACE}]")
_NUMBER = re.compile(r"[0-9]+(?:\.[0-9]+)?|[0-9]+ [0-9]+/[0-9]+|[0-9]+/[0-9]+")
_LINE_END = re.compile(r"\s*[\r\n]\s*")
_LONGEST_CELL = 10_000
#: How many places one note names before it only counts them.
_PLACES_NAMED = 8


@dataclass(frozen=True, slots=True)
class Row:
    """One row with something in it. Rows are counted as a spreadsheet counts them, from 1."""

    page: str
    number: int
    place: str  # the row as faults name it
    cells: Mapping[str, str]  # by column; without blanks at the ends
    spot: Callable[[str], str]  # of a column: the cell as faults name it

    def at(self, column: str) -> str:
        """A cell as faults name it."""
        return self.spot(column)


@dataclass(frozen=True, slots=True)
class Head:
    """A header as read: what each mapped column is taken as, and by column of the page what it is called."""

    names: tuple[str, ...]  # "" for a column without a name
    index: Mapping[str, int]  # by name
    roles: Mapping[str, Role]


def read_rows(page: Page, mapping: ScheduleMapping) -> Iterator[Row | Fault]:
    """The page's rows under its header, as they come; a fault in place of each row that cannot be read. Blank rows are
    skipped, and so are headings merged across the columns. Stops after the header's faults, or where a page's own
    fault says that it cannot be read on."""
    found = _Rows(page, mapping)
    for raw in page.rows:
        if isinstance(raw, Fault):
            yield raw
            return
        if raw.number < mapping.header_row:
            continue
        if found.head is None:
            faults = list(found.take_header(raw))
            yield from faults
            if faults:
                return
            continue
        yield from found.rows(raw)
    if found.head is None:
        yield Fault(page.row_at(mapping.header_row), "the file ends before its header row")
    elif found.empty:
        yield Fault(page.row_at(mapping.header_row), "no row with a device in it follows the header")
    page.notes.extend(found.notes())


def header_names(row: CellRow) -> tuple[str, ...]:
    """What a header row calls the columns; a line break within a name counts as a blank."""
    return tuple(_LINE_END.sub(" ", cell.text).strip() for cell in row.cells)


def roles_of(mapping: ScheduleMapping) -> dict[str, Role]:
    """What each mapped column is taken as. A column that gives an id beside a fact is an id's."""
    roles: dict[str, Role] = {use.column: role_of(use) for use in mapping.columns}
    of_ids = [column for use in mapping.id_uses() for column in use.columns]
    for column in (*(name for name, _ in mapping.call_rows_by), *of_ids):
        roles[column] = "id"
    return roles


def role_of(use: ColumnUse) -> Role:
    """What a column that gives a fact is taken as."""
    if use.term is None:
        return "date" if use.key.startswith(DATE_PREFIX) else "id"
    match use.term.type:
        case "text":
            return "id"
        case "choice":
            return "word"
        case "yes_no":
            return "yes or no"
        case _:
            return "number"


class _Rows:
    """The state of one reading: the header once it was met, the row above, what to note at the end."""

    def __init__(self, page: Page, mapping: ScheduleMapping) -> None:
        self.page = page
        self.mapping = mapping
        self.head: Head | None = None
        self.empty = True
        self.above: dict[str, Cell] = {}
        self.headings: list[int] = []
        self.skipped: list[int] = []  # rows that the mapping says are no devices
        self.calculated: dict[str, list[str]] = {}  # column -> cells whose formula was taken by its last value

    def take_header(self, raw: CellRow) -> Iterator[Fault]:
        """Takes the header; its faults."""
        names = header_names(raw)
        self.head = Head(names, {name: i for i, name in enumerate(names)}, roles_of(self.mapping))
        yield from _header_faults(names, self.mapping, self.page.row_at(raw.number), self._elsewhere(names))

    def _elsewhere(self, names: Sequence[str]) -> str:
        """What else the mapping may have to say where the header names no column that it maps."""
        if self.page.lettered:
            return "it is on another sheet, `sheet`"
        for word, sign in DELIMITERS.items():
            if sign != self.mapping.delimiter and any(sign in name for name in names):
                return f"the cells are divided by a {word}, `delimiter: {word}`"
        return f"something else than {self.mapping.delimiter_word} divides the cells, `delimiter`"

    def rows(self, raw: CellRow) -> Iterator[Row | Fault]:
        """The row, or its faults; nothing for a blank row and for a heading."""
        head = self.head
        assert head is not None
        if not any(cell.text for cell in raw.cells):
            return
        if raw.across and sum(bool(cell.text) for cell in raw.cells) == 1:
            self.headings.append(raw.number)
            return
        if self._no_device(head, raw):
            self.skipped.append(raw.number)
            return
        self.empty = False
        cells = self._filled(head, raw)
        faults = [*self._shape(head, raw), *self._merged(head, raw)]
        texts: dict[str, str] = {}
        spot = partial(self._spot, raw.number)
        for name, cell in cells.items():
            try:
                texts[name] = take_cell(cell, head.roles.get(name), name in self.mapping.numbers_as_shown, self.mapping)
            except ValueError as error:
                faults.append(Fault(spot(name), str(error)))
                continue
            if cell.formula and name in head.roles:
                self.calculated.setdefault(name, []).append(f"{letters(head.index[name])}{raw.number}")
        if faults:
            yield from faults
        else:
            yield Row(self.page.name, raw.number, self.page.row_at(raw.number), texts, spot)

    def _no_device(self, head: Head, raw: CellRow) -> bool:
        """Whether the row leaves blank every column by which the mapping tells devices from totals and notes."""
        columns = [head.index[name] for name, _ in self.mapping.skip_rows_without]
        return bool(columns) and not any(raw.cells[i].text for i in columns if i < len(raw.cells))

    def _spot(self, number: int, column: str) -> str:
        assert self.head is not None
        return self.page.cell_at(number, self.head.index[column], column)

    def _filled(self, head: Head, raw: CellRow) -> dict[str, Cell]:
        """The row's cells by column; a blank one that the mapping fills down has what stands above it."""
        # a workbook holds no blank cells at the end of a row; a CSV file that lacks them is cut off
        cells = dict.fromkeys(filter(None, head.names), EMPTY) if self.page.lettered else {}
        cells |= {name: cell for name, cell in zip(head.names, raw.cells, strict=False) if name}
        for name in self.mapping.fill_down:
            if cells.get(name, EMPTY).text:
                self.above[name] = cells[name]
            elif name in self.above and name in cells:
                cells[name] = self.above[name]
        return cells

    def _shape(self, head: Head, raw: CellRow) -> Iterator[Fault]:
        names, cells = head.names, raw.cells
        place = self.page.row_at(raw.number)
        if len(cells) < len(names) and not self.page.lettered:
            sizes = f"it has {len(cells)} of {len(names)} cells"
            yield Fault(place, f"the row is short: {sizes}, and none from column `{names[len(cells)]}` on")
        beyond = [i for i, cell in enumerate(cells) if cell.text and (i >= len(names) or not names[i])]
        if beyond:
            at = f"{self.page.name}!{letters(beyond[0])}{raw.number}" if self.page.lettered else place
            yield Fault(at, f"the row is long: `{cells[beyond[0]].text}` stands under no column")

    def _merged(self, head: Head, raw: CellRow) -> Iterator[Fault]:
        for first, last in raw.across:
            wanted = [name for name in head.names[first : last + 1] if name in head.roles]
            if len(wanted) > 1:
                where = f"{letters(first)}{raw.number}:{letters(last)}{raw.number}"
                message = f"the cells of {listed(wanted)} are merged into one; allowed: one cell for each column"
                yield Fault(f"{self.page.name}!{where}", message)

    def notes(self) -> Iterator[str]:
        """What to tell of the page once it is read."""
        if self.headings:
            yield f"{self.page.name}: passed over as headings: {rows_named(self.headings)}"
        if self.skipped:
            blank = listed(name for name, _ in self.mapping.skip_rows_without)
            yield f"{self.page.name}: passed over, with nothing in {blank}: {rows_named(self.skipped)}"
        for column, places in self.calculated.items():
            named = ", ".join(places[:_PLACES_NAMED])
            more = f" and {len(places) - _PLACES_NAMED} more" if len(places) > _PLACES_NAMED else ""
            yield (f"{self.page.name}: column `{column}` has formulas, taken by what they last came to: {named}{more}")


def rows_named(numbers: Sequence[int]) -> str:
    """Rows as a note names them, the first of many.

    >>> rows_named([4]), rows_named([4, 9])
    ('row 4', 'rows 4, 9')
    """
    named = ", ".join(map(str, numbers[:_PLACES_NAMED]))
    more = f" and {len(numbers) - _PLACES_NAMED} more" if len(numbers) > _PLACES_NAMED else ""
    return f"row {named}" if len(numbers) == 1 else f"rows {named}{more}"


def take_cell(cell: Cell, role: Role | None, as_shown: bool, mapping: ScheduleMapping) -> str:
    """What a column takes from a cell; of a column that is not mapped only whether it is text at all. Raises
    ValueError with what was found and what is allowed."""
    unfit = unfit_cell(cell.text)
    if unfit is not None:
        raise ValueError(unfit)
    if role is None or (cell.text.casefold() in mapping.not_given and not cell.formula):
        return cell.text
    return take(cell, role, as_shown, mapping.file)


def _header_faults(names: Sequence[str], mapping: ScheduleMapping, place: str, elsewhere: str) -> Iterator[Fault]:
    columns = [column for column in names if column]
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
            f"{known}; if the header is in another row, say `header_row` in the mapping, and if {elsewhere}",
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
    if odd:
        return f"control character U+{ord(odd[0]):04X} is not allowed in text"
    unseen = _UNSEEN.search(cell)
    if unseen:
        return f"U+{ord(unseen[0]):04X}, which nobody can see, is not allowed in text; type it again"
    return None


def stated(row: Row, use: ColumnUse, mapping: ScheduleMapping) -> Entry:
    """What a row's cell gives for its fact; null for a cell that says that nothing is given."""
    text = row.cells[use.column]
    at = row.at(use.column)
    if text in use.words:
        return Entry(at, use.words[text].value)
    if use.unit is not None and _NUMBER.fullmatch(text) and text.casefold() not in mapping.not_given:
        text = f"{text} {use.unit}"
    return cell_entry(text, use.term, at, mapping.not_given, (row.page, row.number))


def cell_entry(text: str, term: Term | None, at: str, not_given: Collection[str], line: tuple[str, int]) -> Entry:
    """What a cell's text gives for a term (None: another key of a flat record), where `not_given` are the words, in
    small letters, that say that nothing is given: null for these. The text has no blanks at its ends; `line` are the
    file or page and the row's number."""
    if text.casefold() in not_given:
        return Entry(at, None)
    if term is not None and term.type in ("text", "choice"):
        return Entry(at, text)
    # Only the fact's type tells whether a cell is a number, a yes or a word, just as with an unquoted word of YAML.
    return Entry(at, Scalar(*line, 1, text, plain=True))


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

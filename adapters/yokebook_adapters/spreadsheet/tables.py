"""Decision tables as a workbook, for reading: one row a rule, inputs on the left, the outcome on the right."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from yokebook.model import Book, Resolved
from yokebook.reach import answer_named
from yokebook_adapters.lines import sentence
from yokebook_adapters.spreadsheet.writing import (
    READABLE,
    Column,
    Section,
    Value,
    add_sections,
    add_table,
    as_bytes,
    new_workbook,
    sheet_titles,
)
from yokebook_adapters.table_text import Grid, grid_of, heading

FIRST, CHECKED = "Read this first", "How each rule is checked"
_ONLY_TO_READ = (
    "This workbook is for reading. The law is written in the YAML files of the rulebook and nowhere else: what is "
    "changed here changes no ruling and is not read back. A change is made there, as an amendment or an edition, and "
    "the workbook is made anew.",
    "One row is one rule; a rule that holds in several cases has a row for each, with the same name. A blank cell is "
    "any value. Where rules disagree, the one that is an exception or is said to prevail stands, wherever its row is.",
    "The last row is what holds where no rule of the table does.",
)
_WIDTHS = (36, 116)
_CHECKED_WIDTHS = (18, 23, 57, 54)
_CHECKED_HEAD = ("rule", "section", "checked", "how it came about")
_NO_RULE = "no rule"

#: The widths between which the column of an input is, in characters.
_NARROWEST, _WIDEST = 7.5, 18.0


def as_xlsx(tables: Iterable[tuple[Resolved, str]], book: Book) -> bytes:
    """The tables, each of a resolved document and a question, as a file. The same tables give the same bytes."""
    tables = list(tables)
    made = new_workbook()
    _, *names, _ = sheet_titles(
        [FIRST, *(f"{question} {resolved.document.id}" for resolved, question in tables), CHECKED]
    )
    grids = [grid_of(resolved, question, book) for resolved, question in tables]
    add_sections(made, FIRST, "Decision tables, for reading", _WIDTHS, _first(tables, grids, names, book))
    for (resolved, question), grid, name in zip(tables, grids, names, strict=True):
        add_table(made, name, heading(resolved, question, book), _columns(grid), _rows(grid))
    sections = [Section(name, _CHECKED_HEAD, _checked(grid)) for name, grid in zip(names, grids, strict=True)]
    add_sections(made, CHECKED, CHECKED, _CHECKED_WIDTHS, sections)
    return as_bytes(made)


def _columns(grid: Grid) -> list[Column]:
    """The columns, those of the inputs as wide as the paper allows, down to what their words need."""
    but_not = [Column("but not", 15)] if _has_but_not(grid) else []
    ends = [*but_not, Column("outcome", 12), Column("section", 13), Column("note", 30)]
    rule = Column("rule", 12)
    free = READABLE - sum(column.width for column in (rule, *ends))
    width = max(_NARROWEST, min(_WIDEST, free / max(1, len(grid.inputs))))
    return [rule, *(Column(name.replace(".", ".\n"), width) for name in grid.inputs), *ends]


def _has_but_not(grid: Grid) -> bool:
    return any(row.but_not for row in grid.rows)


def _rows(grid: Grid) -> list[Sequence[Value]]:
    but_not = _has_but_not(grid)
    return [
        [
            row.rule or _NO_RULE,
            *(cell or None for cell in row.cells),
            *([row.but_not or None] if but_not else []),
            row.then,
            row.section or None,
            row.says,
        ]
        for row in grid.rows
    ]


def _checked(grid: Grid) -> list[Sequence[Value]]:
    """How each rule was checked and how it came about: once for a rule with several cases."""
    rows = ((row.rule or _NO_RULE, row.section or None, row.checked, row.chain or None) for row in grid.rows)
    return list(dict.fromkeys(rows))


def _first(
    tables: Sequence[tuple[Resolved, str]], grids: Sequence[Grid], names: Sequence[str], book: Book
) -> list[Section]:
    inputs = dict.fromkeys(name for grid in grids for name in grid.inputs)
    return [
        Section("What this is", (), [(None, text) for text in _ONLY_TO_READ]),
        Section(
            "Tables",
            ("sheet", "table"),
            [
                (name, heading(resolved, question, book))
                for (resolved, question), name in zip(tables, names, strict=True)
            ],
        ),
        Section("Inputs", ("input", "what it says"), [(name, _says(name, book)) for name in inputs]),
        Section("Named numbers", (), [(None, text) for grid in grids for text in grid.values]),
        Section("Readings chosen here", (), [(None, text) for grid in grids for text in grid.chosen]),
        Section("Cautions", (), [(None, sentence(caution)) for caution in book.cautions]),
    ]


def _says(name: str, book: Book) -> str:
    """What an input says, in plain words; of a lower answer what is asked."""
    if name in book.facts:
        return sentence(book.facts[name].says)
    if name in book.calculations:
        return sentence(book.calculations[name].says)
    reading = book.readings.get(name.removeprefix("reading."))
    if reading is not None:
        return f"How a clause is read. {reading.asks}"
    answer = answer_named(name, book)
    asked = None if answer is None else book.questions[answer[1]]
    return "" if asked is None else f"The answer to {asked.ruling}. {asked.asks}"

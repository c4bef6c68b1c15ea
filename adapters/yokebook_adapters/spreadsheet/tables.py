"""Decision tables as a workbook, for reading: one row a rule, inputs on the left, the outcome on the right."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from yokebook.model import Book, Resolved
from yokebook.reach import answer_named
from yokebook_adapters.lines import sentence
from yokebook_adapters.spreadsheet.writing import (
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

FIRST = "Read this first"
_ONLY_TO_READ = (
    "This workbook is for reading. The law is written in the YAML files of the rulebook and nowhere else: what is "
    "changed here changes no ruling and is not read back. A change is made there, as an amendment or an edition, and "
    "the workbook is made anew.",
    "One row is one rule; a rule that holds in several cases has a row for each, with the same name. A blank cell is "
    "any value. Where rules disagree, the one that is an exception or is said to prevail stands, wherever its row is.",
    "The last row is what holds where no rule of the table does.",
)
_WIDTHS = (40, 110)


def as_xlsx(tables: Iterable[tuple[Resolved, str]], book: Book) -> bytes:
    """The tables, each of a resolved document and a question, as a file. The same tables give the same bytes."""
    tables = list(tables)
    made = new_workbook()
    names = sheet_titles([FIRST, *(f"{question} {resolved.document.id}" for resolved, question in tables)])[1:]
    grids = [grid_of(resolved, question, book) for resolved, question in tables]
    add_sections(made, FIRST, "Decision tables, for reading", _WIDTHS, _first(tables, grids, names, book))
    for (resolved, question), grid, name in zip(tables, grids, names, strict=True):
        add_table(made, name, heading(resolved, question, book), _columns(grid), _rows(grid))
    return as_bytes(made)


def _columns(grid: Grid) -> list[Column]:
    inputs = [Column(name, 13) for name in grid.inputs]
    ends = [("but not", 18), ("outcome", 12), ("section", 14), ("checked", 20), ("how it came about", 26), ("note", 36)]
    return [Column("rule", 14), *inputs, *(Column(head, width) for head, width in ends)]


def _rows(grid: Grid) -> list[Sequence[Value]]:
    return [
        [
            row.rule or "no rule",
            *(cell or None for cell in row.cells),
            row.but_not or None,
            row.then,
            row.section or None,
            f"{row.mark}: {row.source}",
            row.chain or None,
            row.says,
        ]
        for row in grid.rows
    ]


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

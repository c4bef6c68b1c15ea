"""A resolved table, as it stands for one edition and place, as text and as Markdown."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from yokebook.model import (
    Book,
    Box,
    NoneFires,
    NumberValue,
    Resolved,
    Rule,
)
from yokebook.parts_of_ruling import cite_data, step_data
from yokebook.units import format_number
from yokebook_adapters.lines import WIDTH, in_words, sentence, wrap
from yokebook_adapters.table_rows import (
    box_text,
    cell_text,
    chain_text,
    chosen_texts,
    cite_text,
    own_id,
    prevails_text,
    rule_rows,
    value_text,
    values_used,
)


def as_text(resolved: Resolved, question: str, book: Book, width: int = WIDTH) -> str:
    """The table rule by rule: what it wants, what it says, where it stands, who read it, how it came about."""
    table = resolved.tables[question]
    lines = [*wrap(heading(resolved, question, book), width), ""]
    for rule in table.rules:
        lines += [f"{own_id(rule.id, question)}: {rule.then}", *_rule_lines(rule, resolved, book, question, width), ""]
    lines += ["where no rule fires", *_none_fires_lines(table.none_fires, width)]
    used = values_used(table.rules)
    if used:
        lines += ["", "named numbers"]
        for name in used:
            lines += wrap(value_text(resolved.values[name]), width, indent=2)
    lines += _readings_chosen(resolved, width)
    return "\n".join(lines) + "\n"


@dataclass(frozen=True)
class GridRow:
    """One rule in one of its cases. `rule` is its own id; empty for what holds where no rule does."""

    rule: str
    cells: tuple[str, ...]  # one for each input; empty for any value
    but_not: str
    then: str
    section: str
    checked: str
    chain: str
    says: str


@dataclass(frozen=True)
class Grid:
    """A table as rows and columns of text, with the named numbers it uses and the readings that its place chose."""

    inputs: tuple[str, ...]
    rows: tuple[GridRow, ...]
    values: tuple[str, ...]
    chosen: tuple[str, ...]


def grid_of(resolved: Resolved, question: str, book: Book) -> Grid:
    """The table with one row for each case of each rule, last the one for where no rule fires."""
    *rules, none = rule_rows(resolved, question, book)
    inputs = tuple(dict.fromkeys(name for row in rules for box in row.boxes for name, _ in box))
    rows = [
        GridRow(
            rule=row.rule,
            cells=tuple(dict(box).get(name, "") for name in inputs),
            but_not="; ".join(row.but_not),
            then=row.then,
            section=row.section,
            checked=row.checked,
            chain=row.came_about,
            says=row.says,
        )
        for row in rules
        for box in row.boxes
    ]
    table = resolved.tables[question]
    last = GridRow(
        rule="",
        cells=("",) * len(inputs),
        but_not="",
        then=table.none_fires.then or "forbidden",
        section=none.section,
        checked=none.checked,
        chain=none.came_about,
        says=none.says,
    )
    values = tuple(value_text(resolved.values[name]) for name in values_used(table.rules))
    return Grid(inputs, (*rows, last), values, tuple(chosen_texts(resolved)))


def as_markdown(resolved: Resolved, question: str, book: Book) -> str:
    """The table as a Markdown table, one row for each box of each rule, then the named numbers."""
    grid = grid_of(resolved, question, book)
    head = ["rule", *grid.inputs, "but not", "outcome", "section", "checked", "how it came about", "says"]
    text = [f"# {heading(resolved, question, book)}", "", _row(head), _row(["---"] * len(head))]
    for row in grid.rows:
        name = f"`{row.rule}`" if row.rule else "*none fires*"
        ends = [f"**{row.then}**", row.section, row.checked, row.chain, row.says]
        text.append(_row([name, *row.cells, row.but_not, *ends]))
    text += ["", *(f"- {value}" for value in grid.values)] if grid.values else []
    return "\n".join(text) + "\n"


def as_data(resolved: Resolved, question: str, book: Book) -> dict[str, Any]:
    """The table as JSON-able data: what each input has to be stands as text with its unit."""
    table, document = resolved.tables[question], resolved.document
    values = [resolved.values[name] for name in values_used(table.rules)]

    def box_data(box: Box) -> dict[str, str]:
        return {name: cell_text(cell, name, resolved, book) for name, cell in box.items()}

    return {
        "question": question,
        "heading": heading(resolved, question, book),
        "document": {
            "id": document.id, "kind": document.kind, "title": document.title, "edition": resolved.edition,
        },
        "amendments": [amendment.id for amendment in resolved.amendments],
        "rules": [
            {
                "rule": rule.id,
                "then": rule.then,
                "where": [box_data(box) for box in rule.where],
                "but_not": [box_data(box) for box in rule.but_not],
                "exception_to": "all" if rule.exception_to == "all" else list(rule.exception_to),
                "prevails_over": list(rule.prevails_over),
                **_row_data(rule),
            }
            for rule in table.rules
        ],
        "none_fires": {"then": table.none_fires.then, **_row_data(table.none_fires)},
        "values": [
            {"value": value.id, "number": format_number(value.value, value.unit), **_row_data(value)}
            for value in values
        ],
    }  # fmt: skip


def _row_data(row: Rule | NoneFires | NumberValue) -> dict[str, Any]:
    return {
        "says": row.says,
        "cite": cite_data(row.cite),
        "checked": {"mark": row.checked.mark, "source": row.checked.source},
        "chain": [step_data(step) for step in row.chain],
    }


def heading(resolved: Resolved, question: str, book: Book) -> str:
    """What table this is: the question, document, edition, and the place with its amendments."""
    about = book.questions[question]
    text = f"{question} ({about.ruling}): {about.asks} {resolved.document.title}, {resolved.edition} edition"
    if resolved.place:
        text += f", as {book.places[resolved.place].name} has it"
    if resolved.amendments:
        text += f" with {in_words(amendment.id for amendment in resolved.amendments)}"
    if resolved.amendments_entered in ("some entered", "none can be entered", "not looked for") and resolved.place:
        text += f"; other amendments of this place may exist, ask {book.places[resolved.place].office}"
    return text


def _rule_lines(rule: Rule, resolved: Resolved, book: Book, question: str, width: int) -> list[str]:
    lines: list[str] = []
    for number, box in enumerate(rule.where):
        lines += wrap(f"{'or where' if number else 'where'} {box_text(box, resolved, book)}", width, indent=2)
    if not rule.where:
        lines.append("  never")
    for box in rule.but_not:
        lines += wrap(f"but not where {box_text(box, resolved, book)}", width, indent=2)
    lines += wrap(f"says: {sentence(rule.says)}{prevails_text(rule, question)}", width, indent=2)
    lines += wrap(f"section: {cite_text(rule.cite, book)}", width, indent=2)
    lines += wrap(f"checked: {rule.checked.mark}, {rule.checked.source}", width, indent=2)
    lines += wrap(f"came about: {chain_text(rule.chain)}", width, indent=2) if rule.chain else []
    return lines


def _none_fires_lines(none: NoneFires, width: int) -> list[str]:
    lines = wrap(f"{none.then or 'forbidden: silence here is a fault of the table'}. {sentence(none.says)}", width, 2)
    if none.cite:
        lines += wrap(f"section: {none.cite.document} {none.cite.section}", width, indent=2)
    lines += wrap(f"checked: {none.checked.mark}, {none.checked.source}", width, indent=2)
    lines += wrap(f"came about: {chain_text(none.chain)}", width, indent=2) if none.chain else []
    return lines


def _readings_chosen(resolved: Resolved, width: int) -> list[str]:
    lines = [line for text in chosen_texts(resolved) for line in wrap(text, width, indent=2)]
    return ["", "readings chosen here", *lines] if lines else []


def _row(cells: Iterable[str]) -> str:
    return "| " + " | ".join(cell.replace("|", "\\|").replace("\n", " ") for cell in cells) + " |"

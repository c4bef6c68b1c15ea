"""A decision table as a picture: its rules row by row, and for one record which decided and what stopped the others."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from yokebook.model import Book, Resolved
from yokebook_adapters.check_text import meaning
from yokebook_adapters.drawings.measure import fit, text_width
from yokebook_adapters.drawings.svg import GREY, INK, Picture, leading
from yokebook_adapters.lines import capital, in_words, sentence
from yokebook_adapters.outcome import RulingData
from yokebook_adapters.table_rows import rule_rows
from yokebook_adapters.table_text import heading

#: What a rule did with the record: it decides, it holds and the outcome is open, another sets it aside, it may hold, it
#: does not; or there is no record.
State = Literal["decides", "holds", "set aside", "may hold", "does not hold", ""]

_TEXT, _SMALL, _TITLE = 10.0, 9.5, 13.0
_PAD, _FLAG = 5.0, 16.0
_LIT = "#ebebeb"
_RULE, _INPUT, _ALL, _BUT_NOT, _THEN = 112.0, 112.0, 340.0, 122.0, 130.0

#: With more inputs than these a row says which of them it wants, and the others have no column.
_COLUMNS = 4

_HOLDS = {"yes": "yes", "no": "no", "unknown": "not known", "not applicable": "no"}


@dataclass(frozen=True)
class Cell:
    """What a rule wants of an input; of a record also what it has, and whether that is what is wanted."""

    wanted: str
    value: str | None = None
    holds: str = ""

    def lines(self) -> list[str]:
        """The cell in words, a paragraph each."""
        if self.value is None:
            return [self.wanted]
        return [self.wanted, _here(self.value, self.holds)]


def _here(value: str, holds: str) -> str:
    """What a record has, and whether that is what is wanted."""
    return "here: not known" if value == "not known" else f"here: {value}, {_HOLDS[holds]}"


@dataclass(frozen=True)
class Row:
    """One box of a rule: what it wants, what keeps it off, and what it says."""

    rule: str
    cells: Mapping[str, Cell]
    but_not: tuple[str, ...]
    then: str
    section: str
    state: State = ""
    because: str = ""


@dataclass(frozen=True)
class TablePicture:
    """What is drawn: a heading, the inputs with what they are in plain words, the rows, and what is said where none
    of them holds."""

    title: str
    inputs: Mapping[str, str]
    rows: Sequence[Row]
    none_holds: Row
    answer: str = ""


def picture_of_law(resolved: Resolved, question: str, book: Book) -> TablePicture:
    """The table of one question as it stands, with no record."""
    *rules, none = rule_rows(resolved, question, book)
    rows = [
        Row(row.rule, {name: Cell(wanted) for name, wanted in box}, row.but_not, row.then, row.section)
        for row in rules
        for box in row.boxes
    ]
    last = Row(none.rule, {}, (), none.then, none.section)
    return TablePicture(heading(resolved, question, book), _inputs(rows, book), rows, last)


def picture_of_trace(ruling: RulingData, book: Book) -> TablePicture:
    """The table of one ruling with its whole trace, as `Code.explain` gives it."""
    rows = rows_of_tried(ruling)
    none = ruling["none_fires"]
    state: State = "decides" if none else "may hold" if ruling["status"] == "cannot tell" else "does not hold"
    last = Row("where no rule holds", {}, (), none["then"] if none else "", "", state)
    title = f"{ruling['asks']} {ruling['subject']['label']}"
    answer = f"{ruling['word']}: {ruling['says']}" if ruling["says"] else ruling["word"]
    return TablePicture(title, _inputs(rows, book), rows, last, answer)


def _inputs(rows: Iterable[Row], book: Book) -> dict[str, str]:
    names = dict.fromkeys(name for row in rows for name in row.cells)
    return {name: sentence(meaning(name, book)) for name in names}


def rows_of_tried(ruling: RulingData) -> list[Row]:
    """The rows of a ruling with its whole trace, as `Code.explain` gives it."""
    standing = {rule["rule"] for rule in ruling["standing"]} if ruling["status"] == "settled" else set()
    rows = []
    for rule in ruling["tried"]:
        state, because = _state_of(rule, standing)
        own = rule["rule"].rpartition("#")[2]
        but_not = tuple(", ".join(f"{cell['input']}: {cell['wanted']} ({_here(cell['value'], cell['holds'])})"
                                  for cell in box) for box in rule["but_not"])  # fmt: skip
        section = f"{rule['cite']['document']} {rule['cite']['section']}" if rule["cite"] else ""
        for box in rule["where"] or [[]]:
            cells = {cell["input"]: Cell(cell["wanted"], cell["value"], cell["holds"]) for cell in box}
            kept_out = any(cell.holds in ("no", "not applicable") for cell in cells.values())
            its: State = "does not hold" if kept_out else state
            rows.append(Row(own, cells, but_not, rule["then"], section, its, because if its == state else ""))
    return rows


def _state_of(rule: Mapping[str, Any], standing: set[str]) -> tuple[State, str]:
    if rule["rule"] in standing:
        return "decides", ""
    if rule["fires"] != "yes":
        return ("may hold" if rule["fires"] == "unknown" else "does not hold"), ""
    if not rule["beaten_by"]:
        return "holds", ""
    return "set aside", in_words(name.rpartition("#")[2] for name in rule["beaten_by"])


def draw_table(table: TablePicture, name: str = "table") -> Picture:
    """The table; the rows that decided have a thick frame and a black flag, and every row of a record says in words
    what it did."""
    inputs = list(table.inputs)
    wide = len(inputs) > _COLUMNS
    but_not = any(row.but_not for row in table.rows)
    columns = [_ALL] if wide else [max(_INPUT, text_width(name, _TEXT, bold=True) + 2 * _PAD + 2) for name in inputs]
    widths = [_RULE, *columns, *([_BUT_NOT] if but_not else []), _THEN]
    picture = Picture(name, table.title, _description(table), _FLAG + sum(widths) + 2)
    y = picture.lines(0, 15, fit(table.title, picture.width, _TITLE, bold=True), size=_TITLE, bold=True)
    if table.answer:
        y = picture.lines(0, y + 2, fit(table.answer, picture.width, 11.5), size=11.5)
    y -= 2
    heads = [["Rule"], *([["Where"]] if wide else [[name, words] for name, words in table.inputs.items()])]
    heads += [*([["But not where"]] if but_not else []), ["Says"]]
    y = _row(picture, heads, widths, y, head=True)
    for row in [*table.rows, table.none_holds]:
        y = _row(picture, _texts(row, inputs, wide, but_not), widths, y, row=row, inputs=() if wide else inputs)
    notes = [f"{name}: {words}" for name, words in table.inputs.items()] if wide else []
    y += 16
    for note in notes:
        y = picture.lines(0, y, fit(note, picture.width, _SMALL), size=_SMALL, ink=GREY)
    picture.height = y - leading(_SMALL) + 8
    return picture


def _description(table: TablePicture) -> str:
    said = [table.answer] if table.answer else []
    for row in [*table.rows, table.none_holds]:
        wants = in_words(f"{name} {' - '.join(cell.lines())}" for name, cell in row.cells.items())
        state = f" ({_state_words(row)})" if row.state else ""
        said.append(f"{capital(row.rule)}{state}: {wants or 'always'}; {row.then}.")
    return " ".join(said)


def _state_words(row: Row) -> str:
    return f"set aside by {row.because}" if row.state == "set aside" and row.because else row.state


def _texts(row: Row, inputs: Sequence[str], wide: bool, but_not: bool) -> list[list[str]]:
    """What stands in each cell of a row, by paragraph."""
    first = [row.rule, *([_state_words(row)] if row.state else [])]
    cells = {name: cell.lines() for name, cell in row.cells.items()}
    if wide:
        middle = [[f"{name}: {'; '.join(lines)}" for name, lines in cells.items()]]
    else:
        middle = [cells.get(name, []) for name in inputs]
    last = [*row.then.split("\n"), *([row.section] if row.section else [])]
    return [first, *middle, *([list(row.but_not)] if but_not else []), last]


def _row(
    picture: Picture,
    texts: Sequence[Sequence[str]],
    widths: Sequence[float],
    y: float,
    *,
    head: bool = False,
    row: Row | None = None,
    inputs: Sequence[str] = (),
) -> float:
    """One row of cells; returns where the next begins."""
    ends = (0, len(texts) - 1)
    laid = [
        [(line, first and (head or column in ends)) for first, text in _marked(paragraphs)
         for line in fit(text, wide - 2 * _PAD, _TEXT if first else _SMALL, bold=first and (head or column in ends))]
        for column, (paragraphs, wide) in enumerate(zip(texts, widths, strict=True))
    ]  # fmt: skip
    height = max(len(lines) for lines in laid) * leading(_TEXT) + 2 * _PAD
    x = _FLAG
    if row is not None and row.state == "decides":
        picture.box(x, y, sum(widths), height, fill=_LIT, line=0)
    for column, (lines, wide) in enumerate(zip(laid, widths, strict=True)):
        name = inputs[column - 1] if 0 < column <= len(inputs) else ""
        if row is not None and name in row.cells and row.cells[name].holds in ("no", "not applicable"):
            picture.hatch(x, y, 5, height, step=4, thick=1)
        picture.box(x, y, wide, height, line=0.8)
        base = y + _PAD + _TEXT - 1
        for line, bold in lines:
            picture.text(x + _PAD + 1, base, line, size=_TEXT if bold else _SMALL, bold=bold)
            base += leading(_TEXT)
        x += wide
    if head:
        picture.line((_FLAG, y + height), (x, y + height), thick=2)
    if row is not None and row.state == "decides":
        picture.box(_FLAG, y, x - _FLAG, height, line=3)
        picture.outline([(0, y + height / 2 - 8), (_FLAG - 2, y + height / 2), (0, y + height / 2 + 8)], fill=INK)
    return y + height


def _marked(paragraphs: Sequence[str]) -> list[tuple[bool, str]]:
    return [(number == 0, text) for number, text in enumerate(paragraphs)]

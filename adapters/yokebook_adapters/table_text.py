"""A resolved table, as it stands for one edition and place, as text and as Markdown."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from yokebook.model import (
    Book,
    Box,
    Cell,
    Cite,
    NamedNumber,
    NoneFires,
    NoneOf,
    NumberValue,
    OneOf,
    Resolved,
    Rule,
    Step,
)
from yokebook.parts_of_ruling import cite_data, step_data
from yokebook.showing import show_value, unit_of
from yokebook.units import format_number
from yokebook_adapters.lines import WIDTH, in_words, sentence, wrap


def as_text(resolved: Resolved, question: str, book: Book, width: int = WIDTH) -> str:
    """The table rule by rule: what it wants, what it says, where it stands, who read it, how it came about."""
    table = resolved.tables[question]
    lines = [*wrap(heading(resolved, question, book), width), ""]
    for rule in table.rules:
        lines += [f"{_own_id(rule.id, question)}: {rule.then}", *_rule_lines(rule, resolved, book, question, width), ""]
    lines += ["where no rule fires", *_none_fires_lines(table.none_fires, width)]
    used = values_used(table.rules)
    if used:
        lines += ["", "named numbers"]
        for name in used:
            lines += wrap(_value_text(resolved.values[name]), width, indent=2)
    lines += _readings_chosen(resolved, width)
    return "\n".join(lines) + "\n"


def as_markdown(resolved: Resolved, question: str, book: Book) -> str:
    """The table as a Markdown table, one row for each box of each rule, then the named numbers."""
    table = resolved.tables[question]
    inputs = list(dict.fromkeys(name for rule in table.rules for box in rule.where for name in box))
    head = ["rule", *inputs, "but not", "outcome", "section", "checked", "how it came about", "says"]
    rows = [
        [
            f"`{_own_id(rule.id, question)}`",
            *(_cell(box.get(name), name, resolved, book) for name in inputs),
            "; ".join(_box(box_off, resolved, book) for box_off in rule.but_not),
            f"**{rule.then}**",
            _cite(rule.cite, book),
            f"{rule.checked.mark}: {rule.checked.source}",
            _chain(rule.chain),
            sentence(rule.says) + _prevails(rule, question),
        ]
        for rule in table.rules
        for box in rule.where
    ]
    none = table.none_fires
    last = ["*none fires*", *([""] * len(inputs)), "", f"**{none.then or 'forbidden'}**"]
    last += [
        _cite(none.cite, book),
        f"{none.checked.mark}: {none.checked.source}",
        _chain(none.chain),
        sentence(none.says),
    ]
    text = [f"# {heading(resolved, question, book)}", "", _row(head), _row(["---"] * len(head))]
    text += [_row(row) for row in [*rows, last]]
    used = values_used(table.rules)
    text += [""] + [f"- {_value_text(resolved.values[name])}" for name in used] if used else []
    return "\n".join(text) + "\n"


def as_data(resolved: Resolved, question: str, book: Book) -> dict[str, Any]:
    """The table as JSON-able data: what each input has to be stands as text with its unit."""
    table, document = resolved.tables[question], resolved.document
    values = [resolved.values[name] for name in values_used(table.rules)]

    def box_data(box: Box) -> dict[str, str]:
        return {name: _cell(cell, name, resolved, book) for name, cell in box.items()}

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


def values_used(rules: Iterable[Rule]) -> list[str]:
    """The named numbers that the rules' cells refer to, in order of first use."""
    found: dict[str, None] = {}
    for rule in rules:
        for box in (*rule.where, *rule.but_not):
            for cell in box.values():
                ends = cell.values if isinstance(cell, OneOf | NoneOf) else (cell.low, cell.high)
                found.update({end.id: None for end in ends if isinstance(end, NamedNumber)})
    return list(found)


def _own_id(rule: str, question: str) -> str:
    return rule.removeprefix(f"{question}#")


def _rule_lines(rule: Rule, resolved: Resolved, book: Book, question: str, width: int) -> list[str]:
    lines: list[str] = []
    for number, box in enumerate(rule.where):
        lines += wrap(f"{'or where' if number else 'where'} {_box(box, resolved, book)}", width, indent=2)
    if not rule.where:
        lines.append("  never")
    for box in rule.but_not:
        lines += wrap(f"but not where {_box(box, resolved, book)}", width, indent=2)
    lines += wrap(f"says: {sentence(rule.says)}{_prevails(rule, question)}", width, indent=2)
    lines += wrap(f"section: {_cite(rule.cite, book)}", width, indent=2)
    lines += wrap(f"checked: {rule.checked.mark}, {rule.checked.source}", width, indent=2)
    lines += wrap(f"came about: {_chain(rule.chain)}", width, indent=2) if rule.chain else []
    return lines


def _none_fires_lines(none: NoneFires, width: int) -> list[str]:
    lines = wrap(f"{none.then or 'forbidden: silence here is a fault of the table'}. {sentence(none.says)}", width, 2)
    if none.cite:
        lines += wrap(f"section: {none.cite.document} {none.cite.section}", width, indent=2)
    lines += wrap(f"checked: {none.checked.mark}, {none.checked.source}", width, indent=2)
    lines += wrap(f"came about: {_chain(none.chain)}", width, indent=2) if none.chain else []
    return lines


def _prevails(rule: Rule, question: str) -> str:
    parts = []
    if rule.exception_to == "all":
        parts.append("Exception to every rule of this table with another outcome.")
    elif rule.exception_to:
        parts.append(f"Exception to {in_words(_own_id(other, question) for other in rule.exception_to)}.")
    if rule.prevails_over:
        parts.append(f"Prevails over {in_words(_own_id(other, question) for other in rule.prevails_over)}.")
    return f" {' '.join(parts)}" if parts else ""


def _cite(cite: Cite | None, book: Book) -> str:
    if cite is None:
        return ""
    document = book.documents.get(cite.document)
    return f"{document.title if document else cite.document}, {cite.section}"


def _chain(chain: Sequence[Step]) -> str:
    """How a rule or number came about; what an amendment says is told, what the first text says stands above."""
    return "; ".join(
        f"{step.op} by {step.by}" + (f" ({step.says.rstrip('.')})" if step.says and step.op != "written" else "")
        for step in chain
    )


def _box(box: Box, resolved: Resolved, book: Book) -> str:
    return "; ".join(f"{name}: {_cell(cell, name, resolved, book)}" for name, cell in box.items()) or "anything"


def _cell(cell: Cell | None, name: str, resolved: Resolved, book: Book) -> str:
    if cell is None:
        return ""
    unit = unit_of(book, name)
    if isinstance(cell, OneOf | NoneOf):
        order = {word: rank for rank, word in enumerate(_words(book, name))}
        words = sorted(
            (_end(value, unit, resolved.values) for value in cell.values), key=lambda w: (order.get(w, 99), w)
        )
        return ("not " if isinstance(cell, NoneOf) else "") + in_words(words, "or")
    parts = []
    if cell.low is not None:
        parts.append(f"{'more than' if cell.low_open else 'at least'} {_end(cell.low, unit, resolved.values)}")
    if cell.high is not None:
        parts.append(f"{'less than' if cell.high_open else 'at most'} {_end(cell.high, unit, resolved.values)}")
    return " and ".join(parts)


def _words(book: Book, name: str) -> Iterable[str]:
    """The words that an input may have, in the rulebook's own order."""
    if name in book.facts:
        return book.facts[name].values
    if name.startswith("reading.") and name.removeprefix("reading.") in book.readings:
        return book.readings[name.removeprefix("reading.")].alternatives
    for question in book.questions.values():
        if name.startswith("answer.") and name.endswith(question.id):
            return question.outcomes
    return ()


def _end(value: object, unit: str | None, values: Mapping[str, NumberValue]) -> str:
    if isinstance(value, NamedNumber):
        number = values[value.id]
        return f"{format_number(number.value, number.unit)} (value.{value.id})"
    assert isinstance(value, bool | str) or not isinstance(value, int | float)
    return show_value(value, unit)  # type: ignore[arg-type]


def _value_text(value: NumberValue) -> str:
    text = f"value.{value.id}: {format_number(value.value, value.unit)}. {sentence(value.says)}"
    text += f" {value.cite.document} {value.cite.section}; {value.checked.mark}, {value.checked.source}"
    return text + (f"; came about: {_chain(value.chain)}" if value.chain else "")


def _readings_chosen(resolved: Resolved, width: int) -> list[str]:
    lines: list[str] = []
    for reading, alternative, _, step in resolved.chosen:
        lines += wrap(f"reading.{reading}: {step.by} chose `{alternative}`. {sentence(step.says)}", width, indent=2)
    return ["", "readings chosen here", *lines] if lines else []


def _row(cells: Iterable[str]) -> str:
    return "| " + " | ".join(cell.replace("|", "\\|").replace("\n", " ") for cell in cells) + " |"

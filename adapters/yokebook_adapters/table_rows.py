"""The rows of a resolved table in words: what each rule wants, what it says, where it stands, how it came about."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from yokebook.model import (
    Book,
    Box,
    Cell,
    Cite,
    NamedNumber,
    NoneOf,
    NumberValue,
    OneOf,
    Resolved,
    Rule,
    Step,
)
from yokebook.showing import show_value, unit_of
from yokebook.units import format_number
from yokebook_adapters.lines import in_words, sentence


@dataclass(frozen=True)
class RuleRow:
    """One rule: its boxes as (input, what is wanted) pairs, the boxes that keep it off, what it says and where."""

    rule: str
    boxes: tuple[tuple[tuple[str, str], ...], ...]
    but_not: tuple[str, ...]
    then: str
    says: str
    section: str
    checked: str
    came_about: str


def rule_rows(resolved: Resolved, question: str, book: Book) -> list[RuleRow]:
    """The rules of one question's table, in their order; last what is said where none holds, with no box."""
    table = resolved.tables[question]
    rows = [
        RuleRow(
            rule=own_id(rule.id, question),
            boxes=tuple(tuple((name, cell_text(wanted, name, resolved, book)) for name, wanted in one.items())
                        for one in rule.where),
            but_not=tuple(box_text(one, resolved, book) for one in rule.but_not),
            then=rule.then,
            says=sentence(rule.says) + prevails_text(rule, question),
            section=cite_text(rule.cite, book),
            checked=f"{rule.checked.mark}: {rule.checked.source}",
            came_about=chain_text(rule.chain),
        )
        for rule in table.rules
    ]  # fmt: skip
    none = table.none_fires
    then = none.then or "forbidden: silence here is a fault of the table"
    section, checked = cite_text(none.cite, book), f"{none.checked.mark}: {none.checked.source}"
    last = RuleRow("where no rule holds", (), (), then, sentence(none.says), section, checked, chain_text(none.chain))
    return [*rows, last]


def values_used(rules: Iterable[Rule]) -> list[str]:
    """The named numbers that the rules' cells refer to, in order of first use."""
    found: dict[str, None] = {}
    for rule in rules:
        for box in (*rule.where, *rule.but_not):
            for cell in box.values():
                ends = cell.values if isinstance(cell, OneOf | NoneOf) else (cell.low, cell.high)
                found.update({end.id: None for end in ends if isinstance(end, NamedNumber)})
    return list(found)


def own_id(rule: str, question: str) -> str:
    """The rule's id within its table."""
    return rule.removeprefix(f"{question}#")


def prevails_text(rule: Rule, question: str) -> str:
    """Which other rules a rule is over, as sentences after what it says; empty for none."""
    parts = []
    if rule.exception_to == "all":
        parts.append("Exception to every rule of this table with another outcome.")
    elif rule.exception_to:
        parts.append(f"Exception to {in_words(own_id(other, question) for other in rule.exception_to)}.")
    if rule.prevails_over:
        parts.append(f"Prevails over {in_words(own_id(other, question) for other in rule.prevails_over)}.")
    return f" {' '.join(parts)}" if parts else ""


def cite_text(cite: Cite | None, book: Book) -> str:
    """Where a rule stands, with the title of its document; empty where it cites nothing."""
    if cite is None:
        return ""
    document = book.documents.get(cite.document)
    return f"{document.title if document else cite.document}, {cite.section}"


def chain_text(chain: Sequence[Step]) -> str:
    """How a rule or number came about; what an amendment says is told, what the first text says stands above."""
    return "; ".join(
        f"{step.op} by {step.by}" + (f" ({step.says.rstrip('.')})" if step.says and step.op != "written" else "")
        for step in chain
    )


def box_text(box: Box, resolved: Resolved, book: Book) -> str:
    """A box in words, cell by cell."""
    return "; ".join(f"{name}: {cell_text(cell, name, resolved, book)}" for name, cell in box.items()) or "anything"


def cell_text(cell: Cell | None, name: str, resolved: Resolved, book: Book) -> str:
    """What a cell wants, in words, numbers of the law with their values; empty for any value."""
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


def value_text(value: NumberValue) -> str:
    """A named number with its value, what it is, where it stands and how it came about."""
    text = f"value.{value.id}: {format_number(value.value, value.unit)}. {sentence(value.says)}"
    text += f" {value.cite.document} {value.cite.section}; {value.checked.mark}, {value.checked.source}"
    return text + (f"; came about: {chain_text(value.chain)}" if value.chain else "")


def chosen_texts(resolved: Resolved) -> list[str]:
    """The readings that the place's own law has chosen, and which amendment chose each."""
    return [
        f"reading.{reading}: {step.by} chose `{alternative}`. {sentence(step.says)}"
        for reading, alternative, _, step in resolved.chosen
    ]

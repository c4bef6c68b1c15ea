"""What boxes and expressions name: facts, calculations, answers, readings, and the edition's named numbers."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from yokebook.model import (
    Arithmetic,
    Book,
    Box,
    ByReading,
    Cell,
    Comparison,
    Constant,
    Expression,
    Grouped,
    LookUp,
    NamedNumber,
    Nearest,
    Of,
    Over,
    Rule,
    Tiers,
    Uncovered,
    WhereBox,
    Within,
    boxes_on_items,
    taken_of_items,
    taken_of_itself,
)


def names_in_cell(cell: Cell) -> Iterator[str]:
    """The named numbers of a cell, as `value.ID`."""
    members: Iterable[object] = (cell.low, cell.high) if isinstance(cell, Within) else cell.values
    for member in members:
        if isinstance(member, NamedNumber):
            yield f"value.{member.id}"


def names_in_boxes(boxes: Iterable[Box]) -> Iterator[str]:
    """Every input of the boxes, and every named number in their cells."""
    for box in boxes:
        for name, cell in box.items():
            yield name
            yield from names_in_cell(cell)


def names_in_expression(expression: Expression) -> Iterator[str]:
    """Everything that an expression takes: names of values, `reading.ID` and `value.ID`."""
    match expression:
        case Of(name):
            yield name
        case NamedNumber(name):
            yield f"value.{name}"
        case Constant():
            return
        case Arithmetic() | Tiers():
            for part in taken_of_itself(expression):
                yield from names_in_expression(part)
        case Over() | Grouped() | Uncovered() | Nearest():
            yield from names_in_boxes(boxes_on_items(expression))
            for part in (*taken_of_items(expression), *taken_of_itself(expression)):
                yield from names_in_expression(part)
        case LookUp(by=name):
            yield name
        case Comparison(left=left, right=right):
            yield from names_in_expression(left)
            yield from names_in_expression(right)
        case WhereBox(boxes):
            yield from names_in_boxes(boxes)
        case ByReading(reading, alternatives):
            yield f"reading.{reading}"
            for alternative in alternatives.values():
                yield from names_in_expression(alternative)


def names_in_rule(rule: Rule) -> Iterator[str]:
    """Everything that a rule's boxes name."""
    yield from names_in_boxes((*rule.where, *rule.but_not))


def answer_named(name: str, book: Book) -> tuple[str | None, str] | None:
    """The kind of document and the question of an `answer.` name; kind None is the document's own. None for other
    names. `answer.electrical.control.acts` gives ("electrical", "control.acts")."""
    if not name.startswith("answer."):
        return None
    rest = name.removeprefix("answer.")
    first, _, question = rest.partition(".")
    if rest not in book.questions and question in book.questions:
        return first, question
    return None, rest


def names_reached(names: Iterable[str], book: Book) -> frozenset[str]:
    """These names and all that lies behind them through calculations of any depth (not through answers: another table's
    own rules are looked at where that table is)."""
    seen: set[str] = set()
    waiting = list(names)
    while waiting:
        name = waiting.pop()
        if name in seen:
            continue
        seen.add(name)
        if name in book.calculations:
            waiting.extend(names_in_expression(book.calculations[name].expression))
    return frozenset(seen)


def values_reached(names: Iterable[str], book: Book) -> frozenset[str]:
    """The ids of the named numbers that these names take, as far as `names_reached` goes."""
    return frozenset(
        name.removeprefix("value.") for name in names_reached(names, book) if name.startswith("value.")
    )


def readings_reached(names: Iterable[str], book: Book) -> list[str]:
    """The ids of the readings that these names are or turn on, in a stable order, as far as `names_reached` goes."""
    return sorted(
        name.removeprefix("reading.") for name in names_reached(names, book) if name.startswith("reading.")
    )

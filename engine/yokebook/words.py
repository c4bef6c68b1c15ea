"""Boxes, rules and expressions in words, for people who check what a text says. Named numbers are shown as numbers."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from fractions import Fraction

from yokebook.model import (
    Arithmetic,
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
    NoneOf,
    Number,
    NumberValue,
    Of,
    OneOf,
    Over,
    OverList,
    Rule,
    Tiers,
    Uncovered,
    Value,
    WhereBox,
)
from yokebook.units import format_number

Values = Mapping[str, NumberValue]


def value_words(value: Value | NamedNumber, values: Values) -> str:
    """A value as people write it: yes, no, a word, or a number; a named number with its unit.

    >>> value_words(True, {}), value_words(Fraction(41, 2), {})
    ('yes', '20.5')
    """
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, NamedNumber):
        known = values.get(value.id)
        return f"value.{value.id}" if known is None else format_number(known.value, known.unit)
    if isinstance(value, Fraction):
        exact = format_number(value)
        return exact if Fraction(exact) == value else str(value)
    return value


def cell_words(cell: Cell, values: Values) -> str:
    """A cell as the rest of a sentence that starts with its input: "is 5-15R or 5-20R", "is more than 20"."""
    if isinstance(cell, OneOf):
        return f"is {_or(_sorted_words(cell.values, values))}"
    if isinstance(cell, NoneOf):
        return f"applies and is not {_or(_sorted_words(cell.values, values))}"
    ends = [_end(cell.low, "more than" if cell.low_open else "at least", values)]
    ends.append(_end(cell.high, "less than" if cell.high_open else "at most", values))
    return f"is {' and '.join(end for end in ends if end) or 'any number'}"


def _end(number: Number | None, relation: str, values: Values) -> str:
    return "" if number is None else f"{relation} {value_words(number, values)}"


def _sorted_words(members: Iterable[Value | NamedNumber], values: Values) -> list[str]:
    return sorted(value_words(member, values) for member in members)


def _or(words: list[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} or {words[-1]}"


def box_words(box: Box, values: Values) -> str:
    """A box as one clause; the empty box is "always"."""
    if not box:
        return "always"
    return " and ".join(f"{name} {cell_words(cell, values)}" for name, cell in sorted(box.items()))


def boxes_words(boxes: Iterable[Box], values: Values) -> str:
    """A list of boxes, any of which will do; an empty list is "never"."""
    clauses = sorted(box_words(box, values) for box in boxes)
    return "; or ".join(clauses) if clauses else "never"


def exception_words(rule: Rule) -> str:
    """The rules that a rule is an exception to."""
    if rule.exception_to == "all":
        return "every rule of the table with another outcome"
    return ", ".join(sorted(rule.exception_to)) or "none"


def rule_words(rule: Rule, values: Values) -> str:
    """A rule as one sentence, from its boxes and not from its own `says`."""
    text = f"where {boxes_words(rule.where, values)}"
    if rule.but_not:
        text += f", but not where {boxes_words(rule.but_not, values)}"
    text += f": {rule.then}"
    if rule.exception_to:
        text += f"; exception to {exception_words(rule)}"
    if rule.prevails_over:
        text += f"; prevails over {', '.join(sorted(rule.prevails_over))}"
    return text


_RELATIONS = {
    "at_least": "is at least",
    "more_than": "is more than",
    "at_most": "is at most",
    "less_than": "is less than",
    "equals": "equals",
}
_SIGNS = {"times": " times ", "plus": " plus ", "minus": " minus ", "ratio": " divided by "}


def expression_words(expression: Expression, values: Values) -> str:
    """How a calculation is made, in words."""
    match expression:
        case Of(name):
            return name
        case Constant(value):
            return value_words(value, values)
        case NamedNumber():
            return value_words(expression, values)
        case Arithmetic("round_up", (part,)):
            return f"{expression_words(part, values)} rounded up"
        case Arithmetic(op, parts):
            return f"({_SIGNS[op].join(expression_words(part, values) for part in parts)})"
        case Over():
            return _over_words(expression, values)
        case Grouped() | Uncovered() | Nearest():
            return _of_list_words(expression, values)
        case Tiers(of, steps):
            return f"{expression_words(of, values)} taken {'; '.join(_step_words(step, values) for step in steps)}"
        case LookUp(by, table, otherwise):
            rows = sorted(f"{value_words(k, values)} gives {value_words(v, values)}" for k, v in table.items())
            rest = "does not apply" if otherwise is None else f"gives {value_words(otherwise, values)}"
            return f"by {by}: {', '.join(rows)}; anything else {rest}"
        case Comparison(left, relation, right):
            return f"{expression_words(left, values)} {_RELATIONS[relation]} {expression_words(right, values)}"
        case WhereBox(boxes):
            return f"yes where {boxes_words(boxes, values)}"
        case ByReading(reading, alternatives):
            ways = sorted(f"{name}: {expression_words(each, values)}" for name, each in alternatives.items())
            return f"by the reading {reading}: {'; '.join(ways)}"


_OVERS = {
    "any": "whether any of",
    "all": "whether all of",
    "count": "how many of",
    "sum": "the sum over",
    "largest": "the largest over",
    "smallest": "the smallest over",
    "share": "the share of",
}


def _list_words(expression: OverList, values: Values) -> str:
    """The list that a figure runs over, with what keeps items in it."""
    if expression.where == ({},):
        return expression.over
    return f"{expression.over} where {boxes_words(expression.where, values)}"


def _of_list_words(expression: Grouped | Uncovered | Nearest, values: Values) -> str:
    listed = _list_words(expression, values)
    match expression:
        case Grouped(op, figure=figure, by=by, are=are, of=of):
            of_group = {
                "count": "how many there are",
                "sum": "the sum" + ("" if of is None else f" of {expression_words(of, values)}"),
                "share": f"the share that meet: {boxes_words(are, values)}",
            }[figure]
            return f"the {op} over the groups of {listed} with the same {by}: {of_group}"
        case Uncovered(length, position=position, reach=reach):
            length_words, at_words = expression_words(length, values), expression_words(position, values)
            return (
                f"how much of {length_words} is not within {expression_words(reach, values)} of {at_words} "
                f"over {listed}"
            )
        case Nearest(along=along, on=on, x=x, y=y, otherwise=otherwise):
            ways = [] if along is None else [f"{expression_words(along, values)} along the same {on or 'stretch'}"]
            if x is not None and y is not None:
                ways.append(f"the straight line by {expression_words(x, values)} and {expression_words(y, values)}")
            none = "" if otherwise is None else f"; where there is none, {expression_words(otherwise, values)}"
            return f"the distance to the nearest other of {listed}, by {', else by '.join(ways)}{none}"


def _step_words(step: tuple[Number | None, Number], values: Values) -> str:
    end, rate = step
    return f"{'the rest' if end is None else f'up to {value_words(end, values)}'} at {value_words(rate, values)}"


def _over_words(over: Over, values: Values) -> str:
    text = f"{_OVERS[over.op]} {_list_words(over, values)}"
    if over.op in ("any", "all", "share"):
        text += f" meet: {boxes_words(over.are, values)}"
    if over.of is not None:
        text += f" of {expression_words(over.of, values)}"
    return text

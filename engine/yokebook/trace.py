"""Why: what every rule of a table did with one completion, what a ruling rests on, and the figures behind it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from yokebook import figures
from yokebook.deciding import Context
from yokebook.entities import KIND_OF_PREFIX
from yokebook.graph import Thing
from yokebook.law import Law, plain_cell
from yokebook.model import (
    Arithmetic,
    Book,
    Box,
    ByReading,
    Calculation,
    Cell,
    Checked,
    Comparison,
    Expression,
    LookUp,
    NamedNumber,
    Of,
    Over,
    Rule,
    WhereBox,
    Within,
)
from yokebook.openness import parts_of
from yokebook.session import LowerFault, answer_of
from yokebook.showing import kind_of, show_cell, show_val, show_value, unit_of
from yokebook.values import NotApplicable, Split, Val, hull, single

Holds = Literal["yes", "no", "unknown", "not applicable"]


@dataclass(frozen=True)
class CellTrace:
    """One cell against what is known: the input, whose it is, its value and what was wanted, as text."""

    input: str
    subject: str
    value: str
    wanted: str
    holds: Holds


@dataclass(frozen=True)
class RuleTrace:
    """One rule tried: whether it fires, and its boxes cell by cell."""

    rule: Rule
    fires: Literal["yes", "no", "unknown"]
    where: tuple[tuple[CellTrace, ...], ...]
    but_not: tuple[tuple[CellTrace, ...], ...]
    beaten_by: tuple[str, ...] = ()


def subject_of(context: Context, law: Law, thing: Thing, name: str) -> Thing | None:
    """The thing whose fact, calculation or answer an input of `thing` is; None for a reading."""
    if name.startswith("reading."):
        return None
    if name.startswith("answer."):
        kind = answer_of(context.book, name.removeprefix("answer."), law.kind)[1].per
    else:
        kind = kind_of(name)
    try:
        return context.one(thing, kind)
    except Split:
        return None


def try_input(context: Context, law: Law, thing: Thing, name: str) -> Val | None:
    """What is known of an input, or None where it is open or a lower answer is at fault."""
    try:
        return context.input(law, thing, name)
    except (Split, LowerFault):
        return None


def trace_cell(context: Context, law: Law, thing: Thing, name: str, cell: Cell) -> CellTrace:
    """One cell tried on what is known of its input."""
    plain = plain_cell(cell, law.resolved.values, name)
    unit = unit_of(context.book, name)
    subject = subject_of(context, law, thing, name)
    where = subject.id if subject is not None else ""
    val = try_input(context, law, thing, name)
    wanted = show_cell(plain, unit)
    if val is None:
        return CellTrace(name, where, "not known", wanted, "unknown")
    bits = {allowed for _, allowed in parts_of(val, law.cell(cell, name))}
    holds: Holds = "unknown" if len(bits) > 1 else ("yes" if bits == {1} else "no")
    if isinstance(val.span, NotApplicable):
        holds = "not applicable"
    return CellTrace(name, where, show_val(val, unit), wanted, holds)


def trace_box(context: Context, law: Law, thing: Thing, box: Box) -> tuple[CellTrace, ...]:
    """The cells of one box, tried."""
    return tuple(trace_cell(context, law, thing, name, cell) for name, cell in box.items())


def _box_holds(cells: Iterable[CellTrace]) -> Holds:
    states = [cell.holds for cell in cells]
    if any(state in ("no", "not applicable") for state in states):
        return "no"
    return "unknown" if "unknown" in states else "yes"


def trace_rules(context: Context, law: Law, thing: Thing, question: str) -> list[RuleTrace]:
    """Every rule of the table tried in this completion, in the order of the authored table."""
    ready = law.ready(question)
    fires: dict[str, RuleTrace] = {}
    for i, rule in enumerate(ready.rules):
        where = tuple(trace_box(context, law, thing, box) for box in rule.where)
        but_not = tuple(trace_box(context, law, thing, box) for box in rule.but_not)
        inside = {_box_holds(cells) for cells in where}
        outside = {_box_holds(cells) for cells in but_not}
        state: Literal["yes", "no", "unknown"]
        if not inside & {"yes", "unknown"} or "yes" in outside:
            state = "no"
        else:
            state = "yes" if "yes" in inside and "unknown" not in outside else "unknown"
        winners = tuple(
            ready.rules[j].id for j in sorted(ready.beaten_by[i]) if fires[ready.rules[j].id].fires == "yes"
        )
        fires[rule.id] = RuleTrace(rule, state, where, but_not, winners)
    return [fires[rule.id] for rule in law.ready(question).table.rules]


# ---- what a ruling rests on -----------------------------------------------------------------------------------------


def _box_names(boxes: Iterable[Box]) -> Iterator[str]:
    for box in boxes:
        yield from box


def _value_names(boxes: Iterable[Box]) -> Iterator[str]:
    for box in boxes:
        for cell in box.values():
            ends: Iterable[object] = (cell.low, cell.high) if isinstance(cell, Within) else cell.values
            yield from (end.id for end in ends if isinstance(end, NamedNumber))


def operands(expression: Expression) -> Iterator[Expression]:
    """The expression and everything inside it that is of the same thing (not of a list's items)."""
    yield expression
    parts: tuple[Expression, ...] = ()
    if isinstance(expression, Arithmetic):
        parts = expression.of
    elif isinstance(expression, Comparison):
        parts = (expression.left, expression.right)
    elif isinstance(expression, ByReading):
        parts = tuple(expression.alternatives.values())
    for part in parts:
        yield from operands(part)


def names_in(expression: Expression) -> list[str]:
    """The inputs of the same thing that an expression names."""
    names: list[str] = []
    for part in operands(expression):
        if isinstance(part, Of):
            names.append(part.name)
        elif isinstance(part, LookUp):
            names.append(part.by)
        elif isinstance(part, WhereBox):
            names += _box_names(part.boxes)
    return names


class Support:
    """Collects what a ruling rests on: rules, named numbers, calculations and lower answers, each with its mark."""

    def __init__(self, context: Context) -> None:
        self.context = context
        self.marks: dict[str, Checked] = {}
        self.figures: dict[tuple[str, str], tuple[Law, Thing, Calculation]] = {}
        self._visited: set[tuple[str, str, str]] = set()

    def rule(self, law: Law, thing: Thing, traced: RuleTrace) -> None:
        """A rule that fires, with all that its cells use."""
        rule = traced.rule
        self.marks.setdefault(rule.id, rule.checked)
        for box, cells in zip(rule.where, traced.where, strict=True):
            if _box_holds(cells) == "yes":
                self._values(law, [box])
                for name in box:
                    self.input(law, thing, name)

    def _values(self, law: Law, boxes: Iterable[Box]) -> None:
        for name in _value_names(boxes):
            self.marks.setdefault(f"value.{name}", law.value_mark(name))

    def table(self, law: Law, thing: Thing, question: str) -> list[RuleTrace]:
        """Everything that the answer of a table rests on; returns its rules, traced."""
        traced = trace_rules(self.context, law, thing, question)
        fired = [rule for rule in traced if rule.fires == "yes"]
        for rule in fired:
            self.rule(law, thing, rule)
        if not fired:
            none_fires = law.ready(question).table.none_fires
            self.marks.setdefault(f"{question}#none_fires", none_fires.checked)
        return traced

    def input(self, law: Law, thing: Thing, name: str) -> None:
        """What one input rests on."""
        subject = subject_of(self.context, law, thing, name)
        if subject is None or (subject.kind, subject.id, name) in self._visited:
            return
        self._visited.add((subject.kind, subject.id, name))
        if name.startswith("answer."):
            kind, question = answer_of(self.context.book, name.removeprefix("answer."), law.kind)
            its_law = law if kind == law.kind else self._other_law(kind)
            if its_law is not None and its_law.answers(question.id):
                self.table(its_law, subject, question.id)
            return
        calculation = self.context.book.calculations.get(name)
        if calculation is None or name in subject.given:
            return
        self.marks.setdefault(calculation.id, calculation.checked)
        self.figures.setdefault((subject.id, name), (law, subject, calculation))
        self._expression(law, subject, calculation.expression)

    def _other_law(self, kind: str) -> Law | None:
        try:
            candidate = self.context.candidate(kind)
        except Split:
            return None
        return candidate.law if candidate is not None else None

    def _expression(self, law: Law, thing: Thing, expression: Expression) -> None:
        for name in names_in(expression):
            self.input(law, thing, name)
        for part in operands(expression):
            if isinstance(part, NamedNumber):
                self.marks.setdefault(f"value.{part.id}", law.value_mark(part.id))
            elif isinstance(part, WhereBox):
                self._values(law, part.boxes)
            elif isinstance(part, Over):
                self._list(law, thing, part)

    def _list(self, law: Law, thing: Thing, part: Over) -> None:
        prefix, _, name = part.over.partition(".")
        try:
            owner = self.context.one(thing, KIND_OF_PREFIX[prefix])
        except Split:
            return
        if owner is None:
            return
        self._values(law, (*part.where, *part.are))
        for item in owner.list_of(name)[0]:
            for cell in (*_box_names(part.where), *_box_names(part.are)):
                self.input(law, item, cell)
            if part.of is not None:
                self._expression(law, item, part.of)


# ---- figures --------------------------------------------------------------------------------------------------------

_SIGN = {
    "at_least": ("≥", "<"),
    "more_than": (">", "≤"),
    "at_most": ("≤", ">"),
    "less_than": ("<", "≥"),
    "equals": ("=", "≠"),
}


@dataclass(frozen=True)
class FigureTrace:
    """A number or comparison of a calculation: what it came to, exact and as text, and its steps in words."""

    calculation: Calculation
    subject: Thing
    val: Val
    steps: str


def trace_figure(context: Context, law: Law, thing: Thing, calculation: Calculation) -> FigureTrace | None:
    """The figure of one calculation, or None where it is open on a single fact or no figure at all."""
    try:
        val = context.figure(law, thing, calculation)
        if isinstance(calculation.expression, Comparison):
            return FigureTrace(calculation, thing, val, _comparison_steps(context, law, thing, calculation))
        if calculation.type != "number" or isinstance(val.span, NotApplicable):
            return None
        return FigureTrace(calculation, thing, val, _steps(context, law, thing, calculation))
    except (Split, LowerFault):
        return None


def _operand(context: Context, law: Law, thing: Thing, expression: Expression, calc: Calculation) -> tuple[Val, str]:
    val = figures.value_of(context, law, thing, expression, calc)
    unit = unit_of(context.book, expression.name) if isinstance(expression, Of) else None
    if isinstance(expression, NamedNumber):
        unit = law.resolved.values[expression.id].unit
    return val, show_val(val, unit or calc.unit)


def _comparison_steps(context: Context, law: Law, thing: Thing, calculation: Calculation) -> str:
    expression = calculation.expression
    assert isinstance(expression, Comparison)
    unit = _unit_in(context.book, law, expression)
    left = figures.value_of(context, law, thing, expression.left, calculation)
    right = figures.value_of(context, law, thing, expression.right, calculation)
    answer = single(figures.compare(left, expression.relation, right).span)
    yes, no = _SIGN[expression.relation]
    sign = yes if answer is True else (no if answer is False else f"{yes} ?")
    text = f"{show_val(left, unit)} {sign} {show_val(right, unit)}"
    a, b = single(left.span), single(right.span)
    if answer is not None and a is not None and b is not None and a != b:
        assert isinstance(a, Fraction) and isinstance(b, Fraction)
        margin = show_value(abs(a - b), unit)
        text += f" by {margin}" if answer is False else f", {margin} to spare"
    return text


def _unit_in(book: Book, law: Law, expression: Expression) -> str | None:
    for part in operands(expression):
        unit = None
        if isinstance(part, Of):
            unit = unit_of(book, part.name)
        elif isinstance(part, NamedNumber):
            unit = law.resolved.values[part.id].unit
        if unit is not None:
            return unit
    return None


_JOIN = {"times": " x ", "plus": " + ", "minus": " - ", "ratio": " / "}


def _steps(context: Context, law: Law, thing: Thing, calculation: Calculation) -> str:
    expression = calculation.expression
    if isinstance(expression, Over) and expression.of is not None:
        return _list_steps(context, law, thing, calculation, expression)
    if isinstance(expression, Arithmetic):
        return _arithmetic_steps(context, law, thing, expression, calculation)
    return ""


def _arithmetic_steps(context: Context, law: Law, thing: Thing, expression: Arithmetic, calc: Calculation) -> str:
    parts = []
    for part in expression.of:
        if isinstance(part, Arithmetic):
            parts.append(f"({_arithmetic_steps(context, law, thing, part, calc)})")
        else:
            parts.append(_operand(context, law, thing, part, calc)[1])
    if expression.op == "round_up":
        return f"{parts[0]} rounded up"
    return _JOIN[expression.op].join(parts)


def _list_steps(context: Context, law: Law, thing: Thing, calc: Calculation, expression: Over) -> str:
    prefix, _, name = expression.over.partition(".")
    owner = context.one(thing, KIND_OF_PREFIX[prefix])
    if owner is None:
        return ""
    items, complete = owner.list_of(name)
    shown: list[str] = []
    of = expression.of
    assert of is not None
    for item in items:
        found, _ = context.each_way(law, _one_figure(law, item, expression, calc))
        for val in found:
            if val is not None and hull(val.span) is not None:
                shown.append(show_val(val, calc.unit))
    word = {"sum": " + ", "largest": ", ", "smallest": ", "}.get(expression.op, ", ")
    more = "" if complete else (" and whatever else is there" if shown else "nothing listed, list not complete")
    lead = "" if expression.op == "sum" else f"{expression.op} of "
    return f"{lead}{word.join(shown)}{more}" if shown or more else ""


def _one_figure(law: Law, item: Thing, expression: Over, calc: Calculation) -> Callable[[Context], Val | None]:
    def figure(inner: Context) -> Val | None:
        if expression.of is None or not any(inner.in_box(law, item, box) for box in expression.where):
            return None
        return figures.value_of(inner, law, item, expression.of, calc)

    return figure

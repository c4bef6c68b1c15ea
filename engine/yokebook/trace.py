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
from yokebook.law import Chosen, Law, plain_cell
from yokebook.model import (
    CHECK_ORDER,
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
from yokebook.session import LowerFault, OverBudget, answer_of
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
    except (Split, LowerFault, OverBudget):
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
    for part in parts_in(expression):
        yield from operands(part)


def parts_in(expression: Expression) -> tuple[Expression, ...]:
    """The expressions that one takes directly, those of a list's items left out."""
    if isinstance(expression, Arithmetic):
        return expression.of
    if isinstance(expression, Comparison):
        return (expression.left, expression.right)
    if isinstance(expression, ByReading):
        return tuple(expression.alternatives.values())
    return ()


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
        #: by kind of document and what is checked: two documents may have rules of one name
        self.marks: dict[tuple[str, str], Checked] = {}
        self.figures: dict[tuple[str, str], tuple[Law, Thing, Calculation]] = {}
        self.chosen: dict[str, Chosen] = {}  # readings that a layer chose and that were used
        self._visited: set[tuple[str, str, str, str]] = set()

    def _note(self, law: Law, name: str, checked: Checked) -> None:
        self.marks[law.kind, name] = weaker(self.marks.get((law.kind, name)), checked)

    def rule(self, law: Law, thing: Thing, traced: RuleTrace) -> None:
        """A rule that fires, with all that its cells use: those of boxes it is in, and those of `but_not` boxes, which
        it must not be in."""
        rule = traced.rule
        self._note(law, rule.id, rule.checked)
        inside = [b for b, cells in zip(rule.where, traced.where, strict=True) if _box_holds(cells) != "no"]
        for box in (*inside, *rule.but_not):
            self._values(law, [box])
            for name in box:
                self.input(law, thing, name)

    def _values(self, law: Law, boxes: Iterable[Box]) -> None:
        for name in _value_names(boxes):
            self._note(law, f"value.{name}", law.value_mark(name))

    def table(self, law: Law, thing: Thing, question: str) -> list[RuleTrace]:
        """Everything that the answer of a table rests on; returns its rules, traced."""
        traced = trace_rules(self.context, law, thing, question)
        standing = {rule.rule.id for rule in traced if rule.fires == "yes" and not rule.beaten_by}
        # an item's answer may be the same whatever is not known, through rules that each may fire
        for rule in traced:
            if rule.fires == "yes" or (rule.fires == "unknown" and not rule.beaten_by):
                self.rule(law, thing, rule)
        if not standing:
            self._note(law, f"{question}#none_fires", law.ready(question).table.none_fires.checked)
        return traced

    def input(self, law: Law, thing: Thing, name: str) -> None:
        """What one input rests on."""
        if name.startswith("reading."):
            self._reading(law, thing, name.removeprefix("reading."))
            return
        subject = subject_of(self.context, law, thing, name)
        if subject is None:
            return
        visit = (law.kind, subject.kind, subject.id, name)
        if visit in self._visited:
            return
        self._visited.add(visit)
        if name.startswith("answer."):
            kind, question = answer_of(self.context.book, name.removeprefix("answer."), law.kind)
            its_law = law if kind == law.kind else self._other_law(kind)
            if its_law is not None and its_law.answers(question.id):
                self.table(its_law, subject, question.id)
            return
        calculation = self.context.book.calculations.get(name)
        if calculation is None or name in subject.given:
            return
        self._note(law, calculation.id, calculation.checked)
        self.figures.setdefault((subject.id, name), (law, subject, calculation))
        self._expression(law, subject, calculation.expression)

    def _reading(self, law: Law, thing: Thing, reading_id: str) -> None:
        try:
            chosen = self.context.chosen(law, thing, reading_id)
        except (Split, LowerFault, OverBudget):
            return
        if chosen is not None:
            self.chosen.setdefault(reading_id, chosen)
            for amendment in law.resolved.amendments:
                if amendment.id == chosen.step.by:
                    self._note(law, f"reading.{reading_id}", amendment.checked)

    def _other_law(self, kind: str) -> Law | None:
        try:
            candidate = self.context.candidate(kind)
        except Split:
            return None
        return candidate.law if candidate is not None else None

    def _expression(self, law: Law, thing: Thing, expression: Expression) -> None:
        if isinstance(expression, ByReading):
            self._reading(law, thing, expression.reading)
        for part in self._parts(law, thing, expression):
            self._expression(law, thing, part)
        if isinstance(expression, NamedNumber):
            self._note(law, f"value.{expression.id}", law.value_mark(expression.id))
        elif isinstance(expression, WhereBox):
            self._values(law, expression.boxes)
        elif isinstance(expression, Over):
            self._list(law, thing, expression)
        if isinstance(expression, Of | LookUp | WhereBox):
            for name in names_in(expression):
                self.input(law, thing, name)

    def _parts(self, law: Law, thing: Thing, expression: Expression) -> Iterable[Expression]:
        """The expressions that one takes; of a reading's alternatives the one in force, all where that is open."""
        if isinstance(expression, ByReading):
            try:
                return [expression.alternatives[self.context.reading(law, thing, expression.reading)]]
            except (Split, LowerFault, OverBudget):
                return expression.alternatives.values()
        return parts_in(expression)

    def _list(self, law: Law, thing: Thing, part: Over) -> None:
        prefix, _, name = part.over.partition(".")
        try:
            owner = self.context.one(thing, KIND_OF_PREFIX[prefix])
        except Split:
            return
        if owner is None:
            return
        self._values(law, (*part.where, *part.are))
        for item in self._deciding(law, part, owner.list_of(name)[0]):
            for cell in (*_box_names(part.where), *_box_names(part.are)):
                self.input(law, item, cell)
            if part.of is not None:
                self._expression(law, item, part.of)


    def _deciding(self, law: Law, part: Over, items: list[Thing]) -> list[Thing]:
        """The items that a figure rests on: all, but for `any` only those that surely pass where there are some."""
        if part.op != "any":
            return items
        passing = [item for item in items if self._passes(law, item, part)]
        return passing or items

    def _passes(self, law: Law, item: Thing, part: Over) -> bool:
        try:
            return self.context.in_any(law, item, part.where) and self.context.in_any(law, item, part.are)
        except (Split, LowerFault, OverBudget):
            return False


def weaker(one: Checked | None, other: Checked) -> Checked:
    """The weaker of two marks on one thing; the first where they are equal."""
    if one is None:
        return other
    return min(one, other, key=lambda checked: CHECK_ORDER.index(checked.mark))


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
    except (Split, LowerFault, OverBudget):
        return None


def _operand(context: Context, law: Law, thing: Thing, expression: Expression, calc: Calculation) -> tuple[Val, str]:
    val = figures.value_of(context, law, thing, expression, calc)
    unit = unit_of(context.book, expression.name) if isinstance(expression, Of) else None
    if isinstance(expression, NamedNumber):
        unit = law.resolved.values[expression.id].unit
    return val, show_val(val, unit)


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

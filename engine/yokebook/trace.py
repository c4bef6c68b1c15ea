"""Why: what every rule of a table did with one completion, what a ruling rests on, and the figures behind it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal, NamedTuple

from yokebook.deciding import Context
from yokebook.graph import Thing
from yokebook.law import Law, plain_cell
from yokebook.model import (
    Box,
    Cell,
    Rule,
)
from yokebook.openness import parts_of
from yokebook.session import LowerFault, OverBudget, answer_of
from yokebook.showing import kind_of, show_cell, show_val, unit_of
from yokebook.values import NotApplicable, Split, Val

Holds = Literal["yes", "no", "unknown", "not applicable"]


class CellTrace(NamedTuple):
    """One cell against what is known: the input, whose it is, its value and what was wanted, as text."""

    input: str
    subject: str
    value: str
    wanted: str
    holds: Holds


class RuleTrace(NamedTuple):
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
    except (Split, LowerFault, OverBudget) as raised:
        raised.with_traceback(None)  # which would keep all of the session
        return None


def trace_cell(context: Context, law: Law, thing: Thing, name: str, cell: Cell) -> CellTrace:
    """One cell tried on what is known of its input."""
    unit = unit_of(context.book, name)
    subject = subject_of(context, law, thing, name)
    where = subject.id if subject is not None else ""
    val = try_input(context, law, thing, name)
    wanted = law.text_of(cell, lambda: show_cell(plain_cell(cell, law.resolved.values, name), unit))
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


def box_holds(cells: Iterable[CellTrace]) -> Holds:
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
        inside = {box_holds(cells) for cells in where}
        outside = {box_holds(cells) for cells in but_not}
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

"""What is told of one record ruled under two laws: the record, the rules that stand, the inputs that moved."""

from __future__ import annotations

from typing import Any

from yokebook.exploring import Leaf
from yokebook.law import Law, LawFault
from yokebook.model import Book
from yokebook.parts_of_ruling import cite_data, rule_head, step_data
from yokebook.proof.cover import Region
from yokebook.proof.deciding_rows import Rows
from yokebook.proof.elements import Side
from yokebook.proof.twins import Shown, Twins
from yokebook.showing import show_val, show_value, unit_of
from yokebook.trace import try_input
from yokebook.values import NotApplicable, Val, single


def record_of(book: Book, shown: Shown) -> dict[str, Any]:
    """A record as data: whose ruling it is, the facts by thing, and the readings under which it is ruled."""
    return {
        "subject": shown.subject.id,
        "facts": [
            {"subject": thing.id, "fact": name, "value": show_value(value, unit_of(book, name))}
            for thing in shown.graph
            for name, value in thing.given.items()
        ],
        "readings": dict(sorted(shown.readings.items())),
    }


def standing_at(law: Law, question: str, leaf: Leaf) -> list[dict[str, Any]]:
    """The rules that stand in a completion, as data; where none fires, what the table says then."""
    if leaf.outcome.table not in ("", question):  # a lower answer is at fault
        return [_head(law, leaf.outcome.table, rule) for rule in leaf.outcome.standing]
    return _standing(law, question, leaf.outcome.standing)


def rows_at(side: Side, rows: Rows, point: Region) -> list[dict[str, Any]]:
    """The rules that stand at a point of a table, as data; where none fires, what the table says then."""
    leaf = next(rows.leaves(point))
    return _standing(side.law, side.question, tuple(rows.rules[number].id for number in leaf.standing))


def _standing(law: Law, question: str, rules: tuple[str, ...]) -> list[dict[str, Any]]:
    if rules:
        return [_head(law, question, rule) for rule in rules]
    row = law.resolved.tables[question].none_fires
    return [
        {
            "rule": f"{question}#none_fires",
            "then": row.then or "",
            "says": row.says,
            "cite": cite_data(row.cite),
            "checked": {"mark": row.checked.mark, "source": row.checked.source},
            "chain": [step_data(step) for step in row.chain],
        }
    ]


def _head(law: Law, question: str, rule: str) -> dict[str, Any]:
    return next(rule_head(each) for each in law.resolved.tables[question].rules if each.id == rule)


def _settled(val: Val) -> bool:
    """Whether one value is left, or that it does not apply."""
    return isinstance(val.span, NotApplicable) or (not val.maybe_na and single(val.span) is not None)


def moved_inputs(twins: Twins, question: str, shown: Shown) -> list[dict[str, str]]:
    """The inputs of the question's tables that the two laws give differently for a record, as
    `{"input", "was", "now"}`."""
    names = dict.fromkeys(
        name for law in twins.laws for at in law.ready(question).boxes for name in at.box
    )
    moved: list[dict[str, str]] = []
    for name in names:
        unit = unit_of(twins.book, name)
        words: list[str] = []
        for law, leaf in zip(twins.laws, shown.leaves, strict=True):
            try:
                val = try_input(leaf.context, law, shown.subject, name)
            except LawFault:  # only the other law asks for it, and this one does not set its numbers
                continue
            words += [show_val(val, unit)] if val is not None and _settled(val) else []
        if len(words) == 2 and words[0] != words[1]:
            moved.append({"input": name, "was": words[0], "now": words[1]})
    return moved

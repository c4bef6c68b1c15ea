"""Changing tables and values by id: what an edition and a place's layer do alike.

Every change reads the text below and touches one id only, so the order of changes can never matter.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from yokebook.boxes import CannotJoin, join_boxes
from yokebook.load.faults import Fault, RulebookFaults, listed, suggest
from yokebook.model import (
    CHECK_ORDER,
    At,
    Book,
    Checked,
    Cite,
    NoneFires,
    NumberValue,
    Op,
    Resolved,
    Rule,
    Step,
    Table,
)
from yokebook.prevails import prevails
from yokebook.reach import names_in_rule, values_reached


@dataclass(frozen=True)
class Change:
    """An op, and what stands behind it."""

    op: Op
    by: str  # "nfpa-70 2017", or an amendment's id
    cite: Cite | None
    says: str
    checked: Checked | None
    #: whole: the mark is the edition's word on the whole changed rule. joined: the changed rule also rests on the
    #: text below, so the weaker mark of the two counts.
    mark: Literal["whole", "joined"]

    def step(self) -> Step:
        """The link that this change adds to a chain."""
        return Step(self.by, self.op.op, self.cite, self.says, self.op.at)


TargetKind = Literal["rule", "none_fires", "value", "reading"]


def target_of(op: Op) -> tuple[TargetKind, str]:
    """What an op changes: its kind and its id without a `value.` or `reading.` in front."""
    if op.op == "set_value":
        return "value", op.target.removeprefix("value.")
    if op.op == "choose_reading":
        return "reading", op.target.removeprefix("reading.")
    return ("none_fires" if op.target.endswith("#none_fires") else "rule"), op.target


def weaker(one: Checked, other: Checked | None) -> Checked:
    """The mark that is less sure; the first of two equal ones."""
    if other is None or CHECK_ORDER.index(one.mark) <= CHECK_ORDER.index(other.mark):
        return one
    return other


class Text:
    """Tables and values on the way from one state of the law to the next."""

    def __init__(self, tables: Iterable[Table], values: Iterable[NumberValue], name: str) -> None:
        self.name = name  # "nfpa-70 2017", for messages
        self.rules: dict[str, dict[str, Rule]] = {t.question: {r.id: r for r in t.rules} for t in tables}
        self.none_fires: dict[str, NoneFires] = {t.question: t.none_fires for t in tables}
        self.at: dict[str, At] = {t.question: t.at for t in tables}
        self.values: dict[str, NumberValue] = {v.id: v for v in values}

    def rule(self, rule_id: str) -> Rule | None:
        """The rule of this full id, or None."""
        return self.rules.get(question_of(rule_id), {}).get(rule_id)

    def ids(self) -> list[str]:
        """Every rule's full id, every TABLE#none_fires and every value as `value.ID`."""
        rules = [rule for table in self.rules.values() for rule in table]
        return [*rules, *(f"{q}#none_fires" for q in self.none_fires), *(f"value.{v}" for v in self.values)]

    def table(self, question: str) -> Table:
        """The table as it stands now."""
        rules = tuple(self.rules[question].values())
        return Table(question, self.none_fires[question], rules, self.at[question])

    def tables(self) -> dict[str, Table]:
        """Every table as it stands now, by question."""
        return {question: self.table(question) for question in self.rules}


def text_of(resolved: Resolved, name: str) -> Text:
    """The text of a resolved document, to be changed further, under this name."""
    return Text(resolved.tables.values(), resolved.values.values(), name)


def question_of(target: str) -> str:
    """The question of a rule's full id, "" where the id names none."""
    return target.rpartition("#")[0]


def apply_changes(text: Text, below: Text, changes: Sequence[Change], book: Book) -> list[Fault]:
    """Change `text` in place, each change reading `below`, and return what is wrong; a change at fault leaves its
    target as it was. choose_reading is not a change of text and is passed over.
    """
    alone, faults = _one_op_an_id(changes)
    # adds that begin a table come first, so that the rules they begin with find it
    for change in sorted(alone, key=lambda c: (target_of(c.op)[0] != "none_fires", _order(c))):
        if change.op.op != "choose_reading":
            fault = _CHANGES[change.op.op](text, below, change)
            if fault is not None:
                faults.append(Fault(change.op.at, fault))
    touched = {c.op.target for c in alone}
    faults.extend(_orphans(text, alone))
    faults.extend(link_faults(text, touched, {c.op.target for c in alone if c.op.op == "delete"}))
    faults.extend(unset_value_faults(text, touched, book))
    if not faults:
        faults.extend(cycle_faults(text, {question_of(target) for target in touched}))
    return faults


def _order(change: Change) -> tuple[str, int, int]:
    at = change.op.at
    return (at.file, at.line, at.column)


def _one_op_an_id(changes: Sequence[Change]) -> tuple[list[Change], list[Fault]]:
    """The changes that are the only one on their id, and a fault for each further change on the others."""
    on: dict[tuple[str, str], list[Change]] = {}
    for change in sorted(changes, key=_order):
        on.setdefault(target_of(change.op), []).append(change)
    alone = [group[0] for group in on.values() if len(group) == 1]
    faults = [
        Fault(
            late.op.at,
            f"`{late.op.op}` is a second change to `{late.op.target}`; `{group[0].op.op}` of {group[0].by} at "
            f"{group[0].op.at} is the first, and one layer or edition may change an id only once",
        )
        for group in on.values()
        for late in group[1:]
    ]
    return alone, faults


# ---- the changes: each returns a message, or None when it is done -----------------------------------------------


def _missing(below: Text, op: Op) -> str:
    rules = [i for i in below.ids() if not i.startswith("value.")]
    return f"`{op.op}` names `{op.target}`, which {below.name} does not have{suggest(op.target, rules)}"


def _add(text: Text, below: Text, change: Change) -> str | None:
    op, question = change.op, question_of(change.op.target)
    if op.none_fires is not None:
        if question in below.none_fires:
            return f"`add` of `{op.target}`: {below.name} has that table already, at {below.at[question]}"
        text.rules[question], text.at[question] = {}, op.at
        text.none_fires[question] = replace(op.none_fires, chain=(change.step(),))
        return None
    assert op.rule is not None
    taken = below.rule(op.target)
    if taken is not None:
        return f"`add` of `{op.target}`: the id is taken by the rule at {taken.at}; ids are never used again"
    if question not in text.rules:
        return (
            f"`add` of `{op.target}`: {below.name} has no table `{question}`{suggest(question, text.rules)}; "
            f"to begin one, add `{question}#none_fires` beside it"
        )
    text.rules[question][op.target] = replace(op.rule, id=op.target, chain=(change.step(),))
    return None


def _replace(text: Text, below: Text, change: Change) -> str | None:
    op, question = change.op, question_of(change.op.target)
    if op.none_fires is not None:
        old = below.none_fires.get(question)
        if old is None:
            return _missing(below, op)
        text.none_fires[question] = replace(op.none_fires, chain=(*old.chain, change.step()))
        return None
    base = below.rule(op.target)
    if base is None:
        return _missing(below, op)
    assert op.rule is not None
    text.rules[question][op.target] = replace(op.rule, id=op.target, chain=(*base.chain, change.step()))
    return None


def _narrow(text: Text, below: Text, change: Change) -> str | None:
    op = change.op
    base = below.rule(op.target)
    if base is None:
        return _missing_or_no_rule(below, op)
    if not op.add_where and not op.add_but_not:
        return f"`narrow` of `{op.target}` adds no cell and no `but_not` box"
    try:
        where = join_boxes(base.where, op.add_where) if op.add_where else base.where
    except CannotJoin as why:
        return f"`narrow` of `{op.target}` cannot be worked out: {why}; replace the rule instead"
    if base.where and not where:
        return f"`narrow` of `{op.target}` leaves the rule no record; delete it instead"
    but_not = (*base.but_not, *(box for box in op.add_but_not if box not in base.but_not))
    return _put(text, change, replace(base, where=where, but_not=but_not))


def _delete(text: Text, below: Text, change: Change) -> str | None:
    op = change.op
    if below.rule(op.target) is None:
        return _missing_or_no_rule(below, op)
    del text.rules[question_of(op.target)][op.target]
    return None


def _prevails_over(text: Text, below: Text, change: Change) -> str | None:
    op = change.op
    base = below.rule(op.target)
    if base is None:
        return _missing_or_no_rule(below, op)
    if not op.over:
        return f"`prevails_over` of `{op.target}` names no rule in `over`"
    over = (*base.prevails_over, *(rule for rule in op.over if rule not in base.prevails_over))
    return _put(text, change, replace(base, prevails_over=over))


def _set_value(text: Text, below: Text, change: Change) -> str | None:
    op, name = change.op, target_of(change.op)[1]
    base = below.values.get(name)
    if base is None:
        return f"`set_value` names `{name}`, which {below.name} does not have{suggest(name, below.values)}"
    assert op.value is not None
    if op.value.unit != base.unit:
        return f"`value.{name}` is in {_unit(base)} and is set in {_unit(op.value)}; a value keeps its kind of unit"
    text.values[name] = replace(op.value, id=name, chain=(*base.chain, change.step()))
    return None


_CHANGES: dict[str, Callable[[Text, Text, Change], str | None]] = {
    "add": _add,
    "replace": _replace,
    "narrow": _narrow,
    "delete": _delete,
    "prevails_over": _prevails_over,
    "set_value": _set_value,
}


def _missing_or_no_rule(below: Text, op: Op) -> str:
    if target_of(op)[0] == "none_fires" and question_of(op.target) in below.none_fires:
        return f"`{op.op}` of `{op.target}`: what a table says where no rule fires can only be replaced"
    return _missing(below, op)


def _put(text: Text, change: Change, changed: Rule) -> str | None:
    """The changed rule into the text, with the mark that now counts and one step more."""
    if change.mark == "joined":
        checked = weaker(changed.checked, change.checked)
    elif change.checked is not None:
        checked = change.checked
    else:
        return f"`{change.op.op}` of `{changed.id}` lacks `checked`: how sure are we of the rule as {change.by} has it?"
    chain = (*changed.chain, change.step())
    text.rules[question_of(changed.id)][changed.id] = replace(changed, checked=checked, chain=chain)
    return None


def _unit(value: NumberValue) -> str:
    return "no unit" if value.unit is None else f"`{value.unit}`"


# ---- what must hold afterwards ----------------------------------------------------------------------------------


def _names(rule: Rule) -> tuple[str, ...]:
    """The rules that a rule names as those it prevails over."""
    return (*(() if rule.exception_to == "all" else rule.exception_to), *rule.prevails_over)


def _orphans(text: Text, changes: Iterable[Change]) -> list[Fault]:
    faults: list[Fault] = []
    for change in changes:
        if change.op.op == "delete":
            table = text.rules.get(question_of(change.op.target), {})
            left = [rule.id for rule in table.values() if change.op.target in _names(rule)]
            if left and change.op.target not in table:
                message = (
                    f"`delete` of `{change.op.target}` leaves rules that name it in `exception_to` or "
                    f"`prevails_over`: {listed(left)}; replace or delete them too"
                )
                faults.append(Fault(change.op.at, message))
    return faults


def link_faults(text: Text, touched: Iterable[str], deleted: Iterable[str] = ()) -> list[Fault]:
    """Faults of the rules with these ids that name, as those they prevail over, rules which their table does not
    have. Links to `deleted` ids are left to the fault of the delete."""
    gone = set(deleted)
    faults: list[Fault] = []
    for rule in _rules(text, touched):
        table = text.rules[question_of(rule.id)]
        for name in _names(rule):
            if name not in table and name not in gone:
                message = f"`{rule.id}` is to prevail over `{name}`, which {text.name} does not have in that table"
                faults.append(Fault(_at(rule), message + suggest(name, table)))
    return faults


def unset_value_faults(text: Text, touched: Iterable[str], book: Book) -> list[Fault]:
    """Faults of the rules with these ids that use, themselves or through calculations, a named number that the
    document does not set."""
    faults: list[Fault] = []
    for rule in _rules(text, touched):
        for name in sorted(values_reached(names_in_rule(rule), book) - text.values.keys()):
            message = f"`{rule.id}` uses `value.{name}`, which {text.name} does not set{suggest(name, text.values)}"
            faults.append(Fault(_at(rule), message))
    return faults


def cycle_faults(text: Text, questions: Iterable[str]) -> list[Fault]:
    """Faults of the tables for these questions in which rules prevail over each other in a circle."""
    faults: list[Fault] = []
    for question in sorted(questions):
        if question in text.rules:
            try:
                prevails(text.table(question))
            except RulebookFaults as found:
                faults.extend(found.faults)
    return faults


def _rules(text: Text, ids: Iterable[str]) -> list[Rule]:
    return [rule for i in sorted(ids) if (rule := text.rule(i)) is not None]


def _at(rule: Rule) -> At:
    """Where the last hand that touched the rule did so."""
    return rule.chain[-1].at if rule.chain else rule.at

"""Whether a table tells apart more parts of the completions than can be tried one by one, found without trying them.

What is still to be tried below a part hangs only on the boxes that are still open and on what is open of their inputs.
Parts that are alike in these have as many parts below them, so that it is counted once for all of them.
"""

from __future__ import annotations

from collections.abc import Mapping

from yokebook.deciding import Context
from yokebook.graph import Thing
from yokebook.law import Law, ReadyTable
from yokebook.model import Box
from yokebook.pending import Pending
from yokebook.session import BUDGET, LowerFault, OverBudget, Session, answer_of, key_of
from yokebook.values import Span, Split, Var

#: How many parts that are not alike are looked into before it is left uncounted.
_MOST_KINDS = 3000

#: What is still open, in a form in which what is alike is equal.
Open = tuple[object, ...]


class _NotCounted(Exception):
    """Too many parts that are not alike, or something open whose parts are not those of a fact."""


def too_many(
    session: Session, law: Law, thing: Thing, question: str, assumed: Mapping[Var, Span], fixed: Mapping[str, str]
) -> bool:
    """Whether ruling on each part that the table tells apart takes more tries than the budget allows; False where that
    was not found out."""
    # in a session of its own: what is looked at to count is not what is looked at to rule
    apart = Session(session.graph, session.book, session.in_force, hidden=session.hidden, instead=session.instead)
    try:
        return _count(Context(apart, assumed, fixed, set()), law, thing, question, {}) > BUDGET
    except (_NotCounted, OverBudget):
        return False


def _count(context: Context, law: Law, thing: Thing, question: str, counted: dict[Open, int]) -> int:
    """How many parts are cut again below this one, itself counted; past the budget it is not counted on."""
    ready = law.ready(question)
    may, pending = context.weighed(law, thing, ready)
    try:
        context.fired(ready, may, pending)
    except LowerFault:
        return 0
    except Split as split:
        if split.var.kind not in ("fact", "reading"):
            raise _NotCounted from None
        alike = _open_of_table(context, law, thing, ready, may, pending)
        if alike in counted:
            return counted[alike]
        if len(counted) == _MOST_KINDS:
            raise _NotCounted from None
        tries = 1
        for part in split.parts:
            tries += _count(context.assume(split.var, part), law, thing, question, counted)
            if tries > BUDGET:
                break
        counted[alike] = tries
        return tries
    return 0


def _open_of_table(
    context: Context, law: Law, thing: Thing, ready: ReadyTable, may: int, pending: list[Pending]
) -> Open:
    """What is open of a table for a thing: the boxes that may yet decide, their open inputs, and what stands."""
    unsure = 0
    for each in pending:
        unsure |= each.bits
    undecided, standing = _undecided(ready, may, unsure)
    matter = [each for each in pending if each.bits & undecided]
    reached = 0
    for each in matter:
        reached |= each.bits
    inputs = tuple((each.name, _open_of_input(context, law, thing, each, may)) for each in matter)
    words = frozenset(ready.rules[i].then for i in standing)
    return (ready.table.question, key_of(thing), undecided, may & reached, inputs, words)


def _undecided(ready: ReadyTable, may: int, unsure: int) -> tuple[int, list[int]]:
    """The boxes of rules of which it is open whether they fire, and the rules that fire."""
    bits = 0
    fired: list[int] = []
    for i in range(len(ready.rules)):
        where, but_not = ready.where[i] & may, ready.but_not[i] & may
        if not where or but_not & ~unsure or not ready.beaten_by[i].isdisjoint(fired):
            continue
        if where & ~unsure and not but_not:
            fired.append(i)
        else:
            bits |= but_not if where & ~unsure else where | but_not
    return bits, fired


def _open_of_input(context: Context, law: Law, thing: Thing, open_input: Pending, may: int) -> Open:
    what, name = open_input.what, open_input.name
    if isinstance(what, LowerFault):
        return (what.outcome,)
    if not isinstance(what, Split):
        val, pieces = what
        if val.var is None or val.var.kind not in ("fact", "reading") or val.preimage or val.var.name not in name:
            return _all_of(context)
        return (val.var, val.span, val.maybe_na, tuple((span, bits & may) for span, bits in pieces))
    if name.startswith("answer."):
        kind, question = answer_of(context.book, name.removeprefix("answer."), law.kind)
        target = context.one(thing, question.per) if kind == law.kind else None
        if target is None:
            return _all_of(context)
        ready = law.ready(question.id)
        return _open_of_table(context, law, target, ready, *context.weighed(law, target, ready))
    fact = context.book.facts.get(name)
    if fact is None or fact.applies_when is None:
        return _all_of(context)
    target = context.one(thing, context.session.meant(name)[0])
    assert target is not None
    return (_open_of_box(context, law, target, fact.applies_when), _assumed_of(context, fact.id))


def _open_of_box(context: Context, law: Law, thing: Thing, box: Box) -> Open:
    """What is open of when a fact applies: everything assumed of what its cells name, where they name only facts."""
    names = set(box)
    behind = list(box)
    while behind:
        fact = context.book.facts.get(behind.pop())
        if fact is None:
            return _all_of(context)
        further = [name for name in fact.applies_when or () if name not in names]
        names.update(further)
        behind += further
    return _assumed_of(context, *sorted(names))


def _assumed_of(context: Context, *names: str) -> Open:
    return (frozenset(item for item in context.assumed.items() if item[0].name in names),)


def _all_of(context: Context) -> Open:
    return (frozenset(context.assumed.items()),)

"""Going through a list for a figure: what is taken of each item, for every completion of the item's own facts."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from yokebook.entities import KIND_OF_PREFIX
from yokebook.graph import Thing
from yokebook.openness import first_of, open_lists
from yokebook.session import LowerFault
from yokebook.values import Span, Val, Var, single

if TYPE_CHECKING:
    from yokebook.deciding import Context
    from yokebook.law import Law
    from yokebook.model import OverList

#: What is taken of an item in one completion: a value for each expression; None where the item is left out.
Taken = tuple[Val, ...] | None


@dataclass
class Walked:
    """A list gone through: each item with what is taken of it in each completion, None for one that turns on a lower
    answer at fault; whether the list is complete; and what it would take to know the figure better."""

    items: list[tuple[Thing, list[Taken] | None]] = field(default_factory=list)
    complete: bool = True
    needs: dict[Var, None] = field(default_factory=dict)
    fault: LowerFault | None = None

    def figure(self, span: Span, maybe_na: bool = False) -> Val:
        """The figure with this span. Raises the fault of an item where that leaves it open."""
        settled = single(span) is not None and not maybe_na
        if self.fault is not None and not settled:
            raise self.fault
        return Val(span, () if settled else tuple(self.needs), maybe_na=maybe_na)


def list_of(ctx: Context, thing: Thing, expression: OverList) -> tuple[Thing, str] | None:
    """The thing whose list an expression runs over, with the list's name; None where `thing` has nothing that has it.
    Raises Split where that is open."""
    prefix, _, name = expression.over.partition(".")
    owner = ctx.one(thing, KIND_OF_PREFIX[prefix])
    return None if owner is None else (owner, name)


def walk(
    ctx: Context, law: Law, thing: Thing, expression: OverList, take: Callable[[Context, Thing], Taken]
) -> Walked | None:
    """The list of an expression, gone through; None where the thing has nothing that has such a list.

    Items that its boxes surely leave out have None for every completion. Raises Split for a reading or an entry that an
    item turns on.
    """
    found_list = list_of(ctx, thing, expression)
    if found_list is None:
        return None
    owner, name = found_list
    items, complete = owner.list_of(name)
    walked = Walked(complete=complete)
    for item in items:
        try:
            found, needs = ctx.each_way(law, _take_if_kept(law, item, expression, take))
        except LowerFault as lower:
            walked.fault = first_of(walked.fault, lower)
            walked.items.append((item, None))
            continue
        walked.items.append((item, found))
        if len(found) > 1:
            walked.needs.update(dict.fromkeys(needs))
        for taken in found:
            walked.needs.update(dict.fromkeys(need for val in taken or () for need in val.needs))
    if not complete:
        walked.needs.update(dict.fromkeys(open_lists(owner, name)))
    return walked


def _take_if_kept(
    law: Law, item: Thing, expression: OverList, take: Callable[[Context, Thing], Taken]
) -> Callable[[Context], Taken]:
    return lambda inner: take(inner, item) if inner.in_any(law, item, expression.where) else None

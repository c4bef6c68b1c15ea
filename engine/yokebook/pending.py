"""The inputs of a table that are open, and whether its word is sure all the same."""

from __future__ import annotations

from typing import NamedTuple

from yokebook.law import ReadyTable
from yokebook.model import Book
from yokebook.session import LowerFault
from yokebook.values import Span, Split, Val


class Pending(NamedTuple):
    """An input that is open: the bits of the boxes it leaves open, and what to split, why it cannot be had, or its
    parts."""

    bits: int
    what: Split | LowerFault | tuple[Val, list[tuple[Span, int]]]
    name: str


def sure_of_the_word(book: Book, ready: ReadyTable, may: int, pending: list[Pending]) -> list[int] | None:
    """Rules that stand whatever is open, where every rule that may yet stand beside them says the same; None where
    there are none, or where an answer or figure that matters is open: a table behind it may turn out to be at fault."""
    unsure = 0
    for each in pending:
        if each.bits & may and (
            isinstance(each.what, LowerFault) or (isinstance(each.what, Split) and each.name not in book.facts)
        ):
            return None
        unsure |= each.bits
    possible: set[int] = set()
    sure: list[int] = []
    for i in range(len(ready.rules)):
        where, but_not = ready.where[i] & may, ready.but_not[i] & may
        if where and not but_not & ~unsure:
            # rules that prevail over this one come before it
            if where & ~unsure and not but_not and ready.beaten_by[i].isdisjoint(possible):
                sure.append(i)
            possible.add(i)
    left = {ready.rules[i].then for i in possible if ready.beaten_by[i].isdisjoint(sure)}
    return sure if sure and len(left) == 1 else None

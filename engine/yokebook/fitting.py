"""Whether an item of a list fits boxes, where a test that has no meaning for it neither passes nor fails."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from yokebook.graph import Thing
from yokebook.model import Box
from yokebook.openness import first_of, merged, parts_of, raise_open, split_of
from yokebook.session import LowerFault
from yokebook.values import NotApplicable, Split

if TYPE_CHECKING:
    from yokebook.deciding import Context
    from yokebook.law import Law

#: How a cell stands on a value, as bits for `merged`.
_FAILS, _HOLDS, _NO_MEANING = 0, 1, 2


def fits(ctx: Context, law: Law, thing: Thing, boxes: Iterable[Box]) -> bool | None:
    """Whether any of the boxes holds for a thing; None where none does, and each only for an input that is not
    applicable. Raises Split where that is open, LowerFault where it turns on a lower answer that is at fault."""
    pending: Split | None = None
    fault: LowerFault | None = None
    found: bool | None = None
    for box in boxes:
        try:
            state = _fits_box(ctx, law, thing, box)
        except Split as split:
            pending = first_of(pending, split)
        except LowerFault as lower:
            fault = first_of(fault, lower)
        else:
            if state is True:
                return True
            found = False if state is False else found
    raise_open(pending, fault)
    return found


def _fits_box(ctx: Context, law: Law, thing: Thing, box: Box) -> bool | None:
    """As `fits`, for one box: a cell that fails on a value that there is outweighs one that has no meaning."""
    pending: Split | None = None
    fault: LowerFault | None = None
    without_meaning = False
    for name, cell in box.items():
        try:
            val = ctx.input(law, thing, name)
        except Split as split:
            pending = first_of(pending, split)
            continue
        except LowerFault as lower:
            fault = first_of(fault, lower)
            continue
        pieces = [
            (span, _NO_MEANING if isinstance(span, NotApplicable) else _HOLDS if bits else _FAILS)
            for span, bits in parts_of(val, law.cell(cell, name))
        ]
        states = {state for _, state in pieces}
        if states == {_FAILS}:
            return False
        without_meaning = without_meaning or states == {_NO_MEANING}
        if len(states) > 1:
            pending = pending or split_of(val, merged(pieces, _HOLDS | _NO_MEANING), ctx.all_of(val))
    raise_open(pending, fault)
    return None if without_meaning else True

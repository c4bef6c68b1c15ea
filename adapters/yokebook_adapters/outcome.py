"""How a ruling is sorted for people and for scripts: which heap it lies on, and the exit status of a whole run."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from typing import Any, Literal, get_args

RulingData = Mapping[str, Any]

#: The heaps, in the order in which output lists them: worst first, settled last.
Heap = Literal[
    "against",
    "fault of the rulebook",
    "impossible",
    "readings differ",
    "cannot tell",
    "not checked",
    "not entered",
    "also held",
    "settled",
    "does not arise",
]

HEAPS: tuple[Heap, ...] = get_args(Heap)

_OF_STATUS: dict[str, Heap] = {
    "conflict": "fault of the rulebook",
    "silent": "fault of the rulebook",
    "impossible": "impossible",
    "readings differ": "readings differ",
    "cannot tell": "cannot tell",
    "not decided": "cannot tell",
    "no adoption entered": "not entered",
    "none in force": "does not arise",
}

#: Exit statuses. Usage errors (2) are raised where arguments are read.
SETTLED, AGAINST, USAGE, REFUSED, UNSETTLED = 0, 1, 2, 3, 4
_PRECEDENCE = (USAGE, REFUSED, AGAINST, UNSETTLED, SETTLED)


def heap(ruling: RulingData) -> Heap:
    """The heap that a ruling lies on."""
    status = ruling["status"]
    if status != "settled":
        return _OF_STATUS[status]
    if ruling["idle"] and not ruling["also_held"]:
        return "does not arise"
    if ruling["not_checked"]:
        return "not checked"
    if ruling["against"]:
        return "against"
    return "also held" if ruling["also_held"] else "settled"


def status_of(ruling: RulingData) -> int:
    """The exit status that one ruling alone would give.

    A conflict or a silent table is a fault of the rulebook and an impossible combination a refused record (3); an
    outcome that the question lists as against counts (1) unless it was not checked in this edition (4).
    """
    status = ruling["status"]
    if status in ("conflict", "silent", "impossible"):
        return REFUSED
    if status == "none in force":
        return SETTLED
    if status != "settled" or ruling["not_checked"]:
        return UNSETTLED
    return AGAINST if ruling["against"] else SETTLED


def exit_status(rulings: Iterable[RulingData], *, refused: bool = False, usage: bool = False) -> int:
    """The exit status of a run: 2 wrong usage, 3 a record refused or a fault of the rulebook, 1 something against,
    4 something unsettled, 0 all settled and none against; the first of these that holds."""
    found = {status_of(ruling) for ruling in rulings} | {SETTLED}
    found |= {REFUSED} if refused else set()
    found |= {USAGE} if usage else set()
    return worst_status(found)


def worst_status(found: Collection[int]) -> int:
    """The exit status of a run that came to several: the first of them in the order 2, 3, 1, 4, 0."""
    return next(status for status in _PRECEDENCE if status in found)

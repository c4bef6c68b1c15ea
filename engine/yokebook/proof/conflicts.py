"""All pairs of rules of a table that stand together somewhere and say different things, each with such a place."""

from __future__ import annotations

from dataclasses import dataclass

from yokebook.proof.cover import STATES, NotDecided, Region, bits, meet
from yokebook.proof.deciding_rows import Rows


@dataclass(frozen=True)
class Clash:
    """Two rules by their numbers in the rows, the lower first, and a region at every point of which both stand.

    `region` is None where it was not decided within the budget whether there is one.
    """

    one: int
    other: int
    region: Region | None


def clashes(rows: Rows, states: int = STATES) -> list[Clash]:
    """Every two rules with different words that stand together at some point that can occur, in order of their numbers.

    Two rules of which one prevails over the other never stand together. `states` is the budget for each part in which
    two rules meet; a pair without a place found and with a part not decided is in the list with no region.
    """
    worded: dict[str, int] = {}
    beats = [0] * len(rows.rules)
    for number, rule in enumerate(rows.rules):
        worded[rule.then] = worded.get(rule.then, 0) | rows.boxes_of[number]
        for winner in rule.beaten_by:
            beats[winner] |= rows.boxes_of[number]
    every = rows.cover.all & ~rows.impossible_bits
    found: list[Clash] = []
    passed = 0  # boxes of the rules up to the one at hand, and of those pairs are told already
    for number, rule in enumerate(rows.rules):
        passed |= rows.boxes_of[number]
        others = every & ~passed & ~worded[rule.then] & ~beats[number]
        for winner in rule.beaten_by:
            others &= ~rows.boxes_of[winner]
        if others:
            found.extend(_clashes_of(rows, number, others, states))
    return found


def _clashes_of(rows: Rows, number: int, others: int, states: int) -> list[Clash]:
    """The clashes of one rule with those of the other boxes."""
    meeting: dict[int, list[Region]] = {}
    for region in rows.firing[number]:
        for bit in bits(rows.cover.overlapping(region, others)):
            both = meet(region, rows.cover.boxes[bit])
            assert both is not None  # the index says that they overlap
            meeting.setdefault(rows.owner[bit], []).append(both)
    found: list[Clash] = []
    for other, parts in sorted(meeting.items()):
        over = rows.boxes_over(rows.rules[number].beaten_by | rows.rules[other].beaten_by)
        clash = _clash(rows, number, other, parts, over, states)
        if clash is not None:
            found.append(clash)
    return found


def _clash(rows: Rows, one: int, other: int, parts: list[Region], over: int, states: int) -> Clash | None:
    """The clash of two rules in the parts where both fire; None where in all of them something prevails over one."""
    open_parts = False
    for part in parts:
        try:
            region = rows.cover.uncovered(part, over, states)
        except NotDecided:
            open_parts = True
        else:
            if region is not None:
                return Clash(one, other, region)
    return Clash(one, other, None) if open_parts else None

"""What is open: the parts that cells tell apart in a value, what to split for it, and what keeps a list from being
complete."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TypeVar

from yokebook.entities import LISTS, ONE, Kind
from yokebook.graph import DERIVED, REFERRING, Thing
from yokebook.session import LowerFault, key_of
from yokebook.values import NA, CellIndex, Range, Some, Span, Split, Val, Var, single

Raised = TypeVar("Raised", Split, LowerFault)


def parts_of(val: Val, index: CellIndex) -> list[tuple[Span, int]]:
    """A value cut where the cells of an input tell its parts apart, not applicable included where it may be."""
    value = single(val.span)
    if value is not None and not val.maybe_na:
        return [(val.span, index.allowed(value))]
    pieces = index.pieces(val.span)
    return [*pieces, *index.pieces(NA)] if val.maybe_na else pieces


def merged(pieces: Iterable[tuple[Span, int]], matter: int) -> list[Span]:
    """The pieces, those put together that differ in nothing that still matters."""
    groups: list[tuple[Span, int]] = []
    for span, all_bits in pieces:
        bits = all_bits & matter
        for i, (other, its_bits) in enumerate(groups):
            if its_bits != bits:
                continue
            if isinstance(span, Some) and isinstance(other, Some):
                groups[i] = (Some(other.values | span.values), bits)
                break
            if isinstance(span, Range) and isinstance(other, Range) and i == len(groups) - 1:
                groups[i] = (Range(other.low, other.low_open, span.high, span.high_open, span.whole), bits)
                break
        else:
            groups.append((span, bits))
    return [span for span, _ in groups]


def split_of(val: Val, parts: list[Span], all_of_it: Span) -> Split:
    """What to split for a value that is open: the value's own variable, or the fact it is looked up by."""
    assert val.var is not None
    if not val.preimage:
        return Split(val.var, parts, val.needs)
    back = dict(val.preimage)
    listed = frozenset().union(*back.values())
    raw: list[Span] = []
    for part in parts:
        if isinstance(part, Some):
            raw.append(Some(frozenset().union(*(back[v] for v in part.values))))
        elif isinstance(all_of_it, Some):
            raw.append(Some(all_of_it.values - listed))
    return Split(val.var, [part for part in raw if not isinstance(part, Some) or part.values], val.needs)


def first_of(first: Raised | None, raised: Raised) -> Raised:
    """The first of what was raised, to be raised later. Without its trace: that holds all that was at work when it was
    raised, and in a circle, so that much of a session would stay until somebody looks for circles."""
    raised.with_traceback(None)
    return first or raised


def raise_open(pending: Split | None, fault: LowerFault | None) -> None:
    """Raises what is open, else the lower answer at fault: what is not known may make the fault irrelevant."""
    if pending is not None:
        raise pending
    if fault is not None:
        raise fault


def open_lists(owner: Thing, name: str) -> list[Var]:
    """What keeps a list from being complete: lists not said to be, and references not given."""
    if LISTS[owner.kind][name].flagged:
        return [] if owner.complete.get(name, False) else [Var("list", key_of(owner), name)]
    if (owner.kind, name) in REFERRING:
        return _open_references(owner, *REFERRING[owner.kind, name])
    found: list[Var] = []
    items = [owner]
    for step in DERIVED[owner.kind, name]:
        following: dict[int, Thing] = {}
        for item in items:
            if step in LISTS[item.kind]:
                found += open_lists(item, step)
                following.update((id(thing), thing) for thing in item.list_of(step)[0])
            elif step not in item.refs:
                found.append(Var("link", key_of(item), step))
            elif (there := item.refs[step]) is not None:
                following[id(there)] = there
        items = list(following.values())
    return list(dict.fromkeys(found))


def _open_references(owner: Thing, parent: Kind, siblings: str, reference: str) -> list[Var]:
    there = owner.one(parent)
    if not isinstance(there, Thing):
        return []
    open_items = [item for item in there.list_of(siblings)[0] if reference not in item.refs]
    return [*open_lists(there, siblings), *(Var("link", key_of(item), reference) for item in open_items)]


def open_link(thing: Thing, kind: Kind) -> Var | None:
    """The reference that nobody gave on the way to the thing of that kind; None where each is given."""
    here = thing
    for step in ONE[thing.kind].get(kind, ()):
        if step not in here.refs:
            return Var("link", key_of(here), step)
        following = here.refs[step]
        if following is None:
            return None
        here = following
    return None

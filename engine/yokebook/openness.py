"""Cutting a value that is not known into the parts that cells tell apart, and saying what to split for it."""

from __future__ import annotations

from collections.abc import Iterable

from yokebook.values import NA, CellIndex, Range, Some, Span, Split, Val, single


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

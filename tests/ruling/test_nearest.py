"""Distances to the nearest of the others against brute force, straight lines compared by their squares."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ruling import one_figure
from ruling.one_figure import Item, P
from yokebook.distances import apart, straight
from yokebook.model import Cell, Constant, Nearest, Of, Within
from yokebook.values import Range, Val, known, within

N, M = Of("contact.n"), Of("contact.m")
ALONG = Nearest("wall.contacts", (P,), N, None, None, None)
ACROSS = Nearest("space.contacts", (P,), None, None, N, M)
BOTH = Nearest("space.contacts", (P,), N, "wall", N, M)

PLACES = tuple(Fraction(n) for n in range(4))
WALLS = ("A", "B", "none")


def full(item: Item) -> Iterator[Item]:
    """Every way an item may be."""
    ps = (True, False) if item.p is None else (item.p,)
    ns = PLACES if item.n is None else (item.n,)
    ms = PLACES if item.m is None else (item.m,)
    walls = WALLS if item.wall is None else (item.wall,)
    for p, n, m, wall in product(ps, ns, ms, walls):
        yield Item(p=p, n=n, m=m, wall=wall)


def squares(expression: Nearest, items: Sequence[Item]) -> list[Fraction]:
    """The squares of the distances from the first item to the others that count."""
    here = items[0]
    found: list[Fraction] = []
    for there in items[1:]:
        assert None not in (here.n, here.m, there.n, there.m)
        along, across = (here.n - there.n) ** 2, (here.m - there.m) ** 2  # type: ignore[operator]
        same = here.wall == there.wall != "none"
        if not there.p or (expression is ALONG and not same):
            continue
        found.append(along if expression is ALONG or (expression is BOTH and same) else along + across)
    return found


def outcome(cell: Cell, found: Sequence[Fraction]) -> str:
    """What the table says: the bounds of the cell are not below zero, so squares compare as the numbers do."""
    assert isinstance(cell, Within)
    squared = replace(cell, **{end: at**2 for end in ("low", "high") if isinstance(at := getattr(cell, end), Fraction)})
    return one_figure.outcome(squared, min(found, default=None))


ITEMS = st.builds(
    Item,
    p=st.sampled_from((True, True, False, None)),
    n=st.sampled_from((*PLACES, *PLACES, None)),
    m=st.sampled_from((*PLACES, *PLACES, None)),
    wall=st.sampled_from(("A", "A", "B", "none", None)),
)


@pytest.mark.parametrize("expression", [ALONG, ACROSS, BOTH], ids=["along", "across", "both"])
@settings(max_examples=60, deadline=None)
@given(data=st.data())
def test_never_wrong(expression: Nearest, data: st.DataObject) -> None:
    items = data.draw(st.lists(ITEMS, min_size=1, max_size=3))
    if expression is ALONG:  # of what is on no wall there is nothing to measure along
        items[0] = replace(items[0], wall="A")
    complete, cell = data.draw(st.booleans()), data.draw(one_figure.cells())
    graph = one_figure.building(items, complete)
    ruling = one_figure.ruling_on(graph, graph.things["contact"][0], expression, cell)
    hidden = [[], *([Item(n=n, m=Fraction(0), wall=wall)] for n in PLACES for wall in WALLS)]
    due = {
        outcome(cell, squares(expression, [*each, *extra]))
        for each in product(*(full(item) for item in items))
        for extra in ([[]] if complete else hidden)
    }
    known_all = complete and all(None not in (i.p, i.n, i.m, i.wall) for i in items)
    one_figure.held(ruling, due, known_all)


def test_not_applicable_where_there_is_no_other() -> None:
    """Itself is left out; over a complete list of no others the distance is in no cell, and no number is unknown."""
    graph = one_figure.building([Item(n=Fraction(1)), Item(p=False, n=Fraction(1))], True)
    here = graph.things["contact"][0]
    assert one_figure.ruling_on(graph, here, ALONG, Within(low=Fraction(0))).outcome == "low"
    assert one_figure.ruling_on(graph, here, ALONG, Within(high=Fraction(0))).outcome == "low"


def test_what_stands_for_the_distance_where_there_is_no_other() -> None:
    """Alone it is 4; beside one that counts it is how far that is; where that is open it may be either."""
    expression = replace(ALONG, otherwise=Constant(Fraction(4)))
    for other, cell, wanted in (
        (Item(p=False, n=Fraction(1)), Within(low=Fraction(4)), "high"),
        (Item(n=Fraction(1)), Within(high=Fraction(0)), "high"),
        (Item(p=None, n=Fraction(1)), Within(high=Fraction(0)), None),
        (Item(p=None, n=Fraction(1)), Within(high=Fraction(4)), "high"),
    ):
        graph = one_figure.building([Item(n=Fraction(1)), other], True)
        assert one_figure.ruling_on(graph, graph.things["contact"][0], expression, cell).outcome == wanted


def test_what_nobody_listed_may_be_nearer_and_not_farther() -> None:
    graph = one_figure.building([Item(n=Fraction(1)), Item(n=Fraction(3))], False)
    here = graph.things["contact"][0]
    assert one_figure.ruling_on(graph, here, ALONG, Within(high=Fraction(2))).outcome == "high"
    assert one_figure.ruling_on(graph, here, ALONG, Within(high=Fraction(1))).status == "cannot tell"


def test_asks_which_wall_it_is_on() -> None:
    """On wall A they are 3 apart, otherwise 5 in a straight line."""
    here, there = Item(n=Fraction(0), m=Fraction(4), wall=None), Item(n=Fraction(3), m=Fraction(0))
    graph = one_figure.building([here, there], True)
    ruling = one_figure.ruling_on(graph, graph.things["contact"][0], BOTH, Within(high=Fraction(4)))
    assert ruling.status == "cannot tell"
    assert [(ask["fact"], ask["asks"]) for ask in ruling.ask] == [("receptacle.wall", "Which wall is it on?")]
    for wall, wanted in (("A", "high"), ("B", "low"), ("none", "low")):
        graph = one_figure.building([replace(here, wall=wall), there], True)
        assert one_figure.ruling_on(graph, graph.things["contact"][0], BOTH, Within(high=Fraction(4))).outcome == wanted


def test_steps_name_the_nearest() -> None:
    items = [Item(n=Fraction(0), m=Fraction(0)), Item(n=Fraction(1), m=Fraction(1)), Item(n=None, m=None)]
    graph = one_figure.building(items, True)
    ruling = one_figure.ruling_on(graph, graph.things["contact"][0], ACROSS, Within(low=Fraction(0)))
    assert [figure["steps"] for figure in ruling.figures] == [
        "R1 is about 1.41 away; of one more the distance is not known"
    ]


FRACTIONS = st.fractions(min_value=0, max_value=2000, max_denominator=64)


@settings(max_examples=200, deadline=None)
@given(FRACTIONS, FRACTIONS)
def test_a_straight_line_lies_between_two_numbers_next_to_each_other(x: Fraction, y: Fraction) -> None:
    found = straight(Range(x, False, x, False), Range(y, False, y, False))
    assert found.low is not None and found.high is not None
    square = x * x + y * y
    assert found.high - found.low <= Fraction(1, 1000)
    if found.low == found.high:
        assert found.low**2 == square
    else:
        assert found.low_open and found.high_open
        assert found.low**2 < square < found.high**2


def test_a_root_that_is_a_number_is_that_number() -> None:
    assert straight(Range(Fraction(9), False, Fraction(9), False), Range(Fraction(12), False, Fraction(12), False)) == (
        Range(Fraction(15), False, Fraction(15), False)
    )
    half = Range(Fraction(3, 2), False, Fraction(3, 2), False)
    two = Range(Fraction(2), False, Fraction(2), False)
    assert straight(half, two) == Range(Fraction(5, 2), False, Fraction(5, 2), False)


ENDS = st.sampled_from([None, *range(5)])


def span_of(low: int | None, high: int | None) -> Range:
    """A range, None for no end."""
    ends = [None if end is None else Fraction(end) for end in (low, high)]
    return Range(ends[0], low is None, ends[1], high is None)


@settings(max_examples=200, deadline=None)
@given(st.tuples(ENDS, ENDS), st.tuples(ENDS, ENDS), st.integers(0, 4), st.integers(0, 4))
def test_how_far_positions_are_apart(
    one: tuple[int | None, int | None], other: tuple[int | None, int | None], here: int, there: int
) -> None:
    """Every two positions within the bounds are as far apart as told; where both are known it is their difference."""
    spans = [span_of(*ends) for ends in (one, other)]
    if any(span.empty() for span in spans):
        return
    found = apart(*(Val(span) for span in spans))
    assert found is not None
    if within(Fraction(here), spans[0]) and within(Fraction(there), spans[1]):
        distance = abs(Fraction(here) - Fraction(there))
        assert (found.low or 0) <= distance and (found.high is None or distance <= found.high)
    exact = apart(Val(known(Fraction(here))), Val(known(Fraction(there))))
    assert exact == Range(abs(Fraction(here - there)), False, abs(Fraction(here - there)), False)

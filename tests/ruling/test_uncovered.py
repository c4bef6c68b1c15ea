"""Uncovered lengths against a count of half units, over every way in which what is not given may be."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import product

from hypothesis import given, settings
from hypothesis import strategies as st

from ruling import one_figure
from ruling.one_figure import HALVES, Item, P
from yokebook.covering import covered_by, gaps
from yokebook.graph import Thing
from yokebook.model import Constant, Expression, Of, Uncovered, Within
from yokebook.values import Range, Val, known

REACH = Constant(Fraction(1))


def uncovered(reach: Expression = REACH) -> Uncovered:
    """How much of `control.long` is out of the reach of the control's contacts with p, which are at n."""
    return Uncovered(Of("control.long"), "control.contacts", (P,), Of("contact.n"), reach)


def naive(long: Fraction, places: Sequence[tuple[Fraction, Fraction]]) -> Fraction:
    """The half units of which no place's reach holds the middle: ends of reaches are on halves."""
    middles = [Fraction(n, 2) + Fraction(1, 4) for n in range(int(long * 2))]
    return Fraction(sum(not any(at - reach <= x <= at + reach for at, reach in places) for x in middles), 2)


def in_full(items: Sequence[Item], complete: bool) -> Iterator[list[tuple[Fraction, Fraction]]]:
    """Places and reaches in every completion, up to two that nobody listed."""
    ways = [
        [
            (at, Fraction(1)) if p else None
            for p in ((True, False) if item.p is None else (item.p,))
            for at in (HALVES if item.n is None else (item.n,))
        ]
        for item in items
    ]
    hidden: list[tuple[Fraction, Fraction] | None] = [None, *((at, Fraction(1)) for at in HALVES)]
    for full in product(*ways, *([] if complete else [hidden, hidden])):
        yield [place for place in full if place is not None]


ITEMS = st.lists(
    st.builds(Item, p=st.sampled_from((True, True, False, None)), n=st.sampled_from((*HALVES, *HALVES, None))),
    max_size=3,
)


@settings(max_examples=80, deadline=None)
@given(data=st.data())
def test_never_wrong(data: st.DataObject) -> None:
    items, complete = data.draw(ITEMS), data.draw(st.booleans())
    long = data.draw(st.sampled_from((*HALVES[1:], None)))
    cell = data.draw(one_figure.cells())
    graph = one_figure.building(items, complete, long)
    ruling = one_figure.ruling_on(graph, graph.things["control"][0], uncovered(), cell)
    due = {
        one_figure.outcome(cell, naive(each, places))
        for each in (HALVES[1:] if long is None else (long,))
        for places in in_full(items, complete)
    }
    known_all = complete and long is not None and all(None not in (i.p, i.n) for i in items if i.p is not False)
    one_figure.held(ruling, due, known_all)


@settings(max_examples=80, deadline=None)
@given(st.lists(st.tuples(st.sampled_from(HALVES), st.sampled_from((True, None))), max_size=3))
def test_bounds_are_reached_where_only_filters_are_not_known(places: list[tuple[Fraction, bool | None]]) -> None:
    """The least is what is left with all of them, the most what is left with the sure ones alone."""
    items = [Item(p=p, n=at) for at, p in places]
    graph = one_figure.building(items, True, Fraction(4))
    control = graph.things["control"][0]
    every = naive(Fraction(4), [(at, Fraction(1)) for at, _ in places])
    sure = naive(Fraction(4), [(at, Fraction(1)) for at, p in places if p])
    for end, wanted in ((Within(low=every), "high"), (Within(high=sure), "high")):
        assert one_figure.ruling_on(graph, control, uncovered(), end).outcome == wanted
    for beyond in (Within(low=every, low_open=True), Within(high=sure, high_open=True)):
        status = one_figure.ruling_on(graph, control, uncovered(), beyond).status
        assert status == ("settled" if every == sure else "cannot tell")


def test_a_stretch_too_long_for_what_is_known_fails_wherever_it_is() -> None:
    """One item that may be anywhere covers two units at most of four."""
    graph = one_figure.building([Item(n=None)], True, Fraction(4))
    control = graph.things["control"][0]
    assert one_figure.ruling_on(graph, control, uncovered(), Within(low=Fraction(2))).outcome == "high"
    assert one_figure.ruling_on(graph, control, uncovered(), Within(low=Fraction(2), low_open=True)).status != "settled"


def test_an_item_without_a_place_is_left_out() -> None:
    """What has no place, or no reach, covers nothing."""
    thing = Thing("contact", "c")
    none = covered_by(thing, [None])
    assert (none.sure, none.may, none.most) == (None, (), 0)
    below = covered_by(thing, [(Val(known(Fraction(1))), Val(known(Fraction(-1))))])
    assert gaps(Fraction(4), below.may) == [(Fraction(0), Fraction(4))]
    assert below.sure is None


def test_a_reach_that_is_not_known_covers_what_it_surely_covers() -> None:
    """At 2 with a reach from 1/2 to 1: from 1 1/2 to 2 1/2 surely, from 1 to 3 at most."""
    reach = Range(Fraction(1, 2), False, Fraction(1), False)
    found = covered_by(Thing("contact", "c"), [(Val(known(Fraction(2))), Val(reach))])
    assert found.sure == (Fraction(3, 2), Fraction(5, 2))
    assert found.may == ((Fraction(1), Fraction(3)),)
    assert found.most == 2


def test_steps_tell_what_is_covered_and_what_is_not() -> None:
    graph = one_figure.building([Item(n=Fraction(1)), Item(p=None, n=Fraction(3))], True, Fraction(4))
    ruling = one_figure.ruling_on(graph, graph.things["control"][0], uncovered(), Within(low=Fraction(0)))
    assert [figure["steps"] for figure in ruling.figures] == [
        "R0 covers from 0 ft to 2 in; R1 may cover something; of 4 in not surely covered from 2 in to 4 in"
    ]

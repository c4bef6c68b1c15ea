"""Extremes over groups, and numbers taken tier by tier, against the definitions done by hand on full records."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ruling import one_figure, small
from ruling.one_figure import HALVES, Item, P, Q
from yokebook.figures import tiered
from yokebook.model import Arithmetic, Constant, Grouped, Of, OneOf, Tiers, Within

NUMBERS = (Fraction(0), Fraction(1), Fraction(5, 2))


def grouped(op: str, figure: str, by: str = "contact.x") -> Grouped:
    """The largest or smallest, over the contacts of the control with p, by x."""
    of = Of("contact.n") if figure == "sum" else None
    return Grouped(op, "control.contacts", (P,), by, figure, (Q,) if figure == "share" else (), of)  # type: ignore[arg-type]


def naive(op: str, figure: str, items: Sequence[Item]) -> Fraction | None:
    """Straight from the definition: the figure of the items with each letter, then the largest or smallest of these."""
    found: list[Fraction] = []
    for letter in small.LETTERS:
        group = [item for item in items if item.p and item.x == letter]
        if not group:
            continue
        if figure == "count":
            found.append(Fraction(len(group)))
        elif figure == "share":
            found.append(Fraction(sum(bool(item.q) for item in group), len(group)))
        else:
            found.append(sum((item.n for item in group if item.n is not None), Fraction(0)))
    return None if not found else max(found) if op == "largest" else min(found)


def full(item: Item) -> list[Item]:
    """Every way an item may be."""
    ps = (True, False) if item.p is None else (item.p,)
    qs = (True, False) if item.q is None else (item.q,)
    ns = NUMBERS if item.n is None else (item.n,)
    xs = small.LETTERS if item.x is None else (item.x,)
    return [Item(p=p, q=q, n=n, x=x) for p, q, n, x in product(ps, qs, ns, xs)]


ITEMS = st.lists(
    st.builds(
        Item,
        p=st.sampled_from((True, True, False, None)),
        q=st.sampled_from((True, False, None)),
        n=st.sampled_from((*NUMBERS, None)),
        x=st.sampled_from(("a", "a", "b", None)),
    ),
    max_size=2,
)
HIDDEN = [None, *(Item(q=q, n=n, x=x) for q in (True, False) for n in (Fraction(0), Fraction(4)) for x in "ab")]


@pytest.mark.parametrize("figure", ["count", "sum", "share"])
@pytest.mark.parametrize("op", ["largest", "smallest"])
@settings(max_examples=40, deadline=None)
@given(data=st.data())
def test_groups_never_wrong(op: str, figure: str, data: st.DataObject) -> None:
    items, complete = data.draw(ITEMS), data.draw(st.booleans())
    cell = data.draw(one_figure.cells())
    graph = one_figure.building(items, complete)
    ruling = one_figure.ruling_on(graph, graph.things["control"][0], grouped(op, figure), cell)
    due: set[str] = set()
    for each in product(*(full(item) for item in items)):
        for extra in [None] if complete else HIDDEN:
            due.add(one_figure.outcome(cell, naive(op, figure, [*each, *([extra] if extra else [])])))
    known_all = complete and all(None not in (i.p, i.q, i.n, i.x) for i in items)
    one_figure.held(ruling, due, known_all)


def test_no_group_is_not_applicable() -> None:
    graph = one_figure.building([Item(p=False, n=Fraction(1), x="a")], True)
    control = graph.things["control"][0]
    for op in ("largest", "smallest"):
        for end in (Within(low=Fraction(0)), Within(high=Fraction(0))):
            assert one_figure.ruling_on(graph, control, grouped(op, "sum"), end).outcome == "low"


def test_groups_by_a_number() -> None:
    """Three on floor 1 and one on floor 2; one more whose floor is not given may make floor 1 four, or be alone."""
    floors = [Item(m=Fraction(1))] * 3 + [Item(m=Fraction(2))]
    by = grouped("largest", "count", "contact.m")
    for items, low, high in ((floors, 3, 3), ([*floors, Item()], 3, 4)):
        graph = one_figure.building(items, True)
        control = graph.things["control"][0]
        assert one_figure.ruling_on(graph, control, by, Within(low=Fraction(low))).outcome == "high"
        assert one_figure.ruling_on(graph, control, by, Within(high=Fraction(high))).outcome == "high"
        beyond = one_figure.ruling_on(graph, control, by, Within(low=Fraction(low), low_open=True))
        assert beyond.status == ("settled" if low == high else "cannot tell")


def test_steps_tell_each_group() -> None:
    items = [Item(n=Fraction(1), x="a"), Item(n=Fraction(2), x="a"), Item(n=Fraction(4), x="b")]
    graph = one_figure.building(items, True)
    ruling = one_figure.ruling_on(graph, graph.things["control"][0], grouped("largest", "sum"), Within(low=Fraction(4)))
    assert [figure["steps"] for figure in ruling.figures] == ["largest of 3 for a, 4 for b"]


# ---- tiers ---------------------------------------------------------------------------------------------------------

RATES = st.sampled_from([Fraction(n, 4) for n in (-2, 0, 1, 2, 4)])


@st.composite
def steps(draw: st.DrawFn) -> list[tuple[Fraction | None, Fraction]]:
    """Up to three steps, ends on whole numbers, then the rest."""
    ends = sorted(draw(st.sets(st.sampled_from([Fraction(n) for n in (1, 2, 3)]))))
    return [*((end, draw(RATES)) for end in ends), (None, draw(RATES))]


def by_quarters(number: Fraction, its_steps: Sequence[tuple[Fraction | None, Fraction]]) -> Fraction:
    """Each quarter unit at the rate of the step that its middle is in."""
    found = Fraction(0)
    for n in range(int(number * 4)):
        middle = Fraction(n, 4) + Fraction(1, 8)
        found += Fraction(1, 4) * next(rate for end, rate in its_steps if end is None or middle < end)
    return found


@settings(max_examples=80, deadline=None)
@given(steps(), st.sampled_from((*HALVES, None)), one_figure.cells())
def test_tiers_never_wrong(
    its_steps: list[tuple[Fraction | None, Fraction]], number: Fraction | None, cell: Within
) -> None:
    graph = one_figure.building([Item(n=number)], True)
    expression = Tiers(Of("contact.n"), tuple(its_steps))
    ruling = one_figure.ruling_on(graph, graph.things["contact"][0], expression, cell)
    numbers = small.COMPLETIONS["contact.n"] if number is None else (number,)
    due = {one_figure.outcome(cell, by_quarters(each, its_steps)) for each in numbers if isinstance(each, Fraction)}
    one_figure.held(ruling, due, number is not None)


def test_published_demand_of_receptacles() -> None:
    """The first 10 kVA whole and the rest by half: 20,160 VA make 15,080 VA, as a published example has it."""
    demand = [(Fraction(10_000), Fraction(1)), (None, Fraction(1, 2))]
    assert tiered(Fraction(20_160), demand) == 15_080
    assert tiered(Fraction(10_000), demand) == 10_000
    assert tiered(Fraction(9_999), demand) == 9_999
    assert tiered(Fraction(0), demand) == 0


def test_steps_tell_each_tier() -> None:
    demand = Tiers(
        Arithmetic("times", (Of("contact.n"), Constant(Fraction(10)))),
        ((Fraction(10), Fraction(1)), (None, Fraction(1, 2))),
    )
    graph = one_figure.building([Item(n=Fraction(2))], True)
    ruling = one_figure.ruling_on(graph, graph.things["contact"][0], demand, Within(high=Fraction(15)))
    assert ruling.outcome == "high"
    assert [figure["steps"] for figure in ruling.figures] == ["10 x 1 + 10 x 0.5"]


def test_a_number_without_end() -> None:
    """Nothing is known of a number over nothing: what is taken of it is over nothing too, and has no end."""
    expression = Tiers(Arithmetic("minus", (Of("contact.n"), Of("contact.m"))), ((None, Fraction(1, 2)),))
    graph = one_figure.building([Item()], True)
    here = graph.things["contact"][0]
    assert one_figure.ruling_on(graph, here, expression, Within(high=Fraction(2))).outcome == "high"
    assert one_figure.ruling_on(graph, here, expression, Within(low=Fraction(-2))).outcome == "high"
    assert one_figure.ruling_on(graph, here, expression, OneOf(frozenset({Fraction(0)}))).status == "cannot tell"

"""Figures over lists that may be incomplete, against brute force over the items' facts and items nobody listed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ruling import small
from yokebook.graph import Graph, Thing
from yokebook.law import Candidate, InForce, Law
from yokebook.model import (
    Arithmetic,
    Box,
    Calculation,
    Cell,
    Constant,
    Expression,
    Of,
    OneOf,
    Over,
    Resolved,
    Value,
    Within,
)
from yokebook.ruling import Ruling, rule_on
from yokebook.session import Session

P = {"contact.p": OneOf(frozenset({True}))}
Q = {"contact.q": OneOf(frozenset({True}))}
NUMBERS = tuple(Fraction(n, 2) for n in range(9))
OPS = ("any", "all", "count", "sum", "largest", "smallest", "share")


@dataclass(frozen=True)
class Item:
    """What is given of one item; None = not given."""

    p: bool | None
    q: bool | None
    n: Fraction | None


def over(op: str) -> Over:
    """The figure tested: over the contacts of a control, those with p, testing q or taking n."""
    takes = Of("contact.n") if op in ("sum", "largest", "smallest") else None
    return Over(op, "control.contacts", (P,), (Q,) if op in ("any", "all", "share") else (), takes)  # type: ignore[arg-type]


def calculation(expression: Expression, type_: str) -> Calculation:
    """The calculation `control.figure`."""
    return Calculation("control.figure", "control", type_, "", None, {}, expression, None, small.SEEN, small.AT)  # type: ignore[arg-type]


def ruling_for(
    op: str, cell: Cell, items: Iterable[Item], complete: bool, expression: Over | None = None
) -> Ruling:
    """`high` where the figure is in the cell, else `low`, for a control with these contacts."""
    type_ = "yes_no" if op in ("any", "all") else "number"
    calc = calculation(expression or over(op), type_)
    book = small.book({calc.id: calc})
    question = replace(small.QUESTIONS["upper"], per="control")
    table = small.table("upper", [small.rule("upper#0", [{"control.figure": cell}], "high")], "low")
    resolved = Resolved(small.DOCUMENT, "1", None, None, {"upper": table}, {}, (), (), "none")
    law = Law(resolved, book)
    graph = Graph()
    project = Thing("project", "project")
    control = Thing("control", "s", refs={"project": project})
    control.many["contacts"] = [
        Thing("contact", f"c{i}", given=facts(item), refs={"load": None, "project": project})
        for i, item in enumerate(items)
    ]
    control.complete["contacts"] = complete
    graph.things["project"] = [project]
    graph.things["control"] = [control]
    graph.things["contact"] = control.many["contacts"]
    in_force = {"small": InForce("small", (Candidate("entry", "in force", law, ""),))}
    return rule_on(Session(graph, book, in_force), question, control, "small")


def facts(item: Item) -> dict[str, Value]:
    """The given facts of an item."""
    named = {"contact.p": item.p, "contact.q": item.q, "contact.n": item.n}
    return {name: value for name, value in named.items() if value is not None}


def figure(op: str, items: list[Item]) -> bool | Fraction | None:
    """The figure of a complete list of full items; None = not applicable. Straight from the definitions."""
    kept = [i for i in items if i.p]
    if op == "any":
        return any(i.q for i in kept)
    if op == "all":
        return all(i.q for i in kept)
    if op == "count":
        return Fraction(len(kept))
    numbers = [i.n for i in kept if i.n is not None]
    if op == "sum":
        return sum(numbers, Fraction(0))
    if not kept:
        return None
    if op == "share":
        return Fraction(sum(bool(i.q) for i in kept), len(kept))
    return max(numbers) if op == "largest" else min(numbers)


def full_items(item: Item) -> list[Item]:
    """Every way an item's missing facts may be."""
    ps = (True, False) if item.p is None else (item.p,)
    qs = (True, False) if item.q is None else (item.q,)
    ns = NUMBERS if item.n is None else (item.n,)
    return [Item(*parts) for parts in product(ps, qs, ns)]


def due_outcomes(op: str, cell: Cell, items: list[Item], complete: bool) -> set[str]:
    """Outcomes over all completions, with a few items nobody listed."""
    takes_number = op in ("sum", "largest", "smallest")
    hidden_numbers = (Fraction(0), Fraction(1, 2), Fraction(4)) if takes_number else (Fraction(0),)
    hidden_item = [Item(True, q, n) for q in (True, False) for n in hidden_numbers]
    outcomes: set[str] = set()
    most = 0 if complete else (3 if op == "count" else 2)  # three more are enough to pass every count tested
    for extra in range(most + 1):
        for full in product(*(full_items(i) for i in items), *([hidden_item] * extra)):
            value = figure(op, list(full))
            inside = value is not None and small.cell_holds(cell, value)
            outcomes.add("high" if inside else "low")
            if len(outcomes) == 2:
                return outcomes
    return outcomes


items_strategy = st.lists(
    st.builds(
        Item,
        st.sampled_from((True, True, False, None)),
        st.sampled_from((True, False, None)),
        st.sampled_from((*NUMBERS, None)),
    ),
    max_size=2,
)


def cells_for(op: str) -> st.SearchStrategy[Cell]:
    """A cell that the figure may be in."""
    if op in ("any", "all"):
        return st.booleans().map(lambda v: OneOf(frozenset({v})))
    points = st.sampled_from((Fraction(0), Fraction(1, 2), Fraction(1), Fraction(2)))
    return st.tuples(points, st.booleans(), st.booleans()).map(
        lambda t: Within(low=t[0], low_open=t[1]) if t[2] else Within(high=t[0], high_open=t[1])
    )


class TestBounds:
    """Over a list not said to be complete, counts, sums and shares are bounds; rules settle on bounds where they can.
    `any` and `all` are exact. An item whose fact is not given widens the bound."""

    @pytest.mark.parametrize("op", OPS)
    @settings(max_examples=60, deadline=None)
    @given(data=st.data())
    def test_never_wrong_and_any_all_count_exact(self, op: str, data: st.DataObject) -> None:
        items = data.draw(items_strategy)
        complete = data.draw(st.booleans())
        cell = data.draw(cells_for(op))
        ruling = ruling_for(op, cell, items, complete)
        due = due_outcomes(op, cell, items, complete)
        assert due <= set(ruling.possible)
        if op in ("any", "all", "count"):
            assert due == set(ruling.possible)
        if ruling.status == "settled":
            assert due == {ruling.outcome}
        if complete and all(None not in (i.p, i.q, i.n) for i in items):
            assert ruling.status == "settled"


class TestComplete:
    """Over a complete empty list count and sum are 0, any is no, all is yes; the rest is not applicable."""

    @pytest.mark.parametrize(
        ("op", "cell", "outcome"),
        [
            ("count", Within(high=Fraction(0)), "high"),
            ("sum", Within(high=Fraction(0)), "high"),
            ("any", OneOf(frozenset({False})), "high"),
            ("all", OneOf(frozenset({True})), "high"),
            ("largest", Within(low=Fraction(0)), "low"),
            ("smallest", Within(low=Fraction(0)), "low"),
            ("share", Within(low=Fraction(0)), "low"),
        ],
    )
    def test_empty(self, op: str, cell: Cell, outcome: str) -> None:
        assert ruling_for(op, cell, [], True).outcome == outcome

    def test_asks_whether_the_list_is_complete(self) -> None:
        ruling = ruling_for("count", Within(high=Fraction(1)), [Item(True, True, None)], False)
        assert ruling.status == "cannot tell"
        assert [(ask["fact"], ask["asks"]) for ask in ruling.ask] == [
            ("control.contacts.complete", "Is the one receptacle listed for s the only one?")
        ]

    def test_two_known_are_enough_whatever_else_there_is(self) -> None:
        two = [Item(True, True, None), Item(True, True, None)]
        assert ruling_for("count", Within(low=Fraction(2)), two, False).outcome == "high"

    def test_what_nobody_listed_may_pull_a_sum_down(self) -> None:
        """Over an incomplete list of figures that may be below zero nothing is known of the sum: not "at least"."""
        below = Arithmetic("minus", (Of("contact.n"), Constant(Fraction(4))))
        expression = replace(over("sum"), of=below)
        listed = [Item(True, True, Fraction(4))]  # gives 0
        at_least_nothing = Within(low=Fraction(0))
        assert ruling_for("sum", at_least_nothing, listed, False, expression).status == "cannot tell"
        assert ruling_for("sum", at_least_nothing, listed, True, expression).outcome == "high"

    def test_a_half_listed_share_never_passes(self) -> None:
        ruling = ruling_for("share", Within(low=Fraction(1, 2)), [Item(True, True, None)] * 4, False)
        assert ruling.status == "cannot tell"


class TestWhatDoesNotApply:
    """An item that the tested fact has no meaning for is left out; one of which it is not given widens the bound."""

    def ruling(self, op: str, items: list[dict[str, Value]], cell: Cell, are: Iterable[Box] = (Q,)) -> Ruling:
        expression = Over(op, "control.contacts", ({},), tuple(are), None)  # type: ignore[arg-type]
        return ruling_of_facts(expression, op, items, cell)

    @pytest.mark.parametrize(
        ("items", "every", "share"),
        [
            ([{"contact.x": "b"}], True, None),  # nothing is tested: all of none is yes, and there is no share
            ([{"contact.x": "a", "contact.q": True}, {"contact.x": "b"}], True, Fraction(1)),
            ([{"contact.x": "a", "contact.q": False}, {"contact.x": "b"}], False, Fraction(0)),
            (
                [{"contact.x": "a", "contact.q": False}, {"contact.x": "a", "contact.q": True}, {"contact.x": "c"}],
                False,
                Fraction(1, 2),
            ),
        ],
    )
    def test_left_out(self, items: list[dict[str, Value]], every: bool, share: Fraction | None) -> None:
        assert self.ruling("all", items, OneOf(frozenset({every}))).outcome == "high"
        for cell in (Within(low=share), Within(high=share)):
            assert self.ruling("share", items, cell).outcome == ("low" if share is None else "high")

    def test_not_given_widens_the_bound(self) -> None:
        """Whether x is `a` is not given: then q may be tested, and fail, or be left out."""
        listed: list[dict[str, Value]] = [{"contact.x": "a", "contact.q": True}, {}]
        assert self.ruling("all", listed, OneOf(frozenset({True}))).status == "cannot tell"
        half = self.ruling("share", listed, Within(low=Fraction(1, 2)))
        assert half.outcome == "high"  # 1 of 1, 1 of 2 or 2 of 2
        assert self.ruling("share", listed, Within(low=Fraction(1))).status == "cannot tell"

    def test_one_cell_that_fails_is_enough(self) -> None:
        """A test that fails on what is there is not undone by another that has no meaning."""
        fails: list[dict[str, Value]] = [{"contact.x": "b", "contact.p": False}]
        no_meaning: list[dict[str, Value]] = [{"contact.x": "b", "contact.p": True}]
        yes = OneOf(frozenset({True}))
        assert self.ruling("all", fails, yes, [{**P, **Q}]).outcome == "low"
        assert self.ruling("all", no_meaning, yes, [{**P, **Q}]).outcome == "high"
        assert self.ruling("all", fails, yes, [P, Q]).outcome == "low"
        assert self.ruling("all", no_meaning, yes, [Q, P]).outcome == "high"


def ruling_of_facts(expression: Over, op: str, items: list[dict[str, Value]], cell: Cell) -> Ruling:
    """`high` where the figure over contacts with these facts, all listed, is in the cell; contact.q has a meaning only
    where contact.x is `a`."""
    q = replace(small.FACTS["contact.q"], applies_when={"contact.x": OneOf(frozenset({"a"}))})
    calc = calculation(expression, "yes_no" if op in ("any", "all") else "number")
    book = replace(small.book({calc.id: calc}), facts={**small.FACTS, q.id: q})
    question = replace(small.QUESTIONS["upper"], per="control")
    table = small.table("upper", [small.rule("upper#0", [{"control.figure": cell}], "high")], "low")
    law = Law(Resolved(small.DOCUMENT, "1", None, None, {"upper": table}, {}, (), (), "none"), book)
    graph = Graph()
    project = Thing("project", "project")
    control = Thing("control", "s", refs={"project": project})
    control.many["contacts"] = [
        Thing("contact", f"c{i}", given=dict(given_), refs={"load": None, "project": project})
        for i, given_ in enumerate(items)
    ]
    control.complete["contacts"] = True
    graph.things |= {"project": [project], "control": [control], "contact": control.many["contacts"]}
    in_force = {"small": InForce("small", (Candidate("entry", "in force", law, ""),))}
    return rule_on(Session(graph, book, in_force), question, control, "small")

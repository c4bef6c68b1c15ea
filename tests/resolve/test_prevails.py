"""Design: prevails is the transitive closure of `exception_to` and `prevails_over`; `exception_to: all` is every rule
of the table with another outcome that is neither itself an exception nor declared to prevail over this one."""

from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from resolve.making import MARK, rule, table
from yokebook.load.faults import RulebookFaults
from yokebook.model import Table
from yokebook.prevails import prevails


def short(over: dict[str, frozenset[str]]) -> dict[str, set[str]]:
    return {k.removeprefix(f"{MARK}#"): {v.removeprefix(f"{MARK}#") for v in vs} for k, vs in over.items()}


class TestAll:
    def test_it_reaches_other_outcomes_only(self) -> None:
        over = prevails(table(rule("a"), rule("b", "not required"), rule("x", "not required", exception_to="all")))
        assert short(over) == {"a": set(), "b": set(), "x": {"a"}}

    def test_it_does_not_reach_exceptions(self) -> None:
        over = prevails(table(rule("a"), rule("x", "not required", exception_to="all"), rule("y", exception_to=["x"])))
        assert short(over) == {"a": set(), "x": {"a"}, "y": {"x", "a"}}

    def test_it_does_not_reach_a_rule_declared_to_prevail_over_it(self) -> None:
        over = prevails(table(rule("a", prevails_over=["x"]), rule("b"), rule("x", "not required", exception_to="all")))
        assert short(over) == {"a": {"x", "b"}, "b": set(), "x": {"b"}}

    def test_nor_one_declared_so_through_others(self) -> None:
        over = prevails(
            table(
                rule("a", prevails_over=["m"]),
                rule("m", "not required", prevails_over=["x"]),
                rule("x", "not required", exception_to="all"),
            )
        )
        assert short(over) == {"a": {"m", "x"}, "m": {"x"}, "x": set()}


class TestCycles:
    def test_a_rule_over_itself(self) -> None:
        with pytest.raises(RulebookFaults) as raised:
            prevails(table(rule("a", exception_to=["a"], line=5)))
        assert str(raised.value) == (
            "t.yaml:5:3: `marking.required#a` prevails over itself; a rule can prevail only over others"
        )

    def test_each_knot_is_told_once(self) -> None:
        with pytest.raises(RulebookFaults) as raised:
            prevails(
                table(
                    rule("a", exception_to=["b"], line=5),
                    rule("b", exception_to=["c"]),
                    rule("c", prevails_over=["a"]),
                    rule("d", exception_to=["e"], line=6),
                    rule("e", exception_to=["d"]),
                )
            )
        assert [str(f) for f in raised.value.faults] == [
            "t.yaml:5:3: exceptions go round in a circle: `marking.required#a` over `marking.required#b` over "
            "`marking.required#c` over `marking.required#a`; of two rules only one can prevail",
            "t.yaml:6:3: exceptions go round in a circle: `marking.required#d` over `marking.required#e` over "
            "`marking.required#d`; of two rules only one can prevail",
        ]


NAMES = "abcde"


@st.composite
def tables(draw: st.DrawFn) -> Table:
    some = st.lists(st.sampled_from(NAMES), unique=True, max_size=2)
    rules = [
        rule(
            name,
            draw(st.sampled_from(["required", "not required"])),
            exception_to=draw(st.just("all") | some),
            prevails_over=draw(some),
        )
        for name in NAMES
    ]
    return table(*rules)


def naive(t: Table) -> set[tuple[str, str]]:
    """The design's sentence over pairs, closed by trying every middle rule until nothing is new."""

    def closed(pairs: set[tuple[str, str]]) -> set[tuple[str, str]]:
        while True:
            more = {(a, d) for (a, b), (c, d) in product(pairs, pairs) if b == c} - pairs
            if not more:
                return pairs
            pairs = pairs | more

    declared = {(r.id, loser) for r in t.rules for loser in r.prevails_over}
    declared |= {(r.id, loser) for r in t.rules if r.exception_to != "all" for loser in r.exception_to}
    through_others = closed(declared)
    by_all = {
        (r.id, other.id)
        for r in t.rules
        for other in t.rules
        if r.exception_to == "all"
        and other.then != r.then
        and other.exception_to == ()
        and (other.id, r.id) not in through_others
    }
    return closed(declared | by_all)


@given(tables())
def test_it_is_the_naive_closure_and_refuses_exactly_the_cycles(t: Table) -> None:
    pairs = naive(t)
    if any(a == b for a, b in pairs):
        with pytest.raises(RulebookFaults):
            prevails(t)
    else:
        assert {(a, b) for a, losers in prevails(t).items() for b in losers} == pairs

"""What is remembered is used only where nothing that was looked at for it is otherwise."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ruling import small
from ruling.test_semantics import FEW
from shipped_book import rulebook
from yokebook import front_door
from yokebook.deciding import Context
from yokebook.exploring import Leaf
from yokebook.model import OneOf, Table, Value
from yokebook.remembering import Kept, Memo
from yokebook.ruling import rule_on
from yokebook.session import Outcome, Session
from yokebook.turning_on import Apart
from yokebook.values import Some, Span, Var, intersect, known

A, B, C = (Var("fact", ("contact", "c"), name) for name in "abc")
YES, NO = known(True), known(False)


def assuming(**spans: Span) -> Callable[[Var], Span | None]:
    return lambda var: spans.get(var.name)


def kept(result: str, *looked: Var) -> Kept[str]:
    return Kept(dict.fromkeys(looked), result, None)


class TestMemo:
    def test_a_result_holds_whatever_was_not_looked_at(self) -> None:
        memo: Memo[str] = Memo()
        memo.keep(kept("first", A), assuming(a=YES, b=NO))
        assert (found := memo.find(assuming(a=YES, b=YES))) is not None and found.result == "first"

    @pytest.mark.parametrize("other", [assuming(a=NO), assuming(), assuming(a=Some(frozenset({True, False})))])
    def test_it_does_not_hold_where_what_was_looked_at_is_otherwise(
        self, other: Callable[[Var], Span | None]
    ) -> None:
        memo: Memo[str] = Memo()
        memo.keep(kept("first", A), assuming(a=YES))
        assert memo.find(other) is None

    def test_what_is_looked_at_next_may_hang_on_what_was_seen(self) -> None:
        memo: Memo[str] = Memo()
        memo.keep(kept("yes", A, B), assuming(a=YES, b=YES))
        memo.keep(kept("no", A, C), assuming(a=NO, c=YES))
        memo.keep(kept("not known", A), assuming())
        for spans, result in [
            (assuming(a=YES, b=YES, c=NO), "yes"), (assuming(a=NO, b=NO, c=YES), "no"), (assuming(b=YES), "not known"),
        ]:  # fmt: skip
            assert (found := memo.find(spans)) is not None and found.result == result
        assert memo.find(assuming(a=YES, b=NO)) is None
        assert memo.find(assuming(a=NO, c=NO)) is None


class TestSession:
    """A ruling is the same in a session in which others were made before."""

    @settings(max_examples=50, deadline=None)
    @given(
        small.tables("lower", (*FEW, "reading.r"), most=3),
        small.tables("upper", ("answer.lower", "contact.x", "reading.r"), most=3),
        small.records(FEW),
    )
    def test_after_others(self, lower: Table, upper: Table, record: dict[str, Value]) -> None:
        shared = small.session([lower, upper], record)
        thing = shared.graph.things["contact"][0]
        for question in ("lower", "upper", "lower"):
            alone = small.session([lower, upper], record)
            one = rule_on(shared, small.QUESTIONS[question], thing, "small")
            other = rule_on(alone, small.QUESTIONS[question], alone.graph.things["contact"][0], "small")
            assert one == other

    def test_an_argued_reading_is_not_taken_for_the_plain_one(self) -> None:
        three = OneOf(frozenset({"three"}))
        tables = [small.table("upper", [small.rule("upper#1", [{"reading.r": three}], "high")], "low")]
        session = small.session(tables, {})
        thing = session.graph.things["contact"][0]
        law = session.in_force["small"].candidates[0].law
        assert law is not None
        words = [
            Context(session, {}, {"r": reading}, set()).decide(law, thing, "upper").word
            for reading in ("one", "three", "two")
        ]
        assert words == ["low", "high", "low"]

    def test_receptacles_that_are_alike_but_for_one_fact(self) -> None:
        """Two halves on one circuit, each behind a control of its own, one of which turns nothing off by itself."""
        text = """\
project: {name: Two halves}
complete: yes
spaces:
  - id: room
    yokes:
      - id: R1
        configuration: 5-15R
        device_type: duplex
        contacts:
          - {id: upper, position: upper, supply: controlled, circuit: P/1, controls: [S1]}
          - {id: lower, position: lower, supply: controlled, circuit: P/1, controls: [S2]}
controls:
  - {id: S1, kind: snap switch}
  - {id: S2, kind: snap switch, turns_off_by: presence}
circuits:
  - {id: P/1, breaker_amps: 15, volts: 120}
"""
        book = rulebook()
        code = book.edition("nfpa-70", "2023")
        graph = front_door.read_project(text, book.book, "halves.yaml")
        shared = code.session(graph)
        for question in ("control.acts", "marking.required", "marking.satisfied"):
            asked = book.book.questions[question]
            for thing in graph.things[asked.per]:
                alone = Session(graph, book.book, code.in_force)
                assert rule_on(shared, asked, thing, "electrical") == rule_on(alone, asked, thing, "electrical")


# ---- what decides ---------------------------------------------------------------------------------------------------

VARS = [Var("fact", ("contact", "c"), f"v{n}") for n in range(4)]
PARTS = [Some(frozenset(values)) for values in ("a", "b", "ab", "c")]
ASSUMED = st.fixed_dictionaries(
    {var: st.sampled_from(PARTS) for var in VARS[:2]}, optional={var: st.sampled_from(PARTS) for var in VARS[2:]}
)
LEAVES = st.lists(st.tuples(ASSUMED, st.sampled_from(small.OUTCOMES)), min_size=1, max_size=9)


def told_apart(one: Leaf, other: Leaf) -> list[Var]:
    return [
        var
        for var, span in one.assumed.items()
        if var in other.assumed and intersect(span, other.assumed[var]) is None
    ]


def pairs(leaves: list[Leaf]) -> list[list[Var]]:
    """What tells apart each two leaves with different outcomes."""
    return [
        told_apart(one, other)
        for i, one in enumerate(leaves)
        for other in leaves[i + 1 :]
        if one.outcome.key() != other.outcome.key()
    ]


@settings(max_examples=150, deadline=None)
@given(LEAVES)
def test_what_decides_is_as_defined(made: list[tuple[dict[Var, Span], str]]) -> None:
    """Pair by pair: a fact decides where two leaves with different outcomes are told apart by nothing else; enough are
    those facts, and for each pair that none of them tells apart the first that does."""
    context = Context(small.session([], {}), {}, {}, set())
    leaves = [Leaf(assumed, Outcome("ruled", word), context) for assumed, word in made]
    apart = Apart(leaves)
    used = list(dict.fromkeys(var for leaf in leaves for var in leaf.assumed))
    deciding = [var for var in used if any(set(pair) <= {var} for pair in pairs(leaves))]
    assert apart.deciding() & set(used) == set(deciding)
    enough = list(deciding)
    for pair in pairs(leaves):
        if pair and not any(var in enough for var in pair):
            enough.append(pair[0])
    assert apart.enough(deciding) == enough
    for var in used:
        left = [
            {other.outcome.word for other in leaves if var not in other.assumed or intersect(part, other.assumed[var])}
            for part in {leaf.assumed[var] for leaf in leaves if var in leaf.assumed}
        ]
        assert apart.worst(var) == max(map(len, left))

"""The evaluator against a naive one and against brute force over completions, on random tables."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ruling import small
from yokebook.exploring import Exploration, combinations, explore, live, raw_needs, under
from yokebook.load.faults import RulebookFaults
from yokebook.model import Table, Value
from yokebook.ruling import Ruling, rule_on
from yokebook.session import Session
from yokebook.values import Var

NAMES = ("contact.x", "contact.y", "contact.p", "contact.q", "contact.n", "contact.m")
NO = small.OneOf(frozenset({False}))
FEW = ("contact.x", "contact.p", "contact.n")


def ruled(tables: list[Table], question: str, record: dict[str, Value]) -> tuple[Session, Ruling, Exploration]:
    """The engine's ruling; tables that declare a cycle are passed over."""
    try:
        session = small.session(tables, record)
        thing = session.graph.things["contact"][0]
        found = explore(session, question, thing, "small", {})
        return session, rule_on(session, small.QUESTIONS[question], thing, "small"), found
    except RulebookFaults:
        pytest.skip("a cycle of exceptions is refused at load")


class TestFullRecord:
    """Fires = in `where`, in no `but_not`. Standing = fired and no fired rule prevails over it. Outcome = the standing
    rules' common outcome; unequal = conflict; nothing fires = none_fires; if that is forbidden: silent."""

    @settings(max_examples=200, deadline=None)
    @given(small.tables("upper", NAMES), small.records(NAMES, full=True))
    def test_agrees_with_the_definition(self, table: Table, record: dict[str, Value]) -> None:
        _, ruling, _ = ruled([table], "upper", record)
        status, word = small.naive({"upper": table}, "upper", record)
        assert (ruling.status, ruling.outcome or ruling.status) == ("settled" if status == "ruled" else status, word)

    @settings(max_examples=60, deadline=None)
    @given(small.tables("upper", NAMES), small.records(NAMES, full=True), st.randoms(use_true_random=False))
    def test_written_order_never_matters(self, table: Table, record: dict[str, Value], random: object) -> None:
        rules = list(table.rules)
        random.shuffle(rules)  # type: ignore[attr-defined]
        other = small.table("upper", rules, table.none_fires.then)
        assert ruled([table], "upper", record)[1].word == ruled([other], "upper", record)[1].word


class TestMissingFacts:
    """P is the outcomes over the completions of the facts; a fact not given is never a default and never false."""

    @settings(max_examples=120, deadline=None)
    @given(small.tables("upper", FEW), small.records(FEW))
    def test_outcomes_are_those_of_some_completion(self, table: Table, record: dict[str, Value]) -> None:
        _, ruling, found = ruled([table], "upper", record)
        due = {small.naive({"upper": table}, "upper", full)[1] for full in small.completions(record, FEW)}
        assert set(ruling.possible) == due
        assert found.exact and ruling.possible_is == "exact"
        if len(due) == 1 and ruling.status == "settled":
            assert due == {ruling.outcome}
        else:
            assert (ruling.status == "cannot tell") == (len(due) > 1)

    @settings(max_examples=120, deadline=None)
    @given(small.tables("upper", FEW), small.records(FEW))
    def test_asks_exactly_the_facts_that_can_matter(self, table: Table, record: dict[str, Value]) -> None:
        """A fact is live where two completions that differ only in it are ruled differently: by brute force."""
        _, ruling, _ = ruled([table], "upper", record)
        missing = [name for name in FEW if name not in record]
        outcome = {
            tuple(full[n] for n in FEW): small.naive({"upper": table}, "upper", full)[1]
            for full in small.completions(record, FEW)
        }
        due = set()
        for name in missing:
            i = FEW.index(name)
            by_rest: dict[tuple[object, ...], set[str]] = {}
            for point, word in outcome.items():
                by_rest.setdefault(point[:i] + point[i + 1 :], set()).add(word)
            if any(len(words) > 1 for words in by_rest.values()):
                due.add(name)
        assert {ask["fact"] for ask in ruling.ask} == due

    @settings(max_examples=60, deadline=None)
    @given(small.tables("upper", FEW), small.records(FEW, full=True))
    def test_taking_facts_away_never_makes_a_settled_ruling_wrong(self, table: Table, record: dict[str, Value]) -> None:
        _, full, _ = ruled([table], "upper", record)
        for name in record:
            part = {k: v for k, v in record.items() if k != name}
            _, ruling, _ = ruled([table], "upper", part)
            assert full.word in (ruling.word, *ruling.possible)
            if ruling.status == "settled":
                assert ruling.word == full.word


class TestChains:
    """An answer that a cell tests directly is ruled jointly on raw facts: outcomes are never passed up as sets."""

    @settings(max_examples=120, deadline=None)
    @given(
        small.tables("lower", ("contact.x", "contact.p"), most=3),
        small.tables("upper", ("answer.lower", "contact.x", "contact.n"), most=4),
        small.records(FEW),
    )
    def test_joint_outcomes_are_exact(self, lower: Table, upper: Table, record: dict[str, Value]) -> None:
        tables = {"lower": lower, "upper": upper}
        _, ruling, found = ruled([lower, upper], "upper", record)
        due = {small.naive(tables, "upper", full)[1] for full in small.completions(record, FEW)}
        assert set(ruling.possible) == due
        assert found.exact
        if len(due) == 1:
            assert ruling.outcome in due or ruling.status in due


class TestReadings:
    """For each combination of live published readings let P be the outcomes. Every P the same single outcome: that;
    every P single but not the same: readings differ; otherwise cannot tell. An argued alternative never changes it."""

    NAMES = ("reading.r", "contact.x", "contact.p")

    @settings(max_examples=120, deadline=None)
    @given(small.tables("upper", NAMES), small.records(("contact.x", "contact.p")))
    def test_the_word(self, table: Table, record: dict[str, Value]) -> None:
        _, ruling, _ = ruled([table], "upper", record)
        facts = ("contact.x", "contact.p")

        def words(alternative: str) -> set[str]:
            return {
                small.naive({"upper": table}, "upper", {**full, "reading.r": alternative})[1]
                for full in small.completions(record, facts)
            }

        each = [words(alternative) for alternative in small.PUBLISHED]
        together = set().union(*each)
        if len(together) == 1:
            word = together.pop()
            assert ruling.word == word
            shown = {word}
        elif all(len(p) == 1 for p in each):
            assert ruling.status == "readings differ" and ruling.ask == []
            shown = together
        else:
            assert ruling.status == "cannot tell"
            shown = together
        held = {word for row in ruling.also_held for word in row["outcomes"]}
        assert held == words("three") - shown

    def test_a_fault_under_an_argued_alternative_is_held_beside_every_word(self) -> None:
        """Conflict is an outcome like any other: not hidden where all words of the question are shown already."""
        a, not_a = small.OneOf(frozenset({"a"})), small.NoneOf(frozenset({"a"}))
        middle = (
            {"reading.r": small.OneOf(frozenset({"one"})), "contact.x": a},
            {"reading.r": small.OneOf(frozenset({"three"})), "contact.x": not_a, "contact.p": NO},
        )
        rules = [
            small.rule("upper#0", [{}], "low"),
            small.rule("upper#1", middle, "middle", exception_to="all"),
            small.rule("upper#2", [{"contact.x": not_a}], "high", exception_to="all"),
        ]
        _, ruling, _ = ruled([small.table("upper", rules, "low")], "upper", {})
        assert (ruling.status, ruling.possible) == ("cannot tell", ["low", "middle", "high"])
        assert [(held["alternative"], held["outcomes"]) for held in ruling.also_held] == [("three", ["conflict"])]

    def test_combinations_and_outcomes_under_each(self) -> None:
        box = {"reading.r": small.OneOf(frozenset({"two"}))}
        table = small.table("upper", [small.rule("upper#0", [box], "high")], "low")
        _, ruling, found = ruled([table], "upper", {})
        assert [(r, [o.word for o in under(found, r)]) for r in combinations(found, {"r": ["one", "two"]})] == [
            ({"r": "one"}, ["low"]),
            ({"r": "two"}, ["high"]),
        ]
        assert ruling.under == [
            {"readings": {"r": "one"}, "outcomes": ["low"]},
            {"readings": {"r": "two"}, "outcomes": ["high"]},
        ]
        assert ruling.readings_open[0]["reading"] == "r"
        assert live(found.leaves, True) == [Var("reading", ("", ""), "r")]
        assert raw_needs(found, live(found.leaves, False)) == []

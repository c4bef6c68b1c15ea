"""Too many parts to rule on one by one: told early, and ruled on by the word alone, with the same outcomes."""

from __future__ import annotations

from dataclasses import replace
from unittest import mock

import pytest
from hypothesis import given, settings

from ruling import small
from ruling.test_semantics import FEW
from yokebook import assumptions, counting
from yokebook.exploring import COUNTED_AFTER, Exploration, explore, live
from yokebook.model import OneOf, Rule, Table, Value
from yokebook.ruling import rule_on
from yokebook.session import Session

YES = OneOf(frozenset({True}))


def explored(session: Session, question: str, *, by_word: bool = False) -> Exploration:
    thing = session.graph.things["contact"][0]
    return explore(session, question, thing, "small", {}, by_word=by_word)


def words(found: Exploration) -> set[str]:
    return {leaf.outcome.word for leaf in found.leaves}


class TestTheWordAlone:
    """Word by word the outcomes are those of the definition over every completion, as they are rule by rule."""

    @settings(max_examples=70, deadline=None)
    @given(small.tables("upper", FEW), small.records(FEW))
    def test_outcomes_are_those_of_some_completion(self, table: Table, record: dict[str, Value]) -> None:
        found = explored(small.session([table], record), "upper", by_word=True)
        due = {small.naive({"upper": table}, "upper", full)[1] for full in small.completions(record, FEW)}
        assert words(found) == due

    @settings(max_examples=70, deadline=None)
    @given(
        small.tables("lower", ("contact.x", "contact.p"), most=3),
        small.tables("upper", ("answer.lower", "contact.x", "contact.n"), most=4),
        small.records(FEW),
    )
    def test_through_a_lower_answer(self, lower: Table, upper: Table, record: dict[str, Value]) -> None:
        """A lower table at fault is as possible as it is rule by rule."""
        found = explored(small.session([lower, upper], record), "upper", by_word=True)
        tables = {"lower": lower, "upper": upper}
        assert words(found) == {small.naive(tables, "upper", full)[1] for full in small.completions(record, FEW)}

    @settings(max_examples=60, deadline=None)
    @given(small.tables("upper", FEW), small.records(FEW))
    def test_the_same_facts_decide(self, table: Table, record: dict[str, Value]) -> None:
        session = small.session([table], record)
        by_rule, by_word = explored(session, "upper"), explored(session, "upper", by_word=True)
        assert set(live(by_rule.leaves, False)) == set(live(by_word.leaves, False))

    def test_one_session_keeps_the_two_apart(self) -> None:
        """Rules that stand beside the one that settles the word are told rule by rule, whichever comes first."""
        rules = [small.rule(f"upper#{n}", [{f"contact.{n}": YES}], "high") for n in ("p", "q")]
        session = small.session([small.table("upper", rules, "low")], {"contact.p": True})
        by_word = explored(session, "upper", by_word=True)
        by_rule = explored(session, "upper")
        assert [leaf.outcome.standing for leaf in by_word.leaves] == [("upper#p",)]
        assert sorted(leaf.outcome.standing for leaf in by_rule.leaves) == [("upper#p",), ("upper#p", "upper#q")]


NUMBERS = ("contact.n", "contact.m", "contact.p", "contact.q")
NAMES = [f"contact.f{n:02}" for n in range(12)]


def independent(count: int) -> tuple[Session, list[str]]:
    """So many rules, each on a fact of its own, all for the same word: 2 ** count parts, 2 ** count - 1 cuts."""
    names = NAMES[:count]
    facts = {name: small.fact(name.removeprefix("contact."), "yes_no") for name in names}
    book = replace(small.book(), facts=facts)
    rules: list[Rule] = [small.rule(f"upper#{name[-2:]}", [{name: YES}], "high") for name in names]
    return small.session([small.table("upper", rules, "low")], {}, book), names


class TestTooMany:
    @settings(max_examples=80, deadline=None)
    @given(
        small.tables("lower", ("contact.x", "contact.p"), most=3),
        small.tables("upper", ("answer.lower", *NUMBERS), most=6),
        small.records(FEW),
    )
    def test_parts_counted_together_are_alike(self, lower: Table, upper: Table, record: dict[str, Value]) -> None:
        """Whatever is taken for alike, the count stays that of trying part by part: told from one below it on."""
        session = small.session([lower, upper], record)
        explored(session, "upper")
        tried = session.tried
        law = session.in_force["small"].candidates[0].law
        assert law is not None
        thing = session.graph.things["contact"][0]
        for budget, told in ((tried - 1, True), (tried, False)):
            with mock.patch.object(counting, "BUDGET", budget):
                assert counting.too_many(session, law, thing, "upper", {}, {}) is told

    @pytest.mark.parametrize("count", [1, 2, 5, 10])
    def test_the_count_is_what_trying_takes(self, count: int, monkeypatch: pytest.MonkeyPatch) -> None:
        """Told to be too many from one below, and not from the number itself."""
        session, _ = independent(count)
        law = session.in_force["small"].candidates[0].law
        assert law is not None
        thing = session.graph.things["contact"][0]
        for budget, told in ((2**count - 2, True), (2**count - 1, False)):
            monkeypatch.setattr(counting, "BUDGET", budget)
            assert counting.too_many(session, law, thing, "upper", {}, {}) is told

    def test_what_stands_in_a_lower_table_makes_parts_unlike(self) -> None:
        """x is cut in three. a: high whatever q is, so q is cut, and p under both: 3. b: q makes a conflict, and p is
        cut before that is told: 2. c: only with q it is high, and p matters: 2. With the cut of x that is 8."""
        lower = small.table(
            "lower",
            [
                small.rule("lower#1", [{"contact.x": OneOf(frozenset({"a"}))}], "high"),
                small.rule("lower#2", [{"contact.x": OneOf(frozenset({"b"}))}], "low"),
                small.rule("lower#3", [{"contact.q": YES}], "high"),
            ],
            "low",
        )
        box = {"answer.lower": OneOf(frozenset({"high"})), "contact.p": YES}
        session = small.session([lower, small.table("upper", [small.rule("upper#1", [box], "high")], "low")], {})
        law = session.in_force["small"].candidates[0].law
        assert law is not None
        thing = session.graph.things["contact"][0]
        for budget, told in ((7, True), (8, False)):
            with mock.patch.object(counting, "BUDGET", budget):
                assert counting.too_many(session, law, thing, "upper", {}, {}) is told
        explored(session, "upper")
        assert session.tried == 8

    def test_within_the_budget_it_is_ruled_rule_by_rule(self) -> None:
        session, _ = independent(9)
        found = explored(session, "upper")
        assert (found.decided, found.by_word, len(found.leaves)) == (True, False, 2**9)

    def test_past_the_budget_it_is_ruled_by_the_word(self, monkeypatch: pytest.MonkeyPatch) -> None:
        """One yes is enough for `high`: of 12 facts each is asked, and only all of them no give `low`."""
        monkeypatch.setattr(assumptions, "BUDGET", 2**11)
        monkeypatch.setattr(counting, "BUDGET", 2**11)
        session, names = independent(12)
        thing = session.graph.things["contact"][0]
        ruling = rule_on(session, small.QUESTIONS["upper"], thing, "small")
        assert (ruling.status, ruling.possible) == ("cannot tell", ["low", "high"])
        assert [ask["fact"] for ask in ruling.ask] == names
        found = explored(session, "upper")
        assert (found.by_word, len(found.leaves)) == (True, 12 + 1)

    def test_what_is_hopeless_is_given_up_early(self, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr(assumptions, "BUDGET", 2**11)
        monkeypatch.setattr(counting, "BUDGET", 2**11)
        tried: list[int] = []
        original = assumptions.Assumptions.count

        def counted(self: assumptions.Assumptions) -> None:
            original(self)
            tried.append(self.session.tried)

        monkeypatch.setattr(assumptions.Assumptions, "count", counted)
        explored(independent(12)[0], "upper")
        assert max(tried) == COUNTED_AFTER

"""Order and names never matter, an explanation is true, marks are the weakest, and too much to try is said."""

from __future__ import annotations

import random as random_module
from collections.abc import Mapping
from dataclasses import replace
from fractions import Fraction
from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ruling import places, small
from ruling.places import only
from yokebook import assumptions
from yokebook import session as session_module
from yokebook.explain import explain_on, used_facts
from yokebook.load.faults import RulebookFaults
from yokebook.model import (
    Box,
    ByReading,
    Calculation,
    Comparison,
    Constant,
    Impossible,
    NamedNumber,
    NumberValue,
    Of,
    Over,
    Rule,
    Table,
    Value,
    Within,
)
from yokebook.ruling import Ruling, rule_on

NAMES = ("contact.x", "contact.p", "contact.n", "reading.r")
FEW = ("contact.x", "contact.p", "contact.n")


def shuffled(table: Table, random: random_module.Random, names: Mapping[str, str]) -> Table:
    """The same table with rules, boxes and cells written in another order and rules called otherwise."""

    def mixed(box: Box) -> Box:
        cells = list(box.items())
        random.shuffle(cells)
        return dict(cells)

    def of(r: Rule) -> Rule:
        where, but_not = [mixed(b) for b in r.where], [mixed(b) for b in r.but_not]
        random.shuffle(where)
        random.shuffle(but_not)
        links = r.exception_to if r.exception_to == "all" else tuple(names[i] for i in r.exception_to)
        return replace(r, id=names[r.id], where=tuple(where), but_not=tuple(but_not), exception_to=links)

    rules = [of(r) for r in table.rules]
    random.shuffle(rules)
    return replace(table, rules=tuple(rules))


def ruling_of(table: Table, record: Mapping[str, Value], explained: bool = False) -> Ruling:
    """The ruling of `upper`; tables with a cycle are passed over."""
    try:
        session = small.session([table], record)
        thing = session.graph.things["contact"][0]
        make = explain_on if explained else rule_on
        return make(session, small.QUESTIONS["upper"], thing, "small")
    except RulebookFaults:
        pytest.skip("a cycle of exceptions is refused at load")


def looked_at(table: Table, record: Mapping[str, Value]) -> list[str]:
    """The facts of the record that ruling on it looks at."""
    session = small.session([table], record)
    thing = session.graph.things["contact"][0]
    return [name for _, name in used_facts(session, small.QUESTIONS["upper"], thing, "small")]


class TestOrderAndNames:
    """Total, deterministic, independent of written order; an id is a name and nothing more."""

    @settings(max_examples=100, deadline=None)
    @given(small.tables("upper", NAMES, most=4), small.records(FEW), st.randoms(use_true_random=False))
    def test_same_ruling(self, table: Table, record: dict[str, Value], random: random_module.Random) -> None:
        ids = [r.id for r in table.rules]
        others = [f"upper#z{i}" for i in range(len(ids))]
        random.shuffle(others)
        names = dict(zip(ids, others, strict=True))
        one = ruling_of(table, record)
        two = ruling_of(shuffled(table, random, names), dict(reversed(record.items())))
        assert (one.status, one.word, one.possible) == (two.status, two.word, two.possible)
        assert {a["fact"] for a in one.ask} == {a["fact"] for a in two.ask}
        assert [(h["alternative"], h["outcomes"]) for h in one.also_held] == [
            (h["alternative"], h["outcomes"]) for h in two.also_held
        ]
        if one.status == "settled":
            assert {names[r["rule"]] for r in one.standing} == {r["rule"] for r in two.standing}

    @settings(max_examples=30, deadline=None)
    @given(small.tables("upper", NAMES, most=3), small.records(FEW))
    def test_twice_is_the_same_in_every_part(self, table: Table, record: dict[str, Value]) -> None:
        assert ruling_of(table, record, True).to_dict() == ruling_of(table, record, True).to_dict()


def typed(fact: str, shown: str) -> Value:
    """A shown value as its fact's."""
    if small.FACTS[fact].type == "number":
        return Fraction(shown)
    return {"yes": True, "no": False}.get(shown, shown)


def in_words(fact: str, value: Value, words: str) -> bool:
    """Whether a value is one of those that `to` names: `a`, `no`, `2`, `over 1 and at most 2`, parts joined by `or`."""

    def one(part: str) -> bool:
        for bound in part.split(" and "):
            for word, holds in (
                ("at least ", lambda v, b: v >= b), ("at most ", lambda v, b: v <= b),
                ("over ", lambda v, b: v > b), ("under ", lambda v, b: v < b),
            ):  # fmt: skip
                if bound.startswith(word):
                    if not holds(value, Fraction(bound.removeprefix(word))):
                        return False
                    break
            else:
                if typed(fact, bound) != value:
                    return False
        return True

    return any(one(part) for part in words.split(" or "))


def moved(change: Mapping[str, str], record: Mapping[str, Value]) -> list[Value]:
    """The values that a change is to."""
    fact = change["fact"]
    values = [v for v in small.COMPLETIONS[fact] if in_words(fact, v, change["to"])]
    assert values and record[fact] not in values
    return values


class TestExplanation:
    """What would change the outcome: each confirmed by ruling again. Facts enough for it: they force it by themselves,
    and none can be left out."""

    @settings(max_examples=100, deadline=None)
    @given(small.tables("upper", FEW, most=4), small.records(FEW, full=True))
    def test_changes_and_sufficient_facts(self, table: Table, record: dict[str, Value]) -> None:
        ruling = ruling_of(table, record, True)
        due = small.naive({"upper": table}, "upper", record)[1]
        assert ruling.would_change is not None and ruling.sufficient is not None
        for change in ruling.would_change:
            changed = [{**record, change["fact"]: v} for v in moved(change, record)]
            if (other := change.get("together_with")) is not None:
                changed = [{**each, other["fact"]: v} for each in changed for v in moved(other, record)]
            words = {small.naive({"upper": table}, "upper", each)[1] for each in changed}
            assert words == {change["outcome"]} and change["outcome"] != due
        single = [
            small.naive({"upper": table}, "upper", {**record, fact: v})
            for fact in record
            for v in small.COMPLETIONS[fact]
        ]
        if any("together_with" in change for change in ruling.would_change):
            assert {word for status, word in single if status == "ruled"} <= {due}

        def words_with(kept: Mapping[str, Value]) -> set[str]:
            return {small.naive({"upper": table}, "upper", full)[1] for full in small.completions(kept, FEW)}

        kept = {f["fact"]: record[f["fact"]] for f in ruling.sufficient}
        assert words_with(kept) == {due}
        assert ruling.sufficient_is == "smallest"
        for size in range(len(kept)):
            for few in combinations(looked_at(table, record), size):
                assert words_with({k: record[k] for k in few}) != {due}

    def test_a_fact_not_looked_at_is_not_taken_for_granted(self) -> None:
        """x is not a, so y is not looked at; without x it would be y that keeps the rule from firing."""
        box = {"contact.x": only("a"), "contact.y": only("a")}
        table = small.table("upper", [small.rule("upper#0", [box], "high")], "low")
        ruling = ruling_of(table, {"contact.x": "b", "contact.y": "b"}, True)
        assert ruling.sufficient is not None and len(ruling.sufficient) == 1


def marked(rule: Rule, mark: str) -> Rule:
    """The rule checked so."""
    return replace(rule, checked=replace(small.SEEN, mark=mark))  # type: ignore[arg-type]


class TestMarks:
    """A ruling rests on the standing rules, the fired rules they defeat, and every value, calculation, reading and
    lower answer these used; where nothing fires, on `none_fires`. The weakest mark counts."""

    def test_through_every_completion(self) -> None:
        """The outcome is high for every x, for one of them through a lower rule that is only assumed."""
        rules = [
            small.rule("lower#0", [{"contact.x": only("a", "b")}], "high"),
            marked(small.rule("lower#1", [{"contact.x": only("c")}], "middle"), "assumed"),
        ]
        lower = small.table("lower", rules, "low")
        box = {"answer.lower": only("high", "middle")}
        upper = small.table("upper", [small.rule("upper#0", [box, {"answer.lower": only("low")}], "high")], "low")
        session = small.session([lower, upper], {})
        ruling = rule_on(session, small.QUESTIONS["upper"], session.graph.things["contact"][0], "small")
        assert (ruling.outcome, ruling.checked["mark"], ruling.not_checked) == ("high", "assumed", True)
        assert ruling.word == "would be high"

    def test_what_a_but_not_box_used(self) -> None:
        lower = places.none_fires(small.table("lower", [], "low"), "assumed")
        but_not = [{"answer.lower": only("high")}]
        upper = small.table("upper", [small.rule("upper#0", [{}], "high", but_not)], "low")
        session = small.session([lower, upper], {})
        ruling = rule_on(session, small.QUESTIONS["upper"], session.graph.things["contact"][0], "small")
        assert ruling.checked["mark"] == "assumed"

    def test_two_documents_with_rules_of_one_name(self) -> None:
        book = places.book()
        here = small.table("lower", [small.rule("lower#0", [{}], "high")], "low")
        there = small.table("lower", [marked(small.rule("lower#0", [{}], "high"), "assumed")], "low")
        box = {"answer.lower": only("high"), "answer.energy.lower": only("high")}
        upper = small.table("upper", [small.rule("upper#0", [box], "high")], "low")
        stands = places.stands(places.law(book, [upper, here]), places.law(book, [there], "energy"))
        assert places.Place(book, stands).ruling().checked["mark"] == "assumed"

    def test_not_what_another_reading_would_have_used(self) -> None:
        """Chosen by what is published alone: the alternative two takes an assumed calculation, one does not."""
        weak = places.calculation("contact.weak", Constant(Fraction(1)), "number", "assumed")
        by_reading = ByReading("r", {"one": Of("contact.n"), "two": Of("contact.weak")})
        calc = places.calculation("contact.f", by_reading, "number")
        readings = [replace(places.reading("r"), alternatives={"one": places.reading("r").alternatives["one"]})]
        book = places.book({}, [weak, calc], readings)
        table = small.table("upper", [small.rule("upper#0", [{"contact.f": Within(low=Fraction(1))}], "high")], "low")
        place = places.Place(book, places.stands(places.law(book, [table])), {"contact.n": Fraction(2)})
        assert place.ruling().checked["mark"] == "seen"

    def test_a_control_that_does_not_matter(self) -> None:
        """One control acts by a rule that was seen; the other, of which nothing is known, decides nothing."""
        facts = places.facts_of("control", small.FACTS["contact.x"])
        box = ({"answer.acts": only("high")},)
        figure = places.calculation("contact.f", Over("any", "contact.controls", ({},), box, None))
        book = places.book(facts, [figure], questions={"upper": "contact", "acts": "control"})
        rules = [
            small.rule("acts#0", [{"control.x": only("a")}], "high"),
            marked(small.rule("acts#1", [{"control.x": only("b")}], "high"), "assumed"),
        ]
        upper = small.table("upper", [small.rule("upper#0", [{"contact.f": only(True)}], "high")], "low")
        stands = places.stands(places.law(book, [upper, small.table("acts", rules, "low")]))
        assert places.Place(book, stands, {}, [{"control.x": "a"}, {}]).ruling().checked["mark"] == "seen"
        both = places.Place(book, stands, {}, [{"control.x": "b"}, {}]).ruling()
        assert (both.word, both.checked["mark"]) == ("would be high", "assumed")


class TestNotGivenReferences:
    """What a reference that nobody gave leads to is not known; where there is nothing, its facts do not apply."""

    def place(self, load: Mapping[str, Value] | str | None, cannot: Box | None = None) -> places.Place:
        facts = places.facts_of("load", small.FACTS["contact.p"], small.FACTS["contact.q"])
        book = places.book(facts)
        if cannot is not None:
            book = replace(book, impossible=(Impossible("load", cannot, "so it is", small.AT),))
        box = {"load.p": only(True), "load.q": only(True)}
        table = small.table("upper", [small.rule("upper#0", [box], "high")], "low")
        return places.Place(book, places.stands(places.law(book, [table])), load=load)

    def test_none_not_given_and_given(self) -> None:
        assert self.place(None).ruling().outcome == "low"
        assert self.place({"load.p": True, "load.q": True}).ruling().outcome == "high"
        open_ = self.place("not given").ruling()
        assert (open_.status, open_.possible) == ("cannot tell", ["low", "high"])
        assert {a["fact"] for a in open_.ask} == {"contact.load", "load.p", "load.q"}

    def test_what_cannot_be_cannot_be_of_a_thing_nobody_named(self) -> None:
        both = {"load.p": only(True), "load.q": only(True)}
        assert self.place("not given", both).ruling().outcome == "low"


class TestBudget:
    """Within a state budget; past it, say so, and never as a settled ruling."""

    def test_says_that_it_did_not_decide(self, monkeypatch: pytest.MonkeyPatch) -> None:
        assert assumptions.BUDGET == session_module.BUDGET
        monkeypatch.setattr(assumptions, "BUDGET", 1)
        box = {"contact.x": only("a"), "contact.p": only(True), "contact.n": Within(low=Fraction(1))}
        ruling = ruling_of(small.table("upper", [small.rule("upper#0", [box], "high")], "low"), {})
        assert (ruling.status, ruling.outcome, ruling.possible_is) == ("not decided", None, "not decided")
        assert set(ruling.possible) == set(small.OUTCOMES)


def test_a_named_number_of_a_comparison_is_rested_on() -> None:
    """The figure is compared with a number of the edition that is only assumed."""
    calc = Calculation(
        "contact.f", "contact", "yes_no", "", None, {}, Comparison(Of("contact.n"), "at_least", NamedNumber("v")), None,
        small.SEEN, small.AT,
    )  # fmt: skip
    assumed = replace(small.SEEN, mark="assumed")
    number = NumberValue("v", Fraction(1), None, "1", "neither", "", small.CITE, assumed, small.AT)
    book = places.book({}, [calc])
    law = places.law(book, [small.table("upper", [small.rule("upper#0", [{"contact.f": only(True)}], "high")], "low")])
    law = type(law)(replace(law.resolved, values={"v": number}), book)
    ruling = places.Place(book, places.stands(law), {"contact.n": Fraction(2)}).ruling()
    assert (ruling.outcome, ruling.checked["mark"]) == ("high", "assumed")

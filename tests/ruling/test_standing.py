"""What a settled ruling gives as its reason."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from ruling import small
from yokebook.law import Candidate, InForce, Law
from yokebook.model import Checked, NamedNumber, NumberValue, Resolved, Within
from yokebook.ruling import rule_on

YES = small.OneOf(frozenset({True}))


class TestReasonOfASettledRuling:
    """A rule that stands in every completion gives the outcome by itself; one that stands beside it only where
    something not given is assumed is no reason, and its mark does not weaken the ruling."""

    def test_only_what_stands_everywhere_is_the_reason(self) -> None:
        always = small.rule("upper#always", [{}], "high")
        perhaps = replace(small.rule("upper#perhaps", [{"contact.p": YES}], "high"), checked=Checked("memory", "m"))
        session = small.session([small.table("upper", [always, perhaps], "low")], {})
        ruling = rule_on(session, small.QUESTIONS["upper"], session.graph.things["contact"][0], "small")
        assert (ruling.word, [rule["rule"] for rule in ruling.standing]) == ("high", ["upper#always"])
        assert ruling.checked["mark"] == "seen"

    def test_where_different_rules_give_it_all_are(self) -> None:
        one = small.rule("upper#one", [{"contact.p": YES}], "high")
        other = replace(
            small.rule("upper#other", [{"contact.p": small.OneOf(frozenset({False}))}], "high"),
            checked=Checked("memory", "m"),
        )
        session = small.session([small.table("upper", [one, other], "low")], {})
        ruling = rule_on(session, small.QUESTIONS["upper"], session.graph.things["contact"][0], "small")
        assert (ruling.word, [rule["rule"] for rule in ruling.standing]) == ("high", ["upper#one", "upper#other"])
        assert ruling.checked["mark"] == "memory"


class TestMarks:
    """A ruling rests on every value that its standing rules use: the weakest mark counts."""

    def test_a_named_number_from_memory_makes_the_ruling_rest_on_memory(self) -> None:
        limit = NumberValue(
            "limit", Fraction(2), None, "2", "lower", "", small.CITE, Checked("memory", "as remembered"), small.AT
        )
        within = small.rule("upper#within", [{"contact.n": Within(high=NamedNumber("limit"))}], "high")
        session = small.session([small.table("upper", [within], "low")], {"contact.n": Fraction(2)})
        resolved = Resolved(
            small.DOCUMENT, "1", None, None, {"upper": small.table("upper", [within], "low")}, {"limit": limit}, (), (),
            "none",
        )  # fmt: skip
        law = Law(resolved, session.book)
        session.in_force = {"small": InForce("small", (Candidate("entry", "in force", law, ""),))}
        ruling = rule_on(session, small.QUESTIONS["upper"], session.graph.things["contact"][0], "small")
        assert ruling.outcome == "high"
        assert ruling.checked == {
            "mark": "memory",
            "because": [{"what": "value.limit", "mark": "memory", "source": "as remembered"}],
        }

    def test_of_two_editions_that_may_govern_the_weaker_mark_counts(self) -> None:
        """A date not given leaves both entries possible: the ruling rests on the rule as each of them has it."""
        seen = small.rule("upper#r", [{}], "high")
        remembered = replace(seen, checked=Checked("memory", "as remembered"))
        for first, second in ((seen, remembered), (remembered, seen)):
            session = small.session([small.table("upper", [first], "low")], {})
            candidates = []
            for name, row in (("one", first), ("two", second)):
                tables = {"upper": small.table("upper", [row], "low")}
                resolved = Resolved(small.DOCUMENT, "1", None, None, tables, {}, (), (), "none")
                candidates.append(Candidate(name, "in force", Law(resolved, session.book), ""))
            session.in_force = {"small": InForce("small", tuple(candidates))}
            ruling = rule_on(session, small.QUESTIONS["upper"], session.graph.things["contact"][0], "small")
            assert (ruling.outcome, ruling.checked["mark"]) == ("high", "memory")

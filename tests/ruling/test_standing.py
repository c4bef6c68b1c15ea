"""What a settled ruling gives as its reason."""

from __future__ import annotations

from dataclasses import replace

from ruling import small
from yokebook.model import Checked
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

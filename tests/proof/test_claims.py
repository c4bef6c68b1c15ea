"""Regions held against small tables: where a table says something else than is due, and regions in which nothing is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from proof.one_table import TWO, TWO_RULES, YES, law
from ruling import small
from yokebook.load.faults import RulebookFaults
from yokebook.model import Box, Impossible, OneOf, Table, Within
from yokebook.model.claimed import Claim
from yokebook.prevails import prevails
from yokebook.proof.claim_text import region_text
from yokebook.proof.claims import Broken, Named, broken_claims

A = OneOf(frozenset({"a"}))


def claim(expect: str, where: Sequence[Box], but_not: Sequence[Box] = ()) -> Claim:
    boxes = tuple(where), tuple(but_not)
    return Claim(expect, "", "", None, "upper", "small", ("1",), None, {}, {}, *boxes, expect, small.AT)


def broken(table: Table, *claims: Claim, impossible: Sequence[Impossible] = ()) -> list[Broken]:
    book = replace(small.book(), impossible=tuple(impossible))
    return broken_claims(Named("small 1", law(table, book)), "upper", claims, book)


def test_a_region_that_holds_is_not_told() -> None:
    """Up to 2 the exception says low, unless m is 3; there a lettered one with p is high."""
    lettered = claim("high", [{"contact.x": A, "contact.p": YES, "contact.m": OneOf(frozenset({Fraction(3)}))}])
    low = claim("low", [{"contact.n": Within(high=TWO)}], [{"contact.m": OneOf(frozenset({Fraction(3)}))}])
    assert broken(TWO_RULES, lettered, low) == []


def test_a_region_that_reaches_past_a_bound_is_told_with_what_is_said_there() -> None:
    over = claim("low", [{"contact.x": A, "contact.p": YES, "contact.m": OneOf(frozenset({Fraction(0)}))}])
    (found,) = broken(TWO_RULES, over)
    assert (found.law, found.says, found.claim) == ("small 1", ("ruled", "high"), over)
    assert region_text(found.space, found.region) == (
        "    where: {contact.n: {more_than: 2, at_most: 4}, contact.m: 0, contact.x: a, contact.p: yes}"
    )


def test_conflict_and_silence_are_never_what_is_due() -> None:
    rules = [small.rule("upper#one", [{"contact.x": A}], "low"), small.rule("upper#two", [{"contact.p": YES}], "high")]
    table = small.table("upper", rules)
    (conflict,) = broken(table, claim("low", [{"contact.x": A}]))
    assert conflict.says == ("conflict", "")
    (silent,) = broken(table, claim("low", [{"contact.p": OneOf(frozenset({False}))}]))
    assert silent.says == ("silent", "")


def test_what_cannot_occur_does_not_count() -> None:
    never = Impossible("contact", {"contact.x": A, "contact.q": YES}, "so it is", small.AT)
    rule = small.rule("upper#q", [{"contact.q": YES}], "low")
    table = small.table("upper", [rule], "high")
    lettered = claim("high", [{"contact.x": A}])
    assert [found.says for found in broken(table, lettered)] == [("ruled", "low")]
    assert broken(table, lettered, impossible=[never]) == []


@pytest.mark.parametrize(
    "nothing",
    [
        claim("high", [{"contact.x": A, "contact.q": YES}]),
        claim("high", [{"contact.n": Within(low=Fraction(5))}]),
        claim("high", [{"contact.x": A}], [{"contact.x": A}]),
    ],
    ids=["ruled out", "out of its domain", "left out again"],
)
def test_a_region_in_which_nothing_can_occur_is_told(nothing: Claim) -> None:
    never = Impossible("contact", {"contact.x": A, "contact.q": YES}, "so it is", small.AT)
    found = broken(small.table("upper", [], "high"), nothing, impossible=[never])
    assert [each.says for each in found] == [("empty", "")]


NAMES = ("contact.x", "contact.p", "contact.n", "contact.m")


@settings(max_examples=80, deadline=None)
@given(small.tables("upper", NAMES), small.boxes(NAMES), st.sampled_from(small.OUTCOMES))
def test_it_holds_where_the_definition_says_so_at_every_point(table: Table, where: Box, expect: str) -> None:
    try:
        prevails(table)
    except RulebookFaults:
        return
    inside = [point for point in small.completions({}, NAMES) if small.box_state({}, where, point) is True]
    said = {small.naive({"upper": table}, "upper", point) for point in inside}
    found = broken(table, claim(expect, [where]))
    if not inside:
        assert [each.says for each in found] == [("empty", "")]
    elif said == {("ruled", expect)}:
        assert found == []
    else:
        (one,) = found
        status, word = one.says
        assert (status, word or status) in said

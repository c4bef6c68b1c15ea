"""A worked case as its table sees it, and ruled again with another table in its stead."""

from __future__ import annotations

from collections.abc import Mapping

import pytest

from proof.one_table import TWO, YES
from ruling import small
from yokebook.model import OneOf, Table, Value, Within
from yokebook.proof.recorded import recorded
from yokebook.proof.survivors import Recorded
from yokebook.values import Some, known

ONE_READING = small.rule("upper#read", [{"reading.r": OneOf(frozenset({"one", "two"})), "contact.p": YES}], "high")
BOUND = small.rule("upper#bound", [{"contact.n": Within(high=TWO), "contact.p": YES}], "high")


def case(table: Table, given: Mapping[str, Value], expect: str) -> Recorded:
    session = small.session([table], given)
    (thing,) = session.graph.things["contact"]
    found = recorded("the case", expect, session.graph, thing, "upper", "small", session.in_force)
    assert found is not None
    return found


def test_what_is_given_is_seen_as_it_is() -> None:
    found = case(small.table("upper", [BOUND], "low"), {"contact.n": TWO, "contact.p": True}, "high")
    assert found.inputs == {"contact.n": (known(TWO),), "contact.p": (known(True),)}
    assert found.sure


def test_what_is_left_open_is_not_sure() -> None:
    found = case(small.table("upper", [BOUND], "low"), {"contact.p": False}, "low")
    assert found.inputs["contact.p"] == (known(False),)
    assert not found.sure


def test_readings_are_those_that_count_as_published() -> None:
    found = case(small.table("upper", [ONE_READING], "low"), {"contact.p": True}, "high")
    assert found.inputs["reading.r"] == (Some(frozenset({"one", "two"})),)
    assert found.sure


def test_a_word_that_is_no_outcome_is_not_sure() -> None:
    assert not case(small.table("upper", [ONE_READING], "low"), {"contact.p": True}, "readings differ").sure


@pytest.mark.parametrize(("then", "word"), [("high", "high"), ("middle", "middle")])
def test_it_is_ruled_again_with_another_table(then: str, word: str) -> None:
    found = case(small.table("upper", [BOUND], "low"), {"contact.n": TWO, "contact.p": True}, "high")
    assert found.ruled(small.table("upper", [small.rule("upper#bound", BOUND.where, then)], "low")) == word


def test_without_a_table_there_is_no_case() -> None:
    session = small.session([small.table("upper", [BOUND], "low")], {})
    (thing,) = session.graph.things["contact"]
    assert recorded("no case", "low", session.graph, thing, "lower", "small", session.in_force) is None
    assert recorded("no case", "low", session.graph, thing, "upper", "other", session.in_force) is None

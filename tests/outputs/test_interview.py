"""The interview by itself, with a rule of two facts in place of a rulebook."""

from __future__ import annotations

from typing import Any

import pytest

from yokebook_adapters.interview import Interview, NotUnderstood, choices_of, is_yes_no, understood

SUPPLY = {
    "subject": "contact",
    "fact": "contact.supply",
    "kind": "fact",
    "type": "choice",
    "values": {"always on": "nothing switches it", "controlled": "something does"},
}
AMPS = {"subject": "control", "fact": "control.amps", "kind": "fact", "type": "number", "values": None}
DATE = {"subject": "", "fact": "dates.permit application", "kind": "entry", "type": "date", "values": None}
LIST = {"subject": "contact", "fact": "contact.controls.complete", "kind": "list", "type": "yes_no", "values": None}
BEHIND = {**LIST, "subject": "control", "fact": "control.contacts.complete", "asks": "Which receptacles?"}
CIRCUIT = {"subject": "contact", "fact": "contact.circuit", "kind": "link", "type": "link", "values": None}
BREAKER = {**AMPS, "subject": "circuit", "fact": "circuit.breaker_amps"}


def ruled(record: Any, dates: Any, choices: Any) -> dict[str, Any]:
    """`yes` for a controlled half on a control of 20 A or more; anything else is `no`."""
    if record.get("control.amps") == "lots":
        raise NotUnderstood("`lots` is not a number")
    asks = [ask for ask in (DATE, SUPPLY, LIST, AMPS) if ask["fact"] not in record and ask is not DATE]
    asks = [DATE, *asks] if not dates else asks
    if record.get("contact.supply") == "always on":
        return {"possible": ["no"], "ask": []}
    if "control.amps" in record and not asks:
        return {"possible": ["yes" if int(record["control.amps"]) >= 20 else "no"], "ask": []}
    return {"possible": ["no", "yes"], "ask": asks}


def test_stops_when_the_outcome_cannot_change():
    interview = Interview(ruled)
    interview.answer(DATE, "2024-10-01")
    assert interview.next() is SUPPLY
    interview.answer(SUPPLY, "1")
    assert interview.next() is None
    assert interview.ruling["possible"] == ["no"]
    assert interview.record == {"contact.supply": "always on"}
    assert interview.dates == {"permit application": "2024-10-01"}


def test_what_is_not_known_is_not_asked_again_and_never_assumed():
    interview = Interview(ruled)
    asked = []
    while (ask := interview.next()) is not None:
        asked.append(ask["fact"])
        interview.answer(ask, "?")
    assert asked == ["dates.permit application", "contact.supply", "contact.controls.complete", "control.amps"]
    assert interview.record == {}
    assert interview.ruling["possible"] == ["no", "yes"]


def test_a_refused_answer_changes_nothing():
    interview = Interview(ruled)
    before = interview.ruling
    with pytest.raises(NotUnderstood, match="`lots` is not a number"):
        interview.answer(AMPS, "lots")
    assert (interview.record, interview.ruling, interview.asked) == ({}, before, 0)


def test_no_to_a_list_is_taken_and_the_list_not_asked_again():
    interview = Interview(ruled)
    interview.answer(LIST, "no")
    assert interview.record == {"contact.controls.complete": False}


@pytest.mark.parametrize(
    ("ask", "text", "value"),
    [
        (SUPPLY, "1", "always on"),
        (SUPPLY, "controlled", "controlled"),
        (SUPPLY, "con", "controlled"),
        (LIST, "yes", True),
        (LIST, "N", False),
        (AMPS, "20 A", "20 A"),
        (DATE, "2024-10-01", "2024-10-01"),
    ],
)
def test_understood(ask, text, value):
    assert understood(ask, text) == value


@pytest.mark.parametrize(
    ("ask", "text", "message"),
    [
        (SUPPLY, "0", "`0` is none of the choices; give its number, 1 to 2, or its word"),
        (SUPPLY, "3", "`3` is none of the choices; give its number, 1 to 2, or its word"),
        (SUPPLY, "sometimes", "`sometimes` is none of the choices; give its number, 1 to 2, or its word"),
        (LIST, "1", "`1` is neither yes nor no; answer yes or no"),
    ],
)
def test_not_understood(ask, text, message):
    with pytest.raises(NotUnderstood) as caught:
        understood(ask, text)
    assert str(caught.value) == message


def test_how_to_answer():
    assert choices_of(SUPPLY) == [("always on", "nothing switches it"), ("controlled", "something does")]
    assert choices_of(AMPS) == []
    assert is_yes_no(LIST) and not is_yes_no(SUPPLY) and not is_yes_no(AMPS)


class TestOneRecord:
    """One record holds one thing of each kind: lists and links are put as a yes or a no that it can answer."""

    def interview(self, *asks: dict[str, Any], there: int = 0) -> Interview:
        """Always asks `asks`; `there` receptacles are in every list."""
        return Interview(lambda *_: {"possible": ["no", "yes"], "ask": list(asks)}, lambda *_: there)

    def test_an_empty_list_asks_whether_there_is_any(self):
        ask = self.interview(BEHIND).next()
        assert ask is not None and ask["asks"] == "Does the control feed a receptacle?" and is_yes_no(ask)

    def test_no_says_that_the_empty_list_is_whole(self):
        interview = self.interview(BEHIND)
        interview.answer(BEHIND, "no")
        assert interview.record == {"control.contacts.complete": True}

    def test_yes_names_the_receptacle_and_says_nothing_else_of_it(self):
        interview = self.interview(BEHIND)
        interview.answer(BEHIND, "yes")
        assert interview.record == {"contact.controls.complete": False}
        assert interview.next() is not None, "whether it is the only one is asked next"

    def test_a_list_of_one_asks_whether_it_is_the_only_one(self):
        interview = self.interview(BEHIND, there=1)
        ask = interview.next()
        assert ask is not None and ask["asks"] == "Is the receptacle described the only one on the control?"
        interview.answer(ask, "no")
        assert interview.record == {"control.contacts.complete": False}
        assert interview.next() is None, "one record cannot hold the others; asking again would not help"

    @pytest.mark.parametrize(
        ("text", "record"), [("yes", {"circuit.contacts.complete": False}), ("no", {"contact.circuit": "none"})]
    )
    def test_a_link_asks_whether_there_is_one(self, text: str, record: dict[str, Any]):
        interview = self.interview(CIRCUIT)
        ask = interview.next()
        assert ask is not None and ask["asks"] == "Does a circuit feed the receptacle?"
        interview.answer(ask, text)
        assert interview.record == record

    def test_facts_of_something_come_after_whether_it_is_there(self):
        asks = self.interview(BREAKER, CIRCUIT, AMPS).asks()
        assert [ask["fact"] for ask in asks] == ["contact.circuit", "control.amps", "circuit.breaker_amps"]

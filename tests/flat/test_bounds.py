"""What is kept while deciding is bounded, whatever callers send."""

from __future__ import annotations

import gc
import tracemalloc
from fractions import Fraction
from itertools import count

import pytest

import yokebook
from flat.held_against import by_decide, by_rule
from ruling import places, small
from yokebook.code import Code
from yokebook.flat import deciding, parts, signatures, views
from yokebook.flat.signatures import NotRead, Signatures
from yokebook.flat.telling import Telling
from yokebook.front_door import FrontDoor
from yokebook.load.faults import InputFaults
from yokebook.model import Arithmetic, Of, Within

BOOK = yokebook.load()


def law() -> Code:
    """The law of one edition."""
    return BOOK.edition("nfpa-70", "2014")


def numbers(*exact: str) -> Signatures:
    """Numbers of records in which these facts count by their very values."""
    return Signatures(FrontDoor(BOOK.book), {name: [Telling(exact=True)] for name in exact}, [])


def test_a_million_unknown_keys_leave_nothing_behind():
    codes = numbers().codes[int]
    for i in range(1_000_000):
        codes[f"contact.key_{i}"]
    assert len(codes) == 0


def test_keys_that_are_refused_leave_nothing_behind():
    decide = law().decider("marking.required")
    good = {"contact.supply": "controlled"}
    decide(good)
    kept: list[int] = []
    tracemalloc.start()
    try:
        for i in range(60):
            with pytest.raises(InputFaults):
                decide({**good, f"contact.key_{i}": i})
            if i in (19, 59):
                gc.collect()
                kept.append(tracemalloc.get_traced_memory()[0])
    finally:
        tracemalloc.stop()
    assert kept[1] - kept[0] < 40 * 100  # not even the text of a key


def test_keys_that_the_front_door_takes_are_kept_up_to_a_bound(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(signatures, "_MOST_KEYS", 2)
    found = numbers("control.off_delay_min")
    for key in ("receptacle.name", "space.name", "control.name", "circuit.name"):
        assert found.codes[str][key]["R1"] == found.codes[str][key]["R2"]
    assert len(found.codes[str]) == 2


def test_values_past_their_bits_are_not_taken_up():
    found = numbers("control.off_delay_min")
    most = 2**16 - 1
    codes = found.codes[Fraction]["control.off_delay_min"]
    for i in range(40):
        codes[Fraction(i)]
    found._next["control.off_delay_min"] = count(most - 9)  # pyright: ignore[reportPrivateUsage]
    for i in range(40, 50):
        codes[Fraction(i)]
    for i in range(50, 90):
        with pytest.raises(NotRead):
            codes[Fraction(i)]
    assert len(found._classes["control.off_delay_min"]) == 50  # pyright: ignore[reportPrivateUsage]


def test_ever_other_stated_figures_are_kept_up_to_a_bound(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(deciding, "_MOST_STATED", 2)
    code = law()
    names = ("receptacle.counts", "contact.controlled_for_energy", "receptacle.wholly_controlled")
    names += ("contact.visibly_different", "contact.accepted_control", "contact.off_on_vacating")
    records = [{"contact.supply": "always on"}, *({"contact.supply": "always on", name: False} for name in names)]
    due = [by_rule(BOOK.edition("nfpa-70", "2014"), "marking.required", record) for record in records]
    for _ in range(3):
        assert [by_decide(code, "marking.required", record) for record in records] == due
    fast = code._fast  # pyright: ignore[reportPrivateUsage]
    assert len(fast._occurring) <= 4  # pyright: ignore[reportPrivateUsage]


def test_ever_new_figures_are_kept_up_to_a_bound(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(parts, "_MOST_KEPT", 5)
    monkeypatch.setattr(views, "_MOST_KEPT", 5)
    monkeypatch.setattr(views, "_MOST_NUMBERED", 5)
    sums = (Arithmetic("plus", (Of("contact.n"), Of("contact.n"))), Arithmetic("plus", (Of("contact.f0"),) * 2))
    figures = [places.calculation(f"contact.f{i}", each, "number") for i, each in enumerate(sums)]
    book = places.book({}, figures)
    box = {"contact.f1": Within(Fraction(9), False), "contact.x": places.only("a")}
    asked = small.table("upper", [small.rule("upper#0", [box], "high")], "low")
    code = Code(book, places.stands(places.law(book, [asked])), None, {}, None, {})
    for i in range(60):
        record = {"contact.n": Fraction(i, 15), "contact.x": "ab"[i % 2]}
        assert by_decide(code, "upper", record) == by_rule(code, "upper", record)
    fast = code._fast  # pyright: ignore[reportPrivateUsage]
    decider = fast.records(book.questions["upper"], "small")
    assert decider._parts is not None  # pyright: ignore[reportPrivateUsage]
    assert len(decider._parts._came_to) <= 5 + 2  # pyright: ignore[reportPrivateUsage]

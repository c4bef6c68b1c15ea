"""What is kept while deciding is bounded, whatever callers send."""

from __future__ import annotations

import gc
import tracemalloc
from fractions import Fraction
from itertools import count

import pytest

import yokebook
from bench.buildings import building
from flat.held_against import by_decide, by_rule
from ruling import places, small
from yokebook import front_door
from yokebook.code import Code
from yokebook.flat import deciding, parts, signatures, views
from yokebook.flat.signatures import NotRead, Signatures
from yokebook.flat.telling import Telling
from yokebook.front_door import FrontDoor
from yokebook.load.faults import InputFaults
from yokebook.model import Arithmetic, Of, Within
from yokebook.session import Session

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


def test_a_project_that_was_decided_is_let_go_of_without_a_collector():
    code = BOOK.in_force("demo/tamarisk/brindle-falls", {"permit application": "2024-10-15"})
    questions = ["marking.required", "control.acts", "share.controlled", "circuit.load", "control.load"]
    first, second = (front_door.project_to_graph(building(20, seed), BOOK.book) for seed in (1, 2))
    code.decide_project(first, questions)
    gc.collect()
    gc.disable()
    try:
        sessions = sum(isinstance(each, Session) for each in gc.get_objects())
        code.decide_project(second, questions)
        assert sum(isinstance(each, Session) for each in gc.get_objects()) == sessions
        assert gc.collect() < 100
    finally:
        gc.enable()


@pytest.mark.parametrize("most", [1, 8])
def test_past_the_most_numbers_everything_is_decided_as_it_is_ruled(monkeypatch: pytest.MonkeyPatch, most: int):
    monkeypatch.setattr(views, "_MOST_NUMBERED", most)
    code = law()
    record = {"receptacle.configuration": "5-20R", "contact.supply": "controlled", "control.turns_off_by": "presence"}
    for question in ("marking.required", "control.acts", "circuit.load"):
        for off_delay in (5, 20, 30, 30.5):
            given = {**record, "control.off_delay_min": off_delay}
            assert by_decide(code, question, given) == by_rule(code, question, given)
    graph = front_door.project_to_graph(building(4), BOOK.book)
    assert graph.place is not None
    in_force = BOOK.in_force(graph.place, graph.dates, choices=graph.choices)
    ruled = [(ruling.question, ruling.word) for ruling in in_force.rule_project(graph).rulings]
    assert [(each.question, each.decision.word) for each in in_force.decide_project(graph)] == ruled


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

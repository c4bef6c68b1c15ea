"""Decisions on flat records, held against the rulings on the same records: shipped tables of three laws."""

from __future__ import annotations

import random
from functools import cache

import pytest

import yokebook
from flat.held_against import Records, by_decide, by_rule
from yokebook.code import Code

CITY = "demo/tamarisk/brindle-falls"
LAWS = ("2014", "2026", CITY)
#: Questions of every kind of thing, with and without readings, figures, lists and answers of other tables.
SAMPLE = (
    *("marking.required", "control.acts", "marking.satisfied", "which-half.controlled", "receptacle.single-rating"),
    *("circuit.load", "share.counts", "load.emergency", "lighting.wall-control", "protection.weather-resistant"),
)


@cache
def law(name: str) -> Code:
    """The law of a city, or of an edition by itself."""
    book = yokebook.load()
    if name == CITY:
        return book.in_force(CITY, {"permit application": "2024-10-15"})
    return book.edition("nfpa-70", name)


def asked(name: str) -> list[tuple[str, str]]:
    """Every question with each kind of document that answers it."""
    code = law(name)
    return [(question.id, kind) for question in code.questions() for kind in code.kinds_for(question.id)]


def differing(name: str, question: str, kind: str, count: int, seed: int) -> list[object]:
    """The records that are decided otherwise than ruled, the first time or once more."""
    code, rng = law(name), random.Random(f"{question} {kind} {seed}")
    records = Records(code, question, kind)
    found: list[object] = []
    for _ in range(count):
        record = records.one(rng)
        ruled = by_rule(code, question, record, kind)
        decided = by_decide(code, question, record, kind)
        again = by_decide(code, question, record, kind)
        if not ruled == decided == again:
            found.append((question, record, ruled, decided, again))
    return found


@pytest.mark.parametrize("name", LAWS)
def test_a_sample_of_questions_is_decided_as_it_is_ruled(name: str):
    for question, kind in asked(name):
        if question in SAMPLE:
            assert differing(name, question, kind, 6, 1) == []


@pytest.mark.slow
@pytest.mark.parametrize("part", range(4))
@pytest.mark.parametrize("name", LAWS)
def test_every_question_is_decided_as_it_is_ruled(name: str, part: int):
    for question, kind in asked(name)[part::4]:
        assert differing(name, question, kind, 8, 2) == []


def test_stated_figures_are_held_against_the_others():
    code = law("2014")
    record = {"receptacle.configuration": "5-20R", "receptacle.amps": 20, "contact.supply": "always on"}
    for amps in (20, 15, None):
        given = {**record, "receptacle.amps": amps}
        for _ in range(2):
            assert by_decide(code, "marking.required", given) == by_rule(code, "marking.required", given)
    assert "comes out as 20 A" in str(by_decide(code, "marking.required", {**record, "receptacle.amps": 15}))


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("contact.supply", "Controlled"),
        ("contact.supply", " controlled"),
        ("contact.supply", 1),
        ("contact.supply", ["controlled"]),
        ("receptacle.built_in_control", 1),
        ("receptacle.built_in_control", 0.0),
        ("receptacle.built_in_control", "Yes"),
        ("control.off_delay_min", True),
        ("control.off_delay_min", float("nan")),
        ("control.off_delay_min", float("inf")),
        ("control.off_delay_min", "20"),
        ("control.off_delay_min", -1),
        ("contact.suply", "controlled"),
        ("contact.controls.complete", 1),
        ("contact.load", "lamp"),
        ("stated_by", " "),
        ("receptacle.name", 5),
    ],
)
def test_what_the_front_door_refuses_is_refused_with_the_same_words(key: str, value: object):
    code = law(CITY)
    good = {
        "contact.supply": "controlled",
        "receptacle.built_in_control": True,
        "control.turns_off_by": "presence",
        "control.off_delay_min": 20,
        "contact.controls.complete": True,
    }
    assert not isinstance(by_decide(code, "marking.required", good), str)  # these values are then known
    # values equal to bad ones, as 1 is to True, are known as well
    for record in ({**good, key: value}, {key: value}):
        refused = by_decide(code, "marking.required", record)
        assert isinstance(refused, str)
        assert refused == by_rule(code, "marking.required", record)


def test_what_does_not_apply_is_refused_though_all_its_values_were_seen_before():
    code = law(CITY)
    fits = {"control.turns_off_by": "presence", "control.off_delay_min": 20}
    for record in (fits, {"control.turns_off_by": "person"}, {**fits, "control.turns_off_by": "signal"}):
        assert not isinstance(by_decide(code, "control.acts", record), str)
    refused = by_decide(code, "control.acts", {**fits, "control.turns_off_by": "person"})
    assert "does not apply" in str(refused)


def test_dates_names_and_nulls_change_nothing():
    code = law(CITY)
    record = {"contact.supply": "always on", "receptacle.configuration": "5-15R"}
    more = {"project.date.permit application": "2024-10-15", "receptacle.name": "R1", "stated_by": "me"}
    nulls = {"control.kind": None, "space.use": None, "contact.load": None, "contact.controls.complete": None}
    decided = by_decide(code, "marking.required", record)
    assert decided == by_decide(code, "marking.required", {**record, **more, **nulls})
    assert decided == by_rule(code, "marking.required", record)


def test_a_question_that_several_documents_answer_needs_one_named():
    code = law(CITY)
    with pytest.raises(ValueError, match="no question"):
        code.decide("marking.requierd", {})
    with pytest.raises(ValueError, match="does not answer"):
        code.decide("marking.required", {}, "energy")
    by_kind = code.decider("control.acts", "electrical")
    assert by_kind({"control.turns_off_by": "schedule"}).word == "automatic"


def test_a_thing_of_a_graph_is_decided_as_it_is_ruled():
    code = law("2014")
    graph = code.graph({"contact.supply": "controlled", "control.turns_off_by": "schedule"})
    assert code.decide("control.acts", graph, subject="control").word == "automatic"

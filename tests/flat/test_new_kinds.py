"""Flat records of kinds not seen before: decided as they are ruled on, and mostly without the evaluator."""

from __future__ import annotations

import random
from functools import cache

import pytest

import yokebook
from bench.shipped import FACTS, marking_records
from flat.held_against import Records, as_decision, by_decide, by_rule, said
from yokebook.code import Code
from yokebook.flat.kept import Kept
from yokebook.flat.records import RecordDecider
from yokebook.front_door import FrontDoor

MARKING = "marking.required"
LAWS = ("2014", "2020", "demo/tamarisk/brindle-falls")


def law(name: str) -> Code:
    """The law of a city, or of an edition by itself, with nothing kept yet."""
    book = yokebook.load()
    if name.startswith("demo/"):
        return book.in_force(name, {"permit application": "2024-10-15"})
    return book.edition("nfpa-70", name)


@cache
def plausible(count: int) -> list[dict[str, object]]:
    """Records for the marking question, none of them impossible as given."""
    return [dict(record) for record in marking_records(yokebook.load(), count, seed=11)]


def with_gaps(records: list[dict[str, object]], share: float, seed: int) -> list[dict[str, object]]:
    """The records with this share of their facts left out."""
    rng = random.Random(seed)
    return [{name: value for name, value in record.items() if rng.random() >= share} for record in records]


def differing(code: Code, records: list[dict[str, object]]) -> list[object]:
    """The records that are decided otherwise than they are ruled on."""
    return [record for record in records if by_decide(code, MARKING, record) != by_rule(code, MARKING, record)]


def test_a_stream_of_records_is_decided_as_it_is_ruled():
    code = law("2020")
    assert differing(code, with_gaps(plausible(200), 0.08, 1)) == []


@pytest.mark.slow
@pytest.mark.parametrize("name", LAWS)
def test_long_streams_are_decided_as_they_are_ruled(name: str):
    code = law(name)
    assert differing(code, with_gaps(plausible(2_000), 0.0, 2)) == []
    assert differing(code, with_gaps(plausible(1_000), 0.2, 3)) == []


@pytest.mark.slow
@pytest.mark.parametrize("name", LAWS)
def test_records_that_may_be_impossible_are_decided_as_they_are_ruled(name: str):
    code, rng = law(name), random.Random(name)
    records = Records(code, MARKING, "electrical")
    assert differing(code, [records.one(rng) for _ in range(1_000)]) == []


def test_few_of_many_new_kinds_are_given_to_the_evaluator(monkeypatch: pytest.MonkeyPatch):
    records = plausible(2_000)
    given: list[object] = []
    ruled = Kept.ruled

    def counted(self: Kept, *what: object, **how: object) -> object:
        given.append(what)
        return ruled(self, *what, **how)  # type: ignore[arg-type]

    monkeypatch.setattr(Kept, "ruled", counted)
    decide = law("2020").decider(MARKING)
    assert len({tuple(sorted(record.items(), key=str)) for record in records}) > 1_900  # hardly any is seen twice
    for record in records:
        decide(record)
    assert len(given) < 60


def test_what_is_stated_tells_records_apart_though_nothing_is_known_behind_it():
    code = law("demo/tamarisk/brindle-falls")
    for question in ("marking.scope", MARKING):
        for amps in (20, 15, 30, 20, None):
            record = {"receptacle.amps": amps, "receptacle.volts": 125, "space.occupancy": "office"}
            assert by_decide(code, question, record) == by_rule(code, question, record)


def test_things_that_are_sure_to_be_stay_so_whatever_the_missing_facts_are():
    code, rng = law("2020"), random.Random(4)
    decide = code.decider(MARKING)
    assert isinstance(decide.__self__, RecordDecider)  # type: ignore[attr-defined]
    decider: RecordDecider = decide.__self__  # type: ignore[attr-defined]
    assert decider.being is not None
    sure = 0
    for record in with_gaps(plausible(80), 0.3, 5):
        decide(record)
        if decider.being.unsure(decider.signatures.of(record)):
            continue
        sure += 1
        for _ in range(3):
            filled = dict(record)
            for name in FACTS:
                fact = code.book.facts[name]
                filled.setdefault(name, rng.choice(list(fact.values)) if fact.type == "choice" else rng.random() < 0.5)
            assert decide(filled).status != "impossible"
            assert code.rule(MARKING, filled).status != "impossible"
    assert sure > 15


def test_a_record_that_was_read_before_is_decided_as_one_that_was_not():
    code = law("2020")
    door = FrontDoor(code.book)
    for record in with_gaps(plausible(60), 0.2, 6):
        for called in (None, "R7"):
            graph = door.record({**record, "receptacle.name": "R7"}, called)
            decided, ruled = code.decide(MARKING, graph), code.rule(MARKING, graph)
            assert said(decided) == said(as_decision(ruled, code))
    asked = [each.subject for each in code.decide(MARKING, door.record({}, "R7")).ask]
    assert asked and all(subject.startswith("R7/") for subject in asked)

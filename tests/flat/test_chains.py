"""Decisions where tables take each other's answers, to many of them one under the other, held against rulings."""

from __future__ import annotations

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bench.tables import chain
from flat.held_against import by_decide, by_rule, said
from flat.tangles import Tangle, law_of, plain_of, refuse, tangle
from ruling import small
from yokebook.flat import generated as made
from yokebook.flat.plain import NotPlain
from yokebook.flat.plain_tables import Elements
from yokebook.model import OneOf
from yokebook.openness import merged
from yokebook.session import domain
from yokebook.values import intersect, known

SEEDS = st.integers(min_value=0, max_value=10**9)


def agree(made: Tangle, rng: random.Random, count: int) -> None:
    """Holds decisions on some records, some facts left out of them, against rulings; full ones against the definition
    as well."""
    for _ in range(count):
        missing = rng.choice((0, 0, 1, 2, 3, 20))
        record = made.record(rng, missing)
        ruled = by_rule(made.code, made.question, record)
        for _ in range(2):
            assert by_decide(made.code, made.question, record) == ruled
        if not missing and "reading.r" not in inputs(made):
            status, word = made.truth(record)  # type: ignore[arg-type]
            decision = made.code.decide(made.question, record)
            assert (decision.outcome or "") == word
            assert (decision.status == "settled") == (status == "ruled")  # which of two faults is told is left open


def inputs(made: Tangle) -> set[str]:
    """All that some table looks at."""
    return {name for question in made.law.resolved.tables for name in made.law.ready(question).inputs}


@settings(max_examples=50, deadline=None)
@given(SEEDS)
def test_tables_under_tables_are_decided_as_they_are_ruled(seed: int):
    rng = random.Random(seed)
    agree(tangle(rng, rng.randint(1, 7), layers=rng.choice((0, 1, 2))), rng, 6)


@settings(max_examples=30, deadline=None)
@given(SEEDS)
def test_with_readings_among_them_too(seed: int):
    rng = random.Random(seed)
    agree(tangle(rng, rng.randint(2, 5), readings=True, layers=rng.choice((0, 1, 2))), rng, 5)


@pytest.mark.slow
@settings(max_examples=150, deadline=None)
@given(SEEDS)
def test_many_tables_under_each_other_are_decided_as_they_are_ruled(seed: int):
    rng = random.Random(seed)
    readings = rng.random() < 0.3
    agree(tangle(rng, rng.randint(8, 20), readings=readings, layers=rng.choice((0, 1, 2))), rng, 8)


def test_random_tables_are_at_fault_and_open_often_enough():
    seen: dict[str, int] = {}
    for seed in range(60):
        rng = random.Random(seed)
        one = tangle(rng, 4)
        for _ in range(5):
            decision = one.code.decide(one.question, one.record(rng, rng.choice((0, 1, 2))))
            seen[decision.status] = seen.get(decision.status, 0) + 1
    assert min(seen[status] for status in ("settled", "cannot tell", "conflict", "silent")) > 8


@pytest.mark.parametrize("tables", [10, 20])
def test_long_chains_are_decided_as_they_are_ruled(tables: int):
    invented, rng = chain(tables), random.Random(tables)
    for missing in (0, 0, 0, 1, 1, 2, 2, 3):
        record = invented.record(rng, missing)
        ruled = by_rule(invented.code, invented.question, record)
        assert by_decide(invented.code, invented.question, record) == ruled


def test_what_is_kept_serves_only_for_records_that_are_alike():
    for seed in range(40):
        rng = random.Random(seed)
        one = tangle(rng, rng.randint(3, 5))
        plain = plain_of(one)
        for _ in range(250):
            record = one.record(rng, rng.choice((0, 1, 1, 2)))
            assert one.code.decide(one.question, record) == plain.decide(record)  # type: ignore[arg-type]


def test_faults_of_one_lower_table_are_told_apart():
    a, b = {"contact.x": OneOf(frozenset("a"))}, {"contact.x": OneOf(frozenset("b"))}
    lower = [small.rule("layer1#1", [a, b], "low"), small.rule("layer1#2", [a], "high")]
    on_low = small.rule("layer0#1", [{"answer.layer1": OneOf(frozenset({"low"}))}], "high")
    open_too = small.rule("layer0#2", [{"contact.p": OneOf(frozenset({True}))}], "middle")
    one = law_of({"layer0": small.table("layer0", [on_low, open_too], "low"), "layer1": small.table("layer1", lower)})
    for more in ({}, {"contact.p": False}, {"contact.p": True}):
        for x, of_x in (("a", "conflict"), ("c", "silent")):
            record = {"contact.x": x, **more}
            assert one.code.decide("layer0", record).possible == (of_x,)
            assert by_decide(one.code, "layer0", record) == by_rule(one.code, "layer0", record)


def test_what_is_not_known_is_cut_into_the_parts_that_the_evaluator_tries():
    cut = 0
    for seed in range(40):
        rng = random.Random(seed)
        plain = plain_of(tangle(rng, 2))
        for table in plain.tables():
            for name, fact in table.facts.items():
                others = [each.ready.inputs[name] for each in plain.tables() if name in each.facts]
                elements = Elements(fact, others)
                index, matter = table.ready.inputs[name], rng.getrandbits(len(table.ready.boxes))
                allowed = [index.allowed(value) for value in elements.values]
                spans = merged(index.pieces(domain(fact)), matter)
                parts = elements.split(allowed, elements.all, matter)
                cut += len(parts) > 2
                for value, here in ((value, 1 << i) for i, value in enumerate(elements.values)):
                    within = [intersect(span, known(value)) is not None for span in spans]
                    assert within == [bool(part & here) for part in parts]
    assert cut > 20


@pytest.mark.parametrize("tables", [10, 20])
def test_long_chains_are_decided_by_the_code_alone_with_facts_missing_too(tables: int):
    invented, rng = chain(tables), random.Random(3)
    decide, _ = made.generated(plain_of(invented), refuse, lambda *_: False)  # type: ignore[arg-type]
    for missing in (0, 1, 2):
        for _ in range(100):
            record = invented.record(rng, missing)
            assert said(decide(record)) == by_decide(invented.code, invented.question, record)


def test_tables_with_readings_are_left_to_the_evaluator():
    rng = random.Random(1)
    while "reading.r" not in inputs(one := tangle(rng, 3, readings=True)):
        continue
    with pytest.raises(NotPlain):
        plain_of(one)

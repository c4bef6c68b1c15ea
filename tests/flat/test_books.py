"""Decisions under random rulebooks, held against rulings and, for full records, against the definition."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from flat.held_against import by_decide, by_rule
from proof.books import Made, Maker, random_book
from ruling import small
from yokebook.decision import Decision
from yokebook.law import Law
from yokebook.model import Impossible

SEEDS = st.integers(min_value=0, max_value=10**9)


def agree(made: Made, rng: random.Random, count: int) -> None:
    """Holds decisions on some records, facts left out of them, against rulings; full ones against the definition."""
    decide = made.code.decider("upper")
    for _ in range(count):
        full = made.record(rng)
        hidden = rng.sample(sorted(full), rng.choice((0, 0, 1, 2, len(full))) % (len(full) + 1))
        record = made.written(rng, {name: value for name, value in full.items() if name not in hidden})
        ruled = by_rule(made.code, "upper", record)
        for _ in range(2):
            assert by_decide(made.code, "upper", record) == ruled
        if not hidden and made.can_occur(full):
            against_the_definition(made, decide(record), made.ruling(full))


def against_the_definition(made: Made, decision: Decision, said: tuple[str, str]) -> None:
    """Holds the decision on a full record against what the definition says of it, where no reading matters."""
    if decision.readings or decision.also_held or any(name.startswith("reading.") for name in _inputs(made)):
        return
    status, word = said
    assert decision.status == ("settled" if status == "ruled" else status)
    assert decision.outcome == (word or None)


def _inputs(made: Made) -> set[str]:
    tables = made.law.resolved.tables.values()
    boxes = [box for table in tables for rule in table.rules for box in (*rule.where, *rule.but_not)]
    return {name for box in boxes for name in box}


@settings(max_examples=60, deadline=None)
@given(SEEDS)
def test_tables_with_figures_readings_and_what_cannot_be(seed: int):
    rng = random.Random(seed)
    agree(random_book(rng), rng, 6)


@settings(max_examples=60, deadline=None)
@given(SEEDS)
def test_tables_that_take_the_answer_of_another(seed: int):
    rng = random.Random(seed)
    agree(random_book(rng, chain=True), rng, 6)


def more_that_cannot_be(made: Made, rng: random.Random) -> Made:
    """The same with further combinations that cannot be, on figures and on facts that may not apply as well."""
    inputs = {name: fact for name, fact in made.inputs.items() if name.startswith("contact.")}
    maker = Maker(rng, inputs)
    boxes = [maker.box(sorted(inputs), rng.choice((2, 3))) for _ in range(rng.choice((1, 2, 3)))]
    more = tuple(Impossible("contact", box, "so it is", small.AT) for box in boxes if box)
    book = replace(made.book, impossible=(*made.book.impossible, *more))
    return Made(book, Law(made.law.resolved, book), made.grid, made.inputs)


def differing(seed: int, count: int) -> list[object]:
    """Records of one random rulebook, most of them with facts left out, that are decided otherwise than ruled on."""
    rng = random.Random(seed)
    made = more_that_cannot_be(random_book(rng, chain=rng.random() < 0.5), rng)
    found: list[object] = []
    for _ in range(count):
        full = made.record(rng)
        hidden = rng.sample(sorted(full), min(len(full), rng.choice((0, 1, 1, 2, 3))))
        record = made.written(rng, {name: value for name, value in full.items() if name not in hidden})
        if by_decide(made.code, "upper", record) != by_rule(made.code, "upper", record):
            found.append((seed, record))
    return found


@settings(max_examples=40, deadline=None)
@given(SEEDS)
def test_figures_in_what_cannot_be(seed: int):
    assert differing(seed, 8) == []


@pytest.mark.slow
def test_figures_in_what_cannot_be_in_long_streams():
    assert [found for seed in range(100, 400) for found in differing(seed, 30)] == []

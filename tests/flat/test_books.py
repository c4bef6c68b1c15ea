"""Decisions under random rulebooks, held against rulings and, for full records, against the definition."""

from __future__ import annotations

import random

from hypothesis import given, settings
from hypothesis import strategies as st

from flat.held_against import by_decide, by_rule
from proof.books import Made, random_book
from yokebook.decision import Decision

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

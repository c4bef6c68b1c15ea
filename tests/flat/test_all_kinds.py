"""Decisions on flat records under random rulebooks of all kinds of things, held against rulings."""

from __future__ import annotations

import random

import pytest

from flat.all_kinds import all_kinds
from flat.held_against import by_decide, by_rule
from yokebook.flat import being, kept, left, occurring, parts, records, views

MODULES = (being, kept, left, occurring, parts, records, views)


def differing(seed: int, count: int) -> list[object]:
    """Records of one random rulebook that are decided otherwise than ruled on."""
    rng = random.Random(seed)
    made = all_kinds(rng)
    return [
        (seed, record)
        for record in made.records(rng, count)
        if by_decide(made.code, "upper", record) != by_rule(made.code, "upper", record)
    ]


def test_records_that_say_little_of_most_things():
    assert [found for seed in range(1_000, 1_060) for found in differing(seed, 25)] == []


@pytest.mark.parametrize("most", [1, 2])
def test_what_is_kept_may_be_let_go_of_at_any_time(monkeypatch: pytest.MonkeyPatch, most: int):
    for module in MODULES:
        monkeypatch.setattr(module, "_MOST_KEPT", most)
    monkeypatch.setattr(views, "_MOST_NUMBERED", most)
    assert [found for seed in range(100, 110) for found in differing(seed, 15)] == []


@pytest.mark.slow
def test_long_streams_of_such_records():
    assert [found for seed in range(1_060, 1_300) for found in differing(seed, 25)] == []

"""Plausible records for the shipped marking question, from a seed: controls that act as controls of their kind do."""

from __future__ import annotations

import random
from typing import Any

import yokebook

#: The facts that the records give; the rest of the shipped ones are not known.
FACTS = (
    *("receptacle.configuration", "receptacle.built_in_control", "contact.supply", "space.occupancy", "space.use"),
    *("space.required_lighting_outlet", "control.kind", "control.turns_off_by", "control.location", "control.purpose"),
    *("load.kind", "control.acts_as_wall_switch"),
)


def marking_records(book: yokebook.Rulebook, count: int, seed: int = 1) -> list[dict[str, Any]]:
    """So many records, one in ten of them with a fact or two left out, none of them impossible."""
    rng = random.Random(seed)
    decide = book.edition("nfpa-70", "2020").decider("marking.required")
    found: list[dict[str, Any]] = []
    while len(found) < count:
        record: dict[str, Any] = {}
        for name in FACTS:
            fact = book.book.facts[name]
            record[name] = rng.choice(list(fact.values)) if fact.type == "choice" else rng.random() < 0.5
        if rng.random() < 0.1:
            for name in rng.sample(("space.use", "load.kind", "control.location"), rng.choice((1, 2))):
                del record[name]
        record["contact.controls.complete"] = True
        if decide(record).status != "impossible":
            found.append(record)
    return found

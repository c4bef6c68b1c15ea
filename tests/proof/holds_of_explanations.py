"""What must hold of an explanation of a shipped ruling, each claim of it tried on the record itself."""

from __future__ import annotations

import random
from collections.abc import Mapping
from functools import cache
from typing import Any

from shipped_book import rulebook
from yokebook import Code, Ruling
from yokebook.load.faults import InputFaults

QUESTION = "marking.required"

#: What a record of a receptacle and its control says of what marking turns on; the rest of a control's facts is noise.
FACTS = (
    "receptacle.configuration",
    "receptacle.built_in_control",
    "contact.supply",
    "control.kind",
    "control.turns_off_by",
    "control.turns_on_by",
    "control.acts_as_wall_switch",
    "control.location",
    "space.occupancy",
    "space.use",
    "space.required_lighting_outlet",
    "contact.mark",
)

#: Values drawn more often than others, so that many records come near what the clause is about.
NEAR: dict[str, tuple[object, ...]] = {
    "receptacle.configuration": ("5-15R", "5-15R", "5-20R", "5-20R", "5-20R", "5-30R"),
    "contact.supply": ("controlled", "controlled", "always on"),
    "space.occupancy": ("dwelling", "guest room"),
    "space.use": ("living room", "bedroom", "hallway"),
    "space.required_lighting_outlet": ("met by switched receptacle",),
    "control.kind": ("snap switch", "wall-box sensor", "time clock"),
    "control.turns_off_by": ("person", "presence", "schedule"),
    "control.acts_as_wall_switch": (True,),
    "control.location": ("wall at entrance",),
}

Record = Mapping[str, object]


@cache
def laws() -> dict[str, Code]:
    """Every edition that has the table, and a place with amendments of it."""
    book = rulebook()
    found = {edition: book.edition("nfpa-70", edition) for edition in book.book.documents["nfpa-70"].editions}
    return {**found, "Brindle Falls": book.in_force("demo/tamarisk/brindle-falls", on="2024-10-01")}


def values(code: Code, fact: str) -> list[object]:
    """All values of a fact."""
    its = code.book.facts[fact]
    return [True, False] if its.type == "yes_no" else list(its.values)


def random_record(code: Code, rng: random.Random) -> dict[str, object]:
    """A record with most of the facts given."""
    record: dict[str, object] = {"contact.controls.complete": rng.random() < 0.9}
    for fact in FACTS:
        if rng.random() < 0.9:
            near = NEAR.get(fact, ()) if rng.random() < 0.9 else ()
            record[fact] = rng.choice(near or values(code, fact))
    return record


def outcome(code: Code, record: Record) -> str | None:
    """The settled outcome of a record; None where it is not settled."""
    ruling = code.rule(QUESTION, record, "electrical")
    return ruling.outcome if ruling.status == "settled" else None


def explained(code: Code, record: Record) -> Ruling:
    """The explained ruling on a record."""
    return code.explain(QUESTION, record, "electrical")


def typed(code: Code, fact: str, text: str) -> object:
    """A value as printed, as a record has it."""
    return {"yes": True, "no": False}[text] if code.book.facts[fact].type == "yes_no" else text


def each_change_flips(code: Code, record: Record, explained: Ruling) -> int:
    """Each value that is said to give another outcome gives that one when the record has it; and so do two together,
    which are told only where one is not enough. How many were tried."""
    tried = 0
    for change in explained.would_change or []:
        assert change["outcome"] != explained.outcome
        other = change.get("together_with")
        second = {} if other is None else {other["fact"]: typed(code, other["fact"], other["to"])}
        for text in change["to"].split(" or "):
            changed = {change["fact"]: typed(code, change["fact"], text), **second}
            assert all(record[fact] != value for fact, value in changed.items())
            assert outcome(code, {**record, **changed}) == change["outcome"], change
            for fact in changed if other is not None else ():
                alone = {name: value for name, value in changed.items() if name != fact}
                assert outcome(code, {**record, **alone}) in (None, explained.outcome)
            tried += 1
    return tried


def untold_values_do_not_flip(code: Code, record: Record, explained: Ruling) -> int:
    """A value of a given fact that is not told gives no other single outcome. How many were tried."""
    if explained.status != "settled":
        assert not explained.would_change
        return 0
    told = {
        (change["fact"], typed(code, change["fact"], text))
        for change in explained.would_change or []
        if "together_with" not in change
        for text in change["to"].split(" or ")
    }
    tried = 0
    for fact in FACTS:
        for value in values(code, fact) if fact in record else ():
            if value != record[fact] and (fact, value) not in told:
                tried += 1
                try:
                    assert outcome(code, {**record, fact: value}) in (None, explained.outcome), (fact, value)
                except InputFaults:
                    continue  # not a record that can be: what is given otherwise contradicts it
    return tried


def enough_is_enough(code: Code, record: Record, explained: Ruling, rng: random.Random) -> int:
    """The facts said to be enough settle the outcome with nothing else given, and whatever else is; without any one of
    them it is open. How many facts were enough; 0 where nothing is settled."""
    facts = [each["fact"] for each in explained.sufficient or []]
    if explained.status != "settled":
        assert facts == []
        return 0
    assert _with_only(code, record, facts) == explained.outcome
    for fact in facts:
        assert _with_only(code, record, [other for other in facts if other != fact]) is None
    for _ in range(3):
        other = random_record(code, rng)
        mixed: dict[str, Any] = {**other, **{fact: record[fact] for fact in facts}}
        mixed["contact.controls.complete"] = record["contact.controls.complete"]
        try:
            ruling = code.rule(QUESTION, mixed, "electrical")
        except InputFaults:
            continue
        assert ruling.status == "impossible" or ruling.outcome == explained.outcome
    return len(facts)


def _with_only(code: Code, record: Record, facts: list[str]) -> str | None:
    """The settled outcome of the record's things with only these facts of them given."""
    graph = code.graph(record)
    for thing in graph:
        thing.given = {name: value for name, value in thing.given.items() if name in facts}
    ruling = code.rule(QUESTION, graph, "electrical")
    return ruling.outcome if ruling.status == "settled" else None

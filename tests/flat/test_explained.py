"""A decision is explained on demand: the full ruling on the same record says the same, by the same rules, and why."""

from __future__ import annotations

import random
from functools import cache
from pathlib import Path

import pytest

import yokebook
from flat.held_against import Records, as_decision, said
from flat.tangles import tangle
from yokebook import front_door
from yokebook.code import Code
from yokebook.decision import Decision
from yokebook.ruling import Ruling
from yokebook_adapters.command_line.session import demo_file

BOOK = yokebook.load()
CITY = "demo/tamarisk/brindle-falls"


@cache
def city() -> Code:
    """The law of the demo city."""
    return BOOK.in_force(CITY, {"permit application": "2024-10-15"})


def explained(decision: Decision, ruling: Ruling, code: Code) -> None:
    """Holds a decision against the explanation of the same: all that it says, and each of its rules tried and found to
    stand where it is settled, with its words, source and chain of editions."""
    assert said(decision) == said(as_decision(ruling, code))
    assert ruling.tried is not None
    tried = {row["rule"]: row for row in ruling.tried}
    for rule in ruling.standing:
        assert rule["cite"]
        assert rule["checked"]["mark"]
    if decision.status == "settled" and not decision.ask:
        assert decision.rules == tuple(sorted(rule["rule"] for rule in ruling.standing))
        assert set(decision.rules) <= tried.keys()


@pytest.mark.parametrize("question", ["marking.required", "control.acts", "marking.satisfied", "lighting.wall-control"])
def test_decisions_on_records_are_explained_by_one_call(question: str):
    code, rng = city(), random.Random(question)
    kind = code.kinds_for(question)[0]
    made = Records(code, question, kind)
    decide = code.decider(question, kind)
    decided = 0
    for _ in range(6):
        record = made.one(rng)
        try:
            decision = decide(record)
        except yokebook.InputFaults:
            continue
        explained(decision, code.explain(question, record, kind), code)
        decided += 1
    assert decided > 3


def test_decisions_by_code_made_for_a_question_are_explained_by_one_call():
    for seed in range(6):
        rng = random.Random(seed)
        made = tangle(rng, 3)
        decide = made.code.decider(made.question)
        for _ in range(3):
            record = made.record(rng, rng.choice((0, 1, 2)))
            explained(decide(record), made.code.explain(made.question, record), made.code)


def test_decisions_on_projects_are_explained_by_one_call_each():
    graph = front_door.read_project(Path(demo_file()), BOOK.book)
    code = city()
    decided = code.decide_project(graph, ["marking.required", "control.acts", "share.controlled"])
    assert len({each.question for each in decided}) > 1
    for each in random.Random(1).sample(decided, 8):
        explained(each.decision, code.explain(each.question, graph, each.document, each.subject), code)

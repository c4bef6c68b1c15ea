"""A project ruled on piece by piece: what is asked of it in all, and each ruling by its number."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from yokebook.code import Code
from yokebook.graph import Thing
from yokebook.load.faults import InputFaults
from yokebook.model import Question
from yokebook.ruling import rule_on
from yokebook.session import Session
from yokebook_adapters.building import placed
from yokebook_adapters.outcome import heap
from yokebook_adapters.service.desk import Desk, Reading
from yokebook_adapters.service.laws import Asked

#: How many projects a process keeps ready.
_READY = 2

#: What of a ruling is told; the rest is told when it is asked to be explained.
_TOLD = (
    "question", "ruling", "asks", "subject", "document", "status", "outcome", "word", "says", "against", "idle",
    "not_checked", "possible", "under", "also_held", "ask", "readings_open", "room",
)  # fmt: skip


@dataclass(frozen=True)
class _Ready:
    """One project and law: everything that is asked, in the order in which `yokebook rule` asks it."""

    asked: Asked
    code: Code
    session: Session
    asks: Sequence[tuple[Question, Thing, str]]


def begin(desk: Desk, data: bytes) -> tuple[dict[str, Any], int]:
    """What is told first, and how many rulings come. Raises Problem."""
    ready = _ready(desk, data)
    project = ready.session.graph.project
    rooms = [space.label for space in ready.session.graph.things["space"]]
    told = desk.answer(
        ready.code,
        ready.asked,
        project=project.text.get("project.name", ""),
        stated_by=", ".join(dict.fromkeys(project.stated_by.values())),
        rooms=list(dict.fromkeys(rooms)),
        devices=len(ready.session.graph.things["yoke"]),
        rulings=len(ready.asks),
    )
    return told, len(ready.asks)


def ruling(desk: Desk, data: bytes, number: int) -> dict[str, Any]:
    """The ruling of this number, with the heap that it lies on and the rows that it rests on. Raises Problem."""
    ready = _ready(desk, data)
    question, thing, kind = ready.asks[number]
    made = placed(rule_on(ready.session, question, thing, kind), ready.session.graph)
    rows = [*made["standing"], *([made["none_fires"]] if made["none_fires"] else [])]
    told = {key: made[key] for key in _TOLD} | {"heap": heap(made), "checked": made["checked"]["mark"]}
    return told | {"rests_on": [{"says": row["says"], "cite": row["cite"]} for row in rows]}


def _ready(desk: Desk, data: bytes) -> _Ready:
    key = hashlib.sha256(data).digest()
    found: _Ready | None = desk.followed.get(key)
    if found is None:
        found = desk.followed[key] = _made(desk, data)
        if len(desk.followed) > _READY:
            desk.followed.popitem(last=False)
    desk.followed.move_to_end(key)
    return found


def _made(desk: Desk, data: bytes) -> _Ready:
    reading = Reading(desk, data, "rule_project")
    graph, questions, topics = reading.project(), reading.questions(), reading.topics()
    code = reading.code(graph)
    reading.finish()
    assert graph is not None and code is not None
    try:
        session = code.session(graph)
    except InputFaults as refused:
        raise reading.refused(refused, "/project") from None
    named = None if questions is None else [question.id for question in questions]
    return _Ready(reading.asked(), code, session, code.asked_of(graph, named, topics))



"""Rulings as data, written by hand for tests of the outputs: shaped like `Ruling.to_dict()`, the facts invented."""

from __future__ import annotations

from typing import Any

from yokebook.entities import Kind
from yokebook.model import At, Question
from yokebook_adapters.report import Report

DOCUMENT: dict[str, Any] = {
    "kind": "electrical",
    "id": "nfpa-70",
    "title": "National Electrical Code",
    "edition": "2023",
    "state": "in force",
    "reason": "",
    "place": "demo/tamarisk/brindle-falls",
    "entry": "BF-EC23",
    "amendments": ["BF-1"],
    "amendments_entered": "all entered",
    "office": "the Brindle Falls building counter",
}


def question(name: str, number: str, per: Kind, against: bool) -> Question:
    outcomes = {"does not apply": "", "satisfied": "", "not satisfied": ""}
    bad = frozenset({"not satisfied"} if against else ())
    at = At("questions.yaml", 1, 1)
    return Question(name, number, "", per, outcomes, bad, at, frozenset({"does not apply"}))


QUESTIONS = (
    question("marking.required", "R03", "contact", against=False),
    question("marking.satisfied", "R60", "contact", against=True),
    question("shutoff.delay", "R23", "control", against=True),
    question("switch.rating", "R12", "control", against=True),
    question("receptacle.rating", "R33", "yoke", against=True),
)


def subject(path: str, kind: str = "contact", label: str | None = None) -> dict[str, str]:
    return {"kind": kind, "id": path, "label": path.replace("/", " ") if label is None else label}


def standing(rule: str, then: str, says: str, section: str, **more: Any) -> dict[str, Any]:
    return {
        "rule": rule,
        "then": then,
        "says": says,
        "cite": {"document": "nfpa-70", "section": section},
        "checked": {"mark": "seen", "source": "an invented source"},
        "chain": [],
        "cells": [],
        **more,
    }


def ruling(question: str, number: str, about: dict[str, str], **more: Any) -> dict[str, Any]:
    """A ruling that is settled unless `more` says otherwise."""
    outcome = more.get("outcome", "required")
    status = more.get("status", "settled")
    return {
        "question": question,
        "ruling": number,
        "asks": "Must this receptacle be marked?",
        "subject": about,
        "document": DOCUMENT,
        "status": status,
        "outcome": outcome if status == "settled" else None,
        "word": outcome if status == "settled" else status,
        "says": "it must be marked as controlled",
        "against": False,
        "idle": False,
        "not_checked": False,
        "checked": {"mark": "seen", "because": []},
        "possible": [outcome],
        "under": [],
        "also_held": [],
        "ask": [],
        "readings_open": [],
        "readings_chosen": [],
        "none_fires": None,
        "through": [],
        "standing": [standing(f"{question}#automatic", outcome, "something switches it off by itself", "406.3(F)")],
        "defeated": [],
        "figures": [],
        "possible_is": "exact",
        "status_of": None,
        "room": "",
        "at": None,
        **more,
    }


def cell(name: str, of: str, value: str, wanted: str) -> dict[str, str]:
    return {"input": name, "subject": of, "value": value, "wanted": wanted, "holds": "yes"}


def figure(calculation: str, says: str, value: str, steps: str) -> dict[str, Any]:
    shown = {"calculation": calculation, "subject": "K1", "says": says, "value": value, "steps": steps}
    return {**shown, "exact": None, "low": None, "high": None, "unit": None}


REQUIRED = ruling(
    "marking.required",
    "R03",
    subject("copy/R1/upper", label="R1 upper, copy room"),
    room="copy room",
    at={"file": "shop.yaml", "line": 12, "column": 9},
)
NOT_SATISFIED = ruling(
    "marking.satisfied",
    "R60",
    subject("copy/R1/upper", label="R1 upper, copy room"),
    room="copy room",
    asks="Does the mark that is there satisfy?",
    outcome="not satisfied",
    says="the mark that is there does not do",
    against=True,
    at={"file": "shop.yaml", "line": 12, "column": 9},
    standing=[
        standing("marking.satisfied#none", "not satisfied", "there is no mark where one is needed", "406.3(F)")
        | {"chain": [{"by": "BF-1", "op": "replace", "cite": None, "says": "all controlled receptacles"}]}
    ],
)
SAME_NEXT_DOOR = NOT_SATISFIED | {
    "subject": subject("copy/R2/upper", label="R2 upper, copy room"),
    "at": {"file": "shop.yaml", "line": 20, "column": 9},
}
OFF_TOO_LATE = ruling(
    "shutoff.delay",
    "R23",
    subject("K1", "control", "K1"),
    asks="Does it go off soon enough?",
    outcome="not satisfied",
    says="it goes off too late",
    against=True,
    standing=[
        standing("shutoff.delay#late", "not satisfied", "it carries more than it can", "404.14")
        | {"cells": [cell("control.carries_load", "K1", "no", "no")]}
    ],
    figures=[
        figure("control.carries_load", "the control can carry the load", "no", "2,040 W > 1,800 W by 240 W"),
        figure("control.load_w", "power of what is plugged in; nothing else", "2,040 W", "1,440 W + 600 W"),
        figure("control.rating_w", "power that the control is rated for", "1,800 W", ""),
        figure("control.contacts_count", "how many receptacles it controls", "3", ""),
    ],
)
CANNOT_TELL = ruling(
    "switch.rating",
    "R12",
    subject("S1", "control", "S1"),
    asks="Is the switch rated for what the breaker allows?",
    status="cannot tell",
    possible=["satisfied", "not satisfied"],
    standing=[],
    ask=[
        {
            "subject": "S1",
            "label": "S1",
            "type": "number",
            "fact": "control.amps",
            "asks": "What current is the control rated for?",
            "look": "The nameplate.",
            "values": None,
            "unit": "A",
            "kind": "fact",
        }
    ],
)
READINGS_DIFFER = ruling(
    "switch.rating",
    "R12",
    subject("S2", "control", "S2"),
    asks="Is the switch rated for what the breaker allows?",
    status="readings differ",
    possible=["satisfied", "not satisfied"],
    says="published readings of the clause give different answers",
    readings_open=[
        {
            "reading": "which-breaker",
            "asks": "Which breaker does the clause mean?",
            "cite": {"document": "nfpa-70", "section": "404.14"},
            "alternatives": [
                {
                    "id": "actual",
                    "says": "the breaker that is there",
                    "holders": "an invented body",
                    "source": "",
                    "standing": "published",
                },
                {
                    "id": "largest",
                    "says": "the largest breaker allowed there",
                    "holders": "",
                    "source": "",
                    "standing": "published",
                },
            ],
        }
    ],
    under=[
        {"readings": {"which-breaker": "actual"}, "outcomes": ["satisfied"]},
        {"readings": {"which-breaker": "largest"}, "outcomes": ["not satisfied"]},
    ],
    standing=[],
)
ALSO_HELD = ruling(
    "marking.required",
    "R03",
    subject("home/R2/upper", label="R2 upper, living room"),
    room="living room",
    outcome="not required",
    says="no mark is required",
    also_held=[
        {
            "reading": "any-switch",
            "alternative": "all but lighting",
            "says": "any switch counts but for lighting",
            "holders": "",
            "source": "common practice, no published source found",
            "outcomes": ["required"],
        }
    ],
)
WOULD_BE = ruling(
    "marking.satisfied",
    "R60",
    subject("copy/R3/upper", label="R3 upper, copy room"),
    room="copy room",
    asks="Does the mark that is there satisfy?",
    outcome="not satisfied",
    word="would be not satisfied",
    says="the mark that is there does not do",
    against=True,
    not_checked=True,
    checked={
        "mark": "assumed",
        "because": [{"what": "marking.satisfied#none", "mark": "assumed", "source": "carried over from 2020"}],
    },
)
SATISFIED = ruling(
    "receptacle.rating",
    "R33",
    subject("copy/R1", "yoke", "R1, copy room"),
    room="copy room",
    outcome="satisfied",
    asks="Is the receptacle's rating right for the circuit?",
    says="the rating is right",
)
DOES_NOT_ARISE = SATISFIED | {
    "outcome": "does not apply",
    "word": "does not apply",
    "idle": True,
    "possible": ["does not apply"],
}
CONFLICT = SATISFIED | {"status": "conflict", "outcome": None, "word": "conflict", "says": ""}
SILENT = SATISFIED | {"status": "silent", "outcome": None, "word": "silent", "says": "", "standing": []}
IMPOSSIBLE = SATISFIED | {"status": "impossible", "outcome": None, "word": "impossible", "says": "", "standing": []}
NOT_DECIDED = SATISFIED | {"status": "not decided", "outcome": None, "word": "not decided", "says": "", "standing": []}
NO_ADOPTION = SATISFIED | {
    "status": "no adoption entered",
    "outcome": None,
    "word": "no adoption entered",
    "says": "",
    "document": {
        "kind": "electrical",
        "id": None,
        "title": None,
        "edition": None,
        "place": None,
        "entry": "BF-gap",
        "state": "not entered",
        "reason": "nobody has looked this year up",
        "amendments": [],
        "amendments_entered": "",
        "office": "",
    },
    "standing": [],
    "status_of": {"table": "receptacle.rating", "because": "no adoption is entered for 2019-05-01"},
}
NONE_IN_FORCE = NO_ADOPTION | {"status": "none in force", "word": "none in force"}
ON_MEMORY = SATISFIED | {
    "checked": {"mark": "memory", "because": [{"what": "receptacle.rating#even", "mark": "memory", "source": "memory"}]}
}

EVERY_KIND = (
    REQUIRED,
    NOT_SATISFIED,
    SAME_NEXT_DOOR,
    OFF_TOO_LATE,
    CANNOT_TELL,
    READINGS_DIFFER,
    ALSO_HELD,
    WOULD_BE,
    SATISFIED,
    ON_MEMORY,
    DOES_NOT_ARISE,
    CONFLICT,
    SILENT,
    IMPOSSIBLE,
    NOT_DECIDED,
    NO_ADOPTION,
    NONE_IN_FORCE,
)


def report(*rulings: dict[str, Any], **more: Any) -> Report:
    return Report(
        file="shop.yaml",
        name="Invented shop",
        place="City of Brindle Falls",
        dates={"permit application": "2024-10-15"},
        rulings=rulings,
        cautions=("line voltage can kill",),
        questions={question.id: question for question in QUESTIONS},
        documents={"nfpa-70": "National Electrical Code"},
        **more,
    )

"""What to ask for something not known, in trade words."""

from __future__ import annotations

from typing import Any

from yokebook.entities import LISTS, PREFIX
from yokebook.graph import Thing
from yokebook.session import Session, key_of
from yokebook.values import Var

#: What the items of a list are called when one asks whether all of them are listed.
_ITEMS = {
    "space": "room",
    "yoke": "device",
    "contact": "receptacle",
    "control": "control",
    "circuit": "circuit",
    "load": "wired load",
}


def ask_of(session: Session, var: Var) -> dict[str, Any]:
    """The question that an unknown thing stands for, as data: whose, which fact, how to ask, where to look, the
    words or unit that an answer takes."""
    subject = _subject(session, var)
    label = subject.label or subject.id if subject is not None else ""
    data: dict[str, Any] = {
        "subject": subject.id if subject is not None else "",
        "label": label,
        "kind": var.kind,
        "fact": var.name,
        "asks": "",
        "look": "",
        "values": None,
        "unit": None,
        "type": "text",
    }
    if var.kind == "fact":
        fact = session.book.facts[var.name]
        data.update(
            asks=fact.asks, look=fact.look, values=dict(fact.values) or None, unit=fact.unit, type=fact.type
        )
    elif var.kind == "figure":
        calculation = session.book.calculations[var.name.partition(":")[2]]
        data.update(
            fact=calculation.id, asks=calculation.asks, unit=calculation.unit, type=calculation.type, kind="fact",
            look="Its nameplate or data sheet.",
        )  # fmt: skip
    elif var.kind == "list":
        assert subject is not None
        data.update(_list(subject, var.name, label))
    elif var.kind == "link":
        asks = f"what is plugged in at {label}?" if var.name == "load" else f"which {var.name} feeds {label}?"
        data.update(asks=_capital(asks), look="Look at the receptacle, the plan or the panel.", type="link")
        data["fact"] = f"{PREFIX[subject.kind]}.{var.name}" if subject is not None else var.name
    elif var.kind == "answer":
        kind, _, question = var.name.partition(":")
        asked = session.book.questions[question]
        data.update(
            fact=f"answer.{kind}.{question}", asks=asked.asks, values=dict(asked.outcomes), type="choice",
            look=f"No {kind} document is in force here to answer it; ask the authority.",
        )  # fmt: skip
    elif var.kind == "entry":
        data.update(_entry(session, var.name))
    return data


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _list(subject: Thing, name: str, label: str) -> dict[str, Any]:
    item = _ITEMS[LISTS[subject.kind][name].kind]
    count = len(subject.list_of(name)[0])
    if count == 0:
        asks = f"Which {item}s belong to {label}? List them, or say that there is none."
    elif count == 1:
        asks = f"Is the one {item} listed for {label} the only one?"
    else:
        asks = f"Are the {count} {item}s listed for {label} all that there are?"
    return {
        "fact": f"{PREFIX[subject.kind]}.{name}.complete",
        "asks": asks,
        "look": "The plan, the panel directory, or the wiring.",
        "type": "yes_no",
    }


def _entry(session: Session, kind: str) -> dict[str, Any]:
    line = session.in_force[kind]
    for what, name, asks, alternatives in line.needs:
        if what == "date":
            return {
                "fact": f"dates.{name}",
                "asks": asks or f"What is the date of the {name}?",
                "look": "The permit.",
                "type": "date",
            }
        return {
            "fact": f"choices.{name}",
            "asks": asks,
            "look": "The permit application.",
            "values": {alternative: alternative for alternative in alternatives},
            "type": "choice",
        }
    return {"fact": f"line.{kind}", "asks": f"Which entry of the {kind} line governs?", "look": "The permit."}


def _subject(session: Session, var: Var) -> Thing | None:
    for thing in session.graph:
        if key_of(thing) == var.subject:
            return thing
    for thing in session.phantoms.values():
        if key_of(thing) == var.subject:
            return thing
    return None

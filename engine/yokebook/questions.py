"""What to ask for something not known, in trade words."""

from __future__ import annotations

from typing import Any

from yokebook.decision import Asked
from yokebook.entities import LISTS, PREFIX
from yokebook.graph import Thing
from yokebook.session import Session, key_of
from yokebook.values import Var

#: What the items of a list are called when one asks whether all of them are listed.
_ITEMS = {
    "space": "room",
    "wall": "wall",
    "yoke": "device",
    "contact": "receptacle",
    "control": "control",
    "circuit": "circuit",
    "load": "wired load",
}

#: How one asks for a reference that is not to what feeds something.
_LINKS = {"load": "What is plugged in there?", "wall": "Which wall is it on?"}


def asks_of(session: Session, variables: list[Var]) -> list[dict[str, Any]]:
    """What to ask for unknown things, in order and each once.

    In a project, a fact of something that nobody has named (the circuit of a receptacle, say) cannot be stated by
    itself: what it is has to be named first, so the question is which one, and those facts of it.
    """
    found = []
    for var, facts in _named_first(session, variables).items():
        ask = ask_of(session, var)
        of_it = dict.fromkeys(ask_of(session, fact, "it")["asks"] for fact in facts)
        if of_it:
            ask["asks"] = f"{ask['asks']} Of that {var.name}: {' '.join(of_it)}"
        found.append(ask)
    return found


def asked_of(session: Session, variables: list[Var]) -> tuple[Asked, ...]:
    """As `asks_of`, without the words: whose fact each is, and which."""
    found: list[Asked] = []
    for var in _named_first(session, variables):
        subject = _subject(session, var)
        fact = ask_of(session, var)["fact"]
        found.append(Asked("", fact, "") if subject is None else Asked(subject.id, fact, subject.kind))
    return tuple(found)


def _named_first(session: Session, variables: list[Var]) -> dict[Var, list[Var]]:
    """What to ask: a fact of something that nobody has named stands under the question which one it is."""
    owners = {key_of(thing): (owner, kind) for (owner, kind), thing in session.phantoms.items()}
    if session.graph.form == "record":
        owners = {}
    links: dict[Var, list[Var]] = {}
    for var in variables:
        if var.subject in owners:
            owner, kind = owners[var.subject]
            links.setdefault(Var("link", owner, kind), []).append(var)
        else:
            links.setdefault(var, [])
    return links


def ask_of(session: Session, var: Var, called: str | None = None) -> dict[str, Any]:
    """The question that an unknown thing stands for, as data: whose, which fact, how to ask, where to look, the
    words or unit that an answer takes. `called` is how the sentence names the thing, its label if not given."""
    subject = _subject(session, var)
    label = called or (subject.label or subject.id if subject is not None else "")
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
            look=calculation.look or "Its nameplate or data sheet.",
        )  # fmt: skip
    elif var.kind == "list":
        assert subject is not None
        data.update(_list(subject, var.name, label))
    elif var.kind == "link":
        # without the label in it, so that outputs can ask it once for many things
        asks = _LINKS.get(var.name, f"Which {var.name} feeds it?")
        data.update(asks=asks, look="Look at the receptacle, the plan or the panel.", type="link")
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
    found = session.named((var.subject,))
    return found[0] if found else None

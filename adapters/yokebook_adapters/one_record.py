"""Lists and links as one flat record can answer them: a yes or a no instead of a list of names.

A flat record holds at most one thing of each kind. Whether it is there, and whether it is the only one, is all that a
person can say in it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from yokebook.entities import KIND_OF_PREFIX, LISTS, PREFIX, REFERENCE, Kind

#: What things are called in a question about one device.
_CALLED: dict[Kind, str] = {
    "project": "the building",
    "space": "the room",
    "yoke": "the device",
    "contact": "the receptacle",
    "control": "the control",
    "circuit": "the circuit",
    "load": "the load",
}

#: Whether there is anything in a list, where "does X have any Y" is not how one says it.
_ANY: dict[str, str] = {
    "control.contacts.complete": "Does the control feed a receptacle?",
    "circuit.contacts.complete": "Does the circuit feed a receptacle?",
    "control.wired_loads.complete": "Is any load wired straight to the control, not plugged in?",
    "circuit.wired_loads.complete": "Is any load wired straight to the circuit, not plugged in?",
    "contact.controls.complete": "Does a switch or control feed the receptacle?",
}
_ONLY: dict[str, str] = {
    "receptacle.contacts.complete": "Is this half the only one on the device?",
    "contact.controls.complete": "Is the control described the only one on this receptacle?",
}
_LINK: dict[str, str] = {
    "contact.circuit": "Does a circuit feed the receptacle?",
    "contact.load": "Is anything plugged in there?",
}

#: The lists whose one item a flat record ties to the thing as soon as it names it.
_TIED = ("contacts", "controls")


@dataclass(frozen=True)
class Put:
    """A question of yes or no, and what a record gains by each answer; None where it cannot hold the answer."""

    asks: str
    yes: Mapping[str, Any] | None
    no: Mapping[str, Any] | None


def put(ask: Mapping[str, Any], count: int) -> Put | None:
    """The yes or no that stands for a list or a link, `count` things being in the list so far; None for any other ask.

    >>> put({"kind": "list", "fact": "control.contacts.complete"}, 1).asks
    'Is the receptacle described the only one on the control?'
    """
    fact = str(ask["fact"])
    prefix, _, rest = fact.partition(".")
    if ask["kind"] == "list":
        owner, name = KIND_OF_PREFIX[prefix], rest.removesuffix(".complete")
        kind = LISTS[owner][name].kind
        if count:
            asks = _ONLY.get(fact) or f"Is {_CALLED[kind]} described the only one on {_CALLED[owner]}?"
            return Put(asks, yes={fact: True}, no={fact: False})
        any_one = _ANY.get(fact) or f"Is there {_CALLED[kind].replace('the', 'any', 1)} on {_CALLED[owner]}?"
        return Put(any_one, yes=_naming(kind) if name in _TIED else None, no={fact: True})
    if ask["kind"] == "link":
        kind = REFERENCE[KIND_OF_PREFIX[prefix]][rest]
        asks = _LINK.get(fact) or f"Is there {_CALLED[kind].replace('the', 'any', 1)} on it?"
        return Put(asks, yes=_naming(kind), no={fact: "none"})
    return None


def called(label: str) -> str:
    """The label of a thing of a flat record as a person says it, who has the thing in hand.

    >>> called("the contact device, living room")
    'the receptacle, living room'
    """
    return label.replace("the contact device", _CALLED["contact"])


def linked(ask: Mapping[str, Any]) -> str:
    """What facts of the thing that a link asks for begin with."""
    prefix, _, rest = str(ask["fact"]).partition(".")
    return PREFIX[REFERENCE[KIND_OF_PREFIX[prefix]][rest]]


def _naming(kind: Kind) -> Mapping[str, Any] | None:
    """What names the record's thing of this kind and says nothing else of it: that a list of it may go on."""
    flagged = [name for name, of in LISTS.get(kind, {}).items() if of.flagged]
    return {f"{PREFIX[kind]}.{flagged[0]}.complete": False} if flagged else None

"""A small rulebook made by hand, so that messages can be told in full without leaning on the shipped facts."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from yokebook.entities import PREFIX, Kind
from yokebook.model import (
    Adopts,
    At,
    Book,
    Calculation,
    Checked,
    Entry,
    Fact,
    LookUp,
    OneOf,
    Place,
    Refuse,
    Value,
    WhereBox,
)

AT = At("small.yaml", 1, 1)


def fact(kind: Kind, key: str, fact_type: str, values: tuple[str, ...] = (), **more: Any) -> Fact:
    """A fact of a thing of this kind; `more` may set unit, low, low_open, high, whole and applies_when."""
    plain: dict[str, Any] = {
        "unit": None,
        "low": None,
        "low_open": False,
        "high": None,
        "high_open": False,
        "whole": False,
    }
    plain |= {"applies_when": None} | more
    name = f"{PREFIX[kind]}.{key}"
    return Fact(
        id=name,
        entity=kind,
        type=fact_type,  # type: ignore[arg-type]
        says=f"What {name} says.",
        asks=f"{name}?",
        look="",
        values={value: f"meaning of {value}" for value in values},
        at=AT,
        **plain,
    )


def box(**cells: tuple[Value, ...]) -> dict[str, OneOf]:
    """A box of one-of cells; `__` in a name stands for the point."""
    return {name.replace("__", "."): OneOf(frozenset(values)) for name, values in cells.items()}


ZERO = Fraction(0)
FACTS = [
    fact("project", "name", "text"),
    fact("project", "work_kind", "choice", ("new", "existing")),
    fact("space", "name", "text"),
    fact("space", "use", "choice", ("office", "kitchen")),
    fact("space", "area_sq_ft", "number", unit="sq ft", low=ZERO, low_open=True),
    fact("yoke", "name", "text"),
    fact("yoke", "location", "text"),
    fact("yoke", "configuration", "choice", ("5-15R", "6-20R")),
    fact("contact", "position", "choice", ("upper", "lower", "only")),
    fact("contact", "supply", "choice", ("always on", "controlled")),
    fact("contact", "nearest_in", "number", unit="in", low=ZERO),
    fact("contact", "mark", "choice", ("none", "word")),
    fact("contact", "mark_permanent", "yes_no", applies_when=box(contact__mark=("word",))),
    fact("contact", "mark_deep", "yes_no", applies_when=box(contact__mark_permanent=(True,))),
    fact("control", "turns_off_by", "choice", ("person", "presence")),
    fact("control", "listed_for.receptacle_loads", "yes_no"),
    fact("control", "off_delay_min", "number", unit="min", low=ZERO),
    fact("control", "floors", "number", whole=True, low=Fraction(1), high=Fraction(9)),
    fact("circuit", "breaker_amps", "number", unit="A", low=ZERO, low_open=True),
    fact("load", "kind", "choice", ("lamp", "other")),
    fact("load", "motor_hp", "number", unit="hp", low=ZERO, low_open=True),
    fact("load", "power_factor", "number", low=ZERO, low_open=True, high=Fraction(1)),
]


def _calculation(name: str, kind: Kind, expression: Any, **more: Any) -> Calculation:
    plain: dict[str, Any] = {"unit": None, "values": {}, "cite": None, "refuse": ()}
    checked = Checked("derived", "definition")
    says = f"What {name} says."
    return Calculation(id=name, entity=kind, expression=expression, says=says, checked=checked, at=AT, **(plain | more))


_VOLTS = LookUp("receptacle.configuration", {"5-15R": Fraction(125), "6-20R": Fraction(250)}, None)
_REFUSE = Refuse(frozenset({Fraction(120)}), "that is the circuit's voltage; a receptacle on it is rated 125 V")
CALCULATIONS = [
    _calculation("receptacle.volts", "yoke", _VOLTS, type="number", unit="V", refuse=(_REFUSE,)),
    _calculation("contact.switched", "contact", WhereBox((box(contact__supply=("controlled",)),)), type="yes_no"),
]


def _entry(entry_id: str, **more: Any) -> Entry:
    plain: dict[str, Any] = {"event": None, "on_or_after": None, "adopts": None, "follows": None, "none_in_force": None}
    plain |= {"not_entered": None, "choice": None, "choice_id": None, "choice_asks": None, "says": "", "source": ""}
    return Entry(id=entry_id, at=AT, **(plain | more))


_ADOPTS = Adopts("small", "1", (), "all entered")
_WINDOW = _entry(
    "window",
    event="permit application",
    on_or_after="2024-01-01",
    choice={"old": _ADOPTS, "new": _ADOPTS},
    choice_id="window-2024",
    choice_asks="which?",
)
PLACE = Place(
    id="demo/town",
    name="Town",
    within=None,
    office="the counter",
    demo=True,
    lines={"electrical": (_entry("first", none_in_force="nothing yet"), _WINDOW)},
    layers={},
    at=AT,
)

BOOK = Book(
    root="small",
    questions={},
    facts={one.id: one for one in FACTS},
    impossible=(),
    calculations={one.id: one for one in CALCULATIONS},
    readings={},
    documents={},
    editions={},
    places={PLACE.id: PLACE},
    cautions=(),
)

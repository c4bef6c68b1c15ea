"""A graph as the data of a project file: whatever it was read from, what comes out reads as the same building."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from yokebook.entities import LISTS, PARENT, REFERENCE, REFERENCES, Kind
from yokebook.graph import Graph, Thing
from yokebook.model import Book, Value
from yokebook.showing import unit_of

#: Under which key a thing has the things that stand in it, by kind; what stands in the project is at the top.
_CHILDREN: dict[Kind, list[str]] = {}
for _kind, (_parent, _list) in PARENT.items():
    _CHILDREN.setdefault(_parent, []).append(_list)

_NOTHING = "none"


def project_data(graph: Graph, book: Book) -> dict[str, Any]:
    """The project as JSON-able data: each fact given, with numbers as text in their unit and nothing rounded, each
    reference, which lists are complete, and who said it. A flat record comes out as a project of one thing each; what
    it says nothing of is left out."""
    project = _own(graph.project, book)
    if graph.place is not None:
        project["place"] = graph.place
    for key, dated in (("dates", graph.dates), ("choices", graph.choices)):
        if dated:
            project[key] = dict(dated)
    return {"project": project} | _inside(graph.project, book)


def _inside(thing: Thing, book: Book) -> dict[str, Any]:
    return {
        key: [_nested(item, book) for item in items]
        for key in _CHILDREN.get(thing.kind, ())
        if (items := [item for item in thing.many.get(key, []) if item.named])
    }


def _nested(thing: Thing, book: Book) -> dict[str, Any]:
    return {"id": _own_id(thing)} | _own(thing, book) | _inside(thing, book)


def _own_id(thing: Thing) -> str:
    """The id under which the thing stands in its parent."""
    parent = thing.refs.get(PARENT[thing.kind][0])
    within = f"{parent.id}/" if parent is not None and parent.kind != "project" else ""
    return thing.id.removeprefix(within)


def _own(thing: Thing, book: Book) -> dict[str, Any]:
    made: dict[str, Any] = {_key(name): text for name, text in thing.text.items()}
    made |= {_key(name): _written(value, unit_of(book, name)) for name, value in thing.given.items()}
    for key in REFERENCE.get(thing.kind, {}):
        if key in thing.refs:
            there = thing.refs[key]
            made[key] = _NOTHING if there is None else _own_id(there)
    for key in REFERENCES.get(thing.kind, {}):
        named = [_own_id(there) for there in thing.many.get(key, []) if there.named]
        if named or thing.complete.get(key):
            made[key] = named
    whole = {key: whole for key, whole in thing.complete.items() if LISTS[thing.kind][key].flagged}
    if whole:
        made["complete"] = whole
    if thing.stated_by:
        made["stated_by"] = next(iter(thing.stated_by.values()))
    return made


def _key(name: str) -> str:
    """The key under which a project file has a fact; the answer to another question keeps its whole name."""
    return name if name.startswith("answer.") else name.partition(".")[2]


def _written(value: Value, unit: str | None) -> Any:
    """The value so that it reads as itself.

    >>> _written(Fraction(1, 3), "hp"), _written(Fraction(3, 4), None), _written(Fraction(25, 2), "in")
    ('1/3 hp', 0.75, '12.5 in')
    """
    if isinstance(value, bool | str):
        return value
    if unit is None:
        return value.numerator if value.denominator == 1 else float(value)
    return f"{_digits(value)} {unit}"


def _digits(value: Fraction) -> str:
    for places in range(13):
        scaled = value * 10**places
        if scaled.denominator == 1:
            text = f"{abs(scaled.numerator):0{places + 1}d}"
            whole, part = (text[:-places], f".{text[-places:]}") if places else (text, "")
            return f"{'-' if value < 0 else ''}{whole}{part}"
    return f"{value.numerator}/{value.denominator}"

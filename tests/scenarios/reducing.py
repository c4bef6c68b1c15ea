"""Taking away from a project what it says, one piece at a time, so that what is left is still true of it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any, Literal

from scenarios.staging import Data

#: Where the things of a kind stand in a project file, and the lists of their own that they can be in doubt about.
TOP = {"controls": ("contacts", "wired_loads"), "circuits": ("contacts", "wired_loads"), "loads": ("contacts",)}
NESTED = ("spaces", "yokes", "contacts")
OWN_LISTS = {"spaces": ("yokes",), "yokes": ("contacts",), "contacts": ("controls",)} | TOP
STRUCTURE = ("id", "complete", "spaces", "yokes", "contacts", "place", "dates", "choices", "stated_by")


@dataclass(frozen=True)
class Reduction:
    """One thing less that the project says; `take` changes the data in place and may find nothing left to take."""

    says: str
    kind: Literal["fact", "list", "thing"]
    take: Callable[[Data], None]


@dataclass(frozen=True)
class Here:
    """A thing of the data, under what it stands, and its path."""

    path: str
    kind: str  # the list it stands in
    thing: Data
    inside: Data


def things(data: Data) -> Iterator[Here]:
    """Every thing of the project, parents first."""
    yield Here("project", "project", data["project"], data)
    yield from _nested(data, 0, "")
    for kind in TOP:
        for thing in data.get(kind, ()):
            yield Here(thing["id"], kind, thing, data)


def _nested(inside: Data, depth: int, above: str) -> Iterator[Here]:
    if depth == len(NESTED):
        return
    for thing in inside.get(NESTED[depth], ()):
        path = f"{above}{thing['id']}"
        yield Here(path, NESTED[depth], thing, inside)
        yield from _nested(thing, depth + 1, f"{path}/")


def reductions(data: Data) -> list[Reduction]:
    """Every single piece that can be taken away: a fact, a reference, a thing, that a list is complete."""
    found: list[Reduction] = []
    for here in things(data):
        where = f"{here.kind} {here.path}"
        for key in here.thing:
            if key not in STRUCTURE:
                found.append(Reduction(f"{where} without {key}", "fact", _taking(here.kind, here.path, key)))
        for name in OWN_LISTS.get(here.kind, ()):
            found.append(Reduction(f"{where} not all its {name}", "list", _doubting(here.kind, here.path, name)))
        if here.kind != "project":
            found.append(Reduction(f"{here.kind} without {here.path}", "thing", _cutting(here.kind, here.path)))
    return found


def _at(data: Data, kind: str, path: str) -> Here | None:
    return next((here for here in things(data) if (here.kind, here.path) == (kind, path)), None)


def _doubt(thing: Data, name: str) -> None:
    thing.setdefault("complete", {})[name] = False


def _doubt_what_refers(data: Data, contact: Data) -> None:
    """What a contact device points at no longer knows all that points at it."""
    targets: list[tuple[str, Any]] = [("circuits", contact.get("circuit")), ("loads", contact.get("load"))]
    targets += [("controls", control) for control in contact.get("controls", ())]
    for kind, target in targets:
        here = _at(data, kind, str(target))
        if here is not None:
            _doubt(here.thing, "contacts")


def _taking(kind: str, path: str, key: str) -> Callable[[Data], None]:
    def take(data: Data) -> None:
        here = _at(data, kind, path)
        if here is None or key not in here.thing:
            return
        if key in ("circuit", "load", "controls"):
            _doubt_what_refers(data, {key: here.thing[key]})
        if key == "controls":
            _doubt(here.thing, "controls")
        del here.thing[key]

    return take


def _doubting(kind: str, path: str, name: str) -> Callable[[Data], None]:
    def take(data: Data) -> None:
        here = _at(data, kind, path)
        if here is not None:
            _doubt(here.thing, name)

    return take


def _cutting(kind: str, path: str) -> Callable[[Data], None]:
    def take(data: Data) -> None:
        here = _at(data, kind, path)
        if here is None:
            return
        for below in list(things(data)):
            if below.kind == "contacts" and f"{below.path}/".startswith(f"{path}/"):
                _doubt_what_refers(data, below.thing)
        here.inside[kind] = [thing for thing in here.inside[kind] if thing is not here.thing]
        _doubt(data["project"] if here.inside is data else here.inside, kind)
        if kind in TOP:
            _unlink(data, kind, path)

    return take


def _unlink(data: Data, kind: str, name: str) -> None:
    """Nothing points any more at a control, circuit or load that is not listed."""
    for here in things(data):
        if here.kind != "contacts":
            continue
        if kind == "controls" and name in here.thing.get("controls", ()):
            here.thing["controls"] = [control for control in here.thing["controls"] if control != name]
            _doubt(here.thing, "controls")
        key = {"circuits": "circuit", "loads": "load"}.get(kind)
        if key is not None and here.thing.get(key) == name:
            del here.thing[key]

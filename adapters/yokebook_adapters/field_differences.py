"""Where two records of one project differ, as data: what is given, and what is ruled of it (R56). No rule is here.

Things are matched by kind and path. Who stated a fact, and the order of things, are no differences.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from yokebook.entities import KINDS, REFERENCE, REFERENCES, Kind
from yokebook.graph import Graph, Thing
from yokebook.model import Book
from yokebook.showing import show_value, unit_of
from yokebook_adapters.building import room_of
from yokebook_adapters.finding_text import headline
from yokebook_adapters.outcome import RulingData

NOT_GIVEN, NONE = "not given", "none"


def differences(
    plan: Graph, field: Graph, book: Book, planned: Iterable[RulingData], found: Iterable[RulingData]
) -> dict[str, Any]:
    """Everything that differs between two records of one project, by room.

    `planned` and `found` are the rulings on each under the same law.

    `project`: `place`, `dates` and `choices` that differ, each `{what, was, is}`.
    `rooms`: in the plan's order, then the field's; last `room` "" for what is in no single one. Each has `things`, in
    order of kind: `{kind, path, label, only, facts, references, lists, complete}` with `only` `plan`, `field` or None,
    and each of the rest a list of `{what, says, was, is}` (`says` in plain words, values as text with units; `not
    given` where nobody gave it, `none` where it was said that there is none; lists have `gone` and `new` beside);
    and `rulings`: `{question, ruling, asks, kind, path, label, was, is, against}` where the word differs, `was` and
    `is` as headlines, None where it is asked only of the other, `against` of what is there now.
    `count`: how many differences in all.
    """
    rooms: dict[str, dict[str, Any]] = {}
    things = [*_things(plan, field, book)]
    rulings = _rulings([*planned], [*found])
    order = [space.label for graph in (plan, field) for space in graph.things["space"]]
    for room in dict.fromkeys([*order, *(e["room"] for e in (*things, *rulings) if e["room"]), ""]):
        here = {
            "room": room,
            "things": [_without_room(entry) for entry in things if entry["room"] == room],
            "rulings": [_without_room(entry) for entry in rulings if entry["room"] == room],
        }
        if here["things"] or here["rulings"]:
            rooms[room] = here
    project = _project(plan, field)
    count = len(project) + sum(_count(room) for room in rooms.values())
    return {"project": project, "rooms": list(rooms.values()), "count": count}


def _without_room(entry: Mapping[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in entry.items() if key != "room"}


def _count(room: Mapping[str, Any]) -> int:
    parts = ("facts", "references", "lists", "complete")
    in_things = sum(1 if thing["only"] else sum(len(thing[part]) for part in parts) for thing in room["things"])
    return in_things + len(room["rulings"])


def _project(plan: Graph, field: Graph) -> list[dict[str, str]]:
    """Place, dates and choices that differ; the rulings compared are under the plan's."""
    found = [{"what": "place", "was": plan.place or NOT_GIVEN, "is": field.place or NOT_GIVEN}]
    for was, now in ((plan.dates, field.dates), (plan.choices, field.choices)):
        found += [
            {"what": name, "was": was.get(name, NOT_GIVEN), "is": now.get(name, NOT_GIVEN)}
            for name in dict.fromkeys([*was, *now])
        ]
    return [each for each in found if each["was"] != each["is"]]


# ---- things ----------------------------------------


def _things(plan: Graph, field: Graph, book: Book) -> Iterable[dict[str, Any]]:
    """Every thing that differs, kinds in order, things of the plan before those that only the field has."""
    for kind in KINDS:
        was = {thing.id: thing for thing in plan.things[kind] if thing.named}
        now = {thing.id: thing for thing in field.things[kind] if thing.named}
        for path in dict.fromkeys([*was, *now]):
            entry = _thing(kind, was.get(path), now.get(path), book)
            if entry is not None:
                yield entry


def _thing(kind: Kind, was: Thing | None, now: Thing | None, book: Book) -> dict[str, Any] | None:
    thing = was or now
    assert thing is not None
    entry = {
        "room": room_of(thing),
        "kind": kind,
        "path": thing.id,
        "label": thing.label or thing.id,
        "only": None if was and now else "plan" if was else "field",
        "facts": _facts(was, now, book) if was and now else [],
        "references": _references(kind, was, now) if was and now else [],
        "lists": _lists(kind, was, now) if was and now else [],
        "complete": _complete(was, now) if was and now else [],
    }
    parts = ("only", "facts", "references", "lists", "complete")
    return entry if any(entry[part] for part in parts) else None


def _facts(was: Thing, now: Thing, book: Book) -> list[dict[str, Any]]:
    names = dict.fromkeys([*was.given, *was.text, *now.given, *now.text])
    pairs = ((name, _shown(was, name, book), _shown(now, name, book)) for name in names)
    return [_difference(name, _says(name, book), a, b) for name, a, b in pairs if a != b]


def _shown(thing: Thing, name: str, book: Book) -> str:
    if name in thing.given:
        return show_value(thing.given[name], unit_of(book, name))
    return thing.text.get(name, NOT_GIVEN)


def _says(name: str, book: Book) -> str:
    known = book.facts.get(name) or book.calculations.get(name)
    return known.says if known is not None else name


def _difference(what: str, says: str, was: str, now: str, **more: Any) -> dict[str, Any]:
    return {"what": what, "says": says, "was": was, "is": now, **more}


def _references(kind: Kind, was: Thing, now: Thing) -> list[dict[str, Any]]:
    pairs = ((key, _referred(was, key), _referred(now, key)) for key in REFERENCE.get(kind, ()))
    return [_difference(key, f"its {key}", a, b) for key, a, b in pairs if a != b]


def _referred(thing: Thing, key: str) -> str:
    if key not in thing.refs:
        return NOT_GIVEN
    there = thing.refs[key]
    return NONE if there is None else there.id


def _lists(kind: Kind, was: Thing, now: Thing) -> list[dict[str, Any]]:
    """Lists by id that differ; what stands inside a thing (rooms, devices, halves) is told where it stands itself."""
    found = []
    for key in REFERENCES.get(kind, ()):
        a, b = ([each.id for each in thing.list_of(key)[0]] for thing in (was, now))
        if set(a) != set(b):
            gone, new = [each for each in a if each not in b], [each for each in b if each not in a]
            says = f"its {key.replace('_', ' ')}"
            found.append(_difference(key, says, _list_text(was, key), _list_text(now, key), gone=gone, new=new))
    return found


def _list_text(thing: Thing, key: str) -> str:
    """The ids; where there are none, whether that was said or the list was not given at all."""
    items, complete = thing.list_of(key)
    return ", ".join(item.id for item in items) or (NONE if complete else NOT_GIVEN)


def _complete(was: Thing, now: Thing) -> list[dict[str, Any]]:
    names = dict.fromkeys([*was.complete, *now.complete])
    pairs = ((name, _said(was, name), _said(now, name)) for name in names)
    lead = "whether all are listed of its"
    return [_difference(name, f"{lead} {name.replace('_', ' ')}", a, b) for name, a, b in pairs if a != b]


def _said(thing: Thing, name: str) -> str:
    return "not said" if name not in thing.complete else "yes" if thing.complete[name] else "no"


# ---- rulings ----------------------------------------


def _rulings(planned: Sequence[RulingData], found: Sequence[RulingData]) -> list[dict[str, Any]]:
    """The rulings whose word differs, what is against now first, each kept in the order of the plan."""
    was, now = ({_key(ruling): ruling for ruling in rulings} for rulings in (planned, found))
    entries = []
    for key in dict.fromkeys([*was, *now]):
        a, b = was.get(key), now.get(key)
        if (a["word"] if a else None) != (b["word"] if b else None):
            entries.append(_ruling(a, b))
    return sorted(entries, key=lambda entry: not entry["against"])


def _key(ruling: RulingData) -> tuple[str, str, str, str]:
    kind = ruling["document"]["kind"] if ruling["document"] else ""
    return ruling["question"], kind, ruling["subject"]["kind"], ruling["subject"]["id"]


def _ruling(was: RulingData | None, now: RulingData | None) -> dict[str, Any]:
    either = now or was
    assert either is not None
    return {
        "room": either["room"],
        "question": either["question"],
        "ruling": either["ruling"],
        "asks": either["asks"],
        "kind": either["subject"]["kind"],
        "path": either["subject"]["id"],
        "label": either["subject"]["label"] or either["subject"]["id"],
        "was": None if was is None else headline(was),
        "is": None if now is None else headline(now),
        "against": bool(now and now["against"]),
    }

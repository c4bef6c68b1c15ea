"""What a thing is called in trade words, for people to find it by."""

from __future__ import annotations

from yokebook.entities import KINDS, PREFIX
from yokebook.graph import Graph, Thing

_BARE = {
    "project": "the project",
    "space": "the room",
    "wall": "the wall",
    "yoke": "the receptacle",
    "contact": "the contact device",
    "control": "the control",
    "circuit": "the circuit",
    "load": "the load",
}


def label_things(graph: Graph, words: dict[Thing, str]) -> None:
    """Sets every thing's label, such as `R1 upper, left of the door, living room`.

    `words` holds what the input itself calls a thing (its id, or the row's name); a thing without a word there is
    called after its facts.
    """
    for kind in KINDS:
        for thing in graph.things[kind]:
            thing.label = _label(thing, words)


def _label(thing: Thing, words: dict[Thing, str]) -> str:
    if thing.kind == "contact":
        return _contact(thing, words)
    if thing.kind == "wall":
        return ", ".join([_called(thing, words), *_room(thing, words)])
    if thing.kind == "yoke":
        return ", ".join([_called(thing, words), *_whereabouts(thing, words)])
    return _called(thing, words)


def _contact(contact: Thing, words: dict[Thing, str]) -> str:
    yoke = contact.refs["yoke"]
    assert yoke is not None
    position = contact.given.get("contact.position") or words.get(contact, "")
    half = "" if position == "only" else str(position)
    if yoke in words or "receptacle.name" in yoke.text:
        first = f"{_called(yoke, words)} {half}".rstrip()
    else:
        first = f"the {half} contact device" if half else _BARE["contact"]
    return ", ".join([first, *_whereabouts(yoke, words)])


def _whereabouts(yoke: Thing, words: dict[Thing, str]) -> list[str]:
    """Where the device is, as far as it is given: its place in the room, and the room."""
    parts = [yoke.text["receptacle.location"]] if "receptacle.location" in yoke.text else []
    return [*parts, *_room(yoke, words)]


def _room(thing: Thing, words: dict[Thing, str]) -> list[str]:
    """The room that a thing is in, if it is called anything."""
    space = thing.refs["space"]
    assert space is not None
    room = _called(space, words)
    return [] if room == _BARE["space"] else [room]


def _called(thing: Thing, words: dict[Thing, str]) -> str:
    name = thing.text.get(f"{PREFIX[thing.kind]}.name") or words.get(thing)
    if thing.kind == "space" and name is None:
        name = str(thing.given.get("space.use", "")) or None
    return name or _BARE[thing.kind]

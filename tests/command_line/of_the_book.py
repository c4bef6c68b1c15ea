"""What messages list of the shipped rulebook, read off its files: a message stays as it is while the rulebook grows."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from pathlib import Path
from typing import Any

from yokebook import shipped
from yokebook.load.faults import Fault
from yokebook.load.files import read_file
from yokebook.load.nodes import plain_data

MOST_LISTED = 12


def listed(words: Iterable[str], most: int | None = MOST_LISTED) -> str:
    """Words in backticks; of more than `most`, the first ones and how many are left."""
    every = [f"`{word}`" for word in words]
    if most is None or len(every) <= most:
        return ", ".join(every)
    return f"{', '.join(every[:most])} and {len(every) - most} more"


def place_ids() -> list[str]:
    """Every place once, in the order of the files."""
    return [data["place"] for data in _files("places")]


def events() -> list[str]:
    """Every event that an entry of a place or one of its layers goes by, once, in the order of the entries."""
    found: dict[str, None] = {}
    for place in _files("places"):
        for entry in (entry for line in place["lines"].values() for entry in line):
            if "event" in entry:
                found.setdefault(entry["event"])
            for name in _layers_of(entry):
                applies = place.get("layers", {}).get(name, {}).get("applies")
                if applies:
                    found.setdefault(applies["event"])
    return list(found)


def _layers_of(entry: dict[str, Any]) -> list[str]:
    """The layers that an entry names of its own place."""
    alternatives = entry.get("choice", {}).get("alternatives", {}).values()
    return [name for part in (entry, entry.get("adopts", {}), *alternatives) for name in part.get("layers", ())]


def has(kind: str) -> list[str]:
    """What can be said of one kind of thing: its facts and calculations, and what every thing has, by the alphabet."""
    start = f"{kind}."
    facts = {name for data in _files("facts") if data["entity"] == kind for name in data["facts"]}
    figures = {name for data in _files("calculations") for name in data["calculations"]}
    figures = {name.removeprefix(start) for name in figures if name.startswith(start)}
    return sorted(facts | figures | {"complete", "id", "stated_by"})


@cache
def _files(folder: str) -> tuple[dict[str, Any], ...]:
    return tuple(_read(path) for path in sorted((shipped.folder("rulebook") / folder).rglob("*.yaml")))


def _read(path: Path) -> dict[str, Any]:
    faults: list[Fault] = []
    node = read_file(path, path.name, faults)
    assert node is not None and not faults
    data: dict[str, Any] = plain_data(node)
    return data

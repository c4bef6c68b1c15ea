"""Rows of a schedule that are records of their own, side by side in one project, each in a room called after its row.

A row shares nothing with another but what it says of the project: circuits, controls and loads are its own, and no list
is said to be complete that its row did not call so.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from yokebook.entities import PARENT, REFERENCE, REFERENCES
from yokebook.graph import Graph
from yokebook.model import Book
from yokebook_adapters.project_data import project_data

_NOTHING = "none"

#: What stands at the top of a project file, by its list there.
_TOP = [key for parent, key in PARENT.values() if parent == "project"]

#: Under which keys a thing names others of these by their ids.
_NAMES = {
    key
    for references in (REFERENCE, REFERENCES)
    for of_kind in references.values()
    for key, kind in of_kind.items()
    if PARENT[kind][0] == "project"
}


def joined(rows: Sequence[tuple[str, Graph]], book: Book) -> dict[str, Any]:
    """The rows, at least one, as the data of a project file; each is what the schedule calls it, and its graph.

    Raises ValueError where two say different things of the project, and where one says that it lists all there is in
    the project: they would be of different jobs, and are not one project.
    """
    made: dict[str, Any] = {}
    first = ""
    for called, graph in rows:
        data = project_data(graph, book)
        _check(called, data["project"], first, made.setdefault("project", data["project"]))
        first = first or called
        for key in _TOP:
            made.setdefault(key, []).extend(_own(thing, called, key) for thing in data.get(key, ()))
    return {key: value for key, value in made.items() if value}


def _check(called: str, project: dict[str, Any], first: str, before: dict[str, Any]) -> None:
    if "complete" in project:
        raise ValueError(f"`{called}` says that it lists all there is in its project; rows with others beside do not")
    other = next((key for key in {**before, **project} if before.get(key) != project.get(key)), None)
    if other is not None:
        raise ValueError(
            f"`{first}` and `{called}` say different things of the project (`{other}`), so they are of different jobs; "
            "put each job in a file of its own"
        )


def _own(value: Any, called: str, key: str) -> Any:
    """What stands under a key, with ids that no other row has; a room is called as its row is."""
    if isinstance(value, dict):
        made = {inner: _own(each, called, inner) for inner, each in value.items()}
        if key in _TOP:
            made["id"] = _id(called) if key == "spaces" else _id(value["id"])
        elif "id" in value:
            made["id"] = value["id"].removeprefix(f"{called}/")
        return made
    if isinstance(value, list):
        return [_own(each, called, key) for each in value]
    return _id(value) if key in _NAMES and isinstance(value, str) and value != _NOTHING else value


def _id(text: str) -> str:
    """An id without the slash that divides a path's parts."""
    return text.replace("/", " ")

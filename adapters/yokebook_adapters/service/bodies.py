"""A body's bytes as a tree that knows the JSON pointer of each of its pieces; every fault with its pointer.

JSON is read as the front door reads files, so that a repeated key, NaN and what else JSON does not have are refused
here as they are there.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from yokebook.load.faults import Fault
from yokebook.load.files import decode
from yokebook.load.json_nodes import read_json
from yokebook.load.nodes import DEPTH_LIMIT, MappingNode, Node, SequenceNode
from yokebook.model import At
from yokebook_adapters.service.problems import Problem, told

#: What faults and answers call the body that was sent; the end says that it is JSON.
NAME = "body.json"


@dataclass(frozen=True)
class Body:
    """A body that is JSON. `root` is the pointer under which it stands in what was sent."""

    node: Node
    pointers: dict[At, str]

    def part(self, key: str) -> Node | None:
        """What stands under a key of the whole; None where it is left out."""
        return self.node.get(key) if isinstance(self.node, MappingNode) else None

    def error(self, fault: Fault, default: str = "") -> dict[str, Any]:
        """A fault as an entry of a problem's errors; `default` is the pointer of one that has no place of its own."""
        if isinstance(fault.at, At):
            place = {"line": fault.at.line, "column": fault.at.column}
            return {"pointer": self.pointers.get(fault.at, default), **place, "detail": fault.message}
        return {"pointer": default, "detail": f"{fault.at}: {fault.message}" if fault.at else fault.message}

    def refusal(self, faults: Sequence[Fault], default: str = "") -> Problem:
        """The problem that these faults are."""
        errors = [self.error(fault, default) for fault in faults]
        return Problem("refused", f"The body has {told(errors)}.", errors)


def read_body(data: bytes, size: int, depth: int) -> Body:
    """The tree of JSON text. Raises Problem with every fault of the text."""
    faults: list[Fault] = []
    text = decode(data, NAME, faults, size)
    node = None if text is None else read_json(text, NAME, faults)
    if node is not None:
        faults += [Fault(at, f"this is nested too deep; allowed: {_levels(depth)}") for at in _deeper(node, depth)]
    if node is None or faults:
        raise _not_json(faults, text, node, depth)
    return Body(node, {at: pointer for pointer, at in _places(node, "")})


def _not_json(faults: Sequence[Fault], text: str | None, node: Node | None, depth: int) -> Problem:
    repeated = iter(_repeated(text) if text is not None and node is not None else ())
    pointers = {} if node is None else {at: pointer for pointer, at in _places(node, "")}
    errors = []
    for fault in faults:
        at = fault.at
        assert isinstance(at, At)  # a text's faults stand in it
        pointer = next(repeated, "") if "stands twice here" in fault.message else pointers.get(at, "")
        detail = fault.message.replace("the file", "the body").replace("; save it as UTF-8", "; send UTF-8")
        # what is deeper than any file may be is not read so far as to come to the service's own limit
        detail = detail.replace(_levels(DEPTH_LIMIT), _levels(depth))
        errors.append({"pointer": pointer, "line": at.line, "column": at.column, "detail": detail})
    return Problem("not-json", f"The body has {told(errors)}.", errors)


def _levels(depth: int) -> str:
    return f"at most {depth} levels"


def _places(node: Node, pointer: str) -> Iterator[tuple[str, At]]:
    """Every piece with its pointer; a key has that of its value."""
    yield pointer, node.at
    if isinstance(node, MappingNode):
        for key, entry in node.entries.items():
            here = f"{pointer}/{escaped(key)}"
            yield here, entry.key.at
            yield from _places(entry.value, here)
    elif isinstance(node, SequenceNode):
        for number, item in enumerate(node.items):
            yield from _places(item, f"{pointer}/{number}")


def escaped(key: str) -> str:
    """A key as it stands in a JSON pointer."""
    return key.replace("~", "~0").replace("/", "~1")


def _deeper(node: Node, levels: int) -> Iterator[At]:
    """The outermost pieces that lie below so many levels."""
    if isinstance(node, MappingNode | SequenceNode):
        if levels == 0:
            yield node.at
            return
        inside = [e.value for e in node.entries.values()] if isinstance(node, MappingNode) else node.items
        for item in inside:
            yield from _deeper(item, levels - 1)


class _Pairs(list[tuple[str, Any]]):
    """A mapping as it was written, with every key that is repeated."""


def _repeated(text: str) -> list[str]:
    """The pointers of repeated keys, in the order in which they are noted when the text is read."""
    try:
        return list(_repeats(json.loads(text, object_pairs_hook=_Pairs), ""))
    except ValueError:  # something else is wrong too
        return []


def _repeats(value: Any, pointer: str) -> Iterator[str]:
    if isinstance(value, _Pairs):
        seen: set[str] = set()
        for key, item in value:
            here = f"{pointer}/{escaped(key)}"
            yield from _repeats(item, here)
            if key in seen:
                yield here
            seen.add(key)
    elif isinstance(value, list):
        for number, item in enumerate(value):
            yield from _repeats(item, f"{pointer}/{number}")

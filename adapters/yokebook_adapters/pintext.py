"""Writing pins into the text of a place's file by the positions of its nodes, with everything else left as it is."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import yaml

from yokebook.load.faults import Fault, RulebookFaults
from yokebook.model import At


@dataclass(frozen=True)
class PinSpot:
    """Where a pin belongs: the op by its numbers (from 0) in a layer, and the pin."""

    layer: str
    amendment: int
    number: int
    op: str
    pin: str


@dataclass(frozen=True)
class _Edit:
    start: int
    end: int
    text: str


def with_pins(text: str, spots: Iterable[PinSpot], file: str) -> str:
    """The text with each pin written: over the old one, or new beside the op's name.

    Raises RulebookFaults where that would change anything but pins.
    """
    spots = list(spots)
    root = yaml.compose(text, Loader=yaml.SafeLoader)
    edits = [_edit(text, _op_node(root, spot), spot) for spot in spots]
    for edit in sorted(edits, key=lambda edit: edit.start, reverse=True):
        text = text[: edit.start] + edit.text + text[edit.end :]
    _check(root, text, spots, file)
    return text


class _NotThere(LookupError):
    """A node that the positions of an op should lead to is not there."""


def _op_node(root: yaml.Node | None, spot: PinSpot) -> yaml.MappingNode:
    layer = _get(_get(root, "layers"), spot.layer)
    ops = _get(_item(_get(layer, "amendments"), spot.amendment), "ops")
    node = _item(ops, spot.number)
    if not isinstance(node, yaml.MappingNode):
        raise _NotThere
    return node


def _pair(node: yaml.Node | None, key: str) -> tuple[yaml.Node, yaml.Node] | None:
    if not isinstance(node, yaml.MappingNode):
        raise _NotThere
    return next(((k, v) for k, v in node.value if k.value == key), None)


def _get(node: yaml.Node | None, key: str) -> yaml.Node:
    pair = _pair(node, key)
    if pair is None:
        raise _NotThere
    return pair[1]


def _item(node: yaml.Node, number: int) -> yaml.Node:
    if not isinstance(node, yaml.SequenceNode) or number >= len(node.value):
        raise _NotThere
    item: yaml.Node = node.value[number]
    return item


def _edit(text: str, op: yaml.MappingNode, spot: PinSpot) -> _Edit:
    """What to write where, for one op."""
    old = _pair(op, "pin")
    if old is not None:
        start, end = old[1].start_mark.index, old[1].end_mark.index
        return _Edit(start, end, f'"{spot.pin}"' if start < end else f' "{spot.pin}"')
    pair = _pair(op, spot.op)
    if pair is None:
        raise _NotThere
    key, name = pair
    after = name.end_mark.index
    if op.flow_style:
        return _Edit(after, after, f', pin: "{spot.pin}"')
    line = f'{" " * key.start_mark.column}pin: "{spot.pin}"'
    end_of_line = text.find("\n", after)
    if end_of_line < 0:
        return _Edit(len(text), len(text), f"\n{line}")
    newline = "\r\n" if text[end_of_line - 1] == "\r" else "\n"
    return _Edit(end_of_line + 1, end_of_line + 1, f"{line}{newline}")


def _check(before: yaml.Node | None, text: str, spots: Iterable[PinSpot], file: str) -> None:
    """Refuse the new text unless it says what the old one said, the pins of these ops apart."""
    try:
        after = yaml.compose(text, Loader=yaml.SafeLoader)
        for spot in spots:
            written = _get(_op_node(after, spot), "pin").value == spot.pin
            op = _op_node(before, spot)
            if not written or _plain(_op_node(after, spot), "pin") != _plain(op, "pin"):
                raise _cannot(file, op, spot)
        same = _plain(before, "pin") == _plain(after, "pin")
    except (yaml.YAMLError, _NotThere):
        same = False
    if not same:
        spot = next(iter(spots))
        raise _cannot(file, _op_node(before, spot), spot)


def _cannot(file: str, op: yaml.MappingNode, spot: PinSpot) -> RulebookFaults:
    at = At(file, op.start_mark.line + 1, op.start_mark.column + 1)
    found = (
        f"the pin of this `{spot.op}` cannot be written without changing more; write the op as a block, a key a line"
    )
    return RulebookFaults([Fault(at, found)])


def _plain(node: yaml.Node | None, without: str) -> Any:
    """The node as plain data, one key left out of every mapping."""
    if isinstance(node, yaml.MappingNode):
        return [(k.value, _plain(v, without)) for k, v in node.value if k.value != without]
    if isinstance(node, yaml.SequenceNode):
        return [_plain(item, without) for item in node.value]
    return None if node is None else (node.tag, node.value)

"""Text of a YAML or JSON file as nodes that keep what was written and where.

Nothing is guessed here: a plain scalar keeps its text, and who reads it says whether it is a number, a yes or no, or
text.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Any

from yokebook.model import At

DEPTH_LIMIT = 30

_NUMBER = re.compile(r"[-+]?(?:\.[0-9]+|[0-9]+(?:\.[0-9]*)?)(?:[eE][-+]?[0-9]+)?|0x[0-9a-fA-F]+|0o[0-7]+")
_INTEGER = re.compile(r"[-+]?[0-9]{1,40}")
_NOT_FINITE = re.compile(r"[-+]?\.(?:inf|Inf|INF)|\.(?:nan|NaN|NAN)")
_NULLS = frozenset(("", "~", "null", "Null", "NULL"))
_TRUE = frozenset(("true", "True", "TRUE"))
_FALSE = frozenset(("false", "False", "FALSE"))


@dataclass(slots=True)
class Scalar:
    """One piece of text. `plain` = written without quotes (in JSON: a number, true, false or null)."""

    file: str
    line: int
    column: int
    text: str
    plain: bool

    @property
    def at(self) -> At:
        """Where it starts."""
        return At(self.file, self.line, self.column)

    @property
    def is_null(self) -> bool:
        """Whether it is an empty value or null."""
        return self.plain and self.text in _NULLS

    @property
    def is_number(self) -> bool:
        """Whether YAML or JSON would read it as a number (NaN and infinity included)."""
        return self.plain and bool(_NUMBER.fullmatch(self.text) or _NOT_FINITE.fullmatch(self.text))

    @property
    def truth(self) -> bool | None:
        """True or False for yes, no (quoted or not) and unquoted true, false; None for anything else."""
        if self.text in ("yes", "no"):
            return self.text == "yes"
        if self.plain and self.text in _TRUE | _FALSE:
            return self.text in _TRUE
        return None


@dataclass(slots=True)
class Entry:
    """One key of a mapping and what stands under it."""

    key: Scalar
    value: Node


@dataclass(slots=True)
class MappingNode:
    """Keys and values, in file order."""

    file: str
    line: int
    column: int
    entries: dict[str, Entry] = field(default_factory=dict)

    @property
    def at(self) -> At:
        """Where it starts."""
        return At(self.file, self.line, self.column)

    def get(self, key: str) -> Node | None:
        """What stands under `key`, or None."""
        entry = self.entries.get(key)
        return None if entry is None else entry.value


@dataclass(slots=True)
class SequenceNode:
    """Items, in file order."""

    file: str
    line: int
    column: int
    items: list[Node] = field(default_factory=list)

    @property
    def at(self) -> At:
        """Where it starts."""
        return At(self.file, self.line, self.column)


Node = Scalar | MappingNode | SequenceNode


def kind_name(node: Node) -> str:
    """What a node is, for messages."""
    if isinstance(node, MappingNode):
        return "a mapping"
    if isinstance(node, SequenceNode):
        return "a list"
    return "nothing" if node.is_null else f"`{shorten(node.text)}`"


def shorten(text: str) -> str:
    """Text for a message: one line, at most 60 characters."""
    one_line = " ".join(text.split())
    return one_line if len(one_line) <= 60 else one_line[:59] + "…"


def plain_data(node: Node) -> Any:
    """The node as JSON-like data, as YAML 1.2 reads it (yes and no stay text; true, false, numbers and null are
    themselves)."""
    if isinstance(node, MappingNode):
        return {key: plain_data(entry.value) for key, entry in node.entries.items()}
    if isinstance(node, SequenceNode):
        return [plain_data(item) for item in node.items]
    if not node.plain:
        return node.text
    if node.is_null:
        return None
    if node.text in _TRUE | _FALSE:
        return node.text in _TRUE
    if _INTEGER.fullmatch(node.text):
        return int(node.text)
    if node.is_number:
        return _float(node.text)
    return node.text


def _float(text: str) -> float:
    if text.startswith(("0x", "0o")):
        return float(int(text[:40], 0))
    return float(
        text.replace(".inf", "inf").replace(".nan", "nan").replace(".Inf", "inf").replace(".NaN", "nan").lower()
    )

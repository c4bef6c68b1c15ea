"""JSON text as nodes. Strict JSON (RFC 8259), because a YAML parser refuses some of it (tabs between tokens, pairs of
surrogate escapes) and takes more than it."""

from __future__ import annotations

import re
from json import JSONDecodeError, JSONDecoder
from typing import NoReturn

from yokebook.load.faults import Fault
from yokebook.load.nodes import DEPTH_LIMIT, Entry, MappingNode, Node, Scalar, SequenceNode, shorten
from yokebook.model import At

_DECODER = JSONDecoder()
_SPACE = re.compile(r"[ \t\n\r]*")
_NUMBER = re.compile(r"-?(?:0|[1-9][0-9]*)(?:\.[0-9]+)?(?:[eE][-+]?[0-9]+)?")
_WORD = re.compile(r"[^\s,:\[\]{}\"]+")
_SURROGATE = re.compile("[\ud800-\udfff]")


class _Refused(Exception):
    """The text cannot be read further; the fault is already noted."""


def read_json(text: str, file: str, faults: list[Fault]) -> Node | None:
    """The nodes of JSON text. None, with a fault added, where it is not JSON or is nested too deep; a repeated key is
    a fault and the rest is still read."""
    reader = _Reader(text, file, faults)
    try:
        node = reader.value(0)
        reader.skip()
        if reader.position < len(text):
            reader.refuse("something follows the end of the value")
        return node
    except _Refused:
        return None


class _Reader:
    def __init__(self, text: str, file: str, faults: list[Fault]) -> None:
        self.text = text
        self.file = file
        self.faults = faults
        self.position = 0
        self._line = 1
        self._line_start = 0

    def skip(self) -> None:
        """Moves past white space."""
        found = _SPACE.match(self.text, self.position)
        assert found is not None
        newlines = self.text.count("\n", self.position, found.end())
        if newlines:
            self._line += newlines
            self._line_start = self.text.rfind("\n", self.position, found.end()) + 1
        self.position = found.end()

    def at(self) -> At:
        return At(self.file, self._line, self.position - self._line_start + 1)

    def note(self, message: str) -> None:
        """Notes a fault that leaves the rest readable."""
        self.faults.append(Fault(self.at(), f"this is not JSON: {message}"))

    def refuse(self, message: str) -> NoReturn:
        self.note(message)
        raise _Refused

    def value(self, depth: int) -> Node:
        self.skip()
        at = self.at()
        start = self.text[self.position : self.position + 1]
        if start == '"':
            return Scalar(at.file, at.line, at.column, self._string(), plain=False)
        if start in ("{", "["):
            if depth >= DEPTH_LIMIT:
                self.faults.append(Fault(at, f"this is nested too deep; allowed: at most {DEPTH_LIMIT} levels"))
                raise _Refused
            return self._mapping(at, depth) if start == "{" else self._sequence(at, depth)
        return Scalar(at.file, at.line, at.column, self._word(), plain=True)

    def _word(self) -> str:
        found = _WORD.match(self.text, self.position)
        if found is None:
            self.refuse("the text ends too soon" if self.position >= len(self.text) else "a value is missing here")
        word = found[0]
        if word not in ("true", "false", "null") and not _NUMBER.fullmatch(word):
            self.note(f"`{shorten(word)}` is no value; allowed: text in double quotes, a number, true, false or null")
        self.position = found.end()
        return word

    def _string(self) -> str:
        try:
            text, end = _DECODER.raw_decode(self.text, self.position)
        except JSONDecodeError as error:
            self.refuse(
                f"this text in quotes cannot be read: {error.msg.removesuffix(' at').removesuffix(' starting').lower()}"
            )
        assert isinstance(text, str)  # it begins with a quote
        if _SURROGATE.search(text):
            self.refuse("half of a surrogate pair stands alone in this text")
        self.position = end
        return text

    def _mapping(self, at: At, depth: int) -> MappingNode:
        made = MappingNode(at.file, at.line, at.column)
        self.position += 1
        if self._closes("}"):
            return made
        while True:
            self.skip()
            key_at = self.at()
            if self.text[self.position : self.position + 1] != '"':
                self.refuse("a key in double quotes is due here")
            key = Scalar(key_at.file, key_at.line, key_at.column, self._string(), plain=False)
            self.skip()
            if self.text[self.position : self.position + 1] != ":":
                self.refuse(f"a colon is due after the key `{shorten(key.text)}`")
            self.position += 1
            value = self.value(depth + 1)
            first = made.entries.get(key.text)
            if first is None:
                made.entries[key.text] = Entry(key, value)
            else:
                self.faults.append(Fault(key_at, f"`{key.text}` stands twice here, first in line {first.key.line}"))
            if self._ends("}"):
                return made

    def _sequence(self, at: At, depth: int) -> SequenceNode:
        made = SequenceNode(at.file, at.line, at.column)
        self.position += 1
        if self._closes("]"):
            return made
        while True:
            made.items.append(self.value(depth + 1))
            if self._ends("]"):
                return made

    def _closes(self, end: str) -> bool:
        """Whether the end comes next; moves past it."""
        self.skip()
        if self.text[self.position : self.position + 1] != end:
            return False
        self.position += 1
        return True

    def _ends(self, end: str) -> bool:
        """True past the end, False past a comma."""
        if self._closes(end):
            return True
        if self.text[self.position : self.position + 1] != ",":
            self.refuse(f"a comma or `{end}` is due here")
        self.position += 1
        return False

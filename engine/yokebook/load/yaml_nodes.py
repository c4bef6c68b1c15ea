"""YAML text as nodes: without anchors, aliases, tags, merge keys and second documents; keys may not repeat."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, NoReturn

import yaml
from yaml.events import (
    AliasEvent,
    DocumentStartEvent,
    Event,
    MappingEndEvent,
    MappingStartEvent,
    ScalarEvent,
    SequenceEndEvent,
    SequenceStartEvent,
)

from yokebook.load.faults import Fault
from yokebook.load.nodes import DEPTH_LIMIT, Entry, MappingNode, Node, Scalar, SequenceNode, kind_name, shorten
from yokebook.model import At

#: PyYAML's parser in C where the installed PyYAML has it.
_FAST: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_REREAD_LIMIT = 200_000


def read_yaml(text: str, file: str, faults: list[Fault]) -> Node | None:
    """The nodes of YAML text. None, with faults added, if it cannot be read; faults that leave the rest readable (a
    repeated key, say) are added and the nodes returned."""
    try:
        return _Builder(file, faults).build(yaml.parse(text, Loader=_FAST))
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        at = At(file, mark.line + 1, mark.column + 1) if mark else At(file, 1, 1)
        faults.append(Fault(at, f"this is not YAML: {_problem(text, error)}"))
        return None


def _problem(text: str, error: yaml.MarkedYAMLError) -> str:
    """The parser's complaint. PyYAML in Python words it better than the one in C, and always the same."""
    if _FAST is not yaml.SafeLoader and len(text) < _REREAD_LIMIT:
        try:
            for _ in yaml.parse(text, Loader=yaml.SafeLoader):
                pass
        except yaml.MarkedYAMLError as in_python:
            error = in_python
    return _in_our_words(error)


#: What PyYAML says, and what the file's author can do about it.
_COMPLAINTS = {
    "mapping values are not allowed here": "a colon and a space are not possible here; put text that holds them in "
    "quotes, and begin all keys of one mapping in the same column",
    "could not find expected ':'": "this is no key with its colon; write `key: value`, or put the text in quotes",
    "expected ',' or '}', but got '<scalar>'": "text stands here where a comma or `}` is due; is a quote or a comma "
    "missing before it?",
    "expected ',' or ']', but got '<scalar>'": "text stands here where a comma or `]` is due; is a quote or a comma "
    "missing before it?",
    "expected ',' or '}', but got ':'": "a colon stands here where a comma or `}` is due; is a `}` missing before it?",
    "expected ',' or ']', but got ':'": "a colon stands here where a comma or `]` is due; is a `]` missing before it?",
    "found unexpected end of stream": "the text in quotes is never closed",
    "found character '\\t' that cannot start any token": "a tab stands here; indent with spaces",
}
#: The same of complaints that go on with what was found.
_COMPLAINTS_THAT_BEGIN = {
    "expected <block end>, but found ": "this line begins in another column than the lines that it belongs with; "
    "indent it as they are",
    "expected '<document start>', but found ": "this does not go with what stands above it; is it indented wrongly, "
    "or a quote or a colon missing?",
}
_INSIDE = {
    "while parsing a flow mapping": "inside the `{{` of line {line}",
    "while parsing a flow sequence": "inside the `[` of line {line}",
    "while parsing a block mapping": "among the keys that begin in line {line}",
    "while parsing a block collection": "in the list that begins in line {line}",
    "while scanning a quoted scalar": "in the text in quotes that begins in line {line}",
}


def _in_our_words(error: yaml.MarkedYAMLError) -> str:
    """The parser's complaint for somebody who does not know the parser; its own words where it has no other."""
    problem = error.problem
    if problem is not None:
        begun = (ours for start, ours in _COMPLAINTS_THAT_BEGIN.items() if problem.startswith(start))
        problem = _COMPLAINTS.get(problem) or next(begun, problem)
    inside = _INSIDE.get(error.context or "")
    if inside is None or error.context_mark is None:
        return problem or error.context or "it cannot be read"
    return ", ".join(part for part in (inside.format(line=error.context_mark.line + 1), problem) if part)


class _Refused(Exception):
    """The file cannot be read further; the fault is already noted."""


class _Builder:
    """Makes nodes from parser events, noting what is not allowed."""

    def __init__(self, file: str, faults: list[Fault]) -> None:
        self.file = file
        self.faults = faults

    def build(self, events: Iterator[Event]) -> Node | None:
        try:
            return self._build(events)
        except _Refused:
            return None

    def _build(self, events: Iterator[Event]) -> Node | None:
        root: Node | None = None
        stack: list[tuple[MappingNode | SequenceNode, bool]] = []
        keys: list[Scalar | None] = []  # beside the stack: the key whose value comes next
        documents = 0
        for event in events:
            if isinstance(event, DocumentStartEvent):
                documents += 1
                if documents > 1:
                    self._refuse(event, "a second document starts here; allowed: one document a file")
            elif isinstance(event, (MappingEndEvent, SequenceEndEvent)):
                stack.pop()
                keys.pop()
            elif isinstance(event, AliasEvent):
                self._refuse(event, f"`*{event.anchor}` is an alias; write the thing out again")
            elif isinstance(event, (ScalarEvent, MappingStartEvent, SequenceStartEvent)):
                node = self._node(event)
                if not stack:
                    root = node
                elif isinstance(stack[-1][0], SequenceNode):
                    stack[-1][0].items.append(node)
                elif keys[-1] is None:
                    keys[-1] = self._key(node)
                else:
                    self._put(stack[-1][0], keys[-1], node, flow=stack[-1][1])
                    keys[-1] = None
                if not isinstance(node, Scalar):
                    stack.append((node, bool(getattr(event, "flow_style", False))))
                    keys.append(None)
                    if len(stack) > DEPTH_LIMIT:
                        self._refuse(event, f"this is nested too deep; allowed: at most {DEPTH_LIMIT} levels")
        if root is None:
            self.faults.append(Fault(At(self.file, 1, 1), "the file holds only comments"))
        return root

    def _node(self, event: ScalarEvent | MappingStartEvent | SequenceStartEvent) -> Node:
        at = self._at(event)
        line, column = at.line, at.column
        if event.anchor is not None:
            self._fault(event, f"`&{event.anchor}` is an anchor; anchors and aliases are not allowed, leave it out")
        if event.tag is not None:
            written = event.tag.replace("tag:yaml.org,2002:", "!!", 1)
            self._fault(event, f"`{written}` is a tag; tags are not allowed, leave it out")
        if isinstance(event, ScalarEvent):
            return Scalar(self.file, line, column, event.value, not event.style)
        made = MappingNode if isinstance(event, MappingStartEvent) else SequenceNode
        return made(self.file, line, column)

    def _key(self, node: Node) -> Scalar:
        if isinstance(node, Scalar) and not (node.plain and not node.text):
            return node
        self.faults.append(Fault(node.at, f"a key must be text, found {kind_name(node)}"))
        raise _Refused

    def _put(self, mapping: MappingNode, key: Scalar, value: Node, *, flow: bool) -> None:
        first = mapping.entries.get(key.text)
        if first is not None:
            self.faults.append(Fault(key.at, f"`{key.text}` stands twice here, first in line {first.key.line}"))
            return
        if flow and isinstance(value, Scalar) and value.plain and not value.text:
            self.faults.append(
                Fault(
                    key.at,
                    f"`{shorten(key.text)}` has no value: inside {{ }} a comma in unquoted text starts a new key, so "
                    "put text that holds a comma in quotes",
                )
            )
        mapping.entries[key.text] = Entry(key, value)

    def _fault(self, event: Event, message: str) -> None:
        self.faults.append(Fault(self._at(event), message))

    def _at(self, event: Event) -> At:
        mark = event.start_mark
        assert mark is not None  # the parser gives every event its place
        return At(self.file, mark.line + 1, mark.column + 1)

    def _refuse(self, event: Event, message: str) -> NoReturn:
        self._fault(event, message)
        raise _Refused

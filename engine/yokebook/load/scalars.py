"""Scalars read by declared type: text, yes or no, a number with its unit, a word of a list. Each function returns the
value or raises ValueError with a message that says what was found and what is allowed."""

from __future__ import annotations

from collections.abc import Collection
from fractions import Fraction

from yokebook import units
from yokebook.load.faults import listed, suggest
from yokebook.load.nodes import Node, Scalar, kind_name, shorten


def text_of(node: Node) -> str:
    """The node's text. Unquoted text that reads as a number, as true or false, or as nothing is refused, so that a
    section 210.10 never becomes 210.1."""
    if not isinstance(node, Scalar) or node.is_null:
        raise ValueError(f"text is due here, found {kind_name(node)}")
    if node.is_number:
        raise ValueError(f"`{node.text}` reads as a number where text is due; put it in quotes")
    if node.plain and node.truth is not None:
        raise ValueError(f"`{node.text}` reads as a yes or no where text is due; put it in quotes")
    if not node.text.strip():
        raise ValueError("text is due here, found an empty text")
    return node.text


def truth_of(node: Node) -> bool:
    """True or False of `yes`, `no`, `true` or `false`."""
    truth = node.truth if isinstance(node, Scalar) else None
    if truth is None:
        raise ValueError(f"{kind_name(node)} is neither yes nor no; allowed: yes, no, true, false")
    return truth


def number_of(node: Node, unit: str | None, *, bare_allowed: bool = False) -> Fraction:
    """The number in `unit` (None: a plain number). See units.parse."""
    allowed = units.allowed_forms(unit)
    if not isinstance(node, Scalar) or node.is_null:
        raise ValueError(f"a number is due here, found {kind_name(node)}; allowed: {allowed}")
    if node.plain and node.truth is not None:
        raise ValueError(f"`{node.text}` is a yes or no where a number is due; allowed: {allowed}")
    value = units.parse(node.text, unit, bare_allowed=bare_allowed)
    if not node.plain and Scalar(node.file, node.line, node.column, node.text, True).is_number:
        raise ValueError(f"`{shorten(node.text)}` in quotes is text where a number is due; write it without quotes")
    return value


def word_of(node: Node, words: Collection[str], what: str) -> str:
    """One of `words`; `what` says what they are, for the message. A word such as yes may stand unquoted."""
    if not isinstance(node, Scalar) or node.is_null:
        raise ValueError(f"{what} is due here, found {kind_name(node)}; allowed: {listed(words)}")
    if node.text not in words:
        raise ValueError(f"{kind_name(node)} is not {what}{suggest(node.text, words)}; allowed: {listed(words)}")
    if node.is_number:
        raise ValueError(f"`{node.text}` reads as a number where {what} is due; put it in quotes")
    return node.text

"""How a piece of a rulebook's typed data stands in JSON.

A JSON list begins with a number that says what it stands for: from 0 on an object, which is the class at that place of
the pack's list of classes, then its fields in order; below 0 one of the kinds named here. Everything else is itself.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction
from typing import Any

from yokebook import model

TUPLE, SET, MAPPING, NUMBER = -1, -2, -3, -4


def reader(classes: Sequence[Sequence[str]]) -> Callable[[Any], Any]:
    """The function that gives the piece of data for a JSON value that `writing.writer` made; `classes` are the names
    of the classes, each with those of its fields."""
    made_by: list[Callable[..., Any]] = [getattr(model, name) for name, *_ in classes]

    def read(value: Any) -> Any:
        if value.__class__ is not list:
            return value
        kind, *parts = [read(part) if part.__class__ is list else part for part in value]
        if kind >= 0:
            return made_by[kind](*parts)
        if kind == TUPLE:
            return tuple(parts)
        if kind == MAPPING:
            return dict(zip(parts[::2], parts[1::2], strict=True))
        return frozenset(parts) if kind == SET else Fraction(*parts)

    return read

"""The rulebook's typed data as plain JSON-able data and back, and digests of it.

Digests are SHA-256 over canonical JSON (RFC 8785): keys sorted, no spaces, UTF-8. Numbers are written as text such as
"17/2", so that no reader can round them.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from fractions import Fraction
from typing import Any

from yokebook import model
from yokebook.model import At

_CLASSES: dict[str, type] = {
    name: cls for name, cls in vars(model).items() if isinstance(cls, type) and is_dataclass(cls)
}

#: Fields that say how a row is worded, cited or where it stands, and never what it decides.
_EDITORIAL = frozenset(
    {
        "says", "asks", "look", "cite", "checked", "at", "pin_at", "chain", "written", "plain_because", "holders",
        "source", "title", "publisher", "because", "note", "extra", "name", "office", "refuse",
    }
)  # fmt: skip


def encode(value: object, normative: bool = False) -> Any:
    """Plain data for a model object; with `normative` only what decides, in an order of its own."""
    if value is None or isinstance(value, bool | str | int):
        return value
    if isinstance(value, Fraction):
        return {"number": str(value)}
    if isinstance(value, At):
        return None  # where a row stood in somebody's folder is nobody's business later
    if is_dataclass(value) and not isinstance(value, type):
        names = [f.name for f in fields(value) if not (normative and f.name in _EDITORIAL)]
        return {"is": type(value).__name__, **{name: encode(getattr(value, name), normative) for name in names}}
    if isinstance(value, Mapping):
        pairs = [[encode(k, normative), encode(v, normative)] for k, v in value.items()]
        return {"pairs": sorted(pairs, key=canonical) if normative else pairs}
    if isinstance(value, frozenset):
        return {"set": sorted((encode(v, normative) for v in value), key=canonical)}
    if isinstance(value, tuple | list):
        return [encode(v, normative) for v in value]
    raise TypeError(f"{type(value).__name__} is not data of a rulebook")


def decode(data: Any) -> Any:
    """The model object that `encode` gave plain data for. Raises ValueError for data it cannot have given."""
    if data is None or isinstance(data, bool | str | int):
        return data
    if isinstance(data, list):
        return tuple(decode(part) for part in data)
    if not isinstance(data, dict):
        raise ValueError(f"`{data}` is not part of a filed sheet")
    if "number" in data:
        return Fraction(data["number"])
    if "set" in data:
        return frozenset(decode(part) for part in data["set"])
    if "pairs" in data:
        return {decode(k): decode(v) for k, v in data["pairs"]}
    cls = _CLASSES.get(data.get("is", ""))
    if cls is None:
        raise ValueError(f"`{data.get('is')}` is no kind of rulebook data")
    known = {f.name for f in fields(cls)}
    unknown = sorted(set(data) - known - {"is"})
    if unknown:
        raise ValueError(f"`{unknown[0]}` is no field of `{cls.__name__}`")
    values = {name: decode(part) for name, part in data.items() if name != "is"}
    return cls(**{name: At("a filed sheet", 0, 0) if name == "at" else value for name, value in values.items()})


def canonical(data: Any) -> str:
    """Canonical JSON text of plain data that holds no floating-point number (RFC 8785 for such data)."""
    return json.dumps(data, ensure_ascii=False, sort_keys=True, separators=(",", ":"), allow_nan=False)


def digest(data: Any) -> str:
    """SHA-256 of the canonical JSON of plain data, in hex.

    >>> digest({"b": 1, "a": True})[:8]
    'a3f44886'
    """
    return hashlib.sha256(canonical(data).encode()).hexdigest()

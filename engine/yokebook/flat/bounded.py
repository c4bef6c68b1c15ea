"""Keeping what was found, up to a bound."""

from __future__ import annotations

from typing import TypeVar

K = TypeVar("K")
V = TypeVar("V")


def keep(kept: dict[K, V], key: K, value: V, most: int) -> V:
    """Keeps a value under a key and gives it back. Where as many as `most` are kept already one starts anew."""
    if len(kept) >= most:
        kept.clear()
    kept[key] = value
    return value

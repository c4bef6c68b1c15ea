"""The shipped rulebook, loaded once for all tests of a process. Nobody may change it."""

from __future__ import annotations

from functools import cache

from yokebook import Rulebook, load
from yokebook.model import Book


@cache
def rulebook() -> Rulebook:
    """The shipped rulebook."""
    return load()


def book() -> Book:
    """Everything authored in the shipped rulebook."""
    return rulebook().book

"""How far long work has come, told to whoever wants to show it."""

from __future__ import annotations

from collections.abc import Callable

#: Is told how many pieces of the work are done, and of how many.
Progress = Callable[[int, int], None]


def nobody(done: int, of: int) -> None:
    """Tells nobody."""

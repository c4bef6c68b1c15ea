"""Results kept with what was assumed of each unknown thing looked at for them: worked out once for all completions that
assume the same of just these.

Work is a pure function of the record, the law and the assumptions it looks at, in the order in which it looks. So what
is kept of one work is a tree: which unknown thing it looks at first, for each assumption of that which one next, and so
on to its result.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Generic, TypeVar

from yokebook.values import Span, Var

T = TypeVar("T")

#: Unknown things in the order in which they were looked at.
Looked = dict[Var, None]


class _Branch(Generic[T]):
    """What a work looks at next, and where each assumption of it leads."""

    __slots__ = ("after", "var")

    def __init__(self, var: Var) -> None:
        self.var = var
        self.after: dict[Span | None, _Branch[T] | Kept[T]] = {}


class Kept(Generic[T]):
    """A result, or what it raised, with all that was looked at for it."""

    __slots__ = ("looked", "raised", "result")

    def __init__(self, looked: Looked, result: T | None, raised: Exception | None) -> None:
        self.looked = looked
        self.result = result
        self.raised = raised


class Memo(Generic[T]):
    """All that is kept of one work."""

    __slots__ = ("_root",)

    def __init__(self) -> None:
        self._root: _Branch[T] | Kept[T] | None = None

    def find(self, assumed: Callable[[Var], Span | None]) -> Kept[T] | None:
        """What is kept for these assumptions; None where the work was not done under them."""
        node = self._root
        while isinstance(node, _Branch):
            node = node.after.get(assumed(node.var))
        return node

    def keep(self, kept: Kept[T], assumed: Callable[[Var], Span | None]) -> None:
        """Keeps what was worked out under these assumptions."""
        node = self._root
        branch: _Branch[T] | None = None
        part: Span | None = None
        for var in kept.looked:
            if not isinstance(node, _Branch) or node.var != var:
                node = _Branch(var)
                self._put(branch, part, node)
            branch, part = node, assumed(var)
            node = branch.after.get(part)
        self._put(branch, part, kept)

    def _put(self, branch: _Branch[T] | None, part: Span | None, node: _Branch[T] | Kept[T]) -> None:
        """Where the assumption `part` leads in a branch, or at the root."""
        if branch is None:
            self._root = node
        else:
            branch.after[part] = node

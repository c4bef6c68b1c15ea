"""Results kept with what was assumed of each unknown thing looked at for them: worked out once for all completions that
assume the same of just these.

Work is a pure function of the record, the law and the assumptions it looks at, in the order in which it looks. So what
is kept of one work is a tree: which unknown thing it looks at first, for each assumption of that which one next, and so
on to its result.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
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
        looked: Iterable[Var] = kept.looked
        put: Callable[[_Branch[T] | Kept[T]], None] = self._put_root
        node = self._root
        for var in looked:
            if not isinstance(node, _Branch) or node.var != var:
                node = _Branch(var)
                put(node)
            after, part = node.after, assumed(var)
            put = _setter(after, part)
            node = after.get(part)
        put(kept)

    def _put_root(self, node: _Branch[T] | Kept[T]) -> None:
        self._root = node


def _setter(
    after: dict[Span | None, _Branch[T] | Kept[T]], part: Span | None
) -> Callable[[_Branch[T] | Kept[T]], None]:
    def put(node: _Branch[T] | Kept[T]) -> None:
        after[part] = node

    return put

"""Views: all that a question looks at around one thing, as numbers. Things with equal views are ruled alike.

A view goes from thing to thing in a fixed order and numbers them as it comes to them, so that it holds which of them
are one and the same; what they are called is not in it.
"""

from __future__ import annotations

from collections.abc import Hashable

from yokebook.flat.demand import Demand, Node
from yokebook.flat.telling import Telling
from yokebook.graph import Graph, Missing, Thing
from yokebook.graph import MISSING as NOT_GIVEN
from yokebook.model import Book, Value
from yokebook.openness import open_lists
from yokebook.session import key_of

#: What stands in a view for a reference that leads to nothing, and for one that nobody gave. Things come to before are
#: counted down from -1.
_NOTHING, _NOT_GIVEN = -1_000_001, -1_000_002

#: The most things of a view. A bigger one takes longer to make than to rule on, and is hardly ever seen again.
MOST = 200

View = tuple[int, ...]


class TooBig(Exception):
    """More things than a view may have."""


class Numbers:
    """Numbers for what is equal, the same for as long as this is kept."""

    def __init__(self) -> None:
        self._of: dict[Hashable, int] = {}

    def of(self, what: Hashable) -> int:
        """The number of this and of all that is equal to it."""
        return self._of.setdefault(what, len(self._of))

    def __len__(self) -> int:
        return len(self._of)


class Seen:
    """The things of one graph: what is given of each, as a number, worked out once for all questions."""

    def __init__(self, graph: Graph, book: Book) -> None:
        self.given: list[tuple[tuple[str, Value], ...]] = []
        self.number: dict[Thing, int] = {}
        self.by_key: dict[tuple[str, str], Thing] = {}
        known: dict[tuple[tuple[str, Value], ...], int] = {}
        for thing in graph:
            given = tuple(thing.given.items())
            number = known.get(given)
            if number is None:
                number = known[given] = len(self.given)
                self.given.append(given)
            self.number[thing] = number
            self.by_key[key_of(thing)] = thing
        self.stated = frozenset(name for given in known for name, _ in given if name not in book.facts)


class Views:
    """The views of one question."""

    def __init__(self, demand: Demand, book: Book) -> None:
        self.demand = demand
        self.book = book
        self._classes: dict[str, dict[Value, int]] = {}
        self._numbers = Numbers()
        self._governed = {name for names in demand.governed.values() for name in names}
        self._wanted: dict[Node, frozenset[str]] = {node: frozenset(node.facts) for node in demand.nodes()}
        self._seen: Seen | None = None
        self._own: dict[Node, dict[int, int]] = {}
        self._key: list[int] = []
        self._order: dict[Thing, int] = {}
        self._done: set[tuple[Node, Thing]] = set()

    def __len__(self) -> int:
        """How many parts of views are numbered."""
        return len(self._numbers)

    def of(self, thing: Thing, seen: Seen) -> tuple[View, list[Thing]]:
        """The view of a thing, and the things of it in their order. Raises TooBig."""
        if self._seen is not seen:
            self._seen, self._own = seen, {node: {} for node in self._wanted}
        self._key, self._order, self._done = [], {}, set()
        self._visit(self.demand.root, thing, seen)
        return tuple(self._key), list(self._order)

    def _visit(self, node: Node, thing: Thing, seen: Seen) -> None:
        key, order = self._key, self._order
        place = order.get(thing)
        if place is None:
            if len(order) == MOST:
                raise TooBig
            order[thing] = len(order)
        else:
            key.append(-1 - place)
            if (node, thing) in self._done:
                return
        own = self._own[node]
        number = seen.number[thing]
        code = own.get(number)
        if code is None:
            code = own[number] = self._code(node, seen.given[number])
        key.append(code)
        if not node.refs and not node.lists:
            return
        self._done.add((node, thing))
        refs = thing.refs
        for step, following in node.refs:
            there = refs.get(step, NOT_GIVEN)
            if isinstance(there, Thing):
                self._visit(following, there, seen)
            else:
                key.append(_NOT_GIVEN if isinstance(there, Missing) else _NOTHING)
        for name, following in node.lists:
            self._list(thing, name, following, seen)

    def _list(self, thing: Thing, name: str, node: Node, seen: Seen) -> None:
        items, complete = thing.list_of(name)
        self._key.append(2 * len(items) + complete)
        for item in items:
            self._visit(node, item, seen)
        if not complete:
            for var in open_lists(thing, name):
                owner = seen.by_key[var.subject]
                self._key.append(self._order.setdefault(owner, len(self._order)))
                self._key.append(self._numbers.of((var.kind, var.name)))

    def _code(self, node: Node, given: tuple[tuple[str, Value], ...]) -> int:
        """The number of what is looked at of a thing: classes of facts, stated values, what is given that may not
        apply."""
        wanted, facts = self._wanted[node], self.book.facts
        found: list[tuple[str, int]] = []
        for name, value in given:
            if name in wanted or name not in facts:
                found.append((name, self.class_of(name, value)))
            elif name in self._governed:
                found.append((name, -1))
        found.sort()
        return self._numbers.of((node.kind, tuple(found)))

    def class_of(self, name: str, value: Value) -> int:
        """The number of the class of a value that the question tells no further apart."""
        classes = self._classes.setdefault(name, {})
        number = classes.get(value)
        if number is None:
            telling = self.demand.telling.get(name, _EXACT)
            number = classes[value] = self._numbers.of((name, telling.class_of(value)))
        return number


_EXACT = Telling(exact=True)

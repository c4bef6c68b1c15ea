"""Views: all that a question looks at around one thing, as numbers. Things with equal views are ruled alike.

A view goes from thing to thing in a fixed order and numbers them as it comes to them, so that it holds which of them
are one and the same; what they are called is not in it.
"""

from __future__ import annotations

from collections.abc import Hashable

from yokebook.flat.demand import Node
from yokebook.flat.telling import Telling
from yokebook.graph import MISSING, Thing
from yokebook.model import Book, Value
from yokebook.openness import open_lists
from yokebook.session import Session, key_of

#: What stands in a view for a reference that leads to nothing, and for one that nobody gave. Things come to before are
#: counted down from -1.
_NOTHING, _NOT_GIVEN = -1_000_001, -1_000_002

#: The most things of a view. A bigger one takes longer to make than to rule on, and is hardly ever seen again.
MOST = 200

View = tuple[int, ...]

#: What is given of a thing.
Given = tuple[tuple[str, Value], ...]


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
    """The things of one session: what is given of each, as a number, worked out once for all questions."""

    def __init__(self, session: Session) -> None:
        self.session = session
        self.given: list[Given] = []
        self.number: dict[Thing, int] = {}
        known: dict[Given, int] = {}
        for thing in session.graph:
            given = tuple(thing.given.items())
            number = known.get(given)
            if number is None:
                number = known[given] = len(self.given)
                self.given.append(given)
            self.number[thing] = number
        facts = session.book.facts
        self.stated = frozenset(name for given in known for name, _ in given if name not in facts)


class Views:
    """The views from one node, for one session at a time."""

    def __init__(self, root: Node, telling: dict[str, Telling], book: Book, *, occurring: bool = False) -> None:
        """With `occurring` it is in the view of which facts that may not apply something is given."""
        self.root = root
        self.telling = telling
        self.book = book
        self._classes: dict[str, dict[Value, int]] = {}
        self._numbers = Numbers()
        self._governed = frozenset(
            fact.id for fact in book.facts.values() if occurring and fact.applies_when is not None
        )
        self._wanted: dict[Node, frozenset[str]] = {node: frozenset(node.facts) for node in root.all()}
        self._own: dict[Node, dict[int, int]] = {}
        self._for: Seen | None = None
        self.key: list[int] = []
        self.order: dict[Thing, int] = {}
        self._done: set[tuple[Node, Thing]] = set()

    def __len__(self) -> int:
        """How many parts of views are numbered."""
        return len(self._numbers)

    def look(self, thing: Thing, seen: Seen) -> None:
        """Makes the view of a thing: `key`, and `order`, the things of it with their numbers. Raises TooBig."""
        if self._for is not seen:
            self._for, self._own = seen, {node: {} for node in self._wanted}
        self.key, self.order, self._done = [], {}, set()
        self._visit(self.root, thing, seen)

    def _visit(self, node: Node, thing: Thing, seen: Seen) -> None:
        key, order = self.key, self.order
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
            there = refs.get(step, MISSING)
            if isinstance(there, Thing):
                self._visit(following, there, seen)
            else:
                key.append(_NOTHING if there is None else _NOT_GIVEN)
        for name, following in node.lists:
            self._list(thing, name, following, seen)

    def _list(self, thing: Thing, name: str, node: Node, seen: Seen) -> None:
        items, complete = thing.list_of(name)
        self.key.append(2 * len(items) + complete)
        for item in items:
            self._visit(node, item, seen)
        if complete:
            return
        open_ones = open_lists(thing, name)
        owners = {key_of(owner): owner for owner in seen.session.named({var.subject for var in open_ones})}
        for var in open_ones:
            self.key.append(self.order.setdefault(owners[var.subject], len(self.order)))
            self.key.append(self._numbers.of((var.kind, var.name)))

    def _code(self, node: Node, given: Given) -> int:
        """The number of what is looked at of a thing: classes of what is given, and what is given that may not apply."""
        wanted = self._wanted[node]
        found: list[tuple[str, int]] = []
        for name, value in given:
            if name in wanted:
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
            telling = self.telling.get(name, _EXACT)
            number = classes[value] = self._numbers.of((name, telling.class_of(value)))
        return number


_EXACT = Telling(exact=True)

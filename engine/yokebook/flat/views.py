"""Views: all that a question looks at around one thing, as numbers. Things with equal views are ruled alike.

A view goes from thing to thing in a fixed order and numbers them as it comes to them, so that it holds which of them
are one and the same; what they are called is not in it.
"""

from __future__ import annotations

from collections.abc import Hashable

from yokebook.deciding import Context
from yokebook.flat.bounded import keep
from yokebook.flat.demand import Figure, Node
from yokebook.flat.telling import Telling
from yokebook.graph import MISSING, Thing
from yokebook.model import Book, Value
from yokebook.openness import open_lists
from yokebook.session import LowerFault, OverBudget, Session, key_of
from yokebook.values import NotApplicable, Split, Val, single

#: What stands in a view for a reference that leads to nothing, and for one that nobody gave. Things come to before are
#: counted down from -1.
_NOTHING, _NOT_GIVEN = -1_000_001, -1_000_002

#: What stands in a view for a figure that is open, before what is looked at for it.
_OPEN = -1_000_003

#: The most things of a view. A bigger one takes longer to make than to rule on, and is hardly ever seen again.
MOST = 190

View = tuple[int, ...]

#: Readings, each with the alternative that is taken.
Read = tuple[tuple[str, str], ...]

#: What a figure comes to, for each combination of the readings that it turns on.
Settled = tuple[tuple[Read, Value | NotApplicable], ...]

#: How much is numbered, and the most values of one fact of which the class is kept; past it one starts anew.
_MOST_NUMBERED, _MOST_KEPT = 200_000, 20_000

#: The most combinations of readings that are gone through.
_MOST_COMBINED = 30

#: What is given of a thing.
Given = tuple[tuple[str, Value], ...]


class TooBig(Exception):
    """More things than a view may have."""


class Numbers:
    """Numbers for what is equal. What is not equal never has one number; what is equal has one until too many others
    were numbered, and another from then on."""

    def __init__(self) -> None:
        self._of: dict[Hashable, int] = {}
        self._next = 0

    def of(self, what: Hashable) -> int:
        """The number of this and of all that is equal to it."""
        found = self._of.get(what)
        if found is None:
            found = keep(self._of, what, self._next, _MOST_NUMBERED)
            self._next += 1
        return found


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
        self._settled: dict[Figure, dict[Thing, Settled | None]] = {}
        facts = session.book.facts
        self.stated = frozenset(name for given in known for name, _ in given if name not in facts)

    def settled(self, figure: Figure, thing: Thing) -> Settled | None:
        """What a figure or answer of a thing comes to under the one entry of its kind of document. None where it is
        open: something unknown was looked at for it that is no reading."""
        known = self._settled.setdefault(figure, {})
        if thing not in known:
            found: dict[Read, Value | NotApplicable] = {}
            known[thing] = tuple(found.items()) if self._settle(figure, thing, {}, found) else None
        return known[thing]

    def _settle(
        self, figure: Figure, thing: Thing, readings: dict[str, str], found: dict[Read, Value | NotApplicable]
    ) -> bool:
        """Takes up what it comes to under these readings, and each alternative of any other that is looked at; whether
        that is settled."""
        law = self.session.in_force[figure.law_kind].candidates[0].law
        assert law is not None
        context = Context(self.session, {}, readings, set())
        self.session.tried = 0
        val: Val | None = None
        fault = False
        try:
            val = context.input(law, thing, figure.name)
        except Split as split:
            split.with_traceback(None)  # which would keep all of the session
        except (LowerFault, OverBudget) as raised:
            raised.with_traceback(None)
            fault = True
        looked_at = sorted(var.name for var in context.seen if var.kind == "reading" and var.name not in readings)
        if fault or any(var.kind != "reading" for var in context.seen) or len(found) > _MOST_COMBINED:
            return False
        if looked_at:
            alternatives = self.session.book.readings[looked_at[0]].alternatives
            under: list[dict[Read, Value | NotApplicable]] = []
            for alternative in alternatives:
                under.append({})
                if not self._settle(figure, thing, {**readings, looked_at[0]: alternative}, under[-1]):
                    return False
            values = {value for each in under for value in each.values()}
            if len(values) == 1:
                found[tuple(readings.items())] = values.pop()
            else:
                for each in under:
                    found.update(each)
            return True
        if val is None or val.maybe_na:
            return False
        value = val.span if isinstance(val.span, NotApplicable) else single(val.span)
        if value is None:
            return False
        found[tuple(readings.items())] = value
        return True


class _Way:
    """A node made ready to be gone through: what is looked at there, and what was found of things for one session."""

    __slots__ = ("_of_project", "bare", "figures", "kind", "lists", "own", "refs", "wanted")

    def __init__(self, node: Node) -> None:
        self.kind = node.kind
        self.wanted = frozenset(node.facts)
        self.refs: list[tuple[str, _Way]] = []
        self.lists: list[tuple[str, _Way]] = []
        self.figures: list[tuple[Figure, _Way]] = []
        self.bare = not node.refs and not node.lists and not node.figures
        #: by the number of what is given of a thing, the number of what is looked at of it
        self.own: dict[int, int] = {}
        self._of_project: list[_Way] | None = None

    @property
    def of_project(self) -> list[_Way]:
        """What is looked at of the project from a thing that nobody gave: all else of what stands for it is unknown."""
        if self._of_project is None:
            seen: dict[int, _Way] = {}
            waiting: list[_Way] = [self]
            while waiting:
                way = waiting.pop()
                if id(way) not in seen:
                    seen[id(way)] = way
                    waiting += (there for _, there in way.refs)
                    waiting += (behind for _, behind in way.figures)
            self._of_project = [way for way in seen.values() if way.kind == "project"]
        return self._of_project


class Views:
    """The views from one node, for one session at a time."""

    def __init__(self, root: Node, telling: dict[str, Telling], book: Book, *, occurring: bool = False) -> None:
        """With `occurring` it is in the view of which facts that may not apply something is given."""
        self.telling = telling
        self._classes: dict[str, dict[Value, int]] = {}
        self._numbers = Numbers()
        self._governed = frozenset(
            fact.id for fact in book.facts.values() if occurring and fact.applies_when is not None
        )
        self._ways: dict[Node, _Way] = {}
        self._root = self._way(root)
        self._for: Seen | None = None
        #: the view being made, and the things of it with their numbers
        self.key: list[int] = []
        self.order: dict[Thing, int] = {}
        self._done: set[tuple[_Way, Thing]] = set()

    def _way(self, node: Node) -> _Way:
        way = self._ways.get(node)
        if way is None:
            way = self._ways[node] = _Way(node)
            way.refs = [(step, self._way(there)) for step, there in node.refs]
            way.lists = [(name, self._way(there)) for name, there in node.lists]
            way.figures = [(figure, self._way(figure.behind)) for figure in node.figures]
        return way

    def look(self, thing: Thing, seen: Seen) -> None:
        """Makes the view of a thing: `key`, and `order`, the things of it with their numbers. Raises TooBig."""
        if self._for is not seen:
            self._for = seen
            for way in self._ways.values():
                way.own = {}
        self.key, self.order, self._done = [], {}, set()
        self._visit(self._root, thing, seen)

    def forget(self) -> None:
        """Lets go of the session at hand; what is equal keeps its number."""
        self._for = None
        self.key, self.order, self._done = [], {}, set()

    def _visit(self, way: _Way, thing: Thing, seen: Seen) -> None:
        key, order = self.key, self.order
        place = order.get(thing)
        if place is not None:
            key.append(-1 - place)
            if (way, thing) in self._done:
                return
        elif len(order) == MOST:
            raise TooBig
        else:
            order[thing] = len(order)
        number = seen.number[thing]
        code = way.own.get(number)
        key.append(self._code(way, number, seen) if code is None else code)
        self._done.add((way, thing))
        if way.bare:
            return
        refs = thing.refs
        for step, following in way.refs:
            there = refs.get(step, MISSING)
            if there is None:
                key.append(_NOTHING)
            elif there is MISSING:
                key.append(_NOT_GIVEN)
                for way_there in following.of_project:
                    self._visit(way_there, seen.session.graph.project, seen)
            else:
                self._visit(following, there, seen)
        for name, following in way.lists:
            self._list(thing, name, following, seen)
        for figure, following in way.figures:
            settled = seen.settled(figure, thing)
            if settled is None:
                key.append(_OPEN)
                self._visit(following, thing, seen)
            else:
                key.append(self.settled_class(figure.name, settled))

    def _list(self, thing: Thing, name: str, way: _Way, seen: Seen) -> None:
        items, complete = thing.list_of(name)
        self.key.append(2 * len(items) + complete)
        for item in items:
            self._visit(way, item, seen)
        if complete:
            return
        open_ones = open_lists(thing, name)
        owners = {key_of(owner): owner for owner in seen.session.named({var.subject for var in open_ones})}
        for var in open_ones:
            self.key.append(self.order.setdefault(owners[var.subject], len(self.order)))
            self.key.append(self._numbers.of((var.kind, var.name)))

    def _code(self, way: _Way, number: int, seen: Seen) -> int:
        """The number of what is looked at of a thing: classes of what is given, and what is given that may not
        apply."""
        found: list[tuple[str, int]] = []
        for name, value in seen.given[number]:
            if name in way.wanted:
                found.append((name, self.class_of(name, value)))
            elif name in self._governed:
                found.append((name, -1))
        found.sort()
        code = way.own[number] = self._numbers.of((way.kind, tuple(found)))
        return code

    def class_of(self, name: str, value: Value) -> int:
        """The number of the class of a value that is told no further apart."""
        classes = self._classes.setdefault(name, {})
        number = classes.get(value)
        if number is None:
            telling = self.telling.get(name, _EXACT)
            number = keep(classes, value, self._numbers.of((name, telling.class_of(value))), _MOST_KEPT)
        return number

    def settled_class(self, name: str, settled: Settled) -> int:
        """The number of what a figure comes to, as far as it is told apart."""
        classes = [
            (read, -1 if isinstance(value, NotApplicable) else self.class_of(name, value)) for read, value in settled
        ]
        return self._numbers.of((name, tuple(classes)))


_EXACT = Telling(exact=True)

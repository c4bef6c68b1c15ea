"""Flat records as numbers: one for each set of records that a question cannot tell apart.

Every key of a record has bits of its own, in which stands which class of values is given. What is given of one key is
read by the front door once for each value that turns up, so that nothing is taken that it would refuse.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Iterator, Mapping
from decimal import Decimal
from fractions import Fraction
from itertools import count

from yokebook.entities import KINDS, LISTS, PREFIX, REFERENCE, REFERENCES, Kind
from yokebook.flat.telling import Telling
from yokebook.front_door import FrontDoor
from yokebook.graph import Graph
from yokebook.load.faults import InputFaults
from yokebook.model import Value

#: The classes of Python objects that are looked up; any other goes in by the front door itself each time.
_PLAIN = (str, bool, int, float, Fraction, Decimal, type(None))

#: Bits for a value that counts by itself, and how many values of one key are kept.
_EXACT_BITS, _MOST_KEPT = 16, 20_000

#: How many keys are kept; there are fewer that mean anything, but for dates of events.
_MOST_KEYS = 2**12


#: The bits of what is said of a list or reference, at their place.
_FLAG = 0b11


class NotRead(KeyError):
    """A value that no number can be given to: the front door may refuse it, or too many others were seen."""


class _Codes(dict[object, int]):
    """The codes of the values of one class of objects under one key, each found when it first turns up."""

    def __init__(self, of_class: _Keys, key: str) -> None:
        super().__init__()
        self.of_class = of_class
        self.key = key

    def __missing__(self, value: object) -> int:
        code = self.of_class.signatures.code(self.key, value)
        if len(self) < _MOST_KEPT:
            self[value] = code
            self.of_class.keep(self)
        return code


class _Keys(dict[str, _Codes]):
    """The codes of one class of objects by key, kept for keys under which the front door took a value."""

    def __init__(self, signatures: Signatures) -> None:
        super().__init__()
        self.signatures = signatures

    def __missing__(self, key: str) -> _Codes:
        if not isinstance(key, str):
            raise NotRead
        return _Codes(self, key)

    def keep(self, codes: _Codes) -> None:
        """Keeps the codes of a key that is known to be one."""
        if len(self) < _MOST_KEYS:
            self.setdefault(codes.key, codes)


class Signatures:
    """The numbers of records, as far as these facts, told apart so, matter."""

    def __init__(self, door: FrontDoor, telling: Mapping[str, Iterable[Telling]], given: Iterable[str]) -> None:
        """`given` are the facts of which it matters that they are given."""
        self._door = door
        self._telling = {name: tuple(each) for name, each in telling.items()}
        self._given = frozenset(given)
        self._offset: dict[str, int] = {}
        self._classes: dict[str, dict[Hashable, int]] = {}
        self._samples: dict[tuple[str, int], Value] = {}
        self._bits = 0
        self._next: dict[str, Iterator[int]] = {}
        #: the bits of the things that a record names, of what is said of lists and references, and of each fact
        self.structure = self._take(len(KINDS))
        for key in sorted(_said()):
            self.structure |= self._field(key, _FLAG.bit_length())
        self.fields: dict[str, int] = {}
        for name in sorted({*self._telling, *self._given}):
            self.fields[name] = self._field(name, _EXACT_BITS if self._exact(name) else self._width(name))
        self.codes: dict[type, _Keys] = {kind: _Keys(self) for kind in _PLAIN}

    def of(self, record: Mapping[str, object]) -> int:
        """The number of a record. Raises KeyError or TypeError where it has none."""
        codes, signature = self.codes, 0
        for key, value in record.items():
            signature |= codes[value.__class__][key][value]
        return signature

    def code(self, key: str, value: object) -> int:
        """The bits of one value of one key, in its place. Raises NotRead, a KeyError."""
        try:
            graph = self._door.record({key: value})
        except InputFaults:
            raise NotRead from None
        term = self._door.words.terms.get(key)
        if term is None:
            return self._said(key, graph)
        if value is None:
            return 0
        if term.computed and key not in self.fields:
            raise NotRead  # what it is computed from matters, and is not in these numbers
        if term.type == "text" and term.applies_when is not None:
            raise NotRead  # whether it applies is not in these numbers
        code = 1 << KINDS.index(term.kind)
        thing = graph.things[term.kind][0]
        if key not in self.fields or key not in thing.given:
            return code
        its_class = tuple(telling.class_of(thing.given[key]) for telling in self._telling.get(key, ()))
        return code | self._number(key, its_class, thing.given[key]) << self._offset[key]

    def _number(self, key: str, its_class: Hashable, value: Value) -> int:
        """The number of a class of values of a fact."""
        classes = self._classes.setdefault(key, {})
        number = classes.get(its_class)
        if number is None:
            number = next(self._next.setdefault(key, count(1)))  # no two threads are given one number
            if number << self._offset[key] & ~self.fields[key]:
                raise NotRead  # more values than there are numbers for
            self._samples[key, number] = value
            number = classes.setdefault(its_class, number)
        return number

    def given(self, signature: int, names: Iterable[str]) -> dict[str, Value]:
        """Of these facts those that records with this number give, with values as good as theirs."""
        found: dict[str, Value] = {}
        for name in names:
            number = (signature & self.fields[name]) >> self._offset[name]
            if number:
                found[name] = self._samples[name, number]
        return found

    def named(self, kind: Kind) -> int:
        """The bits that tell whether records name a thing of this kind that a reference leads to."""
        return self.structure & 1 << KINDS.index(kind)

    def leads_to(self, kind: Kind, name: str) -> int:
        """The bits that tell which things a list or reference of a thing leads to."""
        target = REFERENCES.get(kind, {}).get(name) or REFERENCE.get(kind, {}).get(name)
        if target is None:
            return self.structure
        flag = f"{PREFIX[kind]}.{name}"
        bits = 1 << KINDS.index(target)
        for key in (flag, f"{flag}.complete"):
            if key in self._offset:
                bits |= self.structure & (_FLAG << self._offset[key])
        return bits

    def _said(self, key: str, graph: Graph) -> int:
        """The bits of what is said of a list or reference; none for a date, a place or whose word it is."""
        if key not in self._offset:
            return 0
        prefix, _, rest = key.partition(".")
        kind: Kind = next(kind for kind in KINDS if PREFIX[kind] == prefix)
        thing = graph.things[kind][0]
        name = rest.removesuffix(".complete")
        if name in thing.complete:
            number = 1 + thing.complete[name]
        elif name in thing.refs and thing.refs[name] is None:
            number = 1
        else:
            return 0  # null
        return number << self._offset[key] | 1 << KINDS.index(kind)

    # ---- bits -----------------------------------------------------------------------------------------------------

    def _take(self, width: int) -> int:
        bits = (1 << width) - 1 << self._bits
        self._bits += width
        return bits

    def _field(self, name: str, width: int) -> int:
        self._offset[name] = self._bits
        return self._take(width)

    def _exact(self, name: str) -> bool:
        """Whether there may be any number of classes."""
        term = self._door.words.terms[name]
        exact = any(telling.exact for telling in self._telling.get(name, ()))
        return term.type == "number" and exact

    def _width(self, name: str) -> int:
        """Bits for as many classes as there may be, and for none."""
        term = self._door.words.terms[name]
        if term.type == "number":
            cells = sum(len(telling.cells) for telling in self._telling.get(name, ()))
            listed = sum(len(each.table) for telling in self._telling.get(name, ()) for each in telling.look_ups)
            return (4 * cells + listed + 2).bit_length() + 1
        return max(2, len(term.values) + 1).bit_length()


def _said() -> Iterable[str]:
    """The keys that say of a list whether it is complete, or of a reference that it leads to nothing."""
    for kind, lists in LISTS.items():
        yield from (f"{PREFIX[kind]}.{name}.complete" for name, of in lists.items() if of.flagged)
    for kind, references in REFERENCE.items():
        yield from (f"{PREFIX[kind]}.{name}" for name in references)

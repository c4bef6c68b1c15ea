"""Input as a tree that remembers where each piece stood, whatever it was written in.

YAML and JSON files, plain Python data and a schedule's rows all become this tree, so that one reader checks them all.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction
from typing import NamedTuple, cast

from yokebook.frozen import dataclass
from yokebook.load import nodes
from yokebook.model import At

#: Where a piece stood: a place in a file, or words such as `spaces[0].use` or "row 7, column `Config`".
Where = At | str


@dataclass(frozen=True, slots=True)
class Unusable:
    """A Python object that no record may hold; `what` says what it is."""

    what: str


#: A nodes.Scalar is a word or number that stands in a file without quotes: its fact's type says how to read it.
Scalar = bool | int | float | Decimal | Fraction | date | str | nodes.Scalar | Unusable | None


class Member(NamedTuple):
    """One key of a mapping with its value."""

    key: str
    at: Where  # of the key
    value: Entry


class Fields:
    """A mapping, in the order written."""

    __slots__ = ("_members",)

    def __init__(self, members: Iterable[Member]) -> None:
        self._members = tuple(members)

    def __iter__(self) -> Iterator[Member]:
        return iter(self._members)

    def get(self, key: str) -> Entry | None:
        """The value under `key`; None when the key is absent."""
        return next((member.value for member in self if member.key == key), None)


class _PythonFields(Fields):
    """A mapping of plain Python data, of which a big project has many: its members are made as they are come to."""

    __slots__ = ("_data", "_depth", "_path")

    def __init__(self, data: Mapping[object, object], path: str, depth: int) -> None:
        self._data = data
        self._path = path
        self._depth = depth

    def __iter__(self) -> Iterator[Member]:
        path, depth = self._path, self._depth
        for key, value in self._data.items():
            name = key if isinstance(key, str) else repr(key)
            here = f"{path}.{name}" if path else name
            if value.__class__ in _PLAIN:
                yield Member(name, here, Entry(here, cast("Scalar", value)))
            else:
                yield Member(name, here, from_python(value, here, depth + 1))


class Entry(NamedTuple):
    """One value and where it stood."""

    at: Where
    value: Scalar | Fields | tuple[Entry, ...]

    @property
    def given(self) -> bool:
        """False for null, which says that nothing is given."""
        return self.value is not None


#: A record nests project, space, yoke, contact and lists of them; deeper data is a mistake or an attack.
_DEEPEST = 20
_USABLE = (bool, int, float, Decimal, Fraction, date, str, type(None))

#: The classes of most values, which are looked at no further.
_PLAIN = frozenset({bool, int, float, str, type(None)})


def from_python(value: object, path: str = "", depth: int = 0) -> Entry:
    """Plain Python data as a tree; each piece stands at its path, such as `spaces[0].use`.

    Objects that a record cannot hold come back as Unusable, for the reader to refuse by name.
    """
    if value.__class__ in _PLAIN or (isinstance(value, _USABLE) and not isinstance(value, datetime)):
        return Entry(path, cast("Scalar", value))
    if isinstance(value, Mapping | list | tuple) and depth >= _DEEPEST:
        return Entry(path, Unusable(f"data more than {_DEEPEST} levels deep"))
    if isinstance(value, Mapping):
        return Entry(path, _PythonFields(value, path, depth))
    if isinstance(value, list | tuple):
        items = [from_python(item, f"{path}[{number}]", depth + 1) for number, item in enumerate(value)]
        return Entry(path, tuple(items))
    return Entry(path, Unusable(f"a Python object of type `{type(value).__name__}`"))


def from_node(node: nodes.Node) -> Entry:
    """A YAML or JSON file's nodes as a tree. Quoted text is text; a plain scalar is kept as it stands."""
    match node:
        case nodes.MappingNode():
            members = (Member(key, item.key.at, from_node(item.value)) for key, item in node.entries.items())
            return Entry(node.at, Fields(members))
        case nodes.SequenceNode():
            return Entry(node.at, tuple(from_node(item) for item in node.items))
    if node.is_null:
        return Entry(node.at, None)
    return Entry(node.at, node if node.plain else node.text)


def shown(value: Scalar | Fields | tuple[Entry, ...]) -> str:
    """A value as a message quotes it, short and on one line."""
    match value:
        case None:
            return "null"
        case bool():
            return "true" if value else "false"
        case Fields():
            return "a mapping"
        case tuple():
            return "a list"
        case Unusable():
            return value.what
        case nodes.Scalar() | str():
            return nodes.shorten(value if isinstance(value, str) else value.text)
        case date():
            return value.isoformat()
        case _:
            return str(value)

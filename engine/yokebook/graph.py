"""A building's record as things that point at each other: what the evaluator reads.

The front door builds a graph and has checked every value in it. Nothing here knows a rule; what stands in what, and
which lists each kind has, is in entities.py.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from enum import Enum
from typing import Final, Literal

from yokebook.entities import KINDS, LISTS, ONE, PREFIX, Kind
from yokebook.model import At, Value


class Missing(Enum):
    """The one value `MISSING`: a reference that nobody has given, so that nothing is known of what it leads to."""

    MISSING = "not given"


MISSING: Final = Missing.MISSING

#: Lists that follow from others: the steps that lead to the items, each a list or a reference of the thing before.
#: A control's circuits are those of its contacts: a load wired to the control is no receptacle's business.
DERIVED: dict[tuple[Kind, str], tuple[str, ...]] = {
    ("project", "yokes"): ("spaces", "yokes"),
    ("project", "contacts"): ("spaces", "yokes", "contacts"),
    ("space", "contacts"): ("yokes", "contacts"),
    ("wall", "contacts"): ("yokes", "contacts"),
    ("space", "controls"): ("yokes", "contacts", "controls"),
    ("yoke", "circuits"): ("contacts", "circuit"),
    ("yoke", "controls"): ("contacts", "controls"),
    ("control", "yokes"): ("contacts", "yoke"),
    ("control", "spaces"): ("contacts", "yoke", "space"),
    ("control", "circuits"): ("contacts", "circuit"),
    ("control", "plugged_loads"): ("contacts", "load"),
    ("circuit", "yokes"): ("contacts", "yoke"),
    ("circuit", "plugged_loads"): ("contacts", "load"),
}

#: Lists of what refers to a thing: (the parent that both stand in, its list of such things, their reference). They are
#: complete if that list is and each of its items says what it refers to.
REFERRING: dict[tuple[Kind, str], tuple[Kind, str, str]] = {("wall", "yokes"): ("space", "yokes", "wall")}


@dataclass(eq=False)
class Thing:
    """One project, space, wall, yoke, contact, control, circuit or load, with what is given of it.

    Two things are equal only if they are the same object.
    """

    kind: Kind
    id: str  # the path that outputs print, such as "living/R1/upper"
    label: str = ""  # in trade words, such as "R1 upper half, living room"
    #: facts and stated calculations by full id; numbers in the fact's own unit
    given: dict[str, Value] = field(default_factory=dict)
    text: dict[str, str] = field(default_factory=dict)  # facts of type text, by full id
    stated_by: dict[str, str] = field(default_factory=dict)  # full id -> who said so
    at: dict[str, At | str] = field(default_factory=dict)  # full id -> where: in a file, in a row, or the field
    #: parents and references by key; None = said that there is none; no key = not given
    refs: dict[str, Thing | None] = field(default_factory=dict)
    many: dict[str, list[Thing]] = field(default_factory=dict)  # the flagged lists of entities.LISTS
    complete: dict[str, bool] = field(default_factory=dict)  # list name -> said to be complete; no key = not said
    #: False for a thing that no fact names: it is there only so that a question can be asked about it
    named: bool = True

    def one(self, kind: Kind) -> Thing | Missing | None:
        """The thing of `kind` that this one has exactly one of (itself for its own kind).

        None when a reference on the way is said to lead to nothing, MISSING when one is not given. Raises KeyError for
        a kind that this thing may have none or several of (see entities.ONE).
        """
        if kind == self.kind:
            return self
        here: Thing = self
        for step in ONE[self.kind][kind]:
            there = here.refs.get(step, MISSING)
            if there is None or isinstance(there, Missing):
                return there
            here = there
        return here

    def list_of(self, name: str) -> tuple[list[Thing], bool]:
        """The distinct known items of a list of entities.LISTS, in file order, and whether that is all of them.

        A list that follows from others is complete only if each list and reference it goes through is. Raises KeyError
        for a list that this kind does not have.
        """
        if LISTS[self.kind][name].flagged:
            return list(self.many.get(name, ())), self.complete.get(name, False)
        if (self.kind, name) in REFERRING:
            return self._referring(*REFERRING[self.kind, name])
        items: list[Thing] = [self]
        complete = True
        for step in DERIVED[self.kind, name]:
            found: list[Thing] = []
            for item in items:
                next_items, all_of_them = item._step(step)
                found.extend(next_items)
                complete = complete and all_of_them
            items = _distinct(found)
        return items, complete

    def _referring(self, parent: Kind, siblings: str, reference: str) -> tuple[list[Thing], bool]:
        there = self.one(parent)
        if not isinstance(there, Thing):
            return [], False
        items, complete = there.list_of(siblings)
        mine = [item for item in items if item.refs.get(reference) is self]
        return mine, complete and all(reference in item.refs for item in items)

    def _step(self, step: str) -> tuple[list[Thing], bool]:
        if step in LISTS[self.kind]:
            return self.list_of(step)
        there = self.refs.get(step, MISSING)
        if isinstance(there, Missing):
            return [], False
        return ([] if there is None else [there]), True


def _distinct(things: Iterable[Thing]) -> list[Thing]:
    return list({id(thing): thing for thing in things}.values())


@dataclass(eq=False)
class Graph:
    """All things of one record or project, by kind and in file order.

    There is always exactly one project. A graph made from a flat record holds one thing of every kind.
    """

    things: dict[Kind, list[Thing]] = field(default_factory=lambda: {kind: [] for kind in KINDS})
    place: str | None = None
    dates: dict[str, str] = field(default_factory=dict)  # event -> ISO date
    choices: dict[str, str] = field(default_factory=dict)  # a place's choice -> the alternative taken
    form: Literal["record", "project"] = "project"

    @property
    def project(self) -> Thing:
        """The project itself."""
        return self.things["project"][0]

    def find(self, path: str) -> Thing:
        """The thing with this path, such as `living/R1/upper`, `S1` or `project`.

        Raises KeyError naming the path when no thing has it, or naming the paths that are meant when two kinds share
        it; then `kind:path`, such as `control:S1`, says which.
        """
        kind, colon, rest = path.partition(":")
        if colon and kind in PREFIX.values():
            found = [thing for thing in self if PREFIX[thing.kind] == kind and thing.id == rest]
        else:
            found = [thing for thing in self if thing.id == path]
        if not found:
            raise KeyError(f"nothing in the record has the path `{path}`")
        if len(found) > 1:
            several = ", ".join(f"`{PREFIX[thing.kind]}:{thing.id}`" for thing in found)
            raise KeyError(f"the path `{path}` could be {several}; write one of these")
        return found[0]

    def __iter__(self) -> Iterator[Thing]:
        """Every thing, kinds in the order of entities.KINDS, things of a kind in file order."""
        for kind in KINDS:
            yield from self.things[kind]

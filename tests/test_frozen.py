"""The quick decorator for classes of data does what the standard one does."""

from __future__ import annotations

import copy
import dataclasses
import pickle
from dataclasses import FrozenInstanceError, fields, replace
from typing import Any

import pytest

from yokebook.frozen import dataclass as quick


def body(cls: Any) -> Any:
    """A class of data by one decorator or the other."""

    class Point:
        """A point."""

        x: int
        y: int = 2
        names: tuple[str, ...] = ("a",)

        @property
        def sum(self) -> int:
            return self.x + self.y

    Point.__qualname__ = "Point"
    made: Any = cls(frozen=True, slots=True)(Point)
    return made


@quick(frozen=True, slots=True)
class Sent:
    """At the top of a module, where another process finds it."""

    x: int
    y: str = "b"


@quick(frozen=True, slots=True)
class Nothing:
    """No field at all."""


Quick, Standard = body(quick), body(dataclasses.dataclass)
BOTH = pytest.mark.parametrize("made", [Quick, Standard], ids=["quick", "standard"])


@BOTH
def test_it_is_a_class_of_data(made: Any):
    assert [(field.name, field.default) for field in fields(made)][1:] == [("y", 2), ("names", ("a",))]
    assert made.__match_args__ == ("x", "y", "names") and made.__slots__ == ("x", "y", "names")
    assert made.__doc__ == "A point."
    assert dataclasses.is_dataclass(made)


@BOTH
def test_it_is_made_and_shown(made: Any):
    point = made(1, names=("b",))
    assert (point.x, point.y, point.names, point.sum) == (1, 2, ("b",), 3)
    assert repr(point) == "Point(x=1, y=2, names=('b',))"
    assert replace(point, x=5) == made(5, 2, ("b",))
    with pytest.raises(TypeError):
        made()
    with pytest.raises(TypeError):
        made(1, 2, ("a",), 4)
    match point:
        case made(x, y):
            assert (x, y) == (1, 2)


@BOTH
def test_it_is_equal_by_fields_and_only_to_its_own_kind(made: Any):
    other = body(quick)
    assert made(1) == made(1, 2) and hash(made(1)) == hash(made(1, 2)) and made(1) != made(2)
    assert made(1) != other(1) and made(1) != (1, 2, ("a",))
    assert {made(1): "here"}[made(1, 2)] == "here"


@BOTH
def test_it_cannot_be_changed(made: Any):
    point = made(1)
    with pytest.raises(FrozenInstanceError):
        point.x = 2
    with pytest.raises(FrozenInstanceError):
        del point.x
    with pytest.raises((FrozenInstanceError, TypeError)):  # the standard one's slots: a TypeError of its own
        point.other = 1
    assert point.x == 1 and not hasattr(point, "__dict__")


@BOTH
def test_it_is_copied(made: Any):
    point = made(1, names=("b", "c"))
    assert copy.deepcopy(point) == point == copy.copy(point)


def test_it_goes_to_other_processes():
    assert pickle.loads(pickle.dumps(Sent(1, "c"))) == Sent(1, "c")


def test_it_may_have_no_field():
    assert Nothing() == Nothing() and repr(Nothing()) == "Nothing()" and hash(Nothing()) == hash(())

"""`dataclass(frozen=True, slots=True)` in a third of the time, for modules that every program with yokebook imports.

The standard decorator compiles each method of a class by itself. Sixty classes of data took a third of what a program
waited for its first ruling. Here the standard one registers the fields and makes the slots, so that `fields`, `replace`
and patterns work as ever, and the methods of a class are compiled together or shared by all classes.
"""

from __future__ import annotations

from dataclasses import MISSING, FrozenInstanceError, fields
from dataclasses import dataclass as standard
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from dataclasses import dataclass as dataclass
else:

    def dataclass(*, frozen, slots):
        """The decorator, for classes without bases and without fields that are left out or made by a factory."""
        assert frozen and slots
        return _made


_METHODS = """
def __init__(self, {arguments}):
    {settings}
def __eq__(self, other):
    if other.__class__ is not self.__class__:
        return NotImplemented
    return ({own}) == ({others})
def __hash__(self):
    return hash(({own}))
def __reduce__(self):
    return self.__class__, ({own})
"""


def _made(plain: type) -> Any:
    cls: Any = standard(init=False, repr=False, eq=False, slots=True)(plain)
    names = [field.name for field in fields(cls)]
    defaults = {f"default_{field.name}": field.default for field in fields(cls) if field.default is not MISSING}
    source = _METHODS.format(
        arguments=", ".join(f"{name}=default_{name}" if f"default_{name}" in defaults else name for name in names),
        settings="; ".join(f"set_{name}(self, {name})" for name in names) or "pass",
        own="".join(f"self.{name}, " for name in names),
        others="".join(f"other.{name}, " for name in names),
    )
    methods: dict[str, Any] = {}
    exec(source, {**defaults, **{f"set_{name}": getattr(cls, name).__set__ for name in names}}, methods)
    for name, method in {**methods, "__setattr__": _refuse, "__delattr__": _refuse, "__repr__": _shown}.items():
        if name not in plain.__dict__:
            setattr(cls, name, method)
    return cls


def _refuse(self: Any, name: str, value: object = None) -> None:
    raise FrozenInstanceError(f"cannot change field {name!r}")


def _shown(self: Any) -> str:
    inside = ", ".join(f"{field.name}={getattr(self, field.name)!r}" for field in fields(self))
    return f"{self.__class__.__qualname__}({inside})"

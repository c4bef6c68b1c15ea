"""What a building's record consists of: the kinds of thing, what stands in what, and which lists each has.

This is the data model only. Which facts each kind carries is in rulebook/facts/; no rule is here.
"""

from __future__ import annotations

from typing import Literal, NamedTuple

Kind = Literal["project", "space", "wall", "yoke", "contact", "control", "circuit", "load"]

KINDS: tuple[Kind, ...] = ("project", "space", "wall", "yoke", "contact", "control", "circuit", "load")

#: The word a fact's name starts with. A yoke's facts are `receptacle.*`; every other kind uses its own name.
PREFIX: dict[Kind, str] = {k: ("receptacle" if k == "yoke" else k) for k in KINDS}
KIND_OF_PREFIX: dict[str, Kind] = {prefix: kind for kind, prefix in PREFIX.items()}

#: Kinds that stand inside exactly one other thing, and under which key of it a project file lists them.
PARENT: dict[Kind, tuple[Kind, str]] = {
    "space": ("project", "spaces"),
    "wall": ("space", "walls"),
    "yoke": ("space", "yokes"),
    "contact": ("yoke", "contacts"),
    "control": ("project", "controls"),
    "circuit": ("project", "circuits"),
    "load": ("project", "loads"),
}

#: References by id that a thing may give, at most one each: (key, the kind referred to).
REFERENCE: dict[Kind, dict[str, Kind]] = {
    "yoke": {"wall": "wall"},  # the wall of the same room that it is on
    "contact": {"circuit": "circuit", "load": "load"},
    "load": {"circuit": "circuit"},  # a load wired straight to a circuit
}

#: References by id that a thing may give several of: (key, the kind referred to).
REFERENCES: dict[Kind, dict[str, Kind]] = {
    "contact": {"controls": "control"},
    "control": {"wired_loads": "load"},  # loads wired straight to the control, not plugged in
}

#: What a thing has exactly one of, by the steps that lead there. `None` from a step means "not given".
ONE: dict[Kind, dict[Kind, tuple[Kind, ...]]] = {
    "project": {},
    "space": {"project": ("project",)},
    "wall": {"space": ("space",), "project": ("space", "project")},
    "yoke": {"space": ("space",), "project": ("space", "project"), "wall": ("wall",)},
    "contact": {
        "yoke": ("yoke",),
        "space": ("yoke", "space"),
        "project": ("yoke", "space", "project"),
        "wall": ("yoke", "wall"),
        "load": ("load",),
        "circuit": ("circuit",),
    },
    "control": {"project": ("project",)},
    "circuit": {"project": ("project",)},
    "load": {"project": ("project",)},
}

#: Kinds of things that a reference leads to, which nobody need give: then something unknown stands for the thing.
REFERRED_TO: frozenset[Kind] = frozenset(kind for references in REFERENCE.values() for kind in references.values())


class ListOf(NamedTuple):
    """A list that a thing has. `flagged` lists carry their own `complete: yes | no`; the rest follow from others."""

    kind: Kind
    flagged: bool


#: The lists a calculation may run over, by owner. Written `owner-prefix.name`, such as `contact.controls`.
LISTS: dict[Kind, dict[str, ListOf]] = {
    "project": {
        "spaces": ListOf("space", True),
        "controls": ListOf("control", True),
        "circuits": ListOf("circuit", True),
        "loads": ListOf("load", True),
        "yokes": ListOf("yoke", False),
        "contacts": ListOf("contact", False),
    },
    "space": {
        "walls": ListOf("wall", True),
        "yokes": ListOf("yoke", True),
        "contacts": ListOf("contact", False),
        "controls": ListOf("control", False),
    },
    "wall": {"yokes": ListOf("yoke", False), "contacts": ListOf("contact", False)},
    "yoke": {
        "contacts": ListOf("contact", True),
        "circuits": ListOf("circuit", False),
        "controls": ListOf("control", False),
    },
    "contact": {"controls": ListOf("control", True)},
    "control": {
        "contacts": ListOf("contact", True),
        "wired_loads": ListOf("load", True),
        "yokes": ListOf("yoke", False),
        "spaces": ListOf("space", False),
        "circuits": ListOf("circuit", False),
        "plugged_loads": ListOf("load", False),
    },
    "circuit": {
        "contacts": ListOf("contact", True),
        "wired_loads": ListOf("load", True),
        "yokes": ListOf("yoke", False),
        "plugged_loads": ListOf("load", False),
    },
    "load": {"contacts": ListOf("contact", True)},
}

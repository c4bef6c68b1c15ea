"""Lists of a graph against lists worked out the slow way, straight from what stands in what."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from yokebook.entities import KINDS, LISTS, ONE
from yokebook.front_door import project_to_graph
from yokebook.graph import MISSING, Graph, Thing

from front_door.small_book import BOOK  # isort: skip

_CONTROLS, _CIRCUITS, _LOADS = ("S1", "S2"), ("C1", "C2"), ("L1", "L2")


@st.composite
def contacts(draw: st.DrawFn, number: int) -> dict[str, object]:
    made: dict[str, object] = {"id": f"c{number}"}
    if draw(st.booleans()):
        made["controls"] = draw(st.lists(st.sampled_from(_CONTROLS), unique=True))
        made["complete"] = draw(st.booleans())
    for key, ids in (("circuit", _CIRCUITS), ("load", _LOADS)):
        reference = draw(st.sampled_from([None, "none", *ids]))
        if reference is not None:
            made[key] = reference
    return made


@st.composite
def projects(draw: st.DrawFn) -> dict[str, object]:
    def flags(kind: str) -> dict[str, bool]:
        lists = [name for name, of in LISTS[kind].items() if of.flagged]  # type: ignore[index]
        return {name: draw(st.booleans()) for name in lists}

    spaces = []
    for s in range(draw(st.integers(0, 2))):
        yokes = []
        for y in range(draw(st.integers(0, 2))):
            inside = [draw(contacts(number)) for number in range(draw(st.integers(1, 2)))]
            yoke: dict[str, object] = {"id": f"y{y}", "contacts": inside, "complete": flags("yoke")}
            wall = draw(st.sampled_from([None, "none", "W1", "W2"]))
            if wall is not None:
                yoke["wall"] = wall
            yokes.append(yoke)
        walls = [{"id": one} for one in ("W1", "W2")]
        spaces.append({"id": f"s{s}", "walls": walls, "yokes": yokes, "complete": flags("space")})
    loads: list[dict[str, object]] = [{"id": one, "complete": flags("load")} for one in _LOADS]
    for load in loads:
        if draw(st.booleans()):
            load["circuit"] = draw(st.sampled_from([*_CIRCUITS, "none"]))
    return {
        "project": {"complete": flags("project")},
        "spaces": spaces,
        "controls": [{"id": one, "complete": flags("control")} for one in _CONTROLS],
        "circuits": [{"id": one, "complete": flags("circuit")} for one in _CIRCUITS],
        "loads": loads,
    }


def _members(graph: Graph, owner: Thing, name: str) -> list[Thing]:
    """The items of a list of `owner`, found by asking every contact device of the project what it belongs to."""
    everyone = graph.things["contact"]
    mine = {
        "project": lambda c: True,
        "space": lambda c: c.refs["yoke"].refs["space"] is owner,
        "wall": lambda c: c.refs["yoke"].refs.get("wall") is owner,
        "yoke": lambda c: c.refs["yoke"] is owner,
        "contact": lambda c: c is owner,
        "control": lambda c: owner in c.many["controls"],
        "circuit": lambda c: c.refs.get("circuit") is owner,
        "load": lambda c: c.refs.get("load") is owner,
    }[owner.kind]
    here = [contact for contact in everyone if mine(contact)]
    found: dict[str, list[Thing | None]] = {
        "contacts": list(here),
        "controls": [control for contact in here for control in contact.many["controls"]],
        "circuits": [contact.refs.get("circuit") for contact in here],
        "plugged_loads": [contact.refs.get("load") for contact in here],
        "yokes": [contact.refs["yoke"] for contact in here],
        "spaces": [contact.refs["yoke"].refs["space"] for contact in here],  # type: ignore[union-attr]
    }
    if owner.kind in ("project", "space") and name in ("walls", "yokes", "spaces", "controls", "circuits", "loads"):
        return (
            _inside(graph, owner, name)
            if not (owner.kind == "space" and name == "controls")
            else _distinct(found[name])
        )
    if name == "wired_loads":
        of_circuit = [load for load in graph.things["load"] if load.refs.get("circuit") is owner]
        return of_circuit if owner.kind == "circuit" else []
    return _distinct(found[name])


def _inside(graph: Graph, owner: Thing, name: str) -> list[Thing]:
    kind = LISTS[owner.kind][name].kind
    return [thing for thing in graph.things[kind] if owner.kind == "project" or thing.refs.get("space") is owner]


def _distinct(things: list[Thing | None]) -> list[Thing]:
    return list({id(thing): thing for thing in things if thing is not None}.values())


@given(projects())
@settings(max_examples=60, deadline=None)
def test_every_list_holds_what_the_contact_devices_say(project: dict[str, object]) -> None:
    graph = project_to_graph(project, BOOK)
    for thing in graph:
        for name in LISTS[thing.kind]:
            items, _ = thing.list_of(name)
            assert {item.id for item in items} == {item.id for item in _members(graph, thing, name)}, (thing.id, name)
            assert len({id(item) for item in items}) == len(items)


def _must_be_given(thing: Thing, name: str) -> bool:
    """Whether each list and reference that a list goes through is complete or given, spelled out list by list."""
    inside = {
        "project": lambda: thing.complete["spaces"] and all(s.complete["yokes"] for s in thing.many["spaces"]),
        "space": lambda: thing.complete["yokes"],
        "yoke": lambda: True,
    }.get(thing.kind, lambda: True)()
    contacts_of = thing.list_of("contacts")[0] if "contacts" in LISTS[thing.kind] else [thing]
    yokes_of = thing.list_of("yokes")[0] if thing.kind in ("project", "space", "wall") else [thing]
    every_contact = thing.complete.get("contacts", inside)
    every_contact = every_contact and all(yoke.complete["contacts"] for yoke in yokes_of if yoke.kind == "yoke")
    reaches = {
        "contacts": True,
        "controls": all(contact.complete["controls"] for contact in contacts_of if contact.kind == "contact"),
        "circuits": all("circuit" in contact.refs for contact in contacts_of),
        "plugged_loads": all("load" in contact.refs for contact in contacts_of),
        "yokes": True,
        "spaces": True,
    }
    if name == "yokes" and thing.kind == "project":
        return inside
    if thing.kind == "wall":
        room = thing.refs["space"]
        assert room is not None
        on_walls = room.complete["yokes"] and all("wall" in yoke.refs for yoke in room.many["yokes"])
        return bool(on_walls and (name == "yokes" or every_contact))
    return bool(every_contact and reaches[name])


@given(projects())
@settings(max_examples=60, deadline=None)
def test_a_derived_list_is_complete_only_if_all_it_goes_through_is(project: dict[str, object]) -> None:
    graph = project_to_graph(project, BOOK)
    for thing in graph:
        for name, of in LISTS[thing.kind].items():
            _, complete = thing.list_of(name)
            assert complete == (thing.complete[name] if of.flagged else _must_be_given(thing, name)), (thing.id, name)


@given(projects())
@settings(max_examples=30, deadline=None)
def test_what_a_thing_has_one_of(project: dict[str, object]) -> None:
    graph = project_to_graph(project, BOOK)
    for thing in graph:
        for kind in KINDS:
            if kind == thing.kind:
                assert thing.one(kind) is thing
            elif kind not in ONE[thing.kind]:
                assert kind not in dict(ONE[thing.kind])
            else:
                found = thing.one(kind)
                assert found is MISSING or found is None or (isinstance(found, Thing) and found.kind == kind)
    for contact in graph.things["contact"]:
        for kind in ("circuit", "load"):
            assert (contact.one(kind) is MISSING) == (kind not in contact.refs)


def test_one_thing_of_each_kind_is_in_no_list_twice() -> None:
    data = {
        "complete": True,
        "spaces": [{"id": "s", "yokes": [{"id": "y", "contacts": [{"id": one, "controls": ["S1"]} for one in "ab"]}]}],
        "controls": [{"id": "S1"}],
    }
    graph = project_to_graph(data, BOOK)
    control = graph.find("S1")
    assert [thing.id for thing in control.list_of("contacts")[0]] == ["s/y/a", "s/y/b"]
    assert [thing.id for thing in control.list_of("yokes")[0]] == ["s/y"]
    assert [thing.id for thing in graph.find("s").list_of("controls")[0]] == ["S1"]
    # The circuits of its contact devices are not given, so nobody can say that none is missing.
    assert control.list_of("circuits") == ([], False)

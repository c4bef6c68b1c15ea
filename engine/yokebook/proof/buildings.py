"""Small buildings of which nothing is given but what stands where, every list complete."""

from __future__ import annotations

from dataclasses import dataclass

from yokebook.graph import Graph, Thing


@dataclass(frozen=True)
class Shape:
    """How many yokes a room has, contacts a yoke, controls a contact (the same for all); whether a load is plugged in
    at each contact and one wired to each control, whether each contact has a circuit of its own, or none, and whether
    the room has a wall that all yokes are on."""

    yokes: int
    contacts: int
    controls: int
    loads: bool
    wired: bool = False
    circuits: bool = False
    circuitless: bool = False
    wall: bool = False


SHAPES: tuple[Shape, ...] = (
    Shape(1, 1, 1, True),
    Shape(1, 2, 1, True),
    Shape(1, 1, 1, False),
    Shape(1, 1, 0, False),
    Shape(1, 1, 2, True),
    Shape(2, 2, 1, True),
    Shape(1, 1, 1, True, wired=True),
    Shape(1, 2, 1, True, circuits=True),
    Shape(1, 1, 1, True, circuitless=True),
    Shape(1, 1, 1, False, circuitless=True),
    Shape(0, 0, 1, False),
    Shape(0, 0, 0, False),
    Shape(1, 1, 1, True, wall=True),
    Shape(1, 2, 1, True, wall=True),
    Shape(2, 2, 1, True, wall=True),
    Shape(0, 0, 0, False, wall=True),
)


def building(shape: Shape) -> Graph:
    """One room with yokes on one circuit, as a graph."""
    graph = Graph()
    project = Thing("project", "project")
    space = Thing("space", "room", "the room", refs={"project": project})
    wall = Thing("wall", "room/W1", "the wall", refs={"space": space, "project": project}) if shape.wall else None
    numbers = range(shape.yokes * shape.contacts if shape.circuits else 1)
    circuits = [Thing("circuit", f"circuit{n + 1}", refs={"project": project}) for n in numbers]
    controls = [Thing("control", f"control{n + 1}", refs={"project": project}) for n in range(shape.controls)]
    yokes, contacts, loads = list[Thing](), list[Thing](), list[Thing]()
    for n in range(shape.yokes):
        yoke = Thing("yoke", f"room/R{n + 1}", refs={"space": space, "project": project, "wall": wall})
        yoke.many["contacts"] = [_contact(yoke, m, project, controls) for m in range(shape.contacts)]
        yokes.append(yoke)
        contacts += yoke.many["contacts"]
    for number, contact in enumerate(contacts):
        contact.refs["circuit"] = None if shape.circuitless else circuits[number if shape.circuits else 0]
        load = Thing("load", f"load-{contact.id.replace('/', '-')}", refs={"project": project}) if shape.loads else None
        contact.refs["load"] = load
        if load is not None:
            load.many["contacts"] = [contact]
            loads.append(load)
    wired = [Thing("load", f"wired-{c.id}", refs={"project": project}) for c in controls] if shape.wired else []
    for control in controls:
        control.many["contacts"] = list(contacts)
        control.many["wired_loads"] = [load for load in wired if load.id == f"wired-{control.id}"]
    for load in wired:
        load.many["contacts"] = []
    for circuit in circuits:
        circuit.many = {"contacts": [c for c in contacts if c.refs["circuit"] is circuit], "wired_loads": []}
    walls = [] if wall is None else [wall]
    space.many = {"walls": walls, "yokes": yokes}
    project.many = {"spaces": [space], "controls": controls, "circuits": circuits, "loads": [*loads, *wired]}
    every = (project, space, *walls, *yokes, *contacts, *controls, *circuits, *loads, *wired)
    for thing in every:
        graph.things[thing.kind].append(thing)
    for thing in graph:
        thing.label = thing.label or thing.id
        thing.complete = dict.fromkeys(thing.many, True)
    return graph


def _contact(yoke: Thing, number: int, project: Thing, controls: list[Thing]) -> Thing:
    refs: dict[str, Thing | None] = {"yoke": yoke, "project": project}
    contact = Thing("contact", f"{yoke.id}/{'ab'[number]}", refs=refs)
    contact.many["controls"] = list(controls)
    return contact

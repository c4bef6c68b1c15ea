"""Decisions on whole projects, held against the rulings on them."""

from __future__ import annotations

import random
from functools import cache
from pathlib import Path
from typing import Any

import pytest
import yaml

import yokebook
from bench.buildings import building
from flat.held_against import as_decision, said
from yokebook import front_door
from yokebook.code import Code
from yokebook.flat import kept, views
from yokebook.graph import Graph
from yokebook.load.faults import InputFaults
from yokebook_adapters.command_line.session import demo_file

EVENT = "permit application"
HOUSE = Path(demo_file()).with_name("tamarisk-learning-house.yaml")


@cache
def book() -> yokebook.Rulebook:
    """The shipped rulebook."""
    return yokebook.load()


def own_law(graph: Graph) -> Code:
    """The law of the project's own place and dates."""
    assert graph.place is not None
    return book().in_force(graph.place, graph.dates, choices=graph.choices)


def read(path: Path) -> Graph:
    """The graph of a project file."""
    return front_door.read_project(path, book().book)


def differing(code: Code, graph: Graph, topics: tuple[str, ...] = ()) -> list[object]:
    """What is decided otherwise than ruled, the first time or once more, with both."""
    ruled = code.rule_project(graph, topics=topics).rulings
    found: list[object] = []
    for _ in range(2):
        decided = code.decide_project(graph, topics=topics)
        assert [(each.question, each.subject) for each in decided] == [(r.question, r.subject["id"]) for r in ruled]
        for each, ruling in zip(decided, ruled, strict=True):
            document = ruling.document or {"kind": each.document}
            due = said(as_decision(ruling, code))
            if said(each.decision) != due or each.document != document["kind"]:
                found.append((each, due))
    return found


def test_the_demo_building_is_decided_as_it_is_ruled():
    graph = read(Path(demo_file()))
    assert differing(own_law(graph), graph) == []
    assert differing(book().edition("nfpa-70", "2026"), graph) == []  # of which much is not checked


@pytest.mark.slow
@pytest.mark.parametrize("edition", ["own", "2014", "2026"])
def test_the_demo_house_is_decided_as_it_is_ruled_in_every_topic(edition: str):
    graph = read(HOUSE)
    code = own_law(graph) if edition == "own" else book().edition("nfpa-70", edition)
    assert differing(code, graph, ("all",)) == []


@pytest.mark.slow
def test_a_building_with_gaps_is_decided_as_it_is_ruled():
    graph = front_door.project_to_graph(building(80, seed=3), book().book)
    assert differing(own_law(graph), graph) == []


def test_a_building_where_several_entries_may_govern_is_decided_as_it_is_ruled():
    graph = read(Path(demo_file()))
    code = book().in_force("demo/tamarisk/brindle-falls")  # no date is given
    assert any(len(line.candidates) > 1 for line in code.in_force.values())
    questions = ["control.acts", "marking.required"]
    ruled = code.rule_project(graph, questions).rulings
    decided = code.decide_project(graph, questions)
    assert [said(each.decision) for each in decided] == [said(as_decision(ruling, code)) for ruling in ruled]


def project(seed: int, *, shuffled: bool) -> dict[str, Any]:
    """The first rooms of the house, with other names and in another order if so wanted."""
    data = yaml.safe_load(HOUSE.read_text(encoding="utf-8"))
    data["project"]["dates"] = {event: str(day) for event, day in data["project"]["dates"].items()}
    if not shuffled:
        return data
    rng = random.Random(seed)
    for name in ("controls", "circuits", "loads", "spaces"):
        rng.shuffle(data[name])
    new = {control["id"]: f"named-{i}" for i, control in enumerate(data["controls"])}
    for control in data["controls"]:
        control["id"] = new[control["id"]]
    for space in data["spaces"]:
        for yoke in space["yokes"]:
            for contact in yoke["contacts"]:
                contact["controls"] = [new[control] for control in contact.get("controls", ())]
    return data


def test_names_and_order_of_things_do_not_matter_to_what_is_kept():
    graph = front_door.project_to_graph(project(0, shuffled=False), book().book)
    other = front_door.project_to_graph(project(1, shuffled=True), book().book)
    questions = ["marking.required", "marking.satisfied", "control.acts", "control.permitted"]
    code = own_law(graph)
    code.decide_project(graph, questions)  # what is kept of it serves for the other
    ruled = code.rule_project(other, questions).rulings
    decided = code.decide_project(other, questions)
    assert [said(each.decision) for each in decided] == [said(as_decision(ruling, code)) for ruling in ruled]


def test_little_may_be_kept_and_views_may_be_too_big(monkeypatch: pytest.MonkeyPatch):
    graph = read(Path(demo_file()))
    code = own_law(graph)
    questions = ["marking.required", "share.controlled", "control.load", "circuit.load"]
    due = [said(each.decision) for each in code.decide_project(graph, questions)]
    monkeypatch.setattr(kept, "_MOST_KEPT", 2)
    monkeypatch.setattr(views, "MOST", 5)
    fresh = own_law(graph)
    for _ in range(2):
        assert [said(each.decision) for each in fresh.decide_project(graph, questions)] == due


def test_a_bad_project_is_refused():
    data = project(0, shuffled=False)
    data["spaces"][0]["use"] = "Living Room"
    with pytest.raises(InputFaults, match="none of the answers"):
        own_law(read(HOUSE)).decide_project(data)

"""Project files: nesting, references by id, lists and their completeness, and the whole text of every fault."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path

import pytest

from front_door.small_book import BOOK
from yokebook.front_door import Disagreement, project_to_graph, read_project, stated_faults
from yokebook.graph import Graph
from yokebook.load.faults import InputFaults

PROJECT = """\
project:
  name: Copper Kettle Block
  place: demo/town
  dates: {permit application: 2024-10-01}
  choices: {window-2024: new}
  work_kind: new
  stated_by: the plan
complete: yes
spaces:
  - id: office
    use: office
    area_sq_ft: 150 sq ft
    yokes:
      - id: R1
        location: left of the door
        configuration: 5-15R
        complete: {contacts: no}
        stated_by: seen on site
        contacts:
          - {id: upper, position: upper, supply: controlled, controls: [S1], circuit: LP-1/3, load: lamp}
          - {id: lower, position: lower, supply: always on, load: none, circuit: LP-1/3}
controls:
  - {id: S1, turns_off_by: presence, off_delay_min: 20 min, listed_for.receptacle_loads: yes, complete: no}
circuits:
  - {id: LP-1/3, breaker_amps: 20}
loads:
  - {id: lamp, kind: lamp}
  - {id: heater, circuit: LP-1/3}
"""


def faults_of(text: str, name: str = "p.yaml") -> list[str]:
    """The faults of a project file as text, one each; [] for one that is taken."""
    try:
        read_project(text, BOOK, name)
    except InputFaults as refused:
        return str(refused).split("\n")
    return []


def lists(graph: Graph, path: str, name: str) -> tuple[list[str], bool]:
    items, complete = graph.find(path).list_of(name)
    return [item.id for item in items], complete


@pytest.fixture
def graph() -> Graph:
    return read_project(PROJECT, BOOK)


def test_a_project_is_read_with_its_paths_and_labels(graph: Graph) -> None:
    assert {thing.id: thing.label for thing in graph} == {
        "project": "Copper Kettle Block",
        "office": "office",
        "office/R1": "R1, left of the door, office",
        "office/R1/upper": "R1 upper, left of the door, office",
        "office/R1/lower": "R1 lower, left of the door, office",
        "S1": "S1",
        "LP-1/3": "LP-1/3",
        "lamp": "lamp",
        "heater": "heater",
    }
    assert (graph.place, graph.dates, graph.choices) == (
        "demo/town",
        {"permit application": "2024-10-01"},
        {"window-2024": "new"},
    )


def test_facts_are_typed_and_keep_their_place(graph: Graph) -> None:
    control = graph.find("S1")
    assert control.given == {
        "control.turns_off_by": "presence",
        "control.off_delay_min": Fraction(20),
        "control.listed_for.receptacle_loads": True,
    }
    assert str(control.at["control.off_delay_min"]) == "project.yaml:23:53"


def test_what_refers_to_a_thing_is_listed_on_it(graph: Graph) -> None:
    assert lists(graph, "S1", "contacts") == (["office/R1/upper"], False)  # it says `complete: no` of itself
    assert lists(graph, "LP-1/3", "contacts") == (["office/R1/upper", "office/R1/lower"], True)
    assert lists(graph, "LP-1/3", "wired_loads") == (["heater"], True)
    assert lists(graph, "lamp", "contacts") == (["office/R1/upper"], True)
    assert lists(graph, "office/R1/lower", "controls") == ([], True)  # none listed in a complete file: none


def test_a_thing_says_of_its_own_lists_what_the_file_says_otherwise(graph: Graph) -> None:
    assert lists(graph, "office", "yokes") == (["office/R1"], True)
    assert lists(graph, "office/R1", "contacts") == (["office/R1/upper", "office/R1/lower"], False)
    assert lists(graph, "office", "contacts") == (["office/R1/upper", "office/R1/lower"], False)
    assert lists(graph, "project", "contacts") == (["office/R1/upper", "office/R1/lower"], False)


def test_nothing_is_complete_unless_it_is_said() -> None:
    graph = read_project(PROJECT.replace("complete: yes\n", ""), BOOK)
    assert lists(graph, "office", "yokes") == (["office/R1"], False)
    assert lists(graph, "LP-1/3", "contacts") == (["office/R1/upper", "office/R1/lower"], False)


def test_a_contact_device_has_the_circuit_and_load_that_it_names(graph: Graph) -> None:
    upper, lower = graph.find("office/R1/upper"), graph.find("office/R1/lower")
    assert upper.one("load") is graph.find("lamp")
    assert lower.one("load") is None
    assert upper.one("circuit") is graph.find("LP-1/3")
    assert upper.one("space") is graph.find("office")


def test_who_stated_a_fact_is_the_nearest_one_named(graph: Graph) -> None:
    assert graph.find("office/R1/upper").stated_by["contact.supply"] == "seen on site"
    assert graph.find("office").stated_by["space.use"] == "the plan"
    assert graph.find("lamp").stated_by["load.kind"] == "the plan"


def test_plain_data_and_json_make_the_same_graph(graph: Graph) -> None:
    data = {
        "spaces": [{"id": "a", "use": "office", "yokes": [{"id": "R", "contacts": [{"id": "u", "controls": ["S"]}]}]}],
        "controls": [{"id": "S", "off_delay_min": "20 min", "listed_for.receptacle_loads": True}],
        "complete": True,
    }
    of_data = project_to_graph(data, BOOK)
    of_json = read_project(json.dumps(data), BOOK, "p.json")
    for made in (of_data, of_json):
        assert [thing.id for thing in made] == ["project", "a", "a/R", "a/R/u", "S"]
        assert lists(made, "S", "contacts") == (["a/R/u"], True)
        assert made.find("S").given["control.off_delay_min"] == 20


FAULTS = """\
project: {name: 12, place: demo/twon, owner: x}
complete: 1
rooms: []
spaces:
  - id: office
    use: attic
    area_sq_ft: 150
    use: office
    yokes:
      - id: R/1
        receptacle.configuration: 5-15R
        complete: yes
      - id: R2
        contacts:
          - {id: upper, supply: controlled, controls: [S2, S1, S1], circuit: LP-1, load: lamp}
          - {id: upper, controls: S1}
          - {position: lower}
          - upper
  - {id: office}
controls:
  - {id: S1, off_delay_min: 20 ft, floors: yes}
  - {id: none}
  - {id: T1, complete: {contact: yes}}
"""

EXPECTED = """\
p.yaml:1:17: `project.name`: `12` reads as a number where text is due; put it in quotes
p.yaml:1:28: `project.place`: `demo/twon` is no place (did you mean `demo/town`?); allowed: `demo/town`
p.yaml:1:39: `owner` is nothing that a project has; allowed: `choices`, `complete`, `dates`, `name`, `place`, \
`stated_by`, `work_kind`
p.yaml:2:11: `complete`: `1` is neither yes nor no; allowed: yes, no, true, false
p.yaml:3:1: `rooms` is nothing that a project file has; allowed: `project`, `complete`, `spaces`, `controls`, \
`circuits`, `loads`
p.yaml:6:10: `space.use`: `attic` is none of the answers; allowed: `office`, `kitchen`
p.yaml:7:17: `space.area_sq_ft`: `150` has no unit; allowed: an area in `sq ft` or `sq m`, above 0
p.yaml:8:5: `use` stands twice here, first in line 6
p.yaml:10:9: `receptacle.contacts`: the list is said to be complete and is empty; a receptacle has at least one \
contact device
p.yaml:10:13: `receptacle.id`: `R/1` has a slash, which divides a path's parts; leave it out
p.yaml:11:9: `receptacle.configuration` is nothing that a receptacle has (did you mean `configuration`?)
p.yaml:15:56: `contact.controls`: no control has the id `S2`; allowed: `S1`, `none`, `T1`
p.yaml:15:64: `contact.controls`: `S1` stands twice in this list
p.yaml:15:78: `contact.circuit`: no circuit has the id `LP-1`; allowed: none, because the project lists no circuit
p.yaml:15:90: `contact.load`: no load has the id `lamp`; allowed: none, because the project lists no load
p.yaml:16:18: `contact.id`: `upper` stands twice in `office/R2`; ids of one kind must differ there
p.yaml:16:35: `contact.controls`: found `S1`; allowed: a list
p.yaml:17:13: `contact.id`: the id is missing; allowed: text that no other one beside it has
p.yaml:18:13: `contact`: found `upper`; allowed: a mapping
p.yaml:19:10: `space.id`: `office` stands twice in this project; ids of one kind must differ there
p.yaml:21:29: `control.off_delay_min`: `20 ft` is a length; allowed: a time in `min`, `s` or `h`, at least 0
p.yaml:21:44: `control.floors`: `yes` is a yes or no where a number is due; allowed: a whole number, \
at least 1, at most 9
p.yaml:22:10: `control.id`: `none` is no id, because it says that there is nothing
p.yaml:23:25: `control.complete`: `contact` is no list here (did you mean `contacts`?); allowed: `contacts`, \
`wired_loads`
"""


def test_every_fault_of_a_project_file_is_told_at_once_with_its_place() -> None:
    assert faults_of(FAULTS) == EXPECTED.splitlines()


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ("", "p.yaml:1:1: the file is empty"),
        ("- a\n- b\n", "p.yaml:1:1: a project is a mapping of keys and values; found a list"),
        ("project: [a]\n", "p.yaml:1:10: `project`: found a list; allowed: a mapping"),
        ("spaces: {a: b}\n", "p.yaml:1:9: `project.spaces`: found a mapping; allowed: a list"),
        (
            "spaces: &a []\ncontrols: *a\n",
            "p.yaml:1:9: `&a` is an anchor; anchors and aliases are not allowed, leave it out",
        ),
    ],
)
def test_files_that_are_no_project(text: str, fault: str) -> None:
    assert faults_of(text)[0] == fault


def test_json_may_not_hold_nan_or_a_repeated_key() -> None:
    assert faults_of('{"loads": [{"id": "a", "power_factor": NaN}]}', "p.json") == [
        "p.json:1:40: this is not JSON: `NaN` is no value; allowed: text in double quotes, a number, true, false or "
        "null"
    ]
    assert faults_of('{"loads": [{"id": "a", "id": "b"}]}', "p.json") == [
        "p.json:1:24: `id` stands twice here, first in line 1"
    ]


def test_a_byte_order_mark_is_taken_and_other_bytes_are_not(tmp_path: Path) -> None:
    path = tmp_path / "project.yaml"
    path.write_bytes(b"\xef\xbb\xbf" + PROJECT.encode())
    assert read_project(path, BOOK).find("S1").kind == "control"
    path.write_bytes(b"project: {name: caf\xe9}\n")
    with pytest.raises(InputFaults, match=r"project\.yaml:1:20: byte 0xe9 is not UTF-8; save it as UTF-8"):
        read_project(path, BOOK)


def test_a_file_that_is_not_there_is_one_fault(tmp_path: Path) -> None:
    with pytest.raises(InputFaults, match="cannot be read: No such file or directory"):
        read_project(tmp_path / "none.yaml", BOOK)


def test_amperes_and_volts_may_stand_bare_and_lengths_may_not() -> None:
    text = (
        "circuits: [{id: a, breaker_amps: 20}]\nspaces: [{id: s, yokes: [{id: R, contacts: [{id: u, nearest_in: 5}]}]}]"
    )
    assert faults_of(text) == [
        "p.yaml:2:65: `contact.nearest_in`: `5` has no unit; allowed: a length in `in`, `ft`, `mm` or `m`, at least 0"
    ]


def test_a_path_that_two_kinds_share_must_say_which() -> None:
    graph = read_project("spaces: [{id: S1}]\ncontrols: [{id: S1}]\n", BOOK)
    assert graph.find("control:S1").kind == "control"
    with pytest.raises(KeyError, match="the path `S1` could be `space:S1`, `control:S1`; write one of these"):
        graph.find("S1")
    with pytest.raises(KeyError, match="nothing in the record has the path `S2`"):
        graph.find("S2")


def test_a_stated_value_that_differs_is_told_with_both() -> None:
    graph = read_project("spaces: [{id: s, yokes: [{id: R, configuration: 5-15R, volts: 250 V}]}]", BOOK)
    because = "`receptacle.configuration` is `5-15R`"
    found = stated_faults([Disagreement(graph.find("s/R"), "receptacle.volts", "250 V", "125 V", because)])
    assert [str(fault) for fault in found] == [
        "project.yaml:1:63: `receptacle.volts` is given as 250 V and comes out as 125 V, because "
        "`receptacle.configuration` is `5-15R`; correct one of them or leave the given value out"
    ]

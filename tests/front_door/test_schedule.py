"""Device schedules in CSV: what a mapping makes of them, and the whole text of what is wrong with either."""

from __future__ import annotations

import json
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from referencing import Registry, Resource

import yokebook_adapters
from front_door.small_book import BOOK
from shipped_book import book
from yokebook.graph import Graph
from yokebook.load.faults import InputFaults
from yokebook.load.files import read_bytes
from yokebook.load.nodes import plain_data
from yokebook.shipped import folder
from yokebook_adapters.schedule_columns import ScheduleMapping
from yokebook_adapters.schedule_mapping import read_mapping
from yokebook_adapters.schedule_reading import iter_schedule, read_schedule, read_schedule_as_project

DEMO = Path(yokebook_adapters.__file__).parent / "demo"

RECORDS = """\
rows: record
call_rows_by: [Mark]
columns:
  Mark: receptacle.name
  Config: receptacle.configuration
  Switched: {fact: contact.supply, words: {Y: controlled, N: always on}}
  Sensor: {fact: control.turns_off_by, words: {occ: presence, hand: person}}
  Delay: {fact: control.off_delay_min, unit: s}
  Breaker: circuit.breaker_amps
constants: {space.use: office, project.place: demo/town}
complete: [contact.controls]
leave_out: [Notes]
"""
HEADER = "Mark,Config,Switched,Sensor,Delay,Breaker,Notes\n"


def mapping_of(text: str = RECORDS) -> ScheduleMapping:
    return read_mapping(text.encode(), BOOK)


def rows_of(body: str, mapping: str = RECORDS, header: str = HEADER) -> tuple[list[str], list[str]]:
    """The names of the good rows, and the faults as text."""
    lines = (header + body).splitlines(keepends=True)
    good, faults = read_schedule(lines, mapping_of(mapping), BOOK, "s.csv")
    return [name for name, _ in good], [str(fault) for fault in faults]


def mapping_faults(text: str) -> list[str]:
    try:
        mapping_of(text)
    except InputFaults as refused:
        return str(refused).split("\n")
    return []


# ---- one row, one record -------------------------------------------------------------------------------------------


def test_a_row_is_a_record_with_the_constants_of_the_mapping() -> None:
    lines = [HEADER, "R1,5-15R,Y,occ,90,20 A,by the door\n"]
    ((name, graph),), faults = read_schedule(lines, mapping_of(), BOOK)
    assert (name, faults, graph.place) == ("R1", [], "demo/town")
    assert {key: value for thing in graph for key, value in thing.given.items()} == {
        "space.use": "office",
        "receptacle.configuration": "5-15R",
        "contact.supply": "controlled",
        "control.turns_off_by": "presence",
        "control.off_delay_min": Fraction(3, 2),  # 90 s
        "circuit.breaker_amps": 20,
    }
    assert graph.find("R1/contact").list_of("controls") == ([graph.find("R1/control")], True)
    assert graph.find("R1/contact").label == "R1, office"


@pytest.mark.parametrize("blank", ["", "N/A", "n/a", "-", "TBD", "tbd", "  "])
def test_what_counts_as_not_given(blank: str) -> None:
    lines = [HEADER, f"R1,{blank},Y,{blank},{blank},{blank},{blank}\n"]
    ((_, graph),), faults = read_schedule(lines, mapping_of(), BOOK)
    assert faults == []
    assert graph.find("R1/receptacle").given == {}
    # The row says nothing of a control, so nobody may take it that there is none.
    assert not graph.find("R1/control").named
    assert graph.find("R1/contact").list_of("controls")[1] is False


def test_a_mapping_may_say_otherwise_what_counts_as_not_given() -> None:
    assert rows_of("R1,?,Y,occ,90,20,\n", RECORDS + 'not_given: ["?"]\n') == (["R1"], [])
    assert rows_of("R1,TBD,Y,occ,90,20,\n", RECORDS + 'not_given: ["?"]\n') == (
        [],
        [
            "s.csv: row 2, column `Config`: `receptacle.configuration`: `TBD` is none of the answers; allowed: "
            "`5-15R`, `6-20R`"
        ],
    )


def test_good_rows_are_kept_and_every_fault_of_the_others_is_told() -> None:
    body = (
        "R1,5-15R,Y,occ,90,20,\n"
        "R2,5-15,maybe,occ,90 ft,TRUE,\n"
        "R3,5-15R,Y\n"
        ",,,,,,\n"
        "\n"
        "R4,5-15R,Y,occ,90,20,,spare\n"
        "R5,6-20R,N,hand,,20,,\n"
        "R5,6-20R,N,hand,,20,\n"
    )
    assert rows_of(body) == (
        ["R1", "R5"],
        [
            "s.csv: row 3, column `Breaker`: `circuit.breaker_amps`: `TRUE` is a yes or no where a number is due; "
            "allowed: a current in `A`, above 0",
            "s.csv: row 3, column `Config`: `receptacle.configuration`: `5-15` is none of the answers (did you mean "
            "`5-15R`?); allowed: `5-15R`, `6-20R`",
            "s.csv: row 3, column `Delay`: `control.off_delay_min`: `90 ft` is a length; allowed: a time in `min`, `s` "
            "or `h`, at least 0",
            "s.csv: row 3, column `Switched`: `contact.supply`: `maybe` is none of the answers; allowed: `always on`, "
            "`controlled`",
            "s.csv: row 4: the row is short: it has 3 of 7 cells, and none from column `Sensor` on",
            "s.csv: row 7: the row is long: `spare` stands under no column",
            "s.csv: row 9: the row is called `R5`, as row 8 is; names must differ",
        ],
    )


def test_a_bare_length_or_time_needs_a_unit_in_the_mapping() -> None:
    mapping = RECORDS.replace("{fact: control.off_delay_min, unit: s}", "control.off_delay_min")
    assert rows_of("R1,5-15R,Y,occ,20,20,\nR2,5-15R,Y,occ,20 min,20,\n", mapping) == (
        ["R2"],
        [
            "s.csv: row 2, column `Delay`: `control.off_delay_min`: `20` has no unit; allowed: a time in `min`, `s` or "
            "`h`, at least 0"
        ],
    )


def test_a_rating_of_120_v_is_refused_with_the_right_form() -> None:
    mapping = "rows: record\ncolumns: {Volts: receptacle.volts}\n"
    assert rows_of("120\n", mapping, "Volts\n") == (
        [],
        [
            "s.csv: row 2, column `Volts`: `receptacle.volts`: `120` is refused: that is the circuit's voltage; a "
            "receptacle on it is rated 125 V"
        ],
    )


def test_columns_that_the_file_lacks_repeats_or_has_too_many_of() -> None:
    good, faults = rows_of("R1,5-15R\n", header="Mark,Confg,Mark,Sensor,Delay,Breaker,Colour\n")
    has = "`Mark`, `Confg`, `Mark`, `Sensor`, `Delay`, `Breaker`, `Colour`"
    unsaid = "map it, or list it under `leave_out` in mapping.yaml"
    assert good == []
    assert sorted(faults) == [
        f"mapping.yaml:5:3: the schedule has no column `Config` (did you mean `Confg`?); allowed: {has}",
        f"mapping.yaml:6:3: the schedule has no column `Switched`; allowed: {has}",
        "s.csv: row 1: the column `Mark` stands 2 times; allowed: once",
        f"s.csv: row 1: the mapping says nothing of the column `Colour`; {unsaid}",
    ]


def test_other_columns_may_be_left_out_together() -> None:
    mapping = RECORDS.replace("[Notes]", "others")
    assert rows_of("R1,5-15R,Y,occ,90,20,x,y\n", mapping, HEADER.strip() + ",Colour\n") == (["R1"], [])


def test_title_rows_and_semicolons() -> None:
    mapping = RECORDS + "header_row: 3\ndelimiter: semicolon\n"
    header = "Copper Kettle Block;;\nissued for permit\n" + HEADER.replace(",", ";")
    assert rows_of("R1;5-15R;Y;occ;90;20;\nR2;x;Y;occ;90;20;\n", mapping, header) == (
        ["R1"],
        [
            "s.csv: row 5, column `Config`: `receptacle.configuration`: `x` is none of the answers; allowed: "
            "`5-15R`, `6-20R`"
        ],
    )


def test_a_file_with_a_byte_order_mark_and_one_that_is_not_utf8(tmp_path: Path) -> None:
    path = tmp_path / "s.csv"
    path.write_bytes(b"\xef\xbb\xbf" + HEADER.encode() + b"R1,5-15R,Y,occ,90,20,\n")
    assert [name for name, _ in read_schedule(path, mapping_of(), BOOK)[0]] == ["R1"]
    path.write_bytes(HEADER.encode() + b"R1,5-15R,Y,occ,90,20,caf\xe9\nR2,5-15R,Y,occ,90,20,\n")
    good, faults = read_schedule(path, mapping_of(), BOOK)
    assert [name for name, _ in good] == ["R2"]
    assert [str(fault) for fault in faults] == [
        f"{path}: row 2, column `Notes`: byte 0xe9 is not UTF-8; save the file as UTF-8"
    ]
    with pytest.raises(InputFaults, match="cannot be read: No such file or directory"):
        read_schedule(tmp_path / "none.csv", mapping_of(), BOOK)


def test_text_that_is_no_csv_stops_there_and_keeps_what_came_before() -> None:
    assert rows_of('R1,5-15R,Y,occ,90,20,\n"R2"x,5-15R,Y,occ,90,20,\nR3,5-15R,Y,occ,90,20,\n') == (
        ["R1"],
        ["s.csv: row 3: this is not CSV: ',' expected after '\"'; the rows from here on were not read"],
    )
    assert rows_of("", header="") == ([], ["s.csv: row 1: the file ends before its header row"])


def test_a_schedule_is_streamed() -> None:
    def lines() -> Iterator[str]:
        yield HEADER
        yield "R1,5-15R,Y,occ,90,20,\n"
        raise AssertionError("the second row was read before the first was handed over")

    first = next(iter(iter_schedule(lines(), mapping_of(), BOOK)))
    assert isinstance(first, tuple)
    assert first[0] == "R1"


def test_every_fault_of_a_mapping_is_told_at_once() -> None:
    text = """\
rows: recrd
columns:
  Mark: receptacle.mark
  Config: {fact: receptacle.configuration, unit: in}
  Room: {fact: space.use, words: {OFF: offices}}
  Area: {fact: space.area_sq_ft, unit: ft, colour: red}
  Again: space.use
constants: {circuit.breaker_amps: 0}
complete: [contact.control]
header_row: 0
delimiter: ","
leave_out: all
sheet2: x
"""
    assert mapping_faults(text) == [
        "mapping.yaml:1:7: `rows` of a mapping file: `recrd` is not what a row can be (did you mean `record`?); "
        "allowed: `record`, `contact`",
        "mapping.yaml:3:9: `receptacle.mark` is no fact (did you mean `receptacle.wall`?)",
        "mapping.yaml:4:44: `receptacle.configuration` has no unit; leave `unit` out",
        "mapping.yaml:5:40: `space.use`: `offices` is none of the answers (did you mean `office`?); allowed: `office`, "
        "`kitchen`",
        "mapping.yaml:6:40: `unit` of the column `Area`: `ft` is not a unit of area; allowed: `sq ft`, `sq m`",
        "mapping.yaml:6:44: `colour` is not a key of the column `Area`; allowed: `fact`, `unit`, `words`",
        "mapping.yaml:7:10: `space.use` is mapped already in line 5",
        "mapping.yaml:8:35: `circuit.breaker_amps`: `0` is out of range; allowed: a current in `A`, above 0",
        "mapping.yaml:9:12: `contact.control` is no list (did you mean `contact.controls`?); allowed: "
        "`project.spaces`, `project.controls`, `project.circuits`, `project.loads`, `space.walls`, `space.yokes`, "
        "`receptacle.contacts`, `contact.controls`, `control.contacts`, `control.wired_loads`, "
        "`circuit.contacts`, `circuit.wired_loads`, `load.contacts`",
        "mapping.yaml:10:1: `0` is no row; allowed: 1 to 1000",
        "mapping.yaml:11:12: `delimiter` of a mapping file: `,` is not a delimiter; allowed: `comma`, `semicolon`, "
        "`tab`",
        "mapping.yaml:12:12: `all` is no list of columns; allowed: a list, or `others`",
        "mapping.yaml:13:1: `sheet2` is not a key of a mapping file (did you mean `sheet`?); allowed: `rows`, "
        "`columns`, `constants`, `complete`, `not_given`, `leave_out`, `call_rows_by`, `ids`, `project`, `header_row`, "
        "`delimiter`, `sheet`, `fill_down`, `numbers_as_shown`, `panels`, `skip_rows_without`",
    ]


# ---- one row, one contact device of one project ----------------------------------------------------------------------

JOINED = """\
rows: contact
project: {place: demo/town, dates: {permit application: 2024-10-01}, name: Copper Kettle Block}
ids:
  space: Room
  receptacle: Mark
  contact: Half
  control: {column: Control, split: "+"}
  circuit: Circuit
  load: {column: Load, each_row_its_own: yes}
columns:
  Half: {fact: contact.position, words: {U: upper, L: lower}}
  Config: receptacle.configuration
  Delay: {fact: control.off_delay_min, unit: min}
  Breaker: circuit.breaker_amps
constants: {control.turns_off_by: presence}
complete: [receptacle.contacts, contact.controls, control.contacts, space.yokes]
call_rows_by: [Mark, Half]
"""
JOINED_HEADER = "Room,Mark,Half,Config,Control,Delay,Circuit,Breaker,Load\n"
GOOD = """\
101,R1,U,5-15R,S1,20,LP-1,20,lamp
101,R1,L,5-15R,none,,LP-1,20,none
101,R2,U,5-15R,S1+S2,,LP-1,,lamp
102,R1,U,6-20R,-,-,none,-,-
"""


def joined(body: str, mapping: str = JOINED) -> tuple[Graph, list[str]]:
    lines = (JOINED_HEADER + body).splitlines(keepends=True)
    graph, faults = read_schedule_as_project(lines, mapping_of(mapping), BOOK, "s.csv")
    return graph, [str(fault) for fault in faults]


def test_rows_join_into_one_project() -> None:
    graph, faults = joined(GOOD)
    assert faults == []
    assert [thing.id for thing in graph] == [
        *("project", "101", "102", "101/R1", "101/R2", "102/R1"),
        *("101/R1/U", "101/R1/L", "101/R2/U", "102/R1/U", "S1", "S2", "LP-1"),
        *("lamp at 101/R1/U", "lamp at 101/R2/U"),
    ]
    find = graph.find
    assert (graph.place, graph.project.text["project.name"]) == ("demo/town", "Copper Kettle Block")
    assert [thing.id for thing in find("S1").list_of("contacts")[0]] == ["101/R1/U", "101/R2/U"]
    assert find("101/R1/L").list_of("controls") == ([], True)  # the cell says none
    assert find("102/R1/U").list_of("controls") == ([], False)  # the cell says nothing
    assert find("101").list_of("contacts")[1]
    assert find("101/R1/L").one("load") is None
    assert find("102/R1/U").one("circuit") is None
    assert find("S1").given == {"control.off_delay_min": 20, "control.turns_off_by": "presence"}
    assert find("S2").given == {}  # the row names two controls, so no fact of one is its
    assert find("LP-1").given == {"circuit.breaker_amps": 20}


def test_a_row_left_out_leaves_no_list_complete_but_the_row_s_own() -> None:
    graph, faults = joined(GOOD + "101,R3,U,5-99R,S1,20,LP-1,20,lamp\n")
    assert len(faults) == 1
    find = graph.find
    for path, name in (("S1", "contacts"), ("101/R1", "contacts"), ("101", "yokes")):
        assert find(path).list_of(name)[1] is False, (path, name)
    assert find("101/R1/U").list_of("controls")[1]


def test_rows_that_contradict_or_cannot_be_joined_are_left_out() -> None:
    body = (
        "101,R1,U,5-15R,S1,20,LP-1,20,lamp\n"
        "101,R1,L,6-20R,S1,30,LP-1,15,none\n"
        "101,R1,U,5-15R,S1,20,LP-1,20,lamp\n"
        ",R2,U,5-15R,S1,20,LP-1,20,lamp\n"
        "101,R/2,U,5-15R,S1,20,LP-1,20,lamp\n"
        "101,R3,U,5-15R,S1+S1,,LP-1,20,lamp\n"
        "101,R4,U,5-15R,,20,,20,lamp\n"
        "101,R5,U,5-15R,S1+S2,20,LP-1,20,lamp\n"
    )
    graph, faults = joined(body)
    assert [thing.id for thing in graph.things["contact"]] == ["101/R1/U"]
    assert faults == [
        "s.csv: row 3, column `Config`: `receptacle.configuration` of `101/R1` is `6-20R` here and `5-15R` at s.csv: "
        "row 2, column `Config`; allowed: one value",
        "s.csv: row 3, column `Delay`: `control.off_delay_min` of `S1` is `30 min` here and `20 min` at s.csv: row 2, "
        "column `Delay`; allowed: one value",
        "s.csv: row 3, column `Breaker`: `circuit.breaker_amps` of `LP-1` is `15` here and `20` at s.csv: row 2, "
        "column `Breaker`; allowed: one value",
        "s.csv: row 4: the contact device `101/R1/U` stands in row 2 already",
        "s.csv: row 5, column `Room`: the id of the space is missing; allowed: text; if it is no device's row, such as "
        "a total, say under `skip_rows_without` in mapping.yaml which columns such rows leave blank",
        "s.csv: row 6, column `Mark`: `R/2` is no id; allowed: text without a slash",
        "s.csv: row 7, column `Control`: `S1+S1` names one thing twice, or `none` beside another",
        "s.csv: row 8, column `Delay`: this gives `control.off_delay_min`, but the row names none it could be of; "
        "allowed: one",
        "s.csv: row 8, column `Breaker`: this gives `circuit.breaker_amps`, but the row names none it could be of; "
        "allowed: one",
        "s.csv: row 9, column `Delay`: this gives `control.off_delay_min`, but the row names several it could be of; "
        "allowed: one",
    ]


def test_faults_of_the_project_s_own_part_name_the_mapping() -> None:
    with pytest.raises(InputFaults) as refused:
        joined(GOOD, JOINED.replace("demo/town", "demo/twon"))
    assert str(refused.value) == (
        "mapping.yaml:2:18: `project.place`: `demo/twon` is no place (did you mean `demo/town`?); allowed: `demo/town`"
    )


def test_ids_are_wanted_for_rows_of_a_project_only() -> None:
    assert mapping_faults(JOINED.replace("  space: Room\n", "")) == ["mapping.yaml:4:3: `space` is missing from `ids`"]
    assert mapping_faults(RECORDS + "ids: {space: Room}\nproject: {name: a}\n") == [
        "mapping.yaml:13:1: `ids` is for rows that are a `contact` of one project; leave it out",
        "mapping.yaml:14:1: `project` is for rows that are a `contact` of one project; put facts of the project in "
        "`constants`",
    ]


# ---- the shipped demo and schema ---------------------------------------------------------------------------------


def _schema() -> jsonschema.Draft202012Validator:
    read = {
        name: json.loads((folder("schemas") / f"{name}.schema.json").read_text()) for name in ("mapping", "project")
    }
    registry = Registry().with_resource("project.schema.json", Resource.from_contents(read["project"]))
    return jsonschema.Draft202012Validator(read["mapping"], registry=registry)


def _data(text: bytes) -> Any:
    node = read_bytes(text, "mapping.yaml", [])
    assert node is not None
    return plain_data(node)


def test_the_mapping_schema_takes_the_mappings_here_and_refuses_the_bad_one() -> None:
    for text in (RECORDS, JOINED):
        assert [error.message for error in _schema().iter_errors(_data(text.encode()))] == []
    assert not _schema().is_valid(_data(b"rows: recrd\ncolumns: {}\n"))
    assert not _schema().is_valid(_data(b"rows: record\ncolumns: {A: {unit: min}}\n"))
    assert not _schema().is_valid(_data(b"rows: record\ncolumns: {A: load.kind}\nsheet: 2\n"))


def test_the_demo_schedule_is_good_and_its_mapping_keeps_the_schema() -> None:
    text = (DEMO / "brindle-falls-devices.mapping.yaml").read_bytes()
    assert text.startswith(b"# yaml-language-server: $schema=../../../schemas/mapping.schema.json\n")
    assert [error.message for error in _schema().iter_errors(_data(text))] == []
    shipped = book()
    mapping = read_mapping(DEMO / "brindle-falls-devices.mapping.yaml", shipped)
    ((_, graph),), faults = read_schedule(DEMO / "brindle-falls-devices.csv", mapping, shipped)
    assert faults == []
    assert len(graph.things["contact"]) == 8  # eight rows
    assert len(graph.things["yoke"]) == 4
    assert [thing.id for thing in graph.things["control"]] == ["OS-2", "OS-3", "TC-1"]

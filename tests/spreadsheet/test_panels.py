"""Panel schedules, one circuit a row or two, joined with device schedules by panel and circuit."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import openpyxl
import pytest

from front_door.small_book import BOOK
from spreadsheet.workbooks import filled, read, saved
from yokebook.graph import Graph
from yokebook.load.faults import InputFaults
from yokebook_adapters.schedule_mapping import read_mapping
from yokebook_adapters.schedule_reading import read_schedule

JOINED = """\
rows: contact
sheet: Devices
ids:
  space: Room
  receptacle: Mark
  contact: Half
  circuit: {columns: [Panel, Ckt]}
numbers_as_shown: [Ckt]
panels:
  sheets: [LP-1]
  header_row: 2
  layout: odd left, even right
  panel: {cell: A1, after: PANEL}
  circuit: Ckt
  numbers_as_shown: [Ckt]
  columns: {Trip: {fact: circuit.breaker_amps, unit: A}}
columns: {Config: receptacle.configuration}
project: {place: demo/town}
call_rows_by: [Mark, Half]
leave_out: others
"""
DEVICES: list[Any] = [
    ("Room", "Mark", "Half", "Config", "Panel", "Ckt"),
    ("Office", "R1", "U", "5-15R", "LP-1", 1),
    ("Office", "R1", "L", "5-15R", "LP-1", 2),
    ("Office", "R2", "U", "5-15R", "none", "none"),
    ("Office", "R3", "U", "5-15R", None, "N/A"),
]
PANEL: list[Any] = [
    ("Panel: LP-1",),
    ("Ckt", "Serves", "Trip", "Trip", "Serves", "Ckt"),
    (1, "Office", 20, 15, "Office", 2),
    (3, "Spare", None, "30 A", "Roof", 4),
    (5, "", None, None, "", 6),
]


def building(devices: list[Any] = DEVICES, panel: list[Any] = PANEL, *merged: str) -> bytes:
    book = openpyxl.Workbook()
    filled(book.worksheets[0], devices).title = "Devices"
    sheet = filled(book.create_sheet("LP-1"), panel)
    for cells in merged:
        sheet.merge_cells(cells)
    return saved(book)


def joined(data: bytes, mapping: str = JOINED) -> tuple[Graph, list[str]]:
    ((_, graph),), faults = read_schedule(data, read_mapping(mapping.encode(), BOOK), BOOK, "s.xlsx")
    return graph, [str(fault) for fault in faults]


def breakers(graph: Graph) -> dict[str, Any]:
    return {circuit.id: circuit.given.get("circuit.breaker_amps") for circuit in graph.things["circuit"]}


def test_circuits_have_what_their_panel_says_of_them() -> None:
    graph, faults = joined(building())
    assert faults == []
    assert breakers(graph) == {"LP-1/1": 20, "LP-1/2": 15}  # circuits that no device names are not the project's
    assert graph.find("Office/R1/L").one("circuit") is graph.find("LP-1/2")
    assert graph.find("Office/R2/U").one("circuit") is None
    assert "circuit" not in graph.find("Office/R3/U").refs


def device(panel: Any, circuit: Any) -> list[Any]:
    return [*DEVICES, ("Office", "R9", "U", "5-15R", panel, circuit)]


NOWHERE = "the circuit `{}` stands in no panel schedule"
KNOWN = "allowed: `LP-1/1`, `LP-1/2`, `LP-1/3`, `LP-1/4`, `LP-1/5`, `LP-1/6`"


@pytest.mark.parametrize(
    ("panel", "circuit", "message"),
    [
        ("LP-1", 7, f"E6, column `Panel`: {NOWHERE.format('LP-1/7')} (did you mean `LP-1/6`?); {KNOWN}"),
        ("LP1", 1, f"E6, column `Panel`: {NOWHERE.format('LP1/1')} (did you mean `LP-1/1`?); {KNOWN}"),
        ("Z", "z", f"E6, column `Panel`: {NOWHERE.format('Z/z')}; {KNOWN}"),
        (
            "LP-1",
            None,
            "F6, column `Ckt`: `LP-1` is only a part of an id: the column `Ckt` gives nothing; allowed: all parts, or "
            "none",
        ),
        (
            None,
            1,
            "E6, column `Panel`: `1` is only a part of an id: the column `Panel` gives nothing; allowed: all parts, or "
            "none",
        ),
        ("none", 1, "E6, column `Panel`: `none` stands beside another part of an id; allowed: alone"),
    ],
)
def test_a_row_whose_circuit_no_panel_lists_is_refused_and_the_rest_kept(
    panel: Any, circuit: Any, message: str
) -> None:
    graph, faults = joined(building(device(panel, circuit)))
    assert faults == [f"s.xlsx:Devices!{message}"]
    assert breakers(graph) == {"LP-1/1": 20, "LP-1/2": 15}
    assert len(graph.things["contact"]) == 4


def test_what_the_two_schedules_say_otherwise_is_refused_with_both_cells() -> None:
    devices = [(*row, amps) for row, amps in zip(DEVICES, ("Breaker", 20, 20, None, None), strict=True)]
    mapping = JOINED.replace("columns: {Config:", "columns: {Breaker: circuit.breaker_amps, Config:")
    graph, faults = joined(building(devices), mapping)
    assert faults == [
        "s.xlsx:Devices!G3, column `Breaker`: `circuit.breaker_amps` of `LP-1/2` is `20` here and `15 A` at "
        "s.xlsx:LP-1!D3, column `Trip`; allowed: one value"
    ]
    assert breakers(graph) == {"LP-1/1": 20}


def panel_faults(*rows: Any, layout: str = "odd left, even right", merged: tuple[str, ...] = ()) -> list[str]:
    mapping = JOINED.replace("layout: odd left, even right", f"layout: {layout}")
    return joined(building(DEVICES, [*PANEL, *rows], *merged), mapping)[1]


AMPS, CURRENT, CKT = "`circuit.breaker_amps`", "allowed: a current in `A`, above 0", "column `Ckt`"


def test_every_fault_of_a_panel_schedule_is_told_with_its_cell() -> None:
    assert panel_faults(
        (8, "x", 20, 20, "x", 9),
        ("07", "x", "big", "=1", "x", (210.1, "General")),
        (3, "x", 20, 20, "x", None),
        (11, "x", -20, True, "x", "1,3"),
    ) == [
        "s.xlsx:LP-1!A6, column `Ckt`: the circuit `8` stands on the left; allowed there: odd numbers",
        "s.xlsx:LP-1!F6, column `Ckt`: the circuit `9` stands on the right; allowed there: even numbers",
        f"s.xlsx:LP-1!C7, column `Trip`: {AMPS}: `big` is not a number; {CURRENT}",
        "s.xlsx:LP-1!D7, column `Trip`: the file does not say what the formula `=1` comes to; open and save it in a "
        "spreadsheet program, or write the value; allowed: a number",
        "s.xlsx:LP-1!F7, column `Ckt`: `210.1` is a number here, and whether a zero at its end was typed cannot be "
        "seen; allowed: text (format the column as text, then type it again)",
        f"s.xlsx:LP-1!A8, column `Ckt`: the circuit `LP-1/3` stands at s.xlsx:LP-1!A4, {CKT} already; allowed: once",
        "s.xlsx:LP-1!F8, column `Ckt`: the row gives `circuit.breaker_amps` and no circuit; allowed: text",
        f"s.xlsx:LP-1!C9, column `Trip`: {AMPS}: `-20` is out of range; {CURRENT}",
        "s.xlsx:LP-1!F9, column `Ckt`: the circuit `1,3` stands on the right; allowed there: even numbers",
        f"s.xlsx:LP-1!D9, column `Trip`: {AMPS}: `TRUE` is a yes or no where a number is due; {CURRENT}",
    ]


def test_the_numbers_are_checked_only_where_the_layout_says_so() -> None:
    assert panel_faults((8, "x", 20, 20, "x", 9), layout="two circuits a row") == []


def test_a_device_on_a_circuit_that_was_refused_is_refused_too() -> None:
    panel = [*PANEL[:2], (1, "Office", "big", 15, "Office", 2), (3, "x", 20, None, "", None), (3, "x", 15)]
    graph, faults = joined(building([*DEVICES, ("Office", "R8", "U", "5-15R", "LP-1", 3)], panel))
    where = "was refused where its panel lists it, s.xlsx:LP-1!"
    assert faults[2:] == [
        f"s.xlsx:Devices!E2, column `Panel`: the circuit `LP-1/1` {where}A3, column `Ckt`",
        f"s.xlsx:Devices!E6, column `Panel`: the circuit `LP-1/3` {where}A5, column `Ckt`",
    ]
    assert breakers(graph) == {"LP-1/2": 15}


def test_a_breaker_merged_over_the_rows_of_its_poles_counts_for_each() -> None:
    devices = [*DEVICES, ("Office", "R4", "U", "5-15R", "LP-1", 4), ("Office", "R5", "U", "5-15R", "LP-1", 6)]
    graph, faults = joined(building(devices, PANEL, "D4:D5"))
    assert (faults, breakers(graph)) == ([], {"LP-1/1": 20, "LP-1/2": 15, "LP-1/4": 30, "LP-1/6": 30})


@pytest.mark.parametrize(
    ("panel", "message"),
    [
        (
            [("Board: LP-1",), *PANEL[1:]],
            "s.xlsx:LP-1!A1: the panel's name is due here after `PANEL`; found `Board: LP-1`",
        ),
        ([("Panel:",), *PANEL[1:]], "s.xlsx:LP-1!A1: the panel's name is due here; the cell gives none"),
        ([("Panel: LP-1",)], "s.xlsx:LP-1: row 2: the panel schedule ends before its header row"),
        (
            [PANEL[0], ("Ckt", "Trip", "Trip")],
            "s.xlsx:LP-1: row 2: the column `Ckt` stands 1 times; allowed: twice, on the left and on the right",
        ),
        (
            [PANEL[0], ("Ckt", "Trips", "Ckt")],
            "s.xlsx:LP-1: row 2: the panel schedule has no column `Trip` (did you mean `Trips`?); allowed: `Ckt`, "
            "`Trips`, `Ckt`",
        ),
    ],
)
def test_a_panel_schedule_that_cannot_be_read(panel: list[Any], message: str) -> None:
    graph, faults = joined(building(DEVICES, panel))
    assert faults == [
        message,
        "s.xlsx:Devices!E2, column `Panel`: the circuit `LP-1/1` stands in no panel schedule; allowed: none",
        "s.xlsx:Devices!E3, column `Panel`: the circuit `LP-1/2` stands in no panel schedule; allowed: none",
    ]
    assert [contact.id for contact in graph.things["contact"]] == ["Office/R2/U", "Office/R3/U"]


# ---- other shapes ----------------------------------------------------------------------------------------------------

RECORDS = """\
rows: record
call_rows_by: [Mark]
columns: {Mark: receptacle.name, Config: receptacle.configuration, Breaker: circuit.breaker_amps}
panels:
  files: [panels.csv]
  panel: {column: Board}
  joined_by: "-"
  circuit: No.
  by: Circuit
  columns: {Trip: {fact: circuit.breaker_amps, unit: A}}
"""


def record_faults(folder: Path, devices: str, panels: str, mapping: str = RECORDS) -> tuple[dict[str, Any], list[str]]:
    for name, text in (("devices.csv", devices), ("panels.csv", panels), ("m.yaml", mapping)):
        (folder / name).write_text(text, encoding="utf-8")
    how = read_mapping(folder / "m.yaml", BOOK)
    good, faults = read_schedule(folder / "devices.csv", how, BOOK)
    amps = {name: graph.find(f"{name}/circuit").given.get("circuit.breaker_amps") for name, graph in good}
    return amps, [str(fault).replace(f"{folder}/", "") for fault in faults]


def test_rows_that_are_records_and_panels_in_a_file_of_their_own(tmp_path: Path) -> None:
    devices = (
        "Mark,Config,Breaker,Circuit\nR1,5-15R,,A-01\nR2,5-15R,20,A-02\nR3,5-15R,,\nR4,5-15R,,none\nR5,5-15R,,A-1\n"
        "R6,5-15R,20 A,A-01\n"
    )
    assert record_faults(tmp_path, devices, "Board,No.,Trip\nA,01,20\nA,02,15\n,03,15\n") == (
        {"R1": 20, "R3": None, "R4": None, "R6": 20},
        [
            "panels.csv: row 4, column `No.`: the row gives `circuit.breaker_amps` and no panel; allowed: text",
            "devices.csv: row 3, column `Breaker`: `circuit.breaker_amps` of `A-02` is `20` here and `15 A` at "
            "panels.csv: row 3, column `Trip`; allowed: one value",
            "devices.csv: row 6, column `Circuit`: the circuit `A-1` stands in no panel schedule (did you mean "
            "`A-01`?); allowed: `A-01`, `A-02`",
        ],
    )


def test_a_panel_schedule_in_csv_with_two_circuits_a_row(tmp_path: Path) -> None:
    mapping = RECORDS.replace("{column: Board}", "{cell: B1}").replace("by: Circuit", "by: Circuit\n  header_row: 2")
    mapping = mapping.replace("header_row: 2", "header_row: 2\n  layout: odd left, even right")
    devices = "Mark,Config,Breaker,Circuit\nR1,5-15R,,A-01\nR2,5-15R,,A-02\n"
    panels = "PANEL,A\nNo.,Trip,Trip,No.\n01,20,15,02\n03,x,y,04\n"
    allowed = "is not a number; allowed: a current in `A`, above 0"
    assert record_faults(tmp_path, devices, panels, mapping) == (
        {"R1": 20, "R2": 15},
        [
            f"panels.csv: row 4, column `Trip` on the left: `circuit.breaker_amps`: `x` {allowed}",
            f"panels.csv: row 4, column `Trip` on the right: `circuit.breaker_amps`: `y` {allowed}",
        ],
    )


def test_a_sheet_called_like_its_panel_and_one_circuit_a_row() -> None:
    mapping = JOINED.replace("{cell: A1, after: PANEL}", "{sheet_name: yes}").replace(
        "odd left, even right", "one circuit a row"
    )
    panel = [("Lighting and power",), ("Ckt", "Trip"), (1, 20), ("2", 15)]
    graph, faults = joined(building(DEVICES, panel), mapping)
    assert (faults, breakers(graph)) == ([], {"LP-1/1": 20, "LP-1/2": 15})


def test_a_panel_file_that_is_not_there_is_told_where_the_mapping_names_it(tmp_path: Path) -> None:
    mapping = RECORDS.replace("panels.csv]", "none.csv]")
    _, faults = record_faults(tmp_path, "Mark,Config,Breaker,Circuit\nR1,5-15R,,\n", "", mapping)
    assert faults == ["m.yaml:5:11: none.csv: cannot be read: No such file or directory"]


def test_a_csv_schedule_has_no_other_sheets() -> None:
    with pytest.raises(InputFaults) as refused:
        read(b"Room,Mark,Half,Config,Panel,Ckt\n", JOINED, "s.csv")
    assert str(refused.value) == "s.csv: a CSV file has no sheet `Devices`; leave it out of the mapping"


def mapping_faults(text: str) -> list[str]:
    with pytest.raises(InputFaults) as refused:
        read_mapping(text.encode(), BOOK)
    return str(refused.value).split("\n")


def test_every_fault_of_the_mapping_s_part_on_panels() -> None:
    text = """\
rows: record
columns: {Mark: receptacle.name}
panels:
  files: [p.xlsx]
  layout: three circuits a row
  header_row: 0
  panel: {cell: b1, after: 7}
  columns: {Trip: space.use, Amps: {fact: circuit.breaker_amps, unit: V}}
"""
    assert mapping_faults(text) == [
        "mapping.yaml:4:3: `by` is missing from `panels`",
        "mapping.yaml:4:3: `circuit` is missing from `panels`",
        "mapping.yaml:4:3: only a mapping that is a file itself may name other files",
        "mapping.yaml:5:11: `layout` of `panels`: `three circuits a row` is not a layout (did you mean `two circuits a "
        "row`?); allowed: `one circuit a row`, `two circuits a row`, `odd left, even right`",
        "mapping.yaml:6:3: `0` is no row; allowed: 1 to 1000",
        "mapping.yaml:7:17: `b1` is no cell; allowed: a column's letters and a row, as B1",
        "mapping.yaml:7:28: `after` of `panel`: `7` reads as a number where text is due; put it in quotes",
        "mapping.yaml:8:13: `space.use` is no fact of a circuit; a panel schedule gives those",
        "mapping.yaml:8:71: `unit` of the column `Amps`: `V` is not a unit of current; allowed: `A`",
    ]
    assert mapping_faults(
        JOINED.replace("  circuit: {columns: [Panel, Ckt]}\n", "").replace("panels:", "panels:\n  by: Ckt")
    ) == [
        "mapping.yaml:9:3: `by` is for rows that are a `record`; `ids` names the circuit here",
        "mapping.yaml:9:3: `panels` needs `circuit` under `ids`, by which rows name a panel's circuit",
    ]
    assert mapping_faults(JOINED.replace("{cell: A1, after: PANEL}", "{cell: A1, always: LP-1}")) == [
        "mapping.yaml:13:10: `panel` has exactly one source; found `cell`, `always`; allowed: `cell`, `column`, "
        "`always`, `sheet_name`"
    ]

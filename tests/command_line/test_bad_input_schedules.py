"""Schedules and mappings with something wrong in them, through the real command: every word that a person reads.

Beside the bad rows stands a good one, which has to be ruled on all the same.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from command_line.of_the_book import listed, place_ids
from command_line.running import DEMO, Command, Ran

MAPPING = """\
rows: record
columns:
  Mark: receptacle.name
  Config: receptacle.configuration
  Volts: {fact: receptacle.volts, unit: V}
  Off after: {fact: control.off_delay_min, unit: min}
  Hand: control.acts_as_wall_switch
  Breaker: {fact: circuit.breaker_amps, unit: A}
  Off by: control.turns_off_by
constants: {project.place: demo/tamarisk, project.date.permit application: 2023-05-10}
not_given: [N/A]
call_rows_by: [Mark]
"""
HEADER = "Mark,Config,Volts,Off after,Hand,Breaker,Off by\n"
ROW = "R1,5-20R,125,N/A,yes,20,person\n"

AMPS = "allowed: a current in `A`, above 0"
TIME = "allowed: a time in `min`, `s` or `h`, at least 0"
TRUTH = "allowed: yes, no, true, false"
COLUMNS = "`Mark`, `Config`, `Volts`, `Off after`, `Hand`, `Breaker`, `Off by`"
CONFIGURATIONS = (
    "allowed: `1-15R`, `5-15R`, `5-20R`, `5-30R`, `5-50R`, `6-15R`, `6-20R`, `6-30R`, `6-50R`, `7-15R`, `7-20R`, "
    "`10-30R`, `10-50R`, `14-15R`, `14-20R`, `14-30R`, `14-50R`, `L5-15R`, `L5-20R`, `L5-30R`, `L6-15R`, `L6-20R`, "
    "`L6-30R`, `L14-20R`, `L14-30R`"
)


@pytest.fixture(autouse=True)
def _here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def ruled(command: Command, schedule: str | bytes, mapping: str = MAPPING) -> Ran:
    """The command on a schedule with its mapping."""
    Path("s.csv").write_bytes(schedule if isinstance(schedule, bytes) else schedule.encode())
    Path("m.yaml").write_text(mapping, encoding="utf-8")
    return command("rule", "s.csv", "--mapping", "m.yaml", "--question", "R01", "--format", "jsonl")


def words(ran: Ran) -> dict[str, str]:
    """The word for each control ruled on."""
    return {line["subject"]["id"]: line["word"] for line in ran.lines if "word" in line}


GOOD = {"R1/control": "manual"}  # what somebody's hand turns off is not automatic


def test_a_good_schedule_with_and_without_a_byte_order_mark(command: Command):
    for data in (HEADER + ROW, b"\xef\xbb\xbf" + (HEADER + ROW).encode()):
        ran = ruled(command, data)
        assert (ran.status, ran.err, words(ran)) == (0, "", GOOD)


BAD_ROWS: dict[str, tuple[bytes | str, str]] = {
    "short row": (
        "R0,5-20R,125\n",
        "s.csv: row 2: the row is short: it has 3 of 7 cells, and none from column `Off after` on\n",
    ),
    "long row": (
        "R0,5-20R,125,20,yes,20,person,white,\n",
        "s.csv: row 2: the row is long: `white` stands under no column\n",
    ),
    "short, not UTF-8 and long at once": (
        b"R0,5-20R,125\nR2,5-20R,125,20,yes,20,caf\xe9\nR3,5-20R,125,20,yes,20,person,white\n",
        "s.csv: row 2: the row is short: it has 3 of 7 cells, and none from column `Off after` on\n"
        "s.csv: row 3, column `Off by`: byte 0xe9 is not UTF-8; save the file as UTF-8\n"
        "s.csv: row 4: the row is long: `white` stands under no column\n",
    ),
    "control character": (
        "R0,5-20R,125,20,yes,20,\x1b[2Jperson\n",
        "s.csv: row 2, column `Off by`: control character U+001B is not allowed in text\n",
    ),
    "wrong unit and text for a number": (
        "R0,5-20R,125,20 ft,yes,twenty,person\n",
        f"s.csv: row 2, column `Breaker`: `circuit.breaker_amps`: `twenty` is not a number; {AMPS}\n"
        f"s.csv: row 2, column `Off after`: `control.off_delay_min`: `20 ft` is a length; {TIME}\n",
    ),
    "number for a yes or no, yes for a number": (
        "R0,5-20R,125,true,1,yes,person\n",
        f"s.csv: row 2, column `Breaker`: `circuit.breaker_amps`: `yes` is a yes or no where a number is due; {AMPS}\n"
        f"s.csv: row 2, column `Hand`: `control.acts_as_wall_switch`: `1` is neither yes nor no; {TRUTH}\n"
        "s.csv: row 2, column `Off after`: `control.off_delay_min`: `true` is a yes or no where a number is due; "
        f"{TIME}\n",
    ),
    "not a number, and out of all measure": (
        "R0,5-20R,125,,yes,NaN,person\nR2,5-20R,125,,yes,Infinity,person\nR3,5-20R,125,,yes,1e999,person\n",
        f"s.csv: row 2, column `Breaker`: `circuit.breaker_amps`: `NaN` is not a number; {AMPS}\n"
        f"s.csv: row 3, column `Breaker`: `circuit.breaker_amps`: `Infinity` is not a number; {AMPS}\n"
        f"s.csv: row 4, column `Breaker`: `circuit.breaker_amps`: `1e999` is too large a number; {AMPS}\n",
    ),
    "the circuit's voltage typed as a receptacle's rating": (
        "R0,5-20R,120,,yes,20,person\n",
        "s.csv: row 2, column `Volts`: `receptacle.volts`: `120 V` is refused: that is the circuit's voltage; a "
        "receptacle on it is rated 125 V\n",
    ),
    "stated value that differs from the computed one": (
        "R0,5-20R,250,,yes,20,person\n",
        "s.csv: row 2, column `Volts`: `receptacle.volts` is given as 250 V and comes out as 125 V, because "
        "`receptacle.configuration` is `5-20R`; correct one of them or leave the given value out\n",
    ),
    "word that is none": (
        "R0,5-20,125,,yes,20,person\n",
        "s.csv: row 2, column `Config`: `receptacle.configuration`: `5-20` is none of the answers (did you mean "
        f"`5-20R`?); {CONFIGURATIONS}\n",
    ),
    "a row's name used twice": (
        ROW,
        "s.csv: row 3: the row is called `R1`, as row 2 is; names must differ\n",
    ),
}


@pytest.mark.parametrize(("rows", "told"), BAD_ROWS.values(), ids=BAD_ROWS)
def test_bad_rows_beside_a_good_one(command: Command, rows: str | bytes, told: str):
    data = rows if isinstance(rows, bytes) else rows.encode()
    ran = ruled(command, HEADER.encode() + data + ROW.encode())
    assert ran.err == told
    assert (ran.status, words(ran)) == (3, GOOD)


def test_what_comes_before_a_cell_that_is_never_closed_is_ruled_on(command: Command):
    ran = ruled(command, HEADER + ROW + 'R2,"5-20R,125,,yes,20,person\nR3,5-20R,125,,yes,20,person\n')
    assert ran.err == (
        "s.csv: row 3: the quotation mark that opens a cell in this row is never closed; the rows from here on were "
        "not read\n"
    )
    assert (ran.status, words(ran)) == (3, GOOD)


BAD_FILES: dict[str, tuple[bytes | str, str, str]] = {
    "empty": ("", MAPPING, "s.csv: row 1: the file ends before its header row\n"),
    "a header and no device": (HEADER, MAPPING, "s.csv: row 1: no row with a device in it follows the header\n"),
    "UTF-16": (
        (HEADER + ROW).encode("utf-16"),
        MAPPING,
        "s.csv: row 1: byte 0xff is not UTF-8; save the file as UTF-8\n",
    ),
    "other delimiter": (
        HEADER.replace(",", ";") + ROW.replace(",", ";"),
        MAPPING,
        "s.csv: row 1: this row names none of the columns that m.yaml maps "
        f"({COLUMNS.removeprefix('`Mark`, ')}, `Mark`); its columns are: "
        "`Mark;Config;Volts;Off after;Hand;Breaker;Off by`; if the header is in another row, say `header_row` in the "
        "mapping, and if the cells are divided by a semicolon, `delimiter: semicolon`\n",
    ),
    "mapping to a column that is not there": (
        HEADER + ROW,
        MAPPING.replace("  Config:", "  Configuration:"),
        "m.yaml:4:3: the schedule has no column `Configuration` (did you mean `Config`?); allowed: " + COLUMNS + "\n",
    ),
    "column that the mapping leaves open": (
        HEADER.replace("\n", ",Colour\n") + ROW.replace("\n", ",white\n"),
        MAPPING,
        "s.csv: row 1: the mapping says nothing of the column `Colour`; map it, or list it under `leave_out` in "
        "m.yaml\n",
    ),
    "mapping to a fact that does not exist": (
        HEADER + ROW,
        MAPPING.replace("receptacle.configuration", "receptacle.config").replace("circuit.breaker_amps", "wire.size"),
        "m.yaml:4:11: `receptacle.config` is no fact (did you mean `receptacle.configuration`?)\n"
        "m.yaml:8:19: `wire.size` is no fact; a fact's name starts with one of `project.`, `space.`, `wall.`, "
        "`receptacle.`, `contact.`, `control.`, `circuit.`, `load.`\n",
    ),
    "mapping with unknown keys": (
        HEADER + ROW,
        "rows: recrod\ncolums: {}\n",
        "m.yaml:1:1: `columns` is missing from a mapping file\n"
        "m.yaml:1:7: `rows` of a mapping file: `recrod` is not what a row can be (did you mean `record`?); allowed: "
        "`record`, `contact`\n"
        "m.yaml:2:1: `colums` is not a key of a mapping file (did you mean `columns`?); allowed: `rows`, `columns`, "
        "`constants`, `complete`, `not_given`, `leave_out`, `call_rows_by`, `ids`, `project`, `header_row`, "
        "`delimiter`, `sheet`, `fill_down`, `numbers_as_shown`, `panels`, `skip_rows_without`\n",
    ),
    "mapping with a unit of another kind": (
        HEADER + ROW,
        MAPPING.replace("unit: min", "unit: ft"),
        "m.yaml:6:50: `unit` of the column `Off after`: `ft` is not a unit of time; allowed: `min`, `s`, `h`\n",
    ),
    "empty mapping": (HEADER + ROW, "", "m.yaml:1:1: the file is empty\n"),
    "mapping with a column twice": (
        HEADER + ROW,
        MAPPING.replace("constants:", "  Hand: control.kind\nconstants:"),
        "m.yaml:10:3: `Hand` stands twice here, first in line 7\n",
    ),
    "mapping with no such place and day": (
        HEADER + ROW,
        MAPPING.replace("demo/tamarisk", "demo/tamarsk").replace("2023-05-10", "May 2023"),
        "m.yaml:10:28: `project.place`: `demo/tamarsk` is no place (did you mean `demo/tamarisk`?); allowed: "
        f"{listed(place_ids())}\n"
        "m.yaml:10:75: `project.dates.permit application`: `May 2023` is no date; allowed: year, month and day, such "
        "as `2024-10-01`\n",
    ),
    "no place": (
        HEADER + ROW,
        MAPPING.replace("project.place: demo/tamarisk, ", ""),
        "s.csv: no place is given for `R1`; add one to the constants or the project of m.yaml, or give --place or "
        "--edition\n",
    ),
}


@pytest.mark.parametrize(("schedule", "mapping", "told"), BAD_FILES.values(), ids=BAD_FILES)
def test_a_schedule_of_which_nothing_can_be_ruled(command: Command, schedule: str | bytes, mapping: str, told: str):
    ran = ruled(command, schedule, mapping)
    assert ran.err == told
    assert (ran.status, words(ran)) == (3, {})


def test_a_slip_in_the_mapping_is_told_once_for_all_rows(command: Command):
    rows = "".join(ROW.replace("R1", f"R{number}") for number in range(40))
    ran = ruled(command, HEADER + rows, MAPPING.replace("demo/tamarisk", "demo/tamarsk"))
    assert len(ran.err.splitlines()) == 1
    without = ruled(command, HEADER + rows, MAPPING.replace("project.place: demo/tamarisk, ", ""))
    assert len(without.err.splitlines()) == 1


def test_a_schedule_on_standard_input(command: Command):
    Path("m.yaml").write_text(MAPPING, encoding="utf-8")
    data = b"\xef\xbb\xbf" + (HEADER + "R0,5\n" + ROW).encode()
    ran = command("rule", "-", "--mapping", "m.yaml", "--question", "R01", "--format", "jsonl", stdin=data)
    assert ran.err == (
        "standard input: row 2: the row is short: it has 2 of 7 cells, and none from column `Volts` on\n"
    )
    assert (ran.status, words(ran)) == (3, GOOD)


def test_a_schedule_that_cannot_be_read(command: Command, monkeypatch: pytest.MonkeyPatch):
    opened = Path.open

    def refuse(path: Path, *how: Any, **more: Any) -> Any:
        if path.name == "s.csv":
            raise PermissionError(13, "Permission denied")
        return opened(path, *how, **more)

    Path("s.csv").write_text(HEADER + ROW, encoding="utf-8")
    Path("m.yaml").write_text(MAPPING, encoding="utf-8")
    monkeypatch.setattr(Path, "open", refuse)
    ran = command("rule", "s.csv", "--mapping", "m.yaml", "--question", "R01", "--format", "jsonl")
    assert (ran.status, ran.err) == (3, "s.csv: cannot be read: Permission denied\n")


def test_bad_rows_of_a_schedule_that_makes_one_project(command: Command):
    """The demo's schedule with three slips: the controls of the other rows are ruled on as before."""
    schedule = DEMO.with_name("brindle-falls-devices.csv")
    mapping = DEMO.with_name("brindle-falls-devices.mapping.yaml")
    text = schedule.read_text(encoding="utf-8")
    for old, new in (("CR-1,U,Conference 2,conference,240,5-20R", "CR-1,U,Conference 2,conferense,240 kW,5-20R"),):
        assert text.count(old) == 1
        text = text.replace(old, new)
    Path("d.csv").write_text(text, encoding="utf-8")
    ran = command("rule", "d.csv", "--mapping", mapping, "--question", "R23", "--format", "jsonl")
    assert ran.status == 3
    assert ran.err == (
        "d.csv: row 2, column `Area (sq ft)`: `space.area_sq_ft`: `240 kW` is a power; allowed: an area in `sq ft` or "
        "`sq m`, above 0\n"
        "d.csv: row 2, column `Room use`: `space.use`: `conferense` is none of the answers (did you mean "
        "`conference`?); allowed: `living room`, `bedroom`, `home office`, `kitchen`, `bathroom`, `laundry`, "
        "`hallway`, `private office`, `open office`, `workstation`, `conference`, `print-copy`, `break room`, "
        "`classroom`, `computer classroom`, `lobby`, `guest room`, `exam room`, `workshop`, `corridor`, `storage`, "
        "`other`\n"
    )
    assert words(ran)["OS-3"] == "not satisfied"  # 30 min against the city's 20 min

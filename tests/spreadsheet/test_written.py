"""Workbooks that are written: what is on each sheet, that no text is a formula, that two runs give the same bytes."""

from __future__ import annotations

import csv
import io
import re
import sys
import zipfile
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

import ruling_data as data
from command_line.running import Command
from outputs.small_shop import KEEP_OFF, SHOP, everything, marking, shop
from shipped_book import book
from spreadsheet.workbooks import HEADER, read
from yokebook_adapters.marking_schedule import marking_schedule
from yokebook_adapters.marking_schedule_csv import as_csv
from yokebook_adapters.report import Report
from yokebook_adapters.spreadsheet.marking_schedule import COLUMNS, as_xlsx
from yokebook_adapters.spreadsheet.reading import as_meant
from yokebook_adapters.spreadsheet.writing import Column, add_table, as_bytes, new_workbook


def opened(data: bytes | Path) -> Any:
    return openpyxl.load_workbook(io.BytesIO(data) if isinstance(data, bytes) else data)


def rows_of(sheet: Any) -> list[list[Any]]:
    return [[cell.value for cell in row] for row in sheet.iter_rows()]


def check_no_formula(book: Any) -> None:
    """Every cell is a number, or text in a text cell."""
    seen = 0
    for sheet in book.worksheets:
        for row in sheet.iter_rows():
            for cell in row:
                if cell.value is None:
                    continue
                seen += 1
                assert (cell.data_type, type(cell.value)) in (("s", str), ("n", int)), cell.coordinate
                assert cell.data_type == "n" or cell.number_format == "@", cell.coordinate
    assert seen


# ---- the marking schedule --------------------------------------------------------------------------------------------


@cache
def small() -> tuple[dict[str, Any], bytes]:
    """The small shop's schedule, as data and as a workbook."""
    graph = shop()
    rulings = everything(graph)
    schedule = marking_schedule(rulings, [graph], book(), KEEP_OFF)
    return schedule, as_xlsx(filed(*rulings), schedule)


def filed(*rulings: dict[str, Any]) -> Report:
    """The report on a schedule of which one row was refused and a sheet was filed."""
    report = data.report(*rulings, refused=["shop.yaml:3:5: `Ampere` is not a unit"])
    return replace(report, digests=lambda: {"law": "a1", "record": "b2", "rulings": "c3"})


def test_the_first_sheet_has_a_line_for_each_yoke_in_walking_order() -> None:
    sheet = opened(small()[1]).worksheets[0]
    head, *lines = rows_of(sheet)
    assert sheet.title == "Marking schedule"
    assert head == [column.head for column in COLUMNS]
    assert [(line[0], line[1]) for line in lines] == [
        ("shop floor", "R1, north wall"),
        ("shop floor", "G1, at the sink"),
        ("store", "Q1, by the door"),
        ("store", "S1, at the desk"),
    ]
    cells = dict(zip(head, lines[1], strict=True))
    assert cells == {
        "room": "shop floor",
        "tag": "G1, at the sink",
        "device to buy": "5-20R duplex, marked as controlled on upper half\n"
        "NOT MADE as given: The halves are fed apart, and a device with ground-fault protection built in has no tab to "
        "break.\n"
        "Take: A duplex with break-off tabs, with the ground-fault protection in the breaker or in a device upstream.\n"
        "Protection: ground-fault protection required, by breaker or upstream device",
        "tabs": "Hot: remove (the halves are fed apart)\nNeutral: keep (one circuit, one neutral)",
        "what feeds it": "Upper: controlled by C1, circuit P/1, plugged in: refrigerator (refrigeration)\n"
        "Lower: always on, circuit P/1",
        "mark": "on upper; form: symbol and word; place: face",
        "control": "C1 (shop sensor): ceiling sensor and relay; rated 15 A; needs at least 20 A; see Controls",
        "circuit, wires": "P/1: breaker 20 A, 120 V\n"
        "switched hot from C1, of P/1\nhot that is always on, of P/1\nneutral of P/1",
        "take care": "Do not plug in: at upper: security, refrigeration\n"
        "Move: refrigerator at upper: move to always-on [R51]\n"
        "Against: R51 G1 upper, at the sink, shop floor: move to always-on",
        "check": "[ ] hot tab broken off\n[ ] neutral tab left in\n[ ] mark visible with the plate on\n"
        "[ ] C1 takes the power away (set 15 min, found ____ min)\n[ ] photo no. ____",
    }


def test_the_second_sheet_has_the_same_lines_by_part_type_with_their_paths() -> None:
    sheet = opened(small()[1])["By part type"]
    head, *lines = rows_of(sheet)
    assert [(line[0], line[-1]) for line in lines] == [
        ("5-15R duplex, unmarked", "store/Q1"),
        ("5-15R single, marking not settled", "store/S1"),
        ("5-20R duplex, marked as controlled on upper half", "shop/G1"),
        ("5-20R duplex, tamper-resistant, marked as controlled on upper half", "shop/R1"),
    ]
    assert dict(zip(head, lines[1], strict=True))["other contact devices"].startswith("Only: not given whether")
    assert dict(zip(head, lines[0], strict=True)) == {
        "device to buy": "5-15R duplex, unmarked",
        "hot tab": "remove (the halves are fed apart)",
        "neutral tab": "cannot tell (two circuits: each needs its own neutral here unless they share one)",
        "upper half": "always on, circuit P/1",
        "lower half": "always on, circuit P/3",
        "other contact devices": None,
        "mark": "none",
        "room": "store",
        "tag": "Q1, by the door",
        "path": "store/Q1",
    }


def test_a_column_of_the_second_sheet_without_a_word_in_it_is_left_out() -> None:
    duplexes = shop(SHOP.replace("position: only", "position: upper"))
    schedule = marking_schedule(marking(duplexes), [duplexes], book(), KEEP_OFF)
    made = opened(as_xlsx(data.report(*marking(duplexes)), schedule))
    assert "other contact devices" not in rows_of(made["By part type"])[0]


def test_each_control_stands_once_with_what_is_ruled_on_it_and_where_it_is() -> None:
    assert rows_of(opened(small()[1])["Controls"]) == [
        ["control, with its rating as needed and as ruled", "on"],
        [
            "C1 (shop sensor): ceiling sensor and relay; rated 15 A; needs at least 20 A; big enough for the "
            "circuit: not satisfied [R12]; may feed receptacles: permitted [R11]",
            "R1, north wall, shop floor; G1, at the sink, shop floor",
        ],
    ]


def test_the_workbook_says_what_the_csv_says() -> None:
    """But for the questions behind what is not sure, which stand with their numbers on the last sheet, and what rests
    on memory, which is there too, as the text has it below the lines."""
    schedule, data_ = small()
    made = opened(data_)
    by_path = {line[-1]: line for line in rows_of(made["By part type"])[1:]}
    controls = [cell for row in rows_of(made["Controls"]) for cell in row]
    in_csv = csv.DictReader(io.StringIO(as_csv(schedule["lines"])[0]))
    for row, line in zip(in_csv, rows_of(made.worksheets[0])[1:], strict=True):
        cells = [*line, *by_path[row["path"]], *controls]
        written = " ".join(" ".join(str(cell) for cell in cells if cell is not None).split()).casefold()
        for column, cell in row.items():
            for piece in re.split(r" \| |; ", cell):
                assert " ".join(piece.split()).casefold() in written or column == "not sure", (column, piece)


def test_totals_to_order_are_numbers() -> None:
    rows = [[cell for cell in row if cell is not None] for row in rows_of(opened(small()[1])["To order"])]
    assert [row for row in rows if row] == [
        ["Devices, by part type (4 devices, no spares in it)"],
        ["device", "to order", "for", "hot tab to break", "instead of one not made"],
        ["5-15R duplex, unmarked", 1, "Q1, by the door, store", 1, 0],
        ["5-15R single, marking not settled", 1, "S1, at the desk, store", 0, 0],
        ["5-20R duplex, marked as controlled on upper half", 1, "G1, at the sink, shop floor", 1, 1],
        [
            "5-20R duplex, tamper-resistant, marked as controlled on upper half",
            *(1, "R1, north wall, shop floor", 1, 0),
        ],
        ["in all", 4, 3, 1],
        [
            "The mark is made by the maker of the device. A sticker only where the authority accepts it in writing "
            "(common practice, no source)."
        ],
        ["Controls, by kind and rating"],
        ["control", "to order", "for"],
        ["ceiling sensor and relay, at least 20 A, may feed receptacles: permitted", 1, "shop sensor"],
        ["Circuits that share a yoke (one throw has to open them all)"],
        ["circuits", "device, and what is ruled"],
        ["P/1 and P/3", "Q1, by the door, store: not satisfied [R30]"],
    ]


def test_the_last_sheet_has_refusals_basis_and_cautions() -> None:
    rows = [[cell for cell in row if cell is not None] for row in rows_of(opened(small()[1]).worksheets[-1])]
    assert [row for row in rows if row] == [
        ["Refused: nothing was ruled on these"],
        ["shop.yaml:3:5: `Ampere` is not a unit"],
        ["What this is of"],
        ["project", "Invented shop"],
        ["file", "shop.yaml"],
        ["place", "City of Brindle Falls"],
        ["permit application", "2024-10-15"],
        ["law in force", "Electrical: National Electrical Code, 2023 edition, with BF-1"],
        ["digest of the law", "a1"],
        ["digest of the record", "b2"],
        ["digest of the rulings", "c3"],
        ["Do not plug in where a control takes the power away"],
        ["security (security equipment): ask the authority; rests on memory [R50]"],
        ["refrigeration (refrigerator): move to always-on [R51]"],
        ["On the lines of the schedule, from memory"],
        ["shop sensor", "not satisfied - it is too small; rests on memory [R12] Must this receptacle be marked?"],
        ["What the numbers of rulings ask that the schedule is not sure of"],
        ["R03", "Must this receptacle be marked?"],
        ["Cautions"],
        ["Line voltage can kill."],
    ]


def test_it_is_set_up_for_print() -> None:
    for sheet in opened(small()[1]).worksheets:
        assert (sheet.page_setup.orientation, sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight) == (
            *("landscape", 1, 0),
        )
        assert sheet.sheet_properties.pageSetUpPr.fitToPage
        assert sheet.oddFooter.right.text == "Page &P of &N"
        assert sheet.oddHeader.left.text == "Marking schedule: Invented shop"
    first = opened(small()[1]).worksheets[0]
    assert (first.freeze_panes, first.print_title_rows, first.auto_filter.ref) == ("A2", "$1:$1", "A1:J5")


def test_no_text_is_a_formula_whatever_the_project_calls_its_rooms() -> None:
    check_no_formula(opened(small()[1]))
    for start in ("=", "+", "-", "@", "\\t", "\\r"):
        graph = shop(
            SHOP.replace("name: shop floor", f'name: "{start}cmd|x!A1"').replace("location: north", "location: =n")
        )
        schedule = marking_schedule(marking(graph), [graph], book(), KEEP_OFF)
        check_no_formula(opened(as_xlsx(data.report(*marking(graph)), schedule)))


def test_two_runs_give_the_same_bytes_and_no_moment_is_in_them(monkeypatch: pytest.MonkeyPatch) -> None:
    schedule, first = small()
    report = filed(*everything(shop()))
    monkeypatch.setattr("time.time", lambda: 2_000_000_000.0)
    assert as_xlsx(report, schedule) == first
    with zipfile.ZipFile(io.BytesIO(first)) as packed:
        assert {part.date_time for part in packed.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        assert not re.search(rb"\d\d:\d\d:\d\dZ", b"".join(packed.read(part) for part in packed.infolist()))


def test_no_ruling_on_marks_is_said() -> None:
    schedule = marking_schedule([], [shop()], book(), KEEP_OFF)
    sheet = opened(as_xlsx(data.report(), schedule)).worksheets[0]
    assert sheet["C2"].value == "No line: no document in force rules on the mark of a receptacle given here."


# ---- texts that look like something else -----------------------------------------------------------------------------

LIKE_OTHERS = st.one_of(
    st.from_regex(r"[-+=@]?0*[0-9]{1,12}([.][0-9]{1,6})?([eE][-+]?[0-9]{1,3})?%?", fullmatch=True),
    st.from_regex(r"[0-9]{1,4}[-/.][0-9]{1,2}([-/.][0-9]{1,4})?( [0-9]{1,2}:[0-9]{2})?", fullmatch=True),
    st.from_regex(r"[=+@-][A-Z]{1,3}[0-9]{1,3}([-+*/&!][A-Za-z0-9]{1,4})*", fullmatch=True),
    st.sampled_from(
        ["TRUE", "FALSE", "N/A", "#N/A", "#REF!", "1,3", "1.234,5", "$20", "(7)", "'7", "Jan-5", "_x0041_"]
    ),
    st.text(st.characters(exclude_categories=("Cs", "Cc")), min_size=1, max_size=30),
)


@given(st.lists(LIKE_OTHERS, min_size=1, max_size=20))
@example(
    ["210.10", "007", "3E5", "=1+1", "_x005F_", "_x000D_", "a\r\nb", "+1", "-1", "@A1", "2024-10-15", " x", "a\nb"]
)
@settings(max_examples=40, deadline=None)
def test_a_text_comes_back_letter_for_letter(texts: list[str]) -> None:
    made = new_workbook()
    add_table(made, "T", "T", [Column("text", 20)], [[text] for text in texts])
    sheet = opened(as_bytes(made)).worksheets[0]
    back = [sheet.cell(row, 1) for row in range(2, len(texts) + 2)]
    assert [as_meant(cell.value) for cell in back] == texts
    assert {(cell.data_type, cell.number_format) for cell in back} == {("s", "@")}


#: Blanks that do not break are read as blanks, and signs that nobody sees are refused.
COPIED = set("\xa0\u2007\u202f\xad\u200b\u2060\ufeff")


@given(
    st.lists(
        LIKE_OTHERS.filter(lambda text: not COPIED & {*text}),
        min_size=1,
        max_size=10,
        unique_by=lambda text: text.strip(),
    )
)
@settings(max_examples=15, deadline=None)
def test_an_id_in_a_text_cell_is_taken_letter_for_letter(texts: list[str]) -> None:
    made = new_workbook()
    rows = [(text, "5-15R", "Y", 120, 20, "x") for text in texts]
    add_table(made, "Devices", "T", [Column(head, 9) for head in HEADER], rows)
    no_name = ("", "n/a", "-", "tbd")
    good, faults, _ = read(as_bytes(made))
    assert faults == []
    assert good == [
        f"row {row}" if text.strip().casefold() in no_name else text.strip() for row, text in enumerate(texts, start=2)
    ]


def test_what_a_cell_cannot_hold_is_replaced_and_a_long_text_says_that_it_was_cut() -> None:
    made = new_workbook()
    add_table(made, "T", "T", [Column("text", 20)], [["bell\x07 half\ud800 \ufffe"], ["x" * 40_000]])
    first, second = (opened(as_bytes(made)).worksheets[0].cell(row, 1).value for row in (2, 3))
    assert first == "bell\ufffd half\ufffd \ufffd"
    assert len(second) == 32_767
    assert second.endswith("x... (longer than a cell can hold)")


# ---- the command -----------------------------------------------------------------------------------------------------

DEVICES = """\
project: {name: Booth, place: demo/tamarisk/brindle-falls, dates: {permit application: 2024-10-15}}
complete: yes
spaces:
  - id: b
    name: booth
    use: private office
    occupancy: office
    yokes:
      - id: R1
        configuration: 5-20R
        device_type: single
        contacts:
          - {id: only, position: only, supply: controlled, circuit: A/1, controls: [C1], load: none}
controls: [{id: C1, kind: wall-box sensor, turns_off_by: presence, amps: 15, wired_loads: []}]
circuits: [{id: A/1, breaker_amps: 20, volts: 120}]
"""


def test_rulings_as_a_workbook(command: Command, tmp_path: Path) -> None:
    project, out = tmp_path / "p.yaml", tmp_path / "r.xlsx"
    project.write_text(DEVICES, encoding="utf-8")
    lines = command("rule", project, "--format", "jsonl").lines
    ran = command("rule", project, "--format", "xlsx", "--output", out)
    words = [line["word"] for line in lines if "word" in line]
    assert (ran.out, ran.err) == ("", "")
    made = opened(out)
    check_no_formula(made)
    assert made.sheetnames == ["Findings", "To find out", "Settled", "Devices", "Cautions and basis"]
    rows = rows_of(made["Findings"])[1:] + rows_of(made["Settled"])[1:]
    assert len(rows) == len(words) > 10  # nothing is left out
    asked = {(line["ruling"], line["subject"]["id"]): line["word"] for line in lines if "word" in line}
    for row in rows_of(made["Findings"])[1:]:
        assert row[4].startswith(asked[row[1], row[6]]), row
    assert [row[3] for row in rows_of(made["Devices"])[1:]] == ["b/R1"]
    basis = {row[0]: row[1] for row in rows_of(made["Cautions and basis"]) if row[0]}
    assert basis["place"] == "City of Brindle Falls (invented)"
    assert basis["permit application"] == "2024-10-15"
    assert re.fullmatch("[0-9a-f]{64}", basis["digest of the law"].rpartition(":")[2])
    before = out.read_bytes()
    assert command("rule", project, "--format", "xlsx", "--output", out).status == ran.status
    assert out.read_bytes() == before


def test_a_decision_table_as_a_workbook(command: Command, tmp_path: Path) -> None:
    law = ("--place", "demo/tamarisk/brindle-falls", "--on", "2024-10-15")
    ran = command("table", "R03", *law, "--format", "xlsx", "--output", tmp_path / "t.xlsx")
    assert (ran.status, ran.out, ran.err) == (0, "", "")
    made = opened(tmp_path / "t.xlsx")
    check_no_formula(made)
    assert made.sheetnames[0] == "Read this first"
    first = [row[1] for row in rows_of(made.worksheets[0]) if row[1]]
    assert first[0].startswith("This workbook is for reading. The law is written in the YAML files of the rulebook")
    head, *rows = rows_of(made.worksheets[1])
    assert head[0] == "rule"
    assert head[-4:] == ["but not", "outcome", "section", "note"]
    in_text = command("table", "R03", *law, "--format", "md").out.splitlines()
    table = [line.strip("| ").split(" | ") for line in in_text if line.startswith("| ")]
    assert [name.replace(".\n", ".") for name in head[1:-1]] == [cell.strip() for cell in table[0]][1:-3]
    plain = [[re.sub(r"[`*]", "", cell.strip()) or None for cell in line] for line in table[2:]]
    assert [row[1:] for row in rows] == [[*line[1:-3], line[-1]] for line in plain]
    assert [row[0] for row in rows] == [*(line[0] for line in plain[:-1]), "no rule"]
    checked = rows_of(made["How each rule is checked"])
    assert checked[1] == ["rule", "section", "checked", "how it came about"]
    assert checked[2:] == [[name, *line[-4:-1]] for (name, *_), line in zip(rows, plain, strict=True)]


BAD_OPTIONS = {
    "no file": (
        ("schedule", "--demo", "--format", "xlsx"),
        "yokebook: a workbook is not for a terminal; name a file with --output\n",
    ),
    "no folder": (
        ("table", "R03", "--edition", "nfpa-70:2023", "--format", "xlsx", "--output", "none/t.xlsx"),
        "yokebook: cannot write `none/t.xlsx`: No such file or directory\n",
    ),
    "no mapping": (
        ("rule", "s.xlsx"),
        "yokebook: `s.xlsx` is a schedule; --mapping names the file that says what its columns mean\n",
    ),
}


@pytest.mark.parametrize(("argv", "told"), BAD_OPTIONS.values(), ids=BAD_OPTIONS)
def test_options_that_do_not_go_together(
    command: Command, argv: tuple[str, ...], told: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(sys.stdout, "isatty", lambda: True)
    ran = command(*argv)
    assert (ran.status, ran.out, ran.err) == (2, "", told)


def test_the_library_missing_is_told_with_what_to_install(command: Command, tmp_path: Path) -> None:
    missing = ModuleNotFoundError("No module named 'openpyxl'", name="openpyxl")

    def cannot(*_: object) -> bytes:
        raise missing

    import yokebook_adapters.spreadsheet.tables as tables

    command.monkeypatch.setattr(tables, "as_xlsx", cannot)
    ran = command("table", "R03", "--edition", "nfpa-70:2023", "--format", "xlsx", "--output", tmp_path / "t.xlsx")
    assert (ran.status, ran.err) == (
        2,
        "yokebook: workbooks need the library openpyxl: pip install 'yokebook[spreadsheet]'\n",
    )

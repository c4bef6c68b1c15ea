"""Files that go through a real spreadsheet program: what it saves is read, what is written here it reads back.

Slow, because the program takes a second or two for each file. `.ci/run` installs it.
"""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from pypdf import PdfReader

import ruling_data as data
import yokebook
from front_door.small_book import BOOK
from outputs.small_shop import KEEP_OFF, SHOP, everything, shop
from shipped_book import book
from spreadsheet.demo_workbook import DEMO, WORKBOOK
from spreadsheet.program import READ_CSV, WRITE_CSV, XLSX, Program, installed
from spreadsheet.workbooks import HEADER, RECORDS, read, workbook
from yokebook_adapters.command_line.main import main
from yokebook_adapters.marking_schedule import marking_schedule
from yokebook_adapters.schedule_mapping import read_mapping
from yokebook_adapters.schedule_reading import read_schedule
from yokebook_adapters.spreadsheet import rulings, tables
from yokebook_adapters.spreadsheet.marking_schedule import as_xlsx
from yokebook_adapters.spreadsheet.reading import as_meant
from yokebook_adapters.spreadsheet.writing import Column, add_table, as_bytes, new_workbook

pytestmark = [pytest.mark.slow, pytest.mark.skipif(not installed(), reason="LibreOffice is not installed")]


@pytest.fixture(scope="module")
def program(tmp_path_factory: pytest.TempPathFactory) -> Program:
    return Program(tmp_path_factory.mktemp("profile"))


def opened(file: Path) -> Any:
    return openpyxl.load_workbook(file)


# ---- files that the program saves ------------------------------------------------------------------------------------

MARKS = [
    "007",
    "3E5",
    "210.10",
    "=1+1",
    "R1",
    "1-2",
    "1/2",
    "12",
    "TRUE",
    "2024-10-15",
    "N/A",
    "-5",
    "1,3",
    "0x1F",
    "5%",
]


def as_csv(rows: list[list[str]]) -> bytes:
    out = io.StringIO()
    csv.writer(out, lineterminator="\r\n").writerows(rows)
    return b"\xef\xbb\xbf" + out.getvalue().encode()


@pytest.fixture(scope="module")
def imported(program: Program, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A device schedule with a title that somebody opened from CSV and saved as a workbook, every trap in it."""
    folder = tmp_path_factory.mktemp("imported")
    rows = [["Copper Kettle Block"] + [""] * 5, list(HEADER)]
    rows += [[mark, "5-15R", "Y", "=10*12", "20", "=1+1"] for mark in MARKS]
    rows += [["R2", "N/A", "", "1,200.5", "TBD", ""], ["R3", "5-15R", "TRUE", "12%", "20", ""]] + [[""] * 6] * 40
    (folder / "devices.csv").write_bytes(as_csv(rows))
    return program.convert(folder / "devices.csv", XLSX, folder / "out", READ_CSV)


def test_every_row_that_the_program_saved_is_read_or_refused_and_no_id_is_changed(imported: Path) -> None:
    notes: list[str] = []
    mapping = read_mapping((RECORDS + "header_row: 2\n").encode(), BOOK)
    good, faults = read_schedule(imported, mapping, BOOK, notes=notes)
    names = [name for name, _ in good]
    in_rows = {f"row {row}" for row in range(3, 3 + len(MARKS) + 2)}
    refused = {fault.at for fault in faults}
    kept = [mark for mark in MARKS if mark in names]
    # each row is either kept under the very mark that was typed, or named by a fault; `N/A` gives a row no mark
    assert {f"A{3 + MARKS.index(mark)}" for mark in MARKS if mark not in (*kept, "N/A")} == {
        str(at).rpartition("!")[2].partition(",")[0] for at in refused if ", column `Mark`" in str(at)
    }
    assert set(names) <= {*MARKS, "R2", *in_rows}
    for mark in ("R1", "1-2", "R2"):
        assert mark in names
    for mark in ("007", "3E5", "210.10", "=1+1", "12", "-5"):
        assert mark not in names
    assert not {"7", "300000", "210.1", "2", "1", "3"} & set(names)
    told = "\n".join(map(str, faults))
    at = f"{imported}:devices!"
    assert f"{at}A3, column `Mark`: `7` is a number here, and whether a zero before it" in told
    assert f"{at}A4, column `Mark`: `300000` is a number here, and whether a zero before it, or an E as in 3E5" in told
    assert f"{at}A5, column `Mark`: `210.1` is a number here, and whether a zero at its end" in told
    assert f"{at}A6, column `Mark`: `=1+1` is a formula, and no id is taken from one" in told
    areas = {name: graph.find(f"{name}/space").given.get("space.area_sq_ft") for name, graph in good}
    assert areas["R1"] == 120  # what the formula came to
    assert any(note.startswith(f"{imported}:devices: column `Area` has formulas") for note in notes)


PROGRAM_S_OWN = """\
rows: record
columns: {Mark: receptacle.name, Listed: control.listed_for.receptacle_loads, Amps: circuit.breaker_amps}
leave_out: others
"""


def test_what_the_program_writes_for_yes_no_dates_and_errors(program: Program, tmp_path: Path) -> None:
    rows = [("Mark", "Listed", "Amps"), ("R1", True, "=2*10"), ("R2", "=TRUE()", "=1/0"), ("R3", "=1=2", 20)]
    (tmp_path / "own.xlsx").write_bytes(workbook(*rows))
    saved = program.convert(tmp_path / "own.xlsx", XLSX, tmp_path / "out")
    good, faults, notes = read(saved.read_bytes(), PROGRAM_S_OWN)
    assert good == ["row 2", "row 4"]
    assert faults == ["s.xlsx:Devices!C3, column `Amps`: the cell holds the error `#DIV/0!`; allowed: a number"]
    assert notes == [
        "s.xlsx:Devices: column `Amps` has formulas, taken by what they last came to: C2",
        "s.xlsx:Devices: column `Listed` has formulas, taken by what they last came to: B4",
    ]


def words_of(tmp_path: Path, schedule: Path, mapping: Path) -> tuple[int, Any]:
    out = tmp_path / "rulings.xlsx"
    argv = ["rule", schedule, "--mapping", mapping, "--question", "R03", "--format", "xlsx", "--output", out]
    status = main([str(each) for each in argv])
    made = opened(out)
    return status, [[cell.value for cell in row] for title in made.sheetnames[:-1] for row in made[title].iter_rows()]


def test_the_demo_rules_the_same_once_the_program_has_saved_it(program: Program, tmp_path: Path) -> None:
    mapping = DEMO / "brindle-falls-workbook.mapping.yaml"
    saved = program.convert(WORKBOOK, XLSX, tmp_path / "out")
    expected = words_of(tmp_path, WORKBOOK, mapping)
    assert words_of(tmp_path, saved, mapping) == expected
    # as CSV, sheet by sheet, merged cells are blank below the first
    program.convert(WORKBOOK, WRITE_CSV, tmp_path / "csv")
    devices = tmp_path / "csv" / f"{WORKBOOK.stem}-Devices.csv"
    in_csv = mapping.read_text(encoding="utf-8").replace(
        "sheet: Devices\n", "fill_down: [Room, Room use, Area (sq ft)]\n"
    )
    in_csv = in_csv.replace("sheets: [LP-3]", f"files: [{WORKBOOK.stem}-LP-3.csv]")
    (tmp_path / "csv" / "m.yaml").write_text(in_csv, encoding="utf-8")
    assert words_of(tmp_path, devices, tmp_path / "csv" / "m.yaml") == expected


# ---- files that are written here -------------------------------------------------------------------------------------

TEXTS = [
    *(
        "007",
        "3E5",
        "210.10",
        "=1+1",
        "+1",
        "-1",
        "@SUM(1)",
        "TRUE",
        "2024-10-15",
        "1/2",
        "1-2",
        "5%",
        "1,3",
        "$5",
        "'7",
    ),
    *("=cmd|' /C calc'!A0", '=HYPERLINK("http://example.invalid")', " leading", "trailing ", "two\nlines", "\ttab"),
    *("_x0041_", "_x005F_", "ünïcödé ≤ ½", '"quoted", and more', "x" * 5_000, "#REF!", "#N/A", "0x1F", "1E-5", "٣"),
]


@pytest.fixture(scope="module")
def texts_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = new_workbook()
    add_table(made, "Texts", "Texts", [Column("text", 20), Column("number", 9)], [[t, i] for i, t in enumerate(TEXTS)])
    file = tmp_path_factory.mktemp("texts") / "texts.xlsx"
    file.write_bytes(as_bytes(made))
    return file


def test_the_program_reads_every_text_letter_for_letter(program: Program, texts_file: Path, tmp_path: Path) -> None:
    with program.convert(texts_file, WRITE_CSV, tmp_path).open(encoding="utf-8", newline="") as stream:
        rows = list(csv.reader(stream))
    assert rows == [["text", "number"], *([text, str(index)] for index, text in enumerate(TEXTS))]


def test_texts_stay_text_and_numbers_numbers_once_the_program_has_saved_them(
    program: Program, texts_file: Path, tmp_path: Path
) -> None:
    sheet = opened(program.convert(texts_file, XLSX, tmp_path)).worksheets[0]
    cells = [(sheet.cell(row, 1), sheet.cell(row, 2)) for row in range(2, len(TEXTS) + 2)]
    # openpyxl drops the sign of an escape where it stands alone in a shared text, as this program writes texts
    assert [as_meant(text.value) for text, _ in cells] == [text.replace("_x005F_", "_") for text in TEXTS]
    assert {(text.data_type, text.number_format) for text, _ in cells} == {("s", "@")}
    assert [(number.value, number.data_type) for _, number in cells] == [(index, "n") for index in range(len(TEXTS))]


def small_schedule() -> bytes:
    renamed = SHOP.replace("name: shop floor", 'name: "=SHOP(1)"')
    graph = shop(renamed.replace("location: north wall", 'location: "007"'))
    schedule = marking_schedule(everything(graph), [graph], book(), KEEP_OFF)
    return as_xlsx(replace(data.report(*everything(graph)), digests=lambda: {"law": "3E5"}), schedule)


def small_rulings() -> bytes:
    report = data.report(*everything(shop()))
    questions = {**book().questions, **report.questions}  # the small shop has some of its own
    return rulings.as_xlsx(replace(report, questions=questions))


def a_table() -> bytes:
    code = yokebook.Rulebook(book()).in_force("demo/tamarisk/brindle-falls", on="2024-10-15")
    _, law = code.table("marking.required", "electrical")
    return tables.as_xlsx([(law.resolved, "marking.required")], book())


@pytest.mark.parametrize("make", [small_schedule, small_rulings, a_table])
def test_what_is_written_goes_through_the_program_without_loss(
    program: Program, tmp_path: Path, make: Callable[[], bytes]
) -> None:
    file = tmp_path / "made.xlsx"
    file.write_bytes(make())
    saved = opened(program.convert(file, XLSX, tmp_path / "out"))
    written = opened(file)
    assert saved.sheetnames == written.sheetnames
    for sheet in written.worksheets:
        after = saved[sheet.title]
        before = {cell.coordinate: kept(cell) for row in sheet.iter_rows() for cell in row if cell.value is not None}
        assert before
        assert before == {name: kept(after[name]) for name in before}
        assert before.keys() == {cell.coordinate for row in after.iter_rows() for cell in row if cell.value is not None}
        page = after.page_setup
        assert (page.orientation, page.fitToWidth, page.fitToHeight) == ("landscape", 1, 0)
        assert after.sheet_properties.pageSetUpPr.fitToPage
        # without a window the program keeps no view of a sheet, and with it no frozen head
        assert after.print_title_rows == sheet.print_title_rows
        assert re.search(r"&P.*&N", after.oddFooter.right.text)


def kept(cell: Any) -> tuple[Any, str, str]:
    """What must not change in a cell."""
    return as_meant(cell.value) if isinstance(cell.value, str) else cell.value, cell.data_type, cell.number_format


def test_the_printed_schedule_has_every_line_on_pages_with_their_numbers(program: Program, tmp_path: Path) -> None:
    graph = shop()
    schedule = marking_schedule(everything(graph), [graph], book(), KEEP_OFF)
    file = tmp_path / "schedule.xlsx"
    file.write_bytes(as_xlsx(data.report(*everything(graph)), schedule))
    printed = program.convert(file, "pdf", tmp_path / "out").read_bytes()
    assert printed.startswith(b"%PDF-")
    boxes = re.findall(rb"/MediaBox\s*\[([^\]]*)\]", printed)
    sizes = [tuple(map(float, box.split()[2:4])) for box in boxes]
    assert len(sizes) >= 3  # one for each sheet at least
    assert all(width > height for width, height in sizes)


@pytest.mark.parametrize("make", [small_schedule, small_rulings, a_table])
def test_what_is_printed_is_in_letters_of_eight_points_and_more(
    program: Program, tmp_path: Path, make: Callable[[], bytes]
) -> None:
    file = tmp_path / "made.xlsx"
    file.write_bytes(make())
    sizes: Counter[float] = Counter()

    def letters_of(text: str, at: list[float], text_at: list[float], _: object, size: float) -> None:
        sizes[size * abs(text_at[3]) * abs(at[3])] += len(text.strip())

    for page in PdfReader(program.convert(file, "pdf", tmp_path / "out")).pages:
        page.extract_text(visitor_text=letters_of)
    assert sum(sizes.values()) > 1_000
    assert {size for size, letters in sizes.items() if letters and size < 7.95} == set()

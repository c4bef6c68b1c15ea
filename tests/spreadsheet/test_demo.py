"""The demo's workbook: it holds what the demo's CSV file holds, and the same is ruled of both."""

from __future__ import annotations

import csv
import io
import json
import zipfile
from pathlib import Path
from typing import Any

import jsonschema
import openpyxl
from referencing import Registry, Resource

from command_line.running import Command
from spreadsheet import demo_workbook
from spreadsheet.demo_workbook import CSV_FILE, DEMO, WORKBOOK
from yokebook.load.files import read_bytes
from yokebook.load.nodes import plain_data
from yokebook.shipped import folder

MAPPING = DEMO / "brindle-falls-workbook.mapping.yaml"
OF_CSV = DEMO / "brindle-falls-devices.mapping.yaml"


def parts(data: bytes) -> dict[str, bytes]:
    with zipfile.ZipFile(io.BytesIO(data)) as packed:
        return {part.filename: packed.read(part) for part in packed.infolist()}


def test_the_shipped_workbook_is_what_its_script_makes() -> None:
    """What is packed, for how tightly depends on the machine."""
    assert parts(WORKBOOK.read_bytes()) == parts(demo_workbook.made())


def test_it_holds_what_the_csv_holds() -> None:
    book: Any = openpyxl.load_workbook(WORKBOOK)
    devices, panel = book["Devices"], book["LP-3"]
    for merged in list(devices.merged_cells.ranges):
        value = devices.cell(merged.min_row, merged.min_col).value
        devices.unmerge_cells(str(merged))
        for row in range(merged.min_row, merged.max_row + 1):
            devices.cell(row, merged.min_col).value = value
    head, *rows = [
        ["" if cell.value is None else str(cell.value) for cell in row] for row in devices.iter_rows(min_row=4)
    ]
    trips: dict[str, str] = {}
    for row in panel.iter_rows(min_row=6, values_only=True):
        trips |= {f"LP-3/{row[0]}": str(row[2]), f"LP-3/{row[7]}": str(row[5])}
    found = []
    for row in rows:
        cells = dict(zip(head, row, strict=True))
        circuit = f"{cells.pop('Panel')}/{cells.pop('Ckt')}"
        found.append(cells | {"Circuit": circuit, "Breaker": trips[circuit]})
    with CSV_FILE.open(encoding="utf-8", newline="") as stream:
        assert found == list(csv.DictReader(stream))


def rulings(command: Command, *argv: Any) -> tuple[int, str, list[dict[str, Any]]]:
    """Status, messages and rulings, without where the subjects stand in files."""
    asked = [part for question in ("R03", "R06", "R12", "R18") for part in ("--question", question)]
    ran = command("rule", *argv, *asked, "--format", "jsonl")
    lines = [{key: value for key, value in line.items() if key not in ("at", "file")} for line in ran.lines]
    return ran.status, ran.err, lines


def test_the_same_is_ruled_of_the_workbook_and_the_csv(command: Command) -> None:
    of_csv = rulings(command, CSV_FILE, "--mapping", OF_CSV)
    assert rulings(command, WORKBOOK, "--mapping", MAPPING) == of_csv
    assert len([line for line in of_csv[2] if "word" in line]) > 20


def test_a_workbook_on_standard_input(command: Command) -> None:
    lines = command("rule", WORKBOOK, "--mapping", MAPPING, "--question", "R03", "--format", "jsonl").lines
    ran = command(
        "rule", "-", "--mapping", MAPPING, "--question", "R03", "--format", "jsonl", stdin=WORKBOOK.read_bytes()
    )
    assert ran.err == ""
    assert [line.get("word") for line in ran.lines] == [line.get("word") for line in lines]


def test_what_is_hidden_is_said_on_standard_error_and_changes_nothing(command: Command, tmp_path: Path) -> None:
    book = openpyxl.load_workbook(WORKBOOK)
    book["Devices"].row_dimensions[6].hidden = True
    book.save(tmp_path / "s.xlsx")
    ran = command("rule", tmp_path / "s.xlsx", "--mapping", MAPPING, "--question", "R03", "--format", "jsonl")
    assert ran.err == f"yokebook: note: {tmp_path}/s.xlsx:Devices: hidden, and read like the others: row 6\n"
    assert len([line for line in ran.lines if "word" in line]) == 8


def test_the_mapping_keeps_the_schema() -> None:
    read = {n: json.loads((folder("schemas") / f"{n}.schema.json").read_text()) for n in ("mapping", "project")}
    registry = Registry().with_resource("project.schema.json", Resource.from_contents(read["project"]))
    schema = jsonschema.Draft202012Validator(read["mapping"], registry=registry)
    node = read_bytes(MAPPING.read_bytes(), "mapping.yaml", [])
    assert node is not None
    assert [error.message for error in schema.iter_errors(plain_data(node))] == []

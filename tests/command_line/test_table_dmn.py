"""`yokebook table --format dmn`: one table, and only one that first match reads rightly."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from pathlib import Path

from command_line.running import Command
from proof.clean_book import ACTS, planted, written

NAMES = {"d": "https://www.omg.org/spec/DMN/20230324/MODEL/"}


def test_one_table(command: Command) -> None:
    ran = command("table", "marking.required", "--edition", "nfpa-70:2023", "--format", "dmn")
    assert ran.status == 0
    table = ET.fromstring(ran.out).find(".//d:decisionTable", NAMES)
    assert table is not None and table.get("hitPolicy") == "FIRST"
    outcomes = [entry.text for entry in table.iterfind("d:rule/d:outputEntry/d:text", NAMES)]
    # the exception stands first, what holds where nothing fires stands last
    assert (outcomes[0], outcomes[-1]) == ('"not required"', '"not required"')
    assert set(outcomes[1:-1]) == {'"required"'}


def test_a_table_in_conflict_is_refused(command: Command, tmp_path: Path) -> None:
    book = written(tmp_path, planted(ACTS, "    exception_to: [sensor]\n", ""))
    ran = command("table", "control.acts", "--edition", "code:2014", "--rulebook", book, "--format", "dmn")
    assert (ran.status, ran.out) == (3, "")
    assert ran.err == (
        "yokebook: `control.acts` cannot be a first-match table: its rules are in conflict, and the first row that "
        "matches would hide it\n"
        "- `control.acts#button` says manual and `control.acts#sensor` says automatic of the same record, and neither "
        "prevails\n"
    )


def test_one_file_holds_one_table(command: Command) -> None:
    ran = command("table", "R22", "--edition", "nfpa-70:2023", "--format", "dmn")
    assert (ran.status, ran.out) == (2, "")
    means = "which-half.controlled of the electrical document, which-half.satisfied of the electrical document"
    assert ran.err == f"yokebook: DMN holds one table a file; `R22` means {means}; name one, with --document\n"

"""A ruling that comes to the same in several ways: none of them is told on paper as the one, and nothing that nobody
said as a fact. And pages are the same bytes whatever order Python keeps sets in."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import yokebook
from pages.reading import fingerprint, parse, tables, text_of
from yokebook_adapters.building import make_report
from yokebook_adapters.pages.ruling_sheet import ruling_sheet

#: A wall switch in a living room. Not said: how the room is lit. With no light of its own the exception for it excuses
#: the mark, with one nothing asks for a mark.
LIVING: dict[str, Any] = {
    "project": {"name": "Flat", "place": "demo/tamarisk", "dates": {"permit application": "2024-10-15"}},
    "spaces": [
        {
            "id": "living", "occupancy": "dwelling", "use": "living room",
            "yokes": [
                {
                    "id": "R1", "configuration": "5-15R", "built_in_control": False,
                    "contacts": [
                        {"id": "upper", "supply": "controlled", "controls": ["S1"], "complete": {"controls": True}},
                    ],
                }
            ],
        }
    ],
    "controls": [{"id": "S1", "kind": "snap switch", "turns_off_by": "person"}],
}  # fmt: skip


def _full(project: dict[str, Any], *questions: str) -> str:
    rulebook = yokebook.load()
    code = rulebook.in_force(place="demo/tamarisk", dates=project["project"]["dates"])
    return ruling_sheet(make_report("flat.yaml", [code.rule_project(project, list(questions))], rulebook), full=True)


def test_a_way_to_the_outcome_is_not_told_as_the_reason() -> None:
    root = parse(_full(LIVING, "marking.required"))
    [rows] = [rows for caption, rows in tables(root).items() if caption.startswith("Rules tried for R03")]
    did = {row["Rule"]: row["Here"] for row in rows}
    assert did["lighting-exception"] == "may decide"
    assert "decides" not in did.values()
    assert "stands in" in text_of(root)
    assert "not settled, and the outcome is the same either way" in text_of(root)


def test_a_reason_that_stands_either_way_decides() -> None:
    """A sensor in an office: whatever is plugged in, one rule asks for the mark, and the other questions follow."""
    office = json.loads(json.dumps(LIVING))
    office["spaces"][0] |= {"occupancy": "office", "use": "private office"}
    office["controls"][0] |= {"kind": "wall-box sensor", "turns_off_by": "presence"}
    root = parse(_full(office, "marking.required", "ordinary.permitted", "marking.form"))
    found = {caption.split(",")[0]: rows for caption, rows in tables(root).items() if caption.startswith("Rules tried")}
    decided = {caption: [row["Rule"] for row in rows if row["Here"] == "decides"] for caption, rows in found.items()}
    assert decided == {
        "Rules tried for R03": ["automatic"], "Rules tried for R06": ["form"], "Rules tried for R08": ["marked"],
    }  # fmt: skip
    assert "may decide" not in text_of(root) and "not settled, and" not in text_of(root)


def test_the_short_sheet_says_who_holds_otherwise_once() -> None:
    """Beside the outcome what is held, under Readings who holds it."""
    rulebook = yokebook.load()
    code = rulebook.in_force(place="demo/tamarisk", dates=LIVING["project"]["dates"])
    report = make_report("flat.yaml", [code.rule_project(LIVING, ["marking.required"])], rulebook)
    [held] = report.rulings[0]["also_held"]
    html = ruling_sheet(report)
    assert html.count(held["says"].rstrip(".")) == 2
    assert html.count(held["holders"]) == 1


def test_a_sheet_without_what_would_change_it_says_so_and_does_not_work_it_out() -> None:
    """It takes most of the time. An empty column would say that nothing would."""
    rulebook = yokebook.load()
    code = rulebook.in_force(place="demo/tamarisk", dates=LIVING["project"]["dates"])
    report = make_report("flat.yaml", [code.rule_project(LIVING, ["marking.required"])], rulebook)

    def none(ruling: object) -> list[Mapping[str, Any]]:
        raise AssertionError("it was worked out")

    told = "What would change a finding was not worked out for this sheet."
    for full in (False, True):
        assert told in ruling_sheet(replace(report, would_change=none), full=full, changes=False)
        assert told not in ruling_sheet(report, full=full)


#: Pages of a project, one after the other.
MAKING = """
import sys
from yokebook_adapters.command_line.main import main
for argv in (["rule", "--full"], ["schedule"], ["authority"]):
    main([argv[0], sys.argv[1], *argv[1:], "--format", "html"])
"""


def test_pages_are_the_same_whatever_order_sets_are_kept_in(tmp_path: Path) -> None:
    """Made twice by programs whose hashes differ."""
    file = tmp_path / "flat.json"
    file.write_text(json.dumps(LIVING), encoding="utf-8")
    made = []
    for seed in ("1", "2"):
        environment = os.environ | {"PYTHONHASHSEED": seed, "PYTHONPATH": os.pathsep.join(sys.path)}
        command = [sys.executable, "-c", MAKING, str(file)]
        made.append(subprocess.run(command, capture_output=True, check=True, env=environment, text=True).stdout)
    for title in ("Ruling sheet", "Marking schedule", "Questions for the authority"):
        assert f"<title>{title}: Flat</title>" in made[0]
    assert fingerprint(made[0]) == fingerprint(made[1])

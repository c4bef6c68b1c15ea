"""`yokebook rule` and `yokebook explain` on tables: what is written, what is told, and the exit status."""

from __future__ import annotations

import builtins
import json
import sys
from pathlib import Path
from typing import Any

import duckdb
import pytest

import yokebook
from columns.devices import COLUMNS, write
from command_line.running import Command, Ran
from yokebook_adapters.columns.on_duckdb import Run

LAW = ("--edition", "nfpa-70:2014")

SCHEDULE = """\
mark,receptacle.configuration,contact.supply,receptacle.built_in_control,control.turns_off_by,space.use
a,5-20R,always on,no,,private office
b,5-20R ,controlled,yes,,N/A
c,5-99R,controlled,maybe,person,kitchen
d,L5-20R,always on,no,,kitchen
e,5-99R,always on,no,,kitchen
"""


@pytest.fixture
def command(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path) -> Command:
    monkeypatch.chdir(tmp_path)
    Path("devices.csv").write_text(SCHEDULE, encoding="utf-8")
    return Command(monkeypatch, capsys)


def ruled(command: Command, *more: str) -> Ran:
    return command("rule", "devices.csv", "--question", "R03", *LAW, *more)


class TestWhatIsWritten:
    def test_every_row_in_order_with_the_columns_that_are_added(self, command: Command):
        ran = ruled(command, "--format", "jsonl")
        rows = ran.lines
        assert [row["mark"] for row in rows] == ["a", "b", "c", "d", "e"]
        assert [row["ruling.row"] for row in rows] == [2, 3, 4, 5, 6]
        assert [row["ruling.outcome"] for row in rows] == [
            "not required", "cannot tell", "refused", "not required", "refused",
        ]  # fmt: skip
        assert [row["ruling.by"] for row in rows] == ["columns", "evaluator", "front door", "columns", "front door"]
        assert rows[1]["ruling.ask"] == "control.turns_off_by"
        assert rows[1]["receptacle.configuration"] == "5-20R "  # as the table has it

    def test_csv_by_default_and_only_the_columns_to_keep(self, command: Command):
        ran = ruled(command, "--keep", "mark")
        assert ran.out.splitlines()[0].startswith("ruling.row,mark,ruling.outcome,")
        assert ran.out.splitlines()[1].startswith("2,a,not required,")

    def test_a_parquet_file_to_a_parquet_file(self, command: Command):
        write([{"contact.supply": "always on"}, {"contact.supply": "controlled"}], COLUMNS, Path("devices.parquet"))
        output = ("--output", "ruled.parquet")
        ran = command("rule", "devices.parquet", "--question", "marking.required", *LAW, *output)
        assert (ran.status, ran.out) == (4, "")
        found = duckdb.connect().execute("SELECT id, \"ruling.outcome\" FROM 'ruled.parquet' ORDER BY id").fetchall()
        assert found == [(0, "not required"), (1, "cannot tell")]

    def test_a_column_of_another_name(self, command: Command):
        Path("devices.csv").write_text("Feed\nalways on\n", encoding="utf-8")
        ran = ruled(command, "--format", "jsonl", "--column", "contact.supply=Feed")
        assert [(row["Feed"], row["ruling.outcome"]) for row in ran.lines] == [("always on", "not required")]
        assert ran.status == 0

    def test_an_empty_table(self, command: Command):
        Path("devices.csv").write_text("contact.supply\n", encoding="utf-8")
        ran = ruled(command, "--format", "jsonl")
        assert (ran.status, ran.out) == (0, "")
        assert ran.err.startswith("0 rows")


class TestWhatIsTold:
    def test_counts_and_every_fault_with_how_many_rows_have_it(self, command: Command):
        ran = ruled(command)
        assert ran.status == 3
        lines = ran.err.splitlines()
        assert lines[0] == "5 rows"
        assert "2 settled by columns, 1 by the evaluator (of 3 kinds), 2 refused" in lines
        faults = [line for line in lines if line.startswith("devices.csv: row")]
        assert len(faults) == 2
        assert faults[0] == (
            "devices.csv: row 4, column `receptacle.built_in_control`: `maybe` is neither yes nor no; "
            "allowed: yes, no, true, false"
        )
        assert faults[1].startswith("devices.csv: row 4 and 1 more, column `receptacle.configuration`: `5-99R` is none")
        assert "allowed: `1-15R`" in faults[1]
        assert "\x1b" not in ran.err and "\r" not in ran.err  # no bar where there is no terminal

    def test_against_comes_before_unsettled(self, command: Command):
        Path("devices.csv").write_text(
            "control.kind,control.turns_off_by,control.contacts.complete\n,,\n", encoding="utf-8"
        )
        assert command("rule", "devices.csv", "--question", "control.acts", *LAW).status == 4


class TestWhatIsWrong:
    @pytest.mark.parametrize(
        ("argv", "message"),
        [
            (["devices.csv", "--question", "R03"], "no place given"),
            (["devices.csv", "--question", "R03", "--question", "R01", *LAW], "names 2"),
            (["devices.csv", "--question", "R03", *LAW, "--format", "sarif"], "csv or jsonl"),
            (["devices.csv", "--question", "R03", *LAW, "--output", "ruled.xlsx"], "ends in .parquet"),
            (["devices.csv", "--question", "R03", *LAW, "--output", "devices.csv"], "is the table itself"),
            (["devices.csv", "--question", "R03", *LAW, "--keep", "Mark"], "no column `Mark`"),
            (["devices.csv", "devices.parquet", "--question", "R03", *LAW], "one table at a time"),
            (["none.parquet", "--question", "R03", *LAW], "there is no file"),
            (["devices.csv"], "--mapping names the file"),
            (["--demo", "--keep", "Mark"], "is for tables"),
        ],
    )
    def test_usage(self, argv: list[str], message: str, command: Command):
        ran = command("rule", *argv)
        assert ran.status == 2
        assert message in ran.err

    def test_a_column_called_like_a_fact_that_is_none(self, command: Command):
        Path("devices.csv").write_text("contact.suply,project.place,id\ncontrolled,x,1\n", encoding="utf-8")
        ran = ruled(command)
        assert ran.status == 3
        assert "column `contact.suply`: `contact.suply` is no fact (did you mean `contact.supply`?)" in ran.err
        assert "one law rules the whole table" in ran.err

    def test_a_file_that_is_none(self, command: Command):
        Path("devices.parquet").write_bytes(b"no table at all")
        ran = command("rule", "devices.parquet", "--question", "R03", *LAW)
        assert ran.status == 3
        assert "devices.parquet: cannot be read" in ran.err

    def test_without_the_extra_it_is_said_how_to_get_it(self, command: Command, monkeypatch: pytest.MonkeyPatch):
        real = builtins.__import__

        def without(name: str, *more: Any, **rest: Any) -> Any:
            if name.partition(".")[0] == "duckdb":
                raise ModuleNotFoundError("no duckdb", name="duckdb")
            return real(name, *more, **rest)

        for name in [name for name in sys.modules if name.startswith("yokebook_adapters.columns")]:
            monkeypatch.delitem(sys.modules, name)
        monkeypatch.setattr(builtins, "__import__", without)
        ran = ruled(command)
        assert ran.status == 2
        assert "pip install 'yokebook[columns]'" in ran.err


def test_how_far_a_run_is_is_told(tmp_path: Path):
    told: list[tuple[str, float]] = []
    file = write([{"contact.supply": "always on"}, {"contact.supply": None}], COLUMNS, tmp_path / "devices.parquet")
    code = yokebook.load().edition("nfpa-70", "2014")
    run = Run(code, "marking.required", file, progress=lambda doing, done: told.append((doing, done)))
    run.write(tmp_path / "ruled.parquet", "parquet")
    run.close()
    assert list(dict.fromkeys(doing for doing, _ in told)) == ["reading", "ruling", "writing"]
    assert all(0 <= done <= 1 for _, done in told)
    assert told[-1] == ("writing", 1.0)


class TestExplain:
    def test_a_row_by_its_number(self, command: Command):
        ran = command("explain", "devices.csv", "2", "R03", *LAW, "--format", "json")
        assert ran.status == 0
        assert "marking.required#automatic" in ran.out
        assert json.loads(ran.out)

    def test_a_refused_row_and_one_that_is_not_there(self, command: Command):
        ran = command("explain", "devices.csv", "4", "R03", *LAW)
        assert (ran.status, "5-99R" in ran.err) == (3, True)
        assert command("explain", "devices.csv", "9", "R03", *LAW).status == 2
        assert command("explain", "devices.csv", "upper", "R03", *LAW).status == 2

"""Standard input, files that cannot be read, options and answers that are not understood: every word people read."""

from __future__ import annotations

from pathlib import Path

import pytest

from command_line.of_the_book import events, listed
from command_line.running import Command, Ran

GOOD = """\
project: {place: demo/tamarisk, dates: {permit application: 2023-05-10}}
controls: [{id: S1, turns_off_by: person}]
"""
HEAD = GOOD.splitlines()[0] + "\n"
TIME = "allowed: a time in `min`, `s` or `h`, at least 0"


@pytest.fixture(autouse=True)
def _here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("good.yaml").write_text(GOOD, encoding="utf-8")


def words_for(ran: Ran, file: str) -> list[str]:
    """The words said of a file."""
    return [line["word"] for line in ran.lines if line["file"] == file and "word" in line]


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (b"", "standard input:1:1: the file is empty\n"),
        (b"\xff\xfe", "standard input:1:1: byte 0xff is not UTF-8; save it as UTF-8\n"),
        (
            (HEAD + "controls: [{id: S1, off_delay_min: 20 ft}]\n").encode(),
            f"standard input:2:36: `control.off_delay_min`: `20 ft` is a length; {TIME}\n",
        ),
        (
            b"controls: [{id: S1}]\n",
            "standard input: no place is given; add one to the project, or give --place or --edition\n",
        ),
    ],
)
def test_standard_input(command: Command, data: bytes, told: str):
    ran = command("rule", "-", "good.yaml", "--question", "R01", "--format", "jsonl", stdin=data)
    assert (ran.status, ran.err) == (3, told)
    assert words_for(ran, "good.yaml") == ["manual"]


def test_a_file_that_cannot_be_read(command: Command, monkeypatch: pytest.MonkeyPatch):
    """A superuser may read every file, so the refusal is made here."""
    read = Path.read_bytes

    def refuse(path: Path) -> bytes:
        if path.name == "secret.yaml":
            raise PermissionError(13, "Permission denied")
        return read(path)

    monkeypatch.setattr(Path, "read_bytes", refuse)
    Path("secret.yaml").write_text(GOOD, encoding="utf-8")
    ran = command("rule", "secret.yaml", "good.yaml", "--question", "R01", "--format", "jsonl")
    assert (ran.status, ran.err) == (3, "secret.yaml:1:1: cannot be read: Permission denied\n")
    assert words_for(ran, "good.yaml") == ["manual"]


def test_files_that_are_not_there_or_no_files(command: Command):
    """Wrong usage, and still the files that are there are ruled on and every other one is named."""
    Path("folder").mkdir()
    ran = command("rule", "gone.yaml", "good.yaml", "folder", "s.csv", "--question", "R01", "--format", "jsonl")
    assert ran.status == 2
    assert ran.err == (
        "yokebook: there is no file `gone.yaml`\n`folder` is a folder; give a file\n"
        "`s.csv` is a schedule; --mapping names the file that says what its columns mean\n"
    )
    assert words_for(ran, "good.yaml") == ["manual"]


@pytest.mark.parametrize(
    ("argv", "told"),
    [
        (["rule", "good.yaml", "--question", "R99"], "there is no question `R99` (did you mean `R59`?)"),
        (
            ["rule", "good.yaml", "--place", "us/wah"],
            "--place: no place `us/wah` in this rulebook (did you mean `us/wa`?)",
        ),
        (
            ["rule", "good.yaml", "--edition", "nfpa-70:2022"],
            "--edition: `nfpa-70` has no edition `2022` in this rulebook; it has 2014, 2017, 2020, 2023, 2026",
        ),
        (
            ["rule", "good.yaml", "--edition", "nfpa70:2023"],
            "--edition: there is no document `nfpa70` (did you mean `nfpa-70`?)",
        ),
        (
            ["rule", "good.yaml", "--date", "permit=2024-01-01"],
            f"--date permit: `permit` is no event (did you mean `permit issue`?); allowed: {listed(events())}",
        ),
        (["rule", "good.yaml", "--choice", "x=y"], "--choice x: no place of this rulebook leaves a choice `x`"),
        (["rule", "good.yaml", "--sheet", "gone/s.json"], "cannot write `gone/s.json`: No such file or directory"),
        (
            ["table", "R03", "--edition", "nfpa-70:2023", "--document", "plumbing"],
            "--document: `plumbing` does not answer `marking.required` here; allowed: `electrical`",
        ),
        (
            ["ask", "R03", "--edition", "nfpa-70:2023", "--document", "plumbing"],
            "--document: `plumbing` does not answer `marking.required` here; allowed: `electrical`",
        ),
        (["ask", "R03", "--place", "us/wah"], "--place: no place `us/wah` in this rulebook (did you mean `us/wa`?)"),
        (["table", "R99", "--edition", "nfpa-70:2023"], "there is no question `R99` (did you mean `R59`?)"),
        (["pin", "gone.yaml"], "there is no file `gone.yaml`"),
        (["pin", "."], "`.` is a folder; give a file"),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, list) else "",
)
def test_unknown_values_of_options(command: Command, argv: list[str], told: str):
    ran = command(*argv)
    assert (ran.status, ran.out, ran.err) == (2, "", f"yokebook: {told}\n")


@pytest.mark.parametrize(
    ("argv", "told"),
    [
        (["--on", "2024-02-30"], "argument --on: `2024-02-30` is not a date; write it as 2024-10-15"),
        (["--date", "permit application=1/5/24"], "argument --date: `1/5/24` is not a date; write it as 2024-10-15"),
        (["--choice", "x"], "argument --choice: `x` has no `=` between two parts"),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, list) else "",
)
def test_options_that_are_not_written_right(command: Command, argv: list[str], told: str):
    ran = command("rule", "good.yaml", *argv)
    assert (ran.status, ran.out) == (2, "")
    assert ran.err.splitlines()[-1] == f"yokebook rule: error: {told}"


def test_explain_refuses_what_rule_refuses(command: Command):
    Path("p.yaml").write_text(
        HEAD + "spaces: [{id: a, yokes: [{id: R1, configuration: 5-20R, amps: 15}]}]\n", encoding="utf-8"
    )
    ran = command("explain", "p.yaml", "a/R1", "marking.scope")
    assert (ran.status, ran.out) == (3, "")
    assert ran.err == (
        "yokebook: the project was refused:\n"
        "p.yaml:2:63: `receptacle.amps` is given as 15 A and comes out as 20 A, because "
        "`receptacle.configuration` is `5-20R`; correct one of them or leave the given value out\n"
    )


def test_an_interview_asks_again_until_it_understands(command: Command):
    """A number is taken with its unit or in the unit asked for: a rating of 20 A is 20 or 20 A."""
    law = ["--edition", "nfpa-70:2023"]
    answers = "maybe\n?\nyes\ntwenty\nNaN\n20 ft\n"
    ran = command("ask", "R12", *law, stdin=answers + "20\n")
    assert [line.strip() for line in ran.err.splitlines() if "`" in line] == [
        "`maybe` is neither yes nor no; answer yes or no",
        "`twenty` is not a number; allowed: a current in `A`",
        "`NaN` is not a number; allowed: a current in `A`",
        "`20 ft` is a length; allowed: a current in `A`",
    ]
    with_unit = command("ask", "R12", *law, stdin=answers + "20 A\n")
    assert (ran.status, ran.out) == (with_unit.status, with_unit.out)

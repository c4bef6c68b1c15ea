"""Slips in a rulebook: one message each, at its place, saying what was found and what is allowed.

The slips are data in slips/, one file a topic, so that a message can be read and judged beside what it is about.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import yaml

from small_rulebook import FILES, edited, write
from yokebook.load.book import load_book
from yokebook.load.faults import RulebookFaults

SLIPS: list[dict[str, Any]] = [
    slip
    for path in sorted((Path(__file__).parent / "slips").glob("*.yaml"))
    for slip in yaml.safe_load(path.read_text(encoding="utf-8"))
]


def faults_of(folder: Path, changes: dict[str, str]) -> list[str]:
    """The lines of the refusal of a rulebook in `folder`/book."""
    write(folder / "book", changes)
    with pytest.raises(RulebookFaults) as found:
        load_book(Path("book"))
    return str(found.value).splitlines()


@pytest.fixture(autouse=True)
def _here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


@pytest.mark.parametrize("slip", SLIPS, ids=[slip["name"] for slip in SLIPS])
def test_slip(slip: dict[str, Any], tmp_path: Path) -> None:
    assert faults_of(tmp_path, edited(slip["file"], slip["old"], slip["new"])) == slip["faults"]


def test_all_faults_of_all_files_come_at_once(tmp_path: Path) -> None:
    changes = {
        **edited("facts/control.yaml", "unit: min", "unit: minute"),
        **edited("electrical/2014/control.acts.yaml", "then: automatic", "then: automatically"),
        **edited("places/town.yaml", "alternative: switch", "alternative: swich"),
        "cautions.yaml": "cautions: []\n",
    }
    told = [fault.partition(" ")[0] for fault in faults_of(tmp_path, changes)]
    assert told == [
        "book/cautions.yaml:1:11:",
        "book/electrical/2014/control.acts.yaml:6:11:",
        "book/facts/control.yaml:11:11:",
        "book/places/town.yaml:28:61:",
    ]


def test_answers_that_hang_on_each_other(tmp_path: Path) -> None:
    name = "calculations/contact.yaml"
    more = """\
  control.on_a_marked_one:
    type: yes_no
    says: It is on a contact that has to be marked.
    any: {over: control.contacts, are: {answer.marking.required: required}}
"""
    table = edited("electrical/2014/control.acts.yaml", "{control.kind: switch}", "{control.on_a_marked_one: yes}")
    assert faults_of(tmp_path, {name: FILES[name] + more, **table}) == [
        "book/electrical/2014/control.acts.yaml:10:5: `answer.control.acts` needs `control.on_a_marked_one`, "
        "which needs `answer.marking.required`, which needs `contact.automatic`, which needs `answer.control.acts`: "
        "nothing can hang on itself"
    ]


def test_answers_that_hang_on_each_other_across_documents(tmp_path: Path) -> None:
    """An electrical table asks the energy code, whose table asks the electrical code back."""
    acts = FILES["electrical/2014/control.acts.yaml"].replace("answers: control.acts", "answers: control.saves")
    questions = """\
  control.saves:
    ruling: R18
    asks: Does it save?
    per: control
    outcomes: {manual: no, automatic: "yes"}
"""
    changes = {
        "questions/all.yaml": FILES["questions/all.yaml"] + questions.replace("manual: no", 'manual: "by hand"'),
        "documents/saving.yaml": "documents:\n  saving: {kind: energy, title: Savings, publisher: Nobody, "
        'editions: ["2021"]}\n',
        "saving/2021/edition.yaml": 'document: saving\nedition: "2021"\nhow_checked: read\n',
        "saving/2021/control.saves.yaml": acts.replace(
            "{control.kind: sensor}", "{answer.electrical.control.acts: automatic}"
        ),
        **edited(
            "electrical/2014/control.acts.yaml", "{control.kind: sensor}", "{answer.energy.control.saves: automatic}"
        ),
    }
    assert faults_of(tmp_path, changes) == [
        "book/electrical/2014/control.acts.yaml:4:5: `electrical: answer.control.acts` needs "
        "`energy: answer.control.saves`, which needs `electrical: answer.control.acts`: nothing can hang on itself"
    ]


def test_exceptions_in_a_circle(tmp_path: Path) -> None:
    changes = edited(
        "electrical/2014/marking.required.yaml", "  - id: automatic\n", "  - id: automatic\n    exception_to: [slow]\n"
    )
    assert faults_of(tmp_path, changes) == [
        "book/electrical/2014/marking.required.yaml:4:5: exceptions go round in a circle: "
        "`marking.required#automatic` over `marking.required#slow` over `marking.required#automatic`; "
        "of two rules only one can prevail"
    ]


def test_missing_and_stray_files(tmp_path: Path) -> None:
    folder = write(
        tmp_path / "book", {"facts/more.yml": "entity: load\n", "electrical/2031/x.yaml": "document: code\n"}
    )
    (folder / "cautions.yaml").unlink()
    (folder / "electrical/2014/edition.yaml").unlink()
    with pytest.raises(RulebookFaults) as found:
        load_book(Path("book"), check_schema=False)
    assert str(found.value).splitlines() == [
        "book/cautions.yaml:1:1: the rulebook has no such file; it lists the cautions on every output",
        "book/electrical/2014/edition.yaml:1:1: the edition's folder has no such file",
        "book/electrical/2014/marking.required.yaml:12:46: `contact.slowest_min`: "
        "no edition of `code` has a named number `value.longest`",
        "book/electrical/2031/x.yaml:1:1: nothing reads this file: no document has an edition in this folder, "
        "and it is in none of `questions/`, `facts/`, `calculations/`, `readings/`, `documents/`, `places/`, `cases/`",
        "book/facts/more.yml:1:1: a rulebook's files end in `.yaml`",
    ]


def test_no_such_folder() -> None:
    with pytest.raises(RulebookFaults) as found:
        load_book(Path("nowhere"))
    assert str(found.value) == "nowhere:1:1: there is no such folder; a rulebook is a folder of YAML files"


def test_nothing_but_faults_comes_of_a_broken_file(tmp_path: Path) -> None:
    """Every line of the rulebook left out, and every file cut short after every line: a load either gives a book or
    raises RulebookFaults with at least one fault, and never anything else."""
    folder = write(tmp_path / "book")
    for name, text in FILES.items():
        lines = text.splitlines(keepends=True)
        for number in range(len(lines)):
            for broken in (lines[:number] + lines[number + 1 :], lines[: number + 1]):
                (folder / name).write_text("".join(broken), encoding="utf-8")
                try:
                    load_book(Path("book"), check_schema=False)
                except RulebookFaults as found:
                    assert found.faults
        (folder / name).write_text(text, encoding="utf-8")

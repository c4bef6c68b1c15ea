"""What is ruled of the worked scenes and of the demo building, so that no outcome changes unawares.

Only questions without a topic: those asked of every project. A failure names each ruling that changed, from what and to
what. Where every one of them is meant, `PYTHONPATH=tests python tests/golden/test_rulings.py` writes the files anew;
read the difference, and say in the change why each outcome moved.
"""

from __future__ import annotations

import json
import textwrap
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest
import yaml

import yokebook
from scenarios.staging import EVENT, SCENARIOS, Data, project_data
from shipped_book import rulebook
from yokebook import front_door
from yokebook.code import Code
from yokebook.ruling import Ruling
from yokebook_adapters.command_line.session import demo_file

HERE = Path(__file__).parent / "rulings"
DEMO, OWN_LAW = "demo", "its own law"
PROJECTS = (*SCENARIOS, DEMO)
#: The scenes' own permits fall under 2020 and 2023; these are also ruled under the editions before, as published.
OLDER, ALSO_OLDER = ("2014", "2017"), ("sc01", "sc02", "sc03", "sc06")
#: The open-plan floor has some two thousand rulings.
EACH = [pytest.param(name, marks=[pytest.mark.slow] if name == "sc07" else []) for name in PROJECTS]

#: What is ruled, by law, by question and by word: the paths of the things.
Ruled = dict[str, dict[str, dict[str, list[str]]]]
HEAD = f"# Written by {Path(__file__).name}, which says when to write it anew.\n"


@cache
def data_of(name: str) -> Data:
    """The project of this name as data."""
    if name != DEMO:
        return project_data(name)
    data: Data = yaml.safe_load(Path(demo_file()).read_text(encoding="utf-8"))
    return data


def laws(name: str, rulebook: yokebook.Rulebook) -> Iterator[tuple[str, Code]]:
    """The laws that this project is ruled under, each with its name."""
    project = data_of(name)["project"]
    yield OWN_LAW, rulebook.in_force(project["place"], {EVENT: str(project["dates"][EVENT])})
    for edition in OLDER if name in ALSO_OLDER else ():
        yield f"nfpa-70 {edition}", rulebook.edition("nfpa-70", edition)


def word(ruling: Ruling) -> str:
    """Everything about the outcome that a change should not pass unseen: the word, its weight, other readings."""
    text = f"{ruling.word}, against" if ruling.against else ruling.word
    under = [(" and ".join(row["readings"].values()), row["outcomes"]) for row in ruling.under]
    held = [(row["alternative"], row["outcomes"]) for row in ruling.also_held]
    for said, rows in (("read", under if ruling.outcome is None else []), ("also held", held)):
        each = [f"{reading} gives {' or '.join(sorted(outcomes)) or 'nothing'}" for reading, outcomes in sorted(rows)]
        text += f" ({said}: {'; '.join(each)})" if each else ""
    return text


def rulings_of(name: str, rulebook: yokebook.Rulebook) -> Ruled:
    """Every ruling on one project, as the files have it."""
    graph = front_door.project_to_graph(data_of(name), rulebook.book)
    found: Ruled = {}
    for law, code in laws(name, rulebook):
        questions = found.setdefault(law, {})
        for ruling in code.rule_project(graph).rulings:
            kind = (ruling.document or {}).get("kind", "no document")
            question = f"{ruling.ruling} {ruling.question}, {kind}"
            questions.setdefault(question, {}).setdefault(word(ruling), []).append(ruling.subject["id"])
    return found


def one_by_one(ruled: Ruled) -> dict[tuple[str, str, str], str]:
    """The word of every single ruling, by law, question and thing."""
    return {
        (law, question, thing): said
        for law, questions in ruled.items()
        for question, words in questions.items()
        for said, things in words.items()
        for thing in things
    }


def moved(was: Ruled, now: Ruled) -> list[str]:
    """One line for each ruling that is not as it was."""
    before, after = one_by_one(was), one_by_one(now)
    keys = [key for key in dict.fromkeys([*before, *after]) if before.get(key) != after.get(key)]
    return [
        f"{question} of {thing} under {law}: was {before.get((law, question, thing), 'not asked')}, "
        f"is now {after.get((law, question, thing), 'not asked')}"
        for law, question, thing in keys
    ]


def file_of(name: str) -> Path:
    return HERE / f"{name}.yaml"


def recorded(name: str) -> Ruled:
    found: Ruled = yaml.safe_load(file_of(name).read_text(encoding="utf-8"))
    return found


def text_of(ruled: Ruled) -> str:
    """The file's text: a line for each word that fits one, and its things wrapped."""
    lines = [HEAD.rstrip()]
    for law, questions in ruled.items():
        lines.append(f"{law}:")
        for question, words in questions.items():
            lines.append(f"  {question}:")
            for said, things in words.items():
                lines.append(f"    {json.dumps(said)}:")
                lines += _wrapped(f"[{', '.join(things)}]")
    return "\n".join(lines) + "\n"


def _wrapped(text: str) -> list[str]:
    """The list's lines, broken at spaces alone."""
    indent = " " * 6
    return textwrap.wrap(
        text, 110, initial_indent=indent, subsequent_indent=f"{indent} ", break_long_words=False, break_on_hyphens=False
    )


@pytest.mark.parametrize("name", EACH)
def test_every_ruling_is_as_last_read(name: str) -> None:
    changed = moved(recorded(name), rulings_of(name, rulebook()))
    assert not changed, "\n".join([f"{len(changed)} rulings on {name} changed:", *changed])


def test_there_is_a_file_for_each_project_and_no_other() -> None:
    assert {path.name for path in HERE.iterdir()} == {file_of(name).name for name in PROJECTS}


def test_the_files_hold_every_ruling_of_the_marking_and_of_the_ratings() -> None:
    """R01 to R13, R22, R30, R32 to R35, R37, R39, R40 and R49 to R51: each is asked of some scene."""
    numbers = {
        question.split()[0] for name in PROJECTS for questions in recorded(name).values() for question in questions
    }
    asked = {question.ruling for question in rulebook().book.questions.values() if not question.topic}
    assert numbers == asked
    kept = {f"R{number:02}" for number in (*range(1, 5), *range(6, 9), *range(11, 14), 22, 30, *range(32, 36), 37, 39)}
    assert kept | {"R40", "R49", "R50", "R51", "R60"} <= numbers


def test_a_changed_rule_is_told_ruling_by_ruling() -> None:
    """Every rule on the common disconnect made to say `satisfied`: both yokes of the living room, under all three."""
    first = rulebook().book.editions["nfpa-70", "2014"]
    tables = tuple(
        replace(table, rules=tuple(replace(rule, then="satisfied") for rule in table.rules))
        if table.question == "yoke.disconnect"
        else table
        for table in first.tables
    )
    editions = {**rulebook().book.editions, ("nfpa-70", "2014"): replace(first, tables=tables)}
    other = yokebook.Rulebook(replace(rulebook().book, editions=editions))
    assert moved(rulings_of("sc01", rulebook()), rulings_of("sc01", other)) == [
        f"R30 yoke.disconnect, electrical of living/{yoke} under {law}: was does not apply, is now satisfied"
        for law in (OWN_LAW, "nfpa-70 2014", "nfpa-70 2017")
        for yoke in ("R1", "R2")
    ]


def test_a_ruling_gone_and_a_ruling_new_are_told() -> None:
    was: Ruled = {OWN_LAW: {"R01 control.acts, electrical": {"manual": ["S1", "S2"]}}}
    now: Ruled = {OWN_LAW: {"R01 control.acts, electrical": {"manual": ["S2"], "automatic": ["S3"]}}}
    assert moved(was, now) == [
        "R01 control.acts, electrical of S1 under its own law: was manual, is now not asked",
        "R01 control.acts, electrical of S3 under its own law: was not asked, is now automatic",
    ]


if __name__ == "__main__":
    HERE.mkdir(exist_ok=True)
    for old in HERE.glob("*.yaml"):
        old.unlink()
    for each in PROJECTS:
        file_of(each).write_text(text_of(rulings_of(each, rulebook())), encoding="utf-8")

"""Every edition's resolved tables as text, so that a change to one edition shows in each that is carried from it.

`python tests/golden/test_editions.py` writes the files anew after a change that is meant; read the difference.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

import yokebook
from shipped_book import rulebook
from yokebook.model import Resolved
from yokebook.units import format_number
from yokebook.words import rule_words

HERE = Path(__file__).parent / "editions"


def editions() -> list[tuple[str, str]]:
    return sorted(rulebook().book.editions)


def resolved(document: str, edition: str, rulebook: yokebook.Rulebook) -> Resolved:
    [line] = rulebook.edition(document, edition).in_force.values()
    law = line.candidates[0].law
    assert law is not None
    return law.resolved


def text_of(document: str, edition: str, rulebook: yokebook.Rulebook) -> str:
    """The tables of one edition by question, each rule with its section and how it was checked."""
    law, everything = resolved(document, edition, rulebook), rulebook.book
    lines = [f"{law.document.title}, {edition} edition"]
    for question in sorted(law.tables, key=lambda q: (everything.questions[q].ruling, q)):
        table = law.tables[question]
        lines += ["", f"{everything.questions[question].ruling} {question}"]
        for rule in sorted(table.rules, key=lambda rule: rule.id):
            section = f"{rule.cite.document} {rule.cite.section}"
            lines += paragraph(f"{rule.id.partition('#')[2]}: {rule_words(rule, law.values)}")
            lines += paragraph(f"[{section}; {rule.checked.mark}]", "    ")
        none = table.none_fires
        section = f"{none.cite.document} {none.cite.section}; " if none.cite else ""
        lines += paragraph(f"none fires: {none.then or 'forbidden'} [{section}{none.checked.mark}]")
    lines += ["", "named numbers"] if law.values else []
    for name in sorted(law.values):
        value = law.values[name]
        number = format_number(value.value, value.unit)
        lines += paragraph(f"{name}: {number} [{value.cite.document} {value.cite.section}; {value.checked.mark}]")
    return "\n".join(lines) + "\n"


def paragraph(text: str, indent: str = "  ") -> Iterator[str]:
    yield from textwrap.wrap(
        text,
        110,
        initial_indent=indent,
        subsequent_indent=indent + "  ",
        break_long_words=False,
        break_on_hyphens=False,
    )


def file_of(document: str, edition: str) -> Path:
    return HERE / f"{document} {edition}.txt"


@pytest.mark.parametrize(("document", "edition"), editions(), ids=" ".join)
def test_the_resolved_tables_are_as_last_read(document: str, edition: str) -> None:
    assert text_of(document, edition, rulebook()) == file_of(document, edition).read_text(encoding="utf-8")


def test_there_is_a_file_for_each_edition_and_no_other() -> None:
    assert {path.name for path in HERE.iterdir()} == {file_of(*each).name for each in editions()}


def test_a_change_to_the_first_edition_shows_in_every_one_carried_from_it() -> None:
    """The outcomes of one table of 2014, which the later editions carry: five files differ, and no other."""
    first = rulebook().book.editions["nfpa-70", "2014"]
    tables = tuple(
        replace(table, rules=tuple(replace(rule, then="does not apply") for rule in table.rules))
        if table.question == "yoke.disconnect"
        else table
        for table in first.tables
    )
    changed = {**rulebook().book.editions, ("nfpa-70", "2014"): replace(first, tables=tables)}
    other = yokebook.Rulebook(replace(rulebook().book, editions=changed))
    differ = [each for each in editions() if text_of(*each, other) != text_of(*each, rulebook())]
    assert differ == [("nfpa-70", edition) for edition in rulebook().book.documents["nfpa-70"].editions]


if __name__ == "__main__":
    for old in HERE.glob("*.txt"):
        old.unlink()
    for each in editions():
        file_of(*each).write_text(text_of(*each, rulebook()), encoding="utf-8")

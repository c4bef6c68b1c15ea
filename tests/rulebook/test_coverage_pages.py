"""The pages on how well rulings are checked and which rules the cases touch are those that the data gives today."""

from __future__ import annotations

from collections import Counter
from functools import cache

import pytest

from shipped_book import rulebook
from yokebook import shipped
from yokebook.editions import resolve_edition
from yokebook_adapters.coverage import CHECKED, TOUCHED, VIEWS, is_published, pages

HOW = "python -m yokebook_adapters.coverage"


@cache
def today() -> dict[str, str]:
    return pages()


@pytest.mark.parametrize("name", [CHECKED, TOUCHED])
def test_the_page_is_up_to_date(name: str) -> None:
    found = (shipped.folder("rulebook") / name).read_text(encoding="utf-8")
    assert found == today()[name], f"{name} is not what the rulebook gives; {HOW} writes it anew"


def test_every_ruling_from_1_to_60_is_there_once_or_said_to_be_missing() -> None:
    page = today()[CHECKED]
    tables = {question.ruling for question in rulebook().book.questions.values()}
    for number in range(1, 61):
        ruling = f"R{number:02}"
        told = page.count(f"- {ruling}: ")
        assert told == (0 if ruling in tables and ruling not in VIEWS else 1), ruling


def test_the_counts_of_one_row_by_hand() -> None:
    book = rulebook().book
    table = resolve_edition(book, "nfpa-70", "2014").tables["marking.required"]
    marks = Counter(row.checked.mark for row in (*table.rules, table.none_fires))
    cell = " ".join(f"{marks[mark]}{mark[0]}" for mark in ("seen", "derived", "memory", "assumed") if marks[mark])
    assert f"| R03 | `marking.required` | {cell} |" in today()[CHECKED]


def test_no_table_is_silent_about_published_cases() -> None:
    for line in today()[TOUCHED].splitlines():
        cells = [cell.strip() for cell in line.strip("|").split("|")]
        if len(cells) == 4 and cells[1] == "0":
            assert cells[3].startswith("no published case was found"), line


def test_what_counts_as_published() -> None:
    assert is_published({"source": "EC&M, NEC Questions and Answers, August 2016"})
    assert not is_published({"source": "common practice, no published source found"})
    assert not is_published({"source": "the invented ordinance itself, written for this rulebook"})

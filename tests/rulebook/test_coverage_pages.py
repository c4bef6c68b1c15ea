"""The page on how well rulings are checked is the one that the data gives today; test_cases.py has the one on cases."""

from __future__ import annotations

from collections import Counter
from functools import cache

from shipped_book import book
from yokebook import shipped
from yokebook.editions import resolve_edition
from yokebook_adapters.coverage import CHECKED, VIEWS, checked_page

HOW = "python -m yokebook_adapters.coverage"


@cache
def today() -> str:
    return checked_page(book())


def test_the_page_is_up_to_date() -> None:
    found = (shipped.folder("rulebook") / CHECKED).read_text(encoding="utf-8")
    assert found == today(), f"{CHECKED} is not what the rulebook gives; {HOW} writes it anew"


def test_every_ruling_from_1_to_60_is_there_once_or_said_to_be_missing() -> None:
    tables = {question.ruling for question in book().questions.values()}
    for number in range(1, 61):
        ruling = f"R{number:02}"
        told = today().count(f"- {ruling}: ")
        assert told == (0 if ruling in tables and ruling not in VIEWS else 1), ruling


def test_the_counts_of_one_row_by_hand() -> None:
    table = resolve_edition(book(), "nfpa-70", "2014").tables["marking.required"]
    marks = Counter(row.checked.mark for row in (*table.rules, table.none_fires))
    cell = " ".join(f"{marks[mark]}{mark[0]}" for mark in ("seen", "derived", "memory", "assumed") if marks[mark])
    assert f"| R03 | `marking.required` | {cell} |" in today()

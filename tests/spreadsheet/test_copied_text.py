"""Cells that people copied from elsewhere: blanks that do not break, signs that nobody sees, other dividers."""

from __future__ import annotations

import pytest

from front_door.small_book import BOOK
from spreadsheet.workbooks import HEADER, RECORDS, read, workbook
from yokebook_adapters.schedule_mapping import read_mapping
from yokebook_adapters.schedule_reading import read_schedule


def of_csv(*rows: tuple[str, ...], divided_by: str = ",") -> tuple[list[str], list[str]]:
    """What the good rows of a CSV file are called, and the faults of the others."""
    text = "".join(f"{divided_by.join(row)}\n" for row in (HEADER, *rows))
    good, faults = read_schedule(text.encode(), read_mapping(RECORDS.encode(), BOOK), BOOK, "s.csv")
    return [called for called, _ in good], [str(fault) for fault in faults]


@pytest.mark.parametrize("blank", ["\N{NO-BREAK SPACE}", "\N{NARROW NO-BREAK SPACE}", "\N{FIGURE SPACE}"])
def test_a_blank_that_does_not_break_is_a_blank(blank: str):
    row = (f"R{blank}1", f"{blank}5-15R", f"Y{blank}", "120", "20", "")
    assert of_csv(row) == (["R 1"], [])
    assert read(workbook(HEADER, row))[:2] == (["R 1"], [])


@pytest.mark.parametrize(
    ("sign", "code"),
    [
        ("\N{SOFT HYPHEN}", "00AD"),
        ("\N{ZERO WIDTH SPACE}", "200B"),
        ("\N{WORD JOINER}", "2060"),
        ("\N{ZERO WIDTH NO-BREAK SPACE}", "FEFF"),
    ],
)
def test_a_sign_that_nobody_sees_is_refused_because_two_ids_would_look_like_one(sign: str, code: str):
    row = (f"R{sign}1", "5-15R", "Y", "120", "20", "")
    told = f"U+{code}, which nobody can see, is not allowed in text; type it again"
    assert of_csv(row) == ([], [f"s.csv: row 2, column `Mark`: {told}"])
    assert read(workbook(HEADER, row))[:2] == ([], [f"s.xlsx:Devices!A2, column `Mark`: {told}"])


@pytest.mark.parametrize(("sign", "word"), [(";", "semicolon"), ("\t", "tab")])
def test_a_file_divided_otherwise_is_told_what_to_write_in_the_mapping(sign: str, word: str):
    _, [fault] = of_csv(("R1", "5-15R", "Y", "120", "20", ""), divided_by=sign)
    assert fault.endswith(
        f"if the header is in another row, say `header_row` in the mapping, and if the cells are divided by a {word}, "
        f"`delimiter: {word}`"
    )

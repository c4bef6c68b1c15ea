"""Workbooks as they are printed: they fit the paper in letters that can be read, and every row shows its whole text."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import ruling_data as data
import yokebook
from outputs.small_shop import KEEP_OFF, everything, shop
from shipped_book import book
from spreadsheet.test_written import filed, opened, rows_of, small
from yokebook_adapters.marking_schedule import marking_schedule
from yokebook_adapters.spreadsheet import rulings, tables
from yokebook_adapters.spreadsheet.marking_schedule import as_xlsx
from yokebook_adapters.spreadsheet.writing import Column, Section, add_sections, add_table, as_bytes, new_workbook


def widths_of(sheet: Any) -> float:
    return sum(sheet.column_dimensions[letter].width for letter in sheet.column_dimensions)


def test_every_sheet_fits_the_paper_in_letters_that_can_be_read() -> None:
    """Letter paper, 11 inches across, has 10.5 between the margins, which are 1,008 pixels of 1/96 inch. A unit of
    width is one figure of ten-point Arial, which programs take for 7 to 7.4 pixels. Text is set in 9 points, and 8 can
    be read: so 1,008 / 7.4 * 9 / 8 units at most, which are 153."""
    report = filed(*everything(shop()))
    books = [small()[1], rulings.as_xlsx(replace(report, questions={**book().questions, **report.questions}))]
    code = yokebook.Rulebook(book()).edition("nfpa-70", "2023")
    books.append(
        tables.as_xlsx([(code.table("marking.required", "electrical")[1].resolved, "marking.required")], book())
    )
    for made in map(opened, books):
        assert made._named_styles["Normal"].font.name == "Arial"
        assert made._named_styles["Normal"].font.size == 10
        for sheet in made.worksheets:
            assert 0 < widths_of(sheet) <= 153, sheet.title
            assert (sheet.page_margins.left, sheet.page_margins.right) == (0.25, 0.25)
            fonts = {cell.font.size for row in sheet.iter_rows() for cell in row if cell.value is not None}
            assert fonts <= {9, 10}, sheet.title


def test_a_row_is_as_high_as_its_longest_text() -> None:
    """A column of 20 units is 105 points wide; nine-point letters m are 0.833 * 9 points each, so that 13 of them take
    97.5 points and fit beside 5 points of free room, and 14 do not."""
    made = new_workbook()
    add_table(made, "T", "T", [Column("text", 20)], [["m" * 13], ["m" * 14], ["a\nb\nc"]])
    heights = [opened(as_bytes(made)).worksheets[0].row_dimensions[row].height for row in (2, 3, 4)]
    assert heights == [14.5, 26.0, 37.5]


def test_what_no_row_is_high_enough_for_goes_on_in_the_next() -> None:
    """A row holds 35 lines: (409 - 3) / 11.5."""
    names = [f"R{number}, north wall" for number in range(200)]
    made = new_workbook()
    add_sections(
        made,
        "T",
        "T",
        (20, 9, 20),
        [Section("Devices", ("device", "count", "for"), [("duplex", 200, "; ".join(names))])],
    )
    sheet = opened(as_bytes(made)).worksheets[0]
    rows = rows_of(sheet)[2:]
    assert len(rows) > 1
    assert [row[:2] for row in rows] == [["duplex", 200], *([[None, None]] * (len(rows) - 1))]
    assert " ".join(row[2] for row in rows) == "; ".join(names)
    assert max(sheet.row_dimensions[row].height for row in range(3, sheet.max_row + 1)) <= 409


def test_the_file_is_named_without_the_folders_of_whoever_made_it() -> None:
    report = replace(data.report(*everything(shop())), file="/home/somebody/jobs/shop.yaml", name="")
    schedule = marking_schedule(everything(shop()), [shop()], book(), KEEP_OFF)
    made = opened(as_xlsx(report, schedule))
    texts = [str(cell) for sheet in made.worksheets for row in rows_of(sheet) for cell in row]
    assert "shop.yaml" in texts
    assert not [text for text in texts if "somebody" in text]
    assert made.worksheets[0].oddHeader.left.text == "Marking schedule: shop.yaml"

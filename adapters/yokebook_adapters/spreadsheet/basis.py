"""The last page of every workbook about a project: what it is of, by which law, what was refused, the cautions."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import PurePath

import openpyxl

from yokebook_adapters.lines import sentence
from yokebook_adapters.report import Report
from yokebook_adapters.spreadsheet.writing import Section, add_sections
from yokebook_adapters.text import governs
from yokebook_adapters.views import governing_editions

TITLE = "Cautions and basis"
_WIDTHS = (28, 124)


def add_basis(book: openpyxl.Workbook, heading: str, report: Report, more: Sequence[Section] = ()) -> None:
    """Adds the page; `more` stands between what was refused and the cautions."""
    refused = Section("Refused: nothing was ruled on these", (), [(None, message) for message in report.refused])
    cautions = Section("Cautions", (), [(None, sentence(caution)) for caution in report.cautions])
    what = Section("What this is of", (), _what(report))
    add_sections(book, TITLE, heading, _WIDTHS, [refused, what, *more, cautions])


def heading_of(report: Report) -> str:
    """What stands above each printed page."""
    return report.name or PurePath(report.file).name


def _what(report: Report) -> list[tuple[str, str]]:
    rows = [("project", report.name), ("file", PurePath(report.file).name), ("place", report.place or "none given")]
    rows += [(event, day) for event, day in sorted(report.dates.items())] or [("date", "none given")]
    rows += [("law in force", governs(document)) for document in governing_editions(report.rulings)]
    rows.append(("facts stated by", report.stated_by))
    rows += [(f"digest of the {part}", text) for part, text in sorted(report.digests().items())]
    return [(name, text) for name, text in rows if text]

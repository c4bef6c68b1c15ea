"""Rulings as a workbook: what is against and what is unsettled first, then what is settled, then devices and basis."""

from __future__ import annotations

from collections.abc import Sequence

from yokebook_adapters.finding_text import details, headline, reasons, sections
from yokebook_adapters.lines import in_words
from yokebook_adapters.outcome import HEAPS, Heap, RulingData
from yokebook_adapters.report import Report
from yokebook_adapters.spreadsheet.basis import add_basis, heading_of
from yokebook_adapters.spreadsheet.writing import Column, Section, Value, add_table, as_bytes, new_workbook
from yokebook_adapters.text import HEAP_TITLES, LISTED_HEAPS, device_of_room, facts_missing, mark_words, part_words

FINDINGS = (
    Column("state", 11),
    Column("ruling", 7),
    Column("room", 11),
    Column("device", 16),
    Column("outcome", 23),
    Column("law, numbers, why, what to do", 56),
    Column("path", 12),
    Column("for the office: accepted, corrected, referred", 16),
)
SETTLED = (
    Column("state", 11),
    Column("ruling", 7),
    Column("room", 11),
    Column("device", 16),
    Column("asked", 23),
    Column("outcome", 26),
    Column("sections", 14),
    Column("why", 28),
    Column("path", 12),
)
_DEVICES = (Column("room", 18), Column("device", 28), Column("mark and tabs", 86), Column("path", 20))
_MISSING = (Column("to find out", 50), Column("of", 36), Column("where to look", 47), Column("rulings that wait", 19))


def as_xlsx(report: Report) -> bytes:
    """The rulings as a file. The same rulings give the same bytes."""
    book, heading, heaps = new_workbook(), heading_of(report), report.by_heap()
    found = [_finding(name, ruling, report) for name in LISTED_HEAPS for ruling in heaps[name]]
    rest = HEAPS[len(LISTED_HEAPS) :]
    settled = [_settled(name, ruling, report) for name in rest for ruling in heaps[name]]
    add_table(book, "Findings", heading, FINDINGS, found or [("none",)])
    if missing := facts_missing(report):
        rows = [(each.asks, "; ".join(each.of), each.look, _numbers(each.waiting)) for each in missing]
        add_table(book, "To find out", heading, _MISSING, rows)
    add_table(book, "Settled", heading, SETTLED, settled or [("none",)])
    add_table(book, "Devices", heading, _DEVICES, _devices(report) or [("none",)])
    add_basis(book, heading, report, [_counts(report)])
    return as_bytes(book)


def _finding(heap: Heap, ruling: RulingData, report: Report) -> Sequence[Value]:
    text = "\n".join(details(ruling, report))
    return [*_subject(heap, ruling), headline(ruling), text, ruling["subject"]["id"], None]


def _settled(heap: Heap, ruling: RulingData, report: Report) -> Sequence[Value]:
    own, others, amendments = sections(ruling, report)
    law = [*own, *others, *(f"amended by {name}" for name in amendments)]
    asked = [ruling["asks"], headline(ruling), "\n".join(law), reasons(ruling)]
    return [*_subject(heap, ruling), *asked, ruling["subject"]["id"]]


def _subject(heap: Heap, ruling: RulingData) -> list[Value]:
    return [HEAP_TITLES[heap].lower(), ruling["ruling"], ruling["room"], device_of_room(ruling)]


def _devices(report: Report) -> list[Sequence[Value]]:
    parts = {part["yoke"]: part for part in report.parts}
    return [
        (marks["room"], marks["label"], mark_words(marks) + part_words(parts[marks["yoke"]]), marks["yoke"])
        for marks in report.marks
    ]


def _counts(report: Report) -> Section:
    rows = []
    for heap, rulings in report.by_heap().items():
        if rulings:
            words = in_words(f"{count} {word}" for word, count in report.words(heap).items())
            rows.append((HEAP_TITLES[heap].lower(), f"{len(rulings)}: {words}"))
    return Section("Counts", (), rows)


def _numbers(rulings: Sequence[str]) -> str:
    return f"{len(rulings)}: {', '.join(sorted(set(rulings)))}"

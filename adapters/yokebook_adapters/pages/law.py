"""Pages on the law itself: a resolved table, a place, and one ruling with its whole trace."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from yokebook.model import Amendment, Book, Layer, Place, Resolved
from yokebook_adapters.check_text import meaning
from yokebook_adapters.drawings.table_picture import draw_table, picture_of_trace
from yokebook_adapters.drawings.timeline import draw_timeline
from yokebook_adapters.explain_text import changes_head, changes_text, enough_text
from yokebook_adapters.finding_text import details, headline
from yokebook_adapters.lines import sentence
from yokebook_adapters.pages.head import head_without_project
from yokebook_adapters.pages.printing import page
from yokebook_adapters.pages.ruling_sheet import parted, rules_tried
from yokebook_adapters.places_text import layer_days, op_text, since, what_stands
from yokebook_adapters.report import Report
from yokebook_adapters.table_rows import chosen_texts, rule_rows, value_text, values_used
from yokebook_adapters.table_text import heading


def tables_page(tables: Sequence[tuple[Resolved, str]], book: Book) -> str:
    """The tables of one question as HTML, each (resolved document, question) with its rules, numbers and readings."""
    title = book.questions[tables[0][1]].asks
    return page(
        "tables.html",
        head=head_without_project("Decision table", title, book.cautions),
        tables=[_table(resolved, question, book) for resolved, question in tables],
    )


def _table(resolved: Resolved, question: str, book: Book) -> dict[str, Any]:
    rows = rule_rows(resolved, question, book)
    names = dict.fromkeys(name for row in rows for box in row.boxes for name, _ in box)
    rules = resolved.tables[question].rules
    return {
        "heading": heading(resolved, question, book),
        "question": question,
        "rows": rows,
        "numbers": [value_text(resolved.values[name]) for name in values_used(rules)],
        "chosen": chosen_texts(resolved),
        "names": {name: sentence(meaning(name, book)) for name in names},
    }


def place_page(book: Book, place: Place) -> str:
    """One place as HTML: its line of time drawn, every entry with its source, every amendment."""
    return page(
        "place.html",
        head=head_without_project("What governs", place.name, book.cautions),
        place=place,
        within=_name(book, place.within),
        drawing=draw_timeline(book, place).inline(),
        lines={
            kind: [
                {"since": since(entry), "says": list(what_stands(book, entry)), "more": sentence(entry.says),
                 "source": entry.source, "id": entry.id}
                for entry in line
            ]
            for kind, line in place.lines.items()
        },
        layers=[_layer(layer) for layer in place.layers.values()],
    )  # fmt: skip


def _name(book: Book, place: str | None) -> str:
    if place is None:
        return ""
    return book.places[place].name if place in book.places else place


def _layer(layer: Layer) -> dict[str, Any]:
    notes = [f"May only be stricter: {layer.stricter_only}"] if layer.stricter_only else []
    notes += [f"Meant to ask for less: {layer.less_strict}"] if layer.less_strict else []
    amendments = [_amendment(each) for each in layer.amendments]
    return {"id": layer.id, "when": layer_days(layer), "notes": notes, "amendments": amendments}


def _amendment(amendment: Amendment) -> dict[str, Any]:
    cite, checked = amendment.cite, amendment.checked
    return {
        "id": amendment.id,
        "says": sentence(amendment.says),
        "cite": f"{cite.document}, {cite.section}",
        "checked": f"{checked.mark}, {checked.source}",
        "ops": [op_text(op) for op in amendment.ops],
    }


def trace_page(report: Report, book: Book) -> str:
    """Every ruling of the report with its whole trace as HTML: the table with the row that decided lit, and why."""
    subject = report.rulings[0]["subject"]["label"]
    return page(
        "trace.html",
        head=head_without_project("One ruling, with every rule tried", str(subject), report.cautions),
        rulings=[
            {
                "headline": f"{ruling['subject']['label']}: {headline(ruling)}",
                "picture": draw_table(picture_of_trace(ruling, book), f"table-{number}").inline(),
                "details": [parted(text) for text in details(ruling, report, full=True)],
                "changes": changes_text(ruling),
                "changes_head": changes_head(ruling),
                "enough": enough_text(ruling),
                "tried": rules_tried(ruling.get("tried") or (), ruling),
            }
            for number, ruling in enumerate(report.rulings, start=1)
        ],
    )

"""The marking schedule as a workbook: the lines in walking order, what to order, cautions and basis."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from yokebook_adapters.finding_text import devices_named
from yokebook_adapters.lines import capital, in_words, many
from yokebook_adapters.marking_schedule_text import (
    MADE_BY_THE_MAKER,
    Line,
    circuit_text,
    control_text,
    from_memory,
    half_lead,
    half_text,
    keep_off_texts,
    led,
    mark_text,
    of_care,
    of_device,
    of_throw,
    tab_text,
    tag,
    unsure,
)
from yokebook_adapters.report import Report
from yokebook_adapters.spreadsheet.basis import add_basis, heading_of
from yokebook_adapters.spreadsheet.writing import (
    Column,
    Section,
    Value,
    add_sections,
    add_table,
    as_bytes,
    new_workbook,
)

#: In walking order, to build from. All of it fits on the paper, so what is long and alike stands on other sheets.
COLUMNS = (
    Column("room", 10),
    Column("tag", 13),
    Column("device to buy", 16),
    Column("tabs", 16),
    Column("what feeds it", 21),
    Column("mark", 11),
    Column("control", 16),
    Column("circuit, wires", 16),
    Column("take care", 17),
    Column("check", 16),
)

#: By part type, to sort and to filter.
BY_PART = (
    Column("device to buy", 20),
    Column("hot tab", 14),
    Column("neutral tab", 14),
    Column("upper half", 19),
    Column("lower half", 19),
    Column("other contact devices", 13),
    Column("mark", 12),
    Column("room", 12),
    Column("tag", 16),
    Column("path", 13),
)

CONTROLS = (Column("control, with its rating as needed and as ruled", 86), Column("on", 66))

_HALVES = ("upper", "lower")
_ORDER_WIDTHS = (48, 10, 56, 12, 12, 14)
#: What is told of the tabs of each part type, where it concerns any.
_TABS = {
    "hot_tab_removed": "hot tab to break",
    "hot_tab_not_known": "hot tab not known",
    "instead_of_one_not_made": "instead of one not made",
}
_SEE_CONTROLS = "see Controls"


def as_xlsx(report: Report, schedule: Mapping[str, Any]) -> bytes:
    """The whole schedule as a file: `schedule` as marking_schedule gives it, `report` what was ruled for it. The same
    schedule gives the same bytes."""
    book, heading = new_workbook(), f"Marking schedule: {heading_of(report)}"
    lines = schedule["lines"]
    rows = [_row(line) for line in lines]
    none = "No line: no document in force rules on the mark of a receptacle given here."
    add_table(book, "Marking schedule", heading, COLUMNS, rows or [(None, None, none)])
    if lines:
        by_part = [_row_by_part(line) for line in sorted(lines, key=lambda line: str(line["device"]))]
        add_table(book, "By part type", heading, *_without_empty(BY_PART, by_part))
        add_sections(book, "To order", heading, _ORDER_WIDTHS, _order(schedule["order"]))
    if controls := _controls(lines):
        add_table(book, "Controls", heading, CONTROLS, controls)
    add_basis(book, heading, report, [*_keep_off(schedule), *_memory(lines), *_asked(lines)])
    return as_bytes(book)


def _row(line: Line) -> list[Value]:
    cells = [
        line["room"],
        tag(line),
        _lines([line["device"], *led(of_device(line))]),
        _lines(f"{capital(side)}: {tab_text(line, side)}" for side in ("hot", "neutral")),
        _lines(f"{half_lead(half)}: {half_text(half)}" for half in line["halves"]),
        mark_text(line),
        _lines(f"{control_text(control, ruled=False)}; {_SEE_CONTROLS}" for control in line["controls"]),
        _lines([*map(circuit_text, line["circuits"]), *led(of_throw(line)),
                *line["wires"]]),
        _lines(led(of_care(line, asked=False))),
        _lines(f"[ ] {each}" for each in line["check"]),
    ]  # fmt: skip
    return [cell or None for cell in cells]


def _row_by_part(line: Line) -> list[Value]:
    halves = {half["position"]: half_text(half) for half in line["halves"]}
    others = [f"{capital(position)}: {text}" for position, text in halves.items() if position not in _HALVES]
    cells = [
        line["device"],
        tab_text(line, "hot"),
        tab_text(line, "neutral"),
        *(halves.get(position) for position in _HALVES),
        _lines(others),
        mark_text(line),
        line["room"],
        tag(line),
        line["yoke"],
    ]
    return [cell or None for cell in cells]


def _without_empty(
    columns: Sequence[Column], rows: Sequence[Sequence[Value]]
) -> tuple[list[Column], list[list[Value]]]:
    """The table without its empty columns."""
    full = [index for index in range(len(columns)) if any(row[index] is not None for row in rows)]
    return [columns[index] for index in full], [[row[index] for index in full] for row in rows]


def _controls(lines: Sequence[Line]) -> list[Sequence[Value]]:
    """Each control once, with the devices that it is on."""
    found: dict[str, list[str]] = {}
    for line in lines:
        for control in line["controls"]:
            found.setdefault(control_text(control), []).append(str(line["label"]))
    return [(text, "; ".join(labels)) for text, labels in found.items()]


def _lines(texts: Iterable[str]) -> str:
    return "\n".join(texts)


# ---- what to order ----------------------------------------


def _order(order: Mapping[str, Sequence[Mapping[str, Any]]]) -> list[Section]:
    tabs = [key for key in _TABS if any(each[key] for each in order["devices"])]
    devices: list[Sequence[Value]] = [
        (each["device"], each["count"], "; ".join(each["yokes"]), *(each[key] for key in tabs))
        for each in order["devices"]
    ]
    total = sum(each["count"] for each in order["devices"])
    if devices:
        devices += [("in all", total, None, *(sum(each[key] for each in order["devices"]) for key in tabs))]
        devices += [(MADE_BY_THE_MAKER,)]
    controls = [(each["control"], each["count"], ", ".join(each["for"])) for each in order["controls"]]
    ties = [
        (in_words(each["circuits"]), None, f"{each['label']}: {each['word']} [R30]") for each in order["breaker_ties"]
    ]
    by_part, by_control = ("device", "to order", "for"), ("control", "to order", "for")
    return [
        Section(
            f"Devices, by part type ({many(total, 'device')}, no spares in it)",
            (*by_part, *(_TABS[key] for key in tabs)),
            devices,
        ),
        Section("Controls, by kind and rating", by_control, controls),
        Section(
            "Circuits that share a yoke (one throw has to open them all)",
            ("circuits", "", "device, and what is ruled"),
            ties,
        ),
    ]


def _keep_off(schedule: Mapping[str, Any]) -> list[Section]:
    title = "Do not plug in where a control takes the power away"
    return [Section(title, (), [(None, text) for text in keep_off_texts(schedule)])]


def _memory(lines: Sequence[Line]) -> list[Section]:
    rows = [(devices_named(subjects), word) for word, subjects in from_memory(lines).items()]
    return [Section("On the lines of the schedule, from memory", (), rows)]


def _asked(lines: Sequence[Line]) -> list[Section]:
    """What the questions are whose numbers stand under `take care`."""
    asked = {note["ruling"]: note["asks"] for line in lines for note in unsure(line)}
    title = "What the numbers of rulings ask that the schedule is not sure of"
    return [Section(title, (), sorted(asked.items()))]

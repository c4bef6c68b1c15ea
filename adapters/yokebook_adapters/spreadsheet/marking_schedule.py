"""The marking schedule as a workbook: the lines in walking order, what to order, cautions and basis."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from yokebook_adapters.finding_text import devices_named
from yokebook_adapters.lines import capital, in_words, many
from yokebook_adapters.marking_schedule_text import (
    MADE_BY_THE_MAKER,
    NONE_TO_KEEP_OFF,
    Line,
    circuit_text,
    control_text,
    from_memory,
    half_text,
    keep_off_text,
    kind_to_keep_off_text,
    made_texts,
    mark_text,
    move_text,
    note_text,
    protection_text,
    tab_text,
    tag,
    tie_text,
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

COLUMNS = (
    Column("room", 9),
    Column("tag", 11),
    Column("device to buy", 16),
    Column("hot tab", 9),
    Column("neutral tab", 9),
    Column("upper half", 12),
    Column("lower half", 12),
    Column("other contact devices", 10),
    Column("mark", 11),
    Column("control", 20),
    Column("circuit", 9),
    Column("wires", 13),
    Column("do not plug in", 10),
    Column("against, to move, not sure", 18),
    Column("check", 14),
    Column("path", 9),
)

_ORDER_HEAD = ("device", "to order", "hot tab to break", "hot tab not known", "instead of one not made", "for")
_ORDER_WIDTHS = (60, 9, 11, 11, 13, 70)
_HALVES = ("upper", "lower")


def as_xlsx(report: Report, schedule: Mapping[str, Any]) -> bytes:
    """The whole schedule as a file: `schedule` as marking_schedule gives it, `report` what was ruled for it. The same
    schedule gives the same bytes."""
    book, heading = new_workbook(), f"Marking schedule: {heading_of(report)}"
    rows: list[Sequence[Value]] = [_row(line) for line in schedule["lines"]]
    none = "No line: no document in force rules on the mark of a receptacle given here."
    add_table(book, "Marking schedule", heading, COLUMNS, rows or [(None, None, none)])
    add_sections(book, "To order", heading, _ORDER_WIDTHS, _order(schedule["order"]))
    add_basis(book, heading, report, [*_keep_off(schedule), *_memory(schedule["lines"])])
    return as_bytes(book)


def _row(line: Line) -> list[Value]:
    halves = {half["position"]: half_text(half) for half in line["halves"]}
    others = [f"{capital(position)}: {text}" for position, text in halves.items() if position not in _HALVES]
    cells = [
        line["room"],
        tag(line),
        _lines([line["device"], *_led(made_texts(line)), *_led(_beside_device(line))]),
        tab_text(line, "hot"),
        tab_text(line, "neutral"),
        halves.get("upper"),
        halves.get("lower"),
        _lines(others),
        mark_text(line),
        _lines(control_text(control) for control in line["controls"]),
        _lines([*map(circuit_text, line["circuits"]), *_led([("One throw for all circuits", tie_text(line))])]),
        _lines(line["wires"]),
        keep_off_text(line),
        _lines(_led(_trouble(line))),
        _lines(f"[ ] {each}" for each in line["check"]),
        line["yoke"],
    ]
    return [cell or None for cell in cells]


def _beside_device(line: Line) -> list[tuple[str, str]]:
    return [("Protection", protection_text(line)), ("Cover", line["cover"] or "")]


def _trouble(line: Line) -> list[tuple[str, str]]:
    return [
        ("Move", move_text(line)),
        *(("Against", text) for text in line["against"]),
        *(("Not sure", note_text(note)) for note in line["notes"] if note["why"] != "memory"),
    ]


def _led(texts: Iterable[tuple[str, str]]) -> list[str]:
    return [f"{lead}: {text}" for lead, text in texts if text]


def _lines(texts: Iterable[str]) -> str:
    return "\n".join(texts)


# ---- what to order ----------------------------------------


def _order(order: Mapping[str, Sequence[Mapping[str, Any]]]) -> list[Section]:
    devices: list[Sequence[Value]] = [
        (
            each["device"],
            each["count"],
            each["hot_tab_removed"],
            each["hot_tab_not_known"],
            each["instead_of_one_not_made"],
            "; ".join(each["yokes"]),
        )
        for each in order["devices"]
    ]
    total = sum(each["count"] for each in order["devices"])
    if devices:
        devices += [("in all", total), (MADE_BY_THE_MAKER,)]
    controls = [
        (each["control"], each["count"], None, None, None, ", ".join(each["for"])) for each in order["controls"]
    ]
    ties = [
        (in_words(each["circuits"]), None, None, None, f"{each['word']} [R30]", each["label"])
        for each in order["breaker_ties"]
    ]
    return [
        Section(f"Devices, by part type ({many(total, 'device')}, no spares in it)", _ORDER_HEAD, devices),
        Section("Controls, by kind and rating", ("control", "to order", "", "", "", "for"), controls),
        Section(
            "Circuits that share a yoke (one throw has to open them all)",
            ("circuits", "", "", "", "one throw", "device"),
            ties,
        ),
    ]


def _keep_off(schedule: Mapping[str, Any]) -> list[Section]:
    if not any(line["keep_off"]["halves"] for line in schedule["lines"]):
        return []
    texts = [kind_to_keep_off_text(each) for each in schedule["keep_off"]] or [NONE_TO_KEEP_OFF]
    title = "Do not plug in where a control takes the power away"
    return [Section(title, (), [(None, text) for text in texts])]


def _memory(lines: Sequence[Line]) -> list[Section]:
    rows = [(devices_named(subjects), word) for word, subjects in from_memory(lines).items()]
    return [Section("On the lines of the schedule, from memory", (), rows)]

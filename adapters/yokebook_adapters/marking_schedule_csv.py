"""The marking schedule as CSV, one row for each yoke, every cell safe to open in a spreadsheet."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping
from typing import Any

from yokebook_adapters.marking_schedule_text import (
    circuit_text,
    control_text,
    half_text,
    keep_off_text,
    made_texts,
    mark_text,
    move_text,
    note_text,
    protection_text,
    tab_text,
    tag,
    tie_text,
)

COLUMNS = (
    "room",
    "tag",
    "device to buy",
    "made",
    "protection",
    "cover",
    "hot tab",
    "neutral tab",
    "upper half",
    "lower half",
    "other contact devices",
    "mark",
    "control",
    "circuit",
    "one throw",
    "wires",
    "do not plug in",
    "move",
    "check",
    "against",
    "not sure",
    "path",
)

_HALVES = ("upper", "lower")

#: What a spreadsheet takes for the start of a formula, the full-width forms of the same signs included.
_FORMULA = (
    *("=", "+", "-", "@"),
    *("\N{FULLWIDTH EQUALS SIGN}", "\N{FULLWIDTH PLUS SIGN}"),
    *("\N{FULLWIDTH HYPHEN-MINUS}", "\N{FULLWIDTH COMMERCIAL AT}"),
)


def as_csv(lines: Iterable[Mapping[str, Any]]) -> tuple[str, int]:
    """The lines of a marking schedule as CSV with a header, and how many cells were given an apostrophe."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    changed = 0
    for line in lines:
        cells = _cells(line)
        safe = [safe_cell(cells[column]) for column in COLUMNS]
        changed += sum(new != cells[column] for column, new in zip(COLUMNS, safe, strict=True))
        writer.writerow(safe)
    return out.getvalue(), changed


def safe_cell(text: str) -> str:
    """The cell, with an apostrophe before it where a spreadsheet could take it for a formula or a control character.

    >>> safe_cell("=1+1"), safe_cell(" -2"), safe_cell("R1 upper")
    ("'=1+1", "' -2", 'R1 upper')
    """
    start = text.lstrip()[:1]
    control = text[:1] != "" and (ord(text[0]) < 0x20 or 0x7F <= ord(text[0]) < 0xA0)
    return f"'{text}" if control or start.startswith(_FORMULA) else text


def _cells(line: Mapping[str, Any]) -> dict[str, str]:
    halves = {half["position"]: half_text(half) for half in line["halves"]}
    others = [f"{position}: {text}" for position, text in halves.items() if position not in _HALVES]
    return {
        "room": line["room"],
        "tag": tag(line),
        "device to buy": line["device"],
        "made": " ".join(f"{lead}: {text}" for lead, text in made_texts(line)),
        "protection": protection_text(line),
        "cover": line["cover"] or "",
        "hot tab": tab_text(line, "hot"),
        "neutral tab": tab_text(line, "neutral"),
        "upper half": halves.get("upper", ""),
        "lower half": halves.get("lower", ""),
        "other contact devices": "; ".join(others),
        "mark": mark_text(line),
        "control": " | ".join(control_text(control) for control in line["controls"]),
        "circuit": " | ".join(circuit_text(circuit) for circuit in line["circuits"]),
        "one throw": tie_text(line),
        "wires": "; ".join(line["wires"]),
        "do not plug in": keep_off_text(line),
        "move": move_text(line),
        "check": "; ".join(line["check"]),
        "against": " | ".join(line["against"]),
        "not sure": " | ".join(note_text(note) for note in line["notes"]),
        "path": line["yoke"],
    }

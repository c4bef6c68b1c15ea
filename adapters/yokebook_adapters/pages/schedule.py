"""The marking schedule as a page: a line for each device with its face, then what to order."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import groupby
from typing import Any

from yokebook_adapters.drawings.face import draw_face, halves_of
from yokebook_adapters.drawings.symbol import MEANING
from yokebook_adapters.lines import capital, in_words
from yokebook_adapters.marking_schedule_text import (
    MADE_BY_THE_MAKER,
    circuit_text,
    control_text,
    from_memory,
    half_lead,
    half_text,
    keep_off_texts,
    mark_text,
    of_care,
    of_device,
    of_throw,
    tab_text,
    tabs_text,
    tag,
    unsure,
)
from yokebook_adapters.outcome import RulingData
from yokebook_adapters.pages.head import head_of
from yokebook_adapters.pages.printing import page
from yokebook_adapters.report import Report

Line = Mapping[str, Any]
Pairs = list[tuple[str, str]]


def marking_schedule_page(report: Report, schedule: Mapping[str, Any]) -> str:
    """The schedule as HTML: `schedule` as marking_schedule gives it, `report` what was ruled for it."""
    by_thing: dict[str, list[RulingData]] = {}
    for ruling in report.rulings:
        by_thing.setdefault(ruling["subject"]["id"], []).append(ruling)
    marks = {entry["yoke"]: entry for entry in report.marks}
    lines: Sequence[Line] = schedule["lines"]
    rooms = [
        {"name": capital(room or "Not in one room"), "lines": [_line(line, marks, by_thing) for line in its]}
        for room, its in groupby(lines, key=lambda line: str(line["room"]))
    ]
    order = schedule["order"]
    return page(
        "schedule.html",
        head=head_of(report, "Marking schedule"),
        rooms=rooms,
        order=order,
        devices=[each | {"tabs": tabs_text(each).removeprefix("; ")} for each in order["devices"]],
        total=sum(each["count"] for each in order["devices"]),
        ties=[each | {"circuits": in_words(each["circuits"])} for each in order["breaker_ties"]],
        maker=MADE_BY_THE_MAKER,
        keep_off=keep_off_texts(schedule),
        memory=from_memory(lines),
        sign=MEANING,
    )


def _line(line: Line, marks: Mapping[str, Any], by_thing: Mapping[str, Sequence[RulingData]]) -> dict[str, Any]:
    """One device: its name and face, and what stands in each column as (lead, text) pairs."""
    halves = halves_of(line, marks[line["yoke"]], by_thing)
    face = draw_face(line["label"], halves, f"face-{line['yoke']}", legend=False)
    return {
        "tag": tag(line),
        "face": face.inline("face"),
        "device": _device(line),
        "fed": [*((half_lead(half), half_text(half)) for half in line["halves"]), ("Mark", mark_text(line))],
        "control": _control(line),
        "care": of_care(line),
        "check": list(line["check"]),
        "edge": "against" if line["against"] else "unsettled" if unsure(line) else "",
    }


def _device(line: Line) -> Pairs:
    tabs = [("Hot tab", tab_text(line, "hot")), ("Neutral tab", tab_text(line, "neutral"))]
    return [("", str(line["device"])), *of_device(line), *tabs]


def _control(line: Line) -> Pairs:
    pairs = [("Control", control_text(control)) for control in line["controls"]]
    pairs += [("Circuit", circuit_text(circuit)) for circuit in line["circuits"]]
    pairs += of_throw(line)
    return pairs + ([("Wires", "; ".join(line["wires"]))] if line["wires"] else [])

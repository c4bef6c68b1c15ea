"""The differences of two records of one project as text: room by room, what is given, then what is ruled of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from yokebook_adapters.finding_text import devices_named, without_room
from yokebook_adapters.lines import WIDTH, capital, caution_lines, many, wrap
from yokebook_adapters.report import Report
from yokebook_adapters.text import header

_KINDS = {"yoke": "device", "contact": "contact device", "space": "room"}
_PARTS = ("facts", "references", "lists", "complete")


def render_differences(report: Report, field: str, found: Mapping[str, Any], width: int = WIDTH) -> str:
    """All differences: `report` what was ruled of the plan, `field` the other record's file, `found` as differences
    gives them."""
    lines = [*wrap("PLAN AND FIELD", width), *header(report, width)]
    lines += wrap(f"Field: {field}. Both are ruled on by the law above.", width)
    lines += ["", *wrap(_summary(found), width)]
    if found["project"]:
        lines += ["", "The project itself"]
        for each in found["project"]:
            lines += wrap(f"{each['what']}: was {each['was']}, is {each['is']} (not used)", width, indent=2)
    for room in found["rooms"]:
        lines += ["", *wrap(capital(room["room"] or "Not in one room"), width)]
        lines += _things(room, width)
        lines += _rulings(room, width)
    lines += ["", *caution_lines(report.cautions, width)] if report.cautions else []
    return "\n".join(lines) + "\n"


def _summary(found: Mapping[str, Any]) -> str:
    if not found["count"]:
        return "No difference, neither in what is given nor in what is ruled of it."
    rulings = sum(len(room["rulings"]) for room in found["rooms"])
    against = sum(ruling["against"] for room in found["rooms"] for ruling in room["rulings"])
    now = f", {against} of them against as it is now" if against else ""
    given = found["count"] - rulings
    return f"{many(given, 'difference')} in what is given, {many(rulings, 'ruling')} with another word{now}."


def _label(entry: Mapping[str, Any], room: str) -> str:
    label, kind, path = str(entry["label"]), entry["kind"], entry["path"]
    if kind in ("control", "circuit", "load"):  # whose names may be those of rooms
        return f"{kind} {path}" if label in (path, f"the {kind}") else f"{kind} {path}, {label}"
    return without_room(label, room)


def _named(labels: Sequence[str]) -> str:
    return devices_named(list(dict.fromkeys(labels)))


# ---- what is given ----------------------------------------


def _things(room: Mapping[str, Any], width: int) -> list[str]:
    """Things with their differences; those that differ in the same ways share a block."""
    alike: dict[tuple[str, ...], list[str]] = {}
    for thing in room["things"]:
        alike.setdefault(tuple(_paragraphs(thing)), []).append(_label(thing, room["room"]))
    lines: list[str] = []
    for paragraphs, labels in alike.items():
        lines += wrap(_named(labels), width, indent=2)
        for paragraph in paragraphs:
            lines += wrap(paragraph, width, indent=4)
    return lines


def _paragraphs(thing: Mapping[str, Any]) -> list[str]:
    if thing["only"]:
        kind = _KINDS.get(thing["kind"], thing["kind"])
        return [f"only in the {thing['only']} ({kind} {thing['path']})"]
    return [_text(each) for part in _PARTS for each in thing[part]]


def _text(each: Mapping[str, Any]) -> str:
    return f"{each['says'].rstrip('.')}: was {each['was']}, is {each['is']}"


# ---- what is ruled ----------------------------------------


def _rulings(room: Mapping[str, Any], width: int) -> list[str]:
    alike: dict[tuple[bool, str, str, str], list[str]] = {}
    for ruling in room["rulings"]:
        was, now = (ruling[side] or "not asked, because it is not there" for side in ("was", "is"))
        alike.setdefault((ruling["against"], ruling["asks"], was, now), []).append(_label(ruling, room["room"]))
    lines = ["  Rulings"] if alike else []
    for (against, asks, was, now), labels in alike.items():
        lines += wrap(f"{'AGAINST ' if against else ''}{_named(labels)}: {asks}", width, indent=4)
        lines += _both(was, now, width)
    return lines


def _both(was: str, now: str, width: int) -> Sequence[str]:
    return [*wrap(f"was {was}", width, indent=6), *wrap(f"is {now}", width, indent=6)]

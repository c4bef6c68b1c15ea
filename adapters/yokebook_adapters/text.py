"""A report as text for people: what is against and what is unsettled first, then counts, devices and cautions.

The same report gives the same text. ASCII where the rulebook's own words are; no colour, no boxes.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from yokebook_adapters.finding_text import (
    asks_text,
    details,
    devices_named,
    edition_of,
    headline,
    law_other_amendments,
    others_may_exist,
    readings,
    without_room,
)
from yokebook_adapters.lines import WIDTH, capital, caution_lines, in_words, many, wrap
from yokebook_adapters.outcome import HEAPS, Heap, RulingData
from yokebook_adapters.report import Report
from yokebook_adapters.views import governing_editions

#: What stands above each heap.
HEAP_TITLES: dict[Heap, str] = {
    "against": "AGAINST",
    "fault of the rulebook": "FAULT OF THE RULEBOOK",
    "impossible": "IMPOSSIBLE AS GIVEN",
    "readings differ": "READINGS DIFFER",
    "cannot tell": "CANNOT TELL",
    "not checked": "NOT CHECKED IN THIS EDITION",
    "not entered": "NO ADOPTION ENTERED",
    "also held": "SETTLED, BUT ALSO HELD OTHERWISE",
    "settled": "SETTLED",
    "does not arise": "DOES NOT ARISE",
}

#: Heaps that the default output lists; the others are counted.
LISTED_HEAPS = HEAPS[: HEAPS.index("settled")]


def render(report: Report, *, everything: bool = False, width: int = WIDTH) -> str:
    """The whole report; with `everything`, settled rulings and those that do not arise are listed too."""
    heaps = report.by_heap()
    lines = header(report, width)
    for name in HEAPS if everything else LISTED_HEAPS:
        if heaps[name]:
            lines += ["", f"{HEAP_TITLES[name]} ({len(heaps[name])})"]
            if name == "cannot tell":
                lines += _waiting(heaps[name], report, width)
            else:
                lines += _findings(heaps[name], name, report, width)
    lines += _to_find_out(report, width)
    lines += refused_lines(report, width)
    lines += _counts(report, everything, width)
    lines += _devices(report, width)
    lines += ["", *caution_lines(report.cautions, width)] if report.cautions else []
    return "\n".join(lines) + "\n"


def header(report: Report, width: int = WIDTH) -> list[str]:
    """What an output for people starts with: project, place and dates, what governs, who stated the facts."""
    lines = wrap(f"{report.name} ({report.file})" if report.name else report.file, width)
    if not report.rulings:
        return lines
    dates = [f"{event} {date}" for event, date in sorted(report.dates.items())]
    lines += wrap("; ".join([report.place or "no place given", *(dates or ["no date given"])]), width)
    for document in governing_editions(report.rulings):
        lines += wrap(governs(document), width)
    if report.stated_by:
        lines += wrap(f"Facts stated by: {report.stated_by}", width)
    return lines


def governs(document: Mapping[str, Any]) -> str:
    """Which edition governs, amended by what, or why none does."""
    text = f"{document['kind'].capitalize()}: "
    if document["id"] is None:
        return text + f"{document['state']} ({document['reason'].rstrip('.')})"
    text += edition_of(document)
    if document["amendments"]:
        text += f", with {in_words(document['amendments'])}"
    if others_may_exist(document):
        text += f". Other amendments of this place may exist: ask {document['office'] or 'the authority'}"
    return text


def _findings(rulings: Sequence[RulingData], heap: Heap, report: Report, width: int) -> list[str]:
    lines: list[str] = []
    for room, in_room in by_room(rulings, report):
        lines += ["", *wrap(room, width)]
        for labels, head, body in _alike(in_room, heap, report):
            lines += wrap(f"{devices_named(labels)}: {head}", width, indent=2)
            for paragraph in body:
                lines += wrap(paragraph, width, indent=4)
    return lines


def by_room(rulings: Sequence[RulingData], report: Report) -> list[tuple[str, list[RulingData]]]:
    """The rulings by room, rooms in the order of the project, last what is in no single one."""
    rooms: dict[str, list[RulingData]] = {room: [] for room in [*report.rooms, *(r["room"] for r in rulings), ""]}
    for ruling in rulings:
        rooms[ruling["room"]].append(ruling)
    elsewhere = rooms.pop("")
    rooms["Not in one room"] = elsewhere
    return [(capital(room), found) for room, found in rooms.items() if found]


def _alike(rulings: Iterable[RulingData], heap: Heap, report: Report) -> list[tuple[list[str], str, tuple[str, ...]]]:
    """Rulings that read the same but for the device, joined: (devices, headline, lines under it)."""
    joined: dict[tuple[str, tuple[str, ...]], list[str]] = {}
    for ruling in rulings:
        brief = heap in ("settled", "does not arise")
        head = f"{headline(ruling)} {ruling['asks']}" if brief else headline(ruling)
        body = () if brief else tuple(details(ruling, report))
        joined.setdefault((head, body), []).append(device_of_room(ruling))
    return [(labels, head, body) for (head, body), labels in joined.items()]


def _waiting(rulings: Sequence[RulingData], report: Report, width: int) -> list[str]:
    """What cannot be told, by room and by what has to be found out first; devices that lack the same are joined."""
    lines: list[str] = []
    for room, in_room in by_room(rulings, report):
        lines += ["", *wrap(room, width)]
        by_asks: dict[tuple[str, ...], list[RulingData]] = {}
        for ruling in in_room:
            by_asks.setdefault(tuple(dict.fromkeys(ask["asks"] for ask in ruling["ask"])), []).append(ruling)
        for waiting in by_asks.values():
            asks = asks_text([ask for ruling in waiting for ask in ruling["ask"]])
            enough = all(ruling["possible_is"] == "exact" for ruling in waiting)
            lead = "Needed" if enough else "Enough to settle it"
            lines += wrap(f"{lead}: {asks}" if asks else "Too much is open to say what to ask.", width, 2)
            lines += _those_waiting(waiting, width)
    return lines


def _those_waiting(waiting: Sequence[RulingData], width: int) -> list[str]:
    joined: dict[tuple[str, tuple[str, ...]], list[str]] = {}
    for ruling in waiting:
        text = f"{headline(ruling)} {ruling['asks']}"
        joined.setdefault((text, tuple(_beside(ruling))), []).append(device_of_room(ruling))
    lines: list[str] = []
    for (text, beside), labels in joined.items():
        lines += wrap(f"- {devices_named(labels)}: {text}", width, indent=4)
        for paragraph in beside:
            lines += wrap(paragraph, width, indent=6)
    return lines


def _beside(ruling: RulingData) -> list[str]:
    """What is said beside the missing facts: readings that could matter too, and the law."""
    return [*readings(ruling), *law_other_amendments(ruling)]


def device_of_room(ruling: RulingData) -> str:
    """The device as one would point at it, without the room that stands above it already."""
    subject, room = ruling["subject"], ruling["room"]
    label = str(subject["label"] or subject["id"])
    row = subject["id"].rpartition("/")[0]
    if label.startswith("the ") and row:  # a schedule's row, whose things have no name of their own
        label = f"{label} of {row}"
    return without_room(label, room)


@dataclass(frozen=True)
class FactMissing:
    """One question to find an answer to: where to look, the things that it is asked of where it does not say so
    itself, and the numbers of the rulings that wait, one for each."""

    asks: str
    look: str
    of: tuple[str, ...]
    waiting: tuple[str, ...]


def facts_missing(report: Report) -> list[FactMissing]:
    """Every missing fact once, those that most rulings wait for first."""
    waiting: dict[tuple[str, str], list[str]] = {}
    of: dict[tuple[str, str], dict[str, None]] = {}
    for ruling in report.rulings:
        for ask in ruling["ask"]:
            key = (ask["asks"], ask["look"])
            waiting.setdefault(key, []).append(ruling["ruling"])
            if ask["label"] and ask["label"] not in ask["asks"]:
                of.setdefault(key, {})[ask["label"]] = None
    found = [FactMissing(*key, tuple(of.get(key, ())), tuple(rulings)) for key, rulings in waiting.items()]
    return sorted(found, key=lambda each: -len(each.waiting))


def _to_find_out(report: Report, width: int) -> list[str]:
    """Every missing fact once, with where to look, whose it is and how many rulings wait for it, most first."""
    missing = facts_missing(report)
    lines = ["", f"WHAT TO FIND OUT ({len(missing)})"] if missing else []
    for each in missing:
        text = f"{each.asks} ({devices_named(each.of)})" if each.of else each.asks
        text += f" Look: {each.look}" if each.look else ""
        waits = "wait" if len(each.waiting) != 1 else "waits"
        text += f" ({many(len(each.waiting), 'ruling')} {waits}: {', '.join(sorted(set(each.waiting)))})"
        lines += wrap(text, width, indent=2)
    return lines


def refused_lines(report: Report, width: int = WIDTH) -> list[str]:
    """The faults of the input under a heading; nothing where there are none."""
    if not report.refused:
        return []
    lines = ["", f"REFUSED ({many(len(report.refused), 'fault')} of the input; nothing was ruled on these)"]
    for message in report.refused:
        lines += wrap(message, width, indent=2)
    return lines


def _counts(report: Report, everything: bool, width: int) -> list[str]:
    if not report.rulings:
        return []
    lines = ["", f"COUNTS ({many(len(report.rulings), 'ruling')})"]
    for name, rulings in report.by_heap().items():
        if rulings:
            text = f"{HEAP_TITLES[name].lower()}: {_said(report, name)}{_weakness(rulings, name)}"
            lines += wrap(text, width, indent=2)
    if not everything and any(name not in LISTED_HEAPS for name in report.counts()):
        lines += wrap("Those that are settled or do not arise are not listed; --all lists them.", width, indent=2)
    return lines


def _said(report: Report, heap: Heap) -> str:
    """How often which word was said; the number alone where the heap has only the one word."""
    words = report.words(heap)
    if list(words) == [HEAP_TITLES[heap].lower()]:
        return str(sum(words.values()))
    return in_words(f"{count} {word}" for word, count in words.items())


def _weakness(rulings: Sequence[RulingData], heap: Heap) -> str:
    """What the reader of a bare count must still be told."""
    memory = sum(1 for r in rulings if r["checked"]["mark"] == "memory" and not r["not_checked"])
    unread = sum(1 for r in rulings if r["not_checked"]) if heap != "not checked" else 0
    notes = [f"{memory} rest on memory"] if memory else []
    notes += [f"{unread} not checked in this edition"] if unread else []
    return f" ({', '.join(notes)})" if notes else ""


def _devices(report: Report, width: int) -> list[str]:
    parts = {part["yoke"]: part for part in report.parts}
    by_room: dict[str, dict[str, list[str]]] = {}
    for marks in report.marks:
        text = mark_words(marks) + part_words(parts[marks["yoke"]])
        label = without_room(marks["label"], marks["room"])
        by_room.setdefault(marks["room"] or "Not in one room", {}).setdefault(text, []).append(label)
    lines = ["", "BY DEVICE (halves to mark as controlled, break-off tabs)"] if by_room else []
    for room, devices in by_room.items():
        lines += wrap(capital(room), width, indent=2)
        for text, labels in devices.items():
            lines += wrap(f"{devices_named(labels)}: {text}", width, indent=4)
    return lines


def part_words(part: Mapping[str, Any]) -> str:
    """The device and what to do with its tabs, as the rest of a line."""
    device = " ".join(str(part[key]) for key in ("configuration", "form") if part[key])
    text = f"; {device or 'configuration not given'}"
    if part["hot_tab"] == part["neutral_tab"] == "none on this device":
        return f"{text}; no tabs"
    if part["hot_tab"] == part["neutral_tab"] == "keep":
        return f"{text}; keep both tabs"
    return f"{text}; hot tab: {part['hot_tab']}; neutral tab: {part['neutral_tab']}"


def mark_words(marks: Mapping[str, Any]) -> str:
    """Which halves of a device to mark, with all that keeps this from being sure."""
    text = "mark it" if marks["mark"] == "the one" else f"mark {marks['mark']}"
    if marks["open"]:
        text += f"; cannot tell for {in_words(marks['open'])}"
    if marks["not_checked"]:
        text += " (not checked in this edition)"
    if not marks["complete"]:
        text += " (the record may not list every half)"
    return text

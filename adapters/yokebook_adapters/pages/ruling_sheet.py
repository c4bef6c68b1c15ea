"""The ruling sheet as a page, short for the field and full for the file: the same rulings and numbers in both."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from yokebook_adapters.finding_text import (
    also_held,
    asks_text,
    details,
    law_other_amendments,
    readings,
    sections,
    would_change,
)
from yokebook_adapters.lines import in_words
from yokebook_adapters.numbers_text import key_numbers
from yokebook_adapters.outcome import HEAPS, Heap, RulingData, heap
from yokebook_adapters.pages.head import head_of
from yokebook_adapters.pages.printing import page
from yokebook_adapters.report import Report
from yokebook_adapters.text import (
    HEAP_TITLES,
    LISTED_HEAPS,
    by_room,
    device_of_room,
    facts_missing,
    mark_words,
    part_words,
)

#: How a row is edged, which only repeats what its word says.
_EDGES: dict[Heap, str] = {"against": "against", "not checked": "told", "also held": "told", "not entered": "told"}

#: What a rule that was tried did, in words.
_DID = {"yes": "holds", "no": "does not hold", "unknown": "may hold"}


def ruling_sheet(
    report: Report, *, full: bool = False, plans: Mapping[str, str] | None = None, changes: bool = True
) -> str:
    """The sheet as HTML; `plans` are drawings of rooms by the room's label, as SVG. With `full` each finding has its
    whole reason, what is settled is listed, and there is a block to sign off. Without `changes` it is not worked out
    what would change a finding, which takes most of the time, and the sheet says so."""
    if not changes:
        report = replace(report, would_change=lambda ruling: [])
    title = "Ruling sheet" if full else "Ruling sheet, short"
    return page(
        "ruling_sheet.html",
        head=head_of(report, title),
        full=full,
        changes=changes,
        counts=_counts(report),
        rooms=_rooms(report, full, plans or {}),
        readings=_readings(report.rulings),
        missing=facts_missing(report),
        rulings=len(report.rulings),
    )


# ---- counts ---------------------------------------------------------------------------------------------------------


def _counts(report: Report) -> list[dict[str, Any]]:
    """A row for each heap that holds something: how many, by word, and how many of them are weakly checked."""
    return [
        {
            "heap": HEAP_TITLES[name].capitalize(),
            "edge": _edge(name),
            "count": len(rulings),
            "words": report.words(name),
            "memory": sum(1 for r in rulings if r["checked"]["mark"] == "memory" and not r["not_checked"]),
            "not_checked": sum(1 for r in rulings if r["not_checked"]),
        }
        for name, rulings in report.by_heap().items()
        if rulings
    ]


def _edge(name: Heap) -> str:
    return _EDGES.get(name, "unsettled" if name in LISTED_HEAPS else "")


# ---- rooms ----------------------------------------------------------------------------------------------------------


def _rooms(report: Report, full: bool, plans: Mapping[str, str]) -> list[dict[str, Any]]:
    marks: dict[str, list[dict[str, str]]] = {}
    parts = {part["yoke"]: part for part in report.parts}
    for entry in report.marks:
        text = {"device": entry["label"].removesuffix(f", {entry['room']}"), "mark": mark_words(entry)}
        text["part"] = part_words(parts[entry["yoke"]]).removeprefix("; ")
        marks.setdefault(entry["room"], []).append(text)
    rooms = []
    for number, (name, rulings) in enumerate(by_room(report.rulings, report)):
        room = rulings[0]["room"]
        listed = [ruling for ruling in rulings if heap(ruling) in LISTED_HEAPS]
        rooms.append(
            {
                "id": f"room-{number + 1}",
                "name": name,
                "findings": _findings(listed, report, full),
                "counts": {kind: sum(_kind(ruling) == kind for ruling in rulings) for kind in _KINDS},
                "marks": marks.get(room, []) if room else [],
                "plan": plans.get(room, "") if room else "",
                "settled": _brief(rulings, "settled", report) if full else [],
                "idle": _brief(rulings, "does not arise", report) if full else [],
            }
        )
    return rooms


#: The columns of the list of rooms.
_KINDS = ("against", "unsettled", "settled", "does not arise")


def _kind(ruling: RulingData) -> str:
    name = heap(ruling)
    return name if name in _KINDS else "unsettled"


def _findings(rulings: Iterable[RulingData], report: Report, full: bool) -> list[dict[str, Any]]:
    """The findings of one room, worst first; those that read the same but for the device are one."""
    joined: dict[tuple[Any, ...], dict[str, Any]] = {}
    for ruling in sorted(rulings, key=lambda ruling: HEAPS.index(heap(ruling))):
        finding = _finding(ruling, report, full)
        key = tuple(str(value) for value in finding.values())
        joined.setdefault(key, finding | {"devices": [], "subjects": []})
        joined[key]["devices"].append(_device(ruling))
        joined[key]["subjects"].append(ruling["subject"]["id"])
    return list(joined.values())


def _device(ruling: RulingData) -> str:
    """The device as one would point at it in its room; a wall is said to be one, as its name alone does not."""
    name = device_of_room(ruling)
    return f"wall {name}" if ruling["subject"]["kind"] == "wall" else name


def _finding(ruling: RulingData, report: Report, full: bool) -> dict[str, Any]:
    own, others, amendments = sections(ruling, report)
    name = heap(ruling)
    found: dict[str, Any] = {
        "heap": HEAP_TITLES[name].capitalize(),
        "edge": _edge(name),
        "number": ruling["ruling"],
        "asks": ruling["asks"],
        "word": ruling["word"],
        "says": _says(ruling),
        "weak": _weak(ruling, who=full),  # in the narrow column who holds it would drown the outcome; see Readings
        "sections": [*own, *others, *(f"amended by {name}" for name in amendments)],
        "numbers": key_numbers(ruling, report) if ruling["status"] in ("settled", "readings differ") else [],
        "fix": [*_stripped(would_change(ruling, report)), *_readings_brief(ruling), *_asks(ruling)],
    }
    if full:
        found["details"] = [parted(text) for text in details(ruling, report)]
        tried = report.tried(ruling)
        settled = ruling["status"] == "settled"
        several = settled and report.one_of_several(ruling)
        found["facts"] = _facts(ruling, report, tried if several else ()) if settled else []
        found["tried"] = rules_tried(tried, ruling, several=several)
    return found


def _says(ruling: RulingData) -> str:
    if ruling["status"] == "cannot tell" and ruling["possible"]:
        return f"could be {in_words(ruling['possible'], 'or')}"
    return str(ruling["says"])


def _weak(ruling: RulingData, *, who: bool = True) -> list[str]:
    """What must never be hidden beside the word; `who` holds it where there is room."""
    weak = [also_held(held, who=who) for held in ruling["also_held"]]
    if ruling["not_checked"]:
        weak.append("not checked in this edition")
    elif ruling["checked"]["mark"] == "memory":
        weak.append("rests on memory")
    return [*weak, *law_other_amendments(ruling)]


def _readings_brief(ruling: RulingData) -> list[str]:
    """The outcome under each reading by its name; what the names mean and who holds which stands under Readings."""
    if ruling["status"] != "readings differ":
        return readings(ruling)
    return [
        f"Read as {in_words(f'`{taken}`' for taken in under['readings'].values())}: {in_words(under['outcomes'], 'or')}"
        for under in ruling["under"]
    ]


def _stripped(texts: Iterable[str]) -> list[str]:
    """The texts without the lead that stands above their column."""
    return [text.removeprefix("Would change it: ") for text in texts]


def _asks(ruling: RulingData) -> list[str]:
    return [f"Find out: {asks_text(ruling['ask'])}"] if ruling["ask"] else []


def parted(paragraph: str) -> tuple[str, str]:
    """A paragraph as what leads it and the rest."""
    lead, colon, text = paragraph.partition(": ")
    return (lead, text) if colon else ("", paragraph)


def _facts(ruling: RulingData, report: Report, tried: Iterable[Mapping[str, Any]]) -> list[str]:
    """The facts that the standing rules looked at, with who stated each. `tried` are the rules tried where the standing
    ones are one of several ways to the outcome: what is open there is not told as a fact."""
    cells = (cell for rule in tried for box in rule["where"] for cell in box)
    still_open = {(cell["subject"], cell["input"]) for cell in cells if cell["holds"] == "unknown"}
    found: dict[str, None] = {}
    for cell in (cell for rule in ruling["standing"] for cell in rule["cells"]):
        words = report.inputs.get(cell["input"], cell["input"]).partition(";")[0].rstrip(".")
        of = f" ({cell['subject']})" if cell["subject"] else ""
        if (cell["subject"], cell["input"]) in still_open:
            found[f"{words}{of}: not settled, and the outcome is the same either way"] = None
            continue
        who = report.stated(cell["subject"], cell["input"])
        found[f"{words}{of}: {cell['value']}{f', stated by {who}' if who else ''}"] = None
    return list(found)


def rules_tried(
    rules: Iterable[Mapping[str, Any]], ruling: RulingData, *, several: bool = False
) -> list[dict[str, Any]]:
    """Each rule tried for a ruling: what it says, what it did here, and what kept it from holding. The standing rules
    may be one of `several` ways to the outcome, and are then not said to decide it."""
    return [_tried(rule, ruling, several) for rule in rules]


def _tried(rule: Mapping[str, Any], ruling: RulingData, several: bool) -> dict[str, Any]:
    """One rule tried: what it did, and what kept it from holding."""
    settled = ruling["status"] == "settled"
    if settled and rule["rule"] in {each["rule"] for each in ruling["standing"]}:
        did = "may decide" if several and rule["fires"] != "yes" else "decides"
    elif rule["fires"] == "yes" and rule["beaten_by"]:
        did = f"set aside by {in_words(name.rpartition('#')[2] for name in rule['beaten_by'])}"
    else:
        did = _DID[rule["fires"]]
    stopped = [
        f"{cell['input']}: {cell['value']}, wanted {cell['wanted']}"
        for box in rule["where"]
        for cell in box
        if cell["holds"] != "yes"
    ]
    kept_off = [", ".join(f"{cell['input']}: {cell['value']}" for cell in box)
                for box in rule["but_not"] if box and all(cell["holds"] == "yes" for cell in box)]  # fmt: skip
    return {
        "rule": rule["rule"].rpartition("#")[2],
        "then": rule["then"],
        "did": did,
        "stopped": list(dict.fromkeys(stopped)) if did in ("does not hold", "may hold", "may decide") else [],
        "kept_off": kept_off,
        "section": rule["cite"]["section"] if rule["cite"] else "",
    }


def _brief(rulings: Iterable[RulingData], name: Heap, report: Report) -> list[dict[str, Any]]:
    """The rulings of one heap in short: number, word, what was asked, sections, and the devices."""
    joined: dict[tuple[str, ...], dict[str, Any]] = {}
    for ruling in rulings:
        if heap(ruling) == name:
            own, others, _ = sections(ruling, report)
            key = (ruling["ruling"], ruling["question"], ruling["word"], *own, *others, *_weak(ruling))
            entry = {"number": ruling["ruling"], "asks": ruling["asks"], "word": ruling["word"]}
            entry |= {"sections": [*own, *others], "weak": _weak(ruling), "devices": []}
            joined.setdefault(key, entry)["devices"].append(_device(ruling))
    return list(joined.values())


# ---- readings -------------------------------------------------------------------------------------------------------


def _readings(rulings: Sequence[RulingData]) -> list[dict[str, Any]]:
    """What hangs on how a clause is read: the word, what each reading gives, and at which devices."""
    joined: dict[tuple[str, ...], dict[str, Any]] = {}
    for ruling in rulings:
        if ruling["status"] != "readings differ" and not ruling["also_held"]:
            continue
        said = readings(ruling) if ruling["status"] == "readings differ" else []
        held = [also_held(each) for each in ruling["also_held"]]
        key = (ruling["ruling"], ruling["word"], *said, *held)
        entry = {"number": ruling["ruling"], "asks": ruling["asks"], "word": ruling["word"], "said": [*said, *held]}
        joined.setdefault(key, entry | {"devices": []})["devices"].append(
            str(ruling["subject"]["label"] or ruling["subject"]["id"])
        )
    return list(joined.values())

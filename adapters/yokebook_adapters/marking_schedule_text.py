"""The marking schedule as text for the installer: room by room, one block for each yoke, then what to order."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from yokebook_adapters.finding_text import devices_named, without_room
from yokebook_adapters.lines import WIDTH, capital, caution_lines, in_words, many, sentence, wrap
from yokebook_adapters.marking_controls import rating_needed
from yokebook_adapters.report import Report
from yokebook_adapters.text import header, refused_lines

Line = Mapping[str, Any]

#: What is told of every marked device. It is what the trade does; no clause stands behind it here.
MADE_BY_THE_MAKER = (
    "The mark is made by the maker of the device. A sticker only where the authority accepts it in writing (common "
    "practice, no source)."
)


def render_schedule(report: Report, schedule: Mapping[str, Any], width: int = WIDTH) -> str:
    """The whole schedule: `schedule` as marking_schedule gives it, `report` what was ruled for it."""
    lines = [*wrap("MARKING SCHEDULE", width), *header(report, width)]
    if not schedule["lines"]:
        lines += ["", *wrap("No line: no document in force rules on the mark of a receptacle given here.", width)]
    room = None
    for line in schedule["lines"]:
        if line["room"] != room:
            room = line["room"]
            lines += ["", *wrap(capital(room or "Not in one room"), width)]
        lines += _block(line, width)
    lines += _order(schedule["order"], width)
    lines += _keep_off(schedule, width)
    lines += _memory(schedule["lines"], width)
    lines += refused_lines(report, width)
    lines += ["", *caution_lines(report.cautions, width)] if report.cautions else []
    return "\n".join(lines) + "\n"


# ---- one yoke ----------------------------------------


def tag(line: Line) -> str:
    """The device as one would point at it, without its room."""
    return without_room(line["label"], line["room"])


def _block(line: Line, width: int) -> list[str]:
    paragraphs = [f"Device: {line['device']}", *led(of_device(line))]
    paragraphs += [f"Tabs: hot: {tab_text(line, 'hot')}; neutral: {tab_text(line, 'neutral')}"]
    paragraphs += [f"{half_lead(half)}: {half_text(half)}" for half in line["halves"]]
    paragraphs += [f"Mark: {mark_text(line)}"]
    paragraphs += [f"Control {control_text(control)}" for control in line["controls"]]
    paragraphs += [f"Circuit {circuit_text(circuit)}" for circuit in line["circuits"]]
    paragraphs += led(of_throw(line))
    paragraphs += [f"Wires: {'; '.join(line['wires'])}"] if line["wires"] else []
    paragraphs += [f"Do not plug in {text}" for text in [keep_off_text(line)] if text]
    paragraphs += led(of_trouble(line))
    paragraphs += [f"Check: {'; '.join(f'[ ] {each}' for each in line['check'])}"]
    lines = wrap(tag(line), width, indent=2)
    for paragraph in paragraphs:
        lines += wrap(paragraph, width, indent=4)
    return lines


def half_lead(half: Mapping[str, Any]) -> str:
    """What stands before the text of one contact device."""
    return "Fed" if half["position"] == "only" else str(half["position"]).capitalize()


def led(pairs: Iterable[tuple[str, str]]) -> list[str]:
    """(lead, text) pairs as texts.

    >>> led([("Cover", "in use")])
    ['Cover: in use']
    """
    return [f"{lead}: {text}" for lead, text in pairs]


def of_device(line: Line) -> list[tuple[str, str]]:
    """What is said of the device beside what it is called: (lead, text) pairs."""
    beside = [("Protection", protection_text(line)), ("Cover", line["cover"] or "")]
    return [*made_texts(line), *((lead, text) for lead, text in beside if text)]


def of_trouble(line: Line, *, asked: bool = True) -> list[tuple[str, str]]:
    """Loads to move, what is against, and what is not sure, with what was `asked`: (lead, text) pairs."""
    return [
        *([("Move", move_text(line))] if line["move"] else []),
        *(("Against", text) for text in line["against"]),
        *(("Not sure", note_text(note, asked=asked)) for note in unsure(line)),
    ]


def of_care(line: Line, *, asked: bool = True) -> list[tuple[str, str]]:
    """What does not belong in, then the trouble: (lead, text) pairs."""
    return [("Do not plug in", text) for text in [keep_off_text(line)] if text] + of_trouble(line, asked=asked)


def of_throw(line: Line) -> list[tuple[str, str]]:
    """The word on one throw for all circuits, if there is one, as a (lead, text) pair."""
    return [("One throw for all circuits", text) for text in [tie_text(line)] if text]


def unsure(line: Line) -> list[Mapping[str, str]]:
    """The notes of a line but for those on what rests on memory, which is told in one place for all lines."""
    return [note for note in line["notes"] if note["why"] != "memory"]


def made_texts(line: Line) -> list[tuple[str, str]]:
    """What is said of a device that is not made, or may not be: (lead, text) pairs."""
    if line["made"] == "no":
        return [("NOT MADE as given", sentence(line["made_because"])), ("Take", sentence(line["instead"]))]
    if line["made"] == "ask":
        return [("Ask the maker", sentence(line["made_because"]))]
    return [("Made", sentence(line["made_because"]))] if line["made_because"] else []


def protection_text(line: Line) -> str:
    """The protection that is asked for and what gives it; empty where none was asked."""
    texts = []
    for each in line["protection"]:
        by = f", by {each['by']}" if each["by"] and each["by"] != "none" else ""
        texts.append(f"{each['what']} {each['word']}{by}")
    return "; ".join(texts)


def tab_text(line: Line, side: str) -> str:
    """What becomes of a break-off tab, and why."""
    return f"{line[f'{side}_tab']} ({line[f'{side}_tab_because']})"


def half_text(half: Mapping[str, Any]) -> str:
    """What feeds one contact device, and what is plugged in."""
    supply = half["supply"] or "not given whether it is switched"
    if half["supply"] == "controlled":
        supply += f" by {in_words(half['controls'])}" if half["controls"] else " by a control not given"
        supply += "" if half["controls_complete"] or not half["controls"] else " (maybe others)"
    texts = [supply, f"circuit {half['circuit'] or 'not given'}"]
    if half["load"] is None:
        texts.append("plugged in: not given")
    elif half["load"] != "none":
        kind = f" ({half['load_kind']})" if half["load_kind"] not in (None, "", half["load"]) else ""
        texts.append(f"plugged in: {half['load']}{kind}")
    return ", ".join(texts)


def mark_text(line: Line) -> str:
    """The mark: on which halves, of what, and where."""
    mark = line["mark"]
    if mark["halves"] == "none":
        return f"none; not settled for {in_words(line['open'])}" if line["open"] else "none"
    texts = [{"the one": "yes"}.get(mark["halves"], f"on {mark['halves']}")]
    texts += [f"not settled for {in_words(line['open'])}"] if line["open"] else []
    texts.append(f"form: {in_words(mark['form'], 'or') or 'not ruled here'}")
    texts.append(f"place: {in_words(mark['place'], 'or') or 'not ruled here'}")
    return "; ".join(texts)


def control_text(control: Mapping[str, Any], *, ruled: bool = True) -> str:
    """One control: what it is, its rating as given and as needed, and if `ruled` what is ruled on that and on whether
    it may feed a receptacle."""
    name = control["control"]
    called = f"{name} ({control['label']})" if control["label"] != name else name
    texts = [control["given"].get("kind", "kind not given")]
    texts.append(f"rated {control['rated']}" if control["rated"] else "rating not given")
    needed = rating_needed(control)
    texts.append(f"needs {needed}" if needed.startswith("at least") else needed)
    for lead, key, number in _RULED if ruled else ():
        words = [word for word in control[key] if word != "does not apply"]
        texts += [f"{lead}: {in_words(words, 'or')} [{number}]"] if words else []
    return f"{called}: {'; '.join(texts)}"


_RULED = (
    ("big enough for the circuit", "rating", "R12"),
    ("for the loads", "loads", "R13"),
    ("for motors", "motors", "R40"),
    ("may feed receptacles", "may_feed", "R11"),
)


def circuit_text(circuit: Mapping[str, Any]) -> str:
    """One circuit with its breaker, as far as it is given."""
    given = circuit["given"]
    texts = [f"breaker {given['breaker_amps']}" if "breaker_amps" in given else "breaker not given"]
    texts += [given["volts"]] if "volts" in given else []
    return f"{circuit['circuit']}: {', '.join(texts)}"


def tie_text(line: Line) -> str:
    """The word on one throw for two circuits; empty where one circuit feeds the yoke or nothing was ruled."""
    words = [word for word in line["tie"] if word != "does not apply"]
    return f"{in_words(words)} [R30]" if words else ""


def keep_off_text(line: Line) -> str:
    """The halves that are controlled and the kinds of load that do not belong there; empty where there are none."""
    halves, kinds = line["keep_off"]["halves"], line["keep_off"]["kinds"]
    where = "here" if halves == ["only"] else f"at {in_words(halves)}"
    return f"{where}: {', '.join(kinds)}" if kinds else ""


def move_text(line: Line) -> str:
    """The loads given here that do not belong behind a control."""
    moves = line["move"]
    return "; ".join(f"{each['load'] or 'what is plugged in'} at {each['half']}: {each['word']}" for each in moves)


def note_text(note: Mapping[str, str], *, asked: bool = True) -> str:
    """A ruling behind a line, with whose it is and, if `asked`, what was asked."""
    return f"{note['subject']}: {note['word']}" + (f" {note['asks']}" if asked else "")


# ---- below the lines ----------------------------------------


def _order(order: Mapping[str, Sequence[Mapping[str, Any]]], width: int) -> list[str]:
    lines: list[str] = []
    if order["devices"]:
        total = sum(each["count"] for each in order["devices"])
        lines += ["", *wrap(f"TO ORDER, BY PART TYPE ({many(total, 'device')}, no spares in it)", width)]
    for each in order["devices"]:
        lines += wrap(f"{each['device']}: {each['count']}{tabs_text(each)}", width, indent=2)
        lines += wrap(f"for {'; '.join(each['yokes'])}", width, indent=4)
    if order["devices"]:
        lines += wrap(MADE_BY_THE_MAKER, width, indent=2)
    if order["controls"]:
        lines += ["", "CONTROLS, BY KIND AND RATING"]
    for each in order["controls"]:
        lines += wrap(f"{each['control']}: {each['count']} ({', '.join(each['for'])})", width, indent=2)
    if order["breaker_ties"]:
        lines += ["", *wrap("CIRCUITS THAT SHARE A YOKE (one throw has to open them all)", width)]
    for each in order["breaker_ties"]:
        text = f"{in_words(each['circuits'])}, {each['label']}: {each['word']} [R30]"
        lines += wrap(text, width, indent=2)
    return lines


def tabs_text(each: Mapping[str, Any]) -> str:
    """What is said of the tabs of all devices of one part type, and of those not made as drawn; empty for nothing."""
    texts = [f"hot tab to break on {each['hot_tab_removed']}"] if each["hot_tab_removed"] else []
    texts += [f"hot tab not known on {each['hot_tab_not_known']}"] if each["hot_tab_not_known"] else []
    instead = each["instead_of_one_not_made"]
    texts += [f"{instead} instead of a device that is not made"] if instead else []
    return f"; {', '.join(texts)}" if texts else ""


def _keep_off(schedule: Mapping[str, Any], width: int) -> list[str]:
    texts = keep_off_texts(schedule)
    found = ["", *wrap("DO NOT PLUG IN WHERE A CONTROL TAKES THE POWER AWAY", width)] if texts else []
    return found + [line for text in texts for line in wrap(text, width, indent=2)]


def keep_off_texts(schedule: Mapping[str, Any]) -> list[str]:
    """What the kinds of load on the lines mean, and what is ruled of each; that nothing says so where nothing does;
    empty where no half is controlled."""
    if not any(line["keep_off"]["halves"] for line in schedule["lines"]):
        return []
    return [kind_to_keep_off_text(each) for each in schedule["keep_off"]] or [NONE_TO_KEEP_OFF]


#: What is said where no law in force names loads to keep off controlled halves.
NONE_TO_KEEP_OFF = "No law in force here names loads to keep off (R50, R51)."


def kind_to_keep_off_text(each: Mapping[str, str]) -> str:
    """A kind of load that does not belong on a controlled half, with what is ruled of it and how that is checked."""
    marks = {"memory": "; rests on memory", "assumed": "; not checked in this edition"}
    says = "" if each["says"] == each["kind"] else f" ({each['says']})"
    return f"{each['kind']}{says}: {each['word']}{marks.get(each['checked'], '')} [{each['ruling']}]"


def from_memory(lines: Sequence[Line]) -> dict[str, list[str]]:
    """The settled words behind the lines that rest on memory, each once with the things it is of."""
    words: dict[str, dict[str, None]] = {}
    for line in lines:
        for note in line["notes"]:
            if note["why"] == "memory":
                words.setdefault(f"{note['word']} {note['asks']}", {})[note["subject"]] = None
    return {word: list(subjects) for word, subjects in words.items()}


def _memory(lines: Sequence[Line], width: int) -> list[str]:
    words = from_memory(lines)
    found = ["", "ON THE LINES ABOVE, FROM MEMORY"] if words else []
    for word, subjects in words.items():
        found += wrap(f"{devices_named(subjects)}: {word}", width, indent=2)
    return found

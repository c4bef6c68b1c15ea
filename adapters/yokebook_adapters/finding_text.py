"""One finding in words: what was found at which device, under which section, in which numbers, and what to do next."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from yokebook_adapters.lines import in_words, sentence
from yokebook_adapters.numbers_text import all_numbers, key_numbers
from yokebook_adapters.outcome import RulingData
from yokebook_adapters.report import Report

#: How many changes of a fact a finding shows, and how many words of a list are spelt out.
_CHANGES_SHOWN = 3
_WORDS_SHOWN = 3

#: How many things one question names before it only counts them.
_NAMES_SHOWN = 8

#: The lower end of a range of numbers that cannot be below nothing.
_FROM_NOTHING = re.compile(r"^at least 0( [A-Za-z ]+?)? and ")


def without_room(label: str, room: str) -> str:
    """A thing's label without the room at its end, for where the room stands above it already."""
    return label.removesuffix(f", {room}") if room else label


def reasons(ruling: RulingData) -> str:
    """What the rules that stand say, each once; where none does, what the outcome means."""
    return " ".join(dict.fromkeys(rule["says"] for rule in ruling["standing"])) or str(ruling["says"])


def headline(ruling: RulingData) -> str:
    """The outcome in trade words, with everything that must never be hidden on the same line: what is also held, that
    nobody read this edition, that the ruling rests on memory."""
    parts = [ruling["word"]]
    if ruling["status"] == "cannot tell" and ruling["possible"]:
        parts[0] += f", could be {in_words(ruling['possible'], 'or')}"
    elif ruling["says"]:
        parts[0] += f" - {ruling['says']}"
    parts += [also_held(held) for held in ruling["also_held"]]
    if ruling["not_checked"]:
        parts.append("not checked in this edition")
    elif ruling["checked"]["mark"] == "memory":
        parts.append("rests on memory")
    return f"{'; '.join(parts)} [{ruling['ruling']}]"


def also_held(held: Mapping[str, Any], *, who: bool = True) -> str:
    """An argued alternative beside the outcome, with who holds it and where that is published unless `who` is off.

    >>> held = {"outcomes": ["manual"], "says": "a hand starts it", "holders": "an article", "source": "Weekly, 2016"}
    >>> also_held(held), also_held(held, who=False)
    ('also held: manual (a hand starts it; an article, Weekly, 2016)', 'also held: manual (a hand starts it)')
    """
    if not who:
        return f"also held: {in_words(held['outcomes'], 'or')} ({held['says'].rstrip('.')})"
    holders, source = held["holders"], held["source"]
    named = holders if source in holders else source if holders in source else f"{holders}, {source}"
    return f"also held: {in_words(held['outcomes'], 'or')} ({held['says'].rstrip('.')}{'; ' + named if named else ''})"


def details(ruling: RulingData, report: Report, *, full: bool = False) -> list[str]:
    """The lines under a headline, each a paragraph of its own: asked, law, numbers, why, readings, what to do.

    `full` gives every figure and every source, as a trace wants them.
    """
    told = full or ruling["status"] not in ("cannot tell", "readings differ")
    lines = [f"Asked: {ruling['asks']}", *_law(ruling, report)]
    if told or ruling["status"] == "readings differ":
        lines += [f"Numbers: {text}" for text in (all_numbers if full else key_numbers)(ruling, report)]
    lines += _why(ruling) if told else []
    lines += _readings_chosen(ruling) if told else []
    lines += _weakness(ruling, full)
    if ruling["status_of"]:
        lines.append(f"Because: {sentence(ruling['status_of']['because'])}")
    lines += _amendments_did(ruling, report)
    lines += readings(ruling)
    lines += would_change(ruling, report)
    lines += _asks(ruling)
    return lines


# ---- the law ----------------------------------------


def _law(ruling: RulingData, report: Report) -> list[str]:
    document = ruling["document"]
    if document is None or document["id"] is None:
        return []
    own, others, amendments = sections(ruling, report)
    text = f"Law: {edition_of(document)}"
    text += f", {in_words(own)}" if own else ""
    text += f"; by {in_words(others)}" if others else ""
    text += f"; amended by {in_words(amendments)}" if amendments else ""
    return [text + "".join(f"; {each}" for each in law_other_amendments(ruling))]


def sections(ruling: RulingData, report: Report) -> tuple[list[str], list[str], list[str]]:
    """The sections of the governing document that a ruling stands on, those of others with their titles, and the
    amendments that made or changed its rules; each once, none where no document governs."""
    document = ruling["document"]
    if document is None or document["id"] is None:
        return [], [], []
    own, others = [], []
    for cite in (row["cite"] for row in _rows(ruling) if row["cite"]):
        if cite["document"] == document["id"]:
            own.append(str(cite["section"]))
        else:
            others.append(f"{report.documents.get(cite['document'], cite['document'])} {cite['section']}")
    amendments = [name for row in _all_rows(ruling) for name in amended_by(row, document)]
    return list(dict.fromkeys(own)), list(dict.fromkeys(others)), list(dict.fromkeys(amendments))


def _rows(ruling: RulingData) -> list[Mapping[str, Any]]:
    """The rules that stand, or what the table says where none fires."""
    rows: list[Mapping[str, Any]] = [*ruling["standing"]]
    return [ruling["none_fires"]] if ruling["none_fires"] else rows


def _all_rows(ruling: RulingData) -> list[Mapping[str, Any]]:
    """The same with the rules that stand in the lower answers that the ruling goes through."""
    return [*_rows(ruling), *(rule for lower in ruling["through"] for rule in lower["standing"])]


def law_other_amendments(ruling: RulingData) -> list[str]:
    """That other amendments of the place may exist, and whom to ask; nothing where all are entered."""
    document = ruling["document"]
    if document is None or not others_may_exist(document):
        return []
    return [f"other amendments of this place may exist, ask {document['office'] or 'the authority'}"]


def edition_of(document: Mapping[str, Any]) -> str:
    """The document and its edition; each of them where the dates given leave several possible."""
    several = document.get("could_be") or [document]
    return in_words((f"{one['title']}, {one['edition']} edition" for one in several if one["id"]), "or")


def others_may_exist(document: Mapping[str, Any]) -> bool:
    """Whether nobody has said that every amendment of the place is entered."""
    return document["amendments_entered"] in ("some entered", "none can be entered", "not looked for")


def amended_by(rule: Mapping[str, Any], document: Mapping[str, Any]) -> list[str]:
    """The ids of this place's amendments that made or changed the rule."""
    return [step["by"] for step in rule["chain"] if step["by"] in document["amendments"]]


# ---- why, and how sure ----------------------------------------


def _why(ruling: RulingData) -> list[str]:
    says = dict.fromkeys(sentence(row["says"]) for row in _rows(ruling))
    beaten = dict.fromkeys(sentence(rule["says"]) for rule in ruling["defeated"])
    lines = [f"Why: {' '.join(says)}"] if says else []
    if beaten:
        lines.append(f"Set aside by it: {' '.join(beaten)}")
    return lines


def _readings_chosen(ruling: RulingData) -> list[str]:
    """The readings that the place's own law has chosen, and by which amendment."""
    return [
        f"Reading chosen by {chosen['chosen_by']['by']} ({chosen['chosen_by']['cite']['document']}, "
        f"{chosen['chosen_by']['cite']['section']}): {sentence(chosen['says'])}"
        for chosen in ruling["readings_chosen"]
    ]


def _weakness(ruling: RulingData, full: bool) -> list[str]:
    """What a ruling rests on that nobody read in this edition, or at all."""
    mark, because = ruling["checked"]["mark"], ruling["checked"]["because"]
    if mark not in ("assumed", "memory") or not because:
        return []
    lead = "Not read in this edition" if mark == "assumed" else "From memory"
    sources = f" ({'; '.join(dict.fromkeys(each['source'] for each in because))})" if full else ""
    return [f"{lead}: {in_words(each['what'] for each in because)}{sources}"]


def _amendments_did(ruling: RulingData, report: Report) -> list[str]:
    """Base and amended outcome, where the place's amendments made them differ."""
    effect = report.amendment_effect(ruling)
    if effect is None or effect["base"] == effect["amended"]:
        return []
    return [f"Without {in_words(ruling['document']['amendments'])}: {effect['base']}."]


# ---- readings, and what to do ----------------------------------------


def readings(ruling: RulingData) -> list[str]:
    """Each published reading with its outcome and whom to ask; or that a reading could matter too."""
    asks = [f"{reading['asks']}" for reading in ruling["readings_open"]]
    if ruling["status"] == "readings differ":
        lines = [f"Read as {reading_words(ruling, under['readings'])}: {in_words(under['outcomes'], 'or')}."
                 for under in ruling["under"]]  # fmt: skip
        office = (ruling["document"] or {}).get("office") or "the authority having jurisdiction"
        return [*lines, f"Ask {office}: {' '.join(asks)}"]
    return [f"How a clause is read could matter too: {' '.join(asks)}"] if asks else []


def reading_words(ruling: RulingData, taken: Mapping[str, str]) -> str:
    """The alternatives taken, in words, each with who holds it."""
    return in_words(_alternative_words(ruling, reading, alternative) for reading, alternative in taken.items())


def _alternative_words(ruling: RulingData, reading: str, alternative: str) -> str:
    for known in ruling["readings_open"]:
        for each in known["alternatives"] if known["reading"] == reading else ():
            if each["id"] == alternative:
                holders = f" (held by {each['holders']})" if each["holders"] else ""
                return f"`{alternative}`: {each['says'].rstrip('.')}{holders}"
    return f"`{alternative}`"


def would_change(ruling: RulingData, report: Report) -> list[str]:
    """The nearest changes of one fact that would give a better outcome than one that is against.

    A change to any of several words is left to the trace: it says that the case is another one, not what to do. So is
    one to an outcome that is idle, where another change would really satisfy.
    """
    if not ruling["against"]:
        return []
    question, found = report.questions[ruling["question"]], ruling.get("would_change")
    better = [
        change
        for change in (report.would_change(ruling) if found is None else found)
        if change["outcome"] not in question.against and " or " not in change["to"]
    ]
    better = [change for change in better if change["outcome"] not in question.idle] or better
    texts = [_change_text(change, ruling, report) for change in better[:_CHANGES_SHOWN]]
    return [f"Would change it: {'; '.join(texts)}."] if texts else []


def few_words(text: str) -> str:
    """A long list of words, cut to how many there are and the first of them.

    >>> few_words("5-30R or 5-50R or 6-15R or 6-20R"), few_words("plate or face")
    ('any of 4 others, such as 5-30R', 'plate or face')
    """
    words = text.split(" or ")
    return text if len(words) <= _WORDS_SHOWN else f"any of {len(words)} others, such as {words[0]}"


def _change_text(change: Mapping[str, Any], ruling: RulingData, report: Report) -> str:
    fact = report.inputs.get(change["fact"], change["fact"]).partition(";")[0].rstrip(".")
    whose = "" if change["subject"] == ruling["subject"]["id"] else f" ({change['subject']})"
    to = _FROM_NOTHING.sub("", change["to"])
    return f"{fact}{whose}: {to} instead of {change['from']} gives {change['outcome']}"


def _asks(ruling: RulingData) -> list[str]:
    asks: Sequence[Mapping[str, Any]] = ruling["ask"]
    if not asks:
        return []
    lead = "To settle it, all that can matter" if ruling["possible_is"] == "exact" else "Enough to settle it"
    return [f"{lead}: {asks_text(asks)}"]


def asks_text(asks: Sequence[Mapping[str, Any]]) -> str:
    """What to ask, each question once, with the things that it is asked of where it does not say so itself."""
    labels: dict[str, dict[str, None]] = {}
    for ask in asks:
        named = ask["label"] and ask["label"] not in ask["asks"]
        labels.setdefault(ask["asks"], {}).update({ask["label"]: None} if named else {})
    return " ".join(f"{asks} ({devices_named(list(of))})" if of else asks for asks, of in labels.items())


def devices_named(labels: Sequence[str]) -> str:
    """One device with where it is; several by name alone, which is what the plan calls them; of very many the first
    few and how many more there are."""
    if len(labels) == 1:
        return labels[0]
    names = [label.partition(",")[0] for label in labels]
    more = len(names) - _NAMES_SHOWN
    return in_words(names) if more <= 1 else f"{', '.join(names[:_NAMES_SHOWN])} and {more} more"

"""The questions for the authority as text: each with what hangs on it, what each answer gives, and room for it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from yokebook_adapters.finding_text import devices_named, without_room
from yokebook_adapters.lines import WIDTH, caution_lines, in_words, many, sentence, wrap
from yokebook_adapters.report import Report
from yokebook_adapters.text import header, refused_lines

#: What stands above the questions of one rank.
RANK_TITLES = {
    "many devices": "ANSWERS THAT TOUCH MANY DEVICES",
    "safety": "ANSWERS ON WHAT CAN COME OUT AGAINST",
    "other": "OTHER QUESTIONS",
}

_MARKS = {"memory": "rest on memory", "assumed": "not checked in this edition"}


def render_questions(report: Report, questions: Sequence[Mapping[str, Any]], width: int = WIDTH) -> str:
    """The whole list: `questions` as questions_for_authority gives them, `report` what was ruled for them."""
    lines = [*wrap("QUESTIONS FOR THE AUTHORITY", width), *header(report, width)]
    if not questions and report.rulings:
        lines += ["", *wrap("None: nothing that was ruled here hangs on an answer of the authority.", width)]
    rank = None
    for number, question in enumerate(questions, start=1):
        if question["rank"] != rank:
            rank = question["rank"]
            lines += ["", RANK_TITLES[rank]]
        lines += ["", *_question(number, question, report, width)]
    lines += refused_lines(report, width)
    lines += ["", *caution_lines(report.cautions, width)] if report.cautions else []
    return "\n".join(lines) + "\n"


def _question(number: int, question: Mapping[str, Any], report: Report, width: int) -> list[str]:
    lines = wrap(f"{number}. {sentence(question['asks'])}", width)
    paragraphs = [f"Clause: {clause_text(question['cite'], report)}"] if question["cite"] else []
    paragraphs += [f"Why: {sentence(question['why'])}", f"Hangs on it: {hangs_text(question)}"]
    paragraphs += [_alternative(each) for each in question.get("alternatives", ())]
    if "meanwhile" in question:
        meanwhile = question["meanwhile"]
        because = f" The plain text points there: {sentence(meanwhile['because'])}" if meanwhile["because"] else ""
        paragraphs.append(f"Until there is an answer: {sentence(meanwhile['says'])}{because}")
    paragraphs.append(f"Answer of {question['office']}: ____________ date: ________ reference: ________")
    for paragraph in paragraphs:
        lines += wrap(paragraph, width, indent=3)
    return lines


def clause_text(cite: Mapping[str, str], report: Report) -> str:
    """The clause in question, with the title of its document."""
    return f"{report.documents.get(cite['document'], cite['document'])}, {cite['section']}"


def hangs_text(question: Mapping[str, Any]) -> str:
    """How many devices and which rulings hang on the answer, by word and device, and how little checked they are."""
    rulings = question["rulings"]
    if question["kind"] in ("entry", "amendments"):  # everything hangs on it
        texts = [f"{many(len(rulings), 'ruling')} ({in_words(dict.fromkeys(r['ruling'] for r in rulings))})"]
    else:
        texts = _by_word(rulings)
    marks = {mark: sum(ruling["checked"] == mark for ruling in rulings) for mark in _MARKS}
    texts += [f"{count} of {len(rulings)} {_MARKS[mark]}" for mark, count in marks.items() if count]
    return f"{many(len(question['devices']), 'device')}; {'; '.join(texts)}"


def _by_word(rulings: Sequence[Mapping[str, Any]]) -> list[str]:
    """The rulings by word and thing, numbers of the same word on the same things together."""
    things: dict[tuple[str, str], dict[tuple[str, str], None]] = {}
    for ruling in rulings:
        things.setdefault((ruling["ruling"], ruling["word"]), {})[ruling["room"], ruling["label"]] = None
    numbers: dict[tuple[str, tuple[tuple[str, str], ...]], list[str]] = {}
    for (number, word), of in things.items():
        numbers.setdefault((word, tuple(of)), []).append(number)
    return [f"{in_words(found)} {word} at {_named(of)}" for (word, of), found in numbers.items()]


def _named(things: Sequence[tuple[str, str]]) -> str:
    """The things by room."""
    rooms: dict[str, list[str]] = {}
    for room, label in things:
        rooms.setdefault(room, []).append(without_room(label, room))
    texts = [(devices_named(labels), room) for room, labels in rooms.items()]
    return ", ".join(text if room in text else f"{text} in {room}" for text, room in texts)


def _alternative(each: Mapping[str, Any]) -> str:
    who = f"{each['standing']}, {held_by_text(each)}"
    return f"If `{each['id']}` ({who}): {sentence(each['says'])} Gives: {gives_text(each)}."


def held_by_text(each: Mapping[str, Any]) -> str:
    """Who holds an alternative of a reading, and where that is published."""
    who = f"held by {each['holders']}" if each["holders"] else "holders not known"
    return who + (f"; {each['source']}" if each["source"] and each["source"] not in each["holders"] else "")


def gives_text(each: Mapping[str, Any]) -> str:
    """What an alternative would give for how many rulings, by their numbers."""
    alike: dict[str, list[str]] = {}
    for number, counts in each["gives"].items():
        alike.setdefault(in_words(f"{count} {word}" for word, count in counts.items()), []).append(number)
    return "; ".join(f"{in_words(numbers)} {words}" for words, numbers in alike.items())

"""One ruling with its whole trace as text: every rule tried, cell by cell, what is enough and what would change it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from yokebook_adapters.finding_text import details, few_words, headline
from yokebook_adapters.lines import WIDTH, caution_lines, in_words, sentence, wrap
from yokebook_adapters.outcome import RulingData
from yokebook_adapters.report import Report

_FIRES = {"yes": "fires", "no": "does not fire", "unknown": "may fire"}
_HOLDS = {"yes": "holds", "no": "does not hold", "unknown": "not known", "not applicable": "not applicable"}


def render_explanation(report: Report, width: int = WIDTH) -> str:
    """Every ruling of the report, each with its trace where it holds one, then the cautions."""
    lines: list[str] = []
    for ruling in report.rulings:
        lines += [*_one(ruling, report, width), ""]
    lines += caution_lines(report.cautions, width)
    return "\n".join(lines) + "\n"


def _one(ruling: RulingData, report: Report, width: int) -> list[str]:
    lines = wrap(f"{ruling['subject']['label']}: {headline(ruling)}", width)
    for paragraph in details(ruling, report, full="tried" in ruling):
        lines += wrap(paragraph, width, indent=2)
    changes, enough = changes_text(ruling), enough_text(ruling)
    lines += [f"  {changes_head(ruling)}"] if changes else []
    lines += [line for change in changes for line in wrap(f"- {change}", width, indent=4)]
    lines += wrap(enough, width, indent=2) if enough else []
    tried = ruling.get("tried") or []
    standing = {rule["rule"] for rule in ruling["standing"]}
    if tried:
        lines += ["", f"RULES TRIED ({len(tried)})"]
    for rule in sorted(tried, key=lambda rule: ("yes", "unknown", "no").index(rule["fires"])):
        lines += _rule(rule, standing, width)
    return lines


def changes_text(ruling: RulingData) -> list[str]:
    """Each change of a fact, or of two, that would give another outcome, with that outcome."""
    return [f"{_changed(change)} gives {change['outcome']}" for change in ruling.get("would_change") or ()]


def changes_head(ruling: RulingData) -> str:
    """What stands above the changes: whether one fact is enough."""
    together = any("together_with" in change for change in ruling.get("would_change") or ())
    return "No single fact would change it; two together would:" if together else "Would change it, each by itself:"


def _changed(change: Mapping[str, Any]) -> str:
    text = f"{change['fact']} of {change['subject']}: {few_words(change['to'])} instead of {change['from']}"
    other = change.get("together_with")
    return text if other is None else f"{text}, and {_changed(other)}"


def enough_text(ruling: RulingData) -> str:
    """The facts that are enough for the outcome by themselves; empty where none are told."""
    facts = [f"{fact['fact']} of {fact['subject']} is {fact['value']}" for fact in ruling.get("sufficient") or ()]
    smallest = " (nothing smaller is)" if ruling.get("sufficient_is") == "smallest" else ""
    return f"Enough for this by themselves{smallest}: {in_words(facts)}." if facts else ""


def _rule(rule: Mapping[str, Any], standing: set[str], width: int) -> list[str]:
    state = _FIRES[rule["fires"]]
    if rule["fires"] == "yes":
        state += ", stands" if rule["rule"] in standing else f", set aside by {in_words(rule['beaten_by'])}"
    lines = wrap(f"{rule['rule']}: {state} -> {rule['then']}", width, indent=2)
    lines += wrap(sentence(rule["says"]), width, indent=4)
    cite = rule["cite"]
    if cite:
        checked = f"{rule['checked']['mark']}: {rule['checked']['source']}"
        lines += wrap(f"{cite['document']} {cite['section']}; {checked}", width, indent=4)
    lines += _chain(rule["chain"], width)
    lines += _boxes("where", rule["where"], width)
    lines += _boxes("but not where", rule["but_not"], width)
    return lines


def _chain(chain: Sequence[Mapping[str, Any]], width: int) -> list[str]:
    lines: list[str] = []
    for step in chain:
        cite = f" ({step['cite']['document']} {step['cite']['section']})" if step["cite"] else ""
        says = f": {sentence(step['says'])}" if step["says"] else ""
        lines += wrap(f"{step['op']} by {step['by']}{cite}{says}", width, indent=4)
    return lines


def _boxes(lead: str, boxes: Iterable[Sequence[Mapping[str, str]]], width: int) -> list[str]:
    lines: list[str] = []
    for number, cells in enumerate(boxes):
        lines.append(f"    {'or ' if number else ''}{lead}{'' if cells else ' anything'}")
        for cell in cells:
            whose = f" of {cell['subject']}" if cell["subject"] else ""
            text = f"{cell['input']}{whose}: {cell['value']}, wanted {cell['wanted']}: {_HOLDS[cell['holds']]}"
            lines += wrap(text, width, indent=6)
    return lines

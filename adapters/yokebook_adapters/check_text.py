"""What a check found, as text for people who write rules and amendments."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from yokebook.model import Book
from yokebook.proof.findings import SEVERITIES, Blamed, Finding, Report, Severity
from yokebook_adapters.lines import WIDTH, caution_lines, in_words, many, sentence, wrap

#: Findings of these severities are told in full; the rest only with `every`.
_TOLD: tuple[Severity, ...] = ("error", "not decided", "warning")

_COUNTED: dict[Severity, tuple[str, str]] = {
    "error": ("error", "errors"),
    "not decided": ("question not decided", "questions not decided"),
    "warning": ("warning", "warnings"),
    "note": ("note", "notes"),
}

#: Regions of one finding that are told unless every one is asked for.
_FEW_REGIONS = 2

#: Past this many laws the rest are only counted.
_MOST_LAWS = 3


def as_text(report: Report, book: Book | None, width: int = WIDTH, *, every: bool = False) -> str:
    """The findings, most serious first, then what the names in them mean, then counts.

    `book` explains names; None where the rulebook does not load. With `every`, notes are told in full too.
    """
    told = [finding for finding in report.findings if every or finding.severity in _TOLD]
    lines: list[str] = []
    for finding in told:
        lines += [*_finding(finding, width, every), ""]
    if book is not None and told:
        lines += _words(told, book, width)
    lines += wrap(_counts(report), width)
    lines += _notes_left_out(report, told, width)
    if book is not None:
        lines += ["", *caution_lines(book.cautions, width)]
    return "\n".join(lines) + "\n"


def _finding(finding: Finding, width: int, every: bool) -> list[str]:
    place = f" ({_laws(finding.laws)})" if finding.laws else ""
    about = f" in {finding.question}" if finding.question else ""
    lines = wrap(f"{finding.severity}: {finding.kind}{about}{place}", width)
    if finding.at is not None:
        lines += wrap(str(finding.at), width, indent=2)
    lines += wrap(sentence(finding.says), width, indent=2)
    lines += _blamed(finding.blamed, width)
    lines += _where(finding, width, every)
    lines += _record(finding, width)
    if finding.repairs:
        lines.append("  To mend it:")
        lines += [line for repair in finding.repairs for line in wrap(f"- {sentence(repair)}", width, indent=4)]
    return lines


def _laws(laws: Sequence[str]) -> str:
    shown = in_words(laws[:_MOST_LAWS]) if len(laws) <= _MOST_LAWS else ", ".join(laws[:_MOST_LAWS])
    return shown if len(laws) <= _MOST_LAWS else f"{shown} and {len(laws) - _MOST_LAWS} more"


def _blamed(blamed: Sequence[Blamed], width: int) -> list[str]:
    lines: list[str] = []
    for each in blamed:
        if not each.says and not each.then:
            continue
        then = f": {each.then}" if each.then else ""
        by = f", {each.by}" if each.by else ""
        lines += wrap(f"{each.id}{then}{by}, {each.at}", width, indent=4)
        if each.says:
            section = f" ({each.cite.document}, {each.cite.section})" if each.cite is not None else ""
            lines += wrap(f"{sentence(each.says)}{section}", width, indent=6)
    return ["  Rules:", *lines] if lines else []


def _where(finding: Finding, width: int, every: bool) -> list[str]:
    if not finding.region and not finding.point:
        return []
    told = finding.regions if every else finding.regions[: _FEW_REGIONS - 1]
    lines = ["  Wherever:", *_region(finding.region, width)]
    for region in told:
        lines += ["  or wherever:", *_region(region, width)]
    left = len(finding.regions) - len(told)
    if left:
        lines.append(f"  and in {many(left, 'further region')}, which `--all` prints")
    elif finding.more_regions:
        lines.append("  and in further regions")
    return lines


def _region(region: Sequence[Mapping[str, str]], width: int) -> list[str]:
    if not region:
        return ["    always"]
    return [line for each in region for line in wrap(f"{each['input']}: {each['is']}", width, indent=4)]


def _record(finding: Finding, width: int) -> list[str]:
    if finding.record is None:
        if finding.reachable == "not shown":
            return wrap("No record was found in which this comes about; it may be that there is none.", width, indent=2)
        return []
    return ["  For example:", *record_lines(finding.record, width)]


def record_lines(record: Mapping[str, Any], width: int) -> list[str]:
    """A record that was found, one fact a line, and the readings under which it is ruled."""
    lines: list[str] = []
    for fact in record["facts"]:
        lines += wrap(f"{fact['subject']}: {fact['fact']} {fact['value']}", width, indent=4)
    for reading, alternative in record["readings"].items():
        lines += wrap(f"read as: {reading} {alternative}", width, indent=4)
    if not lines:
        lines.append(f"    {record['subject']}, whatever else is given")
    return lines


def _words(told: Iterable[Finding], book: Book, width: int) -> list[str]:
    """What the names in the findings' regions mean, each once."""
    names = dict.fromkeys(
        each["input"] for finding in told for region in (finding.region, *finding.regions) for each in region
    )
    lines = [line for name in names for line in wrap(f"{name}: {meaning(name, book)}", width, indent=2)]
    return ["NAMES", *lines, ""] if lines else []


def meaning(name: str, book: Book) -> str:
    """What an input of a table is, in plain words."""
    if name in book.facts:
        return book.facts[name].says
    if name in book.calculations:
        return book.calculations[name].says
    if name.startswith("reading."):
        reading = book.readings.get(name.removeprefix("reading."))
        return "how a clause is read" if reading is None else f"how people read it: {reading.asks}"
    rest = name.removeprefix("answer.")
    question = book.questions.get(rest) or book.questions.get(rest.partition(".")[2])
    return "another question's answer" if question is None else f"the answer to: {question.asks}"


def _counts(report: Report) -> str:
    counted = [many(len(found), *_COUNTED[s]) for s in SEVERITIES if (found := report.of(s))]
    looked = (
        f"looked at {many(report.laws, 'law')} with {many(report.tables, 'different table')} of "
        f"{many(report.rules, 'rule')}"
    )
    if not counted:
        return f"Nothing found; {looked}."
    return sentence(f"{in_words(counted)}; {looked}")


def _notes_left_out(report: Report, told: Sequence[Finding], width: int) -> list[str]:
    left = [finding for finding in report.findings if finding not in told]
    if not left:
        return []
    kinds = dict.fromkeys(finding.kind for finding in left)
    each = in_words(f"{sum(1 for f in left if f.kind == kind)} of `{kind}`" for kind in kinds)
    return wrap(f"Notes not printed: {each}; `--all` prints them.", width)

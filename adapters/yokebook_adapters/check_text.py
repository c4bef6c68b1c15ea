"""What a check found, as text for people who write rules and amendments."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from yokebook.model import Book
from yokebook.proof.findings import SEVERITIES, Blamed, Finding, Report, Severity
from yokebook_adapters.lines import WIDTH, caution_lines, in_words, many, sentence, wrap

_Region = Sequence[Mapping[str, str]]

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

#: Changes of one effect that are told unless every one is asked for.
_FEW_CHANGES = 3

#: Past this many laws the rest are only counted.
_MOST_LAWS = 3


def as_text(
    report: Report, book: Book | None, width: int = WIDTH, *, every: bool = False, drafts: Iterable[str] = ()
) -> str:
    """The findings, most serious first, then what the names in them mean, then what was looked at, and counts.

    `book` explains names; None where the rulebook does not load. With `every`, notes are told in full too. `drafts`
    says of each draft file, in one sentence, what it stands for.
    """
    told = [finding for finding in report.findings if every or finding.severity in _TOLD]
    lines: list[str] = []
    for finding in told:
        lines += [*_finding(finding, width, every), ""]
    if book is not None and told:
        lines += _words(told, book, width, every)
    for note in drafts:
        lines += wrap(note, width)
    lines += wrap(_counts(report, loaded=book is not None), width)
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
    lines += _moved(finding.moved, width)
    for effect in finding.effects:
        lines += _effect(effect, finding.record, width, every)
    lines += _blamed(finding.blamed, width)
    if not finding.effects:  # else they say it of each change
        lines += _where(finding, width, every)
    lines += _record(finding, width)
    if finding.repairs:
        lines.append("  To mend it:")
        lines += [line for repair in finding.repairs for line in wrap(f"- {sentence(repair)}", width, indent=4)]
    return lines


def _laws(laws: Sequence[str]) -> str:
    shown = in_words(laws[:_MOST_LAWS]) if len(laws) <= _MOST_LAWS else ", ".join(laws[:_MOST_LAWS])
    return shown if len(laws) <= _MOST_LAWS else f"{shown} and {len(laws) - _MOST_LAWS} more"


def _moved(moved: Sequence[Mapping[str, str]], width: int) -> list[str]:
    """The parts of a text that moved, what each was and is on lines of their own."""
    lines: list[str] = []
    for each in moved:
        lines += wrap(f"Moved: `{each['part']}`", width, indent=2)
        lines += wrap(f"was: {each.get('was', 'not there')}", width, indent=4)
        lines += wrap(f"is: {each.get('is', 'no longer there')}", width, indent=4)
    return lines


def _effect(effect: Mapping[str, Any], shown: Mapping[str, Any] | None, width: int, every: bool) -> list[str]:
    """What a text that moved does to outcomes at one level of the law; `shown` is the record printed below."""
    if effect["effect"] != "changes outcomes":
        return wrap(sentence(effect["says"]), width, indent=2)
    lines = wrap(f"{effect['where'][:1].upper()}{effect['where'][1:]} outcomes change:", width, indent=2)
    told = effect["changes"] if every else effect["changes"][:_FEW_CHANGES]
    for change in told:
        lines += _change(change, shown, width, every)
    left = len(effect["changes"]) - len(told)
    return lines + ([f"    and {left} more, which `--all` prints"] if left else [])


def _change(change: Mapping[str, Any], shown: Mapping[str, Any] | None, width: int, every: bool) -> list[str]:
    start = f"`{change['question']}` was {change['was']} and is {change['is']}"
    region, further = change.get("region", ()), change.get("further_regions", ())
    if not region:
        record = change.get("record")
        if record is None or record == shown:
            return wrap(f"{start}{'' if record is None else ' in the example below'}", width, indent=4)
        return [*wrap(f"{start} of {example(record)}", width, indent=4), *record_lines(record, width, indent=6)]
    edge = ", at single numbers only," if "boundary_only" in change else ""
    lines = [*wrap(f"{start}{edge} wherever", width, indent=4), *_region(region, width, indent=6)]
    for each in further if every else ():
        lines += ["    or wherever", *_region(each, width, indent=6)]
    return lines + _further(0 if every else len(further), change.get("more_regions", 0), indent=4)


def _blamed(blamed: Sequence[Blamed], width: int) -> list[str]:
    lines: list[str] = []
    for each in blamed:
        if not each.says and not each.then:
            continue
        then = f": {each.then}" if each.then else ""
        by = f", {each.by}" if each.by and each.by != each.id else ""
        lines += wrap(f"{each.id}{then}{by}, {each.at}", width, indent=4)
        if each.says:
            section = f" ({each.cite.document}, {each.cite.section})" if each.cite is not None else ""
            lines += wrap(f"{sentence(each.says)}{section}", width, indent=6)
    return ["  Rules:", *lines] if lines else []


def _where(finding: Finding, width: int, every: bool) -> list[str]:
    if not finding.region and not finding.point:
        return []
    told = _told_regions(finding.regions, every)
    lines = ["  Wherever:", *_region(finding.region, width)]
    for region in told:
        lines += ["  or wherever:", *_region(region, width)]
    return lines + _further(len(finding.regions) - len(told), finding.more_regions, indent=2)


def _told_regions(regions: Sequence[_Region], every: bool) -> Sequence[_Region]:
    return regions if every else regions[: _FEW_REGIONS - 1]


def _further(left: int, more: int, indent: int) -> list[str]:
    """That regions are left out: `left` that can be printed, and where `more`, others that were not worked out."""
    if left:
        return [f"{' ' * indent}and in {many(left, 'further region')}, which `--all` prints"]
    return [f"{' ' * indent}and in further regions"] if more else []


def _region(region: _Region, width: int, indent: int = 4) -> list[str]:
    if not region:
        return [f"{' ' * indent}always"]
    return [line for each in region for line in wrap(f"{each['input']}: {each['is']}", width, indent)]


def _record(finding: Finding, width: int) -> list[str]:
    if finding.record is None:
        if finding.reachable == "not shown":
            return wrap("No record was found in which this comes about; it may be that there is none.", width, indent=2)
        return []
    return [*wrap(f"For example {example(finding.record)}", width, indent=2), *record_lines(finding.record, width)]


def record_lines(record: Mapping[str, Any], width: int, indent: int = 4) -> list[str]:
    """A record that was found, one thing a line, and the readings under which it is ruled."""
    return [line for text in record_texts(record) for line in wrap(text, width, indent)]


def record_texts(record: Mapping[str, Any]) -> list[str]:
    """The same, a paragraph for each thing and reading."""
    by_thing: dict[str, list[str]] = {}
    for fact in record["facts"]:
        by_thing.setdefault(fact["subject"], []).append(f"{fact['fact']} {fact['value']}")
    readings = [f"reading.{reading}: {alternative}" for reading, alternative in record["readings"].items()]
    return [*(f"{thing}: {', '.join(facts)}" for thing, facts in by_thing.items()), *readings]


def example(record: Mapping[str, Any]) -> str:
    """What `record_lines` of a record are put after: whose ruling it is."""
    if record["facts"] or record["readings"]:
        return f"{record['subject']}, with"
    return f"{record['subject']}, of which nothing need be given"


def _words(told: Iterable[Finding], book: Book, width: int, every: bool) -> list[str]:
    """What the names that the findings print mean, each once."""
    names = dict.fromkeys(name for finding in told for name in _names(finding, every))
    return ["NAMES", *name_lines(names, book, width), ""] if names else []


def name_lines(names: Iterable[str], book: Book, width: int) -> list[str]:
    """What each name means, one a paragraph."""
    return [line for name in names for line in wrap(f"{name}: {sentence(meaning(name, book))}", width, indent=2)]


def _names(finding: Finding, every: bool) -> Iterator[str]:
    """The names in what is printed of a finding: its regions, or those of its effects, and its record."""
    regions = [finding.region, *_told_regions(finding.regions, every)]
    for effect in finding.effects:
        for change in effect["changes"] if every else effect["changes"][:_FEW_CHANGES]:
            regions += [change.get("region", ()), *(change.get("further_regions", ()) if every else ())]
    for region in regions:
        yield from (each["input"] for each in region)
    if finding.record is not None:
        yield from (fact["fact"] for fact in finding.record["facts"])
        yield from (f"reading.{name}" for name in finding.record["readings"])


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


def _counts(report: Report, *, loaded: bool) -> str:
    counted = [many(len(found), *_COUNTED[s]) for s in SEVERITIES if (found := report.of(s))]
    if not loaded:
        return f"{in_words(counted)}; until the files can be read, no table is looked at."
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
    kinds: dict[str, list[Finding]] = {}
    for finding in left:
        kinds.setdefault(finding.kind, []).append(finding)
    each = in_words(_noted(kind, found) for kind, found in kinds.items())
    return wrap(f"Notes not printed: {each}; `--all` prints them.", width)


def _noted(kind: str, found: Sequence[Finding]) -> str:
    """How many notes of a kind; of a fault, that it is a note because no record shows it."""
    unshown = all(finding.reachable == "not shown" for finding in found)
    return f"{len(found)} of `{kind}`{' that no record shows' if unshown else ''}"

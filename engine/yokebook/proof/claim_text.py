"""Regions written as a rulebook's files have them: cells that can be pasted under `where` and `but_not`."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from fractions import Fraction

from yokebook.model import Value
from yokebook.proof.cover import Region
from yokebook.proof.elements import Space
from yokebook.proof.introduced import Introduced
from yokebook.proof.survivors import Survivor, Trial
from yokebook.showing import show_value, unit_of
from yokebook.units import QuantityError, parse
from yokebook.values import NotApplicable, Range, Some, Span, in_order, single

#: Words that need no quotes: letters, digits and single marks in between, and that read as no number, yes or no.
_PLAIN = re.compile(r"[A-Za-z][A-Za-z0-9 ._/()+-]*[A-Za-z0-9)]|[A-Za-z]|[0-9]+-[0-9A-Za-z-]*[A-Za-z]")
_NO_TEXT = frozenset(("yes", "no", "true", "false", "null", "on", "off"))


def survivor_text(survivor: Survivor, trial: Trial, table: Introduced) -> str:
    """A region of a file of cases that would notice a fault of a table, as text to paste under `regions:`; what is due
    in it is left blank, for whoever reads the clause."""
    its = table.law.resolved
    law = [f"    document: {its.document.id}"]
    if table.place is None:
        law.append(f"    editions: [{quoted(its.edition)}]")
    else:
        dates = ", ".join(f"{event}: {day}" for event, day in table.dates.items())
        law += [f"    place: {table.place}", f"    dates: {{{dates}}}"]
    return "\n".join(
        [
            f"  # {fault_text(survivor)}",
            *("  - id:", "    says:", "    source:"),
            *law,
            f"    question: {table.question}",
            region_text(trial.space, survivor.region),
            "    expect:",
        ]
    )


def fault_text(survivor: Survivor) -> str:
    """A fault in one line: the row, where it is, and what is wrong. The word that a row says instead is not told: it
    would give away what it says."""
    words = "says something else" if survivor.kind == "other outcome" else survivor.words
    return f"{survivor.rule_id} ({survivor.at}): {words}"


def region_text(space: Space, region: Region, indent: str = "    ") -> str:
    """The lines `where:` and, where it needs any, `but_not:` of a region: everything in them is in the region. Where a
    cell cannot hold all that the region has of an input, it holds the first stretch of it."""
    cells: list[tuple[str, str]] = []
    without: list[tuple[str, str]] = []
    every = dict(zip(space.names, space.elements, strict=True))
    for name, spans in space.spans(region).items():
        unit = unit_of(space.book, name)
        given = [span for span in spans if not isinstance(span, NotApplicable)]
        if given:
            cells.append((name, _cell(given, [s for s in every[name] if not isinstance(s, NotApplicable)], unit)))
        else:
            without.extend((name, text) for text in _any_value(every[name], unit))
    lines = [f"{indent}where: {_box(cells)}"]
    if without:
        boxes = ", ".join(_box([cell]) for cell in without)
        lines.append(f"{indent}but_not: [{boxes}]")
    return "\n".join(lines)


def _box(cells: Sequence[tuple[str, str]]) -> str:
    return "{" + ", ".join(f"{name}: {text}" for name, text in cells) + "}"


def _cell(spans: Sequence[Span], every: Sequence[Span], unit: str | None) -> str:
    words = _words(spans)
    if words:
        all_words = _words(every)
        left_out = [word for word in all_words if word not in words]
        if len(left_out) < len(words) and left_out and all(isinstance(span, Some) for span in every):
            return f"{{not: {_list(left_out, unit)}}}"
        return _list(words, unit)
    # a single number last: a stretch says more
    ranges = sorted((span for span in spans if isinstance(span, Range)), key=lambda span: single(span) is not None)
    return _range(ranges[0], unit)


def _words(spans: Sequence[Span]) -> list[Value]:
    return in_order({value for span in spans if isinstance(span, Some) for value in span.values})


def _any_value(every: Sequence[Span], unit: str | None) -> Iterator[str]:
    """Cells that together hold for any value of an input."""
    words = _words(every)
    if words:
        yield _list(words, unit)
    if any(isinstance(span, Range) for span in every):
        yield f"{{at_least: {_number(Fraction(0), unit)}}}"
        yield f"{{less_than: {_number(Fraction(0), unit)}}}"


def _list(values: Sequence[Value], unit: str | None) -> str:
    texts = [_value(value, unit) for value in values]
    return texts[0] if len(texts) == 1 else f"[{', '.join(texts)}]"


def _range(span: Range, unit: str | None) -> str:
    alone = single(span)
    if alone is not None:
        return _value(alone, unit)
    ends: list[str] = []
    if span.low is not None:
        ends.append(f"{'more_than' if span.low_open else 'at_least'}: {_number(span.low, unit)}")
    if span.high is not None:
        ends.append(f"{'less_than' if span.high_open else 'at_most'}: {_number(span.high, unit)}")
    return "{" + ", ".join(ends) + "}"


def _value(value: Value, unit: str | None) -> str:
    if isinstance(value, Fraction):
        return _number(value, unit)
    return show_value(value, unit) if isinstance(value, bool) else quoted(value)


def _number(number: Fraction, unit: str | None) -> str:
    """A number as it can be read back exactly."""
    text = show_value(number, unit)
    try:
        exact = parse(text, unit) == number
    except QuantityError:
        exact = False
    if exact:
        return text
    whole, rest = divmod(number, 1)
    written = str(number) if not whole or number < 0 else f"{whole} {rest}"
    return written if unit is None else f"{written} {unit}"


def quoted(text: str) -> str:
    """Text as it can stand in a file, in quotes where it would not read as that text without."""
    if _PLAIN.fullmatch(text) and text.lower() not in _NO_TEXT:
        return text
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'

"""The numbers of a finding in words: what was found, what it is held against, and the margin between them."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from fractions import Fraction
from typing import Any

from yokebook.units import QuantityError, format_number, parse_any
from yokebook_adapters.lines import in_words
from yokebook_adapters.outcome import RulingData
from yokebook_adapters.report import Report

_LIMIT = re.compile(r"(at least|over|at most|under) (\S.*)")
_ADDS_NOTHING = re.compile(r" \+ 0( [A-Za-z ]+)?$")


def key_numbers(ruling: RulingData, report: Report) -> list[str]:
    """The comparisons that the standing rules rest on, each with its margin and the working behind its two sides;
    where there are none, what was found against each limit."""
    compared = list(_comparisons(ruling))
    if compared:
        lines = [f"{_plain(figure['says'])}: {figure['steps']}" for figure in compared]
        return list(dict.fromkeys(lines + [line for figure in compared for line in _behind(figure, ruling)]))
    limits = (limit_text(cell, report) for rule in ruling["standing"] for cell in rule["cells"])
    return list(dict.fromkeys(line for line in limits if line))


def all_numbers(ruling: RulingData, report: Report) -> list[str]:
    """Every limit and every figure that was worked out, for a trace; not what is only read off, such as the volts that
    a configuration has."""
    lines = [limit_text(cell, report) for rule in ruling["standing"] for cell in rule["cells"]]
    lines += [
        f"{_plain(figure['says'])}: {figure_text(figure)}"
        for figure in ruling["figures"]
        if figure["steps"] and figure["steps"] != str(figure["value"])
    ]
    return list(dict.fromkeys(line for line in lines if line))


def _comparisons(ruling: RulingData) -> Iterable[Mapping[str, Any]]:
    looked_at = {(cell["input"], cell["subject"]) for rule in ruling["standing"] for cell in rule["cells"]}
    for figure in ruling["figures"]:
        compares = figure["value"] in ("yes", "no") and figure["steps"]
        if compares and (figure["calculation"], figure["subject"]) in looked_at:
            yield figure


def _behind(compared: Mapping[str, Any], ruling: RulingData) -> list[str]:
    """The figures that came to one side of the comparison by more than one step."""
    sides = re.split(r" [<>≤≥=≠] | by |, ", compared["steps"])
    return [
        f"{_plain(figure['says'])}: {figure['value']} = {working}"
        for figure in ruling["figures"]
        if figure["value"] in sides[:2] and (working := _working(figure))
    ]


def _working(figure: Mapping[str, Any]) -> str:
    """How a figure was worked out, or nothing where that says no more than the figure."""
    steps = _ADDS_NOTHING.sub("", figure["steps"])
    parts = set(re.split(r"^largest of |^smallest of |, | and ", steps)) - {"", "whatever else is there"}
    value = str(figure["value"]).removeprefix("at least ").removeprefix("at most ")
    return "" if parts <= {value, value.partition(" ")[0]} else steps


def figure_text(figure: Mapping[str, Any]) -> str:
    """A figure's value, and how it came about where it was computed. A comparison shows both sides and the margin."""
    value, steps = str(figure["value"]), figure["steps"]
    if not steps or steps == value:
        return value
    return f"{value}, {steps}" if value in ("yes", "no", "not known") else f"{value} = {steps}"


def limit_text(cell: Mapping[str, Any], report: Report) -> str:
    """What was found against the limit of one cell, with the margin; empty for a cell that sets no limit."""
    if not _LIMIT.match(cell["wanted"]):
        return ""
    parts = in_words(_with_margin(cell["value"], part) for part in cell["wanted"].split(" and "))
    return f"{_plain(report.inputs.get(cell['input'], cell['input']))}: {cell['value']}, which is {parts}"


def _with_margin(found: str, limit: str) -> str:
    """The limit, with the distance to it where that is a number."""
    match = _LIMIT.match(limit)
    margin = _margin(found, match[2]) if match else ""
    if not match or not margin:
        return limit
    return f"{limit} by {margin}" if match[1] in ("over", "under") else f"{limit}, {margin} to spare"


def _margin(found: str, limit: str) -> str:
    """The distance between two numbers as printed, or nothing where one is not a single number."""
    try:
        (a, unit), (b, other) = parse_any(found), parse_any(limit)
    except QuantityError:
        return ""
    return format_number(Fraction(abs(a - b)), unit) if unit == other and a != b else ""


def _plain(text: str) -> str:
    """A fact's description without what it adds after a semicolon, and without its full stop."""
    return text.partition(";")[0].rstrip(".")

"""Which parts of an amendment's base moved, the old words beside the new."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from yokebook.canonical_rules import Canonical
from yokebook.model import Resolved
from yokebook.pins import Pinned, RecordedPart, RecordedPin
from yokebook.units import format_number


@dataclass(frozen=True)
class Moved:
    """A part of the base, as it was and as it is in words; None where it was not there, or no longer is."""

    part: str
    was: str | None
    now: str | None


def moved_parts(below: Resolved, due: Pinned, recorded: RecordedPin) -> Iterator[Moved]:
    """The parts that a pin is made over and that are not as recorded; of a lower table the rules, of a look-up the
    rows. Then the named numbers that moved in them."""
    for name in dict.fromkeys((*due.parts, *recorded.parts)):
        was = recorded.parts.get(name)
        if was is None or name not in due.parts:
            yield Moved(name, None if was is None else was.words, due.parts.get(name))
        elif was.digest != due.digests[name]:
            now = RecordedPart(due.digests[name], due.parts[name], due.canonical[name])
            finer = _rows(name, was, now) if recorded.whole else []
            yield from finer or [Moved(name, was.words, now.words)]
    for name, text in recorded.numbers.items():
        after = due.numbers.get(name)
        if after is not None and after != text:
            unit = below.values[name].unit
            yield Moved(f"value.{name}", *(format_number(Fraction(each), unit) for each in (text, after)))


def moved_wording(now: Mapping[str, str], recorded: RecordedPin) -> Iterator[Moved]:
    """How the base is worded, cited or marked otherwise than recorded; nothing where the record does not keep it.

    What is there only before or only now is a part that moved, not its wording, but for the section.
    """
    was = recorded.editorial
    for name in dict.fromkeys((*now, *was)) if recorded.whole else ():
        if now.get(name) != was.get(name) and (name == "section" or (name in now and name in was)):
            yield Moved(name, was.get(name), now.get(name))


def _rows(name: str, was: RecordedPart, now: RecordedPart) -> list[Moved]:
    """What moved in a lower table or a look-up, row by row; [] for other parts, and where more than rows moved."""
    before, after = _rules(name, was), _rules(name, now)
    if not before or not after:
        before, after = _look_up(name, was.canonical, now.canonical), _look_up(name, now.canonical, was.canonical)
    names = [row for row in dict.fromkeys((*after, *before)) if before.get(row) != after.get(row)]
    return [Moved(row, before.get(row), after.get(row)) for row in names]


def _rules(name: str, part: RecordedPart) -> dict[str, str]:
    """A lower table's words by rule, and by its name what it says where no rule fires."""
    rules = part.canonical.get("rules") if isinstance(part.canonical, dict) else None
    if not isinstance(rules, list):
        return {}
    found: dict[str, str] = {}
    starts = [*(str(rule["id"]) for rule in rules if isinstance(rule, dict)), "where no rule fires"]
    rest = part.words
    for start, following in zip(starts, [*starts[1:], ""], strict=True):
        rest = rest.removeprefix(f"{start}: ")
        said, _, rest = rest.partition(f". {following}: ") if following else (rest, "", "")
        found[start if following else f"{name} {start}"] = said
    return found


def _look_up(name: str, canonical: Canonical, other: Canonical) -> dict[str, str]:
    """A look-up's results in words by row, if the other one looks up by the same and gives the same elsewhere."""
    it: Any = canonical
    like: Any = other
    try:
        frames = [{**each, "expression": {**each["expression"], "table": None}} for each in (it, like)]
        by, rows = it["expression"]["look_up"], it["expression"]["table"]
    except (KeyError, TypeError):
        return {}
    if frames[0] != frames[1]:
        return {}
    return {f"{name} at {by} {_word(None, key)}": _word(it, value) for key, value in rows}


def _word(calculation: Any, data: Any) -> str:
    if isinstance(data, bool):
        return "yes" if data else "no"
    if calculation is None or calculation["type"] != "number":
        return str(data)
    return format_number(Fraction(data), calculation["unit"])

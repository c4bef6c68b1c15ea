"""What a flat record and a project have in common: what is stated of one thing, and the checks once all is read."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from datetime import date
from fractions import Fraction

from yokebook.entities import KIND_OF_PREFIX
from yokebook.graph import Graph, Thing
from yokebook.intake.entry import Entry, Fields, Member
from yokebook.intake.value import Reader, Refused, quoted, text_of
from yokebook.intake.vocabulary import Term, Vocabulary
from yokebook.load.faults import Fault, listed, suggest
from yokebook.load.nodes import Scalar
from yokebook.model import Box, Cell, NamedNumber, NoneOf, OneOf, Value, Within
from yokebook.units import format_number

#: What a reference says when there is nothing at its end.
NOTHING = "none"

_ISO_DATE = re.compile("[0-9]{4}-[0-9]{2}-[0-9]{2}")


def state(thing: Thing, term: Term, entry: Entry, reader: Reader) -> None:
    """Puts one stated value on its thing, unless it is null or refused."""
    if term.type == "text":
        text = reader.text(term.id, entry)
        if text is None:
            return
        thing.text[term.id] = text
    else:
        value = reader.value(term, entry)
        if value is None:
            return
        thing.given[term.id] = value
    thing.at[term.id] = entry.at


def read_place(entry: Entry, words: Vocabulary, reader: Reader) -> str | None:
    """The id of a place of the rulebook; None for null or after noting a fault."""
    place = reader.text("project.place", entry)
    if place is not None and place not in words.places:
        known = listed(words.places) or "none, because the rulebook has no place"
        message = f"`{place}` is no place{suggest(place, words.places)}; allowed: {known}"
        reader.refuse(entry.at, "project.place", message)
        return None
    return place


def read_date(member: Member, event: str, words: Vocabulary, reader: Reader) -> dict[str, str]:
    """{event: ISO date}; empty for null or after noting a fault."""
    name = f"project.dates.{event}"
    if event not in words.events:
        known = listed(words.events) or "none, because no place's law turns on one"
        reader.refuse(member.at, name, f"`{event}` is no event{suggest(event, words.events)}; allowed: {known}")
        return {}
    found = member.value.value
    if found is None:
        return {}
    text = found.text if isinstance(found, Scalar) else found.isoformat() if isinstance(found, date) else found
    try:
        if not isinstance(text, str) or not _ISO_DATE.fullmatch(text):
            raise ValueError
        return {event: date.fromisoformat(text).isoformat()}
    except ValueError:
        message = f"{quoted(found)} is no date; allowed: year, month and day, such as `2024-10-01`"
        reader.refuse(member.value.at, name, message)
        return {}


def read_choice(member: Member, choice: str, words: Vocabulary, reader: Reader) -> dict[str, str]:
    """{choice: alternative}; empty for null or after noting a fault."""
    name = f"project.choices.{choice}"
    if choice not in words.choices:
        known = listed(words.choices) or "none, because no place offers one"
        reader.refuse(member.at, name, f"`{choice}` is no choice{suggest(choice, words.choices)}; allowed: {known}")
        return {}
    if not member.value.given:
        return {}
    try:
        alternative = text_of(member.value.value)
    except Refused as refused:
        reader.refuse(member.value.at, name, str(refused))
        return {}
    known_ones = words.choices[choice]
    if alternative not in known_ones:
        message = f"`{alternative}` is no alternative{suggest(alternative, known_ones)}; allowed: {listed(known_ones)}"
        reader.refuse(member.value.at, name, message)
        return {}
    return {choice: alternative}


def top_members(entry: Entry, what: str, reader: Reader) -> Iterator[Member]:
    """The members of a whole record or project; none, after noting a fault, if it is no mapping."""
    if isinstance(entry.value, Fields):
        yield from entry.value
    else:
        reader.faults.append(
            Fault(entry.at or what, f"a {what} is a mapping of keys and values; found {quoted(entry.value)}")
        )


def members_of(entry: Entry, name: str, reader: Reader) -> Iterator[Member]:
    """The members of a mapping; none for null or, after noting a fault, for anything else."""
    if isinstance(entry.value, Fields):
        yield from entry.value
    elif entry.given:
        reader.refuse(entry.at, name, f"found {quoted(entry.value)}; allowed: a mapping")


def items_of(entry: Entry, name: str, reader: Reader) -> Iterable[Entry]:
    """The items of a list; none for null or, after noting a fault, for anything else."""
    if isinstance(entry.value, tuple):
        return entry.value
    if entry.given:
        reader.refuse(entry.at, name, f"found {quoted(entry.value)}; allowed: a list")
    return ()


# ---- facts that apply only where others have certain values --------------------------------------------------------


def check_applies(graph: Graph, words: Vocabulary, reader: Reader) -> None:
    """Notes a fault for every fact that is given where the rulebook says that it does not apply."""
    for thing in graph:
        for name in (*thing.given, *thing.text):
            term = words.terms[name]
            if term.applies_when is None:
                continue
            against = _first_against(thing, term.applies_when, words)
            if against is not None:
                cell_name, cell, found = against
                message = f"does not apply where `{cell_name}` is {found}; it applies only where that is {_cell(cell)}"
                reader.refuse(thing.at[name], name, message)


def _first_against(thing: Thing, box: Box, words: Vocabulary) -> tuple[str, Cell, str] | None:
    """The first cell of a box that certainly does not hold, with what was found there; None if all may hold."""
    for name, cell in box.items():
        kind = KIND_OF_PREFIX.get(name.partition(".")[0])
        owner = thing.one(kind) if kind is not None else None
        if not isinstance(owner, Thing):
            continue
        value = owner.given.get(name)
        if value is not None and not _may_hold(cell, value):
            return name, cell, _shown_value(value, words.terms[name].unit)
        term = words.terms.get(name)
        upper = term.applies_when if term is not None and value is None else None
        if upper is not None and _first_against(owner, upper, words) is not None:
            return name, cell, "not applicable"
    return None


def _may_hold(cell: Cell, value: Value) -> bool:
    """Whether a cell holds, or may hold because it names a number that an edition sets."""
    if isinstance(cell, Within):
        return isinstance(value, Fraction) and _may_be_within(cell, value)
    named = any(isinstance(one, NamedNumber) for one in cell.values)
    there = value in cell.values
    return named or (there if isinstance(cell, OneOf) else not there)


def _may_be_within(cell: Within, value: Fraction) -> bool:
    low, high = cell.low, cell.high
    too_low = isinstance(low, Fraction) and (value <= low if cell.low_open else value < low)
    too_high = isinstance(high, Fraction) and (value >= high if cell.high_open else value > high)
    return not too_low and not too_high


def _shown_value(value: Value | NamedNumber, unit: str | None) -> str:
    match value:
        case bool():
            return "yes" if value else "no"
        case Fraction():
            return format_number(value, unit)
        case NamedNumber(id=name):
            return f"`value.{name}`"
        case _:
            return f"`{value}`"


def _cell(cell: Cell) -> str:
    if not isinstance(cell, Within):
        words = " or ".join(sorted(_shown_value(value, None) for value in cell.values))
        return f"not {words}" if isinstance(cell, NoneOf) else words
    low = "above" if cell.low_open else "at least"
    high = "below" if cell.high_open else "at most"
    ends = [(low, cell.low), (high, cell.high)]
    return " and ".join(f"{word} {_shown_value(end, None)}" for word, end in ends if end is not None)

"""Stale pins and editorial changes below as findings: what moved, what it does to outcomes, and what to do."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from yokebook.changes import question_of, target_of
from yokebook.model import Book
from yokebook.proof.findings import Blamed, Finding, blamed_rule
from yokebook.proof.moved_parts import Moved
from yokebook.proof.outcomes_moved import Changed, Weighed
from yokebook.proof.stale import Level, MovedBase, Records, moved_bases

#: How many differences of a table, and of a record how many facts, are told in words; the finding's data has them all.
_TOLD = 3

STALE = "stale pin"
EDITORIAL = "editorial change below"


def stale_findings(book: Book, place: str, records: Records) -> list[Finding]:
    """A finding for each op of a place's layers whose base has moved since it was pinned, in file order: an error of
    kind "stale pin" where the pin no longer fits, a note of kind "editorial change below" where only wording, section
    or mark moved.

    `records` is what the record beside the place's file keeps of each pin.
    """
    return [_finding(book, moved) for moved in moved_bases(book, place, records)]


def _finding(book: Book, moved: MovedBase) -> Finding:
    shown = _shown(moved)
    question = shown.question if shown is not None else _question(moved)
    return Finding(
        STALE if moved.stale else EDITORIAL,
        "error" if moved.stale else "note",
        _says(moved) if moved.stale else _says_editorial(moved),
        question,
        moved.laws,
        tuple(_blamed(book, moved)),
        () if shown is None else shown.region,
        () if shown is None else shown.regions,
        0 if shown is None else shown.more,
        () if shown is None else shown.boundary,
        {} if shown is None else dict(shown.point),
        "" if shown is None else "shown" if shown.record is not None else "not shown",
        None if shown is None else shown.record,
        (_repair(moved),),
        moved.op.pin_at or moved.op.at,
    )


def _question(moved: MovedBase) -> str:
    kind, name = target_of(moved.op)
    return question_of(name) if kind in ("rule", "none_fires") else ""


def _shown(moved: MovedBase) -> Changed | None:
    """The difference that a finding shows: with the amendment on top if there is one, else below; one that a record
    shows before others."""
    for level in (moved.layered, moved.below):
        changed = [each for table in level.tables for each in table.changed]
        if level.effect == "changes outcomes":
            return min(changed, key=lambda each: each.record is None)
    return next((each for level in (moved.layered, moved.below) for t in level.tables for each in t.changed), None)


def _blamed(book: Book, moved: MovedBase) -> Iterator[Blamed]:
    op, amendment = moved.op, moved.amendment
    says, cite = op.says or amendment.says, op.cite or amendment.cite
    yield Blamed(amendment.id, op.at, "", says, cite, amendment.id)
    kind, name = target_of(op)
    below = moved.use.below
    if kind == "rule":
        yield from (blamed_rule(rule) for rule in below.tables[question_of(name)].rules if rule.id == name)
    elif kind == "none_fires":
        row = below.tables[question_of(name)].none_fires
        yield Blamed(name, row.at, row.then or "", row.says, row.cite)
    elif kind == "value":
        value = below.values[name]
        yield Blamed(f"value.{name}", value.at, "", value.says, value.cite)
    else:
        reading = book.readings[name]
        yield Blamed(name, reading.at, "", reading.asks, reading.cite)


# ---- in words -------------------------------------------------------------------------------------------------------


def _named(moved: MovedBase) -> str:
    return f"`{moved.op.op}` of `{moved.op.target}` ({moved.amendment.id})"


def _says(moved: MovedBase) -> str:
    start = (
        f"{_named(moved)} has the pin `{moved.op.pin}`, and the text below layer `{moved.use.layer.id}` has "
        f"`{moved.due.pin}` now"
    )
    if not moved.known:
        return f"{start}. What moved is not known: no record of the text with this pin is kept beside the file"
    return ". ".join([start, f"Moved: {_moved_words((*moved.moved, *moved.wording))}", effect_words(moved)])


def effect_words(moved: MovedBase) -> str:
    """What a moved base does to outcomes, below the layer and with the amendment in place, as sentences without the
    last full stop."""
    if moved.below.why and moved.below == moved.layered:
        return f"It is not shown to change any outcome: {moved.below.why}"
    below = _level_words("Below the layer", moved.below)
    return f"{below}. {_level_words('With the amendment in place', moved.layered)}"


def _says_editorial(moved: MovedBase) -> str:
    return (
        f"The base of {_named(moved)} is only worded, cited or marked otherwise, and the pin holds: "
        f"{_moved_words(moved.wording)}. No outcome changes"
    )


def _moved_words(moved: Sequence[Moved]) -> str:
    return "; ".join(_one_moved(each) for each in moved)


def _one_moved(moved: Moved) -> str:
    if moved.was is None:
        return f'{moved.part} was not part of it and is "{moved.now}"'
    if moved.now is None:
        return f'{moved.part} was "{moved.was}" and is no longer part of it'
    return f'{moved.part} was "{moved.was}" and is "{moved.now}"'


def _level_words(where: str, level: Level) -> str:
    if level.effect == "no outcome changes":
        return f"{where} no outcome changes"
    if level.effect == "changes outcomes":
        told = [_table_words(table) for table in level.tables if table.effect == "changes outcomes"]
        return f"{where} outcomes change: {'; '.join(told)}"
    reasons = [_doubt(table) for table in level.tables if table.effect == "not shown to change any outcome"]
    because = "; ".join(dict.fromkeys([*([level.why] if level.why else []), *reasons]))
    return f"{where} it is not shown to change any outcome: {because}"


def _doubt(table: Weighed) -> str:
    if table.changed:
        return f"the tables differ, {_table_words(table)}, and no raw record was found that shows it"
    return f"{table.why}, and no record was found of which `{table.question}` is another"


def _table_words(table: Weighed) -> str:
    told = [_change_words(each) for each in table.changed[:_TOLD]]
    more = len(table.changed) - len(told)
    return "; ".join(told) + (f"; and {more} more" if more else "")


def _change_words(change: Changed) -> str:
    outcome = f"`{change.question}` was {change.was} and is {change.now}"
    if change.region:
        where = " and ".join(f"{each['input']} is {each['is']}" for each in change.region)
        only = ", which is only at single numbers" if change.boundary else ""
        return f"{outcome} where {where}{only}"
    if change.record is None or change.point:
        return f"{outcome} for every record"
    return f"{outcome} for a record in which {_record_words(change.record)}"


def _record_words(record: Mapping[str, Any]) -> str:
    names = [fact["fact"] for fact in record["facts"]]
    whose = [f" of {fact['subject']}" if names.count(fact["fact"]) > 1 else "" for fact in record["facts"]]
    facts = [f"{fact['fact']}{of} is {fact['value']}" for fact, of in zip(record["facts"], whose, strict=True)]
    readings = [f"reading.{name} is {word}" for name, word in record["readings"].items()]
    return " and ".join([*facts, *readings]) or "nothing is given"


def _repair(moved: MovedBase) -> str:
    run = f"run `yokebook pin {moved.op.at.file}`"
    if not moved.stale:
        return f"{run} to keep the new words in the record"
    if moved.layered.effect == "no outcome changes":
        return f"read the new text; every record keeps its outcome with the amendment in place, so then {run}"
    if moved.layered.effect == "changes outcomes":
        return f"read the new text; if the outcomes that change are meant, {run}; if not, mend the amendment first"
    return f"read the text below and mend the amendment if it no longer says what is meant; then {run}"

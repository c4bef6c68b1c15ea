"""Stale pins and editorial changes below as findings: what moved, what it does to outcomes, and what to do."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from yokebook.changes import question_of, target_of
from yokebook.model import Book
from yokebook.proof.findings import Blamed, Finding, blamed_rule
from yokebook.proof.moved_parts import Moved
from yokebook.proof.outcomes_moved import Changed, Effect, Weighed
from yokebook.proof.stale import Level, MovedBase, Records, moved_bases

#: How many differences of a table, and of a record how many facts, are told in words; the finding's data has them all.
_TOLD = 3

_IN_SHORT: Mapping[Effect, str] = {
    "editorial": "no outcome changes",
    "no outcome changes": "no outcome changes",
    "changes outcomes": "outcomes change",
    "not shown to change any outcome": "it is not shown to change any outcome",
}

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
        tuple(_moved_data(each) for each in (*moved.moved, *moved.wording)),
        tuple(_effects(moved)),
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


# ---- as data --------------------------------------------------------------------------------------------------------


def _moved_data(moved: Moved) -> dict[str, str]:
    return {
        "part": moved.part,
        **({} if moved.was is None else {"was": moved.was}),
        **({} if moved.now is None else {"is": moved.now}),
    }


def _effects(moved: MovedBase) -> Iterator[dict[str, Any]]:
    """What a stale pin's base does to outcomes at each level; nothing where that could not be worked out at all."""
    if not moved.stale or _nowhere_worked_out(moved):
        return
    for where, level in _levels(moved):
        concerned = (table for table in level.tables if table.effect == level.effect)
        changes = [_change_data(each) for table in concerned for each in table.changed]
        yield {"where": where, "effect": level.effect, "says": _level_words(where, level), "changes": changes}


def _change_data(change: Changed) -> dict[str, Any]:
    parts: dict[str, Any] = {
        "region": [dict(each) for each in change.region],
        "further_regions": [[dict(each) for each in region] for region in change.regions],
        "more_regions": change.more,
        "boundary_only": list(change.boundary),
        "record": change.record,
    }
    named = {"question": change.question, "was": change.was, "is": change.now}
    return named | {key: value for key, value in parts.items() if value}


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
    return f"{start}. Moved: {_parts((*moved.moved, *moved.wording))}. {_effects_in_short(moved)}"


def _parts(moved: Sequence[Moved]) -> str:
    *first, last = [f"`{each.part}`" for each in moved]
    return f"{', '.join(first)} and {last}" if first else last


def _levels(moved: MovedBase) -> tuple[tuple[str, Level], ...]:
    return (("below the layer", moved.below), ("with the amendment in place", moved.layered))


def _nowhere_worked_out(moved: MovedBase) -> bool:
    return bool(moved.below.why) and moved.below == moved.layered


def _effects_in_short(moved: MovedBase) -> str:
    if _nowhere_worked_out(moved):
        return effect_words(moved)
    told = [f"{where} {_IN_SHORT[level.effect]}" for where, level in _levels(moved)]
    return _capital("; ".join(told))


def effect_words(moved: MovedBase) -> str:
    """What a moved base does to outcomes, below the layer and with the amendment in place, as sentences without the
    last full stop."""
    if _nowhere_worked_out(moved):
        return f"It is not shown to change any outcome: {moved.below.why}"
    return ". ".join(_level_words(where, level) for where, level in _levels(moved))


def _says_editorial(moved: MovedBase) -> str:
    return (
        f"The base of {_named(moved)} is only worded, cited or marked otherwise, and the pin holds: "
        f"{_parts(moved.wording)} moved. No outcome changes"
    )


def _level_words(where: str, level: Level) -> str:
    start = _capital(f"{where} {_IN_SHORT[level.effect]}")
    if level.effect == "no outcome changes":
        return start
    if level.effect == "changes outcomes":
        return f"{start}: {'; '.join(_table_words(t) for t in level.tables if t.effect == 'changes outcomes')}"
    reasons = [_doubt(table) for table in level.tables if table.effect == "not shown to change any outcome"]
    return f"{start}: {'; '.join(dict.fromkeys([*([level.why] if level.why else []), *reasons]))}"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


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
    run = _pinning(moved)
    if not moved.stale:
        return f"{run} to keep the new words in the record"
    if moved.layered.effect == "no outcome changes":
        return f"read the new text; every record keeps its outcome with the amendment in place, so then {run}"
    if moved.layered.effect == "changes outcomes":
        return f"read the new text; if the outcomes that change are meant, {run}; if not, mend the amendment first"
    return f"read the text below and mend the amendment if it no longer says what is meant; then {run}"


def _pinning(moved: MovedBase) -> str:
    """How to write the new pin; only a file in the rulebook's own folder can be pinned, which a draft's is not yet."""
    file, own = moved.op.at.file, f"places/{moved.use.owner.id}.yaml"
    if f"/{file}".endswith(f"/{own}"):
        return f"run `yokebook pin {file}`"
    return f"move the draft, and `{file}.pins.json` with it, to `{own}` in the rulebook and run `yokebook pin` on it"

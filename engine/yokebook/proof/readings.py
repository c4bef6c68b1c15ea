"""What a check finds in readings: those that change nothing, and those that two layers choose."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import combinations

from yokebook.adopted_layers import find_layer
from yokebook.law import LawFault
from yokebook.model import Amendment, Book, ByReading, Expression, Op, Reading
from yokebook.proof.cells import boxes_in_expression, parts_of_expression
from yokebook.proof.cover import NotDecided, Region
from yokebook.proof.deciding_rows import Rows
from yokebook.proof.differences import Joint
from yokebook.proof.elements import Side, Space, space_of
from yokebook.proof.findings import Blamed, Finding
from yokebook.proof.laws import Standing
from yokebook.reach import names_in_boxes, names_in_rule, names_reached
from yokebook.values import Some


def idle_findings(book: Book, editions: Sequence[Standing]) -> Iterator[Finding]:
    """Readings whose alternatives give the same outcome of every record in every edition."""
    for reading in book.readings.values():
        its = [standing for standing in editions if _concerns(reading, standing)]
        try:
            changes = any(_changes(book, reading, standing) for standing in its)
        except (NotDecided, LawFault) as why:
            because = str(why) if isinstance(why, LawFault) else "it would take too many steps"
            says = f"whether the reading `{reading.id}` changes anything is not decided: {because}"
            yield Finding("not decided", "not decided", says, blamed=(Blamed(reading.id, reading.at),), at=reading.at)
            continue
        if not changes:
            says = f"the reading `{reading.id}` changes nothing: no table gives another outcome by it"
            repairs = ("take the reading out, or give rules a cell on it where people differ",)
            blamed = (Blamed(reading.id, reading.at, says=reading.asks, cite=reading.cite),)
            yield Finding(
                "reading that changes nothing", "error", says, blamed=blamed, repairs=repairs, at=reading.at
            )


def _concerns(reading: Reading, standing: Standing) -> bool:
    resolved = standing.law.resolved
    same = reading.cite.document == resolved.document.id
    return not (same and reading.editions and resolved.edition not in reading.editions)


def _changes(book: Book, reading: Reading, standing: Standing) -> bool:
    """Whether a table of a law says something else by the reading; through a figure, whether the figure does."""
    name = f"reading.{reading.id}"
    for question, table in standing.law.resolved.tables.items():
        direct = {n for rule in table.rules for n in names_in_rule(rule)}
        if name in direct and _changes_table(book, name, standing, question):
            return True
        if any(_changes_figure(book, reading.id, other) for other in names_reached(direct, book) if other != name):
            return True
    return False


def _changes_table(book: Book, name: str, standing: Standing, question: str) -> bool:
    space = standing.spaces.get((question, False))
    if space is None:
        space = standing.spaces[question, False] = space_of([Side(standing.law, question)], book)
    number = space.names.index(name)
    by_word: dict[object, int] = {}
    for element, span in enumerate(space.elements[number]):
        assert isinstance(span, Some)
        by_word.update(dict.fromkeys(span.values, element))
    rows = [_under(space, number, element) for element in sorted(set(by_word.values()))]
    return any(next(Joint(a, b).pairs(), None) is not None for a, b in combinations(rows, 2))


def _under(space: Space, number: int, element: int) -> Rows:
    """The rows with the reading held to one alternative: a box that leaves it out does not hold."""
    whole = space.whole[number]

    def held(regions: Iterable[Region]) -> tuple[Region, ...]:
        return tuple(
            (*region[:number], whole if region[number] >> element & 1 else 0, *region[number + 1 :])
            for region in regions
        )

    rows = space.rows[0]
    rules = tuple(replace(rule, where=held(rule.where), but_not=held(rule.but_not)) for rule in rows.rules)
    return replace(rows, rules=rules)


def _changes_figure(book: Book, reading: str, name: str) -> bool:
    """Whether a calculation is made in another way by the reading: two of its alternatives are not written alike, or a
    box of it has a cell on the reading."""
    if name not in book.calculations:
        return False
    expression = book.calculations[name].expression
    return any(
        isinstance(part, ByReading) and part.reading == reading and len(set(map(repr, part.alternatives.values()))) > 1
        for part in _all_parts(expression)
    ) or f"reading.{reading}" in set(names_in_boxes(boxes_in_expression(expression)))


def _all_parts(expression: Expression) -> Iterator[Expression]:
    yield expression
    for part in parts_of_expression(expression):
        yield from _all_parts(part)


# ---- chosen twice ---------------------------------------------------------------------------------------------------


def twice_chosen_findings(book: Book, standings: Iterable[Standing]) -> Iterator[Finding]:
    """Readings that one layer chooses and another above it chooses again, unless the upper op says in `was` which
    alternative it takes the place of."""
    told: set[tuple[str, str]] = set()
    for standing in standings:
        if standing.place is None or standing.adopts is None:
            continue
        chosen: dict[str, tuple[str, Op]] = {}
        for name in standing.adopts.layers:
            found = find_layer(book, standing.place, name)
            if found is None:
                continue
            for amendment, op in _choices(found[1].amendments):
                before = chosen.get(op.target)
                key = (str(op.at), op.target)
                if before is not None and key not in told and not _knows(op, before[1]):
                    told.add(key)
                    yield _twice(standing, amendment, op, *before)
                chosen[op.target] = (amendment.id, op)


def _choices(amendments: Iterable[Amendment]) -> Iterator[tuple[Amendment, Op]]:
    for amendment in amendments:
        for op in amendment.ops:
            if op.op == "choose_reading" and op.where is None:
                yield amendment, op


def _knows(op: Op, before: Op) -> bool:
    return bool(op.was and before.alternative and before.alternative in op.was)


def _twice(standing: Standing, amendment: Amendment, op: Op, first: str, before: Op) -> Finding:
    says = (
        f"`{amendment.id}` chooses `{op.alternative}` of the reading `{op.target}`, for which `{first}` of a layer "
        f"below has chosen `{before.alternative}` already"
    )
    repairs = (
        f"write `was: {before.alternative}` if the choice below is to be replaced; otherwise take one of the two out",
    )
    blamed = (
        Blamed(amendment.id, op.at, "", amendment.says, amendment.cite, amendment.id),
        Blamed(first, before.at),
    )
    return Finding(
        "reading chosen by two layers", "error", says, laws=(standing.name,), blamed=blamed, repairs=repairs, at=op.at
    )

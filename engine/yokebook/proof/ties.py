"""What ties the inputs of a table to each other: combinations that cannot be.

Declared combinations and `applies_when` always; with `deep` also figures and what they are computed from, and answers
and the tables that give them, as far as these are a matter of the one thing at hand.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from yokebook.entities import KIND_OF_PREFIX, ONE, Kind
from yokebook.law import Law, plain_cell
from yokebook.model import (
    Book,
    Box,
    Calculation,
    Cell,
    Impossible,
    LookUp,
    NoneOf,
    OneOf,
    Question,
    Value,
    WhereBox,
)
from yokebook.proof.domains import may_be_absent, needs_of
from yokebook.session import answer_of

#: How many ways for none of some boxes to hold are told; what is not told leaves in what cannot be.
MOST_WAYS = 128


@dataclass(frozen=True)
class Tie:
    """A combination that cannot be: every cell in `cells` holds, every one in `fails` does not, and each name in
    `applies` does (True) or does not (False) apply."""

    cells: Mapping[str, Cell]
    because: str
    fails: Mapping[str, Cell] = field(default_factory=dict)
    applies: Mapping[str, bool] = field(default_factory=dict)


def ties_of(
    law: Law, question: Question, names: Sequence[str], book: Book, *, deep: bool
) -> tuple[tuple[str, ...], list[Tie]]:
    """The names of the inputs with those that ties bring in, and the ties."""
    known = dict.fromkeys(names)
    ties: list[Tie] = []
    waiting = list(names)
    for name in waiting:  # grows while it is walked
        found = list(_of_name(law, question, name, book, deep))
        ties.extend(found)
        for tie in found:
            for other in (*tie.cells, *tie.fails, *tie.applies):
                if other not in known:
                    known[other] = None
                    waiting.append(other)
    ties.extend(
        Tie(_plain(combination.where, law), combination.because)
        for combination in book.impossible
        if all(name in known for name in combination.where) and _concerns(combination, question.per)
    )
    return tuple(known), [tie for tie in ties if not _twice(tie)]


def _concerns(combination: Impossible, entity: Kind) -> bool:
    """Whether a thing of which a question is asked always has the thing that cannot be so, or the combination itself
    says something of that thing: one that is not there is in no combination."""
    its = combination.entity
    if its != entity and its not in ONE[entity]:
        return False
    named = any(KIND_OF_PREFIX.get(name.partition(".")[0]) == its for name in combination.where)
    return named or not may_be_absent(entity, its)


def _twice(tie: Tie) -> bool:
    """Whether a tie has two conditions on one input, which a region cannot hold apart."""
    return bool(set(tie.cells) & set(tie.fails))


def _plain(box: Box, law: Law) -> dict[str, Cell]:
    return {name: plain_cell(cell, law.resolved.values, name) for name, cell in box.items()}


def _of_name(law: Law, question: Question, name: str, book: Book, deep: bool) -> Iterator[Tie]:
    if name in book.facts:
        box = book.facts[name].applies_when
        if box is not None and not _optional(question.per, name):
            plain = _plain(box, law)
            yield Tie(plain, f"`{name}` applies there", applies={name: False})
            for other, cell in plain.items():
                yield Tie({}, f"`{name}` does not apply there", fails={other: cell}, applies={name: True})
    elif deep and name in book.calculations and not _optional(question.per, name):
        yield from _of_calculation(law, book.calculations[name])
        yield from _of_what_it_needs(law, book.calculations[name], book)
    elif deep and name.startswith("answer."):
        kind, asked = answer_of(book, name.removeprefix("answer."), law.kind)
        if kind == law.kind and law.answers(asked.id) and asked.per == question.per:
            yield from _of_answer(law, name, asked)


def _optional(entity: Kind, name: str) -> bool:
    """Whether the thing that a name belongs to may be said not to be there: then nothing is tied."""
    return may_be_absent(entity, KIND_OF_PREFIX[name.partition(".")[0]])


def _of_calculation(law: Law, calculation: Calculation) -> Iterator[Tie]:
    because = f"`{calculation.id}` is what it is computed from"
    expression = calculation.expression
    if isinstance(expression, LookUp):
        by_result: dict[Value, set[Value]] = {}
        for key, value in expression.table.items():
            by_result.setdefault(value, set()).add(key)
        for value, keys in by_result.items():
            own: dict[str, Cell] = {calculation.id: OneOf(frozenset({value}))}
            yield Tie({expression.by: OneOf(frozenset(keys))}, because, fails=own)
        # what is looked up by nothing, or by what is not listed, can still be stated as any value of the list
        if expression.otherwise is not None:
            not_listed: Cell = NoneOf(frozenset(expression.table))
            rest: dict[str, Cell] = {calculation.id: OneOf(frozenset({expression.otherwise}))}
            yield Tie({expression.by: not_listed}, because, fails=rest)
    elif isinstance(expression, WhereBox):
        yield from _of_boxes(law, calculation.id, expression.boxes, because)


def _of_what_it_needs(law: Law, calculation: Calculation, book: Book) -> Iterator[Tie]:
    """A figure applies where all that it is computed from does. Not the other way round: one that does not apply can
    still be stated."""
    needs = needs_of(law, calculation.expression, book, calculation.entity)
    if needs:
        because = f"`{calculation.id}` applies where what it is computed from does"
        yield Tie({}, because, applies={calculation.id: False, **dict.fromkeys(needs, True)})


def _of_boxes(law: Law, name: str, boxes: Iterable[Box], because: str) -> Iterator[Tie]:
    yes: Cell = OneOf(frozenset({True}))
    no: Cell = OneOf(frozenset({False}))
    plain = [_plain(box, law) for box in boxes]
    for box in plain:
        yield Tie({**box, name: no}, because)
    for fails in _one_of_each(plain):
        yield Tie({name: yes}, because, fails=fails)


def _one_of_each(boxes: Sequence[Mapping[str, Cell]], most: int = MOST_WAYS) -> Iterator[dict[str, Cell]]:
    """Ways in which none of the boxes holds: of each box one cell that fails. The `most` of them that take the fewest
    inputs, and none with two failing cells on one input, which leaves combinations in that cannot be: sound, not
    exact."""
    ways: list[dict[str, Cell]] = [{}]
    for box in boxes:
        longer: list[dict[str, Cell]] = []
        for way in ways:
            if any(way.get(name) == cell for name, cell in box.items()):
                longer.append(way)
            else:
                longer.extend({**way, name: cell} for name, cell in box.items() if name not in way)
        ways = sorted(longer, key=len)[:most]
    yield from ways


def _of_answer(law: Law, name: str, asked: Question) -> Iterator[Tie]:
    """An answer is not another word than that of a rule which nothing prevails over where it fires; and it is no word,
    but that for where none fires, of which no rule fires."""
    ready = law.ready(asked.id)
    because = f"`{name}` is what its own table says"
    for i, rule in enumerate(ready.rules):
        if ready.beaten_by[i] or rule.but_not:
            continue
        own: dict[str, Cell] = {name: NoneOf(frozenset({rule.then}))}
        for box in rule.where:
            yield Tie({**_plain(box, law), **own}, because)
    for word in sorted({rule.then for rule in ready.rules} - {ready.table.none_fires.then or ""}):
        boxes = [_plain(box, law) for rule in ready.rules if rule.then == word for box in rule.where]
        for fails in _one_of_each(boxes):
            yield Tie({name: OneOf(frozenset({word}))}, because, fails=fails)

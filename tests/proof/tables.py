"""Random tables over plain elements, and a naive evaluator that follows the definition word for word at single points.

The evaluator shares no code with the engine: no index, no masks, no cuts, no order of rules.
"""

from __future__ import annotations

import random
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import product

from hypothesis import strategies as st

from ruling import small
from yokebook.proof.cover import Region
from yokebook.proof.deciding_rows import CONFLICT, IMPOSSIBLE, SILENT, RowRule, Rows, Says
from yokebook.proof.elements import Space
from yokebook.values import Range, Span, known

#: For each input, the elements that a box allows.
PlainBox = tuple[frozenset[int], ...]
#: For each input, the number of one element.
Point = tuple[int, ...]

WORDS = ("low", "middle", "high")


@dataclass(frozen=True)
class PlainRule:
    """A rule as it is declared: sets of elements, and the ids of those it is an exception to."""

    id: str
    then: str
    where: tuple[PlainBox, ...]
    but_not: tuple[PlainBox, ...] = ()
    exception_to: tuple[str, ...] = ()


@dataclass(frozen=True)
class PlainTable:
    """A table as it is declared, with what cannot occur."""

    widths: tuple[int, ...]
    rules: tuple[PlainRule, ...]
    none_fires: str | None
    impossible: tuple[PlainBox, ...] = ()

    def points(self) -> Iterator[Point]:
        """Every point."""
        return product(*(range(width) for width in self.widths))


# ---- the definition, literally ---------------------------------------------------------------------------------------


def in_box(box: PlainBox, point: Point) -> bool:
    """Whether each element of a point is one that the box allows."""
    return all(element in allowed for element, allowed in zip(point, box, strict=True))


@dataclass(frozen=True)
class Definition:
    """What a table says, by the definition."""

    table: PlainTable

    @cached_property
    def over(self) -> set[tuple[str, str]]:
        """Pairs (winner, loser): what is declared, and what follows when one prevails over one that prevails."""
        return small.close({(rule.id, loser) for rule in self.table.rules for loser in rule.exception_to})

    def fires(self, rule: PlainRule, point: Point) -> bool:
        """In one of its boxes, and in none of its `but_not` boxes."""
        inside = any(in_box(box, point) for box in rule.where)
        return inside and not any(in_box(box, point) for box in rule.but_not)

    def can_occur(self, point: Point) -> bool:
        """Whether a point is in no impossible region."""
        return not any(in_box(box, point) for box in self.table.impossible)

    def fired(self, point: Point) -> list[PlainRule]:
        """The rules that fire."""
        return [rule for rule in self.table.rules if self.fires(rule, point)]

    def standing(self, point: Point) -> set[str]:
        """Of the rules that fire, those that none which fires prevails over; none where nothing can occur."""
        if not self.can_occur(point):
            return set()
        fired = self.fired(point)
        return {rule.id for rule in fired if not any((other.id, rule.id) in self.over for other in fired)}

    def says(self, point: Point) -> Says:
        """What all standing rules say; a conflict where they differ; `none_fires` or silence where none fires."""
        if not self.can_occur(point):
            return IMPOSSIBLE
        standing = self.standing(point)
        words = {rule.then for rule in self.table.rules if rule.id in standing}
        if len(words) > 1:
            return CONFLICT
        if words:
            return ("ruled", words.pop())
        return SILENT if self.table.none_fires is None else ("ruled", self.table.none_fires)


# ---- as the engine takes them ----------------------------------------------------------------------------------------


def as_region(box: PlainBox) -> Region:
    """A box as masks."""
    return tuple(sum(1 << element for element in allowed) for allowed in box)


def points_in(region: Region) -> Iterator[Point]:
    """Every point of a region."""
    return product(*([e for e in range(mask.bit_length()) if mask >> e & 1] for mask in region))


def in_region(point: Point, region: Region) -> bool:
    """Whether a region holds a point."""
    return all(mask & (1 << element) for element, mask in zip(point, region, strict=True))


def as_rows(table: PlainTable) -> Rows:
    """The table as rows, each rule before those it prevails over."""
    over = Definition(table).over
    left, ordered = list(table.rules), list[PlainRule]()
    while left:
        free = [rule for rule in left if not any((other.id, rule.id) in over for other in left)]
        ordered += free
        left = [rule for rule in left if rule not in free]
    number = {rule.id: i for i, rule in enumerate(ordered)}
    rules = tuple(
        RowRule(
            rule.id,
            rule.then,
            tuple(as_region(box) for box in rule.where),
            tuple(as_region(box) for box in rule.but_not),
            frozenset(number[winner] for winner, loser in over if loser == rule.id),
        )
        for rule in ordered
    )
    return Rows(table.widths, rules, table.none_fires, tuple(as_region(box) for box in table.impossible))


def as_space(tables: Sequence[PlainTable], scales: Sequence[bool]) -> Space:
    """Tables over the same elements as the space that the engine compares them in. An input that is a scale has
    stretches and single numbers by turns, the first a stretch; any other has words."""
    elements = tuple(
        tuple(_scale(width) if is_scale else [known(f"word {e}") for e in range(width)])
        for width, is_scale in zip(tables[0].widths, scales, strict=True)
    )
    names = tuple(f"contact.input{i}" for i in range(len(elements)))
    rows = tuple(as_rows(table) for table in tables)
    return Space(
        book=small.book(),
        question=small.QUESTIONS["upper"],
        sides=(),
        names=names,
        elements=elements,
        rows=rows,
        empty_cells=(),
        own=len(names),
    )


def _scale(width: int) -> list[Span]:
    ends = [small.Fraction(n) for n in range(width // 2 + 1)]
    spans: list[Span] = []
    for e in range(width):
        if e % 2:
            spans.append(Range(ends[e // 2], False, ends[e // 2], False))
        else:
            low = ends[e // 2 - 1] if e else None
            spans.append(Range(low, True, ends[e // 2] if e < width - 1 else None, True))
    return spans


# ---- random tables ---------------------------------------------------------------------------------------------------


def random_table(rng: random.Random, most_points: int = 300) -> PlainTable:
    """A table with two-level exceptions, gaps, empty boxes, single-element cells, `but_not`, impossible regions,
    silence forbidden or not."""
    widths: list[int] = []
    for _ in range(rng.randint(1, 5)):
        width = rng.randint(1, 6)
        if _product([*widths, width]) <= most_points:
            widths.append(width)
    rules = partition(rng, widths) if rng.random() < 0.5 else []
    for n in range(len(rules), len(rules) + rng.randint(1, 5)):
        rules.append(_rule(rng, widths, rules, f"rule{n}"))
    impossible = tuple(random_box(rng, widths, 0.3) for _ in range(rng.choice((0, 0, 1, 2))))
    return PlainTable(tuple(widths), tuple(rules), rng.choice((None, *WORDS)), impossible)


def _product(numbers: Iterable[int]) -> int:
    found = 1
    for number in numbers:
        found *= number
    return found


def partition(rng: random.Random, widths: Sequence[int]) -> list[PlainRule]:
    """Up to four rules that leave nothing out: the space cut a few times."""
    boxes: list[PlainBox] = [tuple(frozenset(range(width)) for width in widths)]
    for _ in range(rng.randint(0, 3)):
        box = boxes.pop(rng.randrange(len(boxes)))
        i = rng.randrange(len(box))
        some = frozenset(e for e in box[i] if rng.random() < 0.5)
        boxes += [(*box[:i], part, *box[i + 1 :]) for part in (some, box[i] - some) if part]
    return [PlainRule(f"rule{n}", rng.choice(WORDS), (box,)) for n, box in enumerate(boxes)]


def _rule(rng: random.Random, widths: Sequence[int], earlier: Sequence[PlainRule], id_: str) -> PlainRule:
    over = tuple(r.id for r in rng.sample(list(earlier), min(len(earlier), rng.choice((0, 1, 1, 2)))))
    where = [random_box(rng, widths) for _ in range(rng.choice((1, 1, 1, 2, 3, 0)))]
    targets = [box for r in earlier if r.id in over for box in r.where]
    if targets and rng.random() < 0.6:  # an exception that lies within what it is an exception to
        where = [tuple(a & b for a, b in zip(box, rng.choice(targets), strict=True)) for box in where]
    but_not = tuple(random_box(rng, widths, 0.3) for _ in range(rng.choice((0, 0, 1, 2))))
    return PlainRule(id_, rng.choice(WORDS), tuple(where), but_not, over)


def random_box(rng: random.Random, widths: Sequence[int], loose: float = 0.5) -> PlainBox:
    """A box; each input is left open with probability `loose`, and once in a while allows nothing at all."""
    return tuple(_cell(rng, width, loose) for width in widths)


def _cell(rng: random.Random, width: int, loose: float) -> frozenset[int]:
    kind = rng.random()
    if kind < loose:
        return frozenset(range(width))
    if kind < loose + 0.01:
        return frozenset()
    if kind < loose + (1 - loose) * 0.3:
        return frozenset({rng.randrange(width)})
    if kind < loose + (1 - loose) * 0.6:
        ends = sorted((rng.randrange(width), rng.randrange(width)))
        return frozenset(range(ends[0], ends[1] + 1))
    return frozenset(e for e in range(width) if rng.random() < 0.6)


def changed(rng: random.Random, table: PlainTable) -> PlainTable:
    """The table with one to three things in it otherwise: a word, a link, a box, a rule more or fewer, its silence."""
    for _ in range(rng.randint(1, 3)):
        table = _changed_once(rng, table)
    return table


def _changed_once(rng: random.Random, table: PlainTable) -> PlainTable:
    rules, at = list(table.rules), rng.randrange(len(table.rules))
    kind = rng.randrange(6)
    if kind == 0:
        rules[at] = replace(rules[at], then=rng.choice(WORDS))
    elif kind == 1:
        rules[at] = replace(rules[at], exception_to=())
    elif kind == 2:
        rules[at] = replace(rules[at], where=(*rules[at].where[1:], random_box(rng, table.widths)))
    elif kind == 3 and len(rules) > 1:
        gone = rules.pop(at)
        rules = [replace(r, exception_to=tuple(i for i in r.exception_to if i != gone.id)) for r in rules]
    elif kind == 4:
        taken = {rule.id for rule in rules}
        fresh = next(f"more{n}" for n in range(len(rules) + 1) if f"more{n}" not in taken)
        rules.append(_rule(rng, table.widths, rules, fresh))
    else:
        return replace(table, none_fires=rng.choice((None, *WORDS)))
    return replace(table, rules=tuple(rules))


def shuffled(rng: random.Random, table: PlainTable) -> PlainTable:
    """The same table written in another order: rules, boxes and what cannot occur."""

    def mixed(boxes: Sequence[PlainBox]) -> tuple[PlainBox, ...]:
        return tuple(rng.sample(list(boxes), len(boxes)))

    rules = [replace(r, where=mixed(r.where), but_not=mixed(r.but_not)) for r in table.rules]
    return replace(table, rules=tuple(rng.sample(rules, len(rules))), impossible=mixed(table.impossible))


#: Draws that shrink, for generators that take a `random.Random`.
rngs = st.randoms(use_true_random=False)

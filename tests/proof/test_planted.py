"""Faults planted in the engine: for each, properties that notice it on a fixed set of seeds. On the same seeds every
property holds of the engine as it is, so that what is noticed is the fault."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product

import pytest

from proof import holds_of_books, holds_of_tables
from proof.books import changed, random_book
from proof.tables import PlainRule, PlainTable, random_table
from proof.tables import changed as changed_table
from yokebook.model import Cell, Rule, Within
from yokebook.proof import cover
from yokebook.proof.cover import Cover, Region, inside
from yokebook.proof.deciding_rows import Rows
from yokebook.values import CellIndex, Range, Span, single

SEEDS = range(200)

#: A property, run on what a seed makes.
Property = Callable[[random.Random], object]


def of_two(holds: Callable[..., None], *, scales: bool = False) -> Property:
    """A property of a table and the same changed."""

    def run(rng: random.Random) -> None:
        was = random_table(rng)
        now = changed_table(rng, was)
        holds(was, now, *([[rng.random() < 0.5 for _ in was.widths]] if scales else []))

    return run


def met_twice(rng: random.Random) -> PlainTable:
    """Four inputs of two elements. With the first at one element, and then the third, the same two boxes are left as
    with the first at the other and then the second; only there, the third still open, do they leave a hole."""
    one, two, free = frozenset({0}), frozenset({1}), frozenset({0, 1})
    boxes = [(free, free, one, one), (free, free, one, two), (one, free, two, free)]
    boxes += [(two, two, free, free)] * 3
    turns = [rng.randrange(2) for _ in range(4)]
    turned = [tuple(frozenset(e ^ t for e in cell) for cell, t in zip(box, turns, strict=True)) for box in boxes]
    rules = [PlainRule(f"rule{n}", "low", (box,)) for n, box in enumerate(rng.sample(turned, len(turned)))]
    return PlainTable((2, 2, 2, 2), tuple(rules), None)


PROPERTIES: dict[str, Property] = {
    "leaves": lambda rng: holds_of_tables.leaves_are_the_definition(random_table(rng)),
    "gaps": lambda rng: holds_of_tables.gap_is_silent(random_table(rng)),
    "covers": lambda rng: holds_of_tables.cover_is_exact(random_table(rng), rng),
    "gaps where boxes are met twice": lambda rng: holds_of_tables.gap_is_silent(met_twice(rng)),
    "conflicts": lambda rng: holds_of_tables.conflicts_are_all(random_table(rng)),
    "dead rules": lambda rng: holds_of_tables.dead_rules_never_stand(random_table(rng)),
    "leaves of two": of_two(holds_of_tables.leaves_of_two_are_all),
    "differences": of_two(holds_of_tables.differences_are_all, scales=True),
    "boundary only": of_two(holds_of_tables.boundary_only_is_without_breadth, scales=True),
    "widest": of_two(holds_of_tables.widest_is_widest, scales=True),
    "elements": lambda rng: holds_of_books.elements_say_what_values_say(random_book(rng), rng),
    "every value once": lambda rng: holds_of_books.elements_hold_every_value_once(random_book(rng)),
    "empty cells": lambda rng: holds_of_books.empty_cells_are_all(random_book(rng)),
    "ties": lambda rng: holds_of_books.ties_leave_out_nothing_that_can_be(random_book(rng, chain=True), rng),
    "rulings": lambda rng: holds_of_books.ruling_is_the_definition(random_book(rng), rng),
    "completions": lambda rng: holds_of_books.outcomes_are_those_of_completions(random_book(rng), rng, most=1),
    "order": lambda rng: holds_of_books.order_is_nothing(random_book(rng), rng),
    "two laws": lambda rng: holds_of_books.two_laws_over_one_space(made := random_book(rng), changed(rng, made), rng),
}


# ---- the faults ------------------------------------------------------------------------------------------------------


def closed(cell: Cell) -> Cell:
    """A cell with both ends closed."""
    return replace(cell, low_open=False, high_open=False) if isinstance(cell, Within) else cell


class ClosedIndex(CellIndex):
    """Takes every open end for closed."""

    def __init__(self, cells: Iterable[tuple[int, Cell]], all_bits: int) -> None:
        super().__init__([(bit, closed(cell)) for bit, cell in cells], all_bits)


class NoPoints(CellIndex):
    """Passes over numbers that are a part by themselves."""

    def pieces(self, span: Span) -> list[tuple[Span, int]]:
        parts = super().pieces(span)
        kept = [(part, bits) for part, bits in parts if not isinstance(part, Range) or single(part) is None]
        return kept or parts


def no_whole_numbers(span: Range) -> bool:
    """Whether a range is empty if every number counts, whole or not."""
    if span.low is None or span.high is None:
        return False
    return span.low > span.high or (span.low == span.high and (span.low_open or span.high_open))


def by_one_box(self: Cover, region: Region, among: int | None = None, states: int = 0) -> Region | None:
    """A region is taken for covered only where a single box takes it in."""
    some = self.overlapping(region, among)
    boxes = [box for n, box in enumerate(self.boxes) if some >> n & 1]
    return None if any(inside(region, box) for box in boxes) else region


def most_boxes(self: cover._Search, i: int, live: int) -> list[tuple[int, int]]:
    """Of the elements of an input those are looked at that most boxes allow, not those that fewest do."""
    groups: dict[int, int] = {}
    for element in self.elements[i]:
        those = live & self.cover._allow[i][element]
        groups[those] = groups.get(those, 0) | 1 << element
    return [(a, mask) for a, mask in groups.items() if not any(a != b and a & ~b == 0 for b in groups)]


class Forgetful(set[tuple[int, int]]):
    """Remembers what is covered without the inputs that were left."""

    def add(self, element: tuple[int, int], /) -> None:
        super().add((element[0], 0))

    def __contains__(self, element: object, /) -> bool:
        return isinstance(element, tuple) and super().__contains__((element[0], 0))


class ForgetfulSearch(cover._Search):
    """A search that remembers so."""

    def __init__(self, its_cover: Cover, region: Region, states: int) -> None:
        super().__init__(its_cover, region, states)
        self.covered = Forgetful()


def without_links(rows: Rows, number: int) -> tuple[object, ...]:
    """What makes two rules the same, what prevails over them left out."""
    rule = rows.rules[number]
    return (rule.id, rule.then, frozenset(rule.where), frozenset(rule.but_not))


def as_written(rules: tuple[Rule, ...], _over: object) -> list[Rule]:
    """Rules in written order."""
    return list(rules)


def as_declared(direct: object) -> object:
    """What is declared to prevail, without what follows from it."""
    return direct


def nothing_over(rows: Rows, _rules: frozenset[int]) -> int:
    """Nothing prevails over any rule."""
    return rows.impossible_bits


def one_of_each(boxes: Sequence[Mapping[str, Cell]], most: int = 0) -> Iterator[dict[str, Cell]]:
    """Of each box one cell that fails, the last of two on one input only."""
    yield from (dict(way) for way in product(*(box.items() for box in boxes)))


def never(*_: object) -> bool:
    """No, whatever is asked."""
    return False


@dataclass(frozen=True)
class Planted:
    """A fault: what stands in place of what, and the properties that must notice."""

    name: str
    where: str
    instead: object
    noticed_by: tuple[str, ...]


PROOF = "yokebook.proof"
PLANTED = (
    Planted("all ends closed in elements", f"{PROOF}.elements.CellIndex", ClosedIndex, ("elements", "two laws")),
    Planted("all ends closed in ruling", "yokebook.law.CellIndex", ClosedIndex, ("rulings", "completions")),
    Planted("only what is declared prevails", "yokebook.prevails._closure", as_declared, ("rulings", "elements")),
    Planted("written order", "yokebook.law._exceptions_first", as_written, ("elements", "order")),
    Planted("covered by one box", f"{PROOF}.cover.Cover.uncovered", by_one_box, ("gaps", "covers", "dead rules")),
    Planted("most boxes kept", f"{PROOF}.cover._Search._groups", most_boxes, ("gaps", "covers", "dead rules")),
    Planted("inputs left forgotten", f"{PROOF}.cover._Search", ForgetfulSearch, ("gaps where boxes are met twice",)),
    Planted("nothing prevails", f"{PROOF}.deciding_rows.Rows.boxes_over", nothing_over, ("conflicts", "dead rules")),
    Planted("links do not count", f"{PROOF}.differences._content", without_links, ("leaves of two", "differences")),
    Planted("cells that fail forgotten", f"{PROOF}.ties._one_of_each", one_of_each, ("ties",)),
    Planted("no boundaries", f"{PROOF}.differences.is_point", never, ("boundary only",)),
    Planted("nothing occurs", f"{PROOF}.differences.occurs", never, ("widest",)),
    Planted("no single numbers", "yokebook.law.CellIndex", NoPoints, ("completions",)),
    Planted("no single numbers in elements", f"{PROOF}.elements.CellIndex", NoPoints, ("every value once",)),
    Planted("no whole numbers", "yokebook.values.Range.empty", no_whole_numbers, ("every value once", "empty cells")),
)


def noticed(name: str) -> int | None:
    """The first seed on which a property does not hold."""
    for seed in SEEDS:
        try:
            PROPERTIES[name](random.Random(seed))
        except AssertionError:
            return seed
    return None


@pytest.mark.parametrize("name", PROPERTIES)
def test_every_property_holds_of_the_engine_as_it_is(name: str) -> None:
    assert noticed(name) is None


@pytest.mark.parametrize("planted", PLANTED, ids=lambda planted: planted.name)
def test_a_planted_fault_is_noticed(planted: Planted, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(planted.where, planted.instead)
    assert {name: noticed(name) is not None for name in planted.noticed_by} == dict.fromkeys(planted.noticed_by, True)

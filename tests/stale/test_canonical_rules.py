"""Canonical data is read back into the text it was written of, named numbers as the numbers they were."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from shipped_book import rulebook
from yokebook.canonical_rules import Reader, Writer
from yokebook.editions import resolve_edition
from yokebook.law import plain_cell
from yokebook.model import (
    Arithmetic,
    Box,
    Comparison,
    Constant,
    Grouped,
    LookUp,
    NamedNumber,
    Nearest,
    NoneOf,
    Of,
    OneOf,
    Over,
    Tiers,
    Uncovered,
    Within,
)

BOOK = rulebook().book
READ = Reader(BOOK)
EDITIONS = sorted(BOOK.editions)


def as_set(boxes: tuple[Box, ...]) -> set[frozenset[tuple[str, object]]]:
    return {frozenset(box.items()) for box in boxes}


@pytest.mark.parametrize("key", EDITIONS, ids=" ".join)
def test_every_rule_of_the_rulebook(key: tuple[str, str]) -> None:
    resolved = resolve_edition(BOOK, *key)
    write = Writer(resolved.values)
    rules = [rule for table in resolved.tables.values() for rule in table.rules]
    assert rules
    for rule in rules:
        data = write.rule(rule)
        for boxes, field in ((rule.where, "where"), (rule.but_not, "but_not")):
            plain = tuple({n: plain_cell(cell, resolved.values, rule.id) for n, cell in box.items()} for box in boxes)
            assert as_set(READ.boxes(data[field])) == as_set(plain), rule.id


def test_every_calculation_of_the_rulebook() -> None:
    """Without values the named numbers keep their names, so an expression comes back as it is but for the order of what
    has none; written again it is the same."""
    write = Writer({})
    assert len(BOOK.calculations) > 20
    for calculation in BOOK.calculations.values():
        data: Any = write.calculation(calculation)
        expression = READ.expression(calculation.type, data["expression"])
        assert type(expression) is type(calculation.expression)
        assert write.calculation(replace(calculation, expression=expression)) == data, calculation.id


class TestSingleForms:
    @pytest.mark.parametrize(
        "expression",
        [
            Of("contact.supply"),
            Constant(Fraction(17, 2)),
            NamedNumber("delay"),
            Arithmetic("plus", (Of("a"), Constant(Fraction(1)))),
            Arithmetic("round_up", (Of("a"),)),
            Over("count", "contact.controls", ({},), (), None),
            Over("sum", "circuit.contacts", ({},), (), Of("contact.amps")),
            Comparison(Of("a"), "at_least", Constant(Fraction(1, 3))),
            LookUp("contact.supply", {"controlled": Fraction(1)}, None),
            Grouped("largest", "control.contacts", ({},), "contact.supply", "count", (), None),
            Grouped("smallest", "control.contacts", ({},), "contact.supply", "sum", (), Of("contact.amps")),
            Grouped("smallest", "control.contacts", ({},), "contact.supply", "share", ({},), None),
            Uncovered(Constant(Fraction(9)), "wall.yokes", ({},), Of("a"), NamedNumber("wall_reach")),
            Nearest("wall.contacts", ({},), Of("a"), None, None, None),
            Nearest("space.contacts", ({},), Of("a"), "wall", Of("b"), Of("c"), Constant(Fraction(1))),
            Tiers(Of("a"), ((Fraction(10), NamedNumber("rate")), (None, Fraction(1, 2)))),
        ],
        ids=str,
    )
    def test_an_expression(self, expression: Any) -> None:
        assert READ.expression("number", Writer({}).expression(expression)) == expression

    def test_a_word_that_looks_like_a_number_stays_a_word(self) -> None:
        cell = OneOf(frozenset({"15"}))
        assert READ.cell("contact.supply", Writer({}).cell(cell)) == cell

    def test_a_number_is_exact(self) -> None:
        cell = Within(Fraction(1, 3), True, None, False)
        assert READ.cell("control.off_delay_min", Writer({}).cell(cell)) == cell

    def test_yes_and_no(self) -> None:
        cell = NoneOf(frozenset({True}))
        assert READ.cell("contact.has_automatic_control", Writer({}).cell(cell)) == cell


class TestBadData:
    @pytest.mark.parametrize(
        ("data", "message"),
        [
            ([3], "`3` is not a box"),
            (7, "`7` is no list of boxes"),
            ([{"contact.supply": {"one": ["x"]}}], "a cell on `contact.supply` has the keys `one`"),
            (
                [{"contact.suply": {"one_of": ["x"]}}],
                "`contact.suply` is no fact and no calculation of this rulebook (did you mean `contact.supply`?)",
            ),
            ([{"contact.supply": {"one_of": [True]}}], "`True` is not a word"),
            ([{"contact.has_automatic_control": {"one_of": ["yes"]}}], "`yes` is not yes or no"),
            ([{"receptacle.amps": {"one_of": ["x"]}}], "`x` is no exact number"),
            ([{"receptacle.amps": {"one_of": ["1/0"]}}], "`1/0` is no exact number"),
        ],
    )
    def test_boxes(self, data: Any, message: str) -> None:
        with pytest.raises(ValueError) as raised:
            READ.boxes(data)
        assert str(raised.value) == message

    @pytest.mark.parametrize(
        ("data", "message"),
        [
            ({"of": 3}, "`3` is not a name"),
            ({"twice": "x"}, "an expression has the keys `twice`"),
            ("x", "`x` is not an expression"),
            (
                {"look_up": "contact.supply", "table": [["controlled", "value.x"]], "otherwise": None},
                "a look-up names `value.x`",
            ),
        ],
    )
    def test_expressions(self, data: Any, message: str) -> None:
        with pytest.raises(ValueError) as raised:
            READ.expression("number", data)
        assert str(raised.value) == message

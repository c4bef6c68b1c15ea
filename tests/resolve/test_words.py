"""Words say all that a pin is over: two texts that differ never read alike, in any operator or cell."""

from dataclasses import replace
from fractions import Fraction
from itertools import combinations

import pytest

from resolve.making import AUTOMATIC, MARK, SLOW, at_most, book, box, one, rule, value
from yokebook.editions import resolve_edition
from yokebook.model import (
    Arithmetic,
    ByReading,
    Cell,
    Comparison,
    Constant,
    Expression,
    Grouped,
    LookUp,
    NamedNumber,
    Nearest,
    NoneOf,
    Of,
    Over,
    Tiers,
    Uncovered,
    WhereBox,
    Within,
)
from yokebook.pins import pin_of
from yokebook.reach import names_in_expression, values_reached
from yokebook.words import boxes_words, cell_words, expression_words, rule_words

VALUES = {"delay": value("delay", 20)}
A, B, TWO = Of("contact.a"), Of("contact.b"), Constant(Fraction(2))
ON, OFF = box(contact__on=one(True)), box(contact__on=one(False))

EXPRESSIONS: tuple[tuple[Expression, str], ...] = (
    (A, "contact.a"),
    (TWO, "2"),
    (Constant(Fraction(1, 3)), "1/3"),
    (NamedNumber("delay"), "20 min"),
    (Arithmetic("times", (A, TWO)), "(contact.a times 2)"),
    (Arithmetic("plus", (A, B, TWO)), "(contact.a plus contact.b plus 2)"),
    (Arithmetic("minus", (A, B)), "(contact.a minus contact.b)"),
    (Arithmetic("minus", (B, A)), "(contact.b minus contact.a)"),
    (Arithmetic("ratio", (A, B)), "(contact.a divided by contact.b)"),
    (Arithmetic("round_up", (A,)), "contact.a rounded up"),
    (Over("any", "space.contacts", ({},), (ON,), None), "whether any of space.contacts meet: contact.on is yes"),
    (
        Over("all", "space.contacts", (ON,), (OFF,), None),
        "whether all of space.contacts where contact.on is yes meet: contact.on is no",
    ),
    (Over("count", "space.contacts", (ON,), (), None), "how many of space.contacts where contact.on is yes"),
    (Over("sum", "space.contacts", ({},), (), A), "the sum over space.contacts of contact.a"),
    (Over("largest", "space.contacts", ({},), (), A), "the largest over space.contacts of contact.a"),
    (Over("smallest", "space.contacts", ({},), (), B), "the smallest over space.contacts of contact.b"),
    (
        Over("share", "space.contacts", ({},), (ON, OFF), None),
        "the share of space.contacts meet: contact.on is no; or contact.on is yes",
    ),
    (
        LookUp("contact.c", {"x": Fraction(15), "y": Fraction(20)}, None),
        "by contact.c: x gives 15, y gives 20; anything else does not apply",
    ),
    (LookUp("contact.c", {True: "many"}, "few"), "by contact.c: yes gives many; anything else gives few"),
    (Comparison(A, "at_least", B), "contact.a is at least contact.b"),
    (Comparison(A, "less_than", B), "contact.a is less than contact.b"),
    (WhereBox((ON,)), "yes where contact.on is yes"),
    (ByReading("sensor", {"x": A, "y": B}), "by the reading sensor: x: contact.a; y: contact.b"),
    (ByReading("sensor", {"x": B, "y": A}), "by the reading sensor: x: contact.b; y: contact.a"),
    (
        Grouped("largest", "space.contacts", (ON,), "contact.c", "count", (), None),
        "the largest over the groups of space.contacts where contact.on is yes with the same contact.c: "
        "how many there are",
    ),
    (
        Grouped("smallest", "space.contacts", ({},), "contact.c", "sum", (), A),
        "the smallest over the groups of space.contacts with the same contact.c: the sum of contact.a",
    ),
    (
        Grouped("smallest", "space.contacts", ({},), "contact.c", "share", (ON,), None),
        "the smallest over the groups of space.contacts with the same contact.c: the share that meet: contact.on is "
        "yes",
    ),
    (
        Uncovered(TWO, "space.contacts", (ON,), A, NamedNumber("delay")),
        "how much of 2 is not within 20 min of contact.a over space.contacts where contact.on is yes",
    ),
    (
        Uncovered(TWO, "space.contacts", (ON,), B, NamedNumber("delay")),
        "how much of 2 is not within 20 min of contact.b over space.contacts where contact.on is yes",
    ),
    (
        Nearest("wall.contacts", (ON,), A, None, None, None),
        "the distance to the nearest other of wall.contacts where contact.on is yes, by contact.a along the same "
        "stretch",
    ),
    (
        Nearest("space.contacts", ({},), None, None, A, B),
        "the distance to the nearest other of space.contacts, by the straight line by contact.a and contact.b",
    ),
    (
        Nearest("space.contacts", ({},), A, "wall", A, B, TWO),
        "the distance to the nearest other of space.contacts, by contact.a along the same wall, else by the straight "
        "line by contact.a and contact.b; where there is none, 2",
    ),
    (
        Tiers(A, ((NamedNumber("delay"), Fraction(1)), (None, Fraction(1, 2)))),
        "contact.a taken up to 20 min at 1; the rest at 0.5",
    ),
    (
        Tiers(A, ((Fraction(20), Fraction(1)), (Fraction(30), Fraction(1, 2)), (None, Fraction(0)))),
        "contact.a taken up to 20 at 1; up to 30 at 0.5; the rest at 0",
    ),
)


@pytest.mark.parametrize(("expression", "words"), EXPRESSIONS)
def test_each_operator(expression: Expression, words: str) -> None:
    assert expression_words(expression, VALUES) == words


def test_each_operator_has_a_pin_of_its_own() -> None:
    below = resolve_edition(book(), "nfpa-70", "2014")
    pins = set()
    for expression, _ in EXPRESSIONS:
        changed = replace(AUTOMATIC, expression=expression)
        pinned = pin_of(below, book(calculations=[changed, SLOW]), f"{MARK}#automatic")
        pins.add(pinned.digests["contact.automatic"])
    assert len(pins) == len(EXPRESSIONS)


CELLS: tuple[tuple[Cell, str], ...] = (
    (one("a"), "is a"),
    (one("b", "a", "c"), "is a, b or c"),
    (NoneOf(frozenset({"a"})), "applies and is not a"),
    (one(NamedNumber("delay")), "is 20 min"),
    (at_most(5), "is at most 5"),
    (at_most("delay"), "is at most 20 min"),
    (Within(high=Fraction(5), high_open=True), "is less than 5"),
    (Within(low=Fraction(1, 3), low_open=True, high=Fraction(5)), "is more than 1/3 and at most 5"),
    (Within(low=Fraction(5, 2)), "is at least 2.5"),
)


@pytest.mark.parametrize(("cell", "words"), CELLS)
def test_each_cell(cell: Cell, words: str) -> None:
    assert cell_words(cell, VALUES) == words


def test_no_two_read_alike() -> None:
    told = [words for _, words in (*EXPRESSIONS, *CELLS)]
    assert all(one_ != other for one_, other in combinations(told, 2))


def test_boxes_and_rules() -> None:
    assert boxes_words((), VALUES) == "never"
    assert boxes_words(({},), VALUES) == "always"
    both = rule("x", "not required", [ON, OFF], "all", but_not=[box(contact__a=at_most("delay"))], prevails_over=["y"])
    assert rule_words(both, VALUES) == (
        "where contact.on is no; or contact.on is yes, but not where contact.a is at most 20 min: not required; "
        "exception to every rule of the table with another outcome; prevails over marking.required#y"
    )


def test_what_an_expression_names() -> None:
    deep = Comparison(
        Over("sum", "space.contacts", (box(contact__m=at_most("delay")),), (ON,), Arithmetic("times", (A, TWO))),
        "at_most",
        ByReading("sensor", {"x": LookUp("contact.c", {}, None), "y": WhereBox((box(contact__w=one(True)),))}),
    )
    assert set(names_in_expression(deep)) == {
        "contact.m", "value.delay", "contact.on", "contact.a", "reading.sensor", "contact.c", "contact.w",
    }  # fmt: skip
    reach = Uncovered(A, "space.contacts", (ON,), Of("contact.at"), NamedNumber("delay"))
    assert set(names_in_expression(reach)) == {"contact.a", "contact.on", "contact.at", "value.delay"}
    groups = Grouped("largest", "space.contacts", (ON,), "contact.c", "share", (box(contact__w=one(True)),), None)
    assert set(names_in_expression(groups)) == {"contact.on", "contact.c", "contact.w"}
    near = Nearest("space.contacts", (ON,), Of("contact.at"), "wall", Of("contact.x"), Of("contact.y"), B)
    assert set(names_in_expression(near)) == {"contact.on", "contact.at", "contact.x", "contact.y", "contact.b"}
    tiers = Tiers(A, ((NamedNumber("delay"), NamedNumber("rate")), (None, Fraction(0))))
    assert set(names_in_expression(tiers)) == {"contact.a", "value.delay", "value.rate"}


def test_values_are_reached_through_calculations() -> None:
    assert values_reached(["control.slow", "value.height"], book()) == {"delay", "height"}

"""What the proof takes a figure to be able to come to, and records in which figures over walls come to what is wanted.

A domain that left out a value would hide a gap; the domains here are written from what the words mean.
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from proof.test_records_found import law_of, regions_that_decide
from ruling import one_figure, small
from shipped_book import rulebook
from yokebook.law import Law
from yokebook.model import Arithmetic, Constant, Expression, Grouped, Nearest, Of, Resolved, Tiers, Uncovered
from yokebook.proof.domains import domain_of
from yokebook.proof.elements import Side, space_of
from yokebook.proof.realise import Realiser
from yokebook.values import ANY_NUMBER, Range, Span

N = Of("contact.n")
BELOW = Arithmetic("minus", (N, Constant(Fraction(9))))
FROM_ZERO = Range(Fraction(0), False, None, True)
HALF = Fraction(1, 2)


@pytest.mark.parametrize(
    ("expression", "span", "may_not_apply"),
    [
        (Uncovered(N, "wall.contacts", ({},), N, N), FROM_ZERO, True),  # a contact may be on no wall
        (Uncovered(N, "space.contacts", ({},), N, N), FROM_ZERO, False),
        (Nearest("space.contacts", ({},), None, None, N, N), FROM_ZERO, True),
        (Nearest("space.contacts", ({},), None, None, N, N, N), FROM_ZERO, False),
        (Nearest("space.contacts", ({},), None, None, N, N, BELOW), ANY_NUMBER, False),
        (
            Grouped("largest", "space.contacts", ({},), "contact.x", "count", (), None),
            Range(Fraction(1), False, None, True, True),
            True,
        ),
        (Grouped("smallest", "space.contacts", ({},), "contact.x", "sum", (), N), FROM_ZERO, True),
        (Grouped("smallest", "space.contacts", ({},), "contact.x", "sum", (), BELOW), ANY_NUMBER, True),
        (
            Grouped("largest", "space.contacts", ({},), "contact.x", "share", ({},), None),
            Range(Fraction(0), False, Fraction(1), False),
            True,
        ),
        (Tiers(N, ((Fraction(1), Fraction(1)), (None, HALF))), FROM_ZERO, False),
        (Tiers(N, ((Fraction(1), -HALF), (None, HALF))), ANY_NUMBER, False),
        (Tiers(BELOW, ((None, HALF),)), ANY_NUMBER, False),
    ],
    ids=str,
)
def test_domain(expression: Expression, span: Span, may_not_apply: bool) -> None:
    calculation = one_figure.figure_of("contact", expression)
    book = small.book({calculation.id: calculation})
    table = small.table("upper", [], "low")
    law = Law(Resolved(small.DOCUMENT, "1", None, None, {"upper": table}, {}, (), (), "none"), book)
    assert domain_of(law, book.questions["upper"], calculation.id, book) == (span, may_not_apply)


@pytest.mark.slow
@pytest.mark.parametrize("edition", ["2014", "2023"])
@pytest.mark.parametrize("question", ["spacing.counts", "spacing.wall"])
def test_every_rule_on_walls_decides_some_record(question: str, edition: str) -> None:
    """For each rule a building is found, rooms with a wall among the shapes, in which it says what it says."""
    code = rulebook().edition("nfpa-70", edition)
    law = law_of(code)
    space = space_of([Side(law, question)], rulebook().book, tied=True)
    realiser = Realiser(rulebook().book, law, code.in_force)
    for number, rule in enumerate(space.rows[0].rules):
        tried = (realiser.find(question, space.spans(r), "ruled") for r in regions_that_decide(space, number))
        found = next((each for each in tried if each is not None), None)
        assert found is not None, rule.id
        assert found.outcome.word == rule.then, rule.id

"""Arithmetic and comparisons where numbers are known only within bounds, against brute force on a fine grid."""

from __future__ import annotations

from fractions import Fraction
from math import ceil

from hypothesis import given, settings
from hypothesis import strategies as st

from ruling import places, small
from yokebook import figures
from yokebook.model import Arithmetic, Cell, Comparison, Constant, Expression, Of, OneOf, Value, Within
from yokebook.ruling import rule_on
from yokebook.values import Range, Span, Val, hull, within

N, M, F = "contact.n", "contact.m", "contact.f"
OPS = ("times", "plus", "minus", "ratio")
RELATIONS = ("at_least", "more_than", "at_most", "less_than", "equals")

constants = st.sampled_from((-2, -1, 0, 1, 2, 3)).map(lambda n: Constant(Fraction(n, 2)))
leaves = st.sampled_from((Of(N), Of(M))) | constants
expressions: st.SearchStrategy[Expression] = st.recursive(
    leaves,
    lambda inner: (
        st.builds(Arithmetic, st.sampled_from(OPS), st.tuples(inner, inner))
        | st.builds(Arithmetic, st.just("round_up"), st.tuples(inner))
    ),
    max_leaves=3,
)


def value(expression: Expression, record: dict[str, Value]) -> Fraction | None:
    """The figure for full numbers, from the definitions; None = not applicable."""
    if isinstance(expression, Of):
        number = record[expression.name]
        assert isinstance(number, Fraction)
        return number
    if isinstance(expression, Constant):
        return expression.value
    assert isinstance(expression, Arithmetic)
    parts = [value(part, record) for part in expression.of]
    if any(part is None for part in parts):
        return None
    a, *rest = (part for part in parts if part is not None)
    if expression.op == "round_up":
        return Fraction(ceil(a))
    b = rest[0]
    if expression.op == "ratio":
        return None if b == 0 else a / b
    return {"times": a * b, "plus": a + b, "minus": a - b}[expression.op]


def holds(relation: str, a: Fraction, b: Fraction) -> bool:
    """The relation as the word says."""
    return {"at_least": a >= b, "more_than": a > b, "at_most": a <= b, "less_than": a < b, "equals": a == b}[relation]


def possible(expression: Expression, type_: str, cell: Cell, record: dict[str, Value]) -> tuple[set[str], str, str]:
    """The outcomes the engine leaves, its word and its status: `high` where the figure is in the cell."""
    calc = places.calculation(F, expression, type_)
    book = small.book({calc.id: calc})
    table = small.table("upper", [small.rule("upper#0", [{F: cell}], "high")], "low")
    session = small.session([table], record, book)
    ruling = rule_on(session, book.questions["upper"], session.graph.things["contact"][0], "small")
    return set(ruling.possible), ruling.word, ruling.status


@st.composite
def number_cells(draw: st.DrawFn) -> Cell:
    """Bounds or a single number, on and between what figures come to."""
    at = draw(st.sampled_from([Fraction(n, 2) for n in range(-4, 13)]))
    kind = draw(st.sampled_from(("low", "high", "point")))
    if kind == "point":
        return OneOf(frozenset({at}))
    is_open = draw(st.booleans())
    return Within(low=at, low_open=is_open) if kind == "low" else Within(high=at, high_open=is_open)


class TestFigures:
    """Exact rationals; a ratio by zero is not applicable; figures carry bounds; a settled ruling is right."""

    @settings(max_examples=250, deadline=None)
    @given(expressions, number_cells(), small.records((N, M)))
    def test_no_outcome_of_a_completion_is_lost(
        self, expression: Expression, cell: Cell, record: dict[str, Value]
    ) -> None:
        found, _, status = possible(expression, "number", cell, record)
        due = set()
        for full in small.completions(record, (N, M)):
            figure = value(expression, full)
            due.add("high" if figure is not None and small.cell_holds(cell, figure) else "low")
        assert due <= found
        if len(record) == 2:
            assert found == due and status == "settled"

    @settings(max_examples=200, deadline=None)
    @given(expressions, st.sampled_from(RELATIONS), expressions, st.booleans(), small.records((N, M)))
    def test_comparisons(
        self, left: Expression, relation: str, right: Expression, wanted: bool, record: dict[str, Value]
    ) -> None:
        compared = Comparison(left, relation, right)  # type: ignore[arg-type]
        found, _, _ = possible(compared, "yes_no", OneOf(frozenset({wanted})), record)
        due = set()
        for full in small.completions(record, (N, M)):
            a, b = value(left, full), value(right, full)
            known = a is not None and b is not None and holds(relation, a, b) == wanted
            due.add("high" if known else "low")
        assert due <= found
        if len(record) == 2:
            assert found == due

    def test_a_figure_that_is_another_is_as_exact(self) -> None:
        """f is n itself: n at least 2 and f under 2 cannot both be."""
        calc = places.calculation(F, Of(N), "number")
        book = small.book({calc.id: calc})
        box = {F: Within(high=Fraction(2), high_open=True), N: Within(low=Fraction(2))}
        table = small.table("upper", [small.rule("upper#0", [box], "high")], "low")
        session = small.session([table], {}, book)
        ruling = rule_on(session, book.questions["upper"], session.graph.things["contact"][0], "small")
        assert (ruling.outcome, ruling.possible_is) == ("low", "exact")


def numbers_in(span: Range) -> list[Fraction]:
    """Numbers of a range on a grid."""
    return [n for n in (Fraction(k, 4) for k in range(-16, 17)) if within(n, span)]


@st.composite
def ranges(draw: st.DrawFn) -> Range:
    """A range with ends open, closed or unbounded, whole or not, with a number of the grid in it."""
    low = draw(st.none() | st.integers(-3, 3).map(lambda n: Fraction(n, 1)))
    high = draw(st.none() | st.integers(-3, 3).map(lambda n: Fraction(n, 1)))
    span = Range(low, draw(st.booleans()), high, draw(st.booleans()), draw(st.booleans()))
    return span if numbers_in(span) else Range(Fraction(0), False, Fraction(1), True)


class TestRanges:
    """Every sum, difference, product, quotient and rounded number of two ranges is in the range that stands for it."""

    @settings(max_examples=300, deadline=None)
    @given(st.sampled_from((*OPS, "round_up")), ranges(), ranges())
    def test_holds_what_its_numbers_give(self, op: str, a: Range, b: Range) -> None:
        parts = [Val(a)] if op == "round_up" else [Val(a), Val(b)]
        result = figures._arithmetic(parts, op)  # type: ignore[arg-type]
        span: Span = result.span
        for x in numbers_in(a):
            for y in numbers_in(b):
                if op == "ratio" and y == 0:
                    assert result.maybe_na or hull(span) is None
                    continue
                due = {
                    "times": x * y, "plus": x + y, "minus": x - y, "round_up": Fraction(ceil(x)),
                    "ratio": x / y if y else None,
                }[op]  # fmt: skip
                whole = hull(span)
                assert whole is not None and due is not None and within(due, whole)

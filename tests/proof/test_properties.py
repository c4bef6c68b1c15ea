"""What must hold of every table and of every two, on random ones, against evaluators that follow the definition word
for word. The docstring of each class is the clause that it tests.

What a ruling says of missing facts and readings, and which facts it asks for, is tested in tests/ruling
(test_semantics.py, test_what_cannot_occur.py, test_lists.py); that the order of the ops of a layer never matters in
tests/resolve/test_layers.py; that each change told flips and each sufficient fact is needed, numbers included, in
tests/ruling/test_order_and_explanation.py.
"""

from __future__ import annotations

import random

from hypothesis import given, settings
from hypothesis import strategies as st

from dmn.tables import demo_places, distinct, editions, tables
from proof import holds_of_books, holds_of_tables
from proof.books import Made, changed, random_book
from proof.tables import PlainTable, random_table, rngs
from proof.tables import changed as changed_table
from proof.truth import Truth
from yokebook.proof.deciding_rows import IMPOSSIBLE
from yokebook.proof.elements import Side, space_of
from yokebook.proof.shown import point_of
from yokebook.values import NotApplicable

plain_tables = rngs.map(random_table)
books = rngs.map(random_book)
chains = rngs.map(lambda rng: random_book(rng, chain=True))
some = settings(max_examples=150, deadline=None)
few = settings(max_examples=60, deadline=None)


@st.composite
def pairs(draw: st.DrawFn) -> tuple[PlainTable, PlainTable]:
    """A table, and the same with something in it otherwise."""
    rng = draw(rngs)
    was = random_table(rng, most_points=150)
    return was, changed_table(rng, was)


@st.composite
def scaled_pairs(draw: st.DrawFn) -> tuple[PlainTable, PlainTable, list[bool]]:
    """Two tables, and which of their inputs are scales without steps."""
    was, now = draw(pairs())
    return was, now, draw(st.lists(st.booleans(), min_size=len(was.widths), max_size=len(was.widths)))


class TestLeaves:
    """P1. A rule fires in any of its boxes and in none of its `but_not` boxes; it stands if nothing that fires prevails
    over it, directly or through others; all standing rules together give the outcome. The leaves of a walk give that at
    every point, do not overlap, and leave nothing out."""

    @some
    @given(plain_tables)
    def test_leaves(self, table: PlainTable) -> None:
        holds_of_tables.leaves_are_the_definition(table)

    @few
    @given(plain_tables)
    def test_single_points(self, table: PlainTable) -> None:
        holds_of_tables.points_are_the_definition(table)

    @few
    @given(books, rngs)
    def test_elements_against_raw_values(self, made: Made, rng: random.Random) -> None:
        holds_of_books.elements_hold_every_value_once(made)
        holds_of_books.elements_say_what_values_say(made, rng)

    @few
    @given(chains, rngs)
    def test_a_lower_answer_as_an_input(self, made: Made, rng: random.Random) -> None:
        holds_of_books.elements_hold_every_value_once(made)
        holds_of_books.elements_say_what_values_say(made, rng)


class TestShippedTables:
    """P1, of every table of every edition and demo place: at points drawn from all over its space the rows say what the
    definition says of raw values there."""

    def test_points(self) -> None:
        rng = random.Random(5)
        compared = 0
        for each in distinct(tables([*editions(), *demo_places()])):
            space = space_of([Side(each.law, each.question)], each.law.book)
            numbers = {name: value.value for name, value in each.law.resolved.values.items()}
            truth = Truth({each.question: each.law.resolved.tables[each.question]}, numbers)
            for _ in range(150):
                point = tuple(rng.randrange(width) for width in space.widths)
                said = space.rows[0].at(point)
                if said != IMPOSSIBLE:
                    values = point_of(space, tuple(1 << element for element in point))
                    record = {n: v for n, v in values.items() if not isinstance(v, NotApplicable)}
                    assert said == truth.ruling(each.question, record), (each.name, record)
                    compared += 1
        assert compared > 5_000


class TestTies:
    """What ties inputs to each other (a figure and its facts, an answer and its table, where facts apply, combinations
    that cannot occur) leaves out nothing that can be."""

    @some
    @given(books, rngs)
    def test_figures(self, made: Made, rng: random.Random) -> None:
        holds_of_books.ties_leave_out_nothing_that_can_be(made, rng)

    @some
    @given(chains, rngs)
    def test_answers(self, made: Made, rng: random.Random) -> None:
        holds_of_books.ties_leave_out_nothing_that_can_be(made, rng)


class TestRulings:
    """P2. A full record, written with units and words and taken in by the front door, gets the outcome that the
    definition gives its raw values, under each published reading; one that cannot occur is impossible."""

    @some
    @given(books, rngs)
    def test_one_table(self, made: Made, rng: random.Random) -> None:
        holds_of_books.ruling_is_the_definition(made, rng)

    @some
    @given(chains, rngs)
    def test_on_the_answer_of_another(self, made: Made, rng: random.Random) -> None:
        holds_of_books.ruling_is_the_definition(made, rng)


class TestGaps:
    """P3. A gap is a point that can occur and at which no rule fires. Where one is told it is one all over; where none
    is told there is none. The same of any region and any of the boxes."""

    @some
    @given(plain_tables)
    def test_gap(self, table: PlainTable) -> None:
        holds_of_tables.gap_is_silent(table)

    @some
    @given(plain_tables, rngs)
    def test_any_cover(self, table: PlainTable, rng: random.Random) -> None:
        holds_of_tables.cover_is_exact(table, rng)

    @few
    @given(books)
    def test_cells_that_nothing_fits(self, made: Made) -> None:
        """A stretch between two neighbouring whole numbers holds none; nor does one outside what a fact may be."""
        holds_of_books.empty_cells_are_all(made)


class TestConflicts:
    """P4. Two rules clash where both stand and say different things. Each two told do all over the region told; no two
    do that are not told. A rule is dead if it stands nowhere."""

    @some
    @given(plain_tables)
    def test_conflicts(self, table: PlainTable) -> None:
        holds_of_tables.conflicts_are_all(table)

    @some
    @given(plain_tables)
    def test_dead_rules(self, table: PlainTable) -> None:
        holds_of_tables.dead_rules_never_stand(table)


class TestWhatIsStillPossible:
    """P5. What a table can say in a region, or of a record with facts missing, is what it says somewhere in it, of some
    completion that can occur; knowing more makes nothing possible that was not."""

    @some
    @given(plain_tables, rngs)
    def test_in_a_region(self, table: PlainTable, rng: random.Random) -> None:
        holds_of_tables.parts_are_the_definition(table, rng)

    @few
    @given(books, rngs)
    def test_of_a_record(self, made: Made, rng: random.Random) -> None:
        holds_of_books.outcomes_are_those_of_completions(made, rng)

    @few
    @given(chains, rngs)
    def test_of_a_record_with_a_lower_answer(self, made: Made, rng: random.Random) -> None:
        holds_of_books.outcomes_are_those_of_completions(made, rng, most=1)


class TestOrder:
    """P6. In which order rules, boxes and cells are written is nothing: the same everywhere, and the same findings."""

    @some
    @given(plain_tables, rngs)
    def test_rows(self, table: PlainTable, rng: random.Random) -> None:
        holds_of_tables.order_is_nothing(table, rng)

    @some
    @given(books, rngs)
    def test_tables(self, made: Made, rng: random.Random) -> None:
        holds_of_books.order_is_nothing(made, rng)


class TestDifferences:
    """Two tables differ at a point if they say different things there. Nothing differs from itself; old and new turned
    round give the same turned round; each region told differs at every point that can occur, and no point that differs
    is left out."""

    @some
    @given(plain_tables)
    def test_of_a_table_and_itself(self, table: PlainTable) -> None:
        holds_of_tables.nothing_against_itself(table)

    @some
    @given(pairs())
    def test_leaves(self, two: tuple[PlainTable, PlainTable]) -> None:
        holds_of_tables.leaves_of_two_are_all(*two)

    @some
    @given(scaled_pairs())
    def test_regions(self, two: tuple[PlainTable, PlainTable, list[bool]]) -> None:
        holds_of_tables.differences_are_all(*two)

    @few
    @given(scaled_pairs())
    def test_turned_round(self, two: tuple[PlainTable, PlainTable, list[bool]]) -> None:
        holds_of_tables.differences_mirror(*two)

    @few
    @given(rngs)
    def test_two_laws_against_raw_values(self, rng: random.Random) -> None:
        made = random_book(rng, chain=rng.random() < 0.3)
        holds_of_books.two_laws_over_one_space(made, changed(rng, made), rng)


class TestBreadth:
    """A difference is at a boundary only if at each of its points some input is one single number of a scale without
    steps. A region told is as wide as it can be: no element can be added with which things occur and all is so."""

    @some
    @given(scaled_pairs())
    def test_boundary_only(self, two: tuple[PlainTable, PlainTable, list[bool]]) -> None:
        holds_of_tables.boundary_only_is_without_breadth(*two)

    @some
    @given(scaled_pairs())
    def test_widest(self, two: tuple[PlainTable, PlainTable, list[bool]]) -> None:
        holds_of_tables.widest_is_widest(*two)

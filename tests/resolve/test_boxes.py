"""Joining cells: the joined cell holds exactly the values that both hold."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from resolve.making import one
from yokebook.boxes import CannotJoin, join_boxes, join_cells
from yokebook.model import Cell, NamedNumber, NoneOf, OneOf, Within

GRID = [Fraction(n, 2) for n in range(-1, 8)]  # ends at whole numbers, so points between and outside are on it


def holds(cell: Cell, value: Fraction) -> bool:
    """What a cell means, told anew: at_least, more_than, at_most, less_than, any of, not."""
    if isinstance(cell, OneOf):
        return value in cell.values
    if isinstance(cell, NoneOf):
        return value not in cell.values
    low, high = cell.low, cell.high
    assert not isinstance(low, NamedNumber) and not isinstance(high, NamedNumber)
    if low is not None and not (value > low if cell.low_open else value >= low):
        return False
    return high is None or (value < high if cell.high_open else value <= high)


ends = st.none() | st.integers(0, 3).map(Fraction)
members = st.frozensets(st.sampled_from(GRID), min_size=1, max_size=4)
cells = st.one_of(members.map(OneOf), members.map(NoneOf), st.builds(Within, ends, st.booleans(), ends, st.booleans()))


@given(cells, cells)
def test_the_joined_cell_holds_what_both_hold(left: Cell, right: Cell) -> None:
    try:
        joined = join_cells("x", left, right)
    except CannotJoin:
        assert {type(left), type(right)} == {NoneOf, Within}  # only this pair leaves holes
        return
    for value in GRID:
        assert (joined is not None and holds(joined, value)) == (holds(left, value) and holds(right, value))


def test_boxes_join_each_with_each_and_empty_ones_go() -> None:
    left = ({"a": one("x", "y")}, {"a": one("z")})
    right = ({"a": one("x"), "b": one(True)}, {"c": one(False)})
    assert join_boxes(left, right) == (
        {"a": one("x"), "b": one(True)},
        {"a": one("x", "y"), "c": one(False)},
        {"a": one("z"), "c": one(False)},
    )


def test_ends_of_which_one_is_named_join_when_they_do_not_meet() -> None:
    named = Within(high=NamedNumber("delay"))
    assert join_cells("x", Within(low=Fraction(5)), named) == Within(low=Fraction(5), high=NamedNumber("delay"))
    assert join_cells("x", named, named) == named
    assert join_cells("x", named, Within(high=NamedNumber("delay"), high_open=True)) == Within(
        high=NamedNumber("delay"), high_open=True
    )


@pytest.mark.parametrize("other", [Within(high=Fraction(5)), one(Fraction(5)), NoneOf(frozenset({Fraction(5)}))])
def test_what_hangs_on_a_named_number_is_refused(other: Cell) -> None:
    with pytest.raises(CannotJoin) as raised:
        join_cells("control.delay", Within(high=NamedNumber("delay")), other)
        assert (
            str(raised.value)
            == "the rule has a cell on `control.delay` already and a named number is in one of the two"
        )

"""Numbers with units: exact by definition (the international foot of 0.3048 m, the inch a twelfth of it)."""

from __future__ import annotations

from fractions import Fraction as F

import pytest
from hypothesis import given
from hypothesis import strategies as st

from yokebook.units import MEASURES, QuantityError, format_number, must_carry_unit, parse, parse_any

GOLDEN: list[tuple[str, str | None, F]] = [
    ("6 ft", "in", F(72)),
    ("5 ft 6 in", "in", F(66)),
    ("5ft 6in", "in", F(66)),
    ("5 1/2 ft", "in", F(66)),
    ("1 m 50 mm", "in", F(1050 * 10, 254)),
    ("25.4 mm", "in", F(1)),
    ("0.3048 m", "in", F(12)),
    ("200 sq ft", "sq ft", F(200)),
    ("0.09290304 sq m", "sq ft", F(1)),
    ("20 min", "min", F(20)),
    ("2 h", "min", F(120)),
    ("1 h 30 min", "min", F(90)),
    ("90 s", "min", F(3, 2)),
    ("1800 W", "W", F(1800)),
    ("1.8 kW", "W", F(1800)),
    ("0.18 kVA", "VA", F(180)),
    ("1/2 hp", "hp", F(1, 2)),
    ("1 1/2 hp", "hp", F(3, 2)),
    ("20 A", "A", F(20)),
    ("20", "A", F(20)),
    ("277", "V", F(277)),
    ("-3", None, F(-3)),
    ("1/3", None, F(1, 3)),
    ("0.1", None, F(1, 10)),
    ("50%", None, F(1, 2)),
    ("125 %", None, F(5, 4)),
    ("1.5e2", None, F(150)),
]

LENGTH = "allowed: a length in `in`, `ft`, `mm` or `m`"
POWER = "allowed: a power in `W` or `kW`"
REFUSED: list[tuple[str, str | None, str]] = [
    ("72", "in", f"`72` has no unit; {LENGTH}"),
    ("20 min", "in", f"`20 min` is a time; {LENGTH}"),
    ("6 feet", "in", f"`feet` in `6 feet` is not a unit; {LENGTH}"),
    ("6'", "in", f"`6'` is not a number; {LENGTH}"),
    ("6 in 5 ft", "in", f"`6 in 5 ft` mixes units; {LENGTH}"),
    ("5 ft 5 ft", "in", f"`5 ft 5 ft` mixes units; {LENGTH}"),
    ("1 kW 5 W", "W", f"`1 kW 5 W` mixes units; {POWER}"),
    ("1,800 W", "W", "`1,800 W` has a comma; write `1800 W`, with a point for decimals"),
    ("1 hp", "W", f"`1 hp` is a motor power; {POWER}"),
    ("180 VA", "W", f"`180 VA` is an apparent power; {POWER}"),
    ("3", "W", f"`3` has no unit; {POWER}"),
    ("1/0 hp", "hp", "`1/0 hp` divides by zero"),
    ("15 V", "A", "`15 V` is a voltage; allowed: a current in `A`"),
    ("50%", "A", "`50%` is a percentage; allowed: a current in `A`"),
    ("2 ft", None, "`2 ft` is a length; allowed: a plain number"),
    ("nan", None, "`nan` is not a number; allowed: a plain number"),
    (".nan", None, "`.nan` is not a number; allowed: a plain number"),
    ("inf", None, "`inf` is not a number; allowed: a plain number"),
    ("1e999", None, "`1e999` is not a number; allowed: a plain number"),
    ("٣", None, "`٣` is not a number; allowed: a plain number"),
    ("", None, "`` is not a number; allowed: a plain number"),
    ("9" * 61, None, f"`{'9' * 20}…` is too long for a number; allowed: a plain number"),
]

SHOWN: list[tuple[F, str | None, str]] = [
    (F(17), "A", "17 A"),
    (F(145, 12), "A", "12.08 A"),
    (F(25, 2), "A", "12.5 A"),
    (F(1, 8), None, "0.125"),
    (F(2, 3), None, "0.67"),
    (F(-1, 2), None, "-0.5"),
    (F(1, 2), "hp", "1/2 hp"),
    (F(3, 2), "hp", "1 1/2 hp"),
    (F(1, 6), "hp", "1/6 hp"),
    (F(2), "hp", "2 hp"),
    (F(1999, 1000), "W", "1.999 W"),
    (F(19995, 10000), "W", "2 W"),
    (F(0), "min", "0 min"),
]


@pytest.mark.parametrize(("text", "unit", "value"), GOLDEN)
def test_read(text: str, unit: str | None, value: F) -> None:
    assert parse(text, unit) == value


@pytest.mark.parametrize(("text", "unit", "message"), REFUSED)
def test_refused(text: str, unit: str | None, message: str) -> None:
    with pytest.raises(QuantityError) as found:
        parse(text, unit)
    assert str(found.value) == message


@pytest.mark.parametrize(("value", "unit", "text"), SHOWN)
def test_shown(value: F, unit: str | None, text: str) -> None:
    assert format_number(value, unit) == text


def test_a_record_may_give_a_bare_number_in_its_facts_unit() -> None:
    assert parse("72", "in", bare_allowed=True) == 72


def test_which_numbers_must_carry_their_unit() -> None:
    assert {m.unit for m in MEASURES if must_carry_unit(m.unit)} == {"in", "sq ft", "min", "W", "VA", "hp"}
    assert not must_carry_unit(None)


def test_a_number_by_itself_says_its_kind() -> None:
    assert parse_any("2 h") == (F(120), "min")
    assert parse_any("1/2") == (F(1, 2), None)


@given(st.sampled_from(MEASURES), st.data(), st.integers(0, 10**6), st.integers(0, 999))
def test_what_is_written_comes_back(measure: object, data: st.DataObject, whole: int, thousandths: int) -> None:
    """A number of up to three decimals in any unit of a kind is its size times the number, and what is shown of it in
    the kind's own unit reads as the same number again."""
    its = next(m for m in MEASURES if m is measure)
    name = data.draw(st.sampled_from(sorted(its.sizes)))
    number = whole + F(thousandths, 1000)
    value = parse(f"{whole}.{thousandths:03} {name}", its.unit)
    assert value == number * its.sizes[name]
    if its.unit == name:
        assert parse(format_number(value, its.unit), its.unit) == value


@given(st.fractions(max_denominator=10**6))
def test_what_is_shown_is_off_by_at_most_half_of_the_last_place(value: F) -> None:
    assert abs(parse(format_number(value), None) - value) <= F(1, 200)

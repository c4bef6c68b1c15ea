"""The shipped ratings of receptacles, held against how NEMA WD 6 makes its names, and the slip that is refused."""

from __future__ import annotations

import re
from fractions import Fraction

import pytest

from shipped_book import book
from yokebook.front_door import record_to_graph
from yokebook.load.faults import InputFaults
from yokebook.model import LookUp, Value

BOOK = book()
CONFIGURATIONS = tuple(BOOK.facts["receptacle.configuration"].values)

#: By series number: rated volts (the higher of two), two voltages, poles, grounding.
SERIES: dict[str, tuple[int, bool, int, bool]] = {
    "1": (125, False, 2, False),
    "5": (125, False, 2, True),
    "6": (250, False, 2, True),
    "7": (277, False, 2, True),
    "10": (250, True, 3, False),
    "14": (250, True, 3, True),
}


def _looked_up(calculation: str, configuration: str) -> Value:
    expression = BOOK.calculations[calculation].expression
    assert isinstance(expression, LookUp)
    return expression.table[configuration]


@pytest.mark.parametrize("configuration", CONFIGURATIONS)
def test_ratings_follow_from_the_name(configuration: str) -> None:
    """L for locking, the series, the amperes, R for a receptacle: the standard's own way of naming."""
    named = re.fullmatch(r"(L?)(\d+)-(\d+)R", configuration)
    assert named is not None
    volts, dual, poles, grounding = SERIES[named[2]]
    assert _looked_up("receptacle.volts", configuration) == Fraction(volts)
    assert _looked_up("receptacle.amps", configuration) == Fraction(int(named[3]))
    assert _looked_up("receptacle.poles", configuration) == Fraction(poles)
    assert _looked_up("receptacle.dual_voltage", configuration) is dual
    assert _looked_up("receptacle.locking", configuration) is bool(named[1])
    assert _looked_up("receptacle.grounding", configuration) is grounding


@pytest.mark.parametrize("configuration", CONFIGURATIONS)
def test_ratings_agree_with_the_plain_words_of_the_fact(configuration: str) -> None:
    words = BOOK.facts["receptacle.configuration"].values[configuration]
    volts = _looked_up("receptacle.volts", configuration)
    assert f"{_looked_up('receptacle.amps', configuration)} A" in words
    assert (f"125/{volts} V" if _looked_up("receptacle.dual_voltage", configuration) else f" {volts} V") in words
    assert ("locking" in words) is _looked_up("receptacle.locking", configuration)
    assert ("no ground" in words) is not _looked_up("receptacle.grounding", configuration)


@pytest.mark.parametrize("volts", [110, 115, 120, "120 V"])
def test_the_circuit_s_voltage_is_refused_as_a_receptacle_s_rating(volts: object) -> None:
    with pytest.raises(InputFaults) as refused:
        record_to_graph({"receptacle.volts": volts}, BOOK)
    assert str(refused.value) == (
        f"receptacle.volts: `{volts}` is refused: that is the circuit's voltage; a receptacle on it is rated 125 V"
    )


@pytest.mark.parametrize("volts", [125, 250, 277, "125 V"])
def test_ratings_that_receptacles_have_are_taken(volts: object) -> None:
    record_to_graph({"receptacle.volts": volts}, BOOK)

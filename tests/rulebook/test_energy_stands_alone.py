"""An energy code says itself which controls it accepts. How a clause of the electrical code's marking rule is read, or
which electrical edition governs, does not touch its rulings: documents are ruled apart.

Limits: WAC 51-11C-40510 (half of the receptacles of a conference room; occupant sensor, off within 20 min) and 12-I
DCMR 8.4.2 (half of the duplex receptacles).
"""

from __future__ import annotations

from typing import Any

import pytest

from shipped_book import rulebook
from yokebook import front_door

BOOK = rulebook()


def room(**control: Any) -> dict[str, Any]:
    """A conference room of two duplexes, one of them wholly on the control."""
    half = {"designation": "none", "mark": "symbol and word", "mark_place": "face", "mark_permanent": True}
    on = [{"id": i, "position": i, "supply": "controlled", "controls": ["S"], **half} for i in ("upper", "lower")]
    off = [{"id": i, "position": i, "supply": "always on", "designation": "none"} for i in ("upper", "lower")]
    return {
        "project": {"name": "Ninth Street Controls, meeting room"},
        "complete": True,
        "spaces": [
            {
                "id": "meeting",
                "use": "conference",
                "occupancy": "office",
                "area_sq_ft": "180 sq ft",
                "shutoff_endangers": False,
                "yokes": [
                    {"id": "R1", "configuration": "5-20R", "device_type": "duplex", "contacts": on},
                    {"id": "R2", "configuration": "5-20R", "device_type": "duplex", "contacts": off},
                ],
            }
        ],
        "controls": [{"id": "S", **control}],
    }


SENSOR = {"kind": "wall-box sensor", "turns_off_by": "presence", "turns_on_by": "person", "off_delay_min": "20 min"}


@pytest.mark.parametrize(("place", "day"), [("us/wa", "2022-06-01"), ("us/dc", "2022-06-01")])
def test_a_vacancy_sensor_counts_with_nothing_also_held(place: str, day: str) -> None:
    """A sensor that a person switches on still switches off by itself; nobody reads the energy code otherwise."""
    code = BOOK.in_force(place, dates={"permit application": day})
    ruling = code.rule(
        "share.controlled", front_door.project_to_graph(room(**SENSOR), BOOK.book), "energy", "meeting"
    )
    assert (ruling.word, ruling.also_held) == ("satisfied", [])


def test_washingtons_energy_ruling_needs_no_date_of_the_electrical_permit() -> None:
    """Washington's electrical line goes by the purchase of the permit; that date is not given here."""
    code = BOOK.in_force("us/wa", dates={"permit application": "2022-06-01"})
    ruling = code.rule(
        "share.controlled", front_door.project_to_graph(room(**SENSOR), BOOK.book), "energy", "meeting"
    )
    assert not [ask for ask in ruling.ask if ask["kind"] == "date"]


def test_a_hand_switch_still_does_not_count() -> None:
    code = BOOK.in_force("us/wa", dates={"permit application": "2022-06-01"})
    by_hand = {"kind": "snap switch", "turns_off_by": "person"}
    ruling = code.rule(
        "share.controlled", front_door.project_to_graph(room(**by_hand), BOOK.book), "energy", "meeting"
    )
    assert ruling.word == "not satisfied"

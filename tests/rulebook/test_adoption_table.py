"""A table of which edition governs in each state, line by line: entered as it says, or left out with the reason.

The table is a snapshot of several published lists and official pages of about 2024 to 2026. A line is entered only
where a source of it has a title and an address that can be given.
"""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from other_buildings import OTHER_BUILDINGS
from shipped_book import rulebook
from yokebook import adoption

#: line -> the place, the day on which the edition began, the edition, and what governed the day before
ENTERED: dict[str, tuple[str, str, str, str]] = {
    "Alaska": ("us/ak", "2022-04-16", "2020", "not entered"),
    "California": ("us/ca", "2023-01-01", "2020", "2017"),
    "California, before": ("us/ca", "2020-01-01", "2017", "2014"),
    "California, next": ("us/ca", "2026-01-01", "2023", "2020"),
    "Colorado": ("us/co", "2023-08-01", "2023", "not entered"),
    "Colorado, before": ("us/co", "2020-08-01", "2020", "not entered"),
    "District of Columbia": ("us/dc", "2020-05-29", "2014", "not entered"),
    "Georgia": ("us/ga", "2025-01-01", "2023", "2020"),
    "Georgia, before": ("us/ga", "2021-01-01", "2020", "2017"),
    "Georgia, long before": ("us/ga", "2018-01-01", "2017", "not entered"),
    "Idaho": ("us/id", "2024-04-19", "2023", "2017"),
    "Iowa": ("us/ia", "2021-04-01", "2020", "not entered"),
    "Maine": ("us/me", "2024-07-01", "2023", "2020"),
    "Maine, before": ("us/me", "2021-07-02", "2020", "not entered"),
    "Massachusetts": ("us/ma", "2023-03-01", "2023", "not entered"),
    "Massachusetts, before": ("us/ma", "2020-01-01", "2020", "not entered"),
    "Michigan": ("us/mi", "2024-03-12", "2023", "2017"),
    "Michigan, before": ("us/mi", "2019-01-04", "2017", "not entered"),
    "Minnesota": ("us/mn", "2023-07-01", "2023", "2020"),
    "Minnesota, before": ("us/mn", "2020-11-17", "2020", "2017"),
    "Minnesota, long before": ("us/mn", "2017-07-01", "2017", "2014"),
    "Minnesota, first": ("us/mn", "2014-07-01", "2014", "not entered"),
    "New Jersey, before": ("us/nj", "2020-03-04", "2017", "2014 or 2017"),
    "New Jersey, long before": ("us/nj", "2016-03-22", "2014", "not entered or 2014"),
    "New York State": ("us/ny", "2016-10-03", "2014", "not entered"),
    "New York City": ("us/ny/new-york-city", "2025-12-21", "2020", "not entered or 2020"),
    "North Carolina": ("us/nc", "2021-11-01", "2017 or 2020", "2017"),
    "North Carolina, before": ("us/nc", "2018-06-12", "2017", "2014 or 2017"),
    "North Dakota": ("us/nd", "2024-10-01", "2023", "not entered"),
    "Oklahoma": ("us/ok", "2022-09-14", "2020", "not entered"),
    "Oregon": ("us/or", "2021-04-01", "2020", "2017"),
    "Oregon, next": ("us/or", "2023-10-01", "2023", "2020"),
    "South Carolina": ("us/sc", "2023-01-01", "2020", "not entered"),
    "Texas": ("us/tx", "2023-09-01", "2023", "2020"),
    "Texas, before": ("us/tx", "2020-11-01", "2020", "2017"),
    "Texas, long before": ("us/tx", "2017-09-15", "2017", "not entered"),
    "Utah": ("us/ut", "2021-07-01", "2020", "not entered"),
    "Utah, next": ("us/ut", "2025-07-01", "2023", "2020"),
    "Washington": ("us/wa", "2024-04-01", "2023", "2020"),
    "Washington, long before": ("us/wa", "2014-07-01", "2014", "not entered"),
    "Wisconsin": ("us/wi", "2018-08-01", "2017", "not entered"),
}
NO_ADDRESS = "the only lists that give its day have no address that can be given"
NO_DAY = "no list gives the day"
LOCAL = "no edition for the whole state"
LEFT_OUT: dict[str, tuple[str, str]] = {
    "Alabama": ("us/al", NO_ADDRESS),
    "Arizona": ("us/az", LOCAL),
    "Arkansas": ("us/ar", NO_ADDRESS),
    "Connecticut": ("us/ct", NO_ADDRESS),
    "Delaware": ("us/de", NO_ADDRESS),
    "Florida": ("us/fl", NO_ADDRESS),
    "Hawaii": ("us/hi", NO_ADDRESS),
    "Illinois": ("us/il", LOCAL),
    "Indiana": ("us/in", "its editions are older than this rulebook or under the residential code"),
    "Kansas": ("us/ks", LOCAL),
    "Kentucky": ("us/ky", NO_ADDRESS),
    "Louisiana": ("us/la", NO_ADDRESS),
    "Maryland": ("us/md", NO_ADDRESS),
    "Mississippi": ("us/ms", LOCAL),
    "Missouri": ("us/mo", LOCAL),
    "Montana": ("us/mt", NO_DAY),
    "Nebraska": ("us/ne", NO_DAY),
    "Nevada": ("us/nv", LOCAL),
    "New Hampshire": ("us/nh", NO_DAY),
    "New Mexico": ("us/nm", NO_DAY),
    "Ohio": ("us/oh", NO_DAY),
    "Pennsylvania": ("us/pa", NO_DAY),
    "Rhode Island": ("us/ri", NO_DAY),
    "South Dakota": ("us/sd", NO_DAY),
    "Tennessee": ("us/tn", NO_DAY),
    "Vermont": ("us/vt", NO_DAY),
    "Virginia": ("us/va", NO_DAY),
}
#: Where sources differ: the entry, and the days or editions that it has to tell of.
CONFLICTS = {
    ("us/ak", "AK-EC-conflict"): ("16 April 2020", "16 April 2022"),
    ("us/co", "CO-EC23"): ("1 July 2023", "30 June 2024"),
    ("us/ma", "MA-EC-conflict"): ("17 February 2023", "1 March 2023"),
    ("us/nc", "NC-EC17-window"): ("12 June 2018", "1 April 2018"),
    ("us/nc", "NC-EC20"): ("1 November 2021", "1 October 2021"),
    ("us/tx", "TX-EC20"): ("1 November 2020", "1 October 2020", "1 September"),
    ("us/tx", "TX-EC23"): ("1 September 2023", "a day earlier"),
    ("us/ok", "OK-EC20"): ("2020 code", "2023 code"),
    ("us/wa", "WA-EC20"): ("29 October 2020", "1 November 2020"),
}


def governs(place: str, day: str) -> str:
    found = adoption.candidates(rulebook().book, place, "electrical", {}, OTHER_BUILDINGS.get(place, {}), on=day)
    return " or ".join(each.resolved.edition if each.resolved is not None else each.state for each in found)


@pytest.mark.parametrize("line", ENTERED)
def test_line_is_entered_as_the_table_has_it(line: str) -> None:
    place, day, edition, before = ENTERED[line]
    assert governs(place, day) == edition
    (entry,) = [e for e in rulebook().book.places[place].lines["electrical"] if e.on_or_after == day]
    assert entry.source and entry.says
    the_day_before = date.fromisoformat(day) - timedelta(days=1)
    assert governs(place, the_day_before.isoformat()) == before


@pytest.mark.parametrize("line", LEFT_OUT)
def test_line_is_left_out(line: str) -> None:
    place, reason = LEFT_OUT[line]
    assert place not in rulebook().book.places, reason


def test_every_state_has_a_line() -> None:
    """But West Virginia and Wyoming, which none of the lists told of."""
    lines = {line.partition(",")[0] for line in (*ENTERED, *LEFT_OUT)}
    assert len(lines - {"District of Columbia", "New York City"}) == 50 - 2
    assert not {line.partition(",")[0] for line in ENTERED} & set(LEFT_OUT)


@pytest.mark.parametrize(("place", "entry"), CONFLICTS)
def test_conflicts_are_told(place: str, entry: str) -> None:
    (found,) = [each for each in rulebook().book.places[place].lines["electrical"] if each.id == entry]
    told = " ".join(found.says.split())
    assert [each for each in CONFLICTS[place, entry] if each not in told] == []

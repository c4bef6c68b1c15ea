"""Real places: which code governs on each side of each day on which that changes.

The days are those that the statute, rule, order or notice named in the place's file gives. Where it gives none, the
file says what its day rests on.
"""

from __future__ import annotations

import re
from datetime import date, timedelta

import pytest

from shipped_book import rulebook
from yokebook import adoption
from yokebook.model import Entry

#: place -> (day, what governs from that day on, of which document); before the first day nothing is entered.
LINES: dict[str, list[tuple[str, str]]] = {
    "us/ak": [("2020-04-16", "not entered"), ("2022-04-16", "2020")],
    "us/ca": [("2017-01-01", "2014"), ("2020-01-01", "2017"), ("2023-01-01", "2020"), ("2026-01-01", "2023")],
    "us/co": [("2020-08-01", "2020"), ("2023-07-01", "not entered"), ("2023-08-01", "2023")],
    "us/co/factory-built": [
        ("2020-08-01", "2017 or 2020"),
        ("2021-02-02", "2020"),
        ("2021-02-02", "2020"),
        ("2023-07-01", "not entered"),
    ],
    "us/dc": [("2014-03-28", "not entered"), ("2020-05-29", "2014")],
    "us/ga": [("2018-01-01", "2017"), ("2021-01-01", "2020"), ("2021-09-01", "2020"), ("2025-01-01", "2023")],
    "us/ia": [("2021-04-01", "2020"), ("2022-01-01", "2020"), ("2025-07-01", "2023")],
    "us/id": [("2017-07-01", "2017"), ("2024-04-19", "2023")],
    "us/il/chicago": [("2018-03-01", "2017")],
    "us/il/hometown": [("2023-03-01", "2017")],
    "us/il/macon-county": [("2022-09-01", "2023"), ("2025-09-09", "2026")],
    "us/ma": [
        ("2020-01-01", "2020"),
        ("2023-02-17", "not entered"),
        ("2023-03-01", "2023"),
    ],
    "us/me": [("2021-07-02", "2020"), ("2024-07-01", "2023"), ("2026-09-01", "2023")],
    "us/mi": [("2019-01-04", "not entered or 2017"), ("2024-03-12", "not entered or 2023")],
    "us/mn": [
        ("2014-07-01", "2014"),
        ("2017-07-01", "2017"),
        ("2020-11-17", "2020"),
        ("2021-04-05", "2020"),
        ("2023-07-01", "2023"),
    ],
    "us/mo/marshfield": [("2024-01-11", "2017")],
    "us/nc": [
        ("2016-04-01", "2014"),
        ("2018-02-15", "2014 or 2017"),
        ("2018-06-12", "2017"),
        ("2021-11-01", "2017 or 2020"),
    ],
    "us/nd": [("2024-10-01", "2023")],
    "us/nj": [
        ("2015-09-21", "not entered or 2014"),
        ("2016-03-22", "2014"),
        ("2019-09-03", "2014 or 2017"),
        ("2020-03-04", "2017"),
        ("2022-09-06", "not entered"),
    ],
    "us/ny": [("2016-10-03", "2014"), ("2020-05-12", "not entered")],
    "us/ny/new-york-city": [("2024-12-21", "not entered or 2020"), ("2025-12-21", "2020")],
    "us/oh/one-two-and-three-family": [("2016-01-01", "2014"), ("2019-07-01", "not entered")],
    "us/ok": [("2022-09-14", "2020")],
    "us/or": [("2017-10-01", "2017"), ("2021-04-01", "2020"), ("2023-10-01", "2023")],
    "us/sc": [("2023-01-01", "2020")],
    "us/tx": [
        ("2017-09-15", "2017"),
        ("2020-11-01", "2020"),
        ("2021-05-20", "2020"),
        ("2021-11-17", "2020"),
        ("2022-12-31", "2020"),
        ("2023-09-01", "2023"),
    ],
    "us/ut": [("2021-07-01", "not entered or 2020"), ("2025-07-01", "not entered or 2023")],
    "us/wa": [("2014-07-01", "2014"), ("2017-07-01", "2017"), ("2020-10-29", "2020"), ("2024-04-01", "2023")],
    "us/wa/seatac": [("2017-01-01", "2014")],
    "us/wa/seattle": [("2014-11-12", "2014"), ("2017-10-21", "2017"), ("2021-03-01", "not entered")],
    "us/wa/vancouver": [("2017-07-01", "2017"), ("2020-10-29", "not entered")],
    "us/wi": [("2018-08-01", "not entered or 2017"), ("2020-01-01", "2017"), ("2026-09-01", "not entered")],
}
#: The same for energy.
ENERGY: dict[str, list[tuple[str, str]]] = {
    "us/ca": [
        ("2014-07-01", "2013"),
        ("2017-01-01", "2016"),
        ("2020-01-01", "2019"),
        ("2023-01-01", "2022"),
        ("2026-01-01", "2025"),
    ],
    "us/dc": [("2020-05-29", "2017")],
    "us/federal-buildings": [("2014-07-09", "2010"), ("2016-11-06", "2013"), ("2023-04-07", "2019")],
    "us/il/chicago": [("2022-11-01", "2021")],
    "us/ny": [("2025-12-31", "2024")],
    "us/ny/new-york-city": [("2025-12-31", "2024")],
    "us/or": [("2019-10-01", "not entered"), ("2020-01-01", "2016 or 2018"), ("2021-04-01", "not entered")],
    "us/wa": [("2016-07-01", "not entered"), ("2021-02-01", "2018"), ("2024-03-15", "not entered")],
}
BOUNDARIES = [
    (kind, place, day, line[number - 1][1] if number else "not entered", now)
    for kind, lines in (("electrical", LINES), ("energy", ENERGY))
    for place, line in lines.items()
    for number, (day, now) in enumerate(line)
    if number == 0 or line[number - 1][0] != day
]


def governs(place: str, day: str, kind: str = "electrical") -> str:
    """The editions that may govern there that day, or that nothing is entered."""
    found = adoption.candidates(rulebook().book, place, kind, {}, {}, on=day)
    return " or ".join(c.resolved.edition if c.resolved is not None else c.state for c in found)


def day_before(day: str) -> str:
    return (date.fromisoformat(day) - timedelta(days=1)).isoformat()


def real_places() -> list[str]:
    return [place for place in rulebook().book.places if place.startswith("us/")]


@pytest.mark.parametrize(("kind", "place", "day", "was", "now"), BOUNDARIES)
def test_the_day_before_and_the_day_on_which_it_changes(kind: str, place: str, day: str, was: str, now: str) -> None:
    assert (governs(place, day_before(day), kind), governs(place, day, kind)) == (was, now)


@pytest.mark.parametrize(("kind", "told"), [("electrical", LINES), ("energy", ENERGY)])
def test_every_day_of_every_line_is_in_the_table(kind: str, told: dict[str, list[tuple[str, str]]]) -> None:
    lines = {place: rulebook().book.places[place].lines.get(kind, ()) for place in real_places()}
    dated = {place: [entry.on_or_after for entry in line if entry.on_or_after] for place, line in lines.items() if line}
    assert dated == {place: [day for day, _ in line] for place, line in told.items()}


def test_enough_places_in_enough_states() -> None:
    entered = {place for place, line in LINES.items() if any(now != "not entered" for _, now in line)}
    assert len(entered) >= 12
    assert len({place.split("/")[1] for place in entered}) >= 8


# ---- the form of the lines --------------------------------------------------------------------------------------


def entries() -> list[tuple[str, Entry]]:
    return [
        (place, entry)
        for place in real_places()
        for line in rulebook().book.places[place].lines.values()
        for entry in line
    ]


HOW_TO_FIND = r"found by (its|their) titles?|^Utah Code 15A-3-601\b"

#: Lines that begin with a dated entry; nothing says what governed before it.
BEGIN_DATED = {("us/dc", "electrical"), ("us/dc", "energy"), ("us/wa", "electrical"), ("us/wa", "energy")}


def test_no_line_begins_with_an_undeclared_hole() -> None:
    begins = {
        (place, kind): line[0]
        for place in real_places()
        for kind, line in rulebook().book.places[place].lines.items()
        if (place, kind) not in BEGIN_DATED
    }
    assert [key for key, first in begins.items() if first.event is not None] == []
    assert [key for key, first in begins.items() if first.not_entered is None and first.none_in_force is None] == []


#: Entries whose only source stands where nothing may be cited by its address: a name in it, a firm's own page, a copy
#: that people share, a page that looks codes up. They name a title to look for, or the law itself.
WITHOUT_ADDRESS = [
    *("CA-EC-2016", "CA-EN-2013", "CA-EN-2016", "IA-EC23", "ID-EC17", "ID-EC23", "UT-EC23", "SEA-EC17"),
    "WI-EC17-dwellings",
]


def test_what_is_entered_names_its_source_by_title_and_address_or_says_how_to_find_it() -> None:
    entered = {entry.id: entry.source for _, entry in entries() if entry.not_entered is None}
    found = {name: source for name, source in entered.items() if "http" not in source}
    assert list(found) == WITHOUT_ADDRESS
    assert [name for name, source in found.items() if not re.search(HOW_TO_FIND, source)] == []


def test_no_two_entries_of_real_places_share_an_id() -> None:
    ids = [entry.id for _, entry in entries()]
    assert len(ids) == len(set(ids))


# ---- the six kinds of date --------------------------------------------------------------------------------------

#: event, place, a day before which and from which two things govern
EVENTS = [
    ("permit application", "us/ca", "2023-01-01", "2017", "2020"),
    ("electrical permit application", "us/ma", "2020-01-01", "not entered", "2020"),
    ("permit issue", "us/id", "2024-04-19", "2017", "2023"),
    ("permit purchase", "us/wa", "2017-07-01", "2014", "2017"),
    ("work commencement", "us/me", "2024-07-01", "2020", "2023"),
    ("project filing", "us/ny/new-york-city", "2025-12-21", "not entered or 2020", "2020"),
]
DESIGN = "start of design for construction"
#: Where a layer goes by the day of the inspection, it does not apply on this one.
INSPECTED = {"inspection": "2025-01-01"}


@pytest.mark.parametrize(("event", "place", "day", "was", "now"), EVENTS)
def test_each_event_by_its_own_date(event: str, place: str, day: str, was: str, now: str) -> None:
    def on(when: str) -> list[adoption.Candidate]:
        return adoption.candidates(rulebook().book, place, "electrical", {event: when, **INSPECTED}, {})

    for when, expected in ((day_before(day), was), (day, now)):
        assert " or ".join(c.resolved.edition if c.resolved else c.state for c in on(when)) == expected


@pytest.mark.parametrize(("event", "place", "day", "was", "now"), EVENTS)
def test_the_date_of_another_event_settles_nothing(event: str, place: str, day: str, was: str, now: str) -> None:
    other = "permit purchase" if event != "permit purchase" else "permit application"
    found = adoption.candidates(rulebook().book, place, "electrical", {other: "2026-11-26"}, {})
    assert len(found) > 1
    assert event in {need.event for c in found for need in c.needs if isinstance(need, adoption.DateNeed)}


def test_start_of_design() -> None:
    """New federal buildings go by the day on which design for construction began."""
    for day, edition in (("2016-11-05", "2010"), ("2016-11-06", "2013")):
        (found,) = adoption.candidates(rulebook().book, "us/federal-buildings", "energy", {DESIGN: day}, {})
        assert found.resolved is not None and found.resolved.edition == edition


def test_manufacture() -> None:
    """Colorado: a unit made on 2 February 2021 is to the 2020 code, whichever code its plans of 2020 were to; one made
    the day before is to the code that the plans name; plans of that day are to the 2020 code."""

    def editions(submitted: str, made: str, chosen: str) -> list[str]:
        found = adoption.candidates(
            rulebook().book,
            "us/co/factory-built",
            "electrical",
            {"plan submission": submitted, "manufacture": made},
            {"named-edition": chosen},
        )
        return [each.resolved.edition for each in found if each.resolved is not None]

    assert editions("2020-10-01", "2021-02-01", "2017") == ["2017"]
    assert editions("2020-10-01", "2021-02-01", "2020") == ["2020"]
    assert editions("2020-10-01", "2021-02-02", "2017") == ["2020"]
    assert editions("2021-02-01", "2021-02-01", "2017") == ["2017"]
    assert editions("2021-02-02", "2021-02-01", "2017") == ["2020"]


def test_plan_submission() -> None:
    """Wisconsin: plans submitted from 1 September 2026 on are under a code that is not entered."""
    for day, state in (("2026-08-31", "in force"), ("2026-09-01", "not entered")):
        dates = {"permit application": "2026-08-01", "plan submission": day}
        (found,) = adoption.candidates(rulebook().book, "us/wi", "electrical", dates, {})
        assert found.state == state


def test_one_line_may_go_by_two_events() -> None:
    """Minnesota: filed on 1 November 2020 and issued on 20 November is under the 2020 code; issued on 16 November is
    not; what is filed on 1 July 2023 is under the 2023 code whenever it is issued."""

    def edition(filed: str, issued: str) -> str:
        dates = {"electrical permit filing": filed, "permit issue": issued, **INSPECTED}
        (found,) = adoption.candidates(rulebook().book, "us/mn", "electrical", dates, {})
        assert found.resolved is not None
        return found.resolved.edition

    assert edition("2020-11-01", "2020-11-20") == "2020"
    assert edition("2020-11-01", "2020-11-16") == "2017"
    assert edition("2023-06-30", "2023-07-05") == "2020"
    assert edition("2023-07-01", "2023-07-05") == "2023"


def test_free_choice_inside_a_window() -> None:
    """North Carolina, permits active between 15 February and 12 June 2018: either code, as the application names it."""
    for day, chosen, expected in (
        ("2018-02-14", "2017", "2014"),
        ("2018-02-15", "2014", "2014"),
        ("2018-06-11", "2017", "2017"),
        ("2018-06-12", "2014", "2017"),
    ):
        (found,) = adoption.candidates(
            rulebook().book, "us/nc", "electrical", {"permit issue": day}, {"named-edition": chosen}
        )
        assert found.resolved is not None and found.resolved.edition == expected


def test_inspection() -> None:
    """Minnesota does not enforce a part of the code at inspections to 4 April 2021, of permits that came under the code
    before; Massachusetts excuses equipment at inspections from 26 January to 26 April 2023, of older permits too."""

    def amendments(place: str, dates: dict[str, str]) -> list[list[str]]:
        found = adoption.candidates(rulebook().book, place, "electrical", dates, {})
        return [[a.id for a in each.resolved.amendments] for each in found if each.resolved is not None]

    minnesota = {"electrical permit filing": "2020-12-01", "permit issue": "2020-12-01"}
    assert amendments("us/mn", {**minnesota, "inspection": "2021-04-04"}) == [["MN-hold"]]
    assert amendments("us/mn", {**minnesota, "inspection": "2021-04-05"}) == [[]]
    assert amendments("us/mn", minnesota) == [[], ["MN-hold"]]
    older = {**minnesota, "permit issue": "2020-11-16", "inspection": "2021-04-04"}
    assert amendments("us/mn", older) == [[]]  # still on the 2017 code, which has no such rule
    massachusetts = {"electrical permit application": "2022-06-01"}
    days = {"2023-01-25": [], "2023-01-26": ["MA-rule-11"], "2023-04-26": ["MA-rule-11"], "2023-04-27": []}
    for day, expected in days.items():
        assert amendments("us/ma", {**massachusetts, "inspection": day}) == [expected]


def test_choice_of_a_code_that_is_not_entered() -> None:
    """New Jersey's applicants of the grace name 2011 or 2014; a new building in New York City opts in or not."""
    for place, event, day, taken in (
        ("us/nj", "permit application", "2016-03-21", {"2011": "not entered", "2014": "2014"}),
        ("us/ny/new-york-city", "project filing", "2025-12-20", {"2011": "not entered", "2025": "2020"}),
    ):
        for named, expected in taken.items():
            (found,) = adoption.candidates(rulebook().book, place, "electrical", {event: day}, {"named-edition": named})
            assert (found.resolved.edition if found.resolved else found.state) == expected
            assert found.resolved is not None or named in found.reason

"""The same facts under two dates or places: two lawful answers, each with its own chain."""

from __future__ import annotations

from typing import Any

import pytest

from scenarios.staging import CITY, COUNTY, EVENT, also_held, as_published, by_reading, chosen, stage
from shipped_book import rulebook
from yokebook.ruling import Ruling
from yokebook_adapters.views import amendment_effect, governing_editions, settled_or_reading

PLOTTER = "office/P/only"
#: A sensor's contact device whose mark is the symbol alone, on the face, moulded in, and showing its half.
SYMBOL_ONLY: dict[str, Any] = {
    "receptacle.configuration": "5-20R",
    "receptacle.built_in_control": False,
    "contact.supply": "controlled",
    "contact.controls.complete": True,
    "contact.mark": "symbol",
    "contact.mark_place": "face",
    "contact.mark_permanent": True,
    "contact.mark_shows_contact": True,
    "control.kind": "ceiling sensor and relay",
    "control.turns_off_by": "presence",
    "control.location": "ceiling",
    "space.required_lighting_outlet": "none required",
}


def ruled(place: str, day: str, question: str) -> Ruling:
    return rulebook().in_force(place, {EVENT: day}).rule(question, SYMBOL_ONLY)


def entry(ruling: Ruling) -> tuple[str, str]:
    assert ruling.document is not None
    return ruling.document["edition"], ruling.document["entry"]


def chain(ruling: Ruling) -> list[tuple[str, str]]:
    """Who wrote or changed the one rule that stands, in order."""
    (rule,) = ruling.standing
    return [(step["by"], step["op"]) for step in rule["chain"]]


def test_symbol_in_2014_symbol_and_word_from_2017() -> None:
    """R06, R60: the City's permits of 2016 and the County's of 2019."""
    old, new = (ruled(*at, "marking.form") for at in ((CITY, "2016-05-02"), (COUNTY, "2019-06-03")))
    assert (old.outcome, new.outcome) == ("symbol", "symbol and word")
    assert (entry(old), entry(new)) == (("2014", "BF-EC14"), ("2017", "TC-EC17"))
    assert chain(old) == [("nfpa-70 2014", "written")]
    assert chain(new) == [("nfpa-70 2014", "written"), ("nfpa-70 2017", "replace")]


def test_the_same_mark_satisfies_in_2014_and_not_in_2017() -> None:
    """R60: the symbol alone."""
    assert ruled(CITY, "2016-05-02", "marking.satisfied").outcome == "satisfied"
    later = ruled(COUNTY, "2019-06-03", "marking.satisfied")
    assert (later.outcome, later.against) == ("not satisfied", True)


def test_plotter_in_county_and_city_on_one_day() -> None:
    """R03, R10: the City's ordinance adds the mark."""
    county, city = (stage("sc05", place=place, day="2024-10-01") for place in (COUNTY, CITY))
    not_marked, marked = (staged.rule("marking.required", PLOTTER) for staged in (county, city))
    assert (not_marked.outcome, marked.outcome) == ("not required", "required")
    assert (entry(not_marked), entry(marked)) == (("2020", "TC-EC20"), ("2023", "BF-EC23"))
    assert not_marked.standing == []  # no rule of the 2020 edition asks for it
    assert chain(marked)[0] == ("nfpa-70 2014", "written")
    assert chain(marked)[-1] == ("BF-1", "replace")


def test_what_the_ordinance_changes() -> None:
    """R10: against the bare 2023 edition, BF-1 adds a mark for the plotter."""
    city = stage("sc05", place=CITY, day="2024-10-01")
    base = as_published(city, "nfpa-70", "2023")
    rulings = [staged.rule("marking.required", PLOTTER).to_dict() for staged in (city, base)]
    effect = amendment_effect(rulings[0], rulings[1], ["not required", "required"])
    assert (effect["base"], effect["amended"]) == ("not required", "required")
    assert (effect["effect"], effect["by"]) == ("adds", ["BF-1"])


def test_what_the_ordinance_settles() -> None:
    """R10: against the bare 2023 edition, BF-4 settles how the exception is read for a sensor at the switch's place."""
    city = stage("sc02", place=CITY, day="2024-09-03")
    base = as_published(city, "nfpa-70", "2023")
    rulings = [staged.rule("marking.required", "living/R2/upper").to_dict() for staged in (city, base)]
    effect = amendment_effect(rulings[0], rulings[1], ["not required", "required"])
    assert (effect["base"], effect["amended"]) == ("readings differ", "required")
    assert effect["effect"] == "fixes a reading"


@pytest.mark.parametrize(
    ("day", "expected", "governed_by", "directions"),
    [
        ("2024-12-31", "not required", "TC-EC20", []),
        ("2025-01-01", "required", "TC-EC20-D2", ["TC-D2"]),
        ("2025-06-30", "required", "TC-EC20-D2", ["TC-D2"]),
        ("2025-07-01", "not required", "TC-EC20-after-D2", []),
    ],
)
def test_the_countys_direction(day: str, expected: str, governed_by: str, directions: list[str]) -> None:
    """The plotter on its hand switch before, during and after the half year in which the County reads it otherwise."""
    ruling = stage("sc05", place=COUNTY, day=day).rule("marking.required", PLOTTER)
    assert ruling.outcome == expected
    assert entry(ruling) == ("2020", governed_by)
    assert ruling.document is not None and ruling.document["amendments"] == directions
    by = [("any-switch", "all but lighting", "TC-D2")] if directions else []
    assert chosen(ruling) == by
    other = {"all but lighting": "required"} if expected == "not required" else {}
    assert {k: v for k, v in also_held(ruling).items() if k == "all but lighting"} == other


@pytest.mark.parametrize("day", ["2024-12-31", "2025-03-03", "2025-07-01"])
def test_the_direction_leaves_a_lamp_alone(day: str) -> None:
    """A light on a plain wall switch needs no mark under either reading."""
    assert stage("sc01", place=COUNTY, day=day).word("marking.required", "living/R2/upper") == "not required"


@pytest.mark.parametrize(
    ("day", "status", "edition"),
    [
        ("2017-12-31", "settled", "2014"),
        ("2018-01-01", "no adoption entered", None),
        ("2021-06-30", "no adoption entered", None),
        ("2021-07-01", "settled", "2020"),
        ("2024-06-30", "settled", "2020"),
        ("2024-07-01", "settled", "2023"),
    ],
)
def test_the_citys_gap(day: str, status: str, edition: str | None) -> None:
    """R49: nothing is borrowed from the years around the gap."""
    ruling = ruled(CITY, day, "marking.required")
    assert (ruling.status, ruling.word) == (status, "required" if edition else "no adoption entered")
    (governing,) = governing_editions([ruling.to_dict()])
    assert governing["edition"] == edition
    if edition is None:
        assert ruling.outcome is None and ruling.standing == []


def test_the_gap_borrows_nothing_from_the_county() -> None:
    """R49: on the gap's last day the County has a code, and the City's answer is still that none was entered."""
    assert ruled(COUNTY, "2021-06-30", "marking.required").outcome == "required"
    assert ruled(CITY, "2021-06-30", "marking.required").outcome is None


def test_readings_are_told_from_settled_words() -> None:
    """R57: the sensor at the wall switch's place hangs on a reading in the County; the City has chosen."""
    county, city = stage("sc02"), stage("sc02", place=CITY, day="2024-09-03")
    asked = ("marking.required", "living/R2/upper")
    (open_,) = settled_or_reading([county.rule(*asked).to_dict()])
    assert open_["word"] == "readings differ"
    assert by_reading(county.rule(*asked)) == {"automatic": "required", "wall switch": "not required"}
    assert open_["under"] == county.rule(*asked).under
    assert city.rule(*asked).status == "settled"


@pytest.mark.parametrize(
    ("place", "day", "electrical", "energy"),
    [
        (COUNTY, "2019-02-28", None, None),
        (COUNTY, "2019-03-01", "TC-EC17", None),
        (COUNTY, "2021-12-31", "TC-EC17", None),
        (COUNTY, "2022-01-01", "TC-EC20", "TC-ENA"),
        (CITY, "2014-12-31", None, None),
        (CITY, "2015-01-01", "BF-EC14", None),
        (CITY, "2017-12-31", "BF-EC14", None),
        (CITY, "2018-01-01", None, None),
        (CITY, "2021-06-30", None, None),
        (CITY, "2021-07-01", "BF-EC20", "BF-ENB"),
        (CITY, "2024-06-30", "BF-EC20", "BF-ENB"),
    ],
)
def test_each_entry_from_its_first_day_to_the_day_before_the_next(
    place: str, day: str, electrical: str | None, energy: str | None
) -> None:
    """R49: what governs a permit applied for on that day; None where no edition does, be it a gap that says so."""
    staged = stage("sc04", place=place, day=day)
    for question, subject, expected in (
        ("marking.required", "office/R3/upper", electrical),
        ("share.controlled", "office", energy),
    ):
        document = staged.rule(question, subject).document or {}
        assert (document["entry"] if document.get("edition") else None) == expected

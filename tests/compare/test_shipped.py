"""The shipped rulebook: what is publicly known to have changed; the invented city before and after its ordinance."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

import yokebook
from shipped_book import rulebook
from yokebook import Code
from yokebook.front_door import read_project
from yokebook.proof.changes import Changes
from yokebook.proof.comparing_projects import DeviceGroup, compare_project

DEMO = Path(__file__).parents[2] / "adapters" / "yokebook_adapters" / "demo" / "brindle-falls.yaml"
CITY = "demo/tamarisk/brindle-falls"


@cache
def city(day: str) -> Code:
    return rulebook().in_force(CITY, on=day)


@cache
def city_changes() -> Changes:
    return yokebook.compare(city("2024-06-30"), city("2024-07-01"))


def own(changes: Changes) -> set[tuple[str, str, str, str]]:
    return {(c.question, c.was.word, c.now.word, c.direction) for c in changes.changes}


def test_the_edition_of_2017_asks_for_the_word_beside_the_symbol() -> None:
    """Public: the 2017 edition added the word to the symbol (licence-renewal course on the 2017 changes)."""
    old, new = rulebook().edition("nfpa-70", "2014"), rulebook().edition("nfpa-70", "2017")
    changes = yokebook.compare(old, new, ["marking.form"])
    [change] = changes.changes
    assert (change.was.word, change.now.word, change.direction) == ("symbol", "symbol and word", "stricter")
    assert change.regions == [[{"input": "answer.marking.required", "is": "required"}]]
    assert change.witness.reachable == "shown"
    [was], [now] = change.witness.was, change.witness.now
    assert (was["cite"]["section"], now["cite"]["section"]) == ("406.3(E) and its figure", "406.3(E)")
    assert now["chain"][-1]["by"] == "nfpa-70 2017"


def test_an_input_whose_number_only_one_law_sets_is_not_told_as_moved() -> None:
    """The delay of a guest room's control hangs on a number that the edition of 2010 does not have."""
    old, new = rulebook().edition("ashrae-90.1", "2010"), rulebook().edition("ashrae-90.1", "2013")
    for was, now in ((old, new), (new, old)):
        changes = yokebook.compare(was, now, ["guest-room.controlled", "furniture.feeders"])
        assert {change.question for change in changes.changes} == {"guest-room.controlled", "furniture.feeders"}
        moved = {each["input"] for change in changes.changes for each in change.witness.moved}
        assert not moved & {"control.off_delay_min", "space.feeders_needed"}


def test_every_record_shown_is_ruled_as_it_says() -> None:
    """Ruled again through the front door, where the facts are of one contact device and what it is on."""
    old, new = rulebook().edition("nfpa-70", "2014"), rulebook().edition("nfpa-70", "2017")
    changes = yokebook.compare(old, new, ["control.permitted", "marking.form", "marking.place"])
    assert len(changes.changes) == 4
    for change in changes.changes:
        record = change.witness.record
        assert record is not None
        facts = {fact["fact"]: _value(fact["value"]) for fact in record["facts"]}
        for code, said in ((old, change.was), (new, change.now)):
            ruling = code.rule(change.question, facts)
            assert said.word in ruling.possible


def _value(text: str) -> object:
    return {"yes": True, "no": False}.get(text, text)


def test_the_city_before_and_after_its_ordinance() -> None:
    found = own(city_changes())
    # BF-1: whatever is controlled is marked, on the face; BF-2: the upper half; the guest-room ordinance
    assert ("marking.required", "not required", "required", "stricter") in found
    assert ("marking.place", "outlet or plate", "face", "stricter") in found
    assert ("which-half.controlled", "either half", "upper", "stricter") in found
    assert ("guest-room.controlled", "does not apply", "not satisfied", "stricter") in found
    by = {
        step["by"]
        for change in city_changes().changes
        for rule in change.witness.now
        for step in rule["chain"]
        if step["op"] not in ("written", "carried")
    }
    assert {"BF-1", "BF-2", "BF-ENG"} <= by
    assert {(r.id, r.was, r.now, r.by) for r in city_changes().readings} == {
        ("sensor-as-wall-switch", "open", "automatic", "BF-4"),
        ("share-counting-unit", "open", "contact device", "BF-3"),
    }


def test_what_hangs_on_the_mark_changes_with_it() -> None:
    through = {each.question: each for each in city_changes().through}
    for question in ("marking.form", "ordinary.permitted", "marking.satisfied"):
        assert through[question].same_table
        assert through[question].reachable == "shown"
        because = through[question].because
        assert any(cause.startswith("answer.marking.required: its own table changes") for cause in because)
    assert through["share.controlled"].because == [
        "reading.share-counting-unit: open, now contact device (BF-3), used by space.share_have"
    ]


def test_the_day_before_is_no_different_from_the_year_before() -> None:
    assert not yokebook.compare(city("2023-07-01"), city("2024-06-30"))


@cache
def groups() -> dict[tuple[str, str, str], DeviceGroup]:
    graph = read_project(DEMO, rulebook().book)
    changes = compare_project(rulebook().edition("nfpa-70", "2023"), city("2024-10-15"), graph)
    assert {each.question for each in changes.only_now} >= {"share.controlled", "guest-room.controlled"}
    assert changes.only_was == []
    return {(group.question, group.was, group.now): group for group in changes.groups}


def test_the_plotter_on_a_hand_switch_has_to_be_marked_in_the_city() -> None:
    [device] = groups()["marking.required", "not required", "required"].devices
    assert device.subject["id"] == "office/P1/only"
    assert [rule["rule"] for rule in device.was] == ["marking.required#none_fires"]
    assert [(rule["rule"], rule["cite"]) for rule in device.now] == [
        ("marking.required#automatic", {"document": "Brindle Falls ordinance", "section": "1"})
    ]
    group = groups()["marking.satisfied", "does not apply", "not satisfied"]
    assert group.against == {"was": False, "now": True}
    assert [device.subject["id"] for device in group.devices] == ["office/P1/only"]


def test_the_upper_half_is_prescribed_for_each_split_duplex() -> None:
    """Thirteen yokes of the demo have the tab of one half removed and are mounted upright."""
    graph = read_project(DEMO, rulebook().book)
    split = {
        yoke.id
        for yoke in graph.things["yoke"]
        if yoke.given["receptacle.hot_tab"] == "removed" and yoke.given["receptacle.mounting"] == "upright"
    }
    group = groups()["which-half.controlled", "either half", "upper"]
    assert {device.subject["id"] for device in group.devices} == split and len(split) == 13


def test_why_a_device_changes_through_an_answer_below() -> None:
    [device] = groups()["ordinary.permitted", "permitted", "not permitted"].devices
    below = [each for each in device.below if each["question"] == "marking.required"]
    assert [[rule["rule"] for rule in each["now"]] for each in below] == [["marking.required#automatic"]]


@pytest.mark.slow
@pytest.mark.parametrize("editions", [("2014", "2017"), ("2017", "2020"), ("2020", "2023"), ("2023", "2026")])
def test_each_edition_against_the_next_is_the_mirror(editions: tuple[str, str]) -> None:
    old, new = (rulebook().edition("nfpa-70", edition) for edition in editions)
    forth, back = yokebook.compare(old, new), yokebook.compare(new, old)
    assert {(c.question, c.was.key, c.now.key, c.boundary_only) for c in forth.changes} == {
        (c.question, c.now.key, c.was.key, c.boundary_only) for c in back.changes
    }
    assert {each.question for each in forth.through} == {each.question for each in back.through}
    assert (forth.not_decided, back.not_decided) == ([], [])

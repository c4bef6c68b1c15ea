"""Receptacle marking: the regions of marking_regions.py tried at every point, the readings, and what is asked."""

from __future__ import annotations

import pytest

from marking_regions import MANUAL, ONE_AUTOMATIC, READ, REGIONS, SENSOR, Region, Values, points, ruled
from shipped_book import rulebook


def first_of(box: Values) -> dict[str, object]:
    return {fact: values[0] for fact, values in box.items()}


CASES = [(region, name) for region in REGIONS for name in region.editions]


@pytest.mark.parametrize(("region", "name"), CASES, ids=[f"{r.question}-{r.name}-{name}" for r, name in CASES])
def test_outcome_and_section_at_every_point(region: Region, name: str) -> None:
    for point in region.points():
        ruling = ruled(name, region.question, point)
        assert (ruling.status, ruling.outcome) == ("settled", region.outcome), point
        shown = ruling.to_dict()
        sections = {rule["cite"]["section"] for rule in shown["standing"]}
        assert sections == ({region.section[name]} if region.section else set()), point
        assert region.also_held or not shown["also_held"], point


@pytest.mark.parametrize("region", [r for r in REGIONS if "2023" in r.editions], ids=lambda r: f"{r.question}-{r.name}")
def test_2026_is_carried_and_says_that_nobody_checked_it(region: Region) -> None:
    for point in region.points():
        ruling = ruled("2026", region.question, point).to_dict()
        assert ruling["outcome"] == region.outcome, point
        assert ruling["not_checked"], point
        assert ruling["word"] == f"would be {region.outcome}", point
        for rule in ruling["standing"]:
            assert rule["cite"]["section"].startswith("not known"), rule


class TestReadings:
    @pytest.mark.parametrize("name", READ)
    def test_a_sensor_in_the_switchs_place_is_published_both_ways(self, name: str) -> None:
        for point in points(SENSOR):
            ruling = ruled(name, "marking.required", point).to_dict()
            assert ruling["status"] == "readings differ", point
            under = {u["readings"]["sensor-as-wall-switch"]: u["outcomes"] for u in ruling["under"]}
            assert under == {"automatic": ["required"], "wall switch": ["not required"]}

    @pytest.mark.parametrize(
        ("fact", "value"),
        [("control.acts_as_wall_switch", False), ("control.location", "ceiling"), ("control.location", "other room")],
    )
    def test_a_sensor_elsewhere_or_without_a_button_is_marked(self, fact: str, value: object) -> None:
        for point in points({**SENSOR, fact: (value,)}):
            assert ruled("2017", "marking.required", point).word == "required", point

    def test_a_wall_switch_in_series_with_something_automatic_is_published_both_ways(self) -> None:
        bedside = {
            "receptacle.configuration": "5-20R",
            "contact.supply": "controlled",
            "contact.automatic_control": True,
            "contact.by_wall_switch": True,
            "contact.by_wall_switch_or_sensor": True,
            "space.occupancy": "guest room",
            "space.use": "guest room",
            "space.required_lighting_outlet": "met by switched receptacle",
        }
        assert ruled("2023", "marking.required", bedside).word == "readings differ"

    @pytest.mark.parametrize("place", ["face", "plate"])
    def test_the_2014_plate_is_published_both_ways_and_the_face_is_not(self, place: str) -> None:
        record = first_of(ONE_AUTOMATIC) | {"contact.mark": "symbol", "contact.mark_place": place}
        word = ruled("2014", "marking.satisfied", record).word
        assert word == ("satisfied" if place == "face" else "readings differ")

    @pytest.mark.parametrize(
        ("load", "lighting", "held"),
        [
            ("office machine", "none required", True),
            ("office machine", "met by luminaire", True),
            ("lamp", "met by luminaire", False),
            ("lamp", "met by switched receptacle", False),
            ("office machine", "met by switched receptacle", False),
        ],
    )
    def test_any_switch_is_held_beside_all_but_a_light_on_a_wall_switch(
        self, load: str, lighting: str, held: bool
    ) -> None:
        record = first_of(MANUAL) | {
            "control.kind": "snap switch",
            "load.kind": load,
            "space.occupancy": "dwelling",
            "space.use": "living room",
            "space.required_lighting_outlet": lighting,
        }
        ruling = ruled("2020", "marking.required", record).to_dict()
        assert ruling["word"] == "not required"
        assert [(a["reading"], a["outcomes"]) for a in ruling["also_held"]] == (
            [("any-switch", ["required"])] if held else []
        )

    @pytest.mark.parametrize(
        ("kind", "off", "on", "reading"),
        [
            ("count-down timer", "count-down", "person", "count-down-timer"),
            ("wall-box sensor", "presence", "person", "vacancy-sensor"),
            ("card switch", "card removal", "person", "card-switch"),
            ("demand response", "signal", "signal", "demand-response"),
            ("photo control", "daylight", "power return", "photo-control"),
            ("wireless wall station", "loss of link", "person", "loss-of-link"),
        ],
    )
    def test_each_doubtful_control_is_automatic_with_the_argued_view_beside_it(
        self, kind: str, off: str, on: str, reading: str
    ) -> None:
        record = {"control.kind": kind, "control.turns_off_by": off, "control.turns_on_by": on}
        ruling = ruled("2017", "control.acts", record).to_dict()
        assert ruling["word"] == "automatic"
        assert [(a["reading"], a["outcomes"]) for a in ruling["also_held"]] == [(reading, ["manual"])]

    def test_an_ordinary_occupancy_sensor_carries_no_argued_view(self) -> None:
        record = {
            "control.kind": "wall-box sensor",
            "control.turns_off_by": "presence",
            "control.turns_on_by": "presence",
        }
        assert ruled("2017", "control.acts", record).to_dict()["also_held"] == []


class TestWhatIsAsked:
    def test_an_always_on_half_asks_for_nothing(self) -> None:
        for question in ("marking.required", "marking.form", "marking.place", "ordinary.permitted"):
            for name in READ:
                assert ruled(name, question, {"contact.supply": "always on"}).to_dict()["ask"] == []

    def test_a_time_clock_in_an_office_settles_it_without_load_control_place_or_built_in_parts(self) -> None:
        record = {
            "receptacle.configuration": "5-20R",
            "contact.supply": "controlled",
            "control.turns_off_by": "schedule",
            "space.occupancy": "office",
        }
        assert ruled("2017", "marking.required", record).word == "required"

    def test_a_mark_that_nobody_looked_at_is_asked_for(self) -> None:
        record = first_of(ONE_AUTOMATIC)
        ruling = ruled("2017", "marking.satisfied", record).to_dict()
        assert ruling["status"] == "cannot tell"
        assert "contact.mark" in [need["fact"] for need in ruling["ask"]]

    def test_an_incomplete_list_of_hand_switches_is_not_taken_for_the_whole(self) -> None:
        record = first_of(MANUAL) | {"contact.controls.complete": False}
        ruling = ruled("2017", "marking.required", record).to_dict()
        assert ruling["status"] == "cannot tell"
        assert ruling["possible"] == ["not required", "required"]


def test_controlled_by_nothing_is_refused_as_impossible() -> None:
    """Given as controlled, all its controls listed, none there, and nothing built in: these cannot all be true."""
    record = {
        "receptacle.configuration": "5-20R", "receptacle.built_in_control": False, "contact.supply": "controlled",
        "contact.controls.complete": True,
    }  # fmt: skip
    for edition in ("2014", "2020", "2023"):
        ruling = rulebook().edition("nfpa-70", edition).rule("marking.required", record)
        assert ruling.status == "impossible"
        assert ruling.status_of is not None
        assert ruling.status_of["because"].endswith(
            "it is given as controlled, and every control of it is listed, and there is none"
        )

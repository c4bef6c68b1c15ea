"""Rooms of the demonstration places, counted by hand against the two invented energy codes.

Each expected value stands with its arithmetic. The places' law: the County's code of 2022 (half of the contact devices;
12 in, or split with the upper half controlled) and the City's of 2021 (half; 72 in above 200 sq ft) with its ordinances
of 2024.
"""

from __future__ import annotations

from typing import Any, ClassVar

import pytest

import yokebook
from shipped_book import rulebook

SATISFIED, NOT, NONE = "satisfied", "not satisfied", "does not apply"
CITY, COUNTY = "demo/tamarisk/brindle-falls", "demo/tamarisk"
Thing = dict[str, Any]


@pytest.fixture(scope="module")
def book() -> yokebook.Rulebook:
    return rulebook()


def sensor(delay: str = "20 min", **more: Any) -> Thing:
    kind = {"kind": "ceiling sensor and relay", "turns_off_by": "presence", "turns_on_by": "presence"}
    return {"id": "S", **kind, "acts_as_wall_switch": False, "off_delay_min": delay, **more}


def half(position: str, controls: list[str] | None = None, **more: Any) -> Thing:
    supply = "controlled" if controls else "always on"
    return {
        "id": position,
        "position": position,
        "supply": supply,
        "controls": controls or [],
        "designation": "none",
        **more,
    }


def duplex(name: str, upper: Thing, lower: Thing, **more: Any) -> Thing:
    return {"id": name, "configuration": "5-20R", "device_type": "duplex", "contacts": [upper, lower], **more}


def always_on(name: str, distance: str | None = None, **more: Any) -> Thing:
    near: Thing = {} if distance is None else {"nearest_controlled_in": distance}
    return duplex(name, half("upper", **near, **more), half("lower", **near, **more))


def wholly(name: str, control: str = "S") -> Thing:
    return duplex(name, half("upper", [control]), half("lower", [control]))


def split(name: str, control: str = "S", distance: str = "2 in", **lower: Any) -> Thing:
    return duplex(name, half("upper", [control]), half("lower", nearest_controlled_in=distance, **lower))


def single(name: str, contact: Thing) -> Thing:
    return {"id": name, "configuration": "5-20R", "device_type": "single", "contacts": [contact]}


class Ruled:
    """One room ruled under the law of a place and day."""

    def __init__(
        self, book: yokebook.Rulebook, place: str, day: str, room: Thing, yokes: list[Thing], controls: list[Thing],
        complete: bool = True,
    ) -> None:  # fmt: skip
        project = {
            "project": {"place": place, "dates": {"permit application": day}},
            "complete": complete,
            "spaces": [{"id": "room", **room, "yokes": yokes}],
            "controls": controls,
        }
        code = book.in_force(place, {"permit application": day})
        energy = {q.id for q in code.questions() if "energy" in code.kinds_for(q.id)}
        self.rulings = code.rule_project(project, sorted(energy)).rulings

    def get(self, question: str, subject: str) -> yokebook.Ruling:
        return next(r for r in self.rulings if r.question == question and r.subject["id"] == subject)

    def outcome(self, question: str, subject: str = "room") -> str | None:
        ruling = self.get(question, subject)
        return ruling.outcome if ruling.outcome is not None else ruling.status

    def figure(self, question: str, calculation: str, subject: str = "room") -> str:
        figures = self.get(question, subject).figures
        return str(next(f["exact"] for f in figures if f["calculation"] == calculation and f["subject"] == subject))

    def share(self) -> tuple[str | None, str, str, str]:
        names = ("space.share_have", "space.share_counted", "space.share_needed")
        have, counted, needed = (self.figure("share.controlled", name) for name in names)
        return self.outcome("share.controlled"), have, counted, needed


class TestPrivateOffice:
    """150 sq ft; R1 and R2 always on, R3 and R4 wholly controlled; 8 in and 30 in; the sensor waits 30 min."""

    ROOM: ClassVar[Thing] = {"use": "private office", "area_sq_ft": "150 sq ft", "furniture_feeders": 0}
    YOKES: ClassVar[list[Thing]] = [always_on("R1", "8 in"), always_on("R2", "30 in"), wholly("R3"), wholly("R4")]

    def test_county(self, book: yokebook.Rulebook) -> None:
        ruled = Ruled(book, COUNTY, "2024-03-11", self.ROOM, self.YOKES, [sensor("30 min")])
        assert ruled.outcome("share.listed") == "listed"
        assert ruled.share() == (SATISFIED, "4", "8", "4")
        assert ruled.outcome("distance.controlled") == NOT
        assert ruled.figure("distance.controlled", "space.worst_distance_unsplit_in") == "30"
        assert ruled.outcome("control.off-delay", "S") == NOT
        assert ruled.outcome("furniture.feeders") == NONE

    def test_county_split_throughout(self, book: yokebook.Rulebook) -> None:
        yokes = [split(name, distance="30 in") for name in ("R1", "R2", "R3", "R4")]
        ruled = Ruled(book, COUNTY, "2024-03-11", self.ROOM, yokes, [sensor()])
        assert ruled.share() == (SATISFIED, "4", "8", "4")
        assert ruled.outcome("distance.controlled") == SATISFIED  # the upper halves are controlled: no distance counts
        assert ruled.outcome("control.off-delay", "S") == SATISFIED
        assert ruled.outcome("share.which-half", "room/R1") == "upper"

    def test_county_split_below(self, book: yokebook.Rulebook) -> None:
        """With the lower half controlled the split does not help, and 2 in does."""
        lower = [duplex("R1", half("upper", nearest_controlled_in="2 in"), half("lower", ["S"]))]
        ruled = Ruled(book, COUNTY, "2024-03-11", self.ROOM, lower, [sensor()])
        assert ruled.outcome("distance.controlled") == SATISFIED
        assert ruled.figure("distance.controlled", "space.worst_distance_unsplit_in") == "2"

    def test_city(self, book: yokebook.Rulebook) -> None:
        ruled = Ruled(book, CITY, "2024-03-11", self.ROOM, self.YOKES, [sensor("30 min")])
        assert ruled.outcome("share.controlled") == SATISFIED
        assert ruled.outcome("distance.controlled") == NONE  # 150 is not larger than 200
        assert ruled.outcome("control.off-delay", "S") == NOT


class TestPlotterOnAHandSwitch:
    """Four split duplexes on a sensor, and a plotter's single receptacle on a snap switch."""

    ROOM: ClassVar[Thing] = {"use": "private office", "area_sq_ft": "150 sq ft", "furniture_feeders": 0}
    HAND: ClassVar[Thing] = {"id": "H", "kind": "snap switch", "turns_off_by": "person", "turns_on_by": "person"}

    def ruled(self, book: yokebook.Rulebook, place: str, day: str, designation: str) -> Ruled:
        plotter = half("only", ["H"], nearest_controlled_in="10 in") | {"designation": designation}
        yokes = [split(n) for n in ("R1", "R2", "R3", "R4")] + [single("P", plotter)]
        return Ruled(book, place, day, self.ROOM, yokes, [sensor(), self.HAND])

    @pytest.mark.parametrize(("place", "day"), [(COUNTY, "2024-03-11"), (CITY, "2024-10-01")])
    def test_a_hand_switch_does_not_count(self, book: yokebook.Rulebook, place: str, day: str) -> None:
        ruled = self.ruled(book, place, day, "none")
        assert ruled.share() == (NOT, "4", "9", "5")  # ceil(4.5) = 5; short of one
        assert ruled.outcome("control.off-delay", "H") == NONE

    @pytest.mark.parametrize(("place", "day"), [(COUNTY, "2024-03-11"), (CITY, "2024-10-01")])
    def test_designated(self, book: yokebook.Rulebook, place: str, day: str) -> None:
        ruled = self.ruled(book, place, day, "continuous operation")
        assert ruled.outcome("share.exempt", "room/P/only") == "exempt"
        assert ruled.share() == (SATISFIED, "4", "8", "4")


class TestCopyRoom:
    """City, 120 sq ft, three split duplexes on an occupancy sensor."""

    ROOM: ClassVar[Thing] = {"use": "print-copy", "area_sq_ft": "120 sq ft"}

    def ruled(self, book: yokebook.Rulebook, yokes: list[Thing]) -> Ruled:
        return Ruled(book, CITY, "2024-10-15", self.ROOM, yokes, [sensor(kind="wall-box sensor")])

    def test_as_planned(self, book: yokebook.Rulebook) -> None:
        ruled = self.ruled(book, [split("A"), split("B"), split("C")])
        assert ruled.share() == (SATISFIED, "3", "6", "3")
        assert ruled.outcome("distance.controlled") == NONE

    def test_designated_load_in_a_lower_half(self, book: yokebook.Rulebook) -> None:
        ruled = self.ruled(book, [split("A", designation="continuous operation"), split("B"), split("C")])
        assert ruled.share() == (SATISFIED, "3", "5", "3")  # 60 %

    def test_designated_load_in_an_upper_half_made_always_on(self, book: yokebook.Rulebook) -> None:
        upper = half("upper", nearest_controlled_in="20 in") | {"designation": "continuous operation"}
        plotter = duplex("A", upper, half("lower", nearest_controlled_in="20 in"))
        ruled = self.ruled(book, [plotter, split("B"), split("C")])
        assert ruled.share() == (NOT, "2", "5", "3")  # 2 of 5 = 40 %

    def test_a_half_listed_room_never_passes(self, book: yokebook.Rulebook) -> None:
        yokes = [split("A"), split("B"), split("C")]
        ruled = Ruled(book, CITY, "2024-10-15", self.ROOM, yokes, [sensor()], complete=False)
        ruling = ruled.get("share.controlled", "room")
        assert ruling.status == "cannot tell"
        assert {ask["kind"] for ask in ruling.ask} == {"list"}


def open_plan_office() -> list[Thing]:
    desks = [y for i in range(24) for y in (always_on(f"D{i}a", "18 in"), wholly(f"D{i}b", "T"))]
    return desks + [split(f"W{i}", "T", "0 in") for i in range(6)]


TIME_CLOCK = {
    "id": "T", "kind": "time clock", "turns_off_by": "schedule", "turns_on_by": "schedule",
    "schedule_area_sq_ft": "6400 sq ft", "schedule_floors": 1, "override_max_min": "4 h",
}  # fmt: skip


class TestOpenPlanOffice:
    """City, 6,400 sq ft on one schedule: 24 desks, one duplex always on and one controlled; six split on the wall."""

    ROOM: ClassVar[Thing] = {"use": "open office", "area_sq_ft": "6400 sq ft"}

    def test_counted_by_contact_device(self, book: yokebook.Rulebook) -> None:
        ruled = Ruled(book, CITY, "2025-02-03", self.ROOM, open_plan_office(), [TIME_CLOCK])
        assert ruled.share() == (SATISFIED, "54", "108", "54")  # N = 24 x 4 + 6 x 2; have 24 x 2 + 6
        assert ruled.get("share.controlled", "room").also_held == []  # the ordinance of 2024 settles the unit
        assert ruled.outcome("distance.controlled") == SATISFIED
        assert ruled.figure("distance.controlled", "space.worst_distance_in") == "18"
        assert ruled.outcome("control.schedule-zone", "T") == NOT
        assert ruled.figure("control.schedule-zone", "control.zones_by_area", "T") == "2"  # ceil(6,400 / 5,000)
        assert ruled.outcome("control.override", "T") == NOT

    def test_before_the_ordinance_the_unit_is_open(self, book: yokebook.Rulebook) -> None:
        """By the yoke, 54 yokes, need 27: a half as 0 gives 24, as 1/2 gives 27, as 1 gives 30."""
        ruled = Ruled(book, CITY, "2024-02-05", self.ROOM, open_plan_office(), [TIME_CLOCK])
        ruling = ruled.get("share.controlled", "room")
        assert ruling.outcome == SATISFIED
        held = {
            (h["alternative"], tuple(h["outcomes"])) for h in ruling.also_held if h["reading"] == "share-counting-unit"
        }
        assert held == {("yoke, half as 0", (NOT,))}


class TestClassroom:
    """City, 900 sq ft: ten duplexes, one designated for 24-hour equipment, four wholly controlled, 78 in at worst."""

    ROOM: ClassVar[Thing] = {"use": "classroom", "area_sq_ft": "900 sq ft", "occupancy": "education"}

    def ruled(self, book: yokebook.Rulebook, ninth: Thing) -> Ruled:
        network = always_on("N", "90 in")
        for contact in network["contacts"]:
            contact["designation"] = "continuous operation"
        on = [always_on(f"R{i}", "78 in" if i == 0 else "60 in") for i in range(4)]
        yokes = [network, *on, ninth, *(wholly(f"C{i}") for i in range(4))]
        return Ruled(book, CITY, "2024-11-12", self.ROOM, yokes, [sensor("20 min")])

    def test_short_of_one(self, book: yokebook.Rulebook) -> None:
        ruled = self.ruled(book, always_on("R4", "60 in"))
        assert ruled.share() == (NOT, "8", "18", "9")  # 20 less 2 designated; 44.4 %
        assert ruled.outcome("distance.controlled") == NOT
        assert ruled.figure("distance.controlled", "space.worst_distance_in") == "78"  # the designated one's 90 is free
        assert ruled.outcome("control.off-delay", "S") == SATISFIED

    def test_one_more_split(self, book: yokebook.Rulebook) -> None:
        assert self.ruled(book, split("R4")).share() == (SATISFIED, "9", "18", "9")


class TestGuestRoom:
    """City from July 2024: five duplexes; a card switch and presence take five of ten contact devices off."""

    ROOM: ClassVar[Thing] = {"use": "guest room", "occupancy": "guest room"}

    def ruled(self, book: yokebook.Rulebook, delay: str, day: str = "2025-01-20") -> Ruled:
        card = {
            "id": "S",
            "kind": "card switch",
            "turns_off_by": "card removal",
            "turns_on_by": "person",
            "off_delay_min": delay,
        }
        yokes = [wholly("desk"), split("bed-left"), split("bed-right"), split("tv"), always_on("minibar")]
        return Ruled(book, CITY, day, self.ROOM, yokes, [card])

    @pytest.mark.parametrize(("delay", "expected"), [("25 min", SATISFIED), ("30 min", SATISFIED), ("31 min", NOT)])
    def test_half_within_30_min(self, book: yokebook.Rulebook, delay: str, expected: str) -> None:
        ruled = self.ruled(book, delay)
        assert ruled.outcome("guest-room.controlled") == expected
        assert ruled.figure("guest-room.controlled", "space.guest_counted") == "10"
        assert ruled.figure("guest-room.controlled", "space.guest_needed") == "5"
        assert ruled.figure("guest-room.controlled", "space.guest_have") == ("0" if expected == NOT else "5")

    def test_no_such_rule_the_day_before(self, book: yokebook.Rulebook) -> None:
        assert self.ruled(book, "25 min", "2024-06-30").outcome("guest-room.controlled") == NONE

    def test_not_on_the_list_of_rooms(self, book: yokebook.Rulebook) -> None:
        ruled = self.ruled(book, "25 min")
        assert ruled.outcome("share.controlled") == NONE
        assert ruled.outcome("control.off-delay", "S") == NONE


class TestBreakRoom:
    """County, 180 sq ft: four split duplexes, two singles designated for refrigerators."""

    def test_share_and_distance(self, book: yokebook.Rulebook) -> None:
        cold = [single(n, half("only") | {"designation": "continuous operation"}) for n in ("F1", "V1")]
        yokes = [split(n) for n in ("C1", "C2", "W1", "W2")] + cold
        room = {"use": "break room", "area_sq_ft": "180 sq ft", "furniture_feeders": 0}
        ruled = Ruled(book, COUNTY, "2023-09-05", room, yokes, [sensor()])
        assert ruled.share() == (SATISFIED, "4", "8", "4")  # 8 + 2 less 2 designated
        assert ruled.outcome("distance.controlled") == SATISFIED
        assert ruled.outcome("share.which-half", "room/C1") == "upper"
        assert ruled.outcome("share.which-half", "room/F1") == NONE


def test_quad_and_duplex(book: yokebook.Rulebook) -> None:
    """A quad and a duplex are six receptacles: the duplex alone is 2 of 6, the quad 4 of 6 (trade practice)."""
    places = ("first", "second", "third", "fourth")

    def quad(controls: list[str]) -> Thing:
        contacts = [half(p, controls) if controls else half(p, nearest_controlled_in="6 in") for p in places]
        return {"id": "Q", "configuration": "5-20R", "device_type": "quad", "contacts": contacts}

    room = {"use": "private office", "area_sq_ft": "150 sq ft"}
    only_duplex = Ruled(book, CITY, "2024-10-15", room, [quad([]), wholly("D")], [sensor()])
    assert only_duplex.share() == (NOT, "2", "6", "3")
    only_quad = Ruled(book, CITY, "2024-10-15", room, [quad(["S"]), always_on("D", "6 in")], [sensor()])
    assert only_quad.share() == (SATISFIED, "4", "6", "3")


def test_district_office_with_four_duplexes(book: yokebook.Rulebook) -> None:
    """One controlled duplex at the desk is enough in a private office of the District, though 1 of 4 is a quarter."""
    code = book.in_force("us/dc", {"permit application": "2021-03-01"})
    elsewhere = [always_on(f"R{i}") | {"at_desk": i == 0} for i in range(3)]
    project = {
        "project": {"place": "us/dc", "dates": {"permit application": "2021-03-01"}},
        "complete": True,
        "spaces": [
            {
                "id": "room",
                "use": "private office",
                "shutoff_endangers": False,
                "yokes": [*elsewhere, wholly("desk") | {"at_desk": True}],
            }
        ],
        "controls": [sensor()],
    }
    (ruling,) = code.rule_project(project, ["share.controlled"]).rulings
    assert ruling.outcome == SATISFIED
    project["spaces"][0]["yokes"][3] = split("desk") | {"at_desk": True}  # type: ignore[index]
    (ruling,) = code.rule_project(project, ["share.controlled"]).rulings
    assert ruling.outcome == NOT  # a duplex with one half always on is no controlled duplex, as the text stands
    assert [h["alternative"] for h in ruling.also_held if h["reading"] == "split-duplex"] == ["one half"]


def test_washington_does_not_say_that_an_exempt_receptacle_leaves_the_count(book: yokebook.Rulebook) -> None:
    """Of 10 contact devices 2 are designated and 4 controlled: of all ten 5 are needed, of the other eight 4."""
    dates = {"permit application": "2022-05-02", "permit purchase": "2022-05-02"}
    yokes = [always_on("N", designation="continuous operation"), *(split(n) for n in ("A", "B", "C", "D"))]
    project = {
        "project": {"place": "us/wa", "dates": dates},
        "complete": True,
        "spaces": [{"id": "room", "use": "conference", "yokes": yokes}],
        "controls": [sensor()],
    }
    (ruling,) = book.in_force("us/wa", dates).rule_project(project, ["share.controlled"]).rulings
    assert ruling.outcome == NOT
    held = {(h["reading"], h["alternative"]): h["outcomes"] for h in ruling.also_held}
    assert held["exempt-in-count", "leaves"] == [SATISFIED]
    # by the yoke all five count: halves as 0 or 1/2 give 0 or 2 of the 3 needed, halves as 1 give 4
    assert held["share-counting-unit", "yoke, half as 1"] == [SATISFIED]
    assert ("share-counting-unit", "yoke, half as 1/2") not in held


def test_one_feeder_at_a_base_feed_may_be_read_as_enough(book: yokebook.Rulebook) -> None:
    """Eight circuits at a base feed: a quarter is 2, the argued reading takes the 1 that the text names."""
    record = {"space.use": "workstation", "space.furniture_feeders": 8, "space.furniture_feeders_controlled": 1}
    ruling = book.edition("dc-energy", "2017").rule("furniture.feeders", record)
    assert ruling.outcome == NOT
    assert [(h["alternative"], h["outcomes"]) for h in ruling.also_held] == [("enough", [SATISFIED])]

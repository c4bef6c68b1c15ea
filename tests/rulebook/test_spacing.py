"""Receptacles along the walls of a dwelling's room (R17), and distances from positions (R21): published examples and
scenes worked by hand with a tape on the floor plan. Six feet to each side of a receptacle are covered."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

import yokebook
from scenarios.staging import Changes, figure, stage
from shipped_book import rulebook
from yokebook.ruling import Ruling

Data = dict[str, Any]
ON, SWITCHED = "always on", "controlled"
EDITIONS = ("2014", "2017", "2020", "2023")


def duplex(own_id: str, at: str, upper: str = ON, lower: str = ON, **facts: Any) -> Data:
    """A duplex on wall W, so far along it."""
    halves = [
        {"id": half, "position": half, "supply": supply, "circuit": "C", "load": "none"}
        | ({"controls": ["S"]} if supply == SWITCHED else {})
        for half, supply in (("upper", upper), ("lower", lower))
    ]
    plain = {"configuration": "5-15R", "mounting": "upright", "height_in": "16 in", "in_cabinet": False}
    return {"id": own_id, "wall": "W", "position_in": at, "serves": "general", **plain, "contacts": halves, **facts}


def room(length: str, yokes: list[Data], lit: str = "met by luminaire", **facts: Any) -> Data:
    """A living room with one wall, and a switch S at the door."""
    switch = {"kind": "snap switch", "turns_off_by": "person", "location": "wall at entrance", "listed": True}
    wall = {"id": "W", "length_in": length, "behind_counter": facts.pop("behind_counter", "none")}
    space = {"id": "living", "use": "living room", "occupancy": "dwelling", "required_lighting_outlet": lit}
    return {
        "complete": True,
        "spaces": [{**space, "walls": [wall], "yokes": yokes, **facts}],
        "controls": [{"id": "S", **switch}],
        "circuits": [{"id": "C"}],
    }


def ruled(project: Data, question: str = "spacing.wall", subject: str = "living/W", edition: str = "2020") -> Ruling:
    """The ruling on one thing of a project."""
    found = rulebook().edition("nfpa-70", edition).rule_project(project, [question])
    return next(ruling for ruling in found.rulings if ruling.subject["id"] == subject)


def uncovered(ruling: Ruling) -> Fraction:
    """How much of the wall is out of reach, in feet."""
    return Fraction(figure(ruling, "wall.uncovered_in")) / 12


# ---- published examples ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("edition", EDITIONS)
class TestPublished:
    """EC&M, Code Q&A on wall space, and what it works out."""

    def test_one_will_do_for_eleven_ten(self, edition: str) -> None:
        """A wall of 11 ft 10 in needs one, in the middle."""
        assert ruled(room("11 ft 10 in", [duplex("R", "5 ft 11 in")]), edition=edition).outcome == "satisfied"
        assert ruled(room("11 ft 10 in", [duplex("R", "6 ft")]), edition=edition).outcome == "satisfied"
        off_centre = ruled(room("11 ft 10 in", [duplex("R", "5 ft 9 in")]), edition=edition)
        assert (off_centre.outcome, uncovered(off_centre)) == ("not satisfied", Fraction(1, 12))

    def test_three_for_twenty_five_feet(self, edition: str) -> None:
        """Two cover 24 ft at most."""
        two = ruled(room("25 ft", [duplex("A", "6 ft"), duplex("B", "18 ft")]), edition=edition)
        assert (two.outcome, uncovered(two)) == ("not satisfied", 1)
        three = [duplex("A", "6 ft"), duplex("B", "12 ft"), duplex("C", "19 ft")]
        assert ruled(room("25 ft", three), edition=edition).outcome == "satisfied"

    def test_two_feet_are_a_wall(self, edition: str) -> None:
        """A wall of 2 ft between a door and a cabinet needs its own; a shorter one needs none."""
        assert ruled(room("2 ft", []), edition=edition).outcome == "not satisfied"
        assert ruled(room("2 ft", [duplex("R", "1 ft")]), edition=edition).outcome == "satisfied"
        assert ruled(room("1 ft 11 in", []), edition=edition).outcome == "does not apply"


# ---- a lamp on a half ----------------------------------------------------------------------------------------------


class TestLampOnAHalf:
    """A wall of 14 ft, always on at 3 ft, a half for the lamp at 11 ft; no ceiling light."""

    LIT = "met by switched receptacle"

    def test_the_other_half_counts(self) -> None:
        """From 0 to 9 ft and from 5 to 17 ft: nothing is left."""
        project = room("14 ft", [duplex("R1", "3 ft"), duplex("R2", "11 ft", upper=SWITCHED)], self.LIT)
        ruling = ruled(project)
        assert ruling.outcome == "satisfied"
        assert [(held["reading"], held["outcomes"]) for held in ruling.also_held] == [
            ("other-half-of-switched", ["not satisfied"])
        ]
        [steps] = [shown["steps"] for shown in ruling.figures]
        assert steps == (
            "R1, living covers from 0 ft to 9 ft; R2, living covers from 5 ft to 14 ft; all 14 ft covered"
        )
        counted = {half: ruled(project, "spacing.counts", f"living/R2/{half}").outcome for half in ("upper", "lower")}
        assert counted == {"upper": "left out", "lower": "counts"}

    def test_wholly_switched_fails(self) -> None:
        """From 9 ft to 14 ft are 5 ft without."""
        both = duplex("R2", "11 ft", upper=SWITCHED, lower=SWITCHED)
        project = room("14 ft", [duplex("R1", "3 ft"), both], self.LIT)
        ruling = ruled(project)
        assert (ruling.outcome, uncovered(ruling), ruling.against) == ("not satisfied", 5, True)
        [steps] = [shown["steps"] for shown in ruling.figures]
        assert steps == "R1, living covers from 0 ft to 9 ft; uncovered 5 ft of 14 ft: from 9 ft to 14 ft"

    def test_what_is_not_given_is_asked(self) -> None:
        project = room("14 ft", [duplex("R1", "3 ft"), duplex("R2", "11 ft")])
        yokes = project["spaces"][0]["yokes"]
        del yokes[1]["wall"]
        ruling = ruled(project)
        assert ruling.status == "cannot tell"
        assert [(ask["subject"], ask["asks"]) for ask in ruling.ask] == [("living/R2", "Which wall is it on?")]
        yokes[1]["wall"] = "none"
        assert ruled(project).outcome == "not satisfied"

    def test_no_position_is_needed_where_none_would_help(self) -> None:
        """Two that may be anywhere cover 24 ft at most."""
        anywhere = [duplex("A", "6 ft"), duplex("B", "6 ft")]
        for yoke in anywhere:
            del yoke["position_in"]
        assert ruled(room("24 ft 1 in", anywhere)).outcome == "not satisfied"
        assert ruled(room("24 ft", anywhere)).status == "cannot tell"


def test_switched_beside_a_luminaire() -> None:
    """A timer feeds both halves of the only duplex, and a ceiling light is on its own switch: read both ways."""
    yokes = [duplex("R", "6 ft", upper=SWITCHED, lower=SWITCHED)]
    ruling = ruled(room("12 ft", yokes, use="home office"))
    assert ruling.word == "readings differ"
    assert {row["readings"]["switched-beside-luminaire"]: row["outcomes"] for row in ruling.under} == {
        "counts": ["satisfied"], "does not count": ["not satisfied"],
    }  # fmt: skip


# ---- what counts ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("edition", EDITIONS)
@pytest.mark.parametrize(
    ("facts", "counts"),
    [
        ({}, True),
        ({"configuration": "5-20R"}, True),
        ({"configuration": "6-15R"}, False),
        ({"configuration": "5-30R"}, False),
        ({"height_in": "5 ft 6 in"}, True),
        ({"height_in": "5 ft 6 1/4 in"}, False),
        ({"mounting": "floor", "from_wall_in": "18 in"}, True),
        ({"mounting": "floor", "from_wall_in": "18 1/4 in"}, False),
        ({"serves": "built in"}, False),
        ({"serves": "own appliance"}, True),
        ({"in_cabinet": True}, False),
    ],
    ids=str,
)
def test_what_counts(edition: str, facts: Data, counts: bool) -> None:
    ruling = ruled(room("12 ft", [duplex("R", "6 ft", **facts)]), edition=edition)
    assert ruling.outcome == ("satisfied" if counts else "not satisfied")


@pytest.mark.parametrize("edition", [*EDITIONS, "2026"])
def test_outside_dwellings_the_occupancy_alone_decides(edition: str) -> None:
    """210.52 is on dwelling units: a switched half elsewhere is not asked about, and no reading of it is open."""
    halves = [{"id": "upper", "supply": SWITCHED, "controls": ["S"]}]
    project = {
        "complete": True,
        "spaces": [{"id": "living", "occupancy": "office", "yokes": [{"id": "R", "contacts": halves}]}],
        "controls": [{"id": "S"}],
    }
    elsewhere = ruled(project, "spacing.counts", "living/R/upper", edition)
    assert (elsewhere.outcome, elsewhere.ask, elsewhere.also_held) == ("does not apply", [], [])
    assert elsewhere.to_dict()["readings_open"] == []
    del project["spaces"][0]["occupancy"]
    assert ruled(project, "spacing.counts", "living/R/upper", edition).ask[0]["fact"] == "space.occupancy"


@pytest.mark.parametrize(
    ("facts", "outcome"),
    [
        ({"use": "bathroom"}, "does not apply"),
        ({"use": "other", "habitable": True}, "counts"),
        ({"use": "other", "habitable": False}, "does not apply"),
        ({"occupancy": "mercantile", "use": "other"}, "does not apply"),
        ({"occupancy": "guest room", "use": "guest room"}, "counts"),
        ({"occupancy": "guest room", "use": "bathroom"}, "does not apply"),
    ],
)
def test_the_rooms_are_those_whose_walls_are_asked_about(facts: Data, outcome: str) -> None:
    """A plain duplex at 16 in counts wherever 210.52(A) or 210.60 asks for receptacles by wall, and only there."""
    assert ruled(room("12 ft", [duplex("R", "6 ft")], **facts), "spacing.counts", "living/R/upper").outcome == outcome


@pytest.mark.parametrize("edition", [*EDITIONS, "2026"])
def test_a_fixed_cabinet_with_a_countertop(edition: str) -> None:
    """It breaks the wall in 2014 and again in 2026; between them it is part of the wall."""
    breaks = edition in ("2014", "2026")
    part = ruled(room("12 ft", [duplex("R", "6 ft")], behind_counter="part of it"), edition=edition)
    assert part.outcome == ("divide the wall" if breaks else "satisfied")
    whole = ruled(room("12 ft", [], behind_counter="all of it"), edition=edition)
    assert whole.outcome == ("does not apply" if breaks else "not satisfied")


def test_countertop_receptacles_serve_no_wall() -> None:
    kitchen = {"use": "kitchen", "lit": "met by luminaire"}
    for serves, outcome in ((True, "not satisfied"), (False, "satisfied")):
        project = room("12 ft", [duplex("R", "6 ft", serves_countertop=serves)], **kitchen)
        assert ruled(project).outcome == outcome


@pytest.mark.parametrize(
    ("facts", "outcome"),
    [
        ({"use": "bathroom"}, "does not apply"),
        ({"use": "other", "habitable": True}, "not satisfied"),
        ({"use": "other", "habitable": False}, "does not apply"),
        ({"occupancy": "office", "use": "private office"}, "does not apply"),
        ({"occupancy": "guest room", "use": "guest room"}, "number only"),
        ({"occupancy": "guest room", "use": "bathroom"}, "does not apply"),
    ],
)
def test_which_rooms(facts: Data, outcome: str) -> None:
    project = room("12 ft", [], **facts)
    assert ruled(project).outcome == outcome


# ---- distances from positions --------------------------------------------------------------------------------------


def placed(**places: Data) -> Changes:
    """The private office with its distances taken away, and each yoke put somewhere."""
    halves = [f"office/{yoke}/{half}" for yoke in ("R1", "R2") for half in ("upper", "lower")]
    changes: Changes = {path: {"nearest_controlled_in": None} for path in halves}
    changes["office"] = {"walls": [{"id": "W", "length_in": "30 ft"}]}
    return changes | {f"office/{yoke}": at for yoke, at in places.items()}


class TestDistances:
    """A private office: R1 and R2 always on, R3 and R4 controlled; 12 in allowed."""

    def test_along_the_wall(self) -> None:
        """R1 at 2 ft, R3 8 in on; R2 at 10 ft, R4 30 in on: over by 18 in."""
        at = {"R1": "2 ft", "R3": "2 ft 8 in", "R2": "10 ft", "R4": "12 ft 6 in"}
        changes = placed(**{yoke: {"wall": "W", "position_in": where} for yoke, where in at.items()})
        ruling = stage("sc04", changes).rule("distance.controlled", "office")
        assert (ruling.outcome, figure(ruling, "space.worst_distance_unsplit_in")) == ("not satisfied", 30)
        changes["office/R4"]["position_in"] = "11 ft"
        assert stage("sc04", changes).word("distance.controlled", "office") == "satisfied"

    def test_across_the_room(self) -> None:
        """R2 and R4 are 18 in and 24 in apart each way, so 30 in; R1 and R3 5 in and 5 in, so a little over 7."""
        at = {"R1": (0, 0), "R3": (5, 5), "R2": (0, 120), "R4": (18, 144)}
        changes = placed(**{y: {"wall": "none", "x_in": f"{x} in", "y_in": f"{n} in"} for y, (x, n) in at.items()})
        ruling = stage("sc04", changes).rule("distance.controlled", "office")
        assert (ruling.outcome, figure(ruling, "space.worst_distance_unsplit_in")) == ("not satisfied", 30)
        changes["office/R4"] |= {"x_in": "5 in", "y_in": "125 in"}
        assert stage("sc04", changes).word("distance.controlled", "office") == "satisfied"

    def test_stated_and_computed_must_agree(self) -> None:
        """What is stated beside positions is checked against them."""
        at = {"R1": "2 ft", "R3": "2 ft 8 in", "R2": "10 ft", "R4": "12 ft 6 in"}
        changes = placed(**{yoke: {"wall": "W", "position_in": where} for yoke, where in at.items()})
        changes["office/R1/upper"] = {"nearest_controlled_in": "8 in"}
        assert stage("sc04", changes).word("distance.controlled", "office") == "not satisfied"
        changes["office/R1/upper"] = {"nearest_controlled_in": "9 in"}
        with pytest.raises(yokebook.InputFaults) as refused:
            staged = stage("sc04", changes)
            staged.code.rule_project(staged.graph, ["distance.controlled"])
        assert "`contact.nearest_controlled_in` is given as 9 in and comes out as 8 in" in str(refused.value)

    def test_without_positions_the_distance_is_asked(self) -> None:
        ruling = stage("sc04", placed()).rule("distance.controlled", "office")
        assert ruling.status == "cannot tell"
        assert {ask["fact"] for ask in ruling.ask} == {"contact.nearest_controlled_in"}
        assert {ask["look"] for ask in ruling.ask} == {"Measure along the wall, or take it from the plan."}

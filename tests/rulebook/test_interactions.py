"""Rulings that pull at each other: what settles one question unsettles the next. Ten of them, a class for each.

Each expected word comes from the clause or from the arithmetic that stands beside it, never from the tables.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

from scenarios.staging import (
    CITY,
    COUNTY,
    Changes,
    Staged,
    as_published,
    by_reading,
    figure,
    project_data,
    stage,
    stage_data,
)
from scenarios.test_sc01 import LOOKED_AT, WHOLE_LOOKED_AT, uncovered
from scenarios.test_sc04 import SPLIT_ALL
from scenarios.test_sc08 import in_a_school
from scenarios.test_sc10 import AT_SINK
from shipped_book import rulebook

#: Loads on a receptacle that a control switches off, and what is to be said of each, whatever the receptacle.
SAFETY = [
    ("life safety", "load.emergency", "not permitted"),
    ("medical", "load.always-on", "move to always-on"),
    ("vaccine storage", "load.always-on", "move to always-on"),
    ("refrigeration", "load.always-on", "move to always-on"),
]


def share(staged: Staged, space: str) -> tuple[str | None, list[Fraction]]:
    """Whether enough receptacles are controlled, and how many are counted, needed and controlled."""
    ruling = staged.rule("share.controlled", space)
    return ruling.outcome, [figure(ruling, f"space.share_{name}") for name in ("counted", "needed", "have")]


DESIGNATED: dict[str, Any] = {"designation": "continuous operation"}
#: The private office split throughout, one upper half on a second breaker.
TWO_BREAKERS: Changes = {**SPLIT_ALL, "office/R1/upper": {**SPLIT_ALL["office/R1/upper"], "circuit": "LP-4/6"}}
CONTINUOUS: Changes = {name: {"continuous": True} for name in ("plotter", "laminator", "network gear")}
RELAY: Changes = {"S": {"kind": "ceiling sensor and relay", "watts_w": None, "rated_volts": None, "amps": 20}}
UNSEEN: Changes = {
    "office/R3": {"hot_tab": None},
    **{f"office/R3/{half}": {"supply": None, "circuit": None} for half in ("upper", "lower")},
}
#: The living room as a bedroom whose switch is out in the hall.
IN_THE_HALL: Changes = {"S1": {"location": "other room", "listed": True}, "living": {"use": "bedroom"}}


class TestAnExemptionMovesBothSidesOfTheShare:
    """R20 and R18. The copy room of the City has three split duplexes: 6 receptacles, 3 of them controlled.

    By the City's code an exempt receptacle leaves the whole and the controlled part. Of 5 left, ceil(2.5) = 3 are
    needed; of 4 left, 2.
    """

    @pytest.mark.parametrize(
        ("designated", "outcome", "counted", "needed", "have"),
        [
            pytest.param([], "satisfied", 6, 3, 3, id="none"),
            pytest.param(["copy/A/lower"], "satisfied", 5, 3, 3, id="one that is always on"),
            pytest.param(["copy/A/upper"], "not satisfied", 5, 3, 2, id="one that is controlled"),
            pytest.param(["copy/A/upper", "copy/A/lower"], "satisfied", 4, 2, 2, id="one of each"),
        ],
    )
    def test_share(self, designated: list[str], outcome: str, counted: int, needed: int, have: int) -> None:
        staged = stage("sc06", dict.fromkeys(designated, DESIGNATED))
        assert share(staged, "copy") == (outcome, [counted, needed, have])


class TestASplitDeviceIsNearAndMayStillBeWrong:
    """R21 and R30. A controlled upper half is 0 in from its lower half, and a second breaker is a second source."""

    def staged(self, together: bool) -> Staged:
        data = project_data("sc04", TWO_BREAKERS)
        yoke = next(yoke for yoke in data["spaces"][0]["yokes"] if yoke["id"] == "R1")
        yoke["disconnects_together"] = together
        data["circuits"].append({**data["circuits"][0], "id": "LP-4/6"})
        return stage_data(data)

    def test_the_distance_is_met_and_the_disconnect_is_not(self) -> None:
        staged = self.staged(together=False)
        assert staged.word("distance.controlled", "office") == "satisfied"
        assert staged.word("yoke.disconnect", "office/R1") == "not satisfied"

    def test_a_tie_between_the_breakers_mends_it(self) -> None:
        assert self.staged(together=True).word("yoke.disconnect", "office/R1") == "satisfied"

    def test_a_yoke_on_one_breaker_has_no_such_trouble(self) -> None:
        assert self.staged(together=False).word("yoke.disconnect", "office/R2") == "does not apply"


class TestAWhollySwitchedDuplexLightsTheRoomAndBaresTheWall:
    """R15 and R17. The living room's duplex at 11 ft of a wall of 14 ft; the other one at 3 ft covers 0 to 9 ft.

    Either half on the switch stands in for the lighting outlet. What stands in counts no more toward the spacing, so
    with both halves on the switch 5 ft are bare, and with one the other half still covers them.
    """

    @pytest.mark.parametrize(
        ("place", "day"),
        [
            pytest.param(CITY, "2016-05-02", id="2014"),
            pytest.param(COUNTY, "2021-12-31", id="2017"),
            pytest.param(COUNTY, "2023-05-10", id="2020"),
            pytest.param(CITY, "2024-09-03", id="2023"),
        ],
    )
    @pytest.mark.parametrize(
        ("changes", "wall"),
        [
            pytest.param(LOOKED_AT, ("satisfied", False, 0), id="one half"),
            pytest.param(WHOLE_LOOKED_AT, ("not satisfied", True, 5), id="both halves"),
        ],
    )
    def test_both_at_once(self, changes: Changes, wall: tuple[str, bool, int], place: str, day: str) -> None:
        staged = stage("sc01", changes, place, day)
        assert staged.word("lighting.met", "living") == "satisfied"
        assert uncovered(staged) == wall

    def test_the_switch_then_has_two_receptacles(self) -> None:
        """R12 too: two receptacles, and a 15 A one may sit on a 20 A breaker."""
        ruling = stage("sc01", WHOLE_LOOKED_AT).rule("control.rating.cord-and-plug", "S1")
        assert by_reading(ruling) == {"actual breaker": "satisfied", "largest permitted breaker": "not satisfied"}


class TestABiggerRelayDoesNotShrinkTheLoad:
    """R12 and R37. 15.0 A of sensor on a 20 A breaker is too little, and a 20 A relay is enough.

    The loads are 1,440 + 600 + 150 W = 18.25 A at 120 V; all continuous they count 18.25 x 1.25 = 22.8125 A > 20 A.
    """

    @pytest.mark.parametrize(
        ("changes", "rating"),
        [
            pytest.param(CONTINUOUS, "not satisfied", id="sensor of 15 A"),
            pytest.param({**CONTINUOUS, **RELAY}, "satisfied", id="relay of 20 A"),
        ],
    )
    def test_the_circuit_stays_overloaded(self, changes: Changes, rating: str) -> None:
        staged = stage("sc06", changes)
        assert staged.word("control.rating.cord-and-plug", "S") == rating
        ruling = staged.rule("circuit.load", "LP-6/4")
        assert ruling.outcome == "not satisfied"
        assert figure(ruling, "circuit.breaker_needed") == Fraction("22.8125")


class TestAWiderDutyAndTheException:
    """R03 and R04. The City asks for the mark on whatever anything controls, and says what becomes of the exception.

    It keeps it for dwellings and for nothing else. Without the City's ordinance no hand switch asks for a mark.
    """

    DAY = "2024-09-03"

    @pytest.mark.parametrize(
        ("occupancy", "use", "required", "exception"),
        [
            ("dwelling", "living room", "not required", "excused"),
            ("guest room", "guest room", "required", "not available"),
        ],
    )
    def test_in_the_city(self, occupancy: str, use: str, required: str, exception: str) -> None:
        staged = stage("sc01", {"living": {"occupancy": occupancy, "use": use}}, CITY, self.DAY)
        assert staged.word("marking.required", "living/R2/upper") == required
        assert staged.word("marking.lighting-exception", "living/R2/upper") == exception

    def test_in_an_office(self) -> None:
        """A plotter on a hand switch: no lighting outlet is stood in for, so there is no exception to keep."""
        staged = stage("sc05", place=CITY, day="2024-10-01")
        assert staged.word("marking.required", "office/P/only") == "required"
        assert staged.word("marking.lighting-exception", "office/P/only") == "not available"

    @pytest.mark.parametrize(("occupancy", "use"), [("dwelling", "living room"), ("guest room", "guest room")])
    def test_without_the_ordinance(self, occupancy: str, use: str) -> None:
        staged = stage("sc01", {"living": {"occupancy": occupancy, "use": use}}, CITY, self.DAY)
        bare = as_published(staged, "nfpa-70", "2023")
        assert bare.word("marking.required", "living/R2/upper") == "not required"
        assert bare.word("marking.lighting-exception", "living/R2/upper") == "excused"


class TestGroundFaultAndASplitAreTwoDevices:
    """R43, R05 and R58. The break room's counter duplex, 3 ft from the sink, upper half on the sensor.

    Within 6 ft of a sink it is protected, and its upper half is marked. A device with the protection built in has no
    tab to break: the part is a marked duplex with tabs, and the protection sits in the breaker or upstream.
    """

    def staged(self, **built: Any) -> Staged:
        return stage("sc10", {**AT_SINK, "break/C1": {**AT_SINK["break/C1"], **built}})

    def test_both_are_asked_for(self) -> None:
        staged = self.staged()
        assert staged.word("protection.ground-fault", "break/C1") == "required"
        assert staged.marks()["break/C1"] == "upper"

    @pytest.mark.parametrize(
        ("built", "part", "protection"),
        [
            pytest.param(
                {"device_type": "GFCI duplex", "gfci": "this device", "gfci_in_reach": True},
                "change the design",
                "satisfied",
                id="in the device",
            ),
            pytest.param({"gfci": "this device", "gfci_in_reach": True}, "change the design", "satisfied", id="in it"),
            pytest.param({"gfci": "breaker", "gfci_in_reach": True}, "exists", "satisfied", id="in the breaker"),
            pytest.param({"gfci": "upstream device", "gfci_in_reach": True}, "exists", "satisfied", id="upstream"),
            pytest.param({"gfci": "none"}, "exists", "not satisfied", id="nowhere"),
        ],
    )
    def test_part_and_place(self, built: dict[str, Any], part: str, protection: str) -> None:
        staged = self.staged(**built)
        assert staged.word("yoke.part-exists", "break/C1") == part
        assert staged.word("protection.ground-fault.satisfied", "break/C1") == protection

    @pytest.mark.parametrize("form", ["GFCI duplex", "duplex"])
    def test_without_the_split_the_makers_are_asked(self, form: str) -> None:
        """Both halves on the sensor: no tab to break, and marked ones of this kind are rare."""
        lower = {"supply": "controlled", "controls": ["S"], "circuit": "LP-10/1"}
        built = {**AT_SINK["break/C1"], "device_type": form, "gfci": "this device"}
        staged = stage("sc10", {**AT_SINK, "break/C1": built, "break/C1/lower": lower})
        assert staged.word("yoke.part-exists", "break/C1") == "ask the maker"

    def test_what_the_schedule_orders_instead(self) -> None:
        lines = self.staged(device_type="GFCI duplex", gfci="this device").schedule("protection", "wiring")["lines"]
        (line,) = (each for each in lines if each["yoke"] == "break/C1")
        assert line["mark"]["halves"] == "upper"
        assert line["made"] == "no"
        assert line["instead"] == (
            "a duplex with break-off tabs, with the ground-fault protection in the breaker or in a device upstream"
        )


class TestASensorThatOneClauseWelcomesAndAnotherRefuses:
    """R16 and R11, 2020. It has a button and sits at the door; it is listed for permanently connected loads only."""

    def test_as_it_is_listed(self) -> None:
        staged = stage("sc02")
        assert staged.word("lighting.sensor", "S1") == "as the switch"
        ruling = staged.rule("control.permitted", "S1")
        assert (ruling.outcome, ruling.against) == ("not permitted", True)

    def test_the_room_is_lit_all_the_same(self) -> None:
        """R15: listed, on the wall at the entrance, worked by hand."""
        staged = stage("sc02", {"S1": {"listed": True}})
        assert staged.word("lighting.met", "living") == "satisfied"
        assert staged.word("control.permitted", "S1") == "not permitted"

    @pytest.mark.parametrize(
        ("edition", "permitted"),
        [
            ("2014", "permitted"),  # nothing yet on sensors
            ("2017", "permitted"),
            ("2020", "readings differ"),  # permanently connected loads, with no word on a listing for others
            ("2023", "permitted"),  # unless listed for other loads
        ],
    )
    def test_one_that_is_listed_for_receptacles(self, edition: str, permitted: str) -> None:
        """R16 welcomes it in every edition; only the words of 2020 leave R11 open."""
        listed = {"listed": True, "listed_for.receptacle_loads": True, "listed_for.permanently_connected_only": False}
        staged = as_published(stage("sc02", {"S1": listed}), "nfpa-70", edition)
        assert staged.word("lighting.sensor", "S1") == "as the switch"
        assert staged.word("control.permitted", "S1") == permitted

    def test_in_2020_it_is_welcome_and_refused_by_one_reading(self) -> None:
        listed = {"listed_for.receptacle_loads": True, "listed_for.permanently_connected_only": False}
        ruling = stage("sc02", {"S1": listed}).rule("control.permitted", "S1")
        assert by_reading(ruling) == {"permanently connected only": "not permitted", "listed for it": "permitted"}


class TestOutOfTheMarkingRuleAndStillDangerous:
    """R02 and R50 to R52. A locking or 250 V receptacle needs no mark, and what dies or starts on it does so all the
    same."""

    @pytest.mark.parametrize(("configuration", "scope"), [("5-20R", "in"), ("L5-20R", "out of"), ("6-20R", "out of")])
    @pytest.mark.parametrize(("load", "question", "outcome"), SAFETY)
    def test_safety(self, configuration: str, scope: str, load: str, question: str, outcome: str) -> None:
        code = rulebook().edition("nfpa-70", "2023")
        record = {
            "receptacle.configuration": configuration,
            "contact.supply": "controlled",
            "load.kind": load,
            "circuit.source": "normal",
            "space.occupancy": "office",
        }
        wanted = "in scope" if scope == "in" else "out of scope"
        assert code.rule("marking.scope", record).outcome == wanted
        ruling = code.rule(question, record)
        assert (ruling.outcome, ruling.against) == (outcome, True)

    @pytest.mark.parametrize("configuration", ["5-20R", "L5-20R", "6-20R"])
    def test_a_saw_that_starts_by_itself(self, configuration: str) -> None:
        """R52: a time clock brings the power back, and the saw runs."""
        record = {
            "receptacle.configuration": configuration,
            "contact.supply": "controlled",
            "control.kind": "time clock",
            "control.turns_on_by": "schedule",
            "load.kind": "motor tool",
            "load.machine": "woodworking",
            "load.restarts": True,
            "load.start_can_hurt": True,
            "space.occupancy": "industrial",
        }
        ruling = rulebook().edition("osha-1910", "2005").rule("machine.restart", record)
        assert (ruling.outcome, ruling.against) == ("hazard", True)


class TestAYokeThatNobodyHasLookedInto:
    """R03, R05, R08, R18 and R30. What feeds the halves hangs on the tab, and nobody has pulled the device.

    The sensor's wire goes to R3; whether it takes the upper half, the lower or both, and from which breaker the other
    one lives, shows only at the tab.
    """

    def test_marks_part_and_disconnect_cannot_be_told(self) -> None:
        staged = stage("sc04", UNSEEN)
        for half in ("upper", "lower"):
            assert staged.word("marking.required", f"office/R3/{half}") == "cannot tell"
            assert staged.word("ordinary.permitted", f"office/R3/{half}") == "cannot tell"
        assert staged.word("yoke.disconnect", "office/R3") == "cannot tell"

    def test_the_share_cannot_be_told_where_it_hangs_on_that_yoke(self) -> None:
        """R1 and R2 always on, R4 controlled: 2 of 8 at least and 4 at most; 4 are needed."""
        assert stage("sc04", UNSEEN).word("share.controlled", "office") == "cannot tell"

    def test_the_share_is_settled_where_it_does_not(self) -> None:
        """R1, R2 and R4 controlled throughout: 6 of 8 whatever feeds R3."""
        on: Changes = {
            f"office/{yoke}/{half}": {"supply": "controlled", "controls": ["S"], "nearest_controlled_in": None}
            for yoke in ("R1", "R2")
            for half in ("upper", "lower")
        }
        assert stage("sc04", {**UNSEEN, **on}).word("share.controlled", "office") == "satisfied"

    def test_each_says_what_to_look_at(self) -> None:
        ruling = stage("sc04", UNSEEN).rule("marking.required", "office/R3/upper")
        assert [ask["fact"] for ask in ruling.ask] == ["contact.supply"]


#: The break room with a coffee station and no cooking; W1 is 12 ft from its sink.
COFFEE: Changes = {**AT_SINK, "break": {**AT_SINK["break"], "has_vessel": False, "food_provisions": "drinks"}}


class TestTheSameFactsOnTwoDates:
    """R06, R07, R15, R41 and R43. Each date has its own edition, and both answers are lawful."""

    @staticmethod
    def governed_by(staged: Staged, question: str, subject: str) -> tuple[str, str | None]:
        """The edition that answered, and its word."""
        ruling = staged.rule(question, subject)
        assert ruling.document is not None
        return ruling.document["edition"], ruling.outcome

    def test_the_mark_in_the_city_in_2016(self) -> None:
        """2014: the symbol, at the outlet; whether the plate is the outlet is read both ways in print."""
        staged = stage("sc06", place=CITY, day="2016-05-02")
        assert staged.word("marking.form", "copy/A/upper") == "symbol"
        place = staged.rule("marking.place", "copy/A/upper")
        assert by_reading(place) == {"plate accepted": "outlet or plate", "receptacle itself": "face"}

    def test_the_mark_in_the_city_in_2022(self) -> None:
        """2020: symbol and word, on the face."""
        staged = stage("sc06", place=CITY, day="2022-05-02")
        assert staged.word("marking.form", "copy/A/upper") == "symbol and word"
        assert staged.word("marking.place", "copy/A/upper") == "face"

    @pytest.mark.parametrize(("day", "outcome"), [("2021-12-31", "satisfied"), ("2022-01-01", "not satisfied")])
    def test_a_switch_out_in_the_hall(self, day: str, outcome: str) -> None:
        """2017: a wall switch, wherever it is. 2020: a listed control on the wall near an entrance of the room."""
        assert stage("sc01", IN_THE_HALL, COUNTY, day).word("lighting.met", "living") == outcome

    @pytest.mark.parametrize(
        ("day", "answer"),
        [("2016-05-02", ("2014", "not required")), ("2022-05-02", ("2020", "required"))],
    )
    def test_a_classroom_of_small_children(self, day: str, answer: tuple[str, str]) -> None:
        """R41. 2014: dwellings, guest rooms, child care. From 2017: elementary schools too."""
        staged = stage("sc08", in_a_school("18 in"), CITY, day)
        assert self.governed_by(staged, "protection.tamper-resistant", "class/C1") == answer

    @pytest.mark.parametrize(
        ("day", "answer"),
        [("2024-06-30", ("2020", "not required")), ("2024-07-01", ("2023", "required"))],
    )
    def test_a_coffee_station(self, day: str, answer: tuple[str, str]) -> None:
        """R43. 2020: areas fitted out for food or cooking. 2023: for drinks too, at any distance from the sink."""
        assert self.governed_by(stage("sc10", COFFEE, CITY, day), "protection.ground-fault", "break/W1") == answer

"""The scenes' rooms with what the scenes leave out: dimmers, strips, replacements, tests, beds, machines.

Each expected word is the clause's, named beside it; the numbers are worked by hand.
"""

from __future__ import annotations

from typing import Any

import pytest

from scenarios.staging import CITY, COUNTY, Changes, Staged, as_published, figure, project_data, stage, stage_data
from scenarios.test_sc04 import SPLIT_ALL

REPLACED: Changes = {"project": {"work_kind": "replacement"}}


def ruled(staged: Staged, number: str, question: str, subject: str) -> tuple[str | None, bool]:
    """The outcome and whether it is against, of a ruling of this number."""
    ruling = staged.rule(question, subject)
    assert ruling.ruling == number
    return ruling.outcome, ruling.against


# ---- R14: the lamp of SC-01 on a dimmer -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("day", "listed", "keyed", "expected"),
    [
        pytest.param("2016-05-02", True, False, ("only a listed pair", True), id="2014, listed, ordinary plug"),
        pytest.param("2016-05-02", True, True, ("permitted", False), id="2014, listed, plug of its own"),
        pytest.param("2024-09-03", True, False, ("permitted", False), id="2023, listed, ordinary plug"),
        pytest.param("2016-05-02", False, True, ("not permitted", True), id="2014, for wired lights only"),
        pytest.param("2024-09-03", False, False, ("not permitted", True), id="2023, for wired lights only"),
    ],
)
def test_a_dimmer(day: str, listed: bool, keyed: bool, expected: tuple[str, bool]) -> None:
    """406.15 wanted a listed pair and was deleted in 2017; a dimmer that is not listed for receptacles never serves."""
    dimmer: Changes = {
        "S1": {"kind": "dimmer", "listed_for.receptacle_loads": listed},
        "living/R2": {"keyed_for_dimming": keyed},
    }
    assert ruled(stage("sc01", dimmer, CITY, day), "R14", "control.dimmer", "S1") == expected


# ---- R27, R28: the office of SC-04 ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("place", "strip", "word", "share", "counted"),
    [
        (COUNTY, "plug-in strip", "does not count", "not satisfied", [6, 3, 2]),
        (COUNTY, "hard-wired strip", "counts", "satisfied", [8, 4, 4]),
        (CITY, "plug-in strip", "counts", "satisfied", [8, 4, 4]),
    ],
)
def test_a_strip_in_place_of_r4(place: str, strip: str, word: str, share: str, counted: list[int]) -> None:
    """R27, R18: the County leaves plug-in devices out, so 2 of 6 are controlled and 3 needed; the City's code does not
    name them."""
    staged = stage("sc04", {"office/R4": {"device_type": strip}}, place)
    assert ruled(staged, "R27", "share.strips", "office/R4") == (word, False)
    ruling = staged.rule("share.controlled", "office")
    assert ruling.outcome == share
    assert [figure(ruling, f"space.share_{name}") for name in ("counted", "needed", "have")] == counted


@pytest.mark.parametrize(
    ("changes", "expected", "with_one"),
    [pytest.param({}, "for the inspector", 2, id="R3, R4 of four"), pytest.param(SPLIT_ALL, "spread", 4, id="each")],
)
def test_spread_through_the_room(changes: Changes, expected: str, with_one: int) -> None:
    """R28: two of four devices have a controlled receptacle; split throughout, each has. Evidence, never against."""
    staged = stage("sc04", changes)
    assert ruled(staged, "R28", "share.spread", "office") == (expected, False)
    ruling = staged.rule("share.spread", "office")
    shown = [figure(ruling, f"space.devices_{name}_control") for name in ("with", "without")]
    assert shown == [with_one, 4 - with_one]


def test_the_city_says_nothing_of_spread() -> None:
    assert stage("sc04", place=CITY).word("share.spread", "office") == "none in force"


# ---- R36: a shredder fastened in place on the copy room's circuit ---------------------------------------------------


@pytest.mark.parametrize(("va", "expected"), [("1200 VA", "satisfied"), ("1201 VA", "not satisfied")])
def test_fastened_in_place(va: str, expected: str) -> None:
    """R36: half of 20 A x 120 V = 2,400 VA is 1,200 VA, beside three duplexes."""
    data = project_data("sc06")
    shredder = {"id": "shredder", "kind": "other", "fastened": True, "va": va, "circuit": "LP-6/4", "wiring": "wired"}
    data["loads"].append(shredder)
    assert ruled(stage_data(data), "R36", "circuit.fixed-load", "LP-6/4") == (expected, expected == "not satisfied")


# ---- R42: the duplex of SC-01 on the house's outer wall -------------------------------------------------------------


@pytest.mark.parametrize(
    ("moisture", "cover"),
    [("wet", "in use, extra duty"), ("damp", "closed")],
)
def test_outdoors(moisture: str, cover: str) -> None:
    """R42, 406.9: weather-resistant in both; in the wet a cover that holds with a plug in, a hood of extra duty."""
    outdoors: Changes = {
        "living": {"use": "other", "place_kind": "outdoors", "required_lighting_outlet": "none required"},
        "living/R1": {"moisture": moisture, "weather_resistant": False, "cover": "ordinary"},
    }
    staged = stage("sc01", outdoors)
    assert ruled(staged, "R42", "protection.weather-resistant", "living/R1") == ("required", False)
    assert ruled(staged, "R42", "protection.weather-resistant.satisfied", "living/R1") == ("not satisfied", True)
    assert ruled(staged, "R42", "protection.weather-cover", "living/R1") == (cover, False)
    assert ruled(staged, "R42", "protection.weather-cover.satisfied", "living/R1") == ("not satisfied", True)


# ---- R47, R48: what goes back where a receptacle is replaced --------------------------------------------------------


@pytest.mark.parametrize(
    ("day", "still", "expected"),
    [
        ("2016-05-02", True, "as its control asks"),
        ("2022-05-02", True, "same again"),
        ("2022-05-02", False, "ordinary"),
        ("2024-10-15", True, "same again"),
        ("2024-10-15", False, "ordinary"),
    ],
)
def test_a_controlled_receptacle_is_replaced(day: str, still: bool, expected: str) -> None:
    """R47: no item of its own in 2014; 406.4(D)(7) from 2020."""
    old = {"replaces_controlled": True, "control_still_required": still}
    staged = stage("sc06", {**REPLACED, "copy/A": old}, CITY, day)
    assert ruled(staged, "R47", "replacement.device", "copy/A") == (expected, False)


def test_what_a_replacement_at_home_brings() -> None:
    """R48, 406.4(D): today's tamper-resistance and arc-fault protection, no weather or water; no ground in the box."""
    old: Changes = {
        **REPLACED,
        "living": {"place_kind": "inside", "has_sink": False, "has_tub": False},
        "living/R1": {
            "serves": "general",
            "height_in": "16 in",
            "ground_present": False,
            "grounding_impracticable": True,
            "moisture": "dry",
            "gfci": "none",
        },
    }
    staged = stage("sc01", old, CITY, "2024-09-03")
    found = {
        part: ruled(staged, "R48", f"protection.replacement.{part}", "living/R1")
        for part in ("tamper-resistant", "weather-resistant", "ground-fault", "arc-fault", "grounding")
    }
    assert found == {
        "tamper-resistant": ("required", False),
        "weather-resistant": ("not required", False),
        "ground-fault": ("not required", False),
        "arc-fault": ("required", False),
        "grounding": ("as ungrounded", False),
    }


@pytest.mark.parametrize(
    ("protected_by", "marked", "expected"),
    [("none", False, "not satisfied"), ("breaker", False, "not satisfied"), ("breaker", True, "satisfied")],
)
def test_a_grounding_receptacle_where_no_ground_is(protected_by: str, marked: bool, expected: str) -> None:
    """R48, 406.4(D)(2): only behind ground-fault protection, and marked."""
    old: Changes = {
        **REPLACED,
        "living/R1": {
            "ground_present": False,
            "grounding_impracticable": True,
            "gfci": protected_by,
            "no_ground_marked": marked,
        },
    }
    staged = stage("sc01", old, CITY, "2024-09-03")
    assert ruled(staged, "R48", "protection.replacement.grounding.satisfied", "living/R1")[0] == expected


# ---- R52: the plotter's receptacle feeds a saw ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("machine", "control", "expected"),
    [
        ("woodworking", "H", "hazard"),
        ("other machine", "S", "hazard"),
        ("other machine", "H", "judge the hazard"),
    ],
)
def test_a_machine_that_starts_by_itself(machine: str, control: str, expected: str) -> None:
    """R52: woodworking machines have to stay off, whatever brings the power back; others where the sensor does it by
    itself; with the hand switch the employer judges."""
    saw: Changes = {
        "office/P/only": {"controls": [control]},
        "plotter": {"kind": "motor tool", "restarts": True, "start_can_hurt": True, "machine": machine},
    }
    staged = as_published(stage("sc05", saw), "osha-1910", "2005")
    assert ruled(staged, "R52", "machine.restart", "office/P/only") == (expected, True)


# ---- R53: the classroom's duplex at a patient's bed -----------------------------------------------------------------

AT_A_BED: dict[str, Any] = {"patient_place": "general care", "isolated_ground": False}


@pytest.mark.parametrize(
    ("yoke", "grade", "expected"),
    [
        ("C1", False, ("not permitted", True)),
        ("C1", True, ("ask the authority", True)),
        ("R1", True, ("no collision", False)),
    ],
)
def test_at_a_bed(yoke: str, grade: bool, expected: tuple[str, bool]) -> None:
    """R53, 517.18: hospital grade; whether a sensor may be there is for the authority; R1 is always on."""
    data = project_data("sc08", {"class": {"occupancy": "health care", "use": "exam room"}})
    bed = next(each for each in data["spaces"][0]["yokes"] if each["id"] == yoke)
    bed.update(AT_A_BED, hospital_grade=grade)
    for half in bed["contacts"]:
        half["circuit"] = "LP-8/1"
    data["circuits"] = [{"id": "LP-8/1", "breaker_amps": 20, "volts": 120, "shared_neutral": False}]
    assert ruled(stage_data(data), "R53", "yoke.patient-care", f"class/{yoke}") == expected


# ---- R54, R59: the sensor of SC-04 ----------------------------------------------------------------------------------

SHARED = {"wiring_level": "low voltage", "low_voltage_shares": True, "low_voltage_barrier": False}


@pytest.mark.parametrize(
    ("wiring", "expected"),
    [
        pytest.param({"wiring_level": "low voltage", "low_voltage_shares": False}, "satisfied", id="apart"),
        pytest.param({**SHARED, "low_voltage_barrier": True}, "satisfied", id="barrier"),
        pytest.param({**SHARED, "power_same_equipment": False}, "barrier or reclassify", id="same box"),
        pytest.param(
            {**SHARED, "power_same_equipment": True, "low_voltage_gap_in": "1/4 in"}, "satisfied", id="1/4 in"
        ),
        pytest.param(
            {**SHARED, "power_same_equipment": True, "low_voltage_gap_in": "3/16 in"},
            "barrier or reclassify",
            id="3/16 in",
        ),
    ],
)
def test_sensor_wires(wiring: dict[str, Any], expected: str) -> None:
    """R54, 725.136: apart, behind a barrier, or 1/4 in from the power of the same relay."""
    staged = stage("sc04", {"S": wiring})
    assert ruled(staged, "R54", "control.low-voltage", "S") == (expected, expected != "satisfied")


@pytest.mark.parametrize(
    ("place", "test", "expected"),
    [
        pytest.param(COUNTY, {"function_test": "passed", "hold_on": False}, "satisfied", id="county"),
        pytest.param(COUNTY, {"function_test": "passed", "hold_on": True}, "not satisfied", id="county, held on"),
        pytest.param(COUNTY, {"function_test": "not done"}, "not satisfied", id="county, not done"),
        pytest.param(CITY, {"function_test": "passed", "hold_on": True}, "satisfied", id="city has no words on a hold"),
        pytest.param(CITY, {"function_test": "failed"}, "not satisfied", id="city, failed"),
    ],
)
def test_functional_test(place: str, test: dict[str, Any], expected: str) -> None:
    """R59: the County also wants the marks in view, and they are."""
    seen: Changes = {
        f"office/{yoke}/{half}": {"mark": "symbol and word", "mark_in_view": True}
        for yoke in ("R3", "R4")
        for half in ("upper", "lower")
    }
    staged = stage("sc04", {**seen, "S": test}, place)
    assert ruled(staged, "R59", "control.function-test", "S") == (expected, expected == "not satisfied")


def test_functional_test_with_a_mark_behind_the_desk() -> None:
    """R59: one of four marks that cannot be seen is enough in the County."""
    hidden: Changes = {
        f"office/{yoke}/{half}": {"mark": "symbol and word", "mark_in_view": (yoke, half) != ("R4", "lower")}
        for yoke in ("R3", "R4")
        for half in ("upper", "lower")
    }
    staged = stage("sc04", {**hidden, "S": {"function_test": "passed", "hold_on": False}})
    assert ruled(staged, "R59", "control.function-test", "S") == ("not satisfied", True)

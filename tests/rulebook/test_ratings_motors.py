"""Motors: the whole of Table 430.248, horsepower marks, and what a control may feed at all.

Table 430.248 (single-phase full-load amperes) is typed from the 2013 California Electrical Code (California Code of
Regulations, Title 24, Part 3, which follows the 2011 edition); 1 hp at 115 V is 16 A also at
https://www.diychatroom.com/threads/sizing-motor-branch-circuit-conductors-and-ocpds.108486/.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from functools import cache

import pytest

from shipped_book import rulebook
from yokebook import Code, Ruling

YES, NO, NONE = "satisfied", "not satisfied", "does not apply"
Record = dict[str, object]
BEHIND: Record = {
    "contact.supply": "controlled",
    "control.contacts.complete": True,
    "control.wired_loads.complete": True,
}

TABLE = """
1/6    4.4  2.5  2.4  2.2
1/4    5.8  3.3  3.2  2.9
1/3    7.2  4.1  4.0  3.6
1/2    9.8  5.6  5.4  4.9
3/4    13.8 7.9  7.6  6.9
1      16   9.2  8.8  8.0
1_1/2  20   11.5 11.0 10
2      24   13.8 13.2 12
3      34   19.6 18.7 17
5      56   32.2 30.8 28
7_1/2  80   46.0 44.0 40
10     100  57.5 55.0 50
"""
ROWS = [
    (hp.replace("_", " "), dict(zip((115, 200, 208, 230), amps, strict=True)))
    for hp, *amps in map(str.split, TABLE.split("\n")[1:-1])
]
SYSTEM_VOLTS = {110: 115, 120: 115, 220: 230, 240: 230}


@cache
def edition(name: str) -> Code:
    return rulebook().edition("nfpa-70", name)


def rule(name: str, question: str, record: Mapping[str, object]) -> Ruling:
    return edition(name).rule(question, record)


def on_snap_switch(amps: str, hp: str, volts: int) -> Record:
    return {
        **BEHIND, "control.kind": "snap switch", "control.horsepower_marked": False, "control.amps": amps,
        "load.kind": "motor tool", "load.motor_hp": f"{hp} hp", "load.volts": volts,
    }  # fmt: skip


def table_amps(ruling: Ruling) -> Fraction:
    return next(Fraction(f["exact"]) for f in ruling.figures if f["calculation"] == "control.motor_amps")


@pytest.mark.parametrize(("hp", "row"), ROWS, ids=[hp for hp, _ in ROWS])
def test_full_load_amperes(hp: str, row: dict[int, str]) -> None:
    for volts, amps in row.items():
        assert table_amps(rule("2020", "control.horsepower", on_snap_switch("1 A", hp, volts))) == Fraction(amps)
    for volts, column in SYSTEM_VOLTS.items():
        found = table_amps(rule("2020", "control.horsepower", on_snap_switch("1 A", hp, volts)))
        assert found == Fraction(row[column])


@pytest.mark.parametrize(
    ("hp", "volts", "amps", "expected"),
    [
        # 80 % of the switch's rating: 12 A of 15, 16 A of 20; 9.8 / 0.8 = 12.25
        ("1/2", 115, "12.25 A", YES), ("1/2", 115, "12.24 A", NO), ("1/2", 115, "15 A", YES), ("3/4", 115, "15 A", NO),
        ("3/4", 115, "17.25 A", YES), ("1", 115, "20 A", YES), ("1", 115, "19.9 A", NO), ("1 1/2", 115, "20 A", NO),
        ("2", 230, "15 A", YES), ("2", 208, "15 A", NO),
        # above 2 hp the rating in amperes does not do, however large; 5/8 hp is not in the table
        ("3", 230, "60 A", NO), ("5/8", 115, "20 A", NO), ("1/2", 277, "20 A", NO),
    ],
)  # fmt: skip
@pytest.mark.parametrize("name", ["2014", "2017", "2020", "2023"])
def test_snap_switch_without_a_mark(name: str, hp: str, volts: int, amps: str, expected: str) -> None:
    assert rule(name, "control.horsepower", on_snap_switch(amps, hp, volts)).word == expected


@pytest.mark.parametrize("kind", ["snap switch", "three-way switch", "relay or contactor"])
@pytest.mark.parametrize("name", ["2014", "2017", "2020", "2023"])
def test_a_mark_is_a_limit_whatever_the_amperes_would_allow(name: str, kind: str) -> None:
    """3/4 hp at 115 V is 13.8 A by the table, within 16 A of a 20 A switch, and more than the 1/2 hp marked on it."""
    record: Record = {
        **BEHIND, "control.kind": kind, "control.amps": 20, "control.horsepower_marked_hp": "1/2 hp",
        "load.kind": "motor tool", "load.motor_hp": "3/4 hp", "load.volts": 115,
    }  # fmt: skip
    ruling = rule(name, "control.horsepower", record)
    assert ruling.word == NO
    assert "3/4 hp > 1/2 hp by 1/4 hp" in {f["steps"] for f in ruling.figures}


@pytest.mark.parametrize(("mark", "hp", "expected"), [("1/2", "1/2", YES), ("1/2", "3/4", NO), ("1", "3/4", YES)])
def test_control_marked_in_horsepower(mark: str, hp: str, expected: str) -> None:
    record: Record = {
        **BEHIND, "control.kind": "wall-box sensor", "control.horsepower_marked_hp": f"{mark} hp",
        "load.kind": "motor tool", "load.motor_hp": f"{hp} hp",
    }  # fmt: skip
    assert rule("2020", "control.horsepower", record).word == expected
    assert rule("2020", "control.horsepower", {**BEHIND, "load.kind": "lamp"}).word == NONE


@pytest.mark.parametrize("name", ["2014", "2017", "2020", "2023"])
@pytest.mark.parametrize(
    ("mark", "hp", "expected"), [("1/2", "1/3", YES), ("1/2", "1/2", YES), ("1/2", "3/4", NO), ("1", "3/4", YES)]
)
def test_receptacle_marked_in_horsepower(name: str, mark: str, hp: str, expected: str) -> None:
    record: Record = {
        "receptacle.configuration": "5-20R", "receptacle.horsepower_marked_hp": f"{mark} hp", "load.kind": "motor tool",
        "load.motor_hp": f"{hp} hp",
    }  # fmt: skip
    ruling = rule(name, "receptacle.horsepower", record)
    assert ruling.word == expected
    # where the machine has a disconnect of its own some hold that the mark does not matter
    assert [h["outcomes"] for h in ruling.also_held] == ([[NONE]] if expected == NO else [])
    disconnected = rule(name, "receptacle.horsepower", {**record, "load.own_disconnect": False})
    assert (disconnected.word, disconnected.also_held) == (expected, [])


@pytest.mark.parametrize(
    ("hp", "fastened", "expected"),
    [("1/4", False, NONE), ("1/3", False, NONE), ("1/2", False, "not marked"), ("1/3", True, "not marked")],
)
def test_receptacle_without_a_mark(hp: str, fastened: bool, expected: str) -> None:
    record: Record = {
        "receptacle.horsepower_marked": False, "load.kind": "motor tool", "load.motor_hp": f"{hp} hp",
        "load.fastened": fastened,
    }  # fmt: skip
    assert rule("2020", "receptacle.horsepower", record).word == expected
    assert rule("2020", "receptacle.horsepower", {"load.kind": "cooking"}).word == NONE


# ---- may it feed a receptacle at all ----

#: Electronic control switches: the clause of 2020 names timing switches and sensors as examples and is no closed list.
ELECTRONIC = (
    "wall-box sensor", "count-down timer", "program timer", "time clock", "card switch", "photo control", "load-sensing"
)  # fmt: skip
OTHERS = ("snap switch", "three-way switch", "ceiling sensor and relay", "relay or contactor")


@pytest.mark.parametrize("kind", ELECTRONIC)
def test_electronic_control_switches_by_edition(kind: str) -> None:
    def words(listed: bool | None) -> list[str]:
        record: Record = {
            "contact.supply": "controlled",
            "control.kind": kind,
            "control.listed_for.receptacle_loads": listed,
        }
        return [rule(name, "control.permitted", record).word for name in ("2014", "2017", "2020", "2023")]

    # to 2017 404.14 does not speak of them, and 110.3(B) forbids only one that is listed for wired loads alone
    assert words(True) == ["permitted", "permitted", "readings differ", "permitted"]
    assert words(False) == ["cannot tell", "cannot tell", "not permitted", "not permitted"]
    assert words(None) == ["cannot tell", "cannot tell", "cannot tell", "cannot tell"]


@pytest.mark.parametrize("kind", OTHERS)
@pytest.mark.parametrize("name", ["2014", "2017", "2020", "2023"])
def test_other_controls_go_by_their_listing(name: str, kind: str) -> None:
    """404.14 restricts none of them; 110.3(B): a device listed for permanently connected loads only is used so. An
    ordinary switch is not asked about."""
    record: Record = {"contact.supply": "controlled", "control.kind": kind}
    ruling = rule(name, "control.permitted", record)
    if kind in ("snap switch", "three-way switch"):
        assert (ruling.word, ruling.ask) == ("permitted", [])
        return
    listing = "control.listed_for.permanently_connected_only"
    assert (ruling.word, [ask["fact"] for ask in ruling.ask]) == ("cannot tell", [listing])
    assert rule(name, "control.permitted", {**record, listing: False}).word == "permitted"
    forbidden = rule(name, "control.permitted", {**record, listing: True})
    assert (forbidden.word, forbidden.standing[0]["cite"]["section"]) == ("not permitted", "110.3(B)")
    assert rule(name, "control.permitted", {**record, "control.listed_for.receptacle_loads": True}).word == "permitted"


def test_listed_for_permanent_loads_only_is_not_listed_for_receptacles() -> None:
    record: Record = {
        "contact.supply": "controlled", "control.kind": "wall-box sensor",
        "control.listed_for.permanently_connected_only": True,
    }  # fmt: skip
    assert rule("2020", "control.permitted", record).word == "not permitted"
    both = {**record, "control.listed_for.receptacle_loads": True}
    assert rule("2020", "control.permitted", both).status == "impossible"


def test_dimmers() -> None:
    lamp: Record = {**BEHIND, "control.kind": "dimmer", "load.kind": "lamp"}
    listed: Record = {**lamp, "control.listed_for.receptacle_loads": True}
    for name in ("2014", "2017", "2020", "2023"):
        unlisted = {**lamp, "control.listed_for.receptacle_loads": False}
        assert rule(name, "control.permitted", unlisted).word == "not permitted"
    ordinary = rule("2014", "control.permitted", {**listed, "receptacle.keyed_for_dimming": False})
    assert (ordinary.word, ordinary.standing[0]["cite"]["section"]) == ("not permitted", "406.15")
    assert rule("2014", "control.permitted", {**listed, "receptacle.keyed_for_dimming": True}).word == "permitted"
    assert rule("2017", "control.permitted", {**listed, "receptacle.keyed_for_dimming": False}).word == "permitted"

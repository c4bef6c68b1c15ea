"""The energy codes' limits: below, at and above each number. What is expected is what the section says of the number.

Sources: Washington, WAC 51-11C-40510 (https://apps.leg.wa.gov/wac/default.aspx?cite=51-11C-40510); the District of
Columbia, D.C. Mun. Regs. tit. 12, 12-I8.4; the two demonstration codes are invented and their text is the rulebook's.
"""

from __future__ import annotations

from math import ceil
from typing import Any

import pytest

import yokebook
from shipped_book import rulebook

SATISFIED, NOT, NONE = "satisfied", "not satisfied", "does not apply"
WA, DC = ("wa-energy", "2018"), ("dc-energy", "2017")
TC, BF = ("tamarisk-energy", "2022"), ("brindle-falls-energy", "2021")
SCHEDULE = {"control.turns_off_by": "schedule", "control.serves_listed_space": True}


@pytest.fixture(scope="module")
def book() -> yokebook.Rulebook:
    return rulebook()


def outcome(book: yokebook.Rulebook, code: tuple[str, str], question: str, record: dict[str, Any]) -> str | None:
    return book.edition(*code).rule(question, record).outcome


def figure(ruling: yokebook.Ruling, calculation: str) -> str:
    return str(next(f["exact"] for f in ruling.figures if f["calculation"] == calculation))


# Washington names private and open offices, conference and print or copy rooms, break rooms, workstations, classrooms;
# the District of Columbia names the same without open offices. A-set and B-set of the invented codes likewise.
NAMED_EVERYWHERE = [
    "private office", "conference", "print-copy", "break room", "classroom", "computer classroom", "workstation",
]  # fmt: skip
NAMED_NOWHERE = [
    "living room", "bedroom", "home office", "kitchen", "bathroom", "laundry", "hallway", "lobby", "guest room",
    "exam room", "workshop", "corridor", "storage", "other",
]  # fmt: skip


@pytest.mark.parametrize("code", [WA, DC, TC, BF])
def test_rooms_on_the_list(book: yokebook.Rulebook, code: tuple[str, str]) -> None:
    for use in NAMED_EVERYWHERE:
        record = {"space.use": use, "space.shutoff_endangers": False}
        assert outcome(book, code, "share.listed", record) == "listed", use
    for use in NAMED_NOWHERE:
        assert outcome(book, code, "share.listed", {"space.use": use}) == "not listed", use


@pytest.mark.parametrize(
    ("code", "expected"),
    [(WA, "listed"), (BF, "listed"), (DC, "listed by its workstations"), (TC, "listed by its workstations")],
)
def test_open_office(book: yokebook.Rulebook, code: tuple[str, str], expected: str) -> None:
    record = {"space.use": "open office", "space.shutoff_endangers": False}
    assert outcome(book, code, "share.listed", record) == expected


# D.C.'s second exception is of spaces, as that of the standard it amends; the three others excuse receptacles only.
@pytest.mark.parametrize(("code", "expected"), [(WA, "listed"), (DC, "not listed"), (TC, "listed"), (BF, "listed")])
def test_a_room_that_switching_off_would_endanger(
    book: yokebook.Rulebook, code: tuple[str, str], expected: str
) -> None:
    record = {"space.use": "conference", "space.shutoff_endangers": True}
    assert outcome(book, code, "share.listed", record) == expected


def test_every_use_is_in_one_of_the_lists_above(book: yokebook.Rulebook) -> None:
    uses = set(book.book.facts["space.use"].values)
    assert uses == {*NAMED_EVERYWHERE, *NAMED_NOWHERE, "open office"}


# Nothing else of the room is controlled and nothing is excused, so that what lacks could be controlled.
NOTHING_EXCUSED = {"space.share_rest_controlled": False}


# "At least 50 percent": ceil(N / 2). One receptacle needs 1, three need 2, five need 3; two of five is 40 % and fails.
@pytest.mark.parametrize("code", [WA, TC, BF])
@pytest.mark.parametrize("counted", range(1, 11))
def test_share(book: yokebook.Rulebook, code: tuple[str, str], counted: int) -> None:
    needed = ceil(counted / 2)
    for have in (needed - 1, needed, counted):
        record = {"space.use": "classroom", "space.share_counted": counted, "space.share_have": have, **NOTHING_EXCUSED}
        ruling = book.edition(*code).rule("share.controlled", record)
        assert ruling.outcome == (SATISFIED if have * 2 >= counted else NOT), (counted, have)
        assert figure(ruling, "space.share_needed") == str(needed)


# D.C.: half of the duplexes in these rooms; one at the desk in a private office or workstation, whatever the others do.
@pytest.mark.parametrize("use", ["conference", "print-copy", "break room", "classroom"])
@pytest.mark.parametrize(("duplexes", "needed"), [(2, 1), (4, 2), (5, 3), (6, 3)])
def test_share_of_duplexes(book: yokebook.Rulebook, use: str, duplexes: int, needed: int) -> None:
    for have in (needed - 1, needed):
        record = {
            "space.use": use, "space.shutoff_endangers": False, "space.duplexes_counted": duplexes,
            "space.duplexes_have": have, "space.duplexes_rest_controlled": False,
        }  # fmt: skip
        expected = SATISFIED if have == needed else NOT
        assert outcome(book, DC, "share.controlled", record) == expected


@pytest.mark.parametrize("use", ["private office", "workstation"])
def test_one_duplex_at_the_desk(book: yokebook.Rulebook, use: str) -> None:
    for at_desk, expected in ((0, NOT), (1, SATISFIED), (2, SATISFIED)):
        record = {"space.use": use, "space.shutoff_endangers": False, "space.desk_duplexes": at_desk}
        assert outcome(book, DC, "share.controlled", record) == expected


def test_a_room_off_the_list_needs_no_count(book: yokebook.Rulebook) -> None:
    for code in (WA, DC, TC, BF):
        ruling = book.edition(*code).rule("share.controlled", {"space.use": "lobby"})
        assert (ruling.outcome, ruling.ask) == (NONE, [])


# Washington and the City: only rooms larger than 200 sq ft, 72 in. The County: 12 in, whatever the room's size.
@pytest.mark.parametrize("code", [WA, BF])
@pytest.mark.parametrize(
    ("area", "inches", "expected"),
    [(199, 500, NONE), (200, 73, NONE), (201, 71, SATISFIED), (201, 72, SATISFIED), (201, 73, NOT), (900, 78, NOT)],
)
def test_distance(book: yokebook.Rulebook, code: tuple[str, str], area: int, inches: int, expected: str) -> None:
    record = {"space.use": "classroom", "space.area_sq_ft": area, "space.worst_distance_in": inches}
    assert outcome(book, code, "distance.controlled", record) == expected


def test_distance_in_a_small_room_asks_for_none(book: yokebook.Rulebook) -> None:
    ruling = book.edition(*WA).rule("distance.controlled", {"space.use": "private office", "space.area_sq_ft": 150})
    assert (ruling.outcome, ruling.ask) == (NONE, [])


@pytest.mark.parametrize(("inches", "expected"), [(11, SATISFIED), (12, SATISFIED), (13, NOT), (30, NOT)])
def test_distance_in_the_county(book: yokebook.Rulebook, inches: int, expected: str) -> None:
    record = {"space.use": "private office", "space.worst_distance_unsplit_in": inches}
    assert outcome(book, TC, "distance.controlled", record) == expected


# 20 min in all four; by a signal as well in D.C. and the County. Washington names no signal.
@pytest.mark.parametrize("code", [WA, DC, TC, BF])
@pytest.mark.parametrize(("minutes", "expected"), [(19, SATISFIED), (20, SATISFIED), (21, NOT), (30, NOT)])
def test_off_delay(book: yokebook.Rulebook, code: tuple[str, str], minutes: int, expected: str) -> None:
    record = {"control.serves_listed_space": True, "control.turns_off_by": "presence", "control.off_delay_min": minutes}
    assert outcome(book, code, "control.off-delay", record) == expected
    by_signal = {**record, "control.turns_off_by": "signal"}
    assert outcome(book, code, "control.off-delay", by_signal) == (expected if code in (DC, TC) else NONE)


@pytest.mark.parametrize("question", ["control.off-delay", "control.schedule-zone", "control.override"])
@pytest.mark.parametrize("code", [WA, DC, TC, BF])
def test_a_hand_switch_has_no_delay_zone_or_override(
    book: yokebook.Rulebook, code: tuple[str, str], question: str
) -> None:
    ruling = book.edition(*code).rule(question, {"control.turns_off_by": "person"})
    assert (ruling.outcome, ruling.ask) == (NONE, [])


METHODS = {WA: {"presence", "schedule"}, BF: {"presence", "schedule"}}
WITH_SIGNAL = {"presence", "schedule", "signal"}


@pytest.mark.parametrize("code", [WA, DC, TC, BF])
def test_methods(book: yokebook.Rulebook, code: tuple[str, str]) -> None:
    for how in book.book.facts["control.turns_off_by"].values:
        expected = "accepted" if how in METHODS.get(code, WITH_SIGNAL) else "not accepted"
        assert outcome(book, code, "control.method", {"control.turns_off_by": how}) == expected, how


# One schedule: 5,000 sq ft and one floor. 5,001 sq ft needs 2, 12,000 needs 3; two floors of 2,000 sq ft each need 2.
@pytest.mark.parametrize("code", [WA, DC, TC, BF])
@pytest.mark.parametrize(
    ("area", "floors", "by_area", "by_floors"),
    [
        (4999, 1, 1, 1),
        (5000, 1, 1, 1),
        (5001, 1, 2, 1),
        (6400, 1, 2, 1),
        (10000, 1, 2, 1),
        (12000, 1, 3, 1),
        (4000, 2, 1, 2),
    ],
)
def test_schedule_zone(
    book: yokebook.Rulebook, code: tuple[str, str], area: int, floors: int, by_area: int, by_floors: int
) -> None:
    record = {**SCHEDULE, "control.schedule_area_sq_ft": area, "control.schedule_floors": floors}
    ruling = book.edition(*code).rule("control.schedule-zone", {**record, "control.schedule_by_weekday": True})
    assert ruling.outcome == (SATISFIED if area <= 5000 and floors == 1 else NOT)
    if by_area > 1 or ruling.outcome == SATISFIED:
        assert figure(ruling, "control.zones_by_area") == str(by_area)
    if by_floors > 1 or ruling.outcome == SATISFIED:
        assert figure(ruling, "control.zones_by_floors") == str(by_floors)


# "can be programmed separately for each day of the week" stands in Washington's text and not in the others.
@pytest.mark.parametrize(("code", "expected"), [(WA, NOT), (DC, SATISFIED), (TC, SATISFIED), (BF, SATISFIED)])
def test_weekdays(book: yokebook.Rulebook, code: tuple[str, str], expected: str) -> None:
    record = {**SCHEDULE, "control.schedule_area_sq_ft": 3000, "control.schedule_floors": 1}
    assert outcome(book, code, "control.schedule-zone", {**record, "control.schedule_by_weekday": False}) == expected


# 2 h; in Washington there has to be an override, and one switch serves at most 5,000 sq ft.
@pytest.mark.parametrize("code", [WA, DC, TC, BF])
@pytest.mark.parametrize(("minutes", "expected"), [(119, SATISFIED), (120, SATISFIED), (121, NOT), (240, NOT)])
def test_override(book: yokebook.Rulebook, code: tuple[str, str], minutes: int, expected: str) -> None:
    record = {**SCHEDULE, "control.override_max_min": minutes, "control.override_area_sq_ft": 5000}
    assert outcome(book, code, "control.override", record) == expected


@pytest.mark.parametrize(("minutes", "area", "expected"), [(60, 5000, SATISFIED), (60, 5001, NOT), (0, 5000, NOT)])
def test_override_in_washington(book: yokebook.Rulebook, minutes: int, area: int, expected: str) -> None:
    record = {**SCHEDULE, "control.override_max_min": minutes, "control.override_area_sq_ft": area}
    assert outcome(book, WA, "control.override", record) == expected


# Washington and the City excuse building maintenance; D.C. and the County do not.
@pytest.mark.parametrize("code", [WA, DC, TC, BF])
def test_exempt(book: yokebook.Rulebook, code: tuple[str, str]) -> None:
    expected = {
        "none": "not exempt",
        "continuous operation": "exempt",
        "safety or security": "exempt",
        "building maintenance": "exempt" if code in (WA, BF) else "not exempt",
    }
    for designation, word in expected.items():
        assert outcome(book, code, "share.exempt", {"contact.designation": designation}) == word


# Only 125 V, 15 and 20 A; D.C. counts duplexes of them; plug-in devices do not count in D.C. and the County, nor in
# Washington as far as they are not installed; the City makes no exception for them.
@pytest.mark.parametrize(
    ("configuration", "counts"),
    [
        ("1-15R", True),
        ("5-15R", True),
        ("5-20R", True),
        ("L5-20R", True),
        ("5-30R", False),
        ("6-20R", False),
        ("14-20R", False),
    ],
)
@pytest.mark.parametrize("code", [WA, DC, TC, BF])
def test_what_counts(book: yokebook.Rulebook, code: tuple[str, str], configuration: str, counts: bool) -> None:
    record = {"receptacle.configuration": configuration, "contact.designation": "none"}
    record["receptacle.device_type"] = "duplex"
    assert outcome(book, code, "share.counts", record) == ("counts" if counts else "left out")


@pytest.mark.parametrize(
    ("device", "left_out_in"),
    [("single", {DC}), ("GFCI duplex", set[tuple[str, str]]()), ("quad", {DC}), ("plug-in strip", {WA, DC, TC})],
)
def test_which_devices_count(book: yokebook.Rulebook, device: str, left_out_in: set[tuple[str, str]]) -> None:
    record = {"receptacle.configuration": "5-20R", "contact.designation": "none", "receptacle.device_type": device}
    for code in (WA, DC, TC, BF):
        expected = "left out" if code in left_out_in else "counts"
        assert outcome(book, code, "share.counts", record) == expected, code


# 25 percent of the circuits, rounded up: 1 of 1, 1 of 4, 2 of 5, 2 of 8, 3 of 9. D.C.: at each base feed, at least one.
@pytest.mark.parametrize("code", [DC, TC])
@pytest.mark.parametrize(("feeders", "needed"), [(1, 1), (3, 1), (4, 1), (5, 2), (8, 2), (9, 3)])
def test_furniture_feeders(book: yokebook.Rulebook, code: tuple[str, str], feeders: int, needed: int) -> None:
    record = {"space.use": "workstation", "space.furniture_feeders": feeders, "space.furniture_on_documents": False}
    for have in (needed - 1, needed):
        ruling = book.edition(*code).rule("furniture.feeders", {**record, "space.furniture_feeders_controlled": have})
        assert ruling.outcome == (SATISFIED if have == needed else NOT), have


def test_furniture_on_the_drawings_in_the_county(book: yokebook.Rulebook) -> None:
    record = {"space.use": "workstation", "space.furniture_feeders": 8, "space.furniture_on_documents": True}
    assert outcome(book, TC, "furniture.feeders", record) == NONE


# Washington and the City: visibly different. The County: a permanent mark. D.C.: permanent and visibly different.
@pytest.mark.parametrize(
    ("facts", "satisfied_in"),
    [
        ({"contact.mark": "none", "contact.differs_otherwise": False}, set[tuple[str, str]]()),
        ({"contact.mark": "none", "contact.differs_otherwise": True}, {WA, BF, DC}),
        ({"contact.mark": "word", "contact.mark_place": "plate", "contact.mark_permanent": True}, {WA, BF, TC, DC}),
        ({"contact.mark": "symbol", "contact.mark_place": "face", "contact.mark_permanent": False}, {WA, BF}),
        ({"contact.mark": "symbol", "contact.mark_place": "elsewhere", "contact.mark_permanent": True}, {TC}),
    ],
)
def test_marks(book: yokebook.Rulebook, facts: dict[str, Any], satisfied_in: set[tuple[str, str]]) -> None:
    record = {
        "space.use": "private office", "space.shutoff_endangers": False, "receptacle.configuration": "5-20R",
        "receptacle.device_type": "duplex", "contact.designation": "none", "contact.controlled_for_energy": True,
        "contact.differs_otherwise": False, **facts,
    }  # fmt: skip
    for code in (WA, DC, TC, BF):
        expected = SATISFIED if code in satisfied_in else NOT
        assert outcome(book, code, "share.marked", record) == expected, code


def test_no_guest_room_rule_before_the_ordinance(book: yokebook.Rulebook) -> None:
    assert outcome(book, BF, "guest-room.controlled", {"space.use": "guest room"}) == NONE

"""What the energy codes leave to a choice, document by document: the unit that is counted, rounding, whether the share
is taken of each room or of all together, and whether what is excused stays in the count.

What fixes each choice is in the table below, from the sections; the rest are readings. Shares are worked by hand: half
of 5 is 2.5, so 3.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any, NamedTuple

import pytest

import yokebook
from shipped_book import rulebook
from yokebook import front_door

BOOK = rulebook()
UNIT, POOL, EXEMPT, HALF = "share-counting-unit", "share-taken-over", "exempt-in-count", "split-duplex"
SATISFIED, NOT = "satisfied", "not satisfied"


class Choices(NamedTuple):
    """Readings that the ruling on the share goes by, and a figure whose step shows the rounding (None: no share)."""

    readings: set[str]
    rounded: str | None
    unit: str = ""
    rooms: str = ""
    exempt: str = ""


OPEN = Choices(
    {UNIT, POOL, EXEMPT},
    "space.share_needed",
    unit="reading: the section says receptacles and defines none",
    rooms="reading: half of all in the spaces named, with no word on each",
    exempt="reading: need not be controlled, and no word on the count",
)
CHOICES: dict[tuple[str, str], Choices] = {
    **{("ashrae-90.1", edition): OPEN for edition in ("2010", "2013", "2016", "2019", "2022")},
    **{("iecc", edition): OPEN for edition in ("2021", "2024")},
    ("iecc", "2018"): Choices(set(), None, "no rule", "no rule", "no rule"),
    ("wa-energy", "2018"): OPEN,
    ("dc-energy", "2017"): Choices(
        {POOL, EXEMPT, HALF},
        "space.duplexes_needed",
        unit="fixed by the section: duplex receptacles; reading: whether one half makes it controlled",
        rooms="reading; at the desk fixed by the section: in each private office and workstation",
        exempt="reading",
    ),
    **{
        ("ca-energy", edition): Choices(
            set(),
            None,
            unit="fixed by the section: each half of a split device is a receptacle",
            rooms="fixed by the section: a controlled one in each room, half in each guest room",
            exempt="no share but in guest rooms, where it is of the receptacles of the room",
        )
        for edition in ("2013", "2016", "2019", "2022", "2025")
    },
    ("tamarisk-energy", "2022"): Choices(
        {UNIT},
        "space.share_needed",
        unit="reading, chosen by the County's direction",
        rooms="fixed by section 2: taken room by room",
        exempt="fixed by section 7: they leave the whole and the controlled part",
    ),
    ("brindle-falls-energy", "2021"): Choices(
        {UNIT},
        "space.share_needed",
        unit="reading, chosen by the City's ordinance of 2024",
        rooms="fixed by section 102: taken room by room",
        exempt="fixed by section 106: they leave the whole and the controlled part",
    ),
}
SHARES = [code for code, choices in CHOICES.items() if choices.rounded is not None]

Rooms = Mapping[str, list[dict[str, Any]]]
SENSOR = {"id": "S", "kind": "wall-box sensor", "turns_off_by": "presence", "off_delay_min": "20 min"}
ROOMS = {("ashrae-90.1", "2010"): "private office"}  # the 2010 edition names no conference rooms


def duplex(name: str, *controlled: bool, designation: str = "none", kind: str = "duplex") -> dict[str, Any]:
    """A duplex whose upper and lower halves are controlled or not."""
    contacts: list[dict[str, Any]] = []
    for place, on in zip(("upper", "lower"), controlled, strict=True):
        supply = {"supply": "controlled", "controls": ["S"]} if on else {"supply": "always on"}
        fixed = {"designation": designation, "runs_day_and_night": False, "only_for": "none", "circuit": "C"}
        contacts.append({"id": place, "position": place, **fixed, **supply})
    return {"id": name, "configuration": "5-20R", "device_type": kind, "contacts": contacts}


def wholly(name: str) -> dict[str, Any]:
    return duplex(name, True, True)


def off(name: str, designation: str = "none") -> dict[str, Any]:
    return duplex(name, False, False, designation=designation)


def graph(code: tuple[str, str], rooms: Rooms, complete: bool = True) -> Any:
    use = ROOMS.get(code, "conference")
    facts = {"use": use, "occupancy": "office", "shutoff_endangers": False, "area_sq_ft": "150 sq ft"}
    project = {
        "project": {"name": "Two rooms", "complete": {"spaces": complete}},
        "complete": True,
        "spaces": [{"id": name, **facts, "yokes": yokes} for name, yokes in rooms.items()],
        "controls": [SENSOR],
        "circuits": [{"id": "C", "breaker_amps": "20 A"}],
    }
    return front_door.project_to_graph(project, BOOK.book)


def share(code: tuple[str, str], subject: str, rooms: Rooms, complete: bool = True) -> yokebook.Ruling:
    """What the code says of the share in one of these rooms."""
    return BOOK.edition(*code).rule("share.controlled", graph(code, rooms, complete), code[0], subject)


def held(ruling: yokebook.Ruling, reading: str) -> dict[str, list[str]]:
    return {also["alternative"]: also["outcomes"] for also in ruling.also_held if also["reading"] == reading}


def exact(ruling: yokebook.Ruling, calculation: str) -> str:
    return str(next(each["exact"] for each in ruling.figures if each["calculation"] == calculation))


# ---- what fixes what -------------------------------------------------------------------------------------------------


def test_every_edition_of_every_energy_document_is_in_the_table() -> None:
    energy = {
        (document.id, edition)
        for document in BOOK.book.documents.values()
        if document.kind == "energy"
        for edition in document.editions
    }
    assert set(CHOICES) == energy
    assert all(each.unit and each.rooms and each.exempt for each in CHOICES.values())


SHORT, RICH = [wholly("A1"), *(off(f"A{i}") for i in (2, 3, 4))], [wholly(f"B{i}") for i in (1, 2, 3)]


def looked_at(code: tuple[str, str]) -> set[str]:
    """The readings of these choices that change a ruling on the share somewhere in three projects.

    A split duplex and one always on: 1 of 4 contact devices, 1 of 2 yokes if a half counts as a whole. A controlled
    one, one always on and one excused: 2 of 6 and 1 of 3, but 2 of 4 and 1 of 2 if what is excused leaves the count.
    Two rooms of which one has enough for both.
    """
    projects: tuple[Rooms, ...] = (
        {"a": [duplex("A1", True, False), off("A2")]},
        {"a": [wholly("A1"), off("A2"), off("A3", "continuous operation")]},
        {"a": SHORT, "b": RICH},
    )
    found = {also["reading"] for rooms in projects for also in share(code, "a", rooms).also_held}
    return found & {UNIT, POOL, EXEMPT, HALF}


@pytest.mark.parametrize("code", CHOICES, ids=" ".join)
def test_what_is_open_is_a_reading_and_nothing_else(code: tuple[str, str]) -> None:
    assert looked_at(code) == CHOICES[code].readings


@pytest.mark.parametrize(
    ("place", "day"), [("demo/tamarisk", "2024-03-11"), ("demo/tamarisk/brindle-falls", "2024-10-01")]
)
def test_a_place_that_fixes_the_unit_says_so(place: str, day: str) -> None:
    """A split duplex and one always on: 1 of 4 contact devices of the 2 needed, but 1 of 2 yokes of the 1 needed."""
    code = BOOK.in_force(place, {"permit application": day})
    rooms = {"a": [duplex("A1", True, False), off("A2")]}
    ruling = code.rule("share.controlled", graph(("", ""), rooms), "energy", "a")
    assert (ruling.outcome, ruling.also_held) == (NOT, [])
    assert [(chosen["reading"], chosen["alternative"]) for chosen in ruling.readings_chosen] == [
        (UNIT, "contact device")
    ]


# ---- rounding --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("code", SHARES, ids=" ".join)
def test_half_of_five_is_three(code: tuple[str, str]) -> None:
    """Five singles, or five duplexes where duplexes are counted: two are too few and three are enough."""
    needed = CHOICES[code].rounded
    assert needed is not None
    counted, have = needed.replace("needed", "counted"), needed.replace("needed", "have")
    calculation = BOOK.book.calculations[needed]
    assert calculation.checked is not None and calculation.checked.mark == "derived"
    record = {
        "space.use": ROOMS.get(code, "conference"), "space.shutoff_endangers": False, counted: 5,
        "space.share_rest_controlled": False, "space.duplexes_rest_controlled": False,
    }  # fmt: skip
    for number, expected in ((2, NOT), (3, SATISFIED)):
        ruling = BOOK.edition(*code).rule("share.controlled", {**record, have: number})
        step = next(each for each in ruling.figures if each["calculation"] == needed)
        assert (ruling.outcome, step["exact"], step["steps"]) == (expected, "3", "(0.5 x 5) rounded up")


# ---- each room, or all together --------------------------------------------------------------------------------------

#: SHORT has 2 of 8 and RICH 6 of 6, together 8 of 14 and 7 needed; of the duplexes 1 of 4 and 3 of 3, 4 of 7, 4 needed.
POOLED = [code for code in SHARES if POOL in CHOICES[code].readings]
BY_ROOM = [code for code in SHARES if POOL not in CHOICES[code].readings]


@pytest.mark.parametrize("code", POOLED, ids=" ".join)
def test_a_room_that_is_short_may_be_made_up_for_by_another(code: tuple[str, str]) -> None:
    short, rich = (share(code, name, {"a": SHORT, "b": RICH}) for name in ("a", "b"))
    assert (short.outcome, rich.outcome) == (NOT, SATISFIED)
    assert held(short, POOL) == {"all listed rooms": [SATISFIED]}
    assert held(rich, POOL) == {}


@pytest.mark.parametrize("code", POOLED, ids=" ".join)
def test_a_room_with_enough_may_stand_in_a_project_that_is_short(code: tuple[str, str]) -> None:
    """2 of 8 and 2 of 2: together 4 of 10, of which 5 are needed; duplexes 1 of 4 and 1 of 1, 2 of 5, 3 needed."""
    rich = share(code, "b", {"a": SHORT, "b": [wholly("B1")]})
    assert rich.outcome == SATISFIED
    assert held(rich, POOL) == {"all listed rooms": [NOT]}


@pytest.mark.parametrize("code", POOLED, ids=" ".join)
def test_one_room_alone_is_all_rooms_together(code: tuple[str, str]) -> None:
    assert held(share(code, "a", {"a": SHORT}), POOL) == {}
    assert held(share(code, "b", {"b": RICH}), POOL) == {}


@pytest.mark.parametrize("code", POOLED, ids=" ".join)
def test_rooms_that_nobody_has_listed_may_change_what_all_have_together(code: tuple[str, str]) -> None:
    assert held(share(code, "b", {"b": RICH}, complete=False), POOL) == {"all listed rooms": [NOT]}


@pytest.mark.parametrize("code", BY_ROOM, ids=" ".join)
def test_where_the_code_says_room_by_room_another_room_is_no_help(code: tuple[str, str]) -> None:
    short = share(code, "a", {"a": SHORT, "b": RICH})
    assert (short.outcome, held(short, POOL)) == (NOT, {})


def test_the_pool_is_of_listed_rooms_alone() -> None:
    """A lobby full of controlled receptacles adds nothing."""
    code = ("wa-energy", "2018")
    rooms = graph(code, {"a": SHORT, "lobby": RICH})
    rooms.find("lobby").given["space.use"] = "lobby"
    ruling = BOOK.edition(*code).rule("share.controlled", rooms, code[0], "a")
    assert (ruling.outcome, held(ruling, POOL)) == (NOT, {})


ALL_TOGETHER = """\
place: town
name: Town that takes the share over all rooms together
office: town hall
demo: yes
lines:
  energy:
    - id: TOWN-EN
      event: permit application
      on_or_after: 2024-01-01
      adopts: {document: wa-energy, edition: "2018", layers: [TOWN-1]}
      amendments: all entered
      says: Washington's section, read over all rooms together.
      source: invented for this test
layers:
  TOWN-1:
    amendments:
      - id: T-1
        says: The share is taken over all listed rooms of a building together.
        cite: {document: Town letter, section: "1"}
        checked: {seen: "the invented letter itself"}
        ops:
          - {choose_reading: share-taken-over, alternative: all listed rooms, was: open}
"""


def test_a_place_that_takes_it_over_all_rooms_together_shows_the_steps(tmp_path: Path) -> None:
    """2 of 8 and 6 of 6: 8 of 14, and half of 14 is 7."""
    draft = tmp_path / "town.yaml"
    draft.write_text(ALL_TOGETHER)
    code = yokebook.load(drafts=[draft]).in_force("town", on="2024-06-01", drafts=True)
    ruling = code.rule("share.controlled", graph(("wa-energy", "2018"), {"a": SHORT, "b": RICH}), "energy", "a")
    assert ruling.outcome == SATISFIED
    steps = {each["calculation"]: each["steps"] for each in ruling.figures}
    assert steps["project.share_needed"] == "(0.5 x 14) rounded up"
    assert steps["project.share_enough"] == "8 ≥ 7, 1 to spare"
    assert {"project.share_counted", "project.share_have"} <= set(steps)


# ---- what is excused -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("code", POOLED, ids=" ".join)
def test_no_more_is_wanted_than_what_nothing_excuses(code: tuple[str, str]) -> None:
    """Of four duplexes three are designated for equipment that runs day and night and one is controlled: 2 of the 8
    count as controlled where 4 are half, and no other may be asked for; with the last one always on, it is."""
    excused = [off(f"A{i}", "continuous operation") for i in (2, 3, 4)]
    for last, expected in ((wholly("A1"), SATISFIED), (off("A1"), NOT)):
        ruling = share(code, "a", {"a": [last, *excused]})
        assert (ruling.outcome, held(ruling, EXEMPT)) == (expected, {})


# ---- which devices ---------------------------------------------------------------------------------------------------


def test_a_duplex_in_a_floor_box_or_in_furniture_is_a_duplex_of_the_district() -> None:
    code = ("dc-energy", "2017")
    for kind in ("floor box", "furniture module"):
        boxed = duplex("A1", True, True, kind=kind)
        ruling = share(code, "a", {"a": [boxed, off("A2")]})
        assert (ruling.outcome, exact(ruling, "space.duplexes_counted")) == (SATISFIED, "2"), kind


def marked(code: tuple[str, str], yoke: dict[str, Any]) -> yokebook.Ruling:
    for contact in yoke["contacts"]:
        contact |= {"mark": "none", "differs_otherwise": False}
    return BOOK.edition(*code).rule("share.marked", graph(code, {"a": [yoke]}), code[0], f"a/{yoke['id']}/upper")


@pytest.mark.parametrize("code", [("dc-energy", "2017"), ("wa-energy", "2018"), ("iecc", "2021")], ids=" ".join)
def test_all_controlled_receptacles_are_marked_counted_or_not(code: tuple[str, str]) -> None:
    """The sections mark controlled receptacles: one that need not be controlled but is, and in the District one that is
    no duplex, look like the others until they are marked."""
    excused = marked(code, duplex("A1", True, True, designation="continuous operation"))
    assert (excused.outcome, excused.also_held) == (NOT, [])
    assert marked(code, duplex("A1", True, True, kind="quad")).outcome == NOT
    assert marked(code, off("A1")).outcome == "does not apply"

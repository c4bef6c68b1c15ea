"""Each way in which real law amends, defers, splits or refers, at a real place; and what is not law, which never
governs."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta
from pathlib import Path

import pytest

import yokebook
from other_buildings import OTHER_BUILDINGS
from shipped_book import rulebook
from yokebook import Code, RulebookFaults, adoption, shipped
from yokebook.model import Layer, Op, Rule

SCOPE = "protection.ground-fault-scope#fifteen-and-twenty"
DRAFTS = Path(__file__).parent / "drafts"


def code(place: str, day: str, choices: Mapping[str, str] | None = None) -> Code:
    chosen = choices if choices is not None else OTHER_BUILDINGS.get(place, {})
    return rulebook().in_force(place, on=day, choices=chosen)


def rules(place: str, day: str, question: str, choices: Mapping[str, str] | None = None) -> dict[str, Rule]:
    """The rules of the table in force, by the short name."""
    table, _ = code(place, day, choices).table(question)
    return {rule.id.rpartition("#")[2]: rule for rule in table.rules}


def layer(place: str, name: str) -> Layer:
    return rulebook().book.places[place].layers[name]


def ops(place: str, name: str, kind: str) -> list[Op]:
    return [op for amendment in layer(place, name).amendments for op in amendment.ops if op.op == kind]


def says(place: str, entry: str) -> str:
    lines = rulebook().book.places[place].lines.values()
    (found,) = [each for line in lines for each in line if each.id == entry]
    return found.says


RANGE = {"receptacle.configuration": "14-50R", "receptacle.volts_to_ground": "120 V", "space.occupancy": "dwelling"}
CITIES = ("us/il/chicago", "us/il/hometown")


def scope(place: str, day: str, choices: Mapping[str, str] | None = None) -> str:
    """Whether a 250 V range receptacle of a dwelling is of the ratings that the ground-fault rule covers."""
    return code(place, day, choices).rule("protection.ground-fault-scope", RANGE).word


# ---- the mechanics, one by one ----------------------------------------------------------------------------------


def test_deletion_of_a_part_by_not_taking_it_in() -> None:
    """Wisconsin takes 210.8(A) in without items 9 and 10: near bathtubs and in laundry areas."""
    whole = {rule.id for rule in rulebook().edition("nfpa-70", "2017").table("protection.ground-fault")[0].rules}
    left = {rule.id for rule in code("us/wi", "2018-08-01").table("protection.ground-fault")[0].rules}
    assert whole - left == {"protection.ground-fault#tub", "protection.ground-fault#laundry"}
    assert left <= whole


@pytest.mark.parametrize(("place", "day"), [("us/sc", "2023-01-01"), ("us/ut", "2021-07-01"), ("us/ut", "2025-07-01")])
def test_one_word_struck(place: str, day: str) -> None:
    """South Carolina and Utah strike what carries the dwelling rule from 125 V to 250 V."""
    edition = "2023" if day > "2025" else "2020"
    assert rulebook().edition("nfpa-70", edition).rule("protection.ground-fault-scope", RANGE).word == "in scope"
    assert scope(place, day) == "out of scope"
    small = {**RANGE, "receptacle.configuration": "5-20R"}
    assert code(place, day).rule("protection.ground-fault-scope", small).word == "in scope"


def test_item_of_a_list_replaced() -> None:
    """Utah's item on basements: unfinished parts, where the 2020 code says basements."""
    (op,) = [each for each in ops("us/ut", "UT-2020", "replace") if each.target.endswith("#basement")]
    table = rules("us/ut", "2021-07-01", "protection.ground-fault")
    assert op.rule is not None and table["basement"].where == op.rule.where
    assert table["basement"].chain[-1].by == "UT-2020-basements"


def test_amendment_that_ends_by_itself() -> None:
    """Minnesota's hold on 250 V receptacles, from 17 November 2020 to 4 April 2021, whatever the inspection was of."""
    days = ("2020-11-16", "2020-11-17", "2021-04-04", "2021-04-05")
    assert [scope("us/mn", day) for day in days] == ["out of scope", "out of scope", "out of scope", "in scope"]
    held = code("us/mn", "2021-04-04").in_force["electrical"].candidates[0].law
    after = code("us/mn", "2021-04-05").in_force["electrical"].candidates[0].law
    assert held is not None and after is not None
    assert (held.resolved.edition, after.resolved.edition) == ("2020", "2020")
    assert ([a.id for a in held.resolved.amendments], after.resolved.amendments) == (["MN-hold"], ())


def test_delay() -> None:
    """Iowa puts what the 2020 code newly asks of 250 V receptacles off to 1 January 2022."""
    days = ("2021-04-01", "2021-12-31", "2022-01-01")
    assert [scope("us/ia", day) for day in days] == ["out of scope", "out of scope", "in scope"]


def test_split_by_building_kind_in_one_line() -> None:
    """North Carolina on 2 November 2021: an apartment building is on the 2020 code, a house on the 2017 code."""
    for kind, edition in (("one- or two-family dwelling", "2017"), ("other building", "2020")):
        law = code("us/nc", "2021-11-02", {"building-kind": kind}).in_force["electrical"].candidates[0].law
        assert law is not None and law.resolved.edition == edition
    open_line = code("us/nc", "2021-11-02").in_force["electrical"]
    assert [need[:2] for need in open_line.needs] == [("choice", "building-kind")]


@pytest.mark.parametrize(
    ("place", "houses", "day"),
    [
        ("us/ut", {"residential-code": "house under the residential code"}, "2024-01-01"),
        ("us/mi", {"building-kind": "one- or two-family dwelling"}, "2024-03-12"),
        ("us/wi", {"building-kind": "one- or two-family dwelling"}, "2019-12-31"),
    ],
)
def test_split_by_building_kind_where_one_kind_is_not_entered(place: str, houses: dict[str, str], day: str) -> None:
    def states(choices: dict[str, str]) -> list[str]:
        return [each.state for each in code(place, day, choices).in_force["electrical"].candidates]

    assert states(OTHER_BUILDINGS[place]) == ["in force"]
    assert states(houses) == ["not entered"]
    assert states({}) == ["not entered", "in force"]  # nobody has said which: both stay possible


def test_choice_whose_older_code_is_not_entered() -> None:
    """New Jersey until 21 March 2016: the 2011 code, which is not in the rulebook, or the 2014, as named."""
    for day, choices, expected in (
        ("2016-03-21", {"named-edition": "2011"}, ["not entered"]),
        ("2016-03-21", {"named-edition": "2014"}, ["in force"]),
        ("2016-03-21", {}, ["not entered", "in force"]),
        ("2016-03-22", {}, ["in force"]),
    ):
        assert [each.state for each in code("us/nj", day, choices).in_force["electrical"].candidates] == expected


def test_own_law_over_what_a_city_follows() -> None:
    """Hometown follows Chicago and adds what a house that gets a new service is brought up to."""
    chicago, hometown = (rules(place, "2023-03-01", "protection.ground-fault") for place in CITIES)
    assert hometown.keys() - chicago.keys() == {"service-change"}
    assert chicago.keys() <= hometown.keys()
    _, law = code("us/il/hometown", "2023-03-01").table("protection.ground-fault")
    assert law.resolved.extra == {"adopted by": "us/il/chicago"}
    assert law.resolved.amendments_entered == "some entered"


def test_transition_by_the_day_of_the_inspection() -> None:
    """Massachusetts' emergency rule excuses by the day of the inspection, whenever the permit was applied for."""
    shown = {**RANGE, "receptacle.distance_to_sink_in": "48 in", "space.use": "kitchen", "space.has_sink": "yes"}
    shown |= {"project.work_kind": "new", "receptacle.serves": "general", "receptacle.shown_incompatible": "yes"}
    for day, expected in (("2023-01-25", "required"), ("2023-01-26", "not required"), ("2023-04-27", "required")):
        for applied in ("2020-01-01", "2023-01-24"):
            dates = {"electrical permit application": applied, "inspection": day}
            ruled = rulebook().in_force("us/ma", dates).rule("protection.ground-fault", shown)
            assert ruled.word == expected, (day, applied)


def test_amendments_that_were_looked_for_and_cannot_be_entered() -> None:
    """Each such entry says what was found; the word is not one for places that nobody looked at."""
    told = {
        entry.id: entry.says
        for place in rulebook().book.places.values()
        for line in place.lines.values()
        for entry in line
        for adopts in [entry.adopts]
        if "none can be entered" in (entry.amendments, adopts.amendments if adopts else None)
    }
    assert sorted(told) == [
        *("MAC-EC23", "MAC-EC26", "ME-EC23", "ME-EC23-2026", "ND-EC23", "OH-RC14", "STC-EC", "VAN-EC17"),
    ]
    assert [name for name, says in told.items() if not says] == []


def test_layers_that_ask_for_less_say_why() -> None:
    """Those of the places that took the code with less than it asks; no other."""
    less = {
        (place.id, each.id)
        for place in rulebook().book.places.values()
        for each in place.layers.values()
        if each.less_strict
    }
    assert less == {
        ("us/ia", "IA-2021-delay"),
        ("us/ma", "MA-rule-11"),
        ("us/mn", "MN-2020-policy"),
        ("us/nj", "NJ-2014"),
        ("us/nj", "NJ-2017"),
        ("us/sc", "SC-2023"),
        ("us/ut", "UT-2020"),
        ("us/ut", "UT-2023"),
        ("us/wi", "WI-2018"),
    }


def test_stricter_only_holds() -> None:
    """New York City may only be more stringent than the state, and its minutes and rooms are."""
    assert "11-109" in layer("us/ny/new-york-city", "NYC-2025-energy").stricter_only
    found = rulebook().check(["us/ny/new-york-city"]).findings
    assert [each for each in found if each.kind == "less strict than the text below"] == []


def test_stricter_only_is_held_against_a_law_that_is_not(tmp_path: Path) -> None:
    text = (shipped.folder("rulebook") / "places/us/ny/new-york-city.yaml").read_text(encoding="utf-8")
    assert text.count("value: 15 min") == 2
    draft = tmp_path / "laxer.yaml"
    draft.write_text(text.replace("value: 15 min", "value: 25 min"), encoding="utf-8")
    found = yokebook.load(drafts=[draft]).check(["us/ny/new-york-city"]).findings
    laxer = [each for each in found if each.kind == "less strict than the text below"]
    assert {each.severity for each in laxer} == {"error"}
    assert len(laxer) == 2


def test_dynamic_reference() -> None:
    """SeaTac goes wherever the state goes, on the state's day; Hometown wherever Chicago goes."""
    for day in ("2017-06-30", "2017-07-01", "2020-10-28", "2020-10-29", "2024-03-31", "2024-04-01"):
        city, state = (code(place, day).in_force["electrical"].candidates[0].law for place in ("us/wa/seatac", "us/wa"))
        assert city is not None and state is not None and city.resolved.edition == state.resolved.edition
    law = code("us/il/hometown", "2023-03-01").in_force["electrical"].candidates[0].law
    assert law is not None and law.resolved.extra == {"adopted by": "us/il/chicago"}


def test_dynamic_reference_to_whatever_edition_is_current() -> None:
    """Macon County: the 2023 edition until the 2026 edition took effect on 9 September 2025."""
    editions = []
    for day in ("2025-09-08", "2025-09-09"):
        law = code("us/il/macon-county", day).in_force["electrical"].candidates[0].law
        assert law is not None
        editions.append(law.resolved.edition)
    assert editions == ["2023", "2026"]
    assert "whichever it is" in says("us/il/macon-county", "MAC-EC23")


@pytest.mark.parametrize(("place", "entry"), [("us/ma", "MA-EC20"), ("us/nd", "ND-EC23")])
def test_frozen_reference(place: str, entry: str) -> None:
    assert "printing" in says(place, entry)
    assert all(each.follows is None for line in rulebook().book.places[place].lines.values() for each in line)


def test_policy_without_change_of_text() -> None:
    (amendment,) = layer("us/mn", "MN-2020-policy").amendments
    assert amendment.says.startswith("A policy, no change of text")
    assert "enforcement policy" in amendment.cite.section
    assert "the text was never changed" in says("us/mn", "MN-EC20-hold")


def test_law_that_misnumbers_itself() -> None:
    """Utah prints a part of 210.52(C) as 210.2(C)(3); New York City an area as a length."""
    told = says("us/ut", "UT-EC20")
    assert "prints the latter's second part as 210.2(C)(3), and 210.52(C)(3) is meant" in told
    assert "5,000 feet (1524 m), a slip for square feet" in says("us/ny/new-york-city", "NYC-EN25")


def test_stale_official_copy_and_sources_that_differ() -> None:
    told = says("us/ma", "MA-EC-conflict")
    assert "17 February 2023" in told and "1 March 2023" in told
    assert "current to 27 September 2024, still showed the 2020 code" in " ".join(told.split())


def test_laws_that_are_whole() -> None:
    """Where every amendment is entered: the rule was read and has none, or none that any question here turns on."""
    whole = [
        entry.id
        for place in rulebook().book.places.values()
        if place.id.startswith("us/")
        for line in place.lines.values()
        for entry in line
        if entry.adopts is not None and entry.adopts.amendments == "all entered"
    ]
    assert sorted(whole) == [
        *("CO-EC20", "CO-FB20", "CO-FB20-plans", "FED-EN10", "FED-EN13", "MN-EC17", "MN-EC20", "MN-EC20-hold"),
        *("NYC-EN25", "TX-EC20", "TX-EC20-delay", "TX-EC20-emergency", "TX-EC20-excluded", "TX-EC23"),
    ]


# ---- bills, drafts and requests ---------------------------------------------------------------------------------

NOT_LAW = [
    ("iowa-senate-file-441.yaml", "us/ia", {"SF-441"}),
    ("ohio-3401-1.yaml", "us/oh/one-two-and-three-family", {"OH-3401.1-garage"}),
    ("south-carolina-requests.yaml", "us/sc", {"SC-406.4-D-4"}),
]


def days_around(its: yokebook.Rulebook, place: str) -> list[str]:
    """The first and last days between which the place's law changes, each with its neighbours."""
    first = [
        date.fromisoformat(entry.on_or_after)
        for line in its.book.places[place].lines.values()
        for entry in line
        if entry.on_or_after is not None
    ]
    near = {each + timedelta(days=step) for each in first for step in (-1, 0, 1)}
    return sorted(each.isoformat() for each in {*near, date(2000, 1, 1), date(2026, 11, 26), date(2040, 1, 1)})


def amendments_on(its: yokebook.Rulebook, place: str, day: str) -> set[str]:
    found = adoption.candidates(its.book, place, "electrical", {}, {}, on=day, drafts=True)
    return {a.id for c in found if c.resolved is not None for a in c.resolved.amendments}


@pytest.mark.parametrize(("file", "place", "ids"), NOT_LAW)
def test_what_is_not_law_governs_on_no_day(file: str, place: str, ids: set[str]) -> None:
    drafted = yokebook.load(drafts=[DRAFTS / file])
    assert {a.id for each in drafted.book.places[place].layers.values() for a in each.amendments} == ids
    for each in (rulebook(), drafted):
        for day in days_around(each, place):
            assert not ids & amendments_on(each, place, day), day


@pytest.mark.parametrize(("file", "place", "ids"), NOT_LAW)
def test_what_is_not_law_cannot_be_adopted_without_pins(file: str, place: str, ids: set[str], tmp_path: Path) -> None:
    """Somebody who writes the bill's layer into an entry is refused until its text below has been read and pinned."""
    text = (DRAFTS / file).read_text(encoding="utf-8")
    name, edition = {
        "us/ia": ("IA-SF-441", "2020"),
        "us/oh/one-two-and-three-family": ("OH-3401.1", "2014"),
        "us/sc": ("SC-requests", "2020"),
    }[place]
    old = f'{{document: nfpa-70, edition: "{edition}"}}'
    assert text.count(old) == 1
    adopted = tmp_path / file
    adopted.write_text(text.replace(old, old[:-1] + f", layers: [{name}]}}"), encoding="utf-8")
    drafted = yokebook.load(drafts=[adopted])
    day = next(e.on_or_after for e in drafted.book.places[place].lines["electrical"] if e.adopts and e.adopts.layers)
    assert day is not None
    with pytest.raises(RulebookFaults) as refused:
        drafted.in_force(place, on=day)
    assert all("has no pin, so layer" in str(fault) for fault in refused.value.faults)
    assert ids <= amendments_on(drafted, place, day)  # read as a draft it would be there: the test above can fail


def test_no_shipped_place_names_what_is_not_law() -> None:
    ids = {name for _, _, names in NOT_LAW for name in names}
    shipped = {a.id for p in rulebook().book.places.values() for each in p.layers.values() for a in each.amendments}
    assert not ids & shipped

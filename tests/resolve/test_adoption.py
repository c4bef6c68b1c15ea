"""Design: the latest entry whose date the project meets governs; a missing date keeps every entry that the dates given
leave possible. Days and entries after the invented city of the demo: 2014 code from 2015, and a gap from 2018."""

from collections.abc import Mapping
from dataclasses import replace

import pytest

import yokebook
from resolve.making import MARK, amendment, at, book, edition, entry, first_edition, layer, op, place
from yokebook.adoption import Candidate, candidates, in_force_documents, is_date, line_events
from yokebook.load.faults import RulebookFaults
from yokebook.model import Adopts, Book, Entry, Place
from yokebook.place_checks import place_faults

PERMIT = "permit application"
CITY = place(
    "city",
    entry("BF-EC14", "2015-01-01", adopts="2014"),
    entry("BF-gap", "2018-01-01", not_entered="left out on purpose"),
    entry("BF-EC17", "2021-07-01", adopts="2017"),
    entry("BF-none", "2026-01-01", none_in_force="the city's adoption ran out"),
)


def stand(
    *places: Place,
    dates: Mapping[str, str] | None = None,
    on: str | None = None,
    choices: Mapping[str, str] | None = None,
) -> list[Candidate]:
    b = book(places=places)
    return candidates(b, places[0].id, "electrical", dates or {}, choices or {}, on=on)


def told(found: list[Candidate]) -> list[tuple[str | None, str, str | None]]:
    return [(c.entry.id if c.entry else None, c.state, c.resolved.edition if c.resolved else None) for c in found]


class TestTransitions:
    @pytest.mark.parametrize(
        ("day", "expected"),
        [
            ("2014-12-31", (None, "not entered", None)),
            ("2015-01-01", ("BF-EC14", "in force", "2014")),
            ("2015-01-02", ("BF-EC14", "in force", "2014")),
            ("2017-12-31", ("BF-EC14", "in force", "2014")),
            ("2018-01-01", ("BF-gap", "not entered", None)),
            ("2021-06-30", ("BF-gap", "not entered", None)),
            ("2021-07-01", ("BF-EC17", "in force", "2017")),
            ("2025-12-31", ("BF-EC17", "in force", "2017")),
            ("2026-01-01", ("BF-none", "none in force", None)),
        ],
    )
    def test_the_day_before_the_day_and_the_day_after(
        self, day: str, expected: tuple[str | None, str, str | None]
    ) -> None:
        for found in (stand(CITY, dates={PERMIT: day}), stand(CITY, on=day)):
            assert told(found) == [expected]
            assert found[0].needs == ()

    def test_reasons(self) -> None:
        assert stand(CITY, on="2014-12-31")[0].reason == "no adoption entered for this date"
        assert stand(CITY, on="2019-05-01")[0].reason == "left out on purpose"
        assert stand(CITY, on="2026-05-01")[0].reason == "the city's adoption ran out"

    def test_the_resolved_document_says_where_it_stands(self) -> None:
        (found,) = stand(CITY, on="2016-01-01")
        assert found.resolved is not None and found.resolved.entry is not None
        assert (found.resolved.place, found.resolved.entry.id) == ("city", "BF-EC14")
        assert (found.resolved.amendments_entered, found.place) == ("all entered", "city")

    def test_a_date_of_an_event_goes_before_the_day_given_for_all(self) -> None:
        assert told(stand(CITY, dates={PERMIT: "2016-01-01"}, on="2022-01-01")) == [("BF-EC14", "in force", "2014")]

    def test_a_line_that_has_always_stood(self) -> None:
        always = place("city", entry("old", adopts="2014"), entry("new", "2020-01-01", adopts="2017"))
        assert told(stand(always, on="1900-01-01")) == [("old", "in force", "2014")]
        assert told(stand(always)) == [("new", "in force", "2017"), ("old", "in force", "2014")]

    def test_a_place_without_a_line_of_the_kind(self) -> None:
        b = book(places=[CITY])
        (found,) = candidates(b, "city", "energy", {}, {})
        assert (found.state, found.reason) == (
            "not entered",
            "no adoption of this kind of document is entered for City",
        )


class TestMissingDates:
    def test_every_entry_and_the_time_before_stay_possible(self) -> None:
        found = stand(CITY)
        assert told(found) == [
            ("BF-none", "none in force", None),
            ("BF-EC17", "in force", "2017"),
            ("BF-gap", "not entered", None),
            ("BF-EC14", "in force", "2014"),
            (None, "not entered", None),
        ]
        assert {c.needs for c in found} == {(("date", PERMIT),)}

    def test_a_date_that_is_given_rules_entries_out_and_in(self) -> None:
        two = place(
            "city",
            entry("a", "2015-01-01", adopts="2014"),
            entry("b", "2020-01-01", "plan approval", adopts="2017"),
            entry("c", "2022-01-01", adopts="2014"),
        )
        # the permit is after a and before c: c is out, b hangs on the approval, a is sure if b is not
        assert told(stand(two, dates={PERMIT: "2021-01-01"})) == [("b", "in force", "2017"), ("a", "in force", "2014")]
        # the approval is early: b is out, the rest hangs on the permit
        assert told(stand(two, dates={"plan approval": "2019-01-01"})) == [
            ("c", "in force", "2014"),
            ("a", "in force", "2014"),
            (None, "not entered", None),
        ]
        # the approval is late: b is sure unless c governs, and nothing before b can
        late = stand(two, dates={"plan approval": "2021-01-01"})
        assert told(late) == [("c", "in force", "2014"), ("b", "in force", "2017")]
        assert [c.needs for c in late] == [(("date", PERMIT),), (("date", PERMIT),)]

    def test_the_events_that_matter(self) -> None:
        two = place("city", entry("b", "2020-01-01", "plan approval", follows="county"))
        b = book(places=[two, replace(CITY, id="county")])
        assert line_events(b, "city") == ("plan approval", PERMIT)


class TestFollows:
    TOWN = place("town", entry("T-own", "2015-01-01", adopts="2014"), entry("T-follows", "2018-01-01", follows="city"))

    def test_the_other_places_line_of_the_kind_counts_for_the_date(self) -> None:
        (found,) = stand(self.TOWN, CITY, on="2022-01-01")
        assert found.resolved is not None and found.adopting is not None
        assert told([found]) == [("T-follows", "in force", "2017")]
        assert (found.place, found.adopting.id) == ("city", "BF-EC17")
        assert (found.resolved.place, found.resolved.extra) == ("town", {"adopted by": "city"})

    def test_the_other_places_gap_is_a_gap_here_too(self) -> None:
        assert told(stand(self.TOWN, CITY, on="2019-01-01")) == [("T-follows", "not entered", None)]
        assert told(stand(self.TOWN, CITY, on="2016-01-01")) == [("T-own", "in force", "2014")]

    def test_along_two_places(self) -> None:
        hamlet = place("hamlet", entry("H", follows="town"))
        (found,) = stand(hamlet, self.TOWN, CITY, on="2022-01-01")
        assert found.resolved is not None
        assert (told([found]), found.place, found.resolved.place) == ([("H", "in force", "2017")], "city", "hamlet")

    def test_missing_dates_are_asked_through(self) -> None:
        found = stand(self.TOWN, CITY)
        assert len(found) == 7  # five ways of the city, the town's own, and the time before
        assert all(c.needs == (("date", PERMIT),) for c in found)

    def test_the_own_event_and_those_of_the_place_followed_are_both_asked(self) -> None:
        town = place("town", entry("T", "2018-01-01", "plan approval", follows="city"))
        found = stand(town, CITY, dates={PERMIT: "2022-01-01"})
        assert [c.needs for c in found] == [(("date", "plan approval"),), (("date", "plan approval"),)]
        assert stand(town, CITY)[0].needs == (("date", "plan approval"), ("date", PERMIT))

    def test_a_circle(self) -> None:
        a, b = (
            place("a", replace(entry("A", follows="b"), at=at(7))),
            place("b", replace(entry("B", follows="a"), at=at(8))),
        )
        with pytest.raises(RulebookFaults) as raised:
            stand(a, b)
        assert str(raised.value) == "t.yaml:8:3: places follow each other in a circle: `a` follows `b` follows `a`"


class TestChoice:
    WINDOW = place(
        "city",
        entry("before", adopts="2014"),
        entry("free", "2020-01-01", choice={"old": "2014", "new": "2017"}),
        entry("after", "2021-01-01", adopts="2017"),
    )

    def test_a_choice_made(self) -> None:
        (found,) = stand(self.WINDOW, on="2020-06-01", choices={"window": "new"})
        assert found.resolved is not None
        assert (found.alternative, found.resolved.edition, found.needs) == ("new", "2017", ())
        assert found.resolved.amendments_entered == "some entered"

    def test_a_choice_not_made_keeps_both_and_is_asked(self) -> None:
        found = stand(self.WINDOW, on="2020-06-01")
        assert [(c.alternative, c.resolved.edition if c.resolved else None) for c in found] == [
            ("old", "2014"),
            ("new", "2017"),
        ]
        need = ("choice", "window", "Which edition was chosen?", ("old", "new"))
        assert [c.needs for c in found] == [(need,), (need,)]

    def test_a_choice_matters_only_in_its_window(self) -> None:
        assert told(stand(self.WINDOW, on="2021-01-01")) == [("after", "in force", "2017")]

    def test_date_and_choice_both_missing(self) -> None:
        found = stand(self.WINDOW)
        assert [c.alternative for c in found] == [None, "old", "new", None]
        assert [n.kind for n in found[1].needs] == ["date", "choice"]

    def test_an_alternative_that_is_not_there(self) -> None:
        with pytest.raises(RulebookFaults) as raised:
            stand(self.WINDOW, on="2020-06-01", choices={"window": "newer"})
        assert str(raised.value) == (
            "choices.window: `newer` is no alternative of this choice; there are `old`, `new` (did you mean `new`?)"
        )

    def test_a_choice_that_no_place_leaves(self) -> None:
        with pytest.raises(RulebookFaults) as raised:
            in_force_documents(book(places=[self.WINDOW]), "city", {}, "2020-06-01", {"windw": "new"})
        assert str(raised.value) == (
            "choices.windw: no place of this rulebook leaves a choice `windw` (did you mean `window`?)"
        )


class TestInForce:
    def test_one_list_a_kind(self) -> None:
        both = replace(CITY, lines={**CITY.lines, "owner": (entry("O", adopts="2014"),)})
        found = in_force_documents(book(places=[both]), "city", {}, "2022-01-01", {})
        assert {kind: told(each) for kind, each in found.items()} == {
            "electrical": [("BF-EC17", "in force", "2017")],
            "owner": [("O", "in force", "2014")],
        }

    def test_a_draft_is_refused_unless_drafts_are_asked_for(self) -> None:
        draft = layer("L", amendment("BF-1", op("delete", f"{MARK}#built-in", 7)))
        b = book(places=[place("city", entry("E", adopts="2014", layers=["L"]), layers=[draft])])
        with pytest.raises(RulebookFaults) as raised:
            in_force_documents(b, "city", {}, None, {})
        assert str(raised.value).startswith("t.yaml:7:3: `delete` of `marking.required#built-in` has no pin")
        (found,) = in_force_documents(b, "city", {}, None, {}, drafts=True)["electrical"]
        assert found.resolved is not None and [r.id for r in found.resolved.tables[MARK].rules] == [
            f"{MARK}#automatic",
            f"{MARK}#lighting",
        ]

    def test_a_layer_at_fault_does_not_hurt_a_day_it_is_not_in_force(self) -> None:
        draft = layer("L", amendment("BF-1", op("delete", f"{MARK}#built-in")))
        line = entry("E", adopts="2014"), entry("F", "2020-01-01", adopts="2014", layers=["L"])
        b = book(places=[place("city", *line, layers=[draft])])
        assert told(in_force_documents(b, "city", {}, "2019-12-31", {})["electrical"]) == [("E", "in force", "2014")]

    def test_the_same_text_is_resolved_once(self) -> None:
        b = book(places=[CITY])
        one, two = (
            candidates(b, "city", "electrical", {PERMIT: day}, {})[0].resolved for day in ("2015-01-01", "2016-01-01")
        )
        assert one is not None and two is not None and one.tables is two.tables

    @pytest.mark.parametrize(
        ("name", "message"),
        [
            ("ctiy", "place: no place `ctiy` in this rulebook (did you mean `city`?)"),
            ("us/wa", "place: no place `us/wa` in this rulebook"),
        ],
    )
    def test_an_unknown_place(self, name: str, message: str) -> None:
        with pytest.raises(RulebookFaults) as raised:
            in_force_documents(book(places=[CITY]), name, {}, None, {})
        assert str(raised.value) == message

    def test_days_that_are_none(self) -> None:
        with pytest.raises(RulebookFaults) as raised:
            in_force_documents(book(places=[CITY]), "city", {PERMIT: "2023-02-29"}, "1/2/24", {})
        allowed = "a day of the calendar; allowed: a date as YYYY-MM-DD, such as 2024-10-01"
        assert str(raised.value) == (
            f"dates.permit application: `2023-02-29` is not {allowed}\non: `1/2/24` is not {allowed}"
        )


@pytest.mark.parametrize(
    ("text", "real"),
    [
        ("2024-02-29", True),
        ("2023-02-29", False),
        ("2024-13-01", False),
        ("20240101", False),
        ("2024-W01-1", False),
        ("", False),
    ],
)
def test_what_a_date_is(text: str, real: bool) -> None:
    assert is_date(text) is real


class TestPlaceFaults:
    def faults(self, *entries: Entry, more: tuple[Place, ...] = (), b: Book | None = None) -> list[str]:
        line = [replace(e, at=at(n)) for n, e in enumerate(entries, 1)]
        made = book(places=[place("city", *line), *more])
        return [str(f) for f in place_faults(b or made)]

    def test_a_good_place_has_none(self) -> None:
        assert place_faults(book(places=[CITY, TestFollows.TOWN, replace(TestChoice.WINDOW, id="w")])) == []

    def test_names_that_lead_nowhere(self) -> None:
        adopts = Adopts("nfpa-71", "2014", (), "all entered")
        assert self.faults(
            entry("a", adopts=adopts),
            entry("b", "2015-01-01", adopts="2015"),
            entry("c", "2016-01-01", adopts="2014", layers=["L"]),
            entry("d", "2017-01-01", follows="ctiy"),
            entry("e", "2018-01-01", follows="other"),
            more=(place("other", kind="energy"),),
        ) == [
            "t.yaml:1:3: no document `nfpa-71` in this rulebook (did you mean `nfpa-70`?)",
            "t.yaml:2:3: no edition `2015` of `nfpa-70` in this rulebook; there are `2014`, `2017`",
            "t.yaml:3:3: no layer `L` in city",
            "t.yaml:4:3: entry `d` follows `ctiy`, which is no place of this rulebook (did you mean `city`?)",
            "t.yaml:5:3: entry `e` follows `other` for `electrical`, of which that place has no line; it has `energy`",
        ]

    def test_dates(self) -> None:
        assert self.faults(
            entry("a", "2015-01-01", adopts="2014"),
            entry("b", "2014-01-01", adopts="2014"),
            entry("c", "2014-01-01", adopts="2014"),
            entry("d", "2013-01-01", "plan approval", adopts="2014"),
            entry("e", "2019-02-30", adopts="2014"),
            entry("f", adopts="2014"),
        ) == [
            "t.yaml:5:3: entry `e`: `2019-02-30` is not a day of the calendar; allowed: a date as YYYY-MM-DD, such as "
            "2024-10-01",
            "t.yaml:6:3: entry `f` has no `event` and `on_or_after`, so it always governs and no entry before it ever "
            "does; allowed: only on the first entry of a line",
            "t.yaml:2:3: entry `b` is from 2014-01-01, and `a` before it, of the same event, from 2015-01-01; allowed: "
            "later entries have later dates",
            "t.yaml:3:3: entry `c` is from 2014-01-01, and `b` before it, of the same event, from 2014-01-01; allowed: "
            "later entries have later dates",
        ]

    def test_form(self) -> None:
        lone = replace(entry("e", adopts="2014"), event=PERMIT)
        assert self.faults(
            entry("a"),
            replace(entry("b", "2015-01-01", adopts="2014"), follows="city2"),
            entry("b", "2016-01-01", choice={"only": "2014"}),
            more=(place("city2", lone),),
        ) == [
            "t.yaml:1:3: entry `a` has none of them; allowed: exactly one of `adopts`, `follows`, `none_in_force`, "
            "`not_entered`, `choice`",
            "t.yaml:2:3: entry `b` has `adopts`, `follows`; allowed: exactly one of `adopts`, `follows`, "
            "`none_in_force`, `not_entered`, `choice`",
            "t.yaml:3:3: entry `b` is in city twice: here and at t.yaml:2:3",
            "t.yaml:3:3: entry `b` leaves a choice between 1 alternatives; allowed: two or more",
            f"{lone.at}: entry `e` has only one of `event` and `on_or_after`; allowed: both or neither",
        ]

    def test_places_in_a_circle_are_told_once(self) -> None:
        others = place("a", replace(entry("A", follows="b"), at=at(7))), place("b", entry("B", follows="a"))
        assert self.faults(entry("x", adopts="2014"), more=others) == [
            "t.yaml:7:3: places follow each other in a circle: `a` follows `b` follows `a`"
        ]
        assert self.faults(entry("x", follows="city")) == [
            "t.yaml:1:3: places follow each other in a circle: `city` follows `city`"
        ]

    def test_a_layer_twice_in_one_entry(self) -> None:
        twice = place("town", replace(entry("T", adopts="2014", layers=["L", "L"]), at=at(7)), layers=[layer("L")])
        assert self.faults(entry("x", adopts="2014"), more=(twice,)) == [
            "t.yaml:7:3: layer `L` is adopted twice in one entry"
        ]

    def test_editions_at_fault_are_told_when_a_day_needs_them(self) -> None:
        b = book(first_edition(), edition("2017", "2014"), places=[CITY])
        with pytest.raises(RulebookFaults):
            candidates(b, "city", "electrical", {PERMIT: "2022-01-01"}, {})
        assert told(candidates(b, "city", "electrical", {PERMIT: "2016-01-01"}, {})) == [
            ("BF-EC14", "in force", "2014")
        ]


class TestUnknownEvent:
    """A date for an event that no place goes by would leave the real one open: it is a fault, not passed over."""

    def test_it_is_named_with_what_may_be_meant(self) -> None:
        with pytest.raises(RulebookFaults) as fault:
            yokebook.load().in_force("demo/tamarisk", dates={"permit aplication": "2024-01-01"})
        assert str(fault.value) == (
            "dates.permit aplication: no place of this rulebook goes by a date of `permit aplication` "
            "(did you mean `permit application`?)"
        )

"""What a place puts over another place's law, alternatives that are not entered, and layers that another event's day
decides on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import pytest

from resolve.making import MARK, amendment, at, book, entry, layer, op, place, rule
from yokebook.adoption import Candidate, candidates, in_force_documents, line_events
from yokebook.intake.vocabulary import vocabulary
from yokebook.layers import adopted_here, layer_faults, layer_uses
from yokebook.load.faults import RulebookFaults
from yokebook.model import AmendmentsEntered, Layer, NotEntered, Place, Window
from yokebook.overview import all_events
from yokebook.place_checks import place_faults

PERMIT, INSPECTION = "permit application", "inspection"


def adds(name: str, window: Window | None = None) -> Layer:
    """A layer that adds one rule, named after it."""
    made = op("add", f"{MARK}#{name.lower()}", rule=rule(name.lower(), where=[]))
    return layer(name, amendment(f"{name}-1", made), window=window)


def stand(
    *places: Place,
    dates: Mapping[str, str] | None = None,
    on: str | None = None,
    choices: Mapping[str, str] | None = None,
) -> list[Candidate]:
    return candidates(book(places=places), places[0].id, "electrical", dates or {}, choices or {}, on=on)


def amended(found: list[Candidate]) -> list[tuple[str | None, list[str]]]:
    """Edition and amendments of each candidate."""
    return [(c.resolved.edition, [a.id for a in c.resolved.amendments]) if c.resolved else (None, []) for c in found]


class TestAlternativeThatIsNotEntered:
    OLD = NotEntered("the older code is not in this rulebook")
    GRACE = place(
        "city",
        entry("before", not_entered="older"),
        entry("grace", "2015-09-21", choice={"old": OLD, "new": "2014"}),
        entry("after", "2016-03-22", adopts="2014"),
    )

    def test_chosen_it_is_not_entered_and_says_why(self) -> None:
        (found,) = stand(self.GRACE, on="2016-03-21", choices={"window": "old"})
        assert (found.state, found.reason, found.resolved) == ("not entered", self.OLD.reason, None)
        assert (found.alternative, found.needs) == ("old", ())

    def test_the_other_is_in_force(self) -> None:
        (found,) = stand(self.GRACE, on="2016-03-21", choices={"window": "new"})
        assert found.resolved is not None and (found.state, found.resolved.edition) == ("in force", "2014")

    def test_not_chosen_both_stay_possible_and_the_choice_is_asked(self) -> None:
        found = stand(self.GRACE, on="2016-03-21")
        assert [(c.state, c.alternative) for c in found] == [("not entered", "old"), ("in force", "new")]
        need = ("choice", "window", "Which edition was chosen?", ("old", "new"))
        assert [c.needs for c in found] == [(need,), (need,)]

    def test_it_may_be_stated_in_a_project(self) -> None:
        assert vocabulary(book(places=[self.GRACE])).choices == {"window": ("old", "new")}

    def test_two_places_that_leave_a_choice_of_one_name(self) -> None:
        """What either place offers may be stated, in whatever order the places are read."""
        other = place("town", entry("T", choice={"new": "2014", "newer": "2017"}))
        assert vocabulary(book(places=[self.GRACE, other])).choices == {"window": ("old", "new", "newer")}

    def test_a_choice_of_which_nothing_is_entered(self) -> None:
        none = replace(entry("E", choice={"a": self.OLD, "b": self.OLD}), at=at(7))
        assert [str(f) for f in place_faults(book(places=[place("city", none)]))] == [
            "t.yaml:7:3: entry `E` leaves a choice of which no alternative is entered; allowed: `not_entered` with the "
            "reason"
        ]


class TestFollowsWithLayers:
    STATE = place(
        "state",
        entry("S14", "2014-01-01", adopts="2014", layers=["S"]),
        entry("S17", "2017-07-01", adopts="2017"),
        layers=[adds("S")],
    )

    def town(self, *, start: str = "2016-01-01", amendments: AmendmentsEntered = "all entered") -> Place:
        follows = entry("T", start, follows="state", layers=["T"], amendments=amendments)
        return place("town", follows, layers=[adds("T")])

    def test_its_layer_is_over_what_it_follows_with_the_layers_there(self) -> None:
        assert amended(stand(self.town(), self.STATE, on="2016-01-01")) == [("2014", ["S-1", "T-1"])]
        assert amended(stand(self.town(), self.STATE, on="2017-07-01")) == [("2017", ["T-1"])]

    def test_the_place_followed_is_left_as_it_is(self) -> None:
        assert amended(stand(self.STATE, self.town(), on="2017-07-01")) == [("2017", [])]

    def test_it_stands_at_the_place_asked_for(self) -> None:
        (found,) = stand(self.town(), self.STATE, on="2017-07-01")
        assert found.resolved is not None and found.adopting is not None
        assert (found.resolved.place, found.resolved.extra, found.adopting.id) == (
            "town",
            {"adopted by": "state"},
            "S17",
        )

    def test_along_two_places_the_nearer_to_what_is_adopted_comes_first(self) -> None:
        hamlet = place("hamlet", entry("H", follows="town", layers=["H"], amendments="all entered"), layers=[adds("H")])
        found = stand(hamlet, self.town(), self.STATE, on="2016-01-01")
        assert amended(found) == [("2014", ["S-1", "T-1", "H-1"])]

    @pytest.mark.parametrize(
        ("there", "here", "together"),
        [
            ("all entered", "all entered", "all entered"),
            ("all entered", "not looked for", "some entered"),
            ("not looked for", "all entered", "some entered"),
            ("some entered", "none can be entered", "some entered"),
            ("none can be entered", "none can be entered", "none can be entered"),
            ("not looked for", "none can be entered", "not looked for"),
        ],
    )
    def test_how_complete_both_are_together(
        self, there: AmendmentsEntered, here: AmendmentsEntered, together: str
    ) -> None:
        """Something is entered as soon as one place's is; else nobody has looked at all of it unless both did."""
        line = self.STATE.lines["electrical"]
        last = line[-1]
        assert last.adopts is not None
        marked = replace(last, adopts=replace(last.adopts, amendments=there))
        state = replace(self.STATE, lines={"electrical": (line[0], marked)})
        (found,) = stand(self.town(amendments=here), state, on="2018-01-01")
        assert found.resolved is not None and found.resolved.amendments_entered == together

    def test_what_only_follows_says_what_is_said_there(self) -> None:
        (found,) = stand(place("town", entry("T", follows="state")), self.STATE, on="2018-01-01")
        assert found.resolved is not None and found.resolved.amendments_entered == "all entered"

    def test_a_pin_is_that_of_the_text_followed(self) -> None:
        """The layer deletes a rule that the state's layer wrote: its pin is due over the state's text, not the bare
        edition's, which has no such rule."""
        deletes = layer("T", amendment("T-1", op("delete", f"{MARK}#s", 7)))
        until = entry("T-own", "2017-07-01", adopts="2017")
        follows = entry("T", "2016-01-01", follows="state", layers=["T"], amendments="all entered")
        town = place("town", follows, until, layers=[deletes])
        faults = [str(f) for f in layer_faults(book(places=[town, self.STATE]), drafts_allowed=False)]
        assert len(faults) == 1 and faults[0].startswith("t.yaml:7:3: `delete` of `marking.required#s` has no pin")

    def test_it_is_looked_at_over_each_text_that_it_can_meet_there(self) -> None:
        def met(town: Place) -> list[tuple[str, str]]:
            return [
                (use.layer.id, use.below.edition)
                for use, faults in layer_uses(book(places=[town, self.STATE]))
                if use.place is town and not faults
            ]

        assert met(self.town(start="2016-01-01")) == [("T", "2014"), ("T", "2017")]
        # from the day on which the state moved, its older entry can no longer be met
        assert met(self.town(start="2017-07-01")) == [("T", "2017")]
        # and none of its entries of days on which the town has its own
        town = self.town()
        own = entry("T-own", "2017-07-01", adopts="2017")
        assert met(replace(town, lines={"electrical": (*town.lines["electrical"], own)})) == [("T", "2014")]
        # by another event nothing is sure
        issue = entry("T", "2017-07-01", "permit issue", follows="state", layers=["T"], amendments="all entered")
        assert met(replace(town, lines={"electrical": (issue,)})) == [("T", "2014"), ("T", "2017")]

    def test_what_follows_without_layers_puts_nothing_in_force_of_its_own(self) -> None:
        only = place("town", entry("T", follows="state"))
        b = book(places=[only, self.STATE])
        assert adopted_here(b, only, "electrical", only.lines["electrical"][0]) == []

    def test_layers_that_are_not_there_or_twice(self) -> None:
        wrong = replace(entry("T", follows="state", layers=["X", "T", "T"], amendments="all entered"), at=at(7))
        town = place("town", wrong, layers=[adds("T")])
        assert [str(f) for f in place_faults(book(places=[town, self.STATE]))] == [
            "t.yaml:7:3: no layer `X` in town",
            "t.yaml:7:3: layer `T` is adopted twice in one entry",
        ]


class TestWindows:
    HOLD = Window(INSPECTION, None, "2021-04-05")
    STATE = place(
        "state",
        entry("S14", "2014-01-01", adopts="2014"),
        entry("S17", "2020-11-17", adopts="2017", layers=["HOLD"]),
        layers=[adds("HOLD", HOLD)],
    )

    @pytest.mark.parametrize(
        ("permit", "inspection", "expected"),
        [
            ("2020-11-17", "2021-04-04", ("2017", ["HOLD-1"])),
            ("2020-11-17", "2021-04-05", ("2017", [])),
            ("2022-01-01", "2021-04-04", ("2017", ["HOLD-1"])),
            ("2020-11-16", "2021-04-04", ("2014", [])),
        ],
    )
    def test_the_day_of_its_own_event_decides(
        self, permit: str, inspection: str, expected: tuple[str, list[str]]
    ) -> None:
        found = stand(self.STATE, dates={PERMIT: permit, INSPECTION: inspection})
        assert amended(found) == [expected]
        assert (found[0].needs, found[0].variant) == ((), "")

    def test_a_day_that_is_not_given_keeps_both_and_is_asked(self) -> None:
        found = stand(self.STATE, dates={PERMIT: "2020-12-01"})
        assert amended(found) == [("2017", []), ("2017", ["HOLD-1"])]
        assert [c.needs for c in found] == [(("date", INSPECTION),), (("date", INSPECTION),)]
        assert [c.variant for c in found] == ["without HOLD", "with all its layers"]

    def test_it_is_not_asked_where_the_layer_is_not_adopted(self) -> None:
        (found,) = stand(self.STATE, dates={PERMIT: "2016-01-01"})
        assert found.needs == ()

    def test_one_day_for_every_event_counts_for_it_too(self) -> None:
        assert amended(stand(self.STATE, on="2021-04-04")) == [("2017", ["HOLD-1"])]
        assert amended(stand(self.STATE, on="2021-04-05")) == [("2017", [])]

    def test_windows_of_one_event_open_and_close_together(self) -> None:
        """Three stretches of time: before both, inside the first alone, inside both; never the second alone."""
        first = adds("A", Window(INSPECTION, "2020-01-01", None))
        second = adds("B", Window(INSPECTION, "2021-01-01", None))
        city = place("city", entry("E", adopts="2014", layers=["A", "B"]), layers=[first, second])
        assert amended(stand(city)) == [("2014", ["A-1", "B-1"]), ("2014", ["A-1"]), ("2014", [])]

    def test_the_day_is_known_as_an_event(self) -> None:
        b = book(places=[self.STATE])
        assert line_events(b, "state") == (PERMIT, INSPECTION)
        assert all_events(b) == (PERMIT, INSPECTION)
        assert vocabulary(b).events == (PERMIT, INSPECTION)
        in_force_documents(b, "state", {INSPECTION: "2021-01-01"}, None, {})
        with pytest.raises(RulebookFaults) as raised:
            in_force_documents(b, "state", {"inspecton": "2021-01-01"}, None, {})
        assert str(raised.value) == (
            "dates.inspecton: no place of this rulebook goes by a date of `inspecton` (did you mean `inspection`?)"
        )

    def test_both_texts_are_looked_at(self) -> None:
        line = self.STATE.lines["electrical"]
        found = adopted_here(book(places=[self.STATE]), self.STATE, "electrical", line[1])
        assert [each.layers for each in found] == [(), ("HOLD",)]

    def test_a_place_that_follows_goes_by_it_too(self) -> None:
        town = place("town", entry("T", follows="state"))
        dates = {PERMIT: "2020-12-01", INSPECTION: "2021-04-04"}
        assert amended(stand(town, self.STATE, dates=dates)) == [("2017", ["HOLD-1"])]
        assert line_events(book(places=[town, self.STATE]), "town") == (PERMIT, INSPECTION)

    @pytest.mark.parametrize(
        ("window", "told"),
        [
            (
                Window(INSPECTION, None, None),
                "layer `L` applies by an event without a day; allowed: `on_or_after`, `before` or both",
            ),
            (
                Window(INSPECTION, None, "2021-02-29"),
                "layer `L`: `before` is `2021-02-29`, which is not a day of the calendar; allowed: a date as "
                "YYYY-MM-DD, such as 2024-10-01",
            ),
            (
                Window(INSPECTION, "2021-01-01", "2021-01-01"),
                "layer `L` applies from 2021-01-01 and only before 2021-01-01, so on no day",
            ),
        ],
    )
    def test_days_that_make_no_window(self, window: Window, told: str) -> None:
        its = replace(adds("L", window), at=at(7))
        city = place("city", entry("E", adopts="2014", layers=["L"]), layers=[its])
        assert [str(f) for f in place_faults(book(places=[city]))] == [f"t.yaml:7:3: {told}"]

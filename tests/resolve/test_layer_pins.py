"""Design: a layer without its pins is a draft, which `check` and `compare` take and `in_force` refuses; the layers of
all places are looked at together."""

from dataclasses import replace

import pytest

from resolve.making import (
    MARK,
    amendment,
    at,
    book,
    box,
    edition,
    entry,
    first_edition,
    layer,
    one,
    op,
    place,
    rule,
)
from yokebook.editions import resolve_edition
from yokebook.layers import apply_layer, layer_faults
from yokebook.load.faults import RulebookFaults
from yokebook.model import Box, Op, Resolved, Rule
from yokebook.pins import pin_of

BOOK = book()
BELOW = resolve_edition(BOOK, "nfpa-70", "2014")
HOMES: Box = box(space__occupancy=one("dwelling"))


class TestPins:
    """In force, every op but `add` carries the pin of the text below."""

    def one_op(self, pin: str | None) -> Op:
        pin_at = None if pin is None else at(8)
        return op("narrow", f"{MARK}#lighting", 7, add_where=(HOMES,), pin=pin, pin_at=pin_at)

    def lighting(self, pin: str) -> Rule:
        return next(r for r in self.in_force(pin).tables[MARK].rules if r.id == f"{MARK}#lighting")

    def in_force(self, pin: str | None) -> Resolved:
        return apply_layer(BOOK, BELOW, layer("L", amendment("BF-1", self.one_op(pin))))

    def test_the_right_pin(self) -> None:
        due = pin_of(BELOW, BOOK, f"{MARK}#lighting").pin
        assert self.lighting(due).where[0]["space.occupancy"] == one("dwelling")

    def test_a_missing_and_a_stale_pin(self) -> None:
        due = pin_of(BELOW, BOOK, f"{MARK}#lighting").pin
        with pytest.raises(RulebookFaults) as raised:
            self.in_force(None)
        assert str(raised.value) == (
            f"t.yaml:7:3: `narrow` of `marking.required#lighting` has no pin, so layer `L` is a draft and cannot be in "
            f"force; due is `{due}`, which `yokebook pin` writes once you have read the text below"
        )
        with pytest.raises(RulebookFaults) as raised:
            self.in_force("0123abcd")
        assert str(raised.value) == (
            f"t.yaml:8:3: `narrow` of `marking.required#lighting` has the pin `0123abcd`; the text below the layer has "
            f"`{due}`, so it is no longer what was amended; `yokebook pin` shows the old text beside the new"
        )


class TestLayerFaults:
    """All places at once: what load and check ask for."""

    def test_pins_count_only_where_drafts_may_not_stand(self) -> None:
        draft = layer("L", amendment("BF-1", op("delete", f"{MARK}#built-in")))
        b = book(places=[place("city", entry("E", adopts="2014", layers=["L"]), layers=[draft])])
        assert layer_faults(b, drafts_allowed=True) == []
        assert [f.message.partition(",")[0] for f in layer_faults(b, drafts_allowed=False)] == [
            "`delete` of `marking.required#built-in` has no pin"
        ]

    def test_a_layer_adopted_by_two_entries_tells_a_fault_once(self) -> None:
        wrong = layer("L", amendment("BF-1", op("delete", f"{MARK}#bilt-in", 7)))
        line = entry("E", adopts="2014", layers=["L"]), entry("F", "2020-01-01", adopts="2014", layers=["L"])
        b = book(places=[place("city", *line, layers=[wrong])])
        assert len(layer_faults(b, drafts_allowed=True)) == 1

    def test_a_city_may_stand_on_its_states_layer(self) -> None:
        state = layer("S", amendment("ST-1", op("replace", f"{MARK}#automatic", rule=rule("automatic", where=[HOMES]))))
        wrong = layer(
            "C",
            amendment("CT-1", op("narrow", f"{MARK}#automatic", 7, add_where=(box(space__occupancy=one("office")),))),
        )
        b = book(
            places=[
                place("state", layers=[state]),
                place("city", entry("E", adopts="2014", layers=["state#S", "C"]), layers=[wrong]),
            ]
        )
        assert [str(f) for f in layer_faults(b, drafts_allowed=True)] == [
            "t.yaml:7:3: `narrow` of `marking.required#automatic` leaves the rule no record; delete it instead"
        ]

    def test_a_layer_that_nothing_adopts(self) -> None:
        b = book(places=[place("city", entry("E", adopts="2014"), layers=[replace(layer("L"), at=at(7))])])
        assert layer_faults(b, drafts_allowed=True) == []
        assert [str(f) for f in layer_faults(b, drafts_allowed=False)] == [
            "t.yaml:7:3: layer `L` of `city` is adopted by no entry, so nothing checks it"
        ]

    def test_an_edition_at_fault_is_left_to_edition_faults(self) -> None:
        b = book(
            first_edition(),
            edition("2017", "2014"),
            places=[place("city", entry("E", adopts="2017", layers=["L"]), layers=[layer("L")])],
        )
        assert layer_faults(b, drafts_allowed=True) == []

"""Views over rulings: by yoke (R05, R09), what an amendment did (R10), editions (R49), settled or a reading (R57)."""

from __future__ import annotations

from typing import Any

import pytest

import ruling_data as data
from yokebook.graph import Graph, Thing
from yokebook_adapters.views import (
    amendment_effect,
    governing_editions,
    marks_by_yoke,
    parts_to_buy,
    settled_or_reading,
)


def building(*halves: dict[str, Any], complete: bool = True, **yoke_facts: Any) -> Graph:
    """One room with one yoke: a contact device for each `halves`, which give `position`, `supply`, `controls`,
    `circuit`."""
    graph = Graph()
    project, space = Thing("project", "project"), Thing("space", "den", "den", refs={})
    yoke = Thing("yoke", "den/R1", "R1, den", {f"receptacle.{k}": v for k, v in yoke_facts.items()})
    yoke.refs = {"space": space}
    space.refs = {"project": project}
    circuits = {name: Thing("circuit", name) for name in ("LP-1", "LP-2")}
    controls = {name: Thing("control", name) for name in ("S1", "S2")}
    contacts = []
    for half in halves:
        given = {f"contact.{key}": half[key] for key in ("position", "supply") if key in half}
        contact = Thing("contact", f"den/R1/{half['position']}", "", given, refs={"yoke": yoke})
        if "circuit" in half:
            contact.refs["circuit"] = circuits[half["circuit"]]
        if "controls" in half:
            contact.many["controls"] = [controls[name] for name in half["controls"]]
            contact.complete["controls"] = True
        contacts.append(contact)
    yoke.many["contacts"] = contacts
    yoke.complete["contacts"] = complete
    for thing in (project, space, yoke, *contacts):
        graph.things[thing.kind].append(thing)
    return graph


def marking(graph: Graph, *words: str) -> list[dict[str, Any]]:
    """A ruling on marking for each contact device, in order."""
    rulings = []
    for contact, word in zip(graph.things["contact"], words, strict=True):
        about = data.subject(contact.id)
        if word == "cannot tell":
            rulings.append(data.ruling("marking.required", "R03", about, status="cannot tell"))
        else:
            rulings.append(data.ruling("marking.required", "R03", about, outcome=word))
    return rulings


ON = {"supply": "always on", "circuit": "LP-1", "controls": []}
SWITCHED = {"supply": "controlled", "circuit": "LP-1", "controls": ["S1"]}
NO_TAB = "none on this device"


class TestMarksByYoke:
    @pytest.mark.parametrize(
        ("words", "mark", "open_"),
        [
            (("required", "not required"), "upper", []),
            (("not required", "required"), "lower", []),
            (("required", "required"), "both", []),
            (("not required", "not required"), "none", []),
            (("required", "cannot tell"), "upper", ["lower"]),
            (("not required", "cannot tell"), "none", ["lower"]),
        ],
    )
    def test_two_halves(self, words, mark, open_):
        graph = building({"position": "upper"}, {"position": "lower"})
        [entry] = marks_by_yoke(marking(graph, *words), graph)
        assert (entry["mark"], entry["open"], entry["complete"]) == (mark, open_, True)

    def test_a_single_and_three_of_four(self):
        single = building({"position": "only"})
        assert marks_by_yoke(marking(single, "required"), single)[0]["mark"] == "the one"
        four = building(*({"position": position} for position in ("first", "second", "third", "fourth")))
        entry = marks_by_yoke(marking(four, "required", "required", "not required", "required"), four)[0]
        assert entry["mark"] == "first and second and fourth"

    def test_halves_that_may_be_missing_are_said(self):
        graph = building({"position": "upper"}, complete=False)
        assert marks_by_yoke(marking(graph, "required"), graph)[0]["complete"] is False

    def test_a_mark_that_any_document_asks_for_is_needed(self):
        graph = building({"position": "only"})
        about = data.subject("den/R1/only")
        electrical = data.ruling("marking.required", "R03", about, outcome="not required")
        owner = data.ruling("marking.required", "R03", about, outcome="required")
        assert marks_by_yoke([electrical, owner], graph)[0]["mark"] == "the one"

    def test_a_yoke_without_a_ruling_is_left_out(self):
        assert marks_by_yoke([], building({"position": "only"})) == []


class TestPartsToBuy:
    def part(self, graph: Graph, *words: str, more: tuple[dict[str, Any], ...] = ()) -> dict[str, Any]:
        [entry] = parts_to_buy([*marking(graph, *words), *more], graph)
        return entry

    def test_half_switched_takes_the_hot_tab_and_keeps_the_neutral_tab(self):
        """The worked scenario of a lamp on a wall switch: one circuit, one neutral; hot tab removed, neutral kept."""
        graph = building({"position": "upper", **SWITCHED}, {"position": "lower", **ON}, configuration="5-15R")
        part = self.part(graph, "not required", "not required")
        assert (part["configuration"], part["form"], part["marked"]) == ("5-15R", "duplex", "none")
        assert (part["hot_tab"], part["neutral_tab"]) == ("remove", "keep")

    def test_wholly_switched_keeps_both_tabs(self):
        graph = building({"position": "upper", **SWITCHED}, {"position": "lower", **SWITCHED})
        part = self.part(graph, "required", "required")
        assert (part["marked"], part["hot_tab"], part["neutral_tab"]) == ("both", "keep", "keep")

    def test_halves_on_two_controls_are_parted(self):
        other = SWITCHED | {"controls": ["S2"]}
        graph = building({"position": "upper", **SWITCHED}, {"position": "lower", **other})
        assert self.part(graph, "required", "required")["hot_tab"] == "remove"

    def test_halves_on_two_circuits_are_parted_and_the_neutral_has_to_be_asked(self):
        other = ON | {"circuit": "LP-2"}
        graph = building({"position": "upper", **ON}, {"position": "lower", **other})
        part = self.part(graph, "not required", "not required")
        assert (part["hot_tab"], part["neutral_tab"]) == ("remove", "cannot tell")

    def test_unknown_stays_unknown(self):
        graph = building({"position": "upper", **SWITCHED}, {"position": "lower"})
        part = self.part(graph, "required", "cannot tell")
        assert (part["hot_tab"], part["neutral_tab"], part["open"]) == ("cannot tell", "cannot tell", ["lower"])
        unlisted = building({"position": "upper", **SWITCHED}, complete=False)
        assert self.part(unlisted, "required")["hot_tab"] == "cannot tell"
        assert self.part(unlisted, "required")["form"] is None

    def test_a_device_without_a_tab_says_so(self):
        graph = building({"position": "upper", **SWITCHED}, {"position": "lower", **ON}, hot_tab="none on this device")
        part = self.part(graph, "required", "not required")
        assert part["hot_tab"] == "none on this device"
        assert "use another" in part["hot_tab_because"]

    def test_the_neutral_tab_is_that_of_the_device_to_use_instead(self):
        """One circuit, one neutral: on the device with tabs that is used instead, the neutral tab stays."""
        halves = ({"position": "upper", **SWITCHED}, {"position": "lower", **ON})
        graph = building(*halves, hot_tab=NO_TAB, neutral_tab=NO_TAB)
        assert self.part(graph, "required", "not required")["neutral_tab"] == "keep"

    def test_fed_alike_a_device_without_tabs_has_none_to_keep(self):
        graph = building({"position": "upper", **ON}, {"position": "lower", **ON}, hot_tab=NO_TAB, neutral_tab=NO_TAB)
        part = self.part(graph, "not required", "not required")
        assert (part["hot_tab"], part["neutral_tab"]) == (NO_TAB, NO_TAB)
        assert part["hot_tab_because"] == "all halves are fed alike, and this device has no tab: nothing to do"
        assert part["neutral_tab_because"] == "this device has no such tab: nothing to do"

    @pytest.mark.parametrize("form", ["plug-in strip", "hard-wired strip", "furniture module"])
    @pytest.mark.parametrize("tabs", [{}, {"hot_tab": NO_TAB, "neutral_tab": NO_TAB}], ids=["not given", "given"])
    def test_what_its_maker_feeds_inside_has_no_tab_to_break(self, form, tabs):
        graph = building({"position": "first", **SWITCHED}, {"position": "second", **ON}, device_type=form, **tabs)
        part = self.part(graph, "required", "not required")
        assert (part["hot_tab"], part["neutral_tab"]) == (NO_TAB, NO_TAB)
        assert part["hot_tab_because"] == "its maker feeds its outlets inside: there is no tab to break"

    def test_a_tab_that_is_given_on_such_a_form_is_told(self):
        halves = ({"position": "first", **SWITCHED}, {"position": "second", **ON})
        graph = building(*halves, device_type="furniture module", hot_tab="intact", neutral_tab="intact")
        part = self.part(graph, "required", "not required")
        assert (part["hot_tab"], part["neutral_tab"]) == ("remove", "keep")

    def test_a_single_has_no_tabs(self):
        part = self.part(building({"position": "only", **SWITCHED}), "required")
        assert (part["form"], part["hot_tab"], part["neutral_tab"]) == (
            "single",
            "none on this device",
            "none on this device",
        )

    def test_what_is_against_here_is_named(self):
        graph = building({"position": "only", **SWITCHED})
        bad = data.NOT_SATISFIED | {"subject": data.subject("den/R1/only", label="R1")}
        elsewhere = data.NOT_SATISFIED
        assert self.part(graph, "required", more=(bad, elsewhere))["against"] == ["R60 R1: not satisfied"]


class TestAmendmentEffect:
    ORDER = ("not required", "required")

    def effect(self, amended: dict[str, Any], base: dict[str, Any]) -> str:
        return amendment_effect(amended, base, self.ORDER)["effect"]

    def settled(self, outcome: str, *by: str, **more: Any) -> dict[str, Any]:
        chain = [{"by": name, "op": "replace", "cite": None, "says": ""} for name in by]
        rule = data.standing("marking.required#x", outcome, "because", "1") | {"chain": chain}
        about = data.subject("den/R1/only")
        return data.ruling("marking.required", "R03", about, outcome=outcome, standing=[rule], **more)

    def test_effects(self):
        no, yes = self.settled("not required"), self.settled("required", "BF-1")
        assert self.effect(yes, no) == "adds"
        assert self.effect(self.settled("not required", "BF-1"), self.settled("required")) == "removes"
        assert self.effect(yes, self.settled("required")) == "replaces"
        assert self.effect(no, no) == "no effect"
        assert self.effect(yes, data.READINGS_DIFFER) == "fixes a reading"
        assert self.effect(no, self.settled("not required", also_held=data.ALSO_HELD["also_held"])) == "fixes a reading"
        assert self.effect(yes, data.CANNOT_TELL) == "changes what can be told"

    def test_names_the_amendments_and_both_words(self):
        found = amendment_effect(
            self.settled("required", "BF-1", "nfpa-70 2014"), self.settled("not required"), self.ORDER
        )
        assert (found["base"], found["amended"], found["by"]) == ("not required", "required", ["BF-1"])


def test_governing_editions_once_each():
    editions = governing_editions([data.REQUIRED, data.NOT_SATISFIED, data.NO_ADOPTION])
    assert [(e["entry"], e["edition"]) for e in editions] == [("BF-EC23", "2023"), ("BF-gap", None)]


def test_settled_or_reading_lists_what_hangs_on_a_reading():
    found = settled_or_reading(data.EVERY_KIND)
    assert [entry["word"] for entry in found] == ["readings differ", "not required"]
    assert found[0]["under"][1] == {"readings": {"which-breaker": "largest"}, "outcomes": ["not satisfied"]}
    assert found[1]["also_held"][0]["outcomes"] == ["required"]

"""The marking schedule as data: expected values come from the small shop's record and its hand-written rulings."""

from __future__ import annotations

from typing import Any

import pytest

import ruling_data as data
from outputs.small_shop import KEEP_OFF, SHOP, everything, figure, marking, of, rating_of_c1, shop
from shipped_book import book
from yokebook.rulebook import Rulebook
from yokebook_adapters.marking_schedule import kinds_to_keep_off, marking_schedule


def schedule(*more: dict[str, Any], text: str = SHOP, only: list[dict[str, Any]] | None = None) -> dict[str, Any]:
    graph = shop(text)
    rulings = [*(everything(graph) if only is None else only), *more]
    return marking_schedule(rulings, [graph], book(), KEEP_OFF)


def line(path: str, *more: dict[str, Any], **how: Any) -> dict[str, Any]:
    return next(line for line in schedule(*more, **how)["lines"] if line["yoke"] == path)


class TestLines:
    def test_one_for_each_yoke_in_the_order_of_the_project(self):
        assert [line["yoke"] for line in schedule()["lines"]] == ["shop/R1", "shop/G1", "store/Q1", "store/S1"]

    def test_a_yoke_that_nothing_rules_on_has_no_line(self):
        assert schedule(only=[])["lines"] == []

    def test_halves_mark_and_tabs_of_a_split_duplex(self):
        found = line("shop/R1")
        assert (found["label"], found["room"]) == ("R1, north wall, shop floor", "shop floor")
        assert (found["hot_tab"], found["neutral_tab"]) == ("remove", "keep")
        upper, lower = found["halves"]
        assert (upper["position"], upper["supply"], upper["controls"]) == ("upper", "controlled", ["C1"])
        assert (upper["circuit"], upper["load"], upper["load_kind"]) == ("P/1", "plotter", "office machine")
        assert (lower["supply"], lower["controls"], lower["load"]) == ("always on", [], "none")
        assert found["mark"] == {"halves": "upper", "form": ["symbol and word"], "place": ["face"]}

    def test_what_is_not_given_is_told_as_not_known(self):
        found = line("store/S1")
        assert found["halves"][0]["supply"] is None and found["halves"][0]["load"] is None
        assert found["wires"] == ["only: not given whether its hot is switched", "neutral of P/3"]
        assert found["device"] == "5-15R single, marking not settled"
        assert found["open"] == ["only"]

    def test_features_that_a_ruling_asks_for_and_those_given(self):
        assert line("shop/R1")["features"] == [{"what": "tamper-resistant", "word": "required"}]
        assert line("shop/R1")["device"] == "5-20R duplex, tamper-resistant, marked as controlled on upper half"
        given = SHOP.replace("location: north wall", "location: north wall\n        isolated_ground: yes")
        assert line("shop/R1", text=given)["features"] == [
            {"what": "tamper-resistant", "word": "required"},
            {"what": "isolated ground", "word": "as given"},
        ]

    def test_a_feature_that_cannot_be_told_is_in_the_order_as_not_settled(self):
        open_ = of(shop(), "protection.weather-resistant", "R42", "store/Q1", "yoke", status="cannot tell", standing=[])
        assert line("store/Q1", open_)["device"] == "5-15R duplex, weather-resistant not settled, unmarked"

    def test_only_questions_that_the_line_answers_are_noted(self):
        """Whether what is there satisfies is no matter of what to buy."""
        about = (shop(), "protection.weather-resistant", "R42", "store/Q1", "yoke")
        open_ = of(*about, status="cannot tell", standing=[], asks="Must it be?")
        there = open_ | {"question": "protection.weather-resistant.satisfied", "asks": "Is it?"}
        assert [note["asks"] for note in line("store/Q1", open_, there)["notes"]] == ["Must it be?"]

    def test_what_is_not_required_is_no_feature(self):
        no = of(shop(), "protection.weather-resistant", "R42", "store/Q1", "yoke", outcome="not required")
        assert line("store/Q1", no)["features"] == []

    def test_cover_and_protection(self):
        cover = of(shop(), "protection.weather-cover", "R42", "store/Q1", "yoke", outcome="in use")
        arc = of(shop(), "protection.arc-fault", "R44", "store/Q1/upper", "contact", outcome="required")
        found = line("store/Q1", cover, arc)
        assert found["cover"] == "in use"
        assert found["protection"] == [{"what": "arc-fault protection of the circuit", "word": "required", "by": ""}]

    def test_two_circuits_on_one_yoke(self):
        found = line("store/Q1")
        assert (found["hot_tab"], found["neutral_tab"], found["tie"]) == ("remove", "cannot tell", ["not satisfied"])
        assert found["wires"] == [
            "hot that is always on, of P/1",
            "hot that is always on, of P/3",
            "neutrals: not given whether the circuits share one",
        ]

    @pytest.mark.parametrize(
        ("shared", "wires"), [("no", ["neutral of P/1", "neutral of P/3"]), ("yes", ["neutral shared by the circuits"])]
    )
    def test_neutrals_as_far_as_they_are_given(self, shared: str, wires: list[str]):
        text = SHOP.replace("volts: 120}", f"volts: 120, shared_neutral: {shared}}}")
        assert line("store/Q1", text=text)["wires"][2:] == wires

    def test_a_ruling_on_tabs_that_is_against_is_a_note_on_the_wires(self):
        tabs = {"outcome": "pigtail needed", "says": "join the neutral in the box", "against": True}
        pigtail = of(shop(), "yoke.tabs", "R31", "shop/R1", "yoke", **tabs)
        assert line("shop/R1", pigtail)["wires"][-1] == "pigtail needed: join the neutral in the box"

    def test_what_not_to_plug_in_stands_at_controlled_halves_alone(self):
        assert line("shop/R1")["keep_off"] == {"halves": ["upper"], "kinds": ["security", "refrigeration"]}
        assert line("store/Q1")["keep_off"] == {"halves": [], "kinds": []}

    def test_a_load_that_does_not_belong_there_is_to_be_moved(self):
        assert line("shop/G1")["move"] == [{"load": "refrigerator", "half": "upper", "word": "move to always-on [R51]"}]
        assert line("shop/R1")["move"] == []

    def test_what_to_tick_off(self):
        assert line("shop/R1")["check"] == [
            "hot tab broken off",
            "neutral tab left in",
            "mark visible with the plate on",
            "C1 takes the power away (set 15 min, found ____ min)",
            "photo no. ____",
        ]

    def test_weak_rulings_behind_a_line_are_noted_and_idle_ones_are_not(self):
        assert [(note["ruling"], note["why"]) for note in line("shop/R1")["notes"]] == [("R12", "memory")]
        [note] = line("store/S1")["notes"]
        assert (note["ruling"], note["why"]) == ("R03", "unsettled")
        assert note["word"] == "cannot tell, could be not required or required [R03]"

    def test_also_held_and_not_checked_are_in_the_device_and_in_the_notes(self):
        held = [{"reading": "any-switch", "alternative": "all", "says": "any switch counts", "holders": "",
                 "source": "an invented source", "outcomes": ["required"]}]  # fmt: skip
        rulings = marking(shop())
        for ruling in rulings:
            if ruling["subject"]["id"] == "store/Q1/upper" and ruling["ruling"] == "R03":
                ruling |= {"also_held": held, "not_checked": True}
        found = line("store/Q1", only=rulings)
        assert found["device"] == "5-15R duplex, unmarked (not checked in this edition, also held otherwise)"
        assert found["notes"][0]["why"] == "also held"
        assert "also held: required (any switch counts; an invented source)" in found["notes"][0]["word"]
        assert "not checked in this edition" in found["notes"][0]["word"]

    def test_halves_that_may_be_missing_are_said(self):
        text = SHOP.replace("device_type: single\n", "device_type: single\n        complete: {contacts: no}\n")
        assert line("store/S1", text=text)["device"] == (
            "5-15R single, marking not settled (the record may not list every half)"
        )


class TestDevicesThatAreNotMade:
    def test_a_ground_fault_duplex_with_halves_fed_apart_is_replaced_and_said(self):
        found = line("shop/G1")
        assert found["made"] == "no"
        assert found["device"] == "5-20R duplex, marked as controlled on upper half"
        assert found["made_because"] == (
            "the halves are fed apart, and a device with ground-fault protection built in has no tab to break"
        )
        assert found["instead"] == (
            "a duplex with break-off tabs, with the ground-fault protection in the breaker or in a device upstream"
        )
        assert found["hot_tab"] == "remove"
        [protection] = found["protection"]
        assert (protection["what"], protection["by"]) == ("ground-fault protection", "breaker or upstream device")

    def test_it_is_never_in_the_order(self):
        [total] = [each for each in schedule()["order"]["devices"] if each["instead_of_one_not_made"]]
        assert total["yokes"] == ["G1, at the sink, shop floor"]
        assert not any("GFCI" in each["device"] for each in schedule()["order"]["devices"])

    def test_where_the_tab_is_given_as_missing_the_same_is_said_and_the_new_one_is_broken(self):
        no_tab = "GFCI duplex\n        hot_tab: none on this device\n        neutral_tab: none on this device"
        text = SHOP.replace("GFCI duplex", no_tab)
        found = line("shop/G1", text=text)
        assert (found["made"], found["hot_tab"], found["neutral_tab"]) == ("no", "remove", "keep")
        assert "take one that has" in found["hot_tab_because"]

    def test_a_duplex_that_itself_protects_is_one_too(self):
        text = SHOP.replace("device_type: GFCI duplex", "device_type: duplex\n        gfci: this device")
        assert line("shop/G1", text=text)["made"] == "no"

    def test_fed_alike_it_stays(self):
        text = SHOP.replace("supply: controlled, circuit: P/1, load: refrigerator, controls: [C1]",
                            "supply: always on, circuit: P/1, load: refrigerator, controls: []")  # fmt: skip
        found = line("shop/G1", text=text)
        assert (found["made"], found["form"]) == (None, "GFCI duplex")
        assert found["device"].startswith("5-20R GFCI duplex")

    def test_fed_alike_its_missing_tabs_are_neither_kept_nor_checked(self):
        none = "none on this device"
        tabs = f"GFCI duplex\n        hot_tab: {none}\n        neutral_tab: {none}"
        text = SHOP.replace("GFCI duplex", tabs).replace(
            "supply: controlled, circuit: P/1, load: refrigerator, controls: [C1]",
            "supply: always on, circuit: P/1, load: refrigerator, controls: []",
        )
        found = line("shop/G1", text=text)
        assert (found["made"], found["hot_tab"], found["neutral_tab"]) == (None, none, none)
        assert not any("tab" in each for each in found["check"])

    @pytest.mark.parametrize("more", ["", "\n        hot_tab: none on this device"], ids=["not given", "given"])
    def test_a_strip_has_no_tab_to_break_and_no_other_device_is_wanted(self, more: str):
        text = SHOP.replace("device_type: GFCI duplex", f"device_type: plug-in strip\n        gfci: this device{more}")
        found = line("shop/G1", text=text)
        assert (found["hot_tab"], found["made"]) == ("none on this device", None)
        assert found["hot_tab_because"] == "its maker feeds its outlets inside: there is no tab to break"
        assert found["device"] == "5-20R plug-in strip, marked as controlled on upper half"
        assert not any("tab" in each for each in found["check"])
        assert [each["by"] for each in found["protection"]] == ["this device"]
        [total] = [each for each in schedule(text=text)["order"]["devices"] if "strip" in each["device"]]
        assert (total["hot_tab_removed"], total["instead_of_one_not_made"]) == (0, 0)

    def test_where_it_is_not_known_whether_the_halves_are_fed_apart_it_is_said(self):
        fed = "supply: controlled, circuit: P/1, load: refrigerator, controls: [C1]"
        text = SHOP.replace(fed, "load: refrigerator")
        found = line("shop/G1", text=text)
        assert (found["hot_tab"], found["made"]) == ("cannot tell", None)
        assert found["made_because"].startswith("if the halves are fed apart, no such device is made")

    def test_rulings_on_what_is_made_are_taken_up(self):
        why = {"standing": [data.standing("yoke.part-exists#x", "ask the maker", "Few are made.", "devices")]}
        change = of(shop(), "yoke.part-exists", "R58", "store/Q1", "yoke", outcome="change the design",
                    says="no such device is made; protect or supply it otherwise", **why)  # fmt: skip
        found = line("store/Q1", change)
        assert (found["made"], found["made_because"]) == ("no", "Few are made.")
        assert found["instead"] == "no such device is made; protect or supply it otherwise"
        assert found["device"] == "5-15R device of a kind to be chosen, unmarked"
        ask = of(shop(), "yoke.part-exists", "R58", "store/Q1", "yoke", outcome="ask the maker", **why)
        assert (line("store/Q1", ask)["made"], line("store/Q1", ask)["made_because"]) == ("ask", "Few are made.")


class TestControls:
    def control(self, *rulings: dict[str, Any], text: str = SHOP) -> dict[str, Any]:
        [found] = line("shop/R1", only=[*marking(shop()), *rulings], text=text)["controls"]
        return found

    def test_rated_and_needed(self):
        found = self.control(rating_of_c1(shop()))
        assert (found["control"], found["label"], found["rated"]) == ("C1", "shop sensor", "15 A")
        assert [figure["value"] for figure in found["needed"]] == ["20 A", "20 A"]  # not the receptacle's own rating
        assert found["rating"] == ["not satisfied"]
        assert found["order"] == "ceiling sensor and relay, at least 20 A"

    def test_two_ratings_where_the_clause_is_read_in_two_ways(self):
        figures = [
            figure("control.circuit_breaker", "C1", "the breaker", 15, "A"),
            figure("control.breaker_permitted", "C1", "the breaker allowed", 20, "A"),
        ]
        differ = rating_of_c1(shop(), status="readings differ", outcome=None, word="readings differ", figures=figures)
        assert self.control(differ)["order"] == "ceiling sensor and relay, at least 15 A or 20 A as the clause is read"

    def test_figures_of_another_control_are_not_its_own(self):
        figures = [
            figure("control.circuit_breaker", "C2", "the breaker", 30, "A"),
            figure("control.circuit_breaker", "C1", "the breaker", 20, "A"),
        ]
        assert self.control(rating_of_c1(shop(), figures=figures))["order"] == "ceiling sensor and relay, at least 20 A"

    def test_numbers_are_sorted_as_numbers(self):
        figures = [
            figure("control.circuit_breaker", "C1", "the breaker", 100, "A"),
            figure("control.breaker_permitted", "C1", "the breaker allowed", 20, "A"),
        ]
        assert "at least 20 A or 100 A" in self.control(rating_of_c1(shop(), figures=figures))["order"]

    def test_a_figure_that_is_not_known_leaves_the_rating_not_known(self):
        figures = [
            figure("control.circuit_breaker", "C1", "the breaker", None, "A"),
            figure("control.breaker_permitted", "C1", "the breaker allowed", 20, "A"),
        ]
        found = self.control(rating_of_c1(shop(), figures=figures))
        assert found["order"] == "ceiling sensor and relay, rating needed not known, rated 15 A as given"

    def test_loads_that_take_more_decide(self):
        load = figure("control.load_amps", "C1", "the current of everything on it", 23, "A")
        loads = of(shop(), "control.load", "R13", "C1", "control", outcome="not satisfied", figures=[load])
        found = self.control(rating_of_c1(shop()), loads)
        assert found["order"] == "ceiling sensor and relay, at least 20 A, loads of 23 A"
        small = load | {"value": "12 A", "exact": "12"}
        loads = loads | {"figures": [small]}
        found = self.control(rating_of_c1(shop()), loads)
        assert found["order"] == "ceiling sensor and relay, at least 20 A"
        assert [figure["value"] for figure in found["carries"]] == ["12 A"]

    def test_motors_and_whether_it_may_feed_receptacles(self):
        motor = figure("control.motor_hp", "C1", "the motors together", 1, "hp")
        motors = of(shop(), "control.horsepower", "R40", "C1", "control", outcome="satisfied", figures=[motor])
        feed = of(shop(), "control.permitted", "R11", "C1", "control", outcome="not permitted", against=True)
        assert self.control(motors, feed)["order"] == (
            "ceiling sensor and relay, rating needed not known, rated 15 A as given, motors of 1 hp, "
            "may feed receptacles: not permitted"
        )

    def test_no_rating_asked_for(self):
        idle = rating_of_c1(shop(), outcome="does not apply", idle=True, figures=[])
        text = SHOP.replace(", amps: 15", "")
        assert self.control(idle, text=text)["order"] == (
            "ceiling sensor and relay, no rating asked for by its receptacles, rating not given"
        )


class TestOrder:
    def test_devices_by_part_type_with_tabs_to_break(self):
        devices = schedule()["order"]["devices"]
        assert [(each["device"], each["count"], each["hot_tab_removed"]) for each in devices] == [
            ("5-15R duplex, unmarked", 1, 1),
            ("5-15R single, marking not settled", 1, 0),
            ("5-20R duplex, marked as controlled on upper half", 1, 1),
            ("5-20R duplex, tamper-resistant, marked as controlled on upper half", 1, 1),
        ]

    def test_the_order_counts_every_line_once(self):
        found = schedule()
        assert sum(each["count"] for each in found["order"]["devices"]) == len(found["lines"])

    def test_a_control_of_two_devices_is_ordered_once(self):
        [control] = schedule()["order"]["controls"]
        assert (control["count"], control["for"]) == (1, ["shop sensor"])
        assert control["control"] == "ceiling sensor and relay, at least 20 A, may feed receptacles: permitted"

    def test_circuits_to_tie(self):
        assert schedule()["order"]["breaker_ties"] == [
            {"yoke": "store/Q1", "label": "Q1, by the door, store", "circuits": ["P/1", "P/3"], "word": "not satisfied"}
        ]


def test_kinds_to_keep_off_are_those_that_the_tables_in_force_name():
    """2023: life-safety equipment is fed ahead of every switch, security is for the authority; medical equipment,
    refrigerators and vaccine stores belong on what nothing switches."""
    code = Rulebook(book()).edition("nfpa-70", "2023")
    found = kinds_to_keep_off(code.in_force, book())
    assert [(each["kind"], each["word"], each["ruling"]) for each in found] == [
        ("life safety", "not permitted", "R50"),
        ("security", "ask the authority", "R50"),
        ("medical", "move to always-on", "R51"),
        ("refrigeration", "move to always-on", "R51"),
        ("vaccine storage", "move to always-on", "R51"),
    ]
    assert kinds_to_keep_off({}, book()) == []

"""Plan against field: every difference of two records of the small shop, changed by hand, and of rulings on them."""

from __future__ import annotations

from typing import Any

import pytest

import ruling_data as data
from outputs.small_shop import MEMORY, SHOP, of, rating_of_c1, shop
from shipped_book import book
from yokebook_adapters.field_differences import differences
from yokebook_adapters.field_differences_text import render_differences

SMALLER = ("north wall\n        configuration: 5-20R", "north wall\n        configuration: 5-15R")
CONFIGURATION = "The receptacle's configuration by the dimensional standard's name (NEMA WD 6)."


def differ(
    *changes: tuple[str, str], planned: list[dict[str, Any]] | None = None, found: list[dict[str, Any]] | None = None
) -> dict[str, Any]:
    text = SHOP
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new, 1)
    return differences(shop(), shop(text), book(), planned or [], found or [])


def things(found: dict[str, Any]) -> list[tuple[str, str, str | None]]:
    return [(room["room"], thing["path"], thing["only"]) for room in found["rooms"] for thing in room["things"]]


def only_thing(found: dict[str, Any]) -> dict[str, Any]:
    [[thing]] = [room["things"] for room in found["rooms"]]
    return thing


class TestGiven:
    def test_the_same_record_differs_in_nothing(self):
        assert differ() == {"project": [], "rooms": [], "count": 0}

    def test_a_word(self):
        found = differ(SMALLER)
        thing = only_thing(found)
        assert (thing["kind"], thing["path"], thing["label"]) == ("yoke", "shop/R1", "R1, north wall, shop floor")
        assert thing["facts"] == [
            {"what": "receptacle.configuration", "says": CONFIGURATION, "was": "5-20R", "is": "5-15R"}
        ]
        assert found["count"] == 1

    def test_a_number_with_its_unit_and_one_that_is_the_same_in_another_unit(self):
        [fact] = only_thing(differ(("off_delay_min: 15 min", "off_delay_min: 1 h")))["facts"]
        assert (fact["was"], fact["is"]) == ("15 min", "60 min")
        assert differ(("off_delay_min: 15 min", "off_delay_min: 1/4 h"))["count"] == 0

    def test_a_fact_that_only_one_gives_and_a_text(self):
        [fact] = only_thing(differ((", off_delay_min: 15 min", "")))["facts"]
        assert (fact["was"], fact["is"]) == ("15 min", "not given")
        [fact] = only_thing(differ(("location: by the door", "location: behind the door")))["facts"]
        assert (fact["what"], fact["was"], fact["is"]) == ("receptacle.location", "by the door", "behind the door")

    def test_who_stated_it_is_no_difference(self):
        assert differ(("2024-10-15}}", "2024-10-15}, stated_by: me}"))["count"] == 0

    def test_a_thing_that_only_one_has(self):
        desk = SHOP[SHOP.index("      - id: S1") : SHOP.index("controls:\n")]
        found = differ((desk, ""))
        assert things(found) == [("store", "store/S1", "plan"), ("store", "store/S1/only", "plan")]
        assert found["count"] == 2
        found = differ(("loads:\n", "loads:\n  - {id: kettle, kind: cooking}\n"))
        assert things(found) == [("", "kettle", "field")]

    def test_a_renamed_thing_is_one_gone_and_one_new(self):
        found = differ(("- id: S1", "- id: S2"))
        assert things(found) == [
            ("store", "store/S1", "plan"),
            ("store", "store/S2", "field"),
            ("store", "store/S1/only", "plan"),
            ("store", "store/S2/only", "field"),
        ]

    @pytest.mark.parametrize(
        ("old", "new", "was", "now"),
        [
            ("circuit: P/1, load: plotter", "circuit: P/3, load: plotter", "P/1", "P/3"),
            ("circuit: P/1, load: plotter", "load: plotter", "P/1", "not given"),
            ("circuit: P/1, load: plotter", "circuit: none, load: plotter", "P/1", "none"),
        ],
    )
    def test_a_reference(self, old: str, new: str, was: str, now: str):
        [reference] = only_thing(differ((old, new)))["references"]
        assert reference == {"what": "circuit", "says": "its circuit", "was": was, "is": now}

    def test_a_list(self):
        control = ("circuits:\n", "  - {id: C2, name: clock}\ncircuits:\n")
        found = differ(("load: plotter, controls: [C1]", "load: plotter, controls: [C2]"), control)
        [entry] = [thing for room in found["rooms"] for thing in room["things"] if thing["lists"]]
        assert entry["lists"] == [
            {"what": "controls", "says": "its controls", "was": "C1", "is": "C2", "gone": ["C1"], "new": ["C2"]}
        ]

    @pytest.mark.parametrize(("said", "now"), [("", "none"), (", complete: {controls: no}", "not given")])
    def test_an_empty_list_is_none_only_where_it_is_said_to_be_whole(self, said: str, now: str):
        thing = only_thing(differ(("load: plotter, controls: [C1]", f"load: plotter, controls: []{said}")))
        [of_it] = thing["lists"]
        assert (of_it["was"], of_it["is"], of_it["gone"], of_it["new"]) == ("C1", now, ["C1"], [])

    def test_the_order_of_a_list_is_no_difference(self):
        text = SHOP.replace("circuits:\n", "  - {id: C2, name: clock}\ncircuits:\n")
        orders = ("C1, C2", "C2, C1")
        was, now = (text.replace("plotter, controls: [C1]", f"plotter, controls: [{ids}]") for ids in orders)
        assert differences(shop(was), shop(now), book(), [], [])["count"] == 0

    def test_completeness(self):
        found = differ(("device_type: single\n", "device_type: single\n        complete: {contacts: no}\n"))
        [complete] = only_thing(found)["complete"]
        assert (complete["what"], complete["was"], complete["is"]) == ("contacts", "yes", "no")

    def test_place_and_dates(self):
        found = differ(("2024-10-15", "2023-10-15"), ("place: demo/tamarisk/brindle-falls", "place: demo/tamarisk"))
        assert found["project"] == [
            {"what": "place", "was": "demo/tamarisk/brindle-falls", "is": "demo/tamarisk"},
            {"what": "permit application", "was": "2024-10-15", "is": "2023-10-15"},
        ]
        assert found["count"] == 2

    def test_rooms_in_the_plans_order_and_what_is_in_none_last(self):
        found = differ(
            ("location: at the desk", "location: at the counter"),
            ("location: north wall", "location: south wall"),
            ("name: desk, breaker_amps: 15", "name: desk, breaker_amps: 20"),
            ("kind: refrigeration", "kind: cooking"),
        )
        # P/3 feeds the store alone, the refrigerator is plugged in on the shop floor
        assert things(found) == [
            ("shop floor", "shop/R1", None),
            ("shop floor", "refrigerator", None),
            ("store", "store/S1", None),
            ("store", "P/3", None),
        ]


class TestRuled:
    def test_a_word_that_differs(self):
        was = rating_of_c1(shop())
        now = was | {"outcome": "satisfied", "word": "satisfied", "says": "it is big enough", "against": False}
        found = differ(planned=[was], found=[now])
        [ruling] = found["rooms"][0]["rulings"]
        assert (ruling["ruling"], ruling["path"], ruling["against"]) == ("R12", "C1", False)
        assert ruling["was"] == "not satisfied - it is too small; rests on memory [R12]"
        assert ruling["is"] == "satisfied - it is big enough; rests on memory [R12]"
        assert found["count"] == 1

    def test_the_same_word_is_no_difference(self):
        was = rating_of_c1(shop())
        assert differ(planned=[was], found=[was | {"says": "otherwise"}])["count"] == 0

    def test_what_is_against_now_stands_first(self):
        first = of(shop(), "marking.required", "R03", "shop/R1/upper", "contact", outcome="required")
        bad = rating_of_c1(shop())
        planned = [first, bad | {"outcome": "satisfied", "word": "satisfied", "against": False}]
        found = [first | {"outcome": "not required", "word": "not required"}, bad]
        rulings = differ(planned=planned, found=found)["rooms"][0]["rulings"]
        assert [(ruling["ruling"], ruling["against"]) for ruling in rulings] == [("R12", True), ("R03", False)]

    def test_what_is_asked_of_one_alone(self):
        one = of(shop(), "marking.required", "R03", "shop/R1/upper", "contact", outcome="required", says="it must be")
        [ruling] = differ(planned=[one])["rooms"][0]["rulings"]
        assert (ruling["was"], ruling["is"]) == ("required - it must be [R03]", None)
        [ruling] = differ(found=[one])["rooms"][0]["rulings"]
        assert (ruling["was"], ruling["is"]) == (None, "required - it must be [R03]")

    def test_two_documents_are_not_mixed_up(self):
        electrical = of(shop(), "share.marked", "R60", "shop/R1/upper", "contact", outcome="satisfied")
        energy = electrical | {"document": data.DOCUMENT | {"kind": "energy"}, "word": "not satisfied"}
        assert differ(planned=[electrical, energy], found=[energy, electrical])["count"] == 0


WHOLE = """\
PLAN AND FIELD
Invented shop (shop.yaml)
City of Brindle Falls; permit application 2024-10-15
Electrical: National Electrical Code, 2023 edition, with BF-1
Field: field.yaml. Both are ruled on by the law above.

5 differences in what is given, 1 ruling with another word, 1 of them against as it is now.

The project itself
  permit application: was 2024-10-15, is 2023-10-15 (not used)

Shop floor
  R1, north wall
    The receptacle's configuration by the dimensional standard's name (NEMA WD 6): was 5-20R, is
      5-15R
  G1 upper, at the sink
    its load: was refrigerator, is not given
  control C1, shop sensor
    How long after people leave, or after the signal, the power goes off, as set: was 15 min, is 30
      min
  Rulings
    AGAINST control C1, shop sensor: Must this receptacle be marked?
      was satisfied - it is big enough; rests on memory [R12]
      is not satisfied - it is too small; rests on memory [R12]

Not in one room
  load kettle
    only in the field (load kettle)

CAUTIONS
  - Line voltage can kill.
"""


class TestText:
    CHANGES = (
        ("2024-10-15", "2023-10-15"),
        SMALLER,
        ("load: refrigerator, controls", "controls"),
        ("off_delay_min: 15 min", "off_delay_min: 30 min"),
        ("loads:\n", "loads:\n  - {id: kettle, kind: cooking}\n"),
    )

    def test_the_whole_text(self):
        now = rating_of_c1(shop())
        was = now | {"outcome": "satisfied", "word": "satisfied", "says": "it is big enough", "against": False}
        assert was["checked"] == MEMORY
        found = differ(*self.CHANGES, planned=[was], found=[now])
        assert render_differences(data.report(was), "field.yaml", found) == WHOLE

    def test_no_difference(self):
        text = render_differences(data.report(data.SATISFIED), "field.yaml", differ())
        assert "No difference, neither in what is given nor in what is ruled of it." in text

    def test_things_that_differ_alike_share_a_block(self):
        lower = "load: none, controls: []}\n      - id: G1"
        moved = [(f"circuit: P/1, {rest}", f"circuit: P/3, {rest}") for rest in ("load: plotter", lower)]
        found = differ(*moved)
        text = render_differences(data.report(data.SATISFIED), "field.yaml", found)
        assert "  R1 upper and R1 lower\n    its circuit: was P/1, is P/3\n" in text

    def test_narrow_screens(self):
        text = render_differences(data.report(data.SATISFIED), "field.yaml", differ(*self.CHANGES), 50)
        assert max(map(len, text.split("\n"))) <= 50
        assert text.isascii()

"""Questions for the authority: what hangs on each, what each answer gives, and in which order they stand.

The rulings are written by hand on the small shop's record; the readings and questions are the rulebook's own.
"""

from __future__ import annotations

from typing import Any

import ruling_data as data
from outputs.small_shop import MEMORY, SHOP, of, shop
from shipped_book import book
from yokebook_adapters.authority import questions_for_authority
from yokebook_adapters.authority_text import render_questions

CORD = "control.rating.cord-and-plug"
SWITCH, CARD, ANY = "switch-rating", "card-switch", "any-switch"
ACTUAL, LARGEST = "actual breaker", "largest permitted breaker"


def asked(*rulings: dict[str, Any], text: str = SHOP) -> list[dict[str, Any]]:
    questions = {**book().questions, **{question.id: question for question in data.QUESTIONS}}
    return questions_for_authority(rulings, [shop(text)], book().readings, questions)


def open_reading(name: str) -> dict[str, Any]:
    reading = book().readings[name]
    alternatives = [
        {"id": a.id, "says": a.says, "holders": a.holders, "source": a.source, "standing": a.standing}
        for a in reading.alternatives.values()
    ]
    return {"reading": name, "asks": reading.asks, "cite": None, "alternatives": alternatives}


def held(name: str, alternative: str, *outcomes: str) -> dict[str, Any]:
    of_it = book().readings[name].alternatives[alternative]
    told = {"says": of_it.says, "holders": of_it.holders, "source": of_it.source}
    return {"reading": name, "alternative": alternative, "outcomes": list(outcomes), **told}


def differ(**more: Any) -> dict[str, Any]:
    """The sensor's rating, which is enough for the breaker that is there and not for the largest allowed."""
    under = [
        {"readings": {SWITCH: LARGEST}, "outcomes": ["not satisfied"]},
        {"readings": {SWITCH: ACTUAL}, "outcomes": ["satisfied"]},
    ]
    how = {"status": "readings differ", "says": "", "standing": [], "possible": ["satisfied", "not satisfied"]}
    return of(shop(), CORD, "R12", "C1", "control", **{
        "under": under, "readings_open": [open_reading(SWITCH)], "checked": MEMORY, **how, **more,
    })  # fmt: skip


def also_held(path: str = "shop/R1/upper") -> dict[str, Any]:
    said = {"outcome": "not required", "says": "no mark is required", "possible": ["not required"]}
    return of(shop(), "marking.required", "R03", path, "contact", also_held=[held(ANY, "all but lighting", "required")],
              **said)  # fmt: skip


class TestReadings:
    def test_published_readings_that_differ(self):
        [question] = asked(differ())
        reading = book().readings[SWITCH]
        assert (question["kind"], question["id"], question["asks"]) == ("reading", SWITCH, reading.asks)
        assert question["cite"] == {"document": "nfpa-70", "section": "404.14, cord-and-plug loads"}
        assert question["office"] == "the Brindle Falls building counter"
        assert question["devices"] == ["shop/R1", "shop/G1"]  # the two that the sensor controls
        assert question["why"] == "published readings differ on 1"
        gives = {each["id"]: each["gives"] for each in question["alternatives"]}
        assert gives == {LARGEST: {"R12": {"not satisfied": 1}}, ACTUAL: {"R12": {"satisfied": 1}}}
        assert question["meanwhile"] == {
            "id": LARGEST,
            "says": reading.alternatives[LARGEST].says,
            "because": reading.plain_because,
        }
        assert [ruling["checked"] for ruling in question["rulings"]] == ["memory"]

    def test_who_holds_which_with_its_source_and_standing(self):
        [question] = asked(also_held())
        published, argued = question["alternatives"]
        assert (published["standing"], published["holders"]) == ("published", "two trade magazines")
        assert "Do I Have Something On My Face?" in published["source"]
        assert argued["standing"] == "argued" and argued["holders"].startswith("common practice")

    def test_a_settled_ruling_that_is_also_held_otherwise(self):
        [question] = asked(also_held(), also_held("shop/G1/upper"))
        gives = {each["id"]: each["gives"] for each in question["alternatives"]}
        assert gives == {
            "automatic or built-in only": {"R03": {"not required": 2}},
            "all but lighting": {"R03": {"required": 2}},
        }
        assert question["why"] == "2 settled, but also held otherwise"

    def test_what_cannot_be_told_yet(self):
        how = {"status": "cannot tell", "possible": ["satisfied", "not satisfied"]}
        [question] = asked(differ(**how, under=[{"readings": {}, "outcomes": ["not satisfied", "satisfied"]}]))
        assert question["waits"] == 1
        assert [each["gives"] for each in question["alternatives"]] == [{"R12": {"cannot tell": 1}}] * 2

    def test_an_alternative_that_settles_it_though_facts_are_missing(self):
        how = {"status": "cannot tell", "possible": ["satisfied", "not satisfied"]}
        under = [
            {"readings": {SWITCH: ACTUAL}, "outcomes": ["satisfied"]},
            {"readings": {SWITCH: LARGEST}, "outcomes": ["not satisfied", "satisfied"]},
        ]
        [question] = asked(differ(**how, under=under))
        gives = {each["id"]: each["gives"]["R12"] for each in question["alternatives"]}
        assert gives == {ACTUAL: {"satisfied": 1}, LARGEST: {"cannot tell": 1}}

    def test_another_reading_that_matters_too_leaves_both_outcomes(self):
        under = [
            {"readings": {SWITCH: ACTUAL}, "outcomes": ["satisfied"]},
            {"readings": {SWITCH: LARGEST, CARD: "automatic"}, "outcomes": ["not satisfied"]},
            {"readings": {SWITCH: LARGEST, CARD: "by a person"}, "outcomes": ["satisfied"]},
        ]
        found = asked(differ(under=under, readings_open=[open_reading(SWITCH), open_reading(CARD)]))
        gives = {q["id"]: {each["id"]: each["gives"]["R12"] for each in q["alternatives"]} for q in found}
        assert gives[SWITCH] == {ACTUAL: {"satisfied": 1}, LARGEST: {"not satisfied or satisfied": 1}}

    def test_where_only_the_other_reading_decides_both_outcomes_are_left(self):
        under = [
            {"readings": {CARD: "automatic"}, "outcomes": ["not satisfied"]},
            {"readings": {CARD: "by a person"}, "outcomes": ["satisfied"]},
        ]
        found = asked(differ(under=under, readings_open=[open_reading(SWITCH), open_reading(CARD)]))
        [rating] = [question for question in found if question["id"] == SWITCH]
        assert [each["gives"] for each in rating["alternatives"]] == [{"R12": {"not satisfied or satisfied": 1}}] * 2

    def test_an_argued_alternative_beside_missing_facts_is_no_answer_by_itself(self):
        how = {"status": "cannot tell", "outcome": None, "word": "cannot tell"}
        [question] = asked(also_held() | how | {"possible": ["not required", "required"]})
        gives = {each["id"]: each["gives"] for each in question["alternatives"]}
        assert gives["all but lighting"] == {"R03": {"cannot tell, could also be required": 1}}
        assert gives["automatic or built-in only"] == {"R03": {"cannot tell": 1}}

    def test_a_ruling_on_which_no_reading_bears_asks_nothing(self):
        assert asked(data.REQUIRED, data.NOT_SATISFIED, data.CANNOT_TELL) == []


class TestLawNotEntered:
    def test_an_entry_that_nobody_made(self):
        [question] = asked(data.NO_ADOPTION)
        assert (question["kind"], question["id"]) == ("entry", "BF-gap")
        assert question["asks"] == (
            "Which electrical code and edition governs here on the project's dates, with which amendments?"
        )
        assert question["why"] == "no adoption is entered for 2019-05-01"
        assert question["office"] == "the authority having jurisdiction"
        assert question["rank"] == "safety"  # what is not entered may be against

    def test_amendments_that_may_exist_are_asked_once(self):
        document = data.DOCUMENT | {"amendments_entered": "some entered"}
        found = asked(data.SATISFIED | {"document": document}, data.NOT_SATISFIED | {"document": document})
        [question] = found
        assert question["asks"] == (
            "Are there local amendments, beside BF-1, to National Electrical Code, 2023 edition?"
        )
        assert (question["kind"], question["why"]) == ("amendments", "only some amendments are entered")
        assert len(question["rulings"]) == 2

    def test_nothing_is_asked_where_all_are_entered_or_nothing_is_in_force(self):
        assert asked(data.SATISFIED, data.NONE_IN_FORCE) == []


class TestOnlyTheAuthority:
    def test_outcomes_that_say_so_are_joined_by_their_reason(self):
        rule = data.standing("load.emergency#security", "ask the authority", "Security equipment goes dead.", "750.30")
        said = {"outcome": "ask the authority", "standing": [rule], "against": True}
        found = asked(
            of(shop(), "load.emergency", "R50", "shop/R1/upper", "contact", **said),
            of(shop(), "load.emergency", "R50", "shop/G1/upper", "contact", **said),
        )
        [question] = found
        assert (question["kind"], question["id"]) == ("outcome", "load.emergency")
        assert question["why"] == "Security equipment goes dead."
        assert question["cite"] == {"document": "nfpa-70", "section": "750.30"}
        assert question["devices"] == ["shop/R1", "shop/G1"]

    def test_other_outcomes_are_not(self):
        assert asked(of(shop(), "load.emergency", "R50", "shop/R1/upper", "contact", outcome="not permitted")) == []


class TestOrder:
    """The shop has four devices: three are many, two are not."""

    def test_many_devices_then_what_can_come_out_against_then_the_rest(self):
        card = of(shop(), "control.acts", "R01", "C1", "control", outcome="automatic",
                  also_held=[held(CARD, "by a person", "manual")])  # fmt: skip
        document = data.DOCUMENT | {"amendments_entered": "not looked for"}
        whole = [of(shop(), "share.controlled", "R18", path, "space", document=document) for path in ("shop", "store")]
        found = asked(card, differ(), *whole)
        assert [(q["rank"], q["id"]) for q in found] == [
            ("many devices", "BF-EC23"),  # both rooms: four devices
            ("safety", SWITCH),  # the rating can be too small
            ("other", CARD),  # whether it is automatic is never against by itself
        ]

    def test_more_devices_first_and_the_order_of_rulings_does_not_matter(self):
        one = also_held()
        card = of(shop(), "control.acts", "R01", "C1", "control", outcome="automatic",
                  also_held=[held(CARD, "by a person", "manual")])  # fmt: skip
        assert [q["id"] for q in asked(one, card)] == [q["id"] for q in asked(card, one)] == [CARD, ANY]

    def test_safety_is_an_outcome_against_that_is_possible_not_one_that_the_question_merely_has(self):
        under = [
            {"readings": {SWITCH: LARGEST}, "outcomes": ["does not apply"]},
            {"readings": {SWITCH: ACTUAL}, "outcomes": ["satisfied"]},
        ]
        [question] = asked(differ(under=under, possible=["does not apply", "satisfied"]))
        assert question["rank"] == "other"

    def test_a_tenth_of_the_devices_at_least(self):
        """Three of thirty-one devices are less than a tenth, three of thirty are a tenth."""
        one = SHOP[SHOP.index("  - id: store\n") : SHOP.index("controls:\n  - {id: C1")]
        yoke = one[one.index("      - id: S1") :]
        for more, rank in ((26, "many devices"), (27, "safety")):
            yokes = "".join(yoke.replace("id: S1", f"id: X{n}") for n in range(more))
            text = SHOP.replace(yoke, yoke + yokes)
            text = text.replace("only, circuit: P/3}", "only, circuit: P/3, controls: [C1]}", 1)
            [question] = asked(differ(), text=text)
            assert len(question["devices"]) == 3
            assert question["rank"] == rank


WHOLE = """\
QUESTIONS FOR THE AUTHORITY
Invented shop (shop.yaml)
City of Brindle Falls; permit application 2024-10-15
Electrical: National Electrical Code, 2023 edition, with BF-1

ANSWERS ON WHAT CAN COME OUT AGAINST

1. Which breaker must a switch on receptacles be rated for, the one that is there or the largest
  that the receptacles may sit on?
   Clause: National Electrical Code, 404.14, cord-and-plug loads
   Why: Published readings differ on 1.
   Hangs on it: 2 devices; R12 readings differ at shop sensor in shop floor; 1 of 1 rest on memory
   If `largest permitted breaker` (published, held by the literal text, as EC&M sets it out; EC&M,
     Practically Speaking: Let's Switch Things Up, 13 Jun 2024,
     https://ecmweb.com/national-electrical-code/article/55042116/practically-speaking-lets-switch-things-up):
     The switch must reach the largest breaker that its receptacles may sit on, so a 15 A duplex
     asks for a 20 A switch. Gives: R12 1 not satisfied.
   If `actual breaker` (published, held by EC&M, which finds the literal reading senseless on a 15 A
     circuit; EC&M, Practically Speaking: Let's Switch Things Up, 13 Jun 2024,
     https://ecmweb.com/national-electrical-code/article/55042116/practically-speaking-lets-switch-things-up):
     The switch must reach the breaker that is there, since the circuit cannot deliver more. Gives:
     R12 1 satisfied.
   Until there is an answer: The switch must reach the largest breaker that its receptacles may sit
     on, so a 15 A duplex asks for a 20 A switch. The plain text points there: The clause speaks of
     the greatest overcurrent rating permitted for the receptacles, and a 15 A receptacle is
     permitted on a 20 A breaker.
   Answer of the Brindle Falls building counter: ____________ date: ________ reference: ________

CAUTIONS
  - Line voltage can kill.
"""


class TestText:
    def text(self, *rulings: dict[str, Any], width: int = 100, **more: Any) -> str:
        return render_questions(data.report(*rulings, **more), asked(*rulings), width)

    def test_the_whole_list(self):
        assert self.text(differ()) == WHOLE

    def test_rulings_with_the_same_word_on_the_same_things_are_told_together(self):
        mark = also_held() | {"question": "marking.form", "ruling": "R06"}
        words = " ".join(self.text(also_held(), mark).split())
        assert "Hangs on it: 1 device; R03 and R06 not required at R1 upper, north wall in shop floor" in words
        assert "Gives: R03 and R06 1 required." in words

    def test_nothing_to_ask_is_said(self):
        assert "None: nothing that was ruled here hangs on an answer of the authority." in self.text(data.SATISFIED)

    def test_everything_under_an_entry_is_counted_by_number_and_not_by_device(self):
        document = data.DOCUMENT | {"amendments_entered": "not looked for"}
        rulings = [of(shop(), "marking.required", "R03", f"shop/R1/{half}", "contact", document=document)
                   for half in ("upper", "lower")]  # fmt: skip
        assert "Hangs on it: 1 device; 2 rulings (R03)" in self.text(*rulings)

    def test_not_checked_and_memory_are_counted(self):
        unread = differ(checked=data.WOULD_BE["checked"])
        assert "1 of 1 not checked in this edition" in " ".join(self.text(unread).split())

    def test_refused_input_is_listed(self):
        assert "REFUSED (1 fault" in self.text(differ(), refused=["shop.yaml:3:5: `Ampere` is not a unit"])

    def test_ascii(self):
        assert self.text(differ(), also_held()).isascii()

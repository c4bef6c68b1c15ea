"""Design: a pin is over the normative fields of a rule as the layer below leaves it, named numbers replaced by values,
plus the readings, calculations and lower tables it names. Editorial fields never move it; each normative one does."""

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from hashlib import sha256

import pytest

from resolve.making import (
    AUTOMATIC,
    CITE,
    MARK,
    READING,
    SLOW,
    at,
    at_most,
    book,
    box,
    none_fires,
    one,
    op,
    rule,
)
from yokebook.editions import resolve_edition
from yokebook.load.faults import RulebookFaults
from yokebook.model import (
    Alternative,
    Book,
    Checked,
    Cite,
    Comparison,
    NamedNumber,
    Of,
    Over,
    Reading,
    Resolved,
    Rule,
    Step,
)
from yokebook.pins import Pinned, digest, pin_of, pin_of_op

BOOK = book()
BELOW = resolve_edition(BOOK, "nfpa-70", "2014")
AUTO = f"{MARK}#automatic"
OTHER_STEP = Step("BF-1", "replace", None, "", at())


def with_rule(changed: Rule, below: Resolved = BELOW) -> Resolved:
    question = changed.id.partition("#")[0]
    there = below.tables[question]
    rules = tuple(changed if r.id == changed.id else r for r in there.rules)
    return replace(below, tables={**below.tables, question: replace(there, rules=rules)})


def the_rule(rule_id: str, below: Resolved = BELOW) -> Rule:
    return next(r for t in below.tables.values() for r in t.rules if r.id == rule_id)


def with_value(number: int, below: Resolved = BELOW) -> Resolved:
    return replace(below, values={"delay": replace(below.values["delay"], value=Fraction(number))})


def moved(old: Pinned, new: Pinned) -> set[str]:
    return {p for p in {*old.digests, *new.digests} if old.digests.get(p) != new.digests.get(p)}


def test_the_digest_is_sha_256_over_sorted_compact_json() -> None:
    assert (
        digest({"b": ["1/2", True, None], "a": "§"})
        == sha256('{"a":"§","b":["1/2",true,null]}'.encode()).hexdigest()[:8]
    )


class TestWhatDoesNotMoveIt:
    @pytest.mark.parametrize(
        "edit",
        [
            lambda r: replace(r, says="other words"),
            lambda r: replace(r, cite=Cite("nfpa-70", "406.3(F)")),
            lambda r: replace(r, checked=Checked("assumed", "nobody")),
            lambda r: replace(r, at=at(77)),
            lambda r: replace(r, chain=(OTHER_STEP,)),
            lambda r: replace(r, where=tuple(dict(reversed(b.items())) for b in r.where)),
        ],
    )
    def test_editorial_fields_of_the_rule(self, edit: Callable[[Rule], Rule]) -> None:
        assert pin_of(with_rule(edit(the_rule(AUTO))), BOOK, AUTO) == pin_of(BELOW, BOOK, AUTO)

    def test_the_order_of_boxes_and_of_rules_named(self) -> None:
        a, b = box(contact__a=one(True)), box(contact__b=one(True))
        first = with_rule(
            rule("automatic", where=[a, b], but_not=[b, a], exception_to=["x", "y"], prevails_over=["u", "v"])
        )
        second = with_rule(
            rule("automatic", where=[b, a], but_not=[a, b], exception_to=["y", "x"], prevails_over=["v", "u"])
        )
        assert pin_of(first, BOOK, AUTO) == pin_of(second, BOOK, AUTO)

    def test_words_about_readings_calculations_and_lower_rules(self) -> None:
        alternatives = {k: replace(a, says="…", holders="…", source="…") for k, a in READING.alternatives.items()}
        reading = replace(READING, asks="…", plain_because="…", alternatives=alternatives, cite=Cite("x", "y"), at=at())
        calculation = replace(AUTOMATIC, says="…", asks="…", cite=CITE, checked=Checked("memory", "…"), at=at())
        other = book(readings=[reading], calculations=[calculation, SLOW])
        below = with_rule(replace(the_rule("acts#slow"), says="…", checked=Checked("memory", "…")))
        assert pin_of(below, other, AUTO).pin == pin_of(BELOW, BOOK, AUTO).pin

    def test_the_name_of_a_number_in_place_of_the_number(self) -> None:
        named = with_rule(rule("automatic", where=[box(control__delay=at_most("delay"))]))
        plain = with_rule(rule("automatic", where=[box(control__delay=at_most(20))]))
        assert pin_of(named, BOOK, AUTO).pin == pin_of(plain, BOOK, AUTO).pin

    def test_things_that_the_rule_does_not_name(self) -> None:
        built_in = f"{MARK}#built-in"
        below = with_value(15, with_rule(rule("automatic", "not required")))
        other = book(readings=[], calculations=[])
        assert pin_of(below, other, built_in) == pin_of(BELOW, BOOK, built_in)


class TestWhatMovesIt:
    @pytest.mark.parametrize(
        ("edit", "part"),
        [
            (lambda r: replace(r, where=(*r.where, box(contact__a=one(True)))), "where"),
            (lambda r: replace(r, but_not=(box(contact__a=one(True)),)), "but not"),
            (lambda r: replace(r, then="not required"), "then"),
            (lambda r: replace(r, exception_to=(f"{MARK}#built-in",)), "exception to"),
            (lambda r: replace(r, exception_to="all"), "exception to"),
            (lambda r: replace(r, prevails_over=(f"{MARK}#lighting",)), "prevails over"),
        ],
    )
    def test_each_normative_field(self, edit: Callable[[Rule], Rule], part: str) -> None:
        old, new = pin_of(BELOW, BOOK, AUTO), pin_of(with_rule(edit(the_rule(AUTO))), BOOK, AUTO)
        assert new.pin != old.pin
        assert moved(old, new) == {part}

    def test_the_id(self) -> None:
        twin = replace(the_rule(AUTO), id=f"{MARK}#twin")
        below = replace(BELOW, tables={**BELOW.tables, MARK: replace(BELOW.tables[MARK], rules=(the_rule(AUTO), twin))})
        assert pin_of(below, BOOK, AUTO).pin != pin_of(below, BOOK, twin.id).pin

    def test_a_named_number_of_the_rule(self) -> None:
        below = with_rule(rule("automatic", where=[box(control__delay=at_most("delay"))]))
        assert moved(pin_of(below, BOOK, AUTO), pin_of(with_value(15, below), BOOK, AUTO)) == {"where"}

    def test_a_calculation_it_names(self) -> None:
        other = replace(AUTOMATIC, expression=replace(expression_of_automatic(), op="all"))
        new = pin_of(BELOW, book(calculations=[other, SLOW]), AUTO)
        assert moved(pin_of(BELOW, BOOK, AUTO), new) == {"contact.automatic"}

    def test_a_number_inside_a_calculation_inside_a_calculation(self) -> None:
        outer = replace(
            SLOW, id="control.outer", expression=Comparison(Of("control.slow"), "equals", NamedNumber("delay"))
        )
        b = book(calculations=[AUTOMATIC, SLOW, outer])
        below = with_rule(rule("automatic", where=[box(control__outer=one(True))]))
        assert moved(pin_of(below, b, AUTO), pin_of(with_value(15, below), b, AUTO)) == {
            "control.outer",
            "control.slow",
        }

    @pytest.mark.parametrize(
        "edit",
        [
            lambda r: replace(r, plain="wall switch"),
            lambda r: replace(r, alternatives={**r.alternatives, "third": Alternative("third", "", "argued", "", "")}),
            lambda r: replace(r, alternatives={k: replace(a, standing="published") for k, a in r.alternatives.items()}),
        ],
    )
    def test_a_reading_that_a_lower_table_names(self, edit: Callable[[Reading], Reading]) -> None:
        new = pin_of(BELOW, book(readings=[edit(READING)]), AUTO)
        assert moved(pin_of(BELOW, BOOK, AUTO), new) == {"reading.sensor"}

    def test_a_reading_chosen_below(self) -> None:
        chosen = replace(BELOW, chosen=(("sensor", "wall switch", None, OTHER_STEP),))
        only_homes = replace(BELOW, chosen=(("sensor", "wall switch", box(space__a=one(True)), OTHER_STEP),))
        pins = {pin_of(b, BOOK, AUTO).pin for b in (BELOW, chosen, only_homes)}
        assert len(pins) == 3
        assert moved(pin_of(BELOW, BOOK, AUTO), pin_of(chosen, BOOK, AUTO)) == {"reading.sensor"}

    def test_a_rule_of_a_lower_table_and_what_it_says_where_none_fires(self) -> None:
        old = pin_of(BELOW, BOOK, AUTO)
        slower = with_rule(replace(the_rule("acts#slow"), then="automatic"))
        acts = replace(BELOW.tables["acts"], none_fires=none_fires("automatic"))
        silent = replace(BELOW, tables={**BELOW.tables, "acts": acts})
        assert moved(old, pin_of(slower, BOOK, AUTO)) == {"answer.acts"}
        assert moved(old, pin_of(silent, BOOK, AUTO)) == {"answer.acts"}
        assert moved(old, pin_of(with_value(15), BOOK, AUTO)) == {"answer.acts"}


def expression_of_automatic() -> Over:
    assert isinstance(AUTOMATIC.expression, Over)
    return AUTOMATIC.expression


class TestOtherTargets:
    def test_a_named_number_is_its_value_and_direction(self) -> None:
        old = pin_of(BELOW, BOOK, "delay")
        assert dict(old.parts) == {"value": "20 min", "stricter": "lower"}
        assert moved(old, pin_of(with_value(15), BOOK, "value.delay")) == {"value"}
        higher = replace(
            BELOW, values={"delay": replace(BELOW.values["delay"], stricter="higher", says="…", written="1/3 h")}
        )
        assert moved(old, pin_of(higher, BOOK, "delay")) == {"stricter"}

    def test_what_a_table_says_where_none_fires(self) -> None:
        old = pin_of(BELOW, BOOK, f"{MARK}#none_fires")
        assert dict(old.parts) == {"then": "not required"}
        forbidden = replace(BELOW.tables[MARK], none_fires=none_fires(None))
        new = pin_of(replace(BELOW, tables={MARK: forbidden}), BOOK, f"{MARK}#none_fires")
        assert (new.pin != old.pin, dict(new.parts)) == (True, {"then": "forbidden"})

    def test_a_reading_is_its_alternatives_and_what_is_chosen_below(self) -> None:
        assert dict(pin_of(BELOW, BOOK, "sensor").parts) == {
            "alternatives": "automatic (published), wall switch (argued)",
            "plain": "automatic",
            "chosen below": "none",
        }
        chosen = replace(BELOW, chosen=(("sensor", "automatic", None, OTHER_STEP),))
        assert moved(pin_of(BELOW, BOOK, "sensor"), pin_of(chosen, BOOK, "reading.sensor")) == {"chosen below"}

    def test_the_op_says_what_kind_of_thing_its_target_is(self) -> None:
        assert pin_of_op(BELOW, BOOK, op("set_value", "delay")) == pin_of(BELOW, BOOK, "value.delay")
        assert pin_of_op(BELOW, BOOK, op("choose_reading", "sensor")) == pin_of(BELOW, BOOK, "reading.sensor")
        assert pin_of_op(BELOW, BOOK, op("delete", AUTO)) == pin_of(BELOW, BOOK, AUTO)
        assert pin_of_op(BELOW, BOOK, op("delete", f"{MARK}#no")) is None

    def test_a_target_that_is_not_there(self) -> None:
        with pytest.raises(RulebookFaults) as raised:
            pin_of(BELOW, BOOK, f"{MARK}#automatik")
        assert str(raised.value) == (
            "target: nfpa-70 2014 has no `marking.required#automatik` (did you mean `marking.required#automatic`?)"
        )


def test_the_parts_in_words() -> None:
    below = with_rule(replace(the_rule(AUTO), but_not=(box(control__delay=at_most("delay")),)))
    assert dict(pin_of(below, BOOK, AUTO).parts) == {
        "where": "contact.automatic is yes and receptacle.configuration is 5-15R or 5-20R",
        "but not": "control.delay is at most 20 min",
        "then": "required",
        "exception to": "none",
        "prevails over": "none",
        "contact.automatic": "whether any of contact.controls meet: answer.acts is automatic",
        "answer.acts": "acts#sensor: where control.kind is sensor and reading.sensor is automatic: automatic. "
        "acts#slow: where control.delay is at most 20 min: manual; exception to acts#sensor. where no rule fires: "
        "manual",
        "reading.sensor": "alternatives: automatic (published), wall switch (argued); plain: automatic; "
        "chosen below: none",
    }


def test_an_answer_of_another_kind_of_document_counts_by_name_only() -> None:
    below = with_rule(rule("automatic", where=[box(answer__energy__acts=one("automatic"))]))
    assert pin_of(below, BOOK, AUTO).parts["answer.energy.acts"] == (
        "answered by the energy document in force, whose table is no part of this"
    )
    own = with_rule(rule("automatic", where=[box(answer__electrical__acts=one("automatic"))]))
    assert pin_of(own, BOOK, AUTO).parts["answer.electrical.acts"] == pin_of(BELOW, BOOK, AUTO).parts["answer.acts"]


def test_tables_that_name_each_other_end() -> None:
    """No cycles are allowed, but a pin must not hang on a book that is still at fault."""
    around: Book = book(calculations=[replace(AUTOMATIC, expression=Of("contact.automatic")), SLOW])
    assert "contact.automatic" in pin_of(BELOW, around, AUTO).parts

"""Questions of facts and answers alone: the code made for them, held against rulings, and what is in it."""

from __future__ import annotations

import random
import re
from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from bench.tables import Invented, chain, one_table
from flat.held_against import by_decide, by_rule, said
from flat.tangles import plain_of, refuse
from ruling import places, small
from yokebook.code import Code
from yokebook.flat import generated as made
from yokebook.flat.plain import NotPlain, Plain
from yokebook.law import Candidate, InForce
from yokebook.model import Box, Fact, OneOf, Question, Rule, Within

SMALL, BIG, CHAIN = one_table(12, 3, 2, 2, 1), one_table(80, 3, 3, 3, 1), chain(4)
INVENTED = [pytest.param(SMALL, id="small"), pytest.param(BIG, id="big"), pytest.param(CHAIN, id="chain")]


def differing(invented: Invented, rng: random.Random, missing: int, count: int) -> list[object]:
    """The records that are decided otherwise than ruled."""
    code, question = invented.code, invented.question
    records = [invented.record(rng, missing) for _ in range(count)]
    return [record for record in records if by_decide(code, question, record) != by_rule(code, question, record)]


@pytest.mark.parametrize("missing", range(4))
@pytest.mark.parametrize("invented", INVENTED)
def test_full_records_and_others_are_decided_as_they_are_ruled(invented: Invented, missing: int):
    assert differing(invented, random.Random(missing), missing, 60 // (1 + missing)) == []


@pytest.mark.parametrize("invented", INVENTED)
def test_full_records_are_decided_by_the_code_alone(invented: Invented):
    decide, _ = made.generated(plain_of(invented), refuse, lambda *_: False)  # type: ignore[arg-type]
    rng = random.Random(5)
    for _ in range(200):
        record = invented.record(rng)
        assert said(decide(record)) == by_decide(invented.code, invented.question, record)


def test_a_wrong_mask_in_the_code_is_noticed():
    rng = random.Random(9)
    records = [SMALL.record(rng) for _ in range(400)]
    plain = plain_of(SMALL)
    right = [said(SMALL.code.decide(SMALL.question, record)) for record in records]
    survived: list[str] = []
    tried = 0
    for fact in plain.facts:
        index = plain.top.ready.inputs[fact]
        for bit, _ in index.cells:
            broken = plain_of(SMALL)
            _flip(broken, fact, bit)
            decide, _ = made.generated(broken, refuse, lambda *_: False)  # type: ignore[arg-type]
            tried += 1
            try:
                if [said(decide(record)) for record in records] == right:
                    survived.append(f"{fact} {bit}")
            except AssertionError:  # a conflict, which the code leaves to others
                continue
    assert tried > 20
    assert survived == []


def _flip(plain: Plain, fact: str, bit: int) -> None:
    """The index of a fact with one box in it that allows what it does not, and the other way round."""
    index = plain.top.ready.inputs[fact]

    class Flipped(type(index)):  # type: ignore[misc]
        def allowed(self, value: object) -> int:
            return index.allowed(value) ^ 1 << bit  # type: ignore[arg-type]

    flipped = Flipped(index.cells, plain.top.ready.all_bits)
    plain.top.ready = _Copy(plain.top.ready, {**plain.top.ready.inputs, fact: flipped})  # type: ignore[assignment]


class _Copy:
    """A table made ready, with other indexes."""

    def __init__(self, ready: object, inputs: object) -> None:
        self.__dict__.update(ready.__dict__)
        self.inputs = inputs


# ---- what is in the code ---------------------------------------------------------------------------------------------


def one_rule(fact: Fact, box: Box, word: str = "high") -> Code:
    """The law of one rule on one fact."""
    question = Question("top", "R00", "", "contact", {word: word, "low": "low"}, frozenset(), small.AT)
    rule = Rule("top#it", (box,), (), word, (), (), "", small.CITE, small.SEEN, small.AT)
    book = replace(small.book(), facts={fact.id: fact}, questions={"top": question}, readings={})
    law = places.law(book, [small.table("top", [rule], "low")])
    return Code(book, places.stands(law), None, {}, None, {})


def test_nothing_of_a_rulebook_is_in_the_text():
    nasty = 'x\']; raise SystemExit  # \\ \n"""'
    fact = replace(small.fact("kind", "choice"), values={nasty: nasty, "b": "b"})
    code = one_rule(fact, {fact.id: OneOf(frozenset({nasty}))}, word=nasty)
    laws = {"small": [c.law for c in code.in_force["small"].candidates if c.law is not None]}
    _, text = made.generated(Plain(code.book, laws, "small", code.book.questions["top"]), refuse, lambda *_: False)  # type: ignore[arg-type]
    assert nasty not in text
    assert re.search(r"['\"]", text) is None  # no text in the text at all
    assert code.decide("top", {fact.id: nasty}).word == nasty
    assert code.decide("top", {fact.id: "b"}).word == "low"


def number(low: int | None, high: int | None, **more: object) -> Fact:
    """A number of a contact device."""
    ends = {"low": None if low is None else Fraction(low), "high": None if high is None else Fraction(high)}
    return replace(small.fact("n", "number"), **ends, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("value", "above"),
    [
        *((0.1, False), (Fraction(1, 10), False), (0.3, True)),
        *((0.30000000000000004, True), (0.29999999999999993, False)),
        *((2**60, True), (2**60 + 0.5, True), (-(2**60), False), (10**400, True), (Fraction(1, 3), True)),
        *((1e-300, False), (1e300, True), (-0.0, False), (0, False), (1, True)),
    ],
)
def test_a_float_counts_as_the_decimal_that_it_is_written_as(value: object, above: bool):
    fact = number(None, None)
    code = one_rule(fact, {fact.id: Within(Fraction(3, 10), False)})
    assert code.decide("top", {fact.id: value}).word == ("high" if above else "low")
    assert by_decide(code, "top", {fact.id: value}) == by_rule(code, "top", {fact.id: value})


@pytest.mark.parametrize("end", [Fraction(1, 3), Fraction(2**53 + 1), Fraction("0.1000000000000000055511151231257827")])
def test_ends_that_are_no_floats_are_kept_apart_from_their_neighbours(end: Fraction):
    fact = number(None, None)
    code = one_rule(fact, {fact.id: Within(end, False)})
    near = float(end)
    for value in (near, near + abs(near) * 2**-52, near - abs(near) * 2**-52, end, end - Fraction(1, 10**40)):
        record = {fact.id: value}
        assert by_decide(code, "top", record) == by_rule(code, "top", record)


def test_two_ends_that_are_one_float_are_left_to_the_long_way():
    fact = number(None, None)
    end = Fraction(1, 3)
    code = one_rule(fact, {fact.id: Within(end, False, end + Fraction(1, 10**30), False)})
    laws = {"small": [c.law for c in code.in_force["small"].candidates if c.law is not None]}
    plain = Plain(code.book, laws, "small", code.book.questions["top"])
    with pytest.raises(NotPlain):
        made.generated(plain, refuse, lambda *_: False)  # type: ignore[arg-type]
    assert code.decide("top", {fact.id: end}).word == "high"
    assert code.decide("top", {fact.id: end + Fraction(1, 10**20)}).word == "low"


@pytest.mark.parametrize("value", [True, False, "5", float("nan"), None, -1, 6, [1], 2.5])
def test_whole_numbers_within_their_ends_and_no_others(value: object):
    fact = number(0, 5, whole=True)
    code = one_rule(fact, {fact.id: Within(Fraction(3), False)})
    assert [code.decide("top", {fact.id: n}).word for n in (0, 2, 3, 5, 3.0)] == ["low", "low", "high", "high", "high"]
    assert by_decide(code, "top", {fact.id: value}) == by_rule(code, "top", {fact.id: value})


def test_facts_beside_those_of_the_question_are_looked_at_by_the_front_door():
    decide = SMALL.code.decider(SMALL.question)
    record = SMALL.record(random.Random(2))
    word = decide(record).word
    book = SMALL.code.book
    assert decide({**record, "contact.controls.complete": True, "stated_by": "me"}).word == word
    faults: list[dict[Any, Any]] = [{"contact.no_such": 1}, {"contact.controls.complete": 2}, {"stated_by": ""}, {5: 1}]
    for bad in faults:
        assert isinstance(by_decide(SMALL.code, SMALL.question, {**record, **bad}), str), bad
    assert set(record) == set(book.facts)


def test_what_is_given_in_place_of_a_missing_fact_is_looked_at_as_well():
    """A record that gives one fact less and one key more than the one before has as many keys as that."""
    code = one_table(12, 3, 2, 2, 1)
    rng = random.Random(3)
    record = code.record(rng)
    del record[next(iter(record))]
    for less, more in ((0, {"stated_by": "me"}), (1, {"stated_by": "me", "contact.no_such": 1})):
        asked = {**dict(list(record.items())[less:]), **more}
        assert by_decide(code.code, code.question, asked) == by_rule(code.code, code.question, asked)


@pytest.mark.parametrize("state", ["in force", "none in force"])
def test_an_answer_of_a_document_that_may_not_govern_is_none_of_facts_alone(state: Any):
    book = places.book(questions={"upper": "contact", "lower": "contact"})
    box: Box = {"answer.other.lower": places.only("high"), "contact.x": places.only("a")}
    upper = places.law(book, [small.table("upper", [small.rule("upper#it", [box], "middle")], "low")])
    lower = small.table("lower", [small.rule("lower#it", [{"contact.y": places.only("a")}], "high")], "low")
    other = Candidate("first", "in force", places.law(book, [lower], "other"), "")
    either = InForce("other", (other, Candidate("second", state, other.law if state == "in force" else None, "")))
    code = Code(book, {**places.stands(upper), "other": either}, None, {}, None, {})
    for record in ({"contact.x": "a", "contact.y": "a"}, {"contact.x": "a"}, {"contact.x": "b"}):
        assert by_decide(code, "upper", record) == by_rule(code, "upper", record)

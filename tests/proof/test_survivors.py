"""What becomes of the faults of small tables: which change nothing, which a region or a case notices, which survive."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from proof.one_table import TWO, TWO_RULES, YES, every, law
from ruling import small
from yokebook.law import Law
from yokebook.load.faults import RulebookFaults
from yokebook.model import Box, Impossible, NoneOf, OneOf, Table, Value, Within
from yokebook.model.claimed import Claim
from yokebook.prevails import prevails
from yokebook.proof.claim_text import fault_text, region_text, survivor_text
from yokebook.proof.introduced import Introduced
from yokebook.proof.survivors import Recorded, Survivor, Trial
from yokebook.values import known

Fates = dict[tuple[str, str], tuple[str, str]]



def claim(name: str, expect: str, where: Sequence[Box], but_not: Sequence[Box] = ()) -> Claim:
    boxes = tuple(where), tuple(but_not)
    return Claim(name, "", "", None, "upper", "small", ("1",), None, {}, {}, *boxes, expect, small.AT)


def fates(its: Law, claims: Sequence[Claim] = (), cases: Sequence[Recorded] = ()) -> Fates:
    """What became of each mutant and through what, by short rule id and words."""
    trial = Trial(its, "upper", every, claims, cases)
    return {(v.mutant.rule_id.partition("#")[2], v.mutant.words): (v.how, v.by) for v in trial.verdicts()}


WIDE = small.rule("upper#wide", [{"contact.n": Within(high=Fraction(4))}], "low")
NARROW = small.rule("upper#narrow", [{"contact.x": OneOf(frozenset({"a"}))}], "low")


def test_faults_that_change_nothing_are_recognised() -> None:
    """No number is over 4, so the wide rule says everything that the narrow one says, and may end anywhere past 4."""
    found = fates(law(small.table("upper", [WIDE, NARROW], "high")))
    same = {
        ("wide", "`contact.n` is left out in `where`"),
        ("wide", "`contact.n` is at most 4.4 in `where`"),
        ("narrow", "the rule is left out"),
        ("narrow", "`contact.x` is left out in `where`"),
        ("narrow", "`contact.x` is a or b in `where`"),
        ("narrow", "`contact.x` is a or c in `where`"),
        ("none_fires", "says `low` where no rule fires"),
        ("none_fires", "says `middle` where no rule fires"),
    }
    assert {fault for fault, (how, _) in found.items() if how == "no difference"} == same
    survive = {
        ("wide", "the rule is left out"),
        ("wide", "`contact.n` is less than 4 in `where`"),
        ("wide", "`contact.n` is at most 3.6 in `where`"),
        ("wide", "says `middle`"),
        ("wide", "says `high`"),
        ("narrow", "says `middle`"),
        ("narrow", "says `high`"),
    }
    assert {fault for fault, (how, _) in found.items() if how == "survives"} == survive
    assert len(found) == len(same) + len(survive)


def test_a_fault_that_shows_only_where_nothing_can_occur_is_none() -> None:
    never = Impossible("contact", {"contact.x": OneOf(frozenset({"a"})), "contact.p": YES}, "so it is", small.AT)
    rule = small.rule(
        "upper#a", [{"contact.x": OneOf(frozenset({"a"})), "contact.p": OneOf(frozenset({False}))}], "high"
    )
    left_out = ("a", "`contact.p` is left out in `where`")
    table = small.table("upper", [rule], "low")
    assert fates(law(table))[left_out] == ("survives", "")
    its = law(table, replace(small.book(), impossible=(never,)))
    assert fates(its)[left_out] == ("only where nothing can occur", "")


def test_a_fault_that_shows_only_in_a_conflict_of_the_table_is_left_to_the_check_of_tables() -> None:
    """Both fire where x is a and p is yes, and neither prevails; nothing can be due there."""
    letter = small.rule("upper#letter", [{"contact.x": OneOf(frozenset({"a"}))}], "low")
    yes = small.rule("upper#yes", [{"contact.p": YES}], "high")
    found = fates(law(small.table("upper", [letter, yes], "middle")))
    assert found["letter", "is an exception to `upper#yes`"] == ("only where the table says nothing", "")
    assert found["letter", "the rule is left out"] == ("survives", "")


def test_exceptions_in_a_circle_do_not_load() -> None:
    found = fates(law(TWO_RULES))
    assert found["letter", "is an exception to `upper#number`"] == ("does not load", "")


UP_TO_TWO = small.rule("upper#up-to-two", [{"contact.n": Within(high=TWO)}], "low")
BOUND = small.table("upper", [UP_TO_TWO], "high")


@pytest.mark.parametrize(
    ("cell", "expect", "noticed"),
    [
        (Within(high=TWO), "low", {"less than 2", "at most 1.8"}),
        (Within(high=TWO, high_open=True), "low", {"at most 1.8"}),
        (OneOf(frozenset({TWO})), "low", {"less than 2", "at most 1.8"}),
        (Within(high=Fraction(9, 5)), "low", set()),
        (Within(low=TWO, low_open=True), "high", {"at most 2.2"}),
        (Within(low=Fraction(11, 5)), "high", {"at most 2.2"}),
        (Within(low=Fraction(11, 5), low_open=True), "high", set()),
    ],
)
def test_a_region_notices_a_moved_bound_where_it_reaches_over_it(cell: Within, expect: str, noticed: set[str]) -> None:
    found = fates(law(BOUND), [claim("c", expect, [{"contact.n": cell}])])
    bounds = ("less than 2", "at most 1.8", "at most 2.2")
    fate = {bound: found["up-to-two", f"`contact.n` is {bound} in `where`"] for bound in bounds}
    assert fate == {bound: ("region", "c") if bound in noticed else ("survives", "") for bound in bounds}


def test_what_is_left_out_of_a_region_notices_nothing() -> None:
    left_out = claim("c", "low", [{"contact.n": Within(high=TWO)}], [{"contact.n": OneOf(frozenset({TWO}))}])
    assert fates(law(BOUND), [left_out])["up-to-two", "`contact.n` is less than 2 in `where`"] == ("survives", "")


def test_a_region_with_what_the_mutant_says_does_not_notice_it() -> None:
    """A region that expects `high` at 2 does not hold; the mutant that is right by it is not noticed by it."""
    wrong = claim("c", "high", [{"contact.n": OneOf(frozenset({TWO}))}])
    assert fates(law(BOUND), [wrong])["up-to-two", "`contact.n` is less than 2 in `where`"] == ("survives", "")


def test_a_region_where_nothing_can_occur_notices_nothing() -> None:
    never = Impossible("contact", {"contact.q": YES}, "so it is", small.AT)
    its = law(BOUND, replace(small.book(), impossible=(never,)))
    in_it = claim("c", "low", [{"contact.q": YES, "contact.n": Within(high=TWO)}])
    assert fates(its, [in_it])["up-to-two", "the rule is left out"] == ("survives", "")
    assert fates(law(BOUND), [in_it])["up-to-two", "the rule is left out"] == ("region", "c")


def case(inputs: dict[str, Value], expect: str, sure: bool, ruled: Iterable[str] = ()) -> Recorded:
    words = iter(ruled)
    spans = {name: (known(value),) for name, value in inputs.items()}
    return Recorded("the case", expect, spans, sure, lambda table: next(words))


def test_a_case_notices_what_is_ruled_otherwise_there() -> None:
    found = fates(law(BOUND), cases=[case({"contact.n": TWO}, "low", True)])
    by = {words for (_, words), fate in found.items() if fate == ("case", "the case")}
    assert by == {
        "the rule is left out",
        "`contact.n` is less than 2 in `where`",
        "`contact.n` is at most 1.8 in `where`",
        "says `middle`",
        "says `high`",
    }


@pytest.mark.parametrize(("word", "how"), [("high", "case"), ("low", "survives")])
def test_a_case_that_leaves_inputs_open_is_ruled_again(word: str, how: str) -> None:
    """Only where the mutant may say otherwise: the last fault, of where no rule fires, does not touch it."""
    rule = replace(UP_TO_TWO, where=({"contact.n": OneOf(frozenset({TWO}))},))
    its = law(small.table("upper", [rule], "high"))
    trial = Trial(its, "upper", every, [], [case({"contact.n": TWO}, "low", False, [word])])
    (first,) = [m for m in trial.mutants if m.kind == "drop rule"]
    (last,) = [m for m in trial.mutants if m.rule_id == "upper#none_fires" and "middle" in m.words]
    assert trial.verdict(first).how == how
    assert trial.verdict(last).how == "survives"


def survivors_of(trial: Trial) -> dict[str, Survivor]:
    """The faults that survive, by their words."""
    return {v.mutant.words: trial.survivor(v) for v in trial.verdicts() if v.how == "survives"}


def test_a_survivor_is_told_as_a_region_to_paste() -> None:
    its = law(BOUND)
    trial = Trial(its, "upper", every, [])
    table = Introduced("small 1", its, "upper", frozenset({"upper#up-to-two"}), True)
    survivors = survivors_of(trial)
    assert survivor_text(survivors["`contact.n` is at most 1.8 in `where`"], trial, table) == (
        "  # upper#up-to-two (small.yaml:1:1): `contact.n` is at most 1.8 in `where`\n"
        "  - id:\n"
        "    says:\n"
        "    source:\n"
        "    document: small\n"
        '    editions: ["1"]\n'
        "    question: upper\n"
        "    where: {contact.n: {more_than: 1.8, at_most: 2}}\n"
        "    expect:"
    )
    in_place = replace(table, place="demo/town", dates={"permit application": "2024-07-01"})
    assert survivor_text(survivors["says `high`"], trial, in_place) == (
        "  # upper#up-to-two (small.yaml:1:1): says something else\n"
        "  - id:\n"
        "    says:\n"
        "    source:\n"
        "    document: small\n"
        "    place: demo/town\n"
        "    dates: {permit application: 2024-07-01}\n"
        "    question: upper\n"
        "    where: {contact.n: {at_least: 0, at_most: 2}}\n"
        "    expect:"
    )
    assert fault_text(survivors["the rule is left out"]) == "upper#up-to-two (small.yaml:1:1): the rule is left out"


def test_a_region_of_what_does_not_apply_lists_what_it_is_not() -> None:
    """A fact that applies only where p is yes: that it does not apply has no cell of its own."""
    book = small.book()
    facts = {**book.facts, "contact.x": replace(book.facts["contact.x"], applies_when={"contact.p": YES})}
    rule = small.rule("upper#x", [{"contact.x": NoneOf(frozenset({"a"}))}], "low")
    its = law(small.table("upper", [rule], "high"), replace(book, facts=facts))
    trial = Trial(its, "upper", every, [])
    fault = survivors_of(trial)["says `low` where no rule fires"]
    regions = region_text(trial.space, fault.region)
    i = trial.space.names.index("contact.x")
    only_na = tuple(1 << trial.space.widths[i] - 1 if n == i else mask for n, mask in enumerate(trial.space.whole))
    # the fault shows where x is a and where it does not apply; one box has a cell only for the first
    assert regions == "    where: {contact.x: a}"
    assert region_text(trial.space, only_na) == "    where: {}\n    but_not: [{contact.x: [a, b, c]}]"


# ---- held against the definition ----------------------------------------------------------------------------------


NAMES = ("contact.x", "contact.p", "contact.n")


@settings(max_examples=40, deadline=None)
@given(small.tables("upper", NAMES, most=3), st.data())
def test_what_survives_is_what_differs_somewhere(table: Table, data: st.DataObject) -> None:
    """Against the definition, tried at every value on, between and beyond all ends: faults that change nothing, and a
    region in which a fault shows."""
    try:
        prevails(table)
    except RulebookFaults:
        return
    where = data.draw(small.boxes(NAMES))
    expect = data.draw(st.sampled_from(small.OUTCOMES))
    trial = Trial(law(table), "upper", every, [claim("c", expect, [where])])
    was = [(point, said(table, point), small.box_state({}, where, point) is True) for point in POINTS]
    for verdict in trial.verdicts():
        if verdict.how == "does not load":
            with pytest.raises(RulebookFaults):
                prevails(verdict.mutant.table)
            continue
        now = [said(verdict.mutant.table, point) for point in POINTS]
        differs = [(old, inside, new) for (_, old, inside), new in zip(was, now, strict=True) if old != new]
        due = [(inside, new) for (status, _), inside, new in differs if status == "ruled"]
        noticed = [new for inside, new in due if inside and new != ("ruled", expect)]
        if due:
            expected = "region" if noticed else "survives"
        else:
            expected = "only where the table says nothing" if differs else "no difference"
        assert verdict.how == expected, verdict.mutant.words


def points() -> Iterator[dict[str, Value]]:
    """Every record that cells with ends in halves, and their shifts, can tell apart."""
    ends = {Fraction(n, 2) for n in range(9)}
    moved = {end + sign * (min(Fraction(1), end / 10) if end else 1) for end in ends for sign in (1, -1)}
    numbers = sorted(number for number in ends | moved if 0 <= number <= 4)
    between = [(a + b) / 2 for a, b in pairwise(numbers)]
    for x in small.LETTERS:
        for p in (True, False):
            for n in (*numbers, *between):
                yield {"contact.x": x, "contact.p": p, "contact.n": n}


POINTS = list(points())


def said(table: Table, point: dict[str, Value]) -> tuple[str, str]:
    return small.naive({table.question: table}, table.question, point)

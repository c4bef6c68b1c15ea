"""Two small laws of which every change is known by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import yokebook
from compare.making import BOOK, at_least, chosen, code, facts_of, limit, only, over, rule, table
from ruling import small
from yokebook.law import Candidate, InForce
from yokebook.model import Cite, Table
from yokebook.proof import comparing
from yokebook.proof.changes import Change, Changes


def one(changes: Changes) -> Change:
    """The only change, and that there is nothing else."""
    assert (changes.tables, changes.through, changes.numbers, changes.readings, changes.not_decided) == ([],) * 5
    [change] = changes.changes
    return change


def words(changes: Changes) -> list[tuple[str, str, str, str]]:
    return [(change.question, change.was.word, change.now.word, change.direction) for change in changes.changes]


FROM_TWO = code(table("upper", rule("upper#from", {"contact.n": at_least(2)}, "high")))
FROM_ONE = code(table("upper", rule("upper#from", {"contact.n": at_least(1)}, "high")))


def test_stricter() -> None:
    change = one(yokebook.compare(FROM_TWO, FROM_ONE))
    assert (change.was.word, change.now.word, change.direction) == ("low", "high", "stricter")
    assert change.regions == [[{"input": "contact.n", "is": "at least 1 and under 2"}]]
    assert (change.more, change.boundary_only) == (0, False)
    witness = change.witness
    assert witness.reachable == "shown" and witness.record is not None
    assert 1 <= facts_of(witness.record)["contact.n"] < 2  # type: ignore[operator]
    assert [each["rule"] for each in witness.was] == ["upper#none_fires"]
    assert [each["rule"] for each in witness.now] == ["upper#from"]


def test_less_strict_is_the_mirror() -> None:
    change = one(yokebook.compare(FROM_ONE, FROM_TWO))
    assert (change.was.word, change.now.word, change.direction) == ("high", "low", "less strict")
    assert change.regions == [[{"input": "contact.n", "is": "at least 1 and under 2"}]]
    assert [each["rule"] for each in change.witness.was] == ["upper#from"]


def test_only_at_the_boundary() -> None:
    more = code(table("upper", rule("upper#from", {"contact.n": over(2)}, "high")))
    change = one(yokebook.compare(FROM_TWO, more))
    assert (change.was.word, change.now.word, change.boundary_only) == ("high", "low", True)
    assert change.at_boundary == [{"input": "contact.n", "is": "2"}]
    assert change.witness.record is not None
    assert facts_of(change.witness.record) == {"contact.n": 2}


def test_not_only_at_the_boundary_where_some_of_it_has_breadth() -> None:
    """From 2 up, now over 2 or where p: without p only 2 itself changes; with p everything below 2 does, otherwise."""
    over_two = rule("upper#from", {"contact.n": over(2)}, "high")
    now = code(table("upper", over_two, rule("upper#p", {"contact.p": only(True)}, "high")))
    changes = yokebook.compare(FROM_TWO, now)
    assert {(c.was.word, c.now.word): c.boundary_only for c in changes.changes} == {
        ("high", "low"): True,
        ("low", "high"): False,
    }


def test_what_no_rule_fires_for_changes() -> None:
    now = code(table("upper", rule("upper#from", {"contact.n": at_least(2)}, "high"), none_fires="middle"))
    change = one(yokebook.compare(FROM_TWO, now))
    assert (change.was.word, change.now.word, change.direction) == ("low", "middle", "stricter")
    assert change.regions == [[{"input": "contact.n", "is": "at least 0 and under 2"}]]


def test_other_words_and_another_section_are_no_change() -> None:
    was = rule("upper#from", {"contact.n": at_least(2)}, "high", says="from two")
    now = replace(was, says="two and up", cite=Cite("small", "7"))
    changes = yokebook.compare(code(table("upper", was)), code(table("upper", now)))
    assert not changes
    assert changes.same == [{"kind": "small", "question": "upper"}]


def test_another_rule_for_the_same_records_is_no_change() -> None:
    now = code(table("upper", rule("upper#other", {"contact.n": at_least(2)}, "high")))
    assert not yokebook.compare(FROM_TWO, now)


def test_rules_that_come_to_contradict_each_other() -> None:
    where = {"contact.x": only("a")}, {"contact.p": only(True)}
    excepted = rule("upper#p", where[1], "middle", ("upper#x",))
    was = code(table("upper", rule("upper#x", where[0], "high"), excepted))
    now = code(table("upper", rule("upper#x", where[0], "high"), replace(excepted, exception_to=())))
    change = one(yokebook.compare(was, now))
    assert (change.was.word, change.now.status, change.direction) == ("middle", "conflict", "neither")
    assert {each["rule"] for each in change.witness.now} == {"upper#x", "upper#p"}
    assert change.witness.record is not None
    assert facts_of(change.witness.record) == {"contact.x": "a", "contact.p": True}


def test_a_table_appears_and_goes() -> None:
    lower = table("lower", rule("lower#p", {"contact.p": only(True)}, "high"))
    with_it = code(FROM_TWO.in_force["small"].candidates[0].law.resolved.tables["upper"], lower)  # type: ignore[union-attr]
    for was, now, state in ((FROM_TWO, with_it, "appears"), (with_it, FROM_TWO, "goes")):
        changes = yokebook.compare(was, now)
        assert [(each.question, each.state) for each in changes.tables] == [("lower", state)]
        assert [each["rule"] for each in changes.tables[0].rules] == ["lower#p"]
        assert changes.changes == [] and changes.through == []


# ---- through what lies below ----------------------------------------------------------------------------------------


LATE_TABLE = table("upper", rule("upper#late", {"contact.late": only(True)}, "high"))


def test_a_number_in_a_calculation() -> None:
    changes = yokebook.compare(code(LATE_TABLE, values=limit(1)), code(LATE_TABLE, values=limit(3)))
    assert changes.changes == []
    [through] = changes.through
    assert (through.question, through.same_table) == ("upper", True)
    assert through.because == ["value.limit: 1, now 3, used by contact.late"]
    [shown] = through.shown
    assert (shown.was.word, shown.now.word, shown.direction) == ("high", "low", "less strict")
    assert shown.witness.record is not None
    assert 1 < facts_of(shown.witness.record)["contact.n"] <= 3  # type: ignore[operator]
    assert shown.witness.moved == [{"input": "contact.late", "was": "yes", "now": "no"}]
    [number] = changes.numbers
    assert (number.id, number.was, number.now, number.direction) == ("limit", "1", "3", "less strict")


def test_a_number_in_a_calculation_that_changes_no_ruling() -> None:
    """n is at most 4, so a limit of 5 and one of 6 leave everything as it is."""
    changes = yokebook.compare(code(LATE_TABLE, values=limit(5)), code(LATE_TABLE, values=limit(6)))
    [through] = changes.through
    assert (through.shown, through.reachable) == ([], "not shown")


def test_an_answer_below() -> None:
    upper = table("upper", rule("upper#lower", {"answer.lower": only("high")}, "high"))
    lowers = [table("lower", rule("lower#x", {"contact.x": only(letter)}, "high")) for letter in ("a", "b")]
    changes = yokebook.compare(code(upper, lowers[0]), code(upper, lowers[1]))
    assert sorted(words(changes)) == [
        ("lower", "high", "low", "less strict"),
        ("lower", "low", "high", "stricter"),
    ]
    [through] = changes.through
    assert (through.question, through.same_table) == ("upper", True)
    assert through.because == ["answer.lower: its own table changes (high -> low, low -> high)"]
    assert {(s.was.word, s.now.word) for s in through.shown} == {("high", "low"), ("low", "high")}
    for shown in through.shown:
        assert shown.witness.record is not None
        letter = "a" if shown.was.word == "high" else "b"
        assert facts_of(shown.witness.record)["contact.x"] == letter


def test_a_number_below_an_answer() -> None:
    upper = table("upper", rule("upper#lower", {"answer.lower": only("high")}, "high"))
    lower = table("lower", rule("lower#late", {"contact.late": only(True)}, "high"))
    changes = yokebook.compare(code(upper, lower, values=limit(1)), code(upper, lower, values=limit(3)))
    assert changes.changes == []
    told = {each.question: each.because for each in changes.through}
    assert told == {
        "lower": ["value.limit: 1, now 3, used by contact.late"],
        "upper": ["value.limit: 1, now 3, used by contact.late, by way of answer.lower"],
    }
    assert all(each.reachable == "shown" for each in changes.through)


def test_a_reading_chosen_on_one_side() -> None:
    the_table = table("upper", rule("upper#two", {"reading.r": only("two"), "contact.p": only(True)}, "high"))
    changes = yokebook.compare(code(the_table), code(the_table, readings=chosen("r", "two")))
    assert changes.changes == []
    [through] = changes.through
    assert through.because == ["reading.r: open, now two (A-1)"]
    [shown] = through.shown
    assert (shown.was.word, shown.now.word) == ("low", "high")
    assert shown.witness.record is not None
    assert facts_of(shown.witness.record) == {"contact.p": True}
    assert shown.witness.record["readings"] == {"r": "one"}  # under the other one nothing changes
    [reading] = changes.readings
    assert (reading.id, reading.was, reading.now, reading.by) == ("r", "open", "two", "A-1")


def test_an_answer_that_only_one_law_can_give_is_no_change_of_the_table_above() -> None:
    """`upper` rules on `middle` otherwise, but neither old nor new `lower` ever says it at one and the same record."""
    lowers = [table("lower", rule("lower#x", {"contact.x": only("a")}, word)) for word in ("middle", "high")]
    was = table("upper", rule("upper#m", {"answer.lower": only("middle", "high")}, "high"))
    now = table("upper", rule("upper#m", {"answer.lower": only("high")}, "high"))
    changes = yokebook.compare(code(was, lowers[0]), code(now, lowers[1]))
    assert words(changes) == [("lower", "middle", "high", "stricter")]
    [through] = changes.through
    assert (through.question, through.same_table, through.shown) == ("upper", False, [])


# ---- the whole ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("law", [FROM_ONE, code(LATE_TABLE, values=limit(1), readings=chosen("r", "two"))])
def test_a_law_and_itself(law: yokebook.Code) -> None:
    assert not yokebook.compare(law, law)


def test_only_what_is_asked_for() -> None:
    upper = table("upper", rule("upper#lower", {"answer.lower": only("high")}, "high"))
    lowers = [table("lower", rule("lower#x", {"contact.x": only(letter)}, "high")) for letter in ("a", "b")]
    laws = code(upper, lowers[0]), code(upper, lowers[1])
    changes = yokebook.compare(*laws, questions=["upper"])
    assert changes.changes == [] and [each.question for each in changes.through] == ["upper"]
    assert {(c.was.word, c.now.word) for c in yokebook.compare(*laws, document="small").changes} == {
        ("high", "low"),
        ("low", "high"),
    }


def test_a_table_of_too_many_cases_is_not_decided() -> None:
    """With one case to try, where two are needed to find the difference."""
    changes = comparing.compare(FROM_TWO, FROM_ONE, states=1)
    assert changes.changes == [] and changes.same == []
    assert changes.not_decided == [{"kind": "small", "question": "upper"}]
    assert changes


def test_several_entries_that_may_govern() -> None:
    candidate = FROM_ONE.in_force["small"].candidates[0]
    line = InForce(
        "small",
        (replace(candidate, id="E2"), Candidate("E1", "in force", candidate.law, "")),
        (("date", "permit application", "?", ()), ("choice", "window", "?", ("old", "new"))),
    )
    open_law = replace(FROM_ONE, in_force={"small": line})
    with pytest.raises(ValueError) as found:
        yokebook.compare(FROM_ONE, open_law)
    assert str(found.value) == (
        "in the new law more than one entry may govern the small document (`E2`, `E1`); give the date of the permit "
        "application and the choice `window` (`old`, `new`)"
    )


def test_laws_of_different_rulebooks() -> None:
    other = code(book=replace(BOOK, calculations={}))
    with pytest.raises(ValueError) as found:
        yokebook.compare(FROM_ONE, other)
    assert str(found.value) == (
        "the two laws are of rulebooks with different questions, facts, calculations or readings"
    )


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"questions": ["uper"]}, "there is no question `uper`"),
        ({"document": "smal"}, "there is no document `smal`, and no kind of document of that name"),
    ],
)
def test_unknown_names(options: dict[str, object], message: str) -> None:
    with pytest.raises(ValueError) as found:
        yokebook.compare(FROM_ONE, FROM_TWO, **options)  # type: ignore[arg-type]
    assert str(found.value) == message


NAMES = ("contact.x", "contact.p", "contact.n")


@settings(max_examples=60, deadline=None)
@given(st.tuples(small.tables("upper", NAMES, most=3), small.tables("upper", NAMES, most=3)))
def test_exactly_the_records_that_are_ruled_otherwise(pair: tuple[Table, Table]) -> None:
    """Against a second evaluator that shares no code: every (old, new) that some record has and no other; the record
    shown is ruled so under both laws, whatever is not given in it; the mirror has the mirrored ones."""
    naive = [
        {tuple(sorted(r.items())): small.naive({"upper": t}, "upper", r) for r in small.completions({}, NAMES)}
        for t in pair
    ]
    due = {(naive[0][r], naive[1][r]) for r in naive[0] if naive[0][r] != naive[1][r]}
    laws = code(pair[0]), code(pair[1])
    changes = yokebook.compare(*laws)
    assert {(c.was.key, c.now.key) for c in changes.changes} == due
    for change in changes.changes:
        assert change.witness.record is not None  # every input is a raw fact, so that a record can always be made
        facts = facts_of(change.witness.record)
        for record in small.completions(facts, NAMES):
            assert small.naive({"upper": pair[0]}, "upper", record) == change.was.key
            assert small.naive({"upper": pair[1]}, "upper", record) == change.now.key
    mirrored = yokebook.compare(laws[1], laws[0])
    assert {(c.now.key, c.was.key, c.boundary_only) for c in mirrored.changes} == {
        (c.was.key, c.now.key, c.boundary_only) for c in changes.changes
    }

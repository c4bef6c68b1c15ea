"""The mutants of tables small enough to list them by hand."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from proof.one_table import A_OR_B, LETTER, NUMBER, TWO, TWO_RULES, YES, every, law
from ruling import small
from yokebook.law import Law
from yokebook.model import NamedNumber, NoneOf, OneOf, Rule, Within
from yokebook.proof.mutants import mutants


def listed(its: Law) -> list[tuple[str, str, str]]:
    return [(m.rule_id.partition("#")[2], m.kind, m.words) for m in mutants(its, "upper", every)]


def of(rule: Rule, its: Law) -> list[tuple[str, str]]:
    """Kind and words of the mutants of one rule but those of every rule: it is left out, it says something else."""
    found = [(m.kind, m.words) for m in mutants(its, "upper", lambda row: row is rule)]
    return [each for each in found if each[0] not in ("drop rule", "other outcome")]


def test_the_mutants_of_two_rules_are_these_and_no_others() -> None:
    assert listed(law(TWO_RULES)) == [
        ("letter", "drop rule", "the rule is left out"),
        ("letter", "drop cell", "`contact.x` is left out in `where`"),
        ("letter", "remove value", "`contact.x` is b in `where`"),
        ("letter", "remove value", "`contact.x` is a in `where`"),
        ("letter", "add value", "`contact.x` is a or b or c in `where`"),
        ("letter", "drop cell", "`contact.p` is left out in `where`"),
        ("letter", "negate", "`contact.p` is no in `where`"),
        ("letter", "add link", "is an exception to `upper#number`"),
        ("letter", "other outcome", "says `low`"),
        ("letter", "other outcome", "says `middle`"),
        ("number", "drop rule", "the rule is left out"),
        ("number", "drop cell", "`contact.n` is left out in `where`"),
        ("number", "flip bound", "`contact.n` is less than 2 in `where`"),
        ("number", "shift bound", "`contact.n` is at most 1.8 in `where`"),
        ("number", "shift bound", "`contact.n` is at most 2.2 in `where`"),
        ("number", "drop cell", "`contact.m` is left out in `but_not`"),
        ("number", "shift bound", "`contact.m` is 2 in `but_not`"),
        ("number", "shift bound", "`contact.m` is 4 in `but_not`"),
        ("number", "drop box", "`but_not` is left out"),
        ("number", "drop link", "is no exception to `upper#letter`"),
        ("number", "other outcome", "says `middle`"),
        ("number", "other outcome", "says `high`"),
        ("none_fires", "other outcome", "says `middle` where no rule fires"),
        ("none_fires", "other outcome", "says `high` where no rule fires"),
    ]


def test_a_mutant_is_the_table_with_that_fault_and_no_other() -> None:
    made = {(m.rule_id, m.words): m.table for m in mutants(law(TWO_RULES), "upper", every)}
    less = made["upper#number", "`contact.n` is less than 2 in `where`"]
    assert less.rules == (LETTER, replace(NUMBER, where=({"contact.n": Within(high=TWO, high_open=True)},)))
    assert less.none_fires.then == "low"
    assert made["upper#number", "the rule is left out"].rules == (LETTER,)
    assert made["upper#none_fires", "says `high` where no rule fires"].none_fires.then == "high"
    assert made["upper#none_fires", "says `high` where no rule fires"].rules == (LETTER, NUMBER)


def test_only_own_rows_are_touched() -> None:
    its = law(TWO_RULES)
    assert {m.rule_id for m in mutants(its, "upper", lambda row: row is NUMBER)} == {"upper#number"}


def test_of_several_boxes_each_may_be_lost() -> None:
    rule = small.rule("upper#two", [{"contact.p": YES}, {"contact.q": YES}], "low")
    assert of(rule, law(small.table("upper", [rule]))) == [
        ("drop cell", "`contact.p` is left out in box 1 of `where`"),
        ("negate", "`contact.p` is no in box 1 of `where`"),
        ("drop box", "box 1 of `where` is left out"),
        ("drop cell", "`contact.q` is left out in box 2 of `where`"),
        ("negate", "`contact.q` is no in box 2 of `where`"),
        ("drop box", "box 2 of `where` is left out"),
    ]


def test_both_ends_move_to_the_next_bound_of_the_table_where_that_is_nearer() -> None:
    """2 may slip by a tenth of itself, down to the 1.9 that another rule names, and up to 2.2."""
    rule = small.rule("upper#span", [{"contact.n": Within(low=Fraction(1), high=TWO, high_open=True)}], "low")
    near = small.rule("upper#near", [{"contact.n": Within(low=Fraction(19, 10))}], "low")
    assert of(rule, law(small.table("upper", [rule, near]))) == [
        ("drop cell", "`contact.n` is left out in `where`"),
        ("flip bound", "`contact.n` is more than 1 in `where`"),
        ("shift bound", "`contact.n` is at least 0.9 in `where`"),
        ("shift bound", "`contact.n` is at least 1.1 in `where`"),
        ("flip bound", "`contact.n` is at most 2 in `where`"),
        ("shift bound", "`contact.n` is less than 1.9 in `where`"),
        ("shift bound", "`contact.n` is less than 2.2 in `where`"),
    ]


def test_a_count_slips_by_one_and_one_is_no_yes() -> None:
    rule = small.rule("upper#one", [{"contact.m": OneOf(frozenset({Fraction(1)}))}], "low")
    assert of(rule, law(small.table("upper", [rule]))) == [
        ("drop cell", "`contact.m` is left out in `where`"),
        ("shift bound", "`contact.m` is 0 in `where`"),
        ("shift bound", "`contact.m` is 2 in `where`"),
    ]


def test_a_named_number_slips_where_it_is_used() -> None:
    rule = small.rule("upper#named", [{"contact.n": Within(low=NamedNumber("limit"))}], "low")
    its = law(small.table("upper", [rule]), limit=Fraction(1))
    assert of(rule, its) == [
        ("drop cell", "`contact.n` is left out in `where`"),
        ("flip bound", "`contact.n` is more than 1 in `where`"),
        ("shift bound", "`contact.n` is at least 0.9 in `where`"),
        ("shift bound", "`contact.n` is at least 1.1 in `where`"),
    ]
    cells = [m.table.rules[0].where[0].get("contact.n") for m in mutants(its, "upper", every) if "0.9" in m.words]
    assert cells == [Within(low=Fraction(9, 10))]


def test_what_is_left_out_of_a_list_may_be_more_or_less() -> None:
    rule = small.rule("upper#not", [{"contact.x": NoneOf(frozenset({"a"}))}], "low")
    assert of(rule, law(small.table("upper", [rule]))) == [
        ("drop cell", "`contact.x` is left out in `where`"),
        ("add value", "`contact.x` is not a or b in `where`"),
        ("add value", "`contact.x` is not a or c in `where`"),
    ]


def test_a_reading_may_be_any_of_its_alternatives() -> None:
    rule = small.rule("upper#read", [{"reading.r": OneOf(frozenset({"one"}))}], "low")
    assert of(rule, law(small.table("upper", [rule]))) == [
        ("drop cell", "`reading.r` is left out in `where`"),
        ("add value", "`reading.r` is one or three in `where`"),
        ("add value", "`reading.r` is one or two in `where`"),
    ]


def test_links_of_all_of_lists_and_of_layers() -> None:
    one = small.rule("upper#one", [{"contact.p": YES}], "low")
    other = small.rule("upper#other", [{"contact.p": YES}], "middle")
    over_all = small.rule("upper#all", [{"contact.q": YES}], "high", exception_to="all")
    over_two = small.rule("upper#two", [{"contact.q": YES}], "high", exception_to=("upper#one", "upper#other"))
    local = replace(small.rule("upper#local", [{"contact.q": YES}], "high"), prevails_over=("upper#one",))
    its = law(small.table("upper", [one, other, over_all, over_two, local]))
    links = {
        rule.id: [words for kind, words in of(rule, its) if kind.endswith("link")]
        for rule in (over_all, over_two, local)
    }
    assert links == {
        "upper#all": ["is an exception to none"],
        "upper#two": ["is no exception to `upper#one`", "is no exception to `upper#other`"],
        "upper#local": ["does not prevail over `upper#one`"],
    }


def test_a_link_is_added_only_to_rules_with_another_outcome_that_are_met() -> None:
    """The rule for a meets the one for a or b, not the one for c, and says the same as the last."""
    rules = [
        small.rule("upper#a", [{"contact.x": OneOf(frozenset({"a"}))}], "low"),
        small.rule("upper#ab", [{"contact.x": A_OR_B}], "high"),
        small.rule("upper#c", [{"contact.x": OneOf(frozenset({"c"}))}], "high"),
        small.rule("upper#same", [{"contact.x": A_OR_B}], "low"),
    ]
    its = law(small.table("upper", rules))
    added = [m for m in mutants(its, "upper", lambda row: row is rules[0]) if m.kind == "add link"]
    assert [m.words for m in added] == ["is an exception to `upper#ab`"]
    assert [m.table.rules[0].exception_to for m in added] == [("upper#ab",)]

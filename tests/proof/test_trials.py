"""Faults that show nothing in the text that brought a row, and do in a law that has the row unchanged."""

from __future__ import annotations

from collections import defaultdict
from fractions import Fraction

from proof.one_table import law
from ruling import small
from shipped_book import rulebook
from yokebook.model import Book, Within
from yokebook.proof.introduced import Introduced, introduced
from yokebook.proof.survivors import Trial
from yokebook.proof.trials import tried

BOOK: Book = rulebook().book


def table(name: str, question: str) -> Introduced:
    (found,) = [each for each in introduced(BOOK) if (each.name, each.question) == (name, question)]
    return found


def unaided(each: Introduced) -> Trial:
    """A trial in which nothing notices anything."""
    return Trial(each.law, each.question, each.own, [])


def test_a_row_with_nothing_to_do_in_its_own_edition_is_tried_where_it_has() -> None:
    """No edition says which half of a split receptacle is the controlled one, so that a rule for the upper one decides
    nothing there; the City's ordinance says the upper one."""
    fates = defaultdict(set)
    for each in tried(table("nfpa-70 2014", "which-half.satisfied"), unaided):
        mutant = each.verdict.mutant
        fates[mutant.rule_id, mutant.words].add((each.table.name, each.verdict.how))
    left_out = fates["which-half.satisfied#upper", "the rule is left out"]
    assert left_out == {("demo/tamarisk/brindle-falls BF-EC23", "survives")}
    none_fires = fates["which-half.satisfied#none_fires", "says `satisfied` where no rule fires"]
    assert none_fires == {("nfpa-70 2014", "survives")}


def test_every_fault_is_told_once() -> None:
    each = table("nfpa-70 2014", "which-half.satisfied")
    told = [(one.verdict.mutant.rule_id, one.verdict.mutant.words) for one in tried(each, unaided)]
    assert sorted(told) == sorted((mutant.rule_id, mutant.words) for mutant in unaided(each).mutants)


def test_a_fault_that_shows_nowhere_stays_with_the_text_that_brought_the_row() -> None:
    """No number is over 4: a rule for all up to 4 may as well end at 4.4, in this law and in one that has it too."""
    rule = small.rule("upper#wide", [{"contact.n": Within(high=Fraction(4))}], "low")
    later = Introduced("small 2", law(small.table("upper", [rule], "middle")), "upper", frozenset({rule.id}), False)
    first = law(small.table("upper", [rule], "high"))
    both = Introduced("small 1", first, "upper", frozenset({rule.id}), False, later=(later,))
    fates = {one.verdict.mutant.words: (one.table.name, one.verdict.how) for one in tried(both, unaided)}
    assert fates["`contact.n` is at most 4.4 in `where`"] == ("small 1", "no difference")
    assert fates["`contact.n` is less than 4 in `where`"] == ("small 1", "survives")

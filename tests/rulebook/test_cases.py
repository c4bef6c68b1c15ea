"""Every worked case of rulebook/cases/: its record ruled, its word, what is also held and its figures; and the page on
which rules the cases touch, from the same rulings.

What a case expects comes from its own `source`: the clause, a published example or a person's arithmetic.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import replace
from fractions import Fraction
from functools import cache
from typing import Any

import pytest

from shipped_book import rulebook
from yokebook import Code, Ruling, shipped
from yokebook.load import schema_check
from yokebook.load.faults import Fault
from yokebook.load.files import read_file
from yokebook.load.nodes import Node, plain_data
from yokebook_adapters.coverage import TOUCHED, is_published, ruled, touched_page
from yokebook_adapters.coverage import cases as all_cases

Case = Mapping[str, Any]

HOW = "python -m yokebook_adapters.coverage"

FOLDER = shipped.folder("rulebook") / "cases"
FILES = sorted(path.relative_to(FOLDER).as_posix() for path in FOLDER.rglob("*.yaml"))

#: What this module does with each key that a case may have; a key in no group would be a claim that nobody checks.
TOLD = {"id", "says", "source"}
ASKED = {"place", "dates", "choices", "document", "edition", "question", "record"}
EXPECTED = {"expect", "also_held", "figures"}
#: Statuses that are words of their own, no outcome of the question.
UNSETTLED = {"readings differ", "cannot tell", "impossible", "no adoption entered", "none in force"}


@cache
def node(file: str) -> Node:
    """A file of cases. Fails where it cannot be read."""
    faults: list[Fault] = []
    found = read_file(FOLDER / file, file, faults)
    assert found is not None and not faults, [str(fault) for fault in faults]
    return found


def cases(file: str) -> list[Case]:
    return list(plain_data(node(file)).get("cases", ()))


CASES = [(file, case) for file in FILES for case in cases(file)]


@cache
def law(
    place: str | None, dates: tuple[tuple[str, str], ...], choices: tuple[tuple[str, str], ...], *bare: str
) -> Code:
    """The law in force in a place, or the bare edition of a document: (document, edition)."""
    if place is None:
        return rulebook().edition(*bare)
    return rulebook().in_force(place, dates=dict(dates), choices=dict(choices))


def code_of(case: Case) -> Code:
    """The law that a case is ruled under: of its place and days, or of its document's edition alone."""
    if "place" in case:
        assert "edition" not in case, "a case names a place or an edition, and this one both"
        return law(case["place"], pairs(case, "dates"), pairs(case, "choices"))
    assert not {"dates", "choices"} & set(case), "dates and choices mean nothing without a place"
    return law(None, (), (), case["document"], case["edition"])


def pairs(case: Case, part: str) -> tuple[tuple[str, str], ...]:
    return tuple(sorted(case.get(part, {}).items()))


@cache
def ruling_of(name: str) -> Ruling:
    """The ruling on the case of this id, made once: the page on rules touched takes it too."""
    case = next(case for _, case in CASES if case["id"] == name)
    return code_of(case).rule(case["question"], case["record"], document=case.get("document"))


def differences(case: Case, ruling: Ruling) -> Iterator[str]:
    """What the ruling does not have as the case expects it, one sentence each."""
    if ruling.word != case["expect"]:
        yield f"expected `{case['expect']}`, got `{ruling.word}`"
    if "also_held" in case:
        held = {outcome for each in ruling.also_held for outcome in each["outcomes"]}
        if held != set(case["also_held"]):
            yield f"expected also held {sorted(case['also_held'])}, got {sorted(held)}"
    for name, figure in case.get("figures", {}).items():
        due = Fraction(str(figure))
        shown = {each["exact"] for each in ruling.figures if each["calculation"] == name}
        if {Fraction(text) if text is not None else None for text in shown} != {due}:
            yield f"expected the figure `{name}` to be {due}, got {sorted(map(str, shown)) or 'none'}"


@pytest.mark.parametrize("case", [case for _, case in CASES], ids=[case["id"] for _, case in CASES])
def test_case(case: Case) -> None:
    found = list(differences(case, ruling_of(case["id"])))
    assert not found, f"case {case['id']}: {'; '.join(found)} (source: {case['source']})"


@pytest.mark.parametrize("file", FILES)
def test_file_fits_its_schema(file: str) -> None:
    assert [str(fault) for fault in schema_check.check(node(file), "cases")] == []


def test_every_key_that_a_case_may_have_is_used_here() -> None:
    schema = schema_check.schemas()["cases"]["properties"]["cases"]["items"]
    assert set(schema["properties"]) == TOLD | ASKED | EXPECTED
    assert not schema["additionalProperties"]


def test_no_id_is_used_twice() -> None:
    assert [name for name, times in Counter(case["id"] for _, case in CASES).items() if times > 1] == []


@pytest.mark.parametrize("case", [case for _, case in CASES], ids=[case["id"] for _, case in CASES])
def test_what_a_case_expects_can_be_said_at_all(case: Case) -> None:
    """A misspelt word would never match, but a misspelt calculation would only ever be missing."""
    question = rulebook().book.questions[case["question"]]
    words = {*question.outcomes, *(f"would be {outcome}" for outcome in question.outcomes)} | UNSETTLED
    assert case["expect"] in words
    assert set(case.get("also_held", ())) <= set(question.outcomes)
    assert set(case.get("figures", {})) <= set(rulebook().book.calculations)


class TestACaseThatIsWrongIsFound:
    """The comparison itself, with one thing wrong at a time."""

    CASE: Case = next(case for _, case in CASES if case["id"] == "snap-15-1-2-hp-115")
    RULING = ruling_of(CASE["id"])

    def test_a_right_one_has_no_difference(self) -> None:
        assert list(differences(self.CASE, self.RULING)) == []

    @pytest.mark.parametrize(
        ("change", "said"),
        [
            ({"expect": "not satisfied"}, "expected `not satisfied`, got `satisfied`"),
            ({"also_held": ["not satisfied"]}, "expected also held ['not satisfied'], got []"),
            (
                {"figures": {"control.motor_amps": 10}},
                "expected the figure `control.motor_amps` to be 10, got ['49/5']",
            ),
            ({"figures": {"circuit.receptacles": 1}}, "expected the figure `circuit.receptacles` to be 1, got none"),
        ],
    )
    def test_a_wrong_one_is_told(self, change: Case, said: str) -> None:
        assert list(differences({**self.CASE, **change}, self.RULING)) == [said]

    def test_an_outcome_also_held_that_no_case_names_is_told(self) -> None:
        held = replace(self.RULING, also_held=[{"outcomes": ["does not apply"]}])
        assert list(differences({**self.CASE, "also_held": []}, held)) == [
            "expected also held [], got ['does not apply']"
        ]


# ---- the page on which rules the cases touch ------------------------------------------------------------------------


@cache
def page_today() -> str:
    return touched_page(rulebook().book, [(case, ruling_of(case["id"])) for _, case in CASES])


def test_the_page_is_up_to_date() -> None:
    found = (shipped.folder("rulebook") / TOUCHED).read_text(encoding="utf-8")
    assert found == page_today(), f"{TOUCHED} is not what the rulebook gives; {HOW} writes it anew"


def test_the_page_is_written_from_the_rulings_that_are_tested_here() -> None:
    """Every case is taken, and one in forty is ruled as it is there."""
    assert [case["id"] for case in all_cases(FOLDER.parent)] == [case["id"] for _, case in CASES]
    for case, ruling in ruled(rulebook(), [case for _, case in CASES[::40]]):
        assert ruling == ruling_of(case["id"])


def test_no_table_is_silent_about_published_cases() -> None:
    for line in page_today().splitlines():
        cells = [cell.strip() for cell in line.strip("|").split("|")]
        if len(cells) == 4 and cells[1] == "0":
            assert cells[3].startswith("no published case was found"), line


def test_what_counts_as_published() -> None:
    assert is_published({"source": "EC&M, NEC Questions and Answers, August 2016"})
    assert not is_published({"source": "common practice, no published source found"})
    assert not is_published({"source": "the invented ordinance itself, written for this rulebook"})

"""Every single fault in a row of the shipped rulebook is noticed by a region or a worked case of rulebook/cases/.

A fault that nothing notices fails here with a region to paste, its outcome left blank for whoever reads the clause.
`python tests/rulebook/test_mutants.py QUESTION [DOCUMENT:EDITION | PLACE]` prints those of one table, briefly.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from typing import Any

import pytest

from shipped_book import rulebook
from yokebook import Code, shipped
from yokebook.law import Law
from yokebook.load.faults import Fault
from yokebook.load.files import read_file
from yokebook.load.nodes import Node, plain_data
from yokebook.load.regions import read_claims
from yokebook.model.claimed import Claim
from yokebook.proof.claim_text import fault_text, region_text, survivor_text
from yokebook.proof.claims import Laws
from yokebook.proof.introduced import Introduced, introduced
from yokebook.proof.recorded import recorded
from yokebook.proof.survivors import Recorded, Trial, content
from yokebook.proof.trials import Tried, tried

Case = Mapping[str, Any]

#: How many survivors of one table a failing test shows.
MOST_SHOWN = 8


@cache
def tables() -> dict[str, Introduced]:
    return {f"{each.name} {each.question}": each for each in introduced(rulebook().book)}


# ---- what notices faults ---------------------------------------------------------------------------------------------


@cache
def said(law: Law, question: str) -> object:
    """What a table says; two laws whose tables say the same have the same regions and cases."""
    return content(law, question)


@cache
def nodes() -> list[Node]:
    """The files of cases that can be read; test_cases.py and test_claims.py fail on the others."""
    faults: list[Fault] = []
    files = sorted((shipped.folder("rulebook") / "cases").rglob("*.yaml"))
    return [node for path in files if (node := read_file(path, path.name, faults)) is not None]


@cache
def claims() -> list[tuple[Claim, list[Law]]]:
    """The regions that have no fault, with the laws that they are about."""
    laws = Laws(rulebook().book)
    faults: list[Fault] = []
    return [(claim, [named.law for named in laws.of(claim)]) for claim in read_claims(nodes(), rulebook().book, faults)]


def claims_of(each: Introduced) -> list[Claim]:
    """The regions about a table, or about one that says the same."""
    wanted = said(each.law, each.question)
    return [
        claim
        for claim, laws in claims()
        if claim.question == each.question and any(said(law, each.question) == wanted for law in laws)
    ]


@cache
def cases() -> list[tuple[Case, Code]]:
    return [(case, code_of(case)) for node in nodes() for case in plain_data(node).get("cases", ())]


def code_of(case: Case) -> Code:
    if "place" in case:
        return _in_force(case["place"], *(tuple(sorted(case.get(part, {}).items())) for part in ("dates", "choices")))
    return _bare(case["document"], case["edition"])


@cache
def _in_force(place: str, dates: tuple[tuple[str, str], ...], choices: tuple[tuple[str, str], ...]) -> Code:
    return rulebook().in_force(place, dates=dict(dates), choices=dict(choices))


@cache
def _bare(document: str, edition: str) -> Code:
    return rulebook().edition(document, edition)


def cases_of(each: Introduced) -> Iterator[Recorded]:
    """The worked cases about a table, or about one that says the same."""
    wanted = said(each.law, each.question)
    for case, code in cases():
        if case["question"] != each.question:
            continue
        for kind, line in code.in_force.items():
            law = line.candidates[0].law
            if len(line.candidates) > 1 or law is None or not law.answers(each.question):
                continue
            if case.get("document") in (None, kind, law.resolved.document.id) and said(law, each.question) == wanted:
                yield case_of(case, code, kind)


def case_of(case: Case, code: Code, kind: str) -> Recorded:
    graph = code.graph(case["record"])
    (thing,) = graph.things[rulebook().book.questions[case["question"]].per]
    made = recorded(case["id"], case["expect"], graph, thing, case["question"], kind, code.in_force)
    assert made is not None
    return made


def trial(each: Introduced) -> Trial:
    return Trial(each.law, each.question, each.own, claims_of(each), list(cases_of(each)))


# ---- the tests -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", sorted(tables()))
def test_every_fault_is_noticed(name: str) -> None:
    every = list(tried(tables()[name], trial))
    left = [each for each in every if each.verdict.how == "survives"]
    shown = "\n".join(told(each) for each in left[:MOST_SHOWN])
    unnoticed = len(left)
    assert unnoticed == 0, f"{name}: nothing notices {unnoticed} of {len(every)} faults\nregions:\n{shown}"


def told(each: Tried) -> str:
    return survivor_text(each.trial.survivor(each.verdict), each.trial, each.table)


def main(question: str, which: str | None = None) -> int:
    """Prints the faults of a question's tables that nothing notices, each with a region where it shows."""
    wanted = [each for each in tables().values() if each.question == question and which in (None, *names(each))]
    if not wanted:
        print(f"no table `{question}`{f' of {which}' if which else ''} has rows of its own; there are:")
        print("\n".join(f"  {each.question} {names(each)[0]}" for each in tables().values()))
        return 2
    left = 0
    for each in wanted:
        every = list(tried(each, trial))
        found = [one for one in every if one.verdict.how == "survives"]
        left += len(found)
        print(f"{each.question} {names(each)[0]}: nothing notices {len(found)} of {len(every)} faults")
        for one in found:
            survivor = one.trial.survivor(one.verdict)
            where = "" if one.table.name == each.name else f" (shows only in {one.table.name})"
            print(f"  {fault_text(survivor)}{where}\n{region_text(one.trial.space, survivor.region, '      ')}")
    return 1 if left else 0


def names(each: Introduced) -> Sequence[str]:
    """What a table's law may be called on the command line."""
    its = each.law.resolved
    return (f"{its.document.id}:{its.edition}",) if each.place is None else (each.place, each.name)


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:3]))

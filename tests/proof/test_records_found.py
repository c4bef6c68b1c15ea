"""A record that a search found is one: put through the front door it has the outcome that it was searched for."""

from __future__ import annotations

from dataclasses import replace

import pytest

from shipped_book import rulebook
from yokebook import Code
from yokebook.front_door import project_to_graph
from yokebook.law import Law
from yokebook.pins import digest_of_table
from yokebook.proof.cover import STATES, Region
from yokebook.proof.elements import Side, Space, space_of
from yokebook.proof.realise import Realiser
from yokebook.proof.shown import project_data
from yokebook.proof.tables import holes_in
from yokebook.session import published

EDITIONS = [("nfpa-70", "2014"), ("nfpa-70", "2023"), ("tamarisk-energy", "2022"), ("dc-energy", "2017")]

#: Rules of which no record was found; each has been looked into by hand, with the reason.
NONE_FOUND = {
    "receptacle.circuit-rating#large-circuit": "no receptacle of the standard shapes is rated over 50 A",
    "which-half.satisfied#upper": "no published edition says which half, so no answer below is `upper`",
    "which-half.satisfied#upper-always-on": "no published edition says which half, so no answer below is `upper`",
}


#: Rules that the search does not come to within its steps, by edition, though worked cases have records of them: a
#: room with devices of both kinds, and a table of more facts than the steps take in.
TOO_FAR = {("share.spread#some-devices", "2017"), ("protection.replacement.ground-fault#not-today", "2023")}


def law_of(code: Code) -> Law:
    [line] = code.in_force.values()
    law = line.candidates[0].law
    assert law is not None
    return law


def regions_that_decide(space: Space, number: int) -> list[Region]:
    """Regions in which a rule fires and nothing prevails over it, as wide as can be, then as they were found."""
    rows = space.rows[0]
    over = rows.boxes_over(rows.rules[number].beaten_by)
    holes = list(holes_in(space, rows.firing[number], over, over & ~rows.impossible_bits, STATES))
    return [*(hole.widest for hole in holes), *(hole.part for hole in holes)]


def tables_of(code: Code, document: str, edition: str) -> list[str]:
    """The questions whose rules are looked at: what 2023 has just as 2014 has it is looked at there alone."""
    here = law_of(code).resolved
    if (document, edition) != ("nfpa-70", "2014"):
        return list(here.tables)
    there = law_of(rulebook().edition(document, "2023")).resolved
    the_book = rulebook().book
    return [
        name
        for name in here.tables
        if name not in there.tables or digest_of_table(here, the_book, name) != digest_of_table(there, the_book, name)
    ]


@pytest.mark.parametrize(("document", "edition"), EDITIONS)
def test_every_rule_decides_some_record(document: str, edition: str) -> None:
    code = rulebook().edition(document, edition)
    law = law_of(code)
    realiser = Realiser(rulebook().book, law, code.in_force)
    ruled = 0
    tables = tables_of(code, document, edition)
    for question in tables:
        space = space_of([Side(law, question)], rulebook().book, tied=True)
        for number, rule in enumerate(space.rows[0].rules):
            if (rule.id, edition) in TOO_FAR:
                continue
            tried = (realiser.find(question, space.spans(r), "ruled") for r in regions_that_decide(space, number))
            found = next((each for each in tried if each is not None), None)
            if rule.id in NONE_FOUND:
                assert found is None
                continue
            assert found is not None, f"{rule.id} of {document} {edition}: no record found"
            assert found.outcome.word == rule.then, rule.id
            plain = all(alternative in published(rulebook().book, name) for name, alternative in found.readings.items())
            if plain:
                graph = project_to_graph(project_data(rulebook().book, found), rulebook().book)
                ruling = code.rule(question, replace(graph), subject=found.subject.id)
                words = {ruling.outcome} | {word for under in ruling.under for word in under["outcomes"]}
                assert rule.then in words, (rule.id, ruling.word)
                ruled += 1
    assert ruled >= 0.7 * sum(len(law.resolved.tables[question].rules) for question in tables)

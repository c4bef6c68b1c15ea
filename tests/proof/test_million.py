"""A million random tables with records, the naive evaluator against the engine, and fewer of what takes longer: the
front door, missing facts, lists not complete. Each count says through which part of the engine it went."""

from __future__ import annotations

import random
import time
from collections import Counter
from collections.abc import Callable

import pytest

from proof.books import ALTERNATIVES, Made, random_book
from proof.holds_of_books import outcomes_are_those_of_completions, ruling_is_the_definition, space
from proof.lists import random_list_table, random_listed
from proof.tables import Definition, as_rows, random_table
from proof.truth import Record
from yokebook.deciding import Context
from yokebook.model import OneOf, Table
from yokebook.session import LowerFault, Session

#: How many pairs of each kind, and how many records each table is tried on.
FULL, ON_ELEMENTS, THROUGH_THE_DOOR, MISSING, LISTS = 1_000_000, 200_000, 3_000, 10_000, 10_000
RECORDS = 200


def decided(made: Made, record: Record) -> tuple[str, str]:
    """What the evaluator decides on one completion: (status, word)."""
    graph = made.graph(record)
    fixed = {"r": str(record["reading.r"])}
    context = Context(Session(graph, made.book, made.in_force), {}, fixed, set())
    try:
        outcome = context.decide(made.law, graph.things["contact"][0], "upper")
    except LowerFault as fault:
        outcome = fault.outcome
    return outcome.status, outcome.word if outcome.status == "ruled" else ""


def shapes(made: Made) -> list[str]:
    """What is special about a rulebook's tables."""
    tables = list(made.law.resolved.tables.values())
    found = {
        "on the answer of another table": len(tables) > 1,
        "with a cell of one number": any(_one_number(table) for table in tables),
        "with a cell that nothing fits": bool(space(made).empty_cells),
        "with an exception to an exception": any(_two_levels(table) for table in tables),
    }
    return [name for name, so in found.items() if so]


def _one_number(table: Table) -> bool:
    cells = (cell for rule in table.rules for box in rule.where for cell in box.values())
    return any(isinstance(cell, OneOf) and not any(isinstance(v, str | bool) for v in cell.values) for cell in cells)


def _two_levels(table: Table) -> bool:
    exceptions = {rule.id for rule in table.rules if rule.exception_to}
    return any(rule.exception_to != "all" and set(rule.exception_to) & exceptions for rule in table.rules)


def full_records(counts: Counter[str]) -> None:
    """Full records of raw values, decided by the evaluator."""
    rng = random.Random(1_000_003)
    while counts["full records, Context.decide"] < FULL:
        made = random_book(rng, chain=rng.random() < 0.4)
        special = shapes(made)
        chosen = made.law.resolved.chosen
        for _ in range(RECORDS):
            record = {**made.record(rng), "reading.r": chosen[0][1] if chosen else rng.choice(ALTERNATIVES)}
            due = made.ruling(record)
            assert decided(made, record) == due, (made, record)
            counts[f"full records: {due[0]}"] += 1
        counts["full records, Context.decide"] += RECORDS
        for shape in special:
            counts[f"full records: {shape}"] += RECORDS


def points(counts: Counter[str]) -> None:
    """Single points of plain tables, what cannot occur among them, through the rows of the proofs."""
    rng = random.Random(1_000_033)
    while counts["points of elements, Rows.at"] < ON_ELEMENTS:
        table = random_table(rng, most_points=5_000)
        naive, rows = Definition(table), as_rows(table)
        for _ in range(RECORDS):
            point = tuple(rng.randrange(width) for width in table.widths)
            assert rows.at(point) == naive.says(point), (table, point)
        counts["points of elements, Rows.at"] += RECORDS


def through_the_door(counts: Counter[str]) -> None:
    """Full records as people write them, under every published reading."""
    rng = random.Random(1_000_037)
    for _ in range(THROUGH_THE_DOOR):
        ruling_is_the_definition(random_book(rng, chain=rng.random() < 0.4), rng)
    counts["written records, Code.rule"] += THROUGH_THE_DOOR


def missing_facts(counts: Counter[str]) -> None:
    """Records with facts missing: the set of outcomes is that over all completions."""
    rng = random.Random(1_000_039)
    while counts["records with facts missing, explore"] < MISSING:
        made = random_book(rng, chain=rng.random() < 0.4)
        completions = outcomes_are_those_of_completions(made, rng, most=2)
        counts["records with facts missing, explore"] += completions > 0  # none of a record that cannot occur
        counts["facts missing: completions ruled naively"] += completions


def lists(counts: Counter[str]) -> None:
    """Records whose lists are not said to be complete, or of whose items not all is given."""
    rng = random.Random(1_000_081)
    while counts["records with lists, explore"] < LISTS:
        table = random_list_table(rng)
        for _ in range(20):
            listed = random_listed(rng)
            due = table.due(listed)
            assert table.told(listed) == due, (table, listed)
            counts["lists: incomplete"] += not listed.complete
            counts["lists: open"] += len(due) > 1
        counts["records with lists, explore"] += 20


@pytest.mark.slow
def test_a_million_pairs() -> None:
    counts: Counter[str] = Counter()
    kinds: tuple[Callable[[Counter[str]], None], ...] = (full_records, points, through_the_door, missing_facts, lists)
    for each in kinds:
        begin = time.process_time()
        each(counts)
        print(f"{each.__name__}: {time.process_time() - begin:.0f} s")
    for name, count in sorted(counts.items()):
        print(f"{name}: {count:,}")
    assert counts["full records, Context.decide"] >= 1_000_000
    for name in ("ruled", "conflict", "silent"):
        assert counts[f"full records: {name}"] > 10_000
    for shape in ("on the answer of another table", "with a cell of one number", "with a cell that nothing fits"):
        assert counts[f"full records: {shape}"] > 50_000
    assert counts["full records: with an exception to an exception"] > 50_000
    assert counts["lists: open"] > 500 and counts["lists: incomplete"] > 1_000

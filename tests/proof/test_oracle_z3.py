"""A solver that knows nothing of boxes, indexes or cuts is asked the same questions: gaps, conflicts, rules that never
stand. The definition is put to it rule by rule, over one bounded whole number for each input."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterable

import pytest
import z3

from dmn.tables import demo_places, editions, tables
from effort import tries
from proof.tables import as_rows, random_table
from yokebook.proof.conflicts import clashes
from yokebook.proof.cover import Region
from yokebook.proof.deciding_rows import Rows
from yokebook.proof.elements import Side, space_of


class Oracle:
    """The definition of one table as formulas. Each question is whether some point satisfies one of them."""

    def __init__(self, rows: Rows, counts: Counter[str]) -> None:
        self.rows, self.counts = rows, counts
        self.inputs = [z3.Int(f"input{i}") for i in range(len(rows.widths))]
        self.solver = z3.SimpleSolver()
        for value, width in zip(self.inputs, rows.widths, strict=True):
            self.solver.add(value >= 0, value < width)
        self.solver.add(*(z3.Not(self._in(region)) for region in rows.impossible))
        fires = [z3.Bool(f"fires{n}") for n in range(len(rows.rules))]
        stands = [z3.Bool(f"stands{n}") for n in range(len(rows.rules))]
        for rule, its_fires, its_stands in zip(rows.rules, fires, stands, strict=True):
            self.solver.add(its_fires == z3.And(self._any(rule.where), z3.Not(self._any(rule.but_not))))
            beaten = [fires[winner] for winner in rule.beaten_by]
            self.solver.add(its_stands == z3.And(its_fires, *(z3.Not(each) for each in beaten)))
        self.fires, self.stands = fires, stands

    def _any(self, boxes: Iterable[Region]) -> z3.BoolRef:
        return z3.Or(*(self._in(box) for box in boxes))  # pyright: ignore[reportReturnType]

    def _in(self, box: Region) -> z3.BoolRef:
        cells = (self._allowed(i, mask) for i, mask in enumerate(box) if mask != (1 << self.rows.widths[i]) - 1)
        return z3.And(*cells)  # pyright: ignore[reportReturnType]

    def _allowed(self, i: int, mask: int) -> z3.BoolRef:
        """One of the elements whose bits are set."""
        allowed = [e for e in range(self.rows.widths[i]) if mask & (1 << e)]
        return z3.Or(*(self.inputs[i] == e for e in allowed))  # pyright: ignore[reportReturnType]

    def some_point(self, *wanted: z3.BoolRef | z3.Probe) -> bool:
        """Whether all of this is so at some point that can occur."""
        found = self.solver.check(*wanted)
        assert found != z3.unknown
        self.counts[str(found)] += 1
        return found == z3.sat

    def gap(self) -> bool:
        """Whether no rule fires somewhere."""
        return self.some_point(*(z3.Not(each) for each in self.fires))

    def conflict(self, one: int, other: int) -> bool:
        """Whether two rules stand together somewhere."""
        return self.some_point(self.stands[one], self.stands[other])

    def dead(self, rule: int) -> bool:
        """Whether a rule stands nowhere."""
        return not self.some_point(self.stands[rule])


def never_stands(rows: Rows, rule: int) -> bool:
    """The engine's answer: each region where a rule fires is covered by the rules over it and what cannot occur."""
    over = rows.boxes_over(rows.rules[rule].beaten_by)
    return all(rows.cover.uncovered(region, over) is None for region in rows.firing[rule])


def compare(rows: Rows, counts: Counter[str]) -> None:
    """Asks the engine and the solver everything about one table; counts the answers, and what the solver came to."""
    oracle = Oracle(rows, counts)
    has_gap = rows.cover.uncovered(rows.cover.whole) is not None
    assert has_gap == oracle.gap()
    counts[f"gap {has_gap}"] += 1
    found = {(clash.one, clash.other) for clash in clashes(rows)}
    for other, its in enumerate(rows.rules):
        for one in range(other):
            if rows.rules[one].then != its.then:
                conflict = (one, other) in found
                assert conflict == oracle.conflict(one, other), (one, other)
                counts[f"conflict {conflict}"] += 1
        dead = never_stands(rows, other)
        assert dead == oracle.dead(other), other
        counts[f"dead {dead}"] += 1


def compare_random(count: int, seed: int) -> Counter[str]:
    """Compares so many random tables; the same ones for a seed."""
    rng = random.Random(seed)
    counts: Counter[str] = Counter()
    for _ in range(count):
        compare(as_rows(random_table(rng)), counts)
    return counts


def both_ways(counts: Counter[str], least: int) -> None:
    """Every kind of answer came up often, so that neither side is right by always saying the same."""
    print(dict(sorted(counts.items())))
    assert counts["sat"] + counts["unsat"] == sum(counts.values()) / 2  # one answer of each side to every question
    for answer in ("gap True", "gap False", "conflict True", "conflict False", "dead True", "dead False"):
        assert counts[answer] > least, answer


def test_random_tables() -> None:
    counts = compare_random(2_000, seed=20_240)
    assert counts["gap True"] + counts["gap False"] == 2_000
    both_ways(counts, 500)
    assert counts["sat"] > 5_000 and counts["unsat"] > 5_000


@pytest.mark.slow
def test_many_random_tables() -> None:
    """4,000 tables in CI, 16,000 where all is tried."""
    seeds = tries(2, 8)
    counts = sum((compare_random(2_000, seed) for seed in range(seeds)), Counter[str]())
    assert counts["gap True"] + counts["gap False"] == 2_000 * seeds
    both_ways(counts, 500 * seeds)


def test_every_shipped_table() -> None:
    """Every table of every edition and of every demo place on each day on which its law changes, its inputs free of
    each other and tied. Tables that are the same, most of them carried from edition to edition, are compared once."""
    shipped = tables([*editions(), *demo_places()])
    different: dict[tuple[Rows, bool], None] = {}
    for each in shipped:
        for tied in (False, True):
            space = space_of([Side(each.law, each.question)], each.law.book, tied=tied)
            different[space.rows[0], tied] = None
    counts: Counter[str] = Counter()
    for rows, _ in different:
        compare(rows, counts)
    print(f"{len(shipped)} tables, {len(different)} of them different, tied or not: {dict(sorted(counts.items()))}")
    assert len(shipped) > 300
    assert counts["gap True"] + counts["gap False"] == len(different) > 100
    assert counts["sat"] > 300 and counts["unsat"] > 300

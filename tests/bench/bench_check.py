"""How long the proofs of a whole table take: run `python tests/bench/bench_check.py`. Nothing is asserted.

Tables of 50, 500 and 5,000 rows over ten inputs: three choices of 4 to 6 words, three yes or no, three numbers with
thresholds on a grid, one whole number. The rows are the leaves of a random tree of cuts, so they do not overlap and
leave nothing out; a second kind of table has exceptions to a quarter of the rows as well, and exceptions to those.
"""

from __future__ import annotations

import argparse
import random
import statistics
import time
from collections.abc import Callable, Iterable
from typing import TypeVar

from yokebook.proof.conflicts import Clash, clashes
from yokebook.proof.cover import Region, bits
from yokebook.proof.deciding_rows import RowRule, Rows

T = TypeVar("T")

#: How many elements each input has: words; yes and no; 12 thresholds with the stretches beside them; counts.
CHOICES, YES_NO, NUMBERS, COUNTS = (4, 5, 6), (2, 2, 2), (25, 25, 25), (14,)
WIDTHS = (*CHOICES, *YES_NO, *NUMBERS, *COUNTS)
FIRST_NUMBER = len(CHOICES) + len(YES_NO)
WORDS = ("one", "two", "three")


def parts(rng: random.Random, i: int, mask: int) -> tuple[int, int]:
    """Some elements of an input in two: words as they fall, numbers below and above a threshold."""
    elements = list(bits(mask))
    if i < FIRST_NUMBER:
        rng.shuffle(elements)
    at = rng.randrange(1, len(elements))
    low = sum(1 << e for e in elements[:at])
    return low, mask ^ low


def narrower(rng: random.Random, region: Region, cuts: int) -> Region:
    """A part of a region, cut so many times as far as it can be."""
    for _ in range(cuts):
        open_inputs = [i for i, mask in enumerate(region) if mask.bit_count() > 1]
        if not open_inputs:
            break
        i = rng.choice(open_inputs)
        region = (*region[:i], rng.choice(parts(rng, i, region[i])), *region[i + 1 :])
    return region


def leaves(rng: random.Random, count: int) -> list[Region]:
    """The whole space cut into so many regions."""
    found: list[Region] = [tuple((1 << width) - 1 for width in WIDTHS)]
    while len(found) < count:
        at = rng.randrange(len(found))
        region = found[at]
        open_inputs = [i for i, mask in enumerate(region) if mask.bit_count() > 1]
        if open_inputs:
            i = rng.choice(open_inputs)
            low, high = parts(rng, i, region[i])
            found[at] = (*region[:i], low, *region[i + 1 :])
            found.append((*region[:i], high, *region[i + 1 :]))
    return found


def partition(rng: random.Random, count: int) -> Rows:
    """A table whose rows do not overlap and leave nothing out."""
    rules = (RowRule(f"row{n}", rng.choice(WORDS), (r,), (), frozenset()) for n, r in enumerate(leaves(rng, count)))
    return Rows(WIDTHS, tuple(rules), None)


def with_exceptions(rng: random.Random, count: int) -> Rows:
    """The same with a quarter more: exceptions to rows, and one third of them to exceptions."""
    base = leaves(rng, count)
    seconds = count // 12
    firsts = count // 4 - seconds
    first_of = [rng.randrange(count) for _ in range(firsts)]
    first_boxes = [narrower(rng, base[of], 2) for of in first_of]
    second_of = [rng.randrange(firsts) for _ in range(seconds)]
    over_base: list[set[int]] = [set() for _ in base]
    over_first: list[set[int]] = [set() for _ in first_boxes]
    for number, of in enumerate(first_of):
        over_base[of].add(seconds + number)
    for number, of in enumerate(second_of):
        over_first[of].add(number)
        over_base[first_of[of]].add(number)
    rules: list[RowRule] = []

    def add(boxes: Iterable[Region], over: Iterable[set[int]]) -> None:
        for box, winners in zip(boxes, over, strict=True):
            rules.append(RowRule(f"row{len(rules)}", rng.choice(WORDS), (box,), (), frozenset(winners)))

    add((narrower(rng, first_boxes[of], 1) for of in second_of), [set[int]() for _ in second_of])
    add(first_boxes, over_first)
    add(base, over_base)
    return Rows(WIDTHS, tuple(rules), None)


def without(rows: Rows, number: int) -> Rows:
    """A table of single rows with the last base row `number` places from the end left out."""
    kept = [rule for i, rule in enumerate(rows.rules) if i != len(rows.rules) - 1 - number]
    return Rows(rows.widths, tuple(kept), None)


# ---- what is measured ------------------------------------------------------------------------------------------------


def indexed(rows: Rows) -> Rows:
    """A copy of a table with its index made."""
    fresh = Rows(rows.widths, rows.rules, rows.none_fires, rows.impossible)
    assert fresh.cover.boxes and fresh.boxes_of
    return fresh


def gap(rows: Rows) -> Region | None:
    """Where no rule fires."""
    return rows.cover.uncovered(rows.cover.whole)


def dead(rows: Rows) -> list[int]:
    """The rules that never stand."""
    return [
        number
        for number, rule in enumerate(rows.rules)
        if all(rows.cover.uncovered(r, rows.boxes_over(rule.beaten_by)) is None for r in rows.firing[number])
    ]


def timed(runs: int, rows: Rows, work: Callable[[Rows], T]) -> tuple[float, T]:
    """The median of several runs in milliseconds, each on an index that nothing has been asked of, and what came."""
    took: list[float] = []
    results: list[T] = []
    for _ in range(runs):
        fresh = indexed(rows)
        begin = time.perf_counter()
        results.append(work(fresh))
        took.append((time.perf_counter() - begin) * 1000)
    return statistics.median(took), results[0]


def line(name: str, rows: Rows, gap_rows: Rows, runs: int) -> str:
    """One line of the table of times."""
    index, _ = timed(runs, rows, indexed)
    complete, hole = timed(runs, rows, gap)
    assert hole is None
    found, hole = timed(runs, gap_rows, gap)
    assert hole is not None
    all_of_them, pairs = timed(runs, rows, clashes)
    never, dead_rules = timed(runs, rows, dead)
    told: list[Clash] = [clash for clash in pairs if clash.region is not None]
    assert len(told) == len(pairs)
    times = f"{index:>9.1f} {complete:>14.1f} {found:>11.1f} {all_of_them:>11.1f} {len(told):>6} {never:>9.1f}"
    return f"{name:<20} {len(rows.rules):>6} {times} {len(dead_rules):>6}"


def main() -> None:
    """Prints medians in milliseconds on one core; the seed and the number of runs can be given."""
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--seed", type=int, default=1)
    arguments.add_argument("--runs", type=int, default=5)
    given = arguments.parse_args()
    print("medians in ms; the index is made before the questions and timed apart")
    heads = f"{'index':>9} {'complete':>14} {'gap found':>11} {'conflicts':>11} {'found':>6} {'dead':>9} {'found':>6}"
    print(f"{'table':<20} {'rows':>6} {heads}")
    for count in (50, 500, 5_000):
        rng = random.Random(given.seed * 10_007 + count)
        rows = partition(rng, count)
        print(line("leaves of a tree", rows, without(rows, rng.randrange(count)), given.runs), flush=True)
        rows = with_exceptions(rng, count)
        free = next(n for n in range(count) if not rows.rules[len(rows.rules) - 1 - n].beaten_by)
        print(line("with exceptions", rows, without(rows, free), given.runs), flush=True)


if __name__ == "__main__":
    main()

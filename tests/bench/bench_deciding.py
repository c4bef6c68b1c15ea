"""How long deciding takes: run `PYTHONPATH=tests python tests/bench/bench_deciding.py`. Nothing is asserted of times.

Everything is measured side by side in one run: each way on fresh records of its own in turn, several rounds, medians.
What is compared agrees first: on a few hundred records each way says what the others say. `measure` gives the figures
as data.
"""

from __future__ import annotations

import argparse
import gc
import platform
import random
import statistics
import time
import tracemalloc
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, field
from os import cpu_count
from typing import Any

import yokebook
from bench.buildings import building
from bench.others import Other, engines, naive, ready_of, with_numpy
from bench.shipped import marking_records
from bench.tables import Invented, by_hand, chain, one_table
from yokebook import front_door
from yokebook.code import Code
from yokebook.decision import Decision
from yokebook.graph import Graph

Record = Mapping[str, Any]
Say = Callable[[str], None]

#: What engines take longer for is measured on fewer records.
SLOW_MICROSECONDS = 200


@dataclass
class Line:
    """One way to decide: microseconds a record, and times the hand-written chain of ifs."""

    name: str
    microseconds: float
    ratio: float | None = None
    note: str = ""


@dataclass
class Part:
    """One thing measured, with its lines."""

    title: str
    lines: list[Line] = field(default_factory=list)


@dataclass
class Figures:
    """All that was measured, and on what."""

    python: str
    cores: int
    machine: str
    parts: list[Part] = field(default_factory=list)

    def as_data(self) -> dict[str, Any]:
        """As JSON-able data."""
        return asdict(self)


def timed(work: Callable[[], object]) -> float:
    """Seconds of processor time."""
    begin = time.process_time()
    work()
    return time.process_time() - begin


def side_by_side(
    ways: Mapping[str, tuple[Callable[[Any], object], Callable[[Record], Any], int]],
    make: Callable[[random.Random], Record],
    rounds: int,
) -> dict[str, float]:
    """The median of microseconds a record for each way (what it does, how it takes a record, how many records)."""
    rng = random.Random(7)
    took: dict[str, list[float]] = {name: [] for name in ways}
    for _ in range(rounds):
        for name, (decide, prepare, count) in ways.items():
            records = [prepare(make(rng)) for _ in range(count)]

            def go(decide: Callable[[Any], object] = decide, records: Sequence[Any] = records) -> None:
                for record in records:
                    decide(record)

            took[name].append(timed(go) / count * 1e6)
    return {name: statistics.median(each) for name, each in took.items()}


# ---- tables by records ----------------------------------------------------------------------------------------------


def table_part(title: str, invented: Invented, rounds: int, count: int, say: Say) -> Part:
    """One invented table: yokebook against all other ways."""
    say(title)
    hand, decide = by_hand(invented), invented.code.decider(invented.question)
    others, words = _that_agree(invented)
    ways: dict[str, tuple[Callable[[Any], object], Callable[[Record], Any], int]] = {
        "chain of ifs, by hand": (hand, dict, count),
        "yokebook": (decide, dict, count),
    }
    rng = random.Random(3)
    for other in others:
        few = [other.prepare(invented.record(rng)) for _ in range(20)]
        slow = timed(lambda other=other, few=few: [other.decide(record) for record in few]) / 20 * 1e6  # type: ignore[misc]
        ways[other.name] = (other.decide, other.prepare, count if slow < SLOW_MICROSECONDS else max(20, count // 40))
    _warm(decide, invented, count)
    found = side_by_side(ways, invented.record, rounds)
    by_hand_took = found["chain of ifs, by hand"]
    lines = [Line(name, took, took / by_hand_took) for name, took in found.items()]
    lines += _in_batches(invented, count, by_hand_took)
    lines += [Line(word, 0.0, None, "left out") for word in words]
    return Part(title, lines)


def _warm(decide: Callable[[Record], object], invented: Invented, count: int) -> None:
    rng = random.Random(11)
    for _ in range(2 * count):
        decide(invented.record(rng))


def _that_agree(invented: Invented) -> tuple[list[Other], list[str]]:
    """The other ways that say what yokebook says of a few hundred records, and a word for the rest."""
    rng = random.Random(2)
    records = [invented.record(rng) for _ in range(200)]
    decisions = [invented.code.decide(invented.question, record) for record in records]
    hand = by_hand(invented)
    for decision, record in zip(decisions, records, strict=True):
        # of rules in conflict the chain takes the first, in a lower table as well
        assert decision.status != "settled" or _agrees(decision, hand(record), True)
    if len(invented.code.book.questions) > 1:
        return [], []  # the others take one table
    agreeing, words = [], []
    for other in (naive(invented), *engines(invented)):
        if isinstance(other, str):
            words.append(other)
            continue
        wrong = _differing(other, records, decisions)
        if wrong:
            words.append(f"{other.name}: {wrong}")
        else:
            agreeing.append(other)
    return agreeing, words


def _differing(other: Other, records: Sequence[Record], decisions: Sequence[Decision]) -> str:
    try:
        for record, decision in zip(records, decisions, strict=True):
            if not _agrees(decision, other.decide(other.prepare(record)), other.rule):
                return "gives other answers"
    except Exception as error:  # an engine's own way to say that it cannot
        return f"cannot express it ({type(error).__name__})"
    return ""


def _agrees(decision: Decision, said: str, rule: bool) -> bool:
    if not rule:
        return decision.outcome == said
    return said in decision.rules or (said == "none" and not decision.rules)


def _in_batches(invented: Invented, count: int, by_hand_took: float) -> list[Line]:
    """numpy over all records at once, building the columns from records included."""
    if len(invented.code.book.questions) > 1:
        return []
    try:
        batch = with_numpy(invented)
    except ImportError:
        return [Line("numpy: not installed", 0.0, None, "left out")]
    rng = random.Random(4)
    records = [invented.record(rng) for _ in range(5 * count)]
    found = batch(records)
    decided = [invented.code.decide(invented.question, record) for record in records[:200]]
    assert all(_agrees(d, rule, True) for d, rule in zip(decided, found, strict=False))
    took = statistics.median(timed(lambda: batch(records)) for _ in range(3)) / len(records) * 1e6
    note = f"{len(records)} records at once; no unknown facts"
    return [Line(f"numpy {_version('numpy')}", took, took / by_hand_took, note)]


def _version(package: str) -> str:
    from importlib.metadata import version

    return version(package)


def missing_part(title: str, invented: Invented, most: int, count: int, say: Say) -> Part:
    """Records of which facts are missing: first seen, and once most of their like have been seen; the full ruling
    beside it."""
    say(title)
    lines: list[Line] = []
    rng = random.Random(5)
    fresh = Code(invented.code.book, invented.code.in_force, None, {}, None, {})
    decide = fresh.decider(invented.question)
    for missing in range(most + 1):
        records = [invented.record(rng, missing) for _ in range(count)]
        first = timed(lambda records=records: [decide(r) for r in records]) / count * 1e6  # type: ignore[misc]
        for _ in range(3):
            for record in [invented.record(rng, missing) for _ in range(count)]:
                decide(record)
        records = [invented.record(rng, missing) for _ in range(count)]
        later = timed(lambda records=records: [decide(r) for r in records]) / count * 1e6  # type: ignore[misc]
        few = records[:20]
        ruled = timed(lambda few=few: [fresh.rule(invented.question, r) for r in few]) / len(few) * 1e6  # type: ignore[misc]
        lines += [
            Line(f"{missing} missing, the first {count}", first),
            Line(f"{missing} missing, after {4 * count}", later),
            Line(f"{missing} missing, the full ruling", ruled),
        ]
    return Part(title, lines)


# ---- growth ---------------------------------------------------------------------------------------------------------


def growth_part(rounds: int, count: int, say: Say) -> Part:
    """How time grows with the rules of a table, and with the layers of a chain; and what compiling costs."""
    say("growth")
    part = Part("growth with rules and layers, full records")
    invented = [(f"{rules} rules", one_table(rules, 3, 3, 3, 1)) for rules in (12, 50, 200, 500, 2_000)]
    invented += [(f"chain of {layers}", chain(layers)) for layers in (1, 2, 4, 6, 10)]
    for name, each in invented:
        hand = by_hand(each)
        start = time.process_time()
        decide = each.code.decider(each.question)
        compiled = (time.process_time() - start) * 1e3
        _warm(decide, each, count)
        ways: dict[str, tuple[Callable[[Any], object], Callable[[Record], Any], int]] = {
            "hand": (hand, dict, count),
            "yokebook": (decide, dict, count),
        }
        found = side_by_side(ways, each.record, rounds)
        note = f"made ready in {compiled:.1f} ms"
        part.lines.append(Line(name, found["yokebook"], found["yokebook"] / found["hand"], note))
    return part


# ---- the shipped rulebook --------------------------------------------------------------------------------------------


def marking_part(rounds: int, count: int, say: Say) -> Part:
    """The shipped marking question in the demo city, on plausible records."""
    say("the shipped marking question")
    book = yokebook.load()
    law = ("demo/tamarisk/brindle-falls", {"permit application": "2024-10-15"})
    code = book.in_force(*law)
    records = marking_records(book, 20 * count)
    start = time.process_time()
    decide = code.decider("marking.required")
    compiled = (time.process_time() - start) * 1e3
    lines: list[Line] = []
    for begin in range(0, 4 * count, count):
        part = records[begin : begin + count]
        took = timed(lambda part=part: [decide(r) for r in part]) / count * 1e6  # type: ignore[misc]
        lines.append(Line(f"records {begin + 1} to {begin + count}", took, None, "each new kind is ruled on once"))
    lines[0].note = f"made ready in {compiled:.1f} ms; {lines[0].note}"
    for record in records:
        decide(record)
    again = statistics.median(timed(lambda: [decide(r) for r in records]) for _ in range(rounds)) / len(records) * 1e6
    lines.append(Line("seen before", again))
    few = records[:50]
    lines.append(Line("the full ruling", timed(lambda: [code.rule("marking.required", r) for r in few]) / 50 * 1e6))
    return Part("the shipped marking question, demo city", lines)


def projects_part(devices: Sequence[int], say: Say) -> Part:
    """Whole projects: reading, and every question that applies for every thing; no two rooms alike. Microseconds are a
    decision's."""
    part = Part("whole projects, every question without a topic")
    book = yokebook.load()
    for count in devices:
        say(f"a project of {count} devices")
        data = building(count)
        read = time.process_time()
        graph = front_door.project_to_graph(data, book.book)
        start = time.process_time()
        code = _own_law(book, graph)
        decided = code.decide_project(graph)
        end = time.process_time()
        once_more = timed(lambda code=code, graph=graph: code.decide_project(graph))  # type: ignore[misc]
        note = f"{len(decided)} decisions; read in {start - read:.1f} s, decided in {end - start:.1f} s"
        note += f", once more in {once_more:.1f} s"
        part.lines.append(Line(f"{len(graph.things['yoke'])} devices", (end - start) / len(decided) * 1e6, None, note))
        if count == min(devices):
            ruled = timed(lambda code=code, graph=graph: code.rule_project(graph))  # type: ignore[misc]
            part.lines.append(Line("the same, full rulings", ruled / len(decided) * 1e6))
    return part


def _own_law(book: yokebook.Rulebook, graph: Graph) -> Code:
    assert graph.place is not None
    return book.in_force(graph.place, graph.dates, choices=graph.choices)


def memory_part(records: Sequence[int], devices: Sequence[int], say: Say) -> Part:
    """What stays in memory: kept decisions by records decided, and a project's by its devices. In place of
    microseconds, kibibytes."""
    part = Part("memory, in KiB")
    invented = one_table(12, 3, 2, 2, 1)
    rng = random.Random(1)
    for count in records:
        say(f"memory of {count} records")
        fresh = Code(invented.code.book, invented.code.in_force, None, {}, None, {})
        gc.collect()
        tracemalloc.start()
        decide = fresh.decider(invented.question)
        for _ in range(count):
            decide(invented.record(rng, rng.choice((0, 0, 1, 2))))
        part.lines.append(Line(f"after {count} records", tracemalloc.get_traced_memory()[0] / 1024))
        tracemalloc.stop()
    book = yokebook.load()
    for count in devices:
        say(f"memory of {count} devices")
        graph = front_door.project_to_graph(building(count), book.book)
        code = _own_law(book, graph)
        gc.collect()
        tracemalloc.start()
        decided = code.decide_project(graph)
        kept, most = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        note = f"{len(decided)} decisions; at most {most / 1024:.0f}"
        part.lines.append(Line(f"{len(graph.things['yoke'])} devices", kept / 1024, None, note))
    return part


# ---- all of it -------------------------------------------------------------------------------------------------------


def measure(*, quick: bool = False, say: Say = lambda _: None) -> Figures:
    """All figures. `quick` measures less of everything, to see that it runs; `say` is told what is being done."""
    rounds, count = (3, 200) if quick else (9, 2_000)
    figures = Figures(platform.python_version(), cpu_count() or 0, platform.machine())
    small, big, layers = one_table(12, 3, 2, 2, 1), one_table(500, 3, 3, 3, 1), chain(6)
    assert len(ready_of(small).rules) == 12
    figures.parts += [
        table_part("12 rules over 8 facts", small, rounds, count, say),
        table_part("500 rules over 10 facts", big, rounds, count, say),
        table_part("a chain of 6 tables", layers, rounds, count, say),
        missing_part("12 rules over 8 facts, some missing", small, 4, count, say),
        missing_part("a chain of 6 tables, facts missing", layers, 2, count // 4, say),
        growth_part(rounds, count, say),
        marking_part(rounds, count // 4, say),
        projects_part((40, 80) if quick else (100, 1_000, 4_000, 10_000), say),
        memory_part((200, 400) if quick else (1_000, 10_000, 100_000), (40,) if quick else (500, 1_000, 2_000), say),
    ]
    return figures


def text_of(figures: Figures) -> str:
    """The figures as a table for people."""
    lines = [f"Python {figures.python}, {figures.cores} cores, {figures.machine}; medians, processor time"]
    for part in figures.parts:
        lines += ["", part.title, f"{'':<44} {'µs':>10} {'by hand':>8}"]
        for line in part.lines:
            ratio = "" if line.ratio is None else f"{line.ratio:.2f}x"
            took = "" if line.note == "left out" else f"{line.microseconds:.2f}"
            lines.append(f"{line.name:<44} {took:>10} {ratio:>8}  {line.note}".rstrip())
    return "\n".join(lines)


def main() -> None:
    """Prints the figures."""
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--quick", action="store_true", help="measure less of everything")
    given = arguments.parse_args()
    print(text_of(measure(quick=given.quick, say=lambda what: print(f"… {what}", flush=True))))


if __name__ == "__main__":
    main()

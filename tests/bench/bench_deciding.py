"""How long deciding takes: run `PYTHONPATH=tests python tests/bench/bench_deciding.py`. Nothing is asserted of times.

Everything is measured side by side in one run: each way on fresh records of its own in turn, several rounds, medians.
What is compared agrees first: on a few hundred records each way says what the others say. `measure` gives the figures
as data.
"""

from __future__ import annotations

import argparse
import platform
import random
import statistics
from collections.abc import Callable, Iterable, Mapping, Sequence
from itertools import pairwise
from os import cpu_count

import yokebook
from bench.growing import afresh, demo_part, layers_part, projects_part, records_part, rules_part, tables_part
from bench.measuring import Figures, Line, Part, Record, Say, Way, side_by_side, timed
from bench.others import Other, engines, naive, ready_of, with_numpy
from bench.shipped import marking_records
from bench.tables import Invented, by_hand, chain, one_table
from yokebook.code import Code
from yokebook.decision import Decision
from yokebook.flat.generated import Decides, generated
from yokebook.flat.plain import Plain

#: What engines take longer for is measured on fewer records.
SLOW_MICROSECONDS = 200


# ---- tables by records ----------------------------------------------------------------------------------------------


def table_part(title: str, invented: Invented, rounds: int, count: int, say: Say) -> Part:
    """One invented table: yokebook against all other ways."""
    say(title)
    hand, decide = by_hand(invented), invented.code.decider(invented.question)
    others, words = _that_agree(invented)
    ways: dict[str, Way] = {
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


def _warm(decide: Decides, invented: Invented, count: int) -> None:
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
    fresh = afresh(invented)
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


# ---- the reason -----------------------------------------------------------------------------------------------------


class _WordAlone(Plain):
    """As that, with nothing but the word kept for what is left of the table: what a decision without a reason needs."""

    def full(self, boxes: int, at_fault: Iterable[str]) -> Decision | None:
        """The word in place of a decision."""
        return self.top.answer(boxes, at_fault)  # type: ignore[return-value]


def reason_part(tables: Mapping[str, Invented], rounds: int, count: int, say: Say) -> Part:
    """The same code for the same records, once giving the word alone and once the word with the ids of the rules that
    stand, taken out of it: the first records of all, and later ones."""
    head = ("", "the word alone, µs", "with the rules, µs", "more", "more a table")
    head += ("the first records: the word, µs", "with the rules, µs", "more a table")
    part = Part("what the reason costs: the rules that decide", head=head)
    for name, invented in tables.items():
        say(f"the reason: {name}")
        kinds = (_WordAlone, Plain)
        first = {kind: [_first(invented, kind, count) for _ in range(rounds)] for kind in kinds}
        ways: dict[str, Way] = {}
        for kind in kinds:
            decide = _made(invented, kind)
            _warm(decide, invented, count)
            ways[kind.__name__] = (_taking(decide, kind), dict, count)
        found = side_by_side(ways, invented.record, 2 * rounds)
        alone, reason = (found[kind.__name__] for kind in kinds)
        begin = [statistics.median(each) for each in first.values()]
        number = len(invented.code.book.questions)
        row = (alone, reason, reason - alone, (reason - alone) / number, *begin, (begin[1] - begin[0]) / number)
        part.rows.append((name, *(f"{figure:,.2f}" for figure in row)))
    return part


def _first(invented: Invented, kind: type[Plain], count: int) -> float:
    """Microseconds for each of the first records."""
    rng = random.Random(6)
    records = [invented.record(rng) for _ in range(count)]
    take = _taking(_made(invented, kind), kind)
    return timed(lambda: [take(record) for record in records]) / count * 1e6


def _made(invented: Invented, kind: type[Plain]) -> Decides:
    """The code made for the question of invented tables, which all its records are decided by."""
    code, law = invented.code, invented.code.in_force["small"].candidates[0].law
    assert law is not None
    plain = kind(code.book, {"small": [law]}, "small", code.book.questions[invented.question])
    return generated(plain, code.decider(invented.question), lambda *_: False)[0]


def _taking(decide: Decides, kind: type[Plain]) -> Callable[[Record], object]:
    """What a caller takes of a decision."""
    if kind is _WordAlone:
        return lambda record: (decide(record), ())

    def with_rules(record: Record) -> object:
        decision = decide(record)
        return decision.word, decision.rules

    return with_rules


# ---- the shipped rulebook --------------------------------------------------------------------------------------------


def marking_part(rounds: int, count: int, say: Say) -> Part:
    """The shipped marking question in the demo city, on plausible records: one after the other under law that was just
    put in force, then all of them again; the same with a fifth of the facts left out, and the full ruling."""
    say("the shipped marking question")
    book = yokebook.load()
    law = ("demo/tamarisk/brindle-falls", {"permit application": "2024-10-15"})
    records = marking_records(book, 20 * count)
    rng = random.Random(6)
    gaps = [{name: value for name, value in record.items() if rng.random() >= 0.2} for record in records]
    head = ("records", "of a kind not seen before", "µs a record", "with a fifth of the facts left out, µs")
    part = Part("the shipped marking question, demo city", head=head)
    ends = (0, count, 2 * count, 4 * count, 10 * count, 20 * count)
    fresh, left_out = (_in_stretches(book.in_force(*law), each, ends, rounds) for each in (records, gaps))
    seen: set[object] = set()
    for (begin, end), full, some in zip(pairwise(ends), fresh, left_out, strict=False):
        before = len(seen)
        seen.update(frozenset(record.items()) for record in records[begin:end])
        part.rows.append((f"{begin + 1:,} to {end:,}", f"{len(seen) - before:,}", f"{full:.2f}", f"{some:.2f}"))
    part.rows.append(("all of them again", "0", f"{fresh[-1]:.2f}", f"{left_out[-1]:.2f}"))
    code = book.in_force(*law)

    def ruled(few: Sequence[Record]) -> float:
        return timed(lambda: [code.rule("marking.required", record) for record in few]) / len(few) * 1e6

    part.rows.append(("the full ruling", "", f"{ruled(records[:50]):.0f}", f"{ruled(gaps[:50]):.0f}"))
    return part


def _in_stretches(code: Code, records: Sequence[Record], ends: Sequence[int], rounds: int) -> list[float]:
    """Microseconds a record: of each stretch when it first comes, then of all records again."""
    decide = code.decider("marking.required")
    found: list[float] = []
    for begin, end in pairwise(ends):
        stretch = records[begin:end]
        found.append(timed(lambda stretch=stretch: [decide(r) for r in stretch]) / len(stretch) * 1e6)  # type: ignore[misc]
    again = statistics.median(timed(lambda: [decide(r) for r in records]) for _ in range(rounds))
    return [*found, again / len(records) * 1e6]


# ---- all of it -------------------------------------------------------------------------------------------------------


def measure(*, quick: bool = False, say: Say = lambda _: None) -> Figures:
    """All figures. `quick` measures less of everything, to see that it runs; `say` is told what is being done."""
    rounds, count = (3, 200) if quick else (9, 2_000)
    figures = Figures(platform.python_version(), cpu_count() or 0, platform.machine())
    small, big, layers = one_table(12, 3, 2, 2, 1), one_table(500, 3, 3, 3, 1), chain(6)
    assert len(ready_of(small).rules) == 12
    rules = (12, 125) if quick else (12, 50, 125, 500, 2_000)
    tables = (1, 4) if quick else (1, 2, 4, 6, 10, 20)
    figures.parts += [
        table_part("12 rules over 8 facts", small, rounds, count, say),
        table_part("500 rules over 10 facts", big, rounds, count, say),
        table_part("a chain of 6 tables", layers, rounds, count, say),
        reason_part({"12 rules": small, "500 rules": big, "a chain of 6 tables": layers}, rounds, count, say),
        missing_part("12 rules over 8 facts, some missing", small, 4, count, say),
        missing_part("a chain of 6 tables, facts missing", layers, 4, count // 4, say),
        rules_part(rules, rounds, count, say),
        tables_part(tables, rounds, count, say),
        layers_part(2 if quick else 6, rounds, count, say),
        marking_part(rounds, count // 4, say),
        records_part((200, 400) if quick else (1_000, 10_000, 100_000), say),
        demo_part(1 if quick else 5, say),
        projects_part((40, 80) if quick else (100, 1_000, 4_000, 10_000), say),
    ]
    return figures


def text_of(figures: Figures) -> str:
    """The figures as a table for people."""
    lines = [f"Python {figures.python}, {figures.cores} cores, {figures.machine}; medians, processor time"]
    for part in figures.parts:
        lines += ["", part.title]
        if part.head:
            lines += ["  ".join(row) for row in (part.head, *part.rows)]
            continue
        lines.append(f"{'':<44} {'µs':>10} {'by hand':>8}")
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

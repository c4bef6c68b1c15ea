"""What is measured, and how: processor time, each way on fresh records of its own in turn, medians."""

from __future__ import annotations

import random
import statistics
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, field
from typing import Any

Record = Mapping[str, Any]
Say = Callable[[str], None]

#: A way to decide: what it does, how it takes a record, and how many records it is measured on.
Way = tuple[Callable[[Any], object], Callable[[Record], Any], int]


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
    #: where the lines are not of this kind: what heads the columns of a table, and its rows
    head: tuple[str, ...] = ()
    rows: list[tuple[str, ...]] = field(default_factory=list)


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
    ways: Mapping[str, Way],
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

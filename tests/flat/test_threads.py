"""Several threads that decide at once under one law: each gets what it would get alone."""

from __future__ import annotations

import random
import sys
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from threading import Barrier

import pytest

import yokebook
from flat.held_against import Records, said
from flat.tangles import tangle
from yokebook import front_door
from yokebook.code import Code
from yokebook_adapters.command_line.session import demo_file

CITY = "demo/tamarisk/brindle-falls"
BOOK = yokebook.load()
THREADS = 4


@pytest.fixture(autouse=True)
def threads_take_turns_often() -> Iterator[None]:
    """Lets another thread go on after ever so little."""
    before = sys.getswitchinterval()
    sys.setswitchinterval(1e-6)
    yield
    sys.setswitchinterval(before)


def city(day: str = "2024-10-15") -> Code:
    """The law of the demo city, with nothing kept of it where nobody has it any more."""
    return BOOK.in_force(CITY, {"permit application": day})


def at_once(works: Sequence[Callable[[], object]]) -> list[object]:
    """What each of these gives, all begun at the same time."""
    begin = Barrier(len(works))

    def go(work: Callable[[], object]) -> object:
        begin.wait()
        return work()

    with ThreadPoolExecutor(len(works)) as pool:
        return list(pool.map(go, works))


@pytest.mark.parametrize("question", ["marking.required", "control.acts", "share.counts"])
def test_new_kinds_of_records_by_several_threads(question: str):
    alone = city()
    kind = alone.kinds_for(question)[0]
    rng = random.Random(question)
    made = Records(alone, question, kind)
    records = [made.one(rng) for _ in range(40)]
    due = [said(alone.decide(question, record, kind)) for record in records]
    code = city()

    def otherwise(seed: int) -> list[int]:
        order = list(range(len(records)))
        random.Random(seed).shuffle(order)
        return [i for i in order if said(code.decide(question, records[i], kind)) != due[i]]

    works = [lambda seed=seed: otherwise(seed) for seed in range(THREADS)]  # type: ignore[misc]
    assert at_once(works) == [[]] * THREADS


def test_the_code_made_for_a_question_serves_several_threads():
    rng = random.Random(4)
    made = tangle(rng, 4)
    records = [made.record(rng, rng.choice((0, 0, 1, 2))) for _ in range(400)]
    bad = [{**record, f"contact.no_such_{i}": 1} for i, record in enumerate(records[:40])]
    due = [said(made.code.decide(made.question, record)) for record in records]
    decide = Code(made.code.book, dict(made.code.in_force), None, {}, None, {}).decider(made.question)

    def otherwise(seed: int) -> int:
        found = [said(decide({**record, "stated_by": f"{seed}"})) for record in records]
        return sum(here != there for here, there in zip(found, due, strict=True))

    def refused() -> int:
        count = 0
        for record in bad:
            try:
                decide(record)
            except yokebook.InputFaults:
                count += 1
        return count

    works: list[Callable[[], object]] = [lambda seed=seed: otherwise(seed) for seed in range(3)]  # type: ignore[misc]
    assert at_once([*works, refused]) == [0, 0, 0, len(bad)]


def test_whole_projects_by_several_threads():
    graph = front_door.read_project(Path(demo_file()), BOOK.book)
    questions = ["marking.required", "marking.satisfied", "control.acts", "share.controlled"]
    alone = city()
    due = alone.decide_project(graph, questions)
    code = city()

    def otherwise() -> int:
        found = code.decide_project(front_door.read_project(Path(demo_file()), BOOK.book), questions)
        return sum(here != there for here, there in zip(found, due, strict=True))

    assert at_once([otherwise] * 3) == [0, 0, 0]

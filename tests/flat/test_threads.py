"""Several threads that decide at once under one law: each gets what it would get alone."""

from __future__ import annotations

import gc
import random
import sys
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path
from threading import Barrier

import pytest

import yokebook
from flat.held_against import Records, said
from flat.tangles import tangle
from yokebook import front_door
from yokebook.code import Code
from yokebook.flat import deciding
from yokebook.law import Candidate, InForce, Law
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
    del alone
    gc.collect()
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
    del alone
    gc.collect()
    code = city()

    def otherwise() -> int:
        found = code.decide_project(front_door.read_project(Path(demo_file()), BOOK.book), questions)
        return sum(here != there for here, there in zip(found, due, strict=True))

    assert at_once([otherwise] * 3) == [0, 0, 0]


# ---- what is kept for several laws -----------------------------------------------------------------------------------


def fast_of(code: Code) -> deciding.Fast:
    """What decides under a law."""
    return code._fast  # pyright: ignore[reportPrivateUsage]


def test_laws_of_the_same_texts_share_what_was_decided():
    one, other, later = city("2024-10-15"), city("2024-10-16"), city("2026-02-01")
    assert fast_of(one) is fast_of(other)
    assert fast_of(one) is not fast_of(BOOK.in_force(CITY))  # several entries may govern
    same = {kind: [c.law.resolved.tables for c in line.candidates if c.law] for kind, line in one.in_force.items()}
    then = {kind: [c.law.resolved.tables for c in line.candidates if c.law] for kind, line in later.in_force.items()}
    assert (same == then) == (fast_of(one) is fast_of(later))
    assert fast_of(BOOK.edition("nfpa-70", "2020")) is not fast_of(BOOK.edition("nfpa-70", "2023"))


def test_laws_of_other_texts_share_nothing_though_their_entries_are_called_alike():
    rng = random.Random(1)
    one, other = tangle(rng, 2), tangle(rng, 2)
    book = replace(one.code.book, facts={**one.code.book.facts, **other.code.book.facts})
    lines = [
        InForce("small", (Candidate("entry", "in force", Law(each, book), ""),))
        for each in (one.law.resolved, other.law.resolved, one.law.resolved)
    ]
    codes = [Code(book, {"small": line}, None, {}, None, {}) for line in lines]
    assert fast_of(codes[0]) is fast_of(codes[2])
    assert fast_of(codes[0]) is not fast_of(codes[1])


def test_what_is_kept_goes_with_the_last_law_that_uses_it():
    one, other = city("2024-10-17"), city("2024-10-18")
    one.decide("marking.required", {"contact.supply": "always on"})
    kept = id(fast_of(one))
    assert id(fast_of(other)) == kept
    del one
    gc.collect()
    assert id(fast_of(city("2024-10-19"))) == kept  # the other still has it
    del other
    gc.collect()
    assert all(id(fast) != kept for fast in deciding._IN_USE.values())  # pyright: ignore[reportPrivateUsage]

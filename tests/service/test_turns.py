"""Whose turn it is: small requests are never kept waiting by large ones, and neither wait for ever."""

from __future__ import annotations

import asyncio
import io
import json
import os
import pickle
import struct
from collections.abc import Callable, Coroutine, Sequence
from pathlib import Path
from typing import Any

import pytest

import small_rulebook
import yokebook
from yokebook_adapters.service import worker
from yokebook_adapters.service.arriving import Spooled
from yokebook_adapters.service.batches import Batch
from yokebook_adapters.service.limits import Limits
from yokebook_adapters.service.pool import Lane, Pool, Turns
from yokebook_adapters.service.problems import Problem


async def _settle() -> None:
    for _ in range(5):
        await asyncio.sleep(0)


class Queue:
    """Tasks that take turns and keep them until they are told to end; `ran` is the order in which they came to run."""

    def __init__(self, turns: Turns) -> None:
        self.turns = turns
        self.ran: list[str] = []
        self.ends: dict[str, asyncio.Event] = {}
        self.tasks: dict[str, asyncio.Task[None]] = {}

    async def add(self, lane: Lane, name: str) -> None:
        self.ends[name] = asyncio.Event()
        self.tasks[name] = asyncio.ensure_future(self._one(lane, name))
        await _settle()

    async def _one(self, lane: Lane, name: str) -> None:
        await self.turns.take(lane)
        self.ran.append(name)
        await self.ends[name].wait()
        self.turns.give_back(lane)

    async def end(self, name: str) -> None:
        self.ends[name].set()
        await _settle()


def on_a_loop(of: Callable[[], Coroutine[Any, Any, None]]) -> None:
    asyncio.run(of())


def test_one_place_is_always_left_to_small_requests():
    async def play() -> None:
        queue = Queue(Turns(3))
        for number in range(3):
            await queue.add("slice", f"slice {number}")
            await queue.add("long", f"long {number}")
        assert queue.ran == ["slice 0", "long 0"]
        await queue.add("small", "small")
        assert queue.ran[-1] == "small"

    on_a_loop(play)


def test_long_ones_leave_a_place_to_batches():
    async def play() -> None:
        queue = Queue(Turns(3))
        await queue.add("long", "a")
        await queue.add("long", "b")
        await queue.add("slice", "c")
        assert queue.ran == ["a", "c"]
        await queue.end("a")
        assert queue.ran == ["a", "c", "b"]

    on_a_loop(play)


def test_small_ones_may_take_every_place_but_not_for_ever():
    async def play() -> None:
        queue = Queue(Turns(1))
        await queue.add("small", "0")
        await queue.add("slice", "batch")
        for number in range(1, 9):
            await queue.add("small", f"{number}")
        for number in range(4):
            await queue.end(f"{number}")
        assert queue.ran == ["0", "1", "2", "3", "batch"]
        await queue.end("batch")
        assert queue.ran[5:] == ["4"]

    on_a_loop(play)


def test_batches_take_turns():
    async def play() -> None:
        queue = Queue(Turns(1))
        for name in ("a1", "b1", "a2", "b2"):
            await queue.add("slice", name)
        for name in ("a1", "b1", "a2"):
            await queue.end(name)
        assert queue.ran == ["a1", "b1", "a2", "b2"]

    on_a_loop(play)


def test_who_gives_up_waiting_holds_nothing():
    async def play() -> None:
        queue = Queue(Turns(1))
        await queue.add("small", "a")
        await queue.add("small", "b")
        await queue.add("small", "c")
        queue.tasks["b"].cancel()
        await _settle()
        await queue.end("a")
        assert queue.ran == ["a", "c"]
        queue.ends["c"].set()  # d is given its turn and gives up at that moment
        await queue.add("small", "d")
        await queue.end("d")
        await queue.add("small", "e")
        assert queue.ran == ["a", "c", "d", "e"]

    on_a_loop(play)


def test_who_is_told_to_stop_as_a_turn_comes_free_holds_nothing():
    """The turn comes free after one that waits was cancelled and before it can leave the line."""

    async def play() -> None:
        turns = Turns(1)
        await turns.take("slice")
        waiting = [asyncio.ensure_future(turns.take("slice")) for _ in range(2)]
        await _settle()
        waiting[0].cancel()
        turns.give_back("slice")
        await _settle()
        assert waiting[0].cancelled() and waiting[1].done() and waiting[1].exception() is None
        turns.give_back("slice")
        await asyncio.wait_for(turns.take("slice"), 10)

    on_a_loop(play)


# ---- batches over processes that are made up -------------------------------------------------------------------------


class MadeUp:
    """Processes that answer a line with its own text, some lines at a time; on a line that says so one dies."""

    count = 3

    def __init__(self, at_once: int = 25) -> None:
        self.at_once = at_once
        self.held = asyncio.Event()
        self.held.set()

    async def run(self, lane: Lane, seconds: float, task: Any, pairs: Any, *more: Any) -> Any:
        await self.held.wait()
        lines: Sequence[tuple[int, bytes]] = more[0]
        await asyncio.sleep(0 if lines[0][0] % 2 else 0.01)  # so that slices come to their end in another order
        taken = lines[: self.at_once]
        if any(line == b"die" for _, line in taken):
            raise Problem("failed", "The process that worked on this died twice.")
        return [worker.Ruled(line, line == b"bad") for _, line in taken]


def made_up(text: bytes, pool: MadeUp) -> Batch:
    spool = Spooled(io.BytesIO(text))
    numbered = list(spool.numbered())
    spool.lines, spool.last = len(numbered), numbered[-1][0]
    return Batch(pool, Limits(), [], spool)  # type: ignore[arg-type]


@pytest.mark.parametrize("at_once", [1, 7, 25])
def test_slices_come_back_in_order_whatever_order_they_end_in(at_once: int):
    async def play() -> None:
        lines = [b"%d" % number for number in range(1, 201)]
        batch = made_up(b"\n".join(lines), MadeUp(at_once))
        parts = [part async for part in batch.lines()]
        assert b"".join(parts).split(b"\n") == [*lines, b""] and len(parts) == 8
        assert batch.ending() == {
            "state": "done", "lines": 200, "ruled": 200, "refused": 0, "not_ruled": None, "why": "",
        }  # fmt: skip

    on_a_loop(play)


def test_a_line_on_which_a_process_dies_is_told_and_the_others_are_ruled():
    async def play() -> None:
        batch = made_up(b"a\nbad\ndie\n\nb", MadeUp())
        a, bad, died, b, _ = b"".join([part async for part in batch.lines()]).split(b"\n")
        assert (a, bad, b) == (b"a", b"bad", b"b")
        assert json.loads(died)["line"] == 3 and json.loads(died)["problem"]["type"] == "/v1/problems/failed"
        assert (batch.progress.ruled, batch.progress.refused) == (2, 2)

    on_a_loop(play)


def test_a_batch_that_is_stopped_says_from_which_line_on():
    async def play() -> None:
        pool = MadeUp()
        batch = made_up(b"\n" + b"x\n" * 60, pool)
        source = batch.lines()
        assert await anext(source) == b"x\n" * 25
        pool.held.clear()
        waiting = asyncio.ensure_future(anext(source, None))
        await asyncio.sleep(0.05)
        batch.stop("stopped", "the service ended")
        batch.stop("cancelled", "too late")
        second = await waiting
        ruled = 25 if second is None else 50  # its slice may have been on its way already
        if second is not None:
            assert await anext(source, None) is None
        assert batch.ending() == {
            "state": "stopped",
            "lines": 60,
            "ruled": ruled,
            "refused": 0,
            "not_ruled": {"from": ruled + 2, "to": 61, "lines": 60 - ruled},
            "why": "the service ended",
        }

    on_a_loop(play)


def test_who_waits_too_long_for_a_turn_is_told_to_come_again():
    limits = Limits(workers=1, wait_seconds=0.01)
    pool = Pool(worker.Start(b"", "digest", limits))

    async def play() -> None:
        await pool._turns.take("small")
        with pytest.raises(Problem) as refused:
            await pool.run("small", 1, worker.ready)
        assert (refused.value.status, refused.value.headers) == (503, {"Retry-After": "5"})
        assert refused.value.detail == "No turn came in time."

    on_a_loop(play)
    pool.close()


# ---- the end of the processes ----------------------------------------------------------------------------------------


def test_half_a_result_of_a_process_that_was_killed_keeps_nothing_waiting(tmp_path: Path):
    """What a process that is killed while it writes leaves behind: the length of a result and less than that."""
    rulebook = yokebook.load(small_rulebook.write(tmp_path))
    pool = Pool(worker.Start(pickle.dumps(rulebook), "digest", Limits(workers=1)))
    asyncio.run(pool.ready())
    executor = pool._executor
    thread: Any = executor._executor_manager_thread
    results: Any = executor._result_queue
    os.write(results._writer.fileno(), struct.pack("!i", 100) + b"not a hundred")
    pool.close()
    thread.join(30)
    assert not thread.is_alive()

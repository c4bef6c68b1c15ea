"""The processes that rule, and whose turn it is.

Small requests go first, and one process is always left to them: batches, projects and comparisons never take all. Of
these the long ones leave one to batches. Waiting batches take turns, slice by slice.
"""

from __future__ import annotations

import asyncio
import contextlib
import multiprocessing
from collections import deque
from collections.abc import Callable
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from typing import Any, Literal

from yokebook_adapters.service import worker
from yokebook_adapters.service.problems import Problem

Lane = Literal["small", "slice", "long"]
_LANES: tuple[Lane, ...] = ("small", "slice", "long")

#: After so many small requests in a row something else has its turn.
_IN_A_ROW = 4

#: How much longer than its time a task may take to say that its time was up, before its process is ended.
_MARGIN = 5.0


class Turns:
    """Gives out turns, so many at a time."""

    def __init__(self, count: int) -> None:
        self.count = count
        heavy = max(1, count - 1)
        self._most: dict[Lane, int] = {"small": count, "slice": heavy, "long": max(1, heavy - 1)}
        self._heavy = heavy
        self._running: dict[Lane, int] = dict.fromkeys(_LANES, 0)
        self._waiting: dict[Lane, deque[asyncio.Future[None]]] = {lane: deque() for lane in _LANES}
        self._in_a_row = 0
        self._last_heavy: Lane = "long"

    async def take(self, lane: Lane) -> None:
        """Waits for a turn; it has to be given back."""
        turn: asyncio.Future[None] = asyncio.get_running_loop().create_future()
        self._waiting[lane].append(turn)
        self._deal()
        try:
            await turn
        except asyncio.CancelledError:
            if not turn.cancelled():
                self.give_back(lane)  # it came just as nobody wanted it any more
            elif turn in self._waiting[lane]:
                self._waiting[lane].remove(turn)
            raise

    def give_back(self, lane: Lane) -> None:
        """Ends a turn."""
        self._running[lane] -= 1
        self._deal()

    def _deal(self) -> None:
        while (lane := self._next()) is not None:
            turn = self._waiting[lane].popleft()
            if turn.cancelled():  # who waited for it was told to stop, and has not come to leave the line yet
                continue
            self._running[lane] += 1
            self._in_a_row = self._in_a_row + 1 if lane == "small" else 0
            if lane != "small":
                self._last_heavy = lane
            turn.set_result(None)

    def _next(self) -> Lane | None:
        heavy: tuple[Lane, ...] = ("slice", "long") if self._last_heavy == "long" else ("long", "slice")
        order: tuple[Lane, ...] = ("small", *heavy) if self._in_a_row < _IN_A_ROW else (*heavy, "small")
        return next((lane for lane in order if self._may_run(lane)), None)

    def _may_run(self, lane: Lane) -> bool:
        running = self._running
        if not self._waiting[lane] or sum(running.values()) >= self.count or running[lane] >= self._most[lane]:
            return False
        return lane == "small" or running["slice"] + running["long"] < self._heavy


class Pool:
    """The processes. `close` ends them."""

    def __init__(self, start: worker.Start) -> None:
        self._start = start
        self.count = start.limits.processes
        self._turns = Turns(self.count)
        self._executor = self._made()

    def _made(self) -> ProcessPoolExecutor:
        # not forked from this process, which has threads and connections
        context = multiprocessing.get_context("forkserver")
        context.set_forkserver_preload(["yokebook_adapters.service.worker"])
        return ProcessPoolExecutor(self.count, context, worker.begin, (self._start,))

    async def ready(self) -> None:
        """Waits until a process is ready to rule."""
        await asyncio.wrap_future(self._executor.submit(worker.ready))

    async def run(self, lane: Lane, seconds: float, task: Callable[..., Any], *arguments: Any) -> Any:
        """What a task of `worker` gives. `seconds` is how long it may take by its own word.

        Raises Problem: its own; too busy, where no turn came in time (a slice, of a batch that was taken, waits as long
        as it has to); failed, where its process died twice.
        """
        try:
            async with asyncio.timeout(None if lane == "slice" else self._start.limits.wait_seconds):
                await self._turns.take(lane)
        except TimeoutError:
            detail = "No turn came in time."
            raise Problem("too-busy", detail, headers={"Retry-After": "5"}) from None
        return await self._run(lane, seconds, task, *arguments)

    async def _run(self, lane: Lane, seconds: float, task: Callable[..., Any], *arguments: Any) -> Any:
        """Runs the task in the turn that was taken, which ends when the task does, wanted or not."""
        ended = _OnceEnded(self._turns, lane)
        try:
            for _ in range(2):
                executor = self._executor
                try:
                    future = executor.submit(task, *arguments)
                except RuntimeError:  # its processes died or were ended meanwhile
                    self._replace(executor)
                    continue
                ended.waits_for(future)
                try:
                    async with asyncio.timeout(seconds + _MARGIN):
                        return await asyncio.shield(asyncio.wrap_future(future))
                except TimeoutError:
                    self._replace(executor)
                    raise Problem("too-long", "This did not end in time, and was stopped.") from None
                except BrokenProcessPool:  # its process died, or all were ended because of another
                    self._replace(executor)
            raise Problem("failed", "The process that worked on this died twice.")
        finally:
            ended.no_more()

    def _replace(self, broken: ProcessPoolExecutor) -> None:
        """Ends all processes and starts others, unless that was done already."""
        if self._executor is broken:
            self._executor = self._made()
            _end(broken)

    def close(self) -> None:
        """Ends all processes."""
        _end(self._executor)


class _OnceEnded:
    """Gives a turn back once nothing runs in it any more."""

    def __init__(self, turns: Turns, lane: Lane) -> None:
        self._turns = turns
        self._lane: Lane = lane
        self._loop = asyncio.get_running_loop()
        self._future: Future[Any] | None = None

    def waits_for(self, future: Future[Any]) -> None:
        """What runs in the turn now."""
        self._future = future

    def no_more(self) -> None:
        """Nothing more is run in the turn; it ends with what runs still."""
        if self._future is None or self._future.done() or self._future.cancel():
            self._turns.give_back(self._lane)
        else:
            self._future.add_done_callback(self._give_back)

    def _give_back(self, future: Future[Any]) -> None:
        with contextlib.suppress(RuntimeError):  # the loop has ended
            self._loop.call_soon_threadsafe(self._turns.give_back, self._lane)


def _end(executor: ProcessPoolExecutor) -> None:
    # before the executor forgets them; it has no way of its own to end a process that hangs
    processes = list((executor._processes or {}).values())
    results: Any = executor._result_queue
    executor.shutdown(wait=False)
    for process in processes:
        if process.is_alive() and process.pid is not None:
            with contextlib.suppress(ProcessLookupError):
                process.kill()
    if results is not None:
        # one that was killed while it wrote leaves half a result, and the executor's thread would wait for the rest of
        # it, and this process for that thread, as long as anybody could still write
        results._writer.close()

"""A project that is followed: parts of it are ruled on side by side, and told in order as they come.

Nothing of it is kept: when the client goes, it ends.
"""

from __future__ import annotations

import asyncio
from collections import deque
from collections.abc import AsyncGenerator
from itertools import islice

from yokebook_adapters.service import worker
from yokebook_adapters.service.limits import Limits
from yokebook_adapters.service.pool import Pool
from yokebook_adapters.service.problems import Problem, json_bytes

#: A part: so many rulings at most, told some at a time.
_RULINGS = 120
_SECONDS = 0.25


class Following:
    """One project on its way. `stop` ends it before its time."""

    def __init__(self, pool: Pool, limits: Limits, data: bytes) -> None:
        self._pool = pool
        self._limits = limits
        self._data = data
        self._stop = asyncio.Event()
        self._why = ""
        self.total = 0
        self.done = 0

    def stop(self, why: str) -> None:
        """Ends it where it is; its last event says so and why."""
        if not self._stop.is_set():
            self._why = why
            self._stop.set()

    async def begin(self) -> bytes:
        """What is told first, as JSON. Raises Problem."""
        seconds = self._limits.long_seconds
        begin: bytes
        begin, self.total = await self._pool.run("long", seconds, worker.follow_begin, self._data, seconds)
        return begin

    async def parts(self) -> AsyncGenerator[tuple[str, bytes], None]:
        """The events that follow, as name and JSON: `rulings`, some at a time and in order, then `end` or `problem`."""
        ranges = iter(range(0, self.total, _RULINGS))
        waiting: deque[_Part] = deque()
        stopped = asyncio.ensure_future(self._stop.wait())
        try:
            while not self._stop.is_set():
                waiting.extend(self._part(first) for first in islice(ranges, self._pool.count - len(waiting)))
                if not waiting:
                    break
                part = waiting[0]
                told = asyncio.ensure_future(part.told.get())
                await asyncio.wait([told, stopped], return_when=asyncio.FIRST_COMPLETED)
                if not told.done():
                    told.cancel()
                    break
                rulings = told.result()
                if rulings is None:
                    await waiting.popleft().task
                    continue
                self.done += len(rulings)
                yield "rulings", b'{"done":%d,"rulings":[%s]}' % (self.done, b",".join(rulings))
            ending = {"state": "stopped" if self._stop.is_set() else "done", "rulings": self.done, "why": self._why}
            yield "end", json_bytes(ending)
        except Problem as problem:
            yield "problem", json_bytes(problem.data())
        finally:
            for task in (stopped, *(part.task for part in waiting)):
                task.cancel()

    def _part(self, first: int) -> _Part:
        part = _Part()
        part.task = asyncio.ensure_future(self._rule(part, first, min(first + _RULINGS, self.total)))
        return part

    async def _rule(self, part: _Part, first: int, last: int) -> None:
        """Rules on a part; some rulings at a time go to `told`, and None at the end, whatever the end is."""
        seconds = self._limits.seconds
        try:
            while first < last:
                arguments = (self._data, first, last, seconds, _SECONDS)
                done = await self._pool.run("slice", seconds + _SECONDS, worker.follow_slice, *arguments)
                first += len(done)
                part.told.put_nowait(done)
        finally:
            part.told.put_nowait(None)


class _Part:
    """Rulings that belong together, being made; `told` has them as they come."""

    task: asyncio.Task[None]

    def __init__(self) -> None:
        self.told: asyncio.Queue[list[bytes] | None] = asyncio.Queue()

"""A batch on its way: slices of it are ruled on side by side and answered in order, and nothing of it is lost without a
word: the last line says which lines were not ruled on."""

from __future__ import annotations

import asyncio
from collections import deque
from collections.abc import AsyncGenerator, Iterator, Sequence
from dataclasses import dataclass
from itertools import islice
from typing import Any

from yokebook_adapters.service import worker
from yokebook_adapters.service.arriving import Spooled
from yokebook_adapters.service.limits import Limits
from yokebook_adapters.service.pool import Pool
from yokebook_adapters.service.problems import Problem, json_bytes
from yokebook_adapters.service.queries import Pairs

MEDIA_TYPE = "application/jsonl"

#: A slice: so many lines at most, and no further line after so long.
_LINES = 25
_SECONDS = 0.25

_Numbered = Sequence[tuple[int, bytes]]


@dataclass
class Progress:
    """How far a batch is."""

    lines: int
    ruled: int = 0
    refused: int = 0

    @property
    def done(self) -> bool:
        """Whether every line was answered."""
        return self.ruled + self.refused == self.lines


class Batch:
    """One batch that was taken. `stop` ends it before its time; `why` then says why."""

    def __init__(self, pool: Pool, limits: Limits, pairs: Pairs, spool: Spooled) -> None:
        self._pool = pool
        self._limits = limits
        self.pairs = pairs
        self.spool = spool
        self._stop = asyncio.Event()
        self._next_line = 1
        self.state = "done"
        self.why = ""
        self.progress = Progress(spool.lines)

    def stop(self, state: str, why: str) -> None:
        """Ends the batch where it is: `cancelled` by its client, or `stopped` by the service."""
        if not self._stop.is_set():
            self.state, self.why = state, why
            self._stop.set()

    async def begin(self) -> bytes:
        """The first line. Raises Problem where the query of the batch cannot be used."""
        seconds = self._limits.seconds
        line: bytes = await self._pool.run(
            "small", seconds, worker.batch_begin, self.pairs, self.spool.lines, seconds
        )
        return line + b"\n"

    async def lines(self) -> AsyncGenerator[bytes, None]:
        """The answers to the lines, in order, some at a time."""
        source = iter(self._slices())
        waiting: deque[tuple[int, asyncio.Task[list[worker.Ruled]]]] = deque()
        stopped = asyncio.ensure_future(self._stop.wait())
        try:
            while True:
                for part in islice(source, self._pool.count - len(waiting)):
                    waiting.append((part[0][0], asyncio.ensure_future(self._slice(part))))
                if not waiting:
                    return
                self._next_line, task = waiting[0]
                await asyncio.wait([task, stopped], return_when=asyncio.FIRST_COMPLETED)
                if self._stop.is_set():
                    return
                waiting.popleft()
                done = task.result()
                yield b"".join(each.data + b"\n" for each in done)
                # only now: what was not taken was not answered
                refused = sum(each.refused for each in done)
                self.progress.ruled += len(done) - refused
                self.progress.refused += refused
        finally:
            for each in (stopped, *(task for _, task in waiting)):
                each.cancel()

    def _slices(self) -> Iterator[_Numbered]:
        numbered = self.spool.numbered()
        while part := list(islice(numbered, _LINES)):
            yield part

    async def _slice(self, part: _Numbered) -> list[worker.Ruled]:
        done: list[worker.Ruled] = []
        while len(done) < len(part):
            done += await self._some(part[len(done) :])
        return done

    async def _some(self, part: _Numbered) -> list[worker.Ruled]:
        """The answers to the first of these lines. A line on which the process dies is told as failed."""
        seconds = self._limits.seconds
        most = seconds + _SECONDS
        try:
            found: list[worker.Ruled] = await self._pool.run(
                "slice", most, worker.batch_slice, self.pairs, part, seconds, _SECONDS
            )
            return found
        except Problem as problem:
            if len(part) > 1:
                return await self._some(part[:1])
            return [worker.Ruled(json_bytes({"line": part[0][0], "problem": problem.data()}), True)]

    def not_ruled(self) -> dict[str, int] | None:
        """The lines that were not ruled on; None where all were."""
        progress = self.progress
        if progress.done:
            return None
        left = progress.lines - progress.ruled - progress.refused
        return {"from": self._next_line, "to": self.spool.last, "lines": left}

    def ending(self) -> dict[str, Any]:
        """How the batch ended, as data."""
        progress = self.progress
        counts = {"lines": progress.lines, "ruled": progress.ruled, "refused": progress.refused}
        state = "done" if progress.done else self.state
        return {"state": state, **counts, "not_ruled": self.not_ruled(), "why": "" if progress.done else self.why}

    def end(self) -> bytes:
        """The last line."""
        return json_bytes({"end": self.ending()}) + b"\n"

    def close(self) -> None:
        """Lets the lines go."""
        self.spool.close()

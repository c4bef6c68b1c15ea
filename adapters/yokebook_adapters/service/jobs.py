"""Batches taken as jobs: they wait, run, and keep their answers for a while.

A job's id comes from what was sent, so that the same batch sent twice is one job.
"""

from __future__ import annotations

import asyncio
import hashlib
import logging
import tempfile
from collections.abc import AsyncIterator, Callable
from contextlib import aclosing
from typing import IO, Any

from yokebook_adapters.service.arriving import Spooled
from yokebook_adapters.service.batches import Batch
from yokebook_adapters.service.kept import Kept
from yokebook_adapters.service.limits import Limits
from yokebook_adapters.service.problems import Problem
from yokebook_adapters.service.queries import Pairs

log = logging.getLogger("yokebook.service")

#: So many jobs run at a time; the others wait.
_AT_A_TIME = 2
_PIECE = 65_536


class Job:
    """One batch as a job. `state` is waiting, running, or how it ended: done, cancelled, stopped."""

    def __init__(self, id_: str, batch: Batch, begin: bytes) -> None:
        self.id = id_
        self.state = "waiting"
        self._batch = batch
        # the answers outlive every request, so there is no block to hold them in
        self._file: IO[bytes] = tempfile.TemporaryFile()  # noqa: SIM115
        self._size = self._file.write(begin)
        self._moved = asyncio.Event()
        self._readers = 0
        self._forgotten = False
        #: called with the job once it has ended
        self.when_ended: Callable[[Job], None] = lambda job: None

    @property
    def ended(self) -> bool:
        """Whether nothing more comes."""
        return self.state not in ("waiting", "running")

    def data(self) -> dict[str, Any]:
        """How far it is."""
        ending = self._batch.ending()
        if not self.ended:
            ending |= {"state": self.state, "not_ruled": None, "why": ""}
        state = ending.pop("state")
        return {"job": self.id, "state": state, **ending}

    async def run(self, most: int) -> None:
        """Rules on every line, unless it is stopped before."""
        self.state = "running"
        self._tell()
        try:
            async with aclosing(self._batch.lines()) as parts:
                async for lines in parts:
                    if self._size + len(lines) > most:
                        self._batch.stop("stopped", f"its answers have more than {most:,} bytes")
                        break
                    self._write(lines)
                    self._tell()
        except Exception:
            log.exception("job %s failed", self.id)
            self._batch.stop("stopped", "the service failed; its log has more")
        self.end()

    def stop(self, state: str, why: str) -> None:
        """Ends it where it is; one that waits ends at once."""
        self._batch.stop(state, why)
        if self.state == "waiting":
            self.end()

    def end(self) -> None:
        """Writes the last line and lets the batch go."""
        if self.ended:
            return
        self.state = self._batch.ending()["state"]
        if self.state == "stopped":
            log.warning("job %s was stopped, because %s; %s", self.id, self._batch.why, left_of(self._batch))
        self._write(self._batch.end())
        self._batch.close()
        self._tell()
        self.when_ended(self)
        self._close_unless_used()

    def _write(self, lines: bytes) -> None:
        self._file.seek(self._size)
        self._size += self._file.write(lines)

    def _tell(self) -> None:
        self._moved.set()
        self._moved = asyncio.Event()

    async def moves(self, least: float) -> AsyncIterator[dict[str, Any]]:
        """How far it is: now, whenever that changes (but not more often than every `least` seconds), and at its end."""
        while True:
            moved = self._moved
            data = self.data()
            yield data
            if self.ended and data == self.data():
                return
            await moved.wait()
            if not self.ended:
                await asyncio.sleep(least)

    async def answers(self) -> AsyncIterator[bytes]:
        """Every line from the first to the last, those to come included."""
        position = 0
        self._readers += 1
        try:
            while True:
                moved, ended = self._moved, self.ended
                while position < self._size:
                    self._file.seek(position)
                    piece = self._file.read(min(_PIECE, self._size - position))
                    position += len(piece)
                    yield piece
                if ended:
                    return
                await moved.wait()
        finally:
            self._readers -= 1
            self._close_unless_used()

    def forget(self) -> None:
        """Lets the answers go, once nobody reads them any more."""
        self._forgotten = True
        self._close_unless_used()

    def _close_unless_used(self) -> None:
        if self._forgotten and self.ended and not self._readers:
            self._file.close()


class Jobs:
    """All jobs of the service. `kept` is where their batches are kept until they have ended, if anywhere."""

    def __init__(self, limits: Limits, kept: Kept | None = None) -> None:
        self._limits = limits
        self.kept = kept
        self._service_ends = False
        self._jobs: dict[str, Job] = {}
        self._running: dict[Job, asyncio.Task[None]] = {}
        self._waiting: list[Job] = []

    def counts(self) -> dict[str, int]:
        """How many wait and run."""
        return {"waiting": len(self._waiting), "running": len(self._running)}

    def get(self, id_: str) -> Job:
        """The job of this id. Raises Problem where there is none."""
        job = self._jobs.get(id_)
        if job is None:
            fault = {"parameter": "job", "detail": "no such job is kept; POST its batch to /v1/jobs again"}
            raise Problem("not-found", "There is no such job.", [fault])
        return job

    def same(self, id_: str) -> Job | None:
        """A job of the same batch that waits, runs or is done."""
        job = self._jobs.get(id_)
        return job if job is not None and job.state not in ("cancelled", "stopped") else None

    def check_room(self) -> None:
        """Raises Problem where no more jobs are taken for now."""
        if len(self._waiting) + len(self._running) >= self._limits.jobs:
            detail = f"As many jobs wait or run as are allowed, which is {self._limits.jobs}."
            raise Problem("too-busy", detail, headers={"Retry-After": "30"})

    def add(self, job: Job) -> None:
        """Takes a job, which runs when it is its turn."""
        before = self._jobs.pop(job.id, None)
        if before is not None:
            before.forget()
        self._jobs[job.id] = job
        job.when_ended = self._ended
        self._waiting.append(job)
        self._go_on()

    def cancel(self, job: Job) -> None:
        """Ends a job for its client."""
        if not job.ended:
            job.stop("cancelled", "it was cancelled")
            self._waiting = [each for each in self._waiting if each is not job]

    def forget(self, job: Job) -> None:
        """Ends a job for its client, who wants no more of it."""
        self.cancel(job)
        del self._jobs[job.id]
        job.forget()

    def _go_on(self) -> None:
        while self._waiting and len(self._running) < _AT_A_TIME:
            job = self._waiting.pop(0)
            task = asyncio.ensure_future(job.run(self._limits.job_bytes))
            self._running[job] = task
            task.add_done_callback(self._after(job))
        ended = [job for job in self._jobs.values() if job.ended]
        for job in ended[: max(0, len(ended) - self._limits.kept_jobs)]:
            self._jobs.pop(job.id).forget()

    def _after(self, job: Job) -> Callable[[asyncio.Task[None]], None]:
        def go_on(task: asyncio.Task[None]) -> None:
            self._running.pop(job, None)
            self._go_on()

        return go_on

    def _ended(self, job: Job) -> None:
        # one that the end of the service stops is taken up again when it starts anew
        if self.kept is not None and not (self._service_ends and job.state == "stopped"):
            self.kept.drop(job.id)

    async def all_ended(self) -> None:
        """Waits for every job that waits or runs."""
        while self._running:
            await asyncio.wait(list(self._running.values()))
            await asyncio.sleep(0)

    def stop(self, why: str) -> None:
        """Ends every job where it is, as the service ends, and says in the log what was not ruled on."""
        self._service_ends = True
        for job in [*self._waiting, *self._running]:
            job.stop("stopped", why)
        self._waiting = []


def left_of(batch: Batch) -> str:
    """Which lines of a batch were not ruled on, in words for the log."""
    left = batch.not_ruled()
    if left is None:
        return "every line was ruled on"
    return f"lines {left['from']} to {left['to']} were not ruled on ({left['lines']} that are not blank)"


def job_id(digest: str, pairs: Pairs, spool: Spooled) -> str:
    """The id of the job of a batch: the same for the same rulebook, query and lines."""
    of = hashlib.sha256(repr((digest, sorted(pairs))).encode())
    spool.file.seek(0)
    while piece := spool.file.read(_PIECE):
        of.update(piece)
    return of.hexdigest()[:32]

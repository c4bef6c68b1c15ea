"""The service as a whole: its processes, its batches, and what it knows without asking them."""

from __future__ import annotations

import asyncio
import logging
import pickle
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from typing import Any

import yokebook
from yokebook_adapters.service import book_data, openapi, worker
from yokebook_adapters.service.batches import Batch
from yokebook_adapters.service.following import Following
from yokebook_adapters.service.jobs import Job, Jobs
from yokebook_adapters.service.kept import Kept
from yokebook_adapters.service.limits import Limits
from yokebook_adapters.service.pool import Pool
from yokebook_adapters.service.problems import Problem, json_bytes
from yokebook_adapters.version import version

log = logging.getLogger("yokebook.service")

_ENDED = "the service ended"

#: So often it is looked whether what runs has ended, once the service is told to end.
_BETWEEN_LOOKS = 0.05


class Service:
    """One rulebook served. Use it `async with running()`; `end` and `end_now` bring its end."""

    def __init__(self, rulebook: yokebook.Rulebook, limits: Limits, kept: Kept | None = None) -> None:
        pickled = pickle.dumps(rulebook)  # before the book is read out of its pack, which is far smaller
        self.book = rulebook.book
        self.limits = limits
        self.digest = book_data.book_digest(rulebook.book)
        self.version = version()
        self.pool = Pool(worker.Start(pickled, self.digest, limits))
        self.jobs = Jobs(limits, kept)
        self.streams: set[Batch] = set()
        self.followed: set[Following] = set()
        self.stopping = False
        self._end: asyncio.Task[None] | None = None
        self.fixed = self._fixed()

    def _fixed(self) -> dict[str, bytes]:
        """The answers that never change, by operation."""
        book, rulebook = self.book, {"rulebook": {"digest": self.digest}}
        cautions = {"cautions": list(book.cautions)}
        return {
            "openapi": json_bytes(openapi.document(self.version, book)),
            "questions": json_bytes(rulebook | {"questions": book_data.questions_data(book)}),
            "facts": json_bytes(rulebook | {"facts": book_data.facts_data(book)}),
            "documents": json_bytes(rulebook | {"documents": book_data.documents_data(book)}),
            "places": json_bytes(rulebook | {"places": book_data.places_data(book)} | cautions),
        }

    def health(self) -> dict[str, Any]:
        """Whether the service is there."""
        return {
            "rulebook": {"digest": self.digest},
            "status": "stopping" if self.stopping else "serving",
            "version": self.version,
            "jobs": self.jobs.counts(),
        }

    @asynccontextmanager
    async def running(self) -> AsyncIterator[None]:
        """Starts the processes, and at the end waits for jobs within the grace time and ends the processes."""
        await self.pool.ready()
        await self._take_up()
        try:
            yield
        finally:
            self.end_soon()
            await self.jobs.all_ended()
            if self._end is not None:
                self._end.cancel()
            self.pool.close()

    async def _take_up(self) -> None:
        """Takes up the jobs that had not ended when the service did, from their first lines on."""
        for id_, pairs, spool in self.jobs.kept.all() if self.jobs.kept is not None else ():
            batch = Batch(self.pool, self.limits, pairs, spool)
            try:
                self.jobs.add(Job(id_, batch, await batch.begin()))
                log.warning("job %s is taken up again, %d lines", id_, spool.lines)
            except Problem as problem:
                log.warning("job %s cannot be taken up again: %s", id_, problem.data())
                batch.close()

    async def end(self) -> None:
        """Takes nothing new, and comes back once nothing runs any more, within the grace time."""
        self.end_soon()
        while self._something_runs():
            await asyncio.sleep(_BETWEEN_LOOKS)

    def _something_runs(self) -> bool:
        return bool(self.streams or self.followed or any(self.jobs.counts().values()))

    def end_soon(self) -> None:
        """Takes nothing new; what runs may go on for the grace time."""
        if not self.stopping:
            self.stopping = True
            self._end = asyncio.get_running_loop().create_task(self._after_grace())

    async def _after_grace(self) -> None:
        if self._something_runs():
            log.warning("running batches have %g seconds to end", self.limits.grace_seconds)
        await asyncio.sleep(self.limits.grace_seconds)
        self.end_now()

    def end_now(self) -> None:
        """Ends every batch where it is; each says which of its lines were not ruled on."""
        self.jobs.stop(_ENDED)
        for project in self.followed:
            project.stop(_ENDED)
        for batch in self.streams:
            batch.stop("stopped", _ENDED)

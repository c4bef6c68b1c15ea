"""What each operation does with a request."""

from __future__ import annotations

import logging
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import aclosing
from typing import Any

from sse_starlette.event import JSONServerSentEvent, ServerSentEvent
from sse_starlette.sse import EventSourceResponse
from starlette.requests import Request
from starlette.responses import Response, StreamingResponse

from yokebook.load.faults import suggest
from yokebook.load.schema_check import schemas
from yokebook_adapters.service import batches, worker
from yokebook_adapters.service.answers import json_answer, tagged
from yokebook_adapters.service.arriving import spooled, whole_body
from yokebook_adapters.service.batches import Batch
from yokebook_adapters.service.book_data import facts_data, one_question, place_data, question_data
from yokebook_adapters.service.following import Following
from yokebook_adapters.service.jobs import Job, job_id, left_of
from yokebook_adapters.service.operations import Operation
from yokebook_adapters.service.pool import Lane
from yokebook_adapters.service.problems import KINDS, Problem, json_bytes
from yokebook_adapters.service.queries import Pairs, Query
from yokebook_adapters.service.service import Service

log = logging.getLogger("yokebook.service")

Endpoint = Callable[[Request], Awaitable[Response]]

#: A job's events come no more often than this.
_BETWEEN_EVENTS = 0.2

#: Operations on a record are small; those on a project and two laws take longer.
_SMALL = ("ruleRecord", "explainRecord", "askRecord")

_JSON_TYPES = ("application/json",)
_BATCH_TYPES = ("application/jsonl", "application/x-ndjson")


class Endpoints:
    """The endpoints of one service, by operation."""

    def __init__(self, service: Service) -> None:
        self.service = service
        self.limits = service.limits
        self._schemas = {name: json_bytes(schema) for name, schema in schemas().items()}
        self._facts = {fact["id"]: fact for fact in facts_data(service.book)}
        self._own: dict[str, Endpoint] = {
            "health": self.health,
            "schema": self.schema,
            "problem": self.problem,
            "question": self.question,
            "fact": self.fact,
            "place": self.place,
            "tables": self.tables,
            "ruleBatch": self.rule_batch,
            "startJob": self.start_job,
            "job": self.job,
            "cancelJob": self.cancel_job,
            "followProject": self.follow_project,
            "forgetJob": self.forget_job,
            "jobEvents": self.job_events,
            "jobLines": self.job_lines,
        }

    def of(self, operation: Operation) -> Endpoint:
        """The endpoint of an operation."""

        async def endpoint(request: Request) -> Response:
            if operation.takes == "nothing":
                await whole_body(request, 0)
            if not operation.query:
                query = Query(_pairs(request), ())
                query.finish()
            if operation.id in self._own:
                return await self._own[operation.id](request)
            if operation.id in self.service.fixed:
                return tagged(request, self.service.fixed[operation.id])
            return await self._answer(operation, request)

        return endpoint

    # ---- with a body ------------------------------------------------------------------------------------------------

    async def _answer(self, operation: Operation, request: Request) -> Response:
        _check_type(request, _JSON_TYPES)
        self._check_not_stopping()
        data = await whole_body(request, self.limits.body_bytes)
        small = operation.id in _SMALL
        seconds = self.limits.seconds if small else self.limits.long_seconds
        lane: Lane = "small" if small else "long"
        run = self.service.pool.run
        return json_answer(await run(lane, seconds, worker.answer, operation.id, data, seconds))

    async def rule_batch(self, request: Request) -> Response:
        """The answers to a batch, line by line."""
        batch, begin, _ = await self._taken(request)
        self.service.streams.add(batch)

        async def lines() -> AsyncIterator[bytes]:
            try:
                yield begin
                async with aclosing(batch.lines()) as parts:
                    async for part in parts:
                        yield part
                if batch.ending()["state"] == "stopped":
                    log.warning("a batch was stopped, because %s; %s", batch.why, left_of(batch))
                yield batch.end()
            finally:
                self.service.streams.discard(batch)
                batch.close()

        return StreamingResponse(lines(), media_type=batches.MEDIA_TYPE)

    async def start_job(self, request: Request) -> Response:
        """Takes a batch as a job."""
        self.service.jobs.check_room()
        batch, begin, id_ = await self._taken(request)
        job = self.service.jobs.same(id_)
        if job is not None:
            batch.close()
        else:
            try:
                self.service.jobs.check_room()
                if self.service.jobs.kept is not None:
                    self.service.jobs.kept.keep(id_, batch.pairs, batch.spool)
            except BaseException:
                batch.close()
                raise
            job = Job(id_, batch, begin)
            self.service.jobs.add(job)
        return json_answer(self._job_data(job), 202, {"Location": f"/v1/jobs/{id_}"})

    async def _taken(self, request: Request) -> tuple[Batch, bytes, str]:
        """A batch that has come whole and whose query can be used, its first line, and its id."""
        _check_type(request, _BATCH_TYPES)
        self._check_not_stopping()
        pairs = _pairs(request)
        spool = await spooled(request, self.limits)
        batch = Batch(self.service.pool, self.limits, pairs, spool)
        try:
            return batch, await batch.begin(), job_id(self.service.digest, pairs, spool)
        except BaseException:
            batch.close()
            raise

    def _check_not_stopping(self) -> None:
        if self.service.stopping:
            detail = "The service was told to end and takes nothing new."
            raise Problem("stopping", detail, headers={"Retry-After": "30"})

    async def follow_project(self, request: Request) -> Response:
        """The rulings on a project as they are made."""
        _check_type(request, _JSON_TYPES)
        self._check_not_stopping()
        data = await whole_body(request, self.limits.body_bytes)
        followed = Following(self.service.pool, self.limits, data)
        begin = await followed.begin()
        self.service.followed.add(followed)

        async def events() -> AsyncIterator[ServerSentEvent]:
            try:
                yield ServerSentEvent(begin.decode(), event="begin", sep="\n")
                async with aclosing(followed.parts()) as parts:
                    async for event, part in parts:
                        yield ServerSentEvent(part.decode(), event=event, sep="\n")
            finally:
                self.service.followed.discard(followed)

        return EventSourceResponse(events(), sep="\n", send_timeout=self.limits.write_seconds)

    # ---- jobs -------------------------------------------------------------------------------------------------------

    async def job(self, request: Request) -> Response:
        """How far a job is."""
        return json_answer(self._job_data(self._job(request)))

    async def cancel_job(self, request: Request) -> Response:
        """Cancels a job."""
        job = self._job(request)
        self.service.jobs.cancel(job)
        return json_answer(self._job_data(job))

    async def forget_job(self, request: Request) -> Response:
        """Cancels a job and lets its answers go."""
        self.service.jobs.forget(self._job(request))
        return Response(status_code=204)

    async def job_events(self, request: Request) -> Response:
        """How far a job is, whenever that changes."""
        job = self._job(request)

        async def events() -> AsyncIterator[JSONServerSentEvent]:
            async for data in job.moves(_BETWEEN_EVENTS):
                ended = data["state"] not in ("waiting", "running")
                yield JSONServerSentEvent(self._head() | data, event="end" if ended else "progress", sep="\n")

        return EventSourceResponse(events(), sep="\n", send_timeout=self.limits.write_seconds)

    async def job_lines(self, request: Request) -> Response:
        """The answers of a job, those to come included."""
        return StreamingResponse(self._job(request).answers(), media_type=batches.MEDIA_TYPE)

    def _job(self, request: Request) -> Job:
        return self.service.jobs.get(request.path_params["job"])

    def _job_data(self, job: Job) -> bytes:
        return json_bytes(self._head() | job.data())

    # ---- what the rulebook holds ------------------------------------------------------------------------------------

    def _head(self) -> dict[str, Any]:
        return {"rulebook": {"digest": self.service.digest}}

    async def health(self, request: Request) -> Response:
        """Whether the service is there."""
        return json_answer(json_bytes(self.service.health()), headers={"Cache-Control": "no-store"})

    async def schema(self, request: Request) -> Response:
        """A published schema."""
        name = request.path_params["schema"].removesuffix(".json").removesuffix(".schema")
        if name not in self._schemas:
            raise _not_found("schema", "schema", name, self._schemas)
        return tagged(request, self._schemas[name], "application/schema+json")

    async def problem(self, request: Request) -> Response:
        """What a kind of problem is."""
        name = request.path_params["problem"]
        if name not in KINDS:
            raise _not_found("kind of problem", "problem", name, KINDS)
        _, title, says = KINDS[name]
        return tagged(request, f"{title}. {says}\n".encode(), "text/plain")

    async def question(self, request: Request) -> Response:
        """One question."""
        found = one_question(self.service.book, request.path_params["question"])
        return tagged(request, json_bytes(self._head() | {"question": question_data(found)}))

    async def fact(self, request: Request) -> Response:
        """One fact."""
        name = request.path_params["fact"]
        if name not in self._facts:
            raise _not_found("fact", "fact", name, self._facts)
        return tagged(request, json_bytes(self._head() | {"fact": self._facts[name]}))

    async def place(self, request: Request) -> Response:
        """One place."""
        name, book = request.path_params["place"], self.service.book
        if name not in book.places:
            raise _not_found("place", "place", name, book.places)
        data = {"place": place_data(book, book.places[name]), "cautions": list(book.cautions)}
        return tagged(request, json_bytes(self._head() | data))

    async def tables(self, request: Request) -> Response:
        """The tables that answer a question."""
        seconds = self.limits.seconds
        name, pairs = request.path_params["question"], _pairs(request)
        return tagged(request, await self.service.pool.run("small", seconds, worker.tables, name, pairs, seconds))


def _pairs(request: Request) -> Pairs:
    return list(request.query_params.multi_items())


def _check_type(request: Request, allowed: tuple[str, ...]) -> None:
    """Raises Problem where the body is said to be of another type, or of none."""
    given = request.headers.get("content-type", "")
    media_type, *parameters = (part.strip().lower() for part in given.split(";"))
    charset = next((p.partition("=")[2].strip('"') for p in parameters if p.startswith("charset=")), "utf-8")
    if media_type not in allowed or charset not in ("utf-8", "utf8"):
        wanted = " or ".join(allowed)
        fault = {"header": "content-type", "detail": f"found `{given[:100]}`; allowed: {wanted}, in UTF-8"}
        headers = {"Accept": ", ".join(allowed)}
        raise Problem("wrong-type", f"The body has to be {wanted}.", [fault], headers)


def _not_found(what: str, parameter: str, name: str, known: Any) -> Problem:
    hint = suggest(name[:200], known)
    fault = {"parameter": parameter, "detail": f"there is no {what} `{name[:200]}`{hint}"}
    return Problem("not-found", f"There is no such {what}.", [fault])

"""A request's body as it arrives: within its time and its size."""

from __future__ import annotations

import asyncio
import tempfile
from collections.abc import AsyncIterator, Iterator
from dataclasses import dataclass
from typing import IO

from starlette.datastructures import Headers
from starlette.requests import Request
from starlette.types import Message, Receive

from yokebook_adapters.service.limits import Limits
from yokebook_adapters.service.problems import Problem

#: A batch up to this size stays in memory while it waits.
IN_MEMORY = 1_000_000


class Arrival:
    """What a request's `receive` becomes: it ends a body that comes too slowly, and knows when one has come whole."""

    def __init__(self, receive: Receive, limits: Limits, headers: Headers) -> None:
        self._receive = receive
        self._limits = limits
        self._deadline: float | None = None
        self._none_comes = "transfer-encoding" not in headers and headers.get("content-length", "0") == "0"
        self._came_whole = False

    @property
    def whole(self) -> bool:
        """Whether nothing more of the body comes."""
        return self._none_comes or self._came_whole

    async def __call__(self) -> Message:
        """The next message. Raises Problem where it comes too late."""
        if self._came_whole:
            return await self._receive()
        now = asyncio.get_running_loop().time()
        if self._deadline is None:
            self._deadline = now + self._limits.body_seconds
        try:
            async with asyncio.timeout_at(min(now + self._limits.read_seconds, self._deadline)):
                message = await self._receive()
        except TimeoutError:
            raise Problem("too-slow", self._too_slow(), headers={"Connection": "close"}) from None
        if message["type"] != "http.request" or not message.get("more_body", False):
            self._came_whole = True
        return message

    def _too_slow(self) -> str:
        limits = self._limits
        return (
            f"The body came too slowly; allowed: {limits.read_seconds:g} seconds between two pieces, and "
            f"{limits.body_seconds:g} for all of it."
        )


async def pieces(request: Request, most: int) -> AsyncIterator[bytes]:
    """The body, piece by piece. Raises Problem where it is larger than `most` bytes, before it is read if its length
    is given; ClientDisconnect where the client went away."""
    given = request.headers.get("content-length", "")
    if given.isdecimal() and int(given) > most:
        raise _too_large(f"The body has {int(given):,} bytes", most)
    size = 0
    async for piece in request.stream():
        size += len(piece)
        if size > most:
            raise _too_large("The body goes on", most)
        yield piece


async def whole_body(request: Request, most: int) -> bytes:
    """The body. Raises Problem and ClientDisconnect as `pieces` does."""
    return b"".join([piece async for piece in pieces(request, most)])


def _too_large(what: str, most: int) -> Problem:
    allowed = f"at most {most:,} bytes" if most else "no body"
    return Problem("too-large", f"{what}; allowed: {allowed}.")


@dataclass
class Spooled:
    """A batch that has arrived. `lines` counts those that are not blank, `last` is the number of the last of these."""

    file: IO[bytes]
    lines: int = 0
    last: int = 0

    def numbered(self) -> Iterator[tuple[int, bytes]]:
        """Every line that is not blank, with its number."""
        self.file.seek(0)
        for number, line in enumerate(self.file, start=1):
            if line.strip():
                yield number, line.rstrip(b"\r\n")

    def close(self) -> None:
        """Lets the lines go."""
        self.file.close()


async def spooled(request: Request, limits: Limits) -> Spooled:
    """The batch that a request brings, kept on disk if it is long. Raises Problem where it, or a line of it, is larger
    than is allowed, and ClientDisconnect."""
    made = Spooled(tempfile.SpooledTemporaryFile(max_size=IN_MEMORY))  # noqa: SIM115 - it is closed with the batch
    count = _Count(made, limits)
    try:
        async for piece in pieces(request, limits.batch_bytes):
            made.file.write(piece)
            count.take(piece)
        count.end()
    except BaseException:
        made.close()
        raise
    return made


class _Count:
    """Counts the lines of a batch while it arrives."""

    def __init__(self, made: Spooled, limits: Limits) -> None:
        self.made = made
        self.limits = limits
        self.number = 0
        self.rest = b""

    def take(self, piece: bytes) -> None:
        *lines, self.rest = (self.rest + piece).split(b"\n")
        for line in lines:
            self._line(line)
        if len(self.rest) > self.limits.line_bytes:
            self._too_long()

    def end(self) -> None:
        self._line(self.rest)
        if not self.made.lines:
            raise Problem("refused", "The batch has no line.", [{"pointer": "", "detail": "give one record a line"}])

    def _line(self, line: bytes) -> None:
        self.number += 1
        if len(line) > self.limits.line_bytes:
            self.number -= 1
            self._too_long()
        if line.strip():
            self.made.lines += 1
            self.made.last = self.number
            if self.made.lines > self.limits.batch_lines:
                detail = f"the batch goes on here; allowed: at most {self.limits.batch_lines:,} lines"
                raise Problem("too-large", "The batch has too many lines.", [{"line": self.number, "detail": detail}])

    def _too_long(self) -> None:
        detail = f"this line is too long; allowed: at most {self.limits.line_bytes:,} bytes"
        raise Problem("too-large", "A line is too long.", [{"line": self.number + 1, "detail": detail}])

"""Connections that are not waited for without end: for a request's head, or for a client to take what is sent."""

from __future__ import annotations

import asyncio
from typing import Any

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

from yokebook_adapters.service.guarding import SAFE_HEADERS
from yokebook_adapters.service.limits import Limits
from yokebook_adapters.service.problems import MEDIA_TYPE, Problem, json_bytes


def connection_within(limits: Limits, digest: str) -> type[H11Protocol]:
    """The kind of connection that keeps these limits; what it says itself names the digest of the rulebook too."""

    class Connection(H11Protocol):
        """One connection of HTTP/1.1."""

        def __init__(self, *arguments: Any, **named: Any) -> None:
            super().__init__(*arguments, **named)
            self._head: asyncio.TimerHandle | None = None
            self._write: asyncio.TimerHandle | None = None

        # ---- the head of a request ----

        def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
            super().connection_made(transport)
            if len(self.connections) > limits.connections:
                self._say(Problem("too-busy", "There are as many connections as are allowed."))
            else:
                self._watch_head()

        def data_received(self, data: bytes) -> None:
            super().data_received(data)
            self._watch_head()

        def _watch_head(self) -> None:
            """A head has a time within which it comes, from the connection or the first of its bytes on."""
            waits = self.cycle is None or self.cycle.response_complete
            if waits and self._head is None and not self.transport.is_closing():
                self._head = self.loop.call_later(limits.read_seconds, self._no_head)
            elif not waits and self._head is not None:
                self._head.cancel()
                self._head = None

        def _no_head(self) -> None:
            detail = f"No request came within {limits.read_seconds:g} seconds."
            self._say(Problem("too-slow", detail))

        def send_400_response(self, msg: str) -> None:
            self._say(Problem("not-http", msg))

        def _say(self, problem: Problem) -> None:
            """Sends a problem outside of any request, and closes the connection."""
            body = json_bytes(problem.data())
            headers = {**SAFE_HEADERS, "Yokebook-Rulebook": digest, "Connection": "close"}
            headers |= {"Content-Type": MEDIA_TYPE, "Content-Length": str(len(body))}
            pairs = [(name.encode(), value.encode()) for name, value in headers.items()]
            try:
                event = h11.Response(status_code=problem.status, headers=pairs)
                for part in (event, h11.Data(data=body), h11.EndOfMessage()):
                    self.transport.write(self.conn.send(part) or b"")
            except h11.LocalProtocolError:
                pass  # an answer is on its way already; it is cut short
            self.transport.close()

        # ---- taking the answer ----

        def pause_writing(self) -> None:
            super().pause_writing()
            if self._write is None:
                self._write = self.loop.call_later(limits.write_seconds, self.transport.abort)

        def resume_writing(self) -> None:
            if self._write is not None:
                self._write.cancel()
                self._write = None
            super().resume_writing()

        def connection_lost(self, exc: Exception | None) -> None:
            for timer in (self._head, self._write):
                if timer is not None:
                    timer.cancel()
            super().connection_lost(exc)

    return Connection

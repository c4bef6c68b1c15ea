"""What goes back: JSON with its tag, problems, and lines as they come."""

from __future__ import annotations

import asyncio
import hashlib
from typing import Any

from starlette.requests import ClientDisconnect, Request
from starlette.responses import Response
from starlette.types import Receive, Scope, Send

from yokebook_adapters.service.arriving import Arrival
from yokebook_adapters.service.problems import MEDIA_TYPE, Problem, json_bytes

#: After a refusal, what still comes of a body is read for so long and so far, since a client that is still sending
#: does not see the answer if the connection is closed under it.
_LINGER_SECONDS = 3.0
_LINGER_BYTES = 256_000_000


def json_answer(data: bytes, status: int = 200, headers: dict[str, str] | None = None) -> Response:
    """JSON as it is."""
    return Response(data, status, headers, "application/json")


def tagged(request: Request, data: bytes, media_type: str = "application/json") -> Response:
    """What stays the same until something changes: with a tag, and nothing but the tag to who has it already."""
    tag = f'"{hashlib.sha256(data).hexdigest()[:32]}"'
    headers = {"ETag": tag, "Cache-Control": "no-cache"}
    asked = [each.strip().removeprefix("W/") for each in request.headers.get("if-none-match", "").split(",")]
    if tag in asked or "*" in asked:
        return Response(status_code=304, headers=headers)
    return Response(data, 200, headers, media_type)


class Refusal(Response):
    """A problem. Where the body has not come whole the connection is closed after it."""

    def __init__(self, problem: Problem, arrival: Arrival | None) -> None:
        headers: dict[str, Any] = dict(problem.headers)
        self._arrival = arrival if arrival is not None and not arrival.whole else None
        if self._arrival is not None:
            headers["Connection"] = "close"
        super().__init__(json_bytes(problem.data()), problem.status, headers, MEDIA_TYPE)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Sends the problem, then takes what is still on its way."""
        await send({"type": "http.response.start", "status": self.status_code, "headers": self.raw_headers})
        await send({"type": "http.response.body", "body": self.body, "more_body": self._arrival is not None})
        if self._arrival is not None:
            await self._linger(receive)
            await send({"type": "http.response.body", "body": b""})

    async def _linger(self, receive: Receive) -> None:
        left = _LINGER_BYTES
        try:
            async with asyncio.timeout(_LINGER_SECONDS):
                while left > 0:
                    message = await receive()
                    if message["type"] != "http.request" or not message.get("more_body", False):
                        return
                    left -= len(message.get("body", b""))
        except (TimeoutError, ClientDisconnect, Problem):
            return

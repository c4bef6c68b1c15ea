"""What stands before every request: its id and its line in the log, the name it calls the service by, how many there
are at a time; and before every answer: the headers that keep a browser safe."""

from __future__ import annotations

import logging
import re
import time
import uuid
from collections.abc import Collection, MutableMapping
from typing import Any

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import ClientDisconnect
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from yokebook_adapters.service.answers import Refusal
from yokebook_adapters.service.arriving import Arrival
from yokebook_adapters.service.limits import Limits
from yokebook_adapters.service.problems import Problem

log = logging.getLogger("yokebook.service")
access = logging.getLogger("yokebook.access")

#: Nothing but the service's own files may be loaded or run, and nothing may frame it.
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; font-src 'self'; "
    "connect-src 'self'; manifest-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
SAFE_HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
}

LOOPBACK = ("localhost", "127.0.0.1", "::1")

_GIVEN_ID = re.compile(r"[A-Za-z0-9._-]{1,64}")
_HOST = re.compile(r"(?:\[([0-9A-Fa-f:.]+)\]|([A-Za-z0-9._-]+))(?::[0-9]{1,5})?")


class Guard:
    """The outermost layer of the service."""

    def __init__(self, app: ASGIApp, limits: Limits, digest: str, hosts: Collection[str], shared: bool) -> None:
        """`hosts` are the names that the service goes by; `shared`: pages of another origin may read its answers."""
        self.app = app
        self.limits = limits
        self.hosts = {host.lower() for host in hosts}
        self.headers = {**SAFE_HEADERS, "Yokebook-Rulebook": digest}
        if shared:
            self.headers["Cross-Origin-Resource-Policy"] = "cross-origin"
        self.running = 0

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Handles one request."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        seen = _Seen(scope, send, self.headers)
        headers = Headers(scope=scope)
        arrival = Arrival(receive, self.limits, headers)
        scope["arrival"] = arrival
        self.running += 1
        try:
            self._check(headers)
            await self.app(scope, arrival, seen.send)
        except Problem as problem:
            await seen.refuse(problem, arrival)
        except ClientDisconnect:
            seen.gone = True
        except Exception:
            log.exception("request %s failed", seen.id)
            if seen.status:
                raise  # too late to say so; the connection is cut
            await seen.refuse(Problem("failed", "The service failed; see its log for this request's id."), arrival)
        finally:
            self.running -= 1
            seen.write_log()

    def _check(self, headers: Headers) -> None:
        host = _HOST.fullmatch(headers.get("host", ""))
        name = (host[1] or host[2]).lower() if host else ""
        if name not in self.hosts:
            fault = {"header": "host", "detail": "the service goes by another name"}
            raise Problem("wrong-host", "The service does not go by the name in the header `Host`.", [fault])
        if self.running > self.limits.requests:
            detail = f"As many requests are answered at a time as are allowed, which is {self.limits.requests}."
            raise Problem("too-busy", detail, headers={"Retry-After": "1"})


class _Seen:
    """One request and what was sent back, for the log."""

    def __init__(self, scope: Scope, send: Send, headers: dict[str, str]) -> None:
        self._scope = scope
        self._send = send
        self._headers = headers
        self._began = time.monotonic()
        given = Headers(scope=scope).get("x-request-id", "")
        self.id = given if _GIVEN_ID.fullmatch(given) else uuid.uuid4().hex
        self.status = 0
        self.gone = False
        self._bytes = 0

    async def send(self, message: Message) -> None:
        """Sends one message of the answer on."""
        if message["type"] == "http.response.start":
            self.status = message["status"]
            headers = MutableHeaders(scope=_with_list(message))
            for name, value in {**self._headers, "X-Request-Id": self.id}.items():
                headers.setdefault(name, value)
        self._bytes += len(message.get("body", b""))
        await self._send(message)

    async def refuse(self, problem: Problem, arrival: Arrival) -> None:
        """Sends a problem."""
        if not self.status:
            await Refusal(problem, arrival)(self._scope, arrival, self.send)

    def write_log(self) -> None:
        """One line: no name that a client gave but the path as it came, and nothing of what it sent."""
        path = self._scope.get("raw_path") or self._scope["path"].encode()
        text = path.split(b"?")[0][:200].decode("ascii", "backslashreplace")
        took = round((time.monotonic() - self._began) * 1000)
        status = f"{self.status}" if self.status and not self.gone else "gone"
        method = self._scope["method"][:10]
        access.info("%s %s %s %s %d ms %d bytes", self.id, method, text, status, took, self._bytes)


def _with_list(message: MutableMapping[str, Any]) -> MutableMapping[str, Any]:
    message["headers"] = list(message.get("headers", []))
    return message

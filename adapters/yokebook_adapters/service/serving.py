"""The service on a socket, from its start to its end in good order."""

from __future__ import annotations

import asyncio
import logging
import math
import signal
import socket
import sys
from collections.abc import Callable, Collection
from types import FrameType

import uvicorn
from sse_starlette.sse import AppStatus

import yokebook
from yokebook_adapters.service.app import make_app
from yokebook_adapters.service.connection import connection_within
from yokebook_adapters.service.guarding import LOOPBACK
from yokebook_adapters.service.kept import Kept
from yokebook_adapters.service.limits import Limits
from yokebook_adapters.service.service import Service

#: How much longer than the grace time connections have to end by themselves.
_MARGIN = 5


class _Server(uvicorn.Server):
    """A server that a signal ends in good order: what runs may go on for the grace time, and until then it answers who
    asks how far a batch is, but takes nothing new. A second signal ends what runs at once."""

    def __init__(self, config: uvicorn.Config, service: Service) -> None:
        super().__init__(config)
        self._service = service
        self._loop: asyncio.AbstractEventLoop | None = None
        self._ending: asyncio.Task[None] | None = None

    async def serve(self, sockets: list[socket.socket] | None = None) -> None:
        self._loop = asyncio.get_running_loop()
        await super().serve(sockets)

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        if self._loop is None or self._loop.is_closed():
            self.should_exit = True
        else:
            self._loop.call_soon_threadsafe(self._told_to_end)

    def _told_to_end(self) -> None:
        if self._ending is None:
            self._ending = asyncio.ensure_future(self._end())
        else:
            self._service.end_now()
            self.should_exit = True

    async def _end(self) -> None:
        assert self._loop is not None  # it serves
        began = self._loop.time()
        await self._service.end()
        left = max(0.0, self._service.limits.grace_seconds - (self._loop.time() - began))
        self.config.timeout_graceful_shutdown = math.ceil(left) + _MARGIN  # for requests that are no batch
        self.should_exit = True


def serve(
    rulebook: yokebook.Rulebook,
    limits: Limits,
    listening: socket.socket,
    hosts: Collection[str],
    origin: str | None,
    kept: Kept | None,
    say: Callable[[str], None],
) -> None:
    """Serves on a socket that listens, until a signal ends it. `kept` is where batches taken as jobs are kept, if
    anywhere. `say` prints a line for the operator."""
    _log_to_stderr()
    # its events end by themselves, with what was not ruled on
    AppStatus.enable_automatic_graceful_drain = False
    service = Service(rulebook, limits, kept)
    app = make_app(service, [*LOOPBACK, *hosts], origin)
    config = uvicorn.Config(
        app,
        http=connection_within(limits, service.digest),
        ws="none",
        lifespan="on",
        log_config=None,
        access_log=False,
        server_header=False,
        proxy_headers=False,
        timeout_keep_alive=limits.keep_alive_seconds,
        timeout_graceful_shutdown=int(limits.grace_seconds) + _MARGIN,
    )
    host, port = listening.getsockname()[:2]
    shown = f"[{host}]" if ":" in host else host
    say(f"rulebook {service.digest[:12]}, {limits.processes} processes; Ctrl-C ends it")
    say(f"serving at http://{shown}:{port}/")
    server = _Server(config, service)
    _on_signals(server.handle_exit)  # also while it starts
    try:
        server.run([listening])
    finally:
        _on_signals(signal.SIG_IGN)  # all has ended, and the process is about to
        service.pool.close()


def _on_signals(handler: Callable[[int, FrameType | None], None] | signal.Handlers) -> None:
    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, handler)


def _log_to_stderr() -> None:
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(logging.Formatter("%(asctime)s %(name)s %(message)s"))
    for name, level in (("yokebook", logging.INFO), ("uvicorn", logging.WARNING)):
        logger = logging.getLogger(name)
        logger.handlers, logger.propagate = [handler], False
        logger.setLevel(level)

"""The service in a process of its own, on a free port of this machine; and within this process, for what needs none."""

from __future__ import annotations

import asyncio
import os
import re
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Coroutine, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import httpx
from starlette.applications import Starlette

import yokebook
from yokebook_adapters.service.app import make_app
from yokebook_adapters.service.limits import Limits
from yokebook_adapters.service.service import Service

PLACE = "demo/tamarisk/brindle-falls"
DAY = "2024-10-15"
LAW = {"place": PLACE, "on": DAY}

#: A half that must be marked there by its ordinance, and one that needs no mark.
MARKED = {
    "receptacle.configuration": "5-20R",
    "receptacle.built_in_control": False,
    "contact.supply": "controlled",
    "control.turns_off_by": "presence",
    "contact.controls.complete": True,
    "space.occupancy": "office",
}
UNMARKED = {**MARKED, "contact.supply": "always on"}

#: One room: two devices and the switch that feeds one half.
PROJECT: dict[str, Any] = {
    "project": {"place": PLACE, "dates": {"permit application": DAY}},
    "spaces": [
        {
            "id": "R1",
            "occupancy": "office",
            "yokes": [
                {
                    "id": "A",
                    "configuration": "5-20R",
                    "contacts": [
                        {"id": "upper", "supply": "controlled", "controls": ["S1"]},
                        {"id": "lower", "supply": "always on"},
                    ],
                },
                {"id": "B", "configuration": "5-20R", "contacts": [{"id": "upper", "supply": "always on"}]},
            ],
        }
    ],
    "controls": [{"id": "S1", "turns_off_by": "presence"}],
}


class Server:
    """`yokebook serve` in a process of its own."""

    def __init__(self, *options: str) -> None:
        command = [sys.executable, "-m", "yokebook_adapters.command_line.main", "serve", "--port", "0", *options]
        self.process = subprocess.Popen(command, stderr=subprocess.PIPE, text=True, env={**os.environ})
        self.log: list[str] = []
        self._started = threading.Event()
        threading.Thread(target=self._read, daemon=True).start()
        assert self._started.wait(60), self.text
        found = re.search(r"serving at (http://127\.0\.0\.1:(\d+))/", self.text)
        assert found, self.text
        self.url, self.port = found[1], int(found[2])

    def _read(self) -> None:
        assert self.process.stderr is not None
        for line in self.process.stderr:
            self.log.append(line.rstrip("\n"))
            if "serving at" in line:
                self._started.set()
        self._started.set()

    @property
    def text(self) -> str:
        """All that the server has said."""
        return "\n".join(self.log)

    def client(self, timeout: float = 60) -> httpx.Client:
        """A client of this server."""
        return httpx.Client(base_url=self.url, timeout=timeout)

    def ask_to_end(self) -> None:
        """Sends the signal that ends a service in good order."""
        self.process.send_signal(signal.SIGTERM)

    def end(self) -> int:
        """Ends it, if it has not ended; its exit status."""
        if self.process.poll() is None:
            self.ask_to_end()
        try:
            return self.process.wait(60)
        except subprocess.TimeoutExpired:
            self.process.kill()
            raise


@contextmanager
def serving(*options: str) -> Iterator[Server]:
    server = Server(*options)
    try:
        yield server
    finally:
        server.end()


def children(process: int) -> list[int]:
    """The processes of this one and of those below it."""
    found = []
    for each in Path("/proc").glob("[0-9]*/stat"):
        try:
            parent = int(each.read_text().rpartition(")")[2].split()[1])
        except (OSError, ValueError):
            continue
        if parent == process:
            number = int(each.parent.name)
            found += [number, *children(number)]
    return found


def alive(process: int) -> bool:
    """Whether a process still runs."""
    try:
        return Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


class Inside:
    """The application in this process, called without a socket."""

    def __init__(self, rulebook: yokebook.Rulebook, limits: Limits) -> None:
        self.service = Service(rulebook, limits)
        self.app: Starlette = make_app(self.service)

    def run(self, of: Callable[[httpx.AsyncClient], Coroutine[Any, Any, Any]]) -> Any:
        """What a coroutine that takes a client gives."""

        async def within() -> Any:
            transport = httpx.ASGITransport(self.app)
            async with httpx.AsyncClient(transport=transport, base_url="http://127.0.0.1:1") as client:
                return await of(client)

        return asyncio.run(within())

    def request(self, method: str, path: str, **named: Any) -> httpx.Response:
        """One request."""

        async def one(client: httpx.AsyncClient) -> httpx.Response:
            return await client.request(method, path, **named)

        found: httpx.Response = self.run(one)
        return found


def soon(holds: Any) -> None:
    """Waits until something holds; it never fails because a machine is slow."""
    for _ in range(600):
        if holds():
            return
        time.sleep(0.1)
    raise AssertionError("it never came to hold")

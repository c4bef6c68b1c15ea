"""Following a project over processes that are only played here: what is told, in which order, and how it ends."""

from __future__ import annotations

import asyncio
import json
from collections.abc import Callable
from typing import Any, cast

from yokebook_adapters.service import worker
from yokebook_adapters.service.following import Following
from yokebook_adapters.service.limits import Limits
from yokebook_adapters.service.pool import Pool
from yokebook_adapters.service.problems import Problem

TOTAL = 300


class PlayedPool:
    """Three processes; later parts are done sooner. `asked` are the first numbers of all slices begun."""

    count = 3

    def __init__(self, fails_at: int | None = None) -> None:
        self.asked: list[int] = []
        self.fails_at = fails_at

    async def run(self, lane: str, seconds: float, task: Callable[..., Any], *arguments: Any) -> Any:
        """What the task would give."""
        if task is worker.follow_begin:
            return b'{"rulings":300}', TOTAL
        _, first, last, *_ = arguments
        self.asked.append(first)
        await asyncio.sleep((TOTAL - first) / 100_000)
        if self.fails_at is not None and first >= self.fails_at:
            raise Problem("too-long", "This took too long.")
        return [b"%d" % number for number in range(first, min(first + 7, last))]


async def _told(followed: Following, most: int | None = None) -> list[tuple[str, Any]]:
    await followed.begin()
    told: list[tuple[str, Any]] = []
    async for event, data in followed.parts():
        told.append((event, json.loads(data)))
        if len(told) == most:
            followed.stop("the service ended")
    return told


def _following(pool: PlayedPool) -> Following:
    return Following(cast(Pool, pool), Limits(), b"{}")


def test_rulings_come_in_order_whichever_part_is_done_first() -> None:
    told = asyncio.run(_told(_following(PlayedPool())))
    assert [number for event, data in told[:-1] for number in data["rulings"]] == list(range(TOTAL))
    assert {event for event, _ in told[:-1]} == {"rulings"}
    assert [data["done"] for _, data in told[:-1]] == sorted(data["done"] for _, data in told[:-1])
    assert told[-1] == ("end", {"state": "done", "rulings": TOTAL, "why": ""})


def test_a_part_that_cannot_be_ruled_on_ends_it_with_what_came_before() -> None:
    told = asyncio.run(_told(_following(PlayedPool(fails_at=200))))
    assert told[-1][0] == "problem"
    assert told[-1][1]["detail"] == "This took too long."
    came = [number for event, data in told if event == "rulings" for number in data["rulings"]]
    assert came == list(range(len(came)))
    assert len(came) < TOTAL


def test_a_service_that_ends_says_how_far_it_was() -> None:
    event, data = asyncio.run(_told(_following(PlayedPool()), most=2))[-1]
    assert event == "end"
    assert (data["state"], data["why"]) == ("stopped", "the service ended")
    assert 0 < data["rulings"] < TOTAL


def test_nothing_more_is_ruled_on_once_the_client_is_gone() -> None:
    async def leaving() -> tuple[int, int]:
        pool = PlayedPool()
        followed = _following(pool)
        await followed.begin()
        parts = followed.parts()
        await anext(parts)
        await parts.aclose()
        begun = len(pool.asked)
        await asyncio.sleep(0.1)
        return begun, len(pool.asked)

    begun, later = asyncio.run(leaving())
    assert begun == later
    assert begun < TOTAL / 7

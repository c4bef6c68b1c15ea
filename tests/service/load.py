"""Fifty clients at a time, each comparing every answer with the one that is due. Run as a process of its own:
`python load.py URL SECONDS FILE`, where FILE holds what to send and what is due."""

from __future__ import annotations

import asyncio
import json
import sys
import time
from collections import Counter
from pathlib import Path
from typing import Any

import httpx

CLIENTS = 50


async def client(url: str, until: float, requests: list[dict[str, Any]], first: int, seen: Counter[str]) -> None:
    """One client: one request after the other, each client beginning with another one."""
    async with httpx.AsyncClient(base_url=url, timeout=60) as http:
        number = first
        while time.monotonic() < until:
            each = requests[number % len(requests)]
            number += 1
            seen["sent"] += 1
            try:
                content = each["content"].encode() if each["content"] is not None else None
                answer = await http.request(each["method"], each["path"], content=content, headers=each["headers"])
            except httpx.TransportError as fault:
                seen[f"lost: {type(fault).__name__}"] += 1
                continue
            right = answer.status_code == each["status"] and (each["due"] is None or answer.text == each["due"])
            seen["right" if right else f"wrong: {answer.status_code} {answer.text[:300]}"] += 1


async def load(url: str, seconds: float, requests: list[dict[str, Any]]) -> Counter[str]:
    """What became of every request."""
    seen: Counter[str] = Counter()
    until = time.monotonic() + seconds
    await asyncio.gather(*(client(url, until, requests, number, seen) for number in range(CLIENTS)))
    return seen


if __name__ == "__main__":
    made = json.loads(Path(sys.argv[3]).read_text(encoding="utf-8"))
    print(json.dumps(asyncio.run(load(sys.argv[1], float(sys.argv[2]), made))))

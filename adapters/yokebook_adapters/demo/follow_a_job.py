"""A client of `yokebook serve`: sends records as a job, prints how far it is, and counts the words of its answers.

    python follow_a_job.py records.jsonl [http://127.0.0.1:8425]

The records are JSON Lines. It needs httpx. Ctrl-C cancels the job.
"""

from __future__ import annotations

import json
import sys
from collections import Counter
from pathlib import Path
from typing import Any

import httpx

LAW = {"question": "R03", "place": "demo/tamarisk/brindle-falls", "on": "2024-10-15"}


def follow(service: httpx.Client, job: str) -> dict[str, Any]:
    """Prints how far the job is whenever that changes; how it ended."""
    told: dict[str, Any] = {}
    with service.stream("GET", f"{job}/events", timeout=None) as events:
        for line in events.iter_lines():
            if line.startswith("data: "):
                told = json.loads(line.removeprefix("data: "))
                print(f"{told['state']}: {told['ruled'] + told['refused']} of {told['lines']}", file=sys.stderr)
    return told


def main(file: str, address: str = "http://127.0.0.1:8425") -> None:
    """Follows one job to its end."""
    headers = {"Content-Type": "application/jsonl"}
    with httpx.Client(base_url=address) as service:
        taken = service.post("/v1/jobs", params=LAW, content=Path(file).read_bytes(), headers=headers)
        if taken.is_error:
            sys.exit(taken.text)  # each fault with what is allowed
        job = taken.headers["Location"]
        try:
            ended = follow(service, job)
        except KeyboardInterrupt:
            ended = service.post(f"{job}/cancel").json()
        words: Counter[str] = Counter()
        with service.stream("GET", f"{job}/lines", timeout=None) as answers:
            for line in answers.iter_lines():
                answer = json.loads(line)
                if "problem" in answer:
                    print(f"line {answer['line']}: {answer['problem']['errors'][0]['detail']}", file=sys.stderr)
                words.update(ruling["word"] for ruling in answer.get("rulings", ()))
    print(json.dumps({"words": words, "not_ruled": ended["not_ruled"]}))


if __name__ == "__main__":
    main(*sys.argv[1:])

"""A service that is told to end: what it has taken it ends, or says which lines were not ruled on."""

from __future__ import annotations

import json
import os
import signal
import time
from pathlib import Path

import httpx
import pytest

import small_rulebook
from service.running import Server, alive, children, serving, soon

LINES = {"content-type": "application/jsonl"}
PARAMS = {"question": "R03", "edition": "code:2014"}

#: More lines than can be ruled on in the time.
MANY, MORE = 60_000, 80_000


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> tuple[str, str]:
    """The option for a rulebook of a few lines, with which a service starts at once."""
    return "--rulebook", str(small_rulebook.write(tmp_path_factory.mktemp("rulebook")))


def batch(lines: int) -> bytes:
    return b'{"contact.supply": "controlled"}\n' * lines


def last(text: str) -> dict[str, object]:
    found: dict[str, object] = json.loads(text.splitlines()[-1])["end"]
    return found


def ended(server: Server, processes: list[int]) -> None:
    """It has ended in good order and left nothing behind."""
    assert server.end() == 0
    for _ in range(100):
        if not any(alive(process) for process in processes):
            return
        time.sleep(0.1)
    raise AssertionError("a process was left behind")


def test_batches_that_do_not_end_in_time_say_what_was_not_ruled(small: tuple[str, str]):
    with serving(*small, "--workers", "1", "--grace-seconds", "0.5") as server, server.client() as client:
        processes = children(server.process.pid)
        assert processes
        job = client.post("/v1/jobs", params=PARAMS, content=batch(MORE), headers=LINES).json()
        with (
            client.stream("POST", "/v1/records/batch", params=PARAMS, content=batch(MANY), headers=LINES) as answer,
            client.stream("GET", f"/v1/jobs/{job['job']}/events") as events,
        ):
            pieces = answer.iter_text()
            first = next(pieces)
            server.ask_to_end()
            of_stream = last(first + "".join(pieces))
            told = [line for line in events.iter_lines() if line.startswith("data:")]
        of_job = json.loads(told[-1].removeprefix("data: "))
        for found, lines in ((of_stream, MANY), (of_job, MORE)):
            assert (found["state"], found["why"]) == ("stopped", "the service ended")
            ruled = found["ruled"]
            assert isinstance(ruled, int) and ruled < lines
            assert found["not_ruled"] == {"from": ruled + 1, "to": lines, "lines": lines - ruled}
        ended(server, processes)
    said = server.text
    assert "running batches have 0.5 seconds to end" in said
    left = MORE - of_job["ruled"]
    assert f"job {job['job']} was stopped, because the service ended; lines {of_job['ruled'] + 1} to {MORE}" in said
    assert f"({left} that are not blank)" in said
    assert "a batch was stopped, because the service ended; lines " in said


def test_batches_that_end_in_time_are_whole_and_nothing_new_is_taken(small: tuple[str, str]):
    with serving(*small, "--workers", "1", "--grace-seconds", "120") as server, server.client() as client:
        with client.stream("POST", "/v1/records/batch", params=PARAMS, content=batch(500), headers=LINES) as answer:
            pieces = answer.iter_text()
            first = next(pieces)
            server.ask_to_end()
            with server.client() as late:
                soon(lambda: late.get("/v1/health").json()["status"] == "stopping")
                refused = late.post("/v1/jobs", params=PARAMS, content=batch(1), headers=LINES)
            text = first + "".join(pieces)
        assert (refused.status_code, refused.json()["type"]) == (503, "/v1/problems/stopping")
        assert int(refused.headers["retry-after"]) > 0
        assert last(text) == {
            "state": "done", "lines": 500, "ruled": 500, "refused": 0, "not_ruled": None, "why": "",
        }  # fmt: skip
        assert len(text.splitlines()) == 502
        assert server.end() == 0
        try:
            client.get("/v1/health")
        except httpx.TransportError:
            return
    raise AssertionError("it still takes requests")


def test_a_job_that_the_end_of_the_service_stops_is_taken_up_by_the_next_one(small: tuple[str, str], tmp_path: Path):
    options = (*small, "--workers", "1", "--grace-seconds", "0", "--jobs-folder", str(tmp_path))
    with serving(*options) as server, server.client() as client:
        job = client.post("/v1/jobs", params=PARAMS, content=batch(MORE), headers=LINES).headers["location"]
        other = client.post("/v1/jobs", params=PARAMS, content=batch(2), headers=LINES).headers["location"]
        soon(lambda: client.get(other).json()["state"] == "done")
        assert server.end() == 0
    [kept] = tmp_path.iterdir()  # the one that has ended is let go
    assert job.endswith(kept.stem)
    with serving(*options) as server, server.client() as client:
        taken_up = client.get(job).json()
        assert (taken_up["state"], taken_up["lines"]) == ("running", MORE)
        assert client.post("/v1/jobs", params=PARAMS, content=batch(MORE), headers=LINES).headers["location"] == job
        soon(lambda: client.get(job).json()["ruled"] > 0)
        client.post(f"{job}/cancel")
        soon(lambda: client.get(job).json()["state"] == "cancelled")
        lines = [json.loads(line) for line in client.get(f"{job}/lines").text.splitlines()]
        assert lines[1]["line"] == 1 and lines[1]["rulings"]
    assert list(tmp_path.iterdir()) == []


def test_a_second_signal_ends_what_runs_at_once(small: tuple[str, str]):
    with serving(*small, "--workers", "1", "--grace-seconds", "600") as server, server.client() as client:
        job = client.post("/v1/jobs", params=PARAMS, content=batch(MORE), headers=LINES).json()
        with client.stream("GET", f"/v1/jobs/{job['job']}/events") as events:
            lines = events.iter_lines()
            next(lines)
            os.kill(server.process.pid, signal.SIGINT)
            time.sleep(0.5)
            os.kill(server.process.pid, signal.SIGINT)
            told = [line for line in lines if line.startswith("data:")]
        assert json.loads(told[-1].removeprefix("data: "))["state"] == "stopped"
        assert server.end() == 0


def test_nothing_is_left_behind_when_the_service_is_killed(small: tuple[str, str]):
    with serving(*small, "--workers", "2") as server:
        processes = children(server.process.pid)
        server.process.kill()
        server.process.wait(30)
        for _ in range(100):
            if not any(alive(process) for process in processes):
                return
            time.sleep(0.1)
    raise AssertionError("a process was left behind")

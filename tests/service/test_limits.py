"""Each limit of a running service: who goes beyond it is told so or cut, and the others are served."""

from __future__ import annotations

import json
import socket
import time
from collections.abc import Iterator
from typing import Any

import httpx
import pytest

from service.running import DAY, LAW, MARKED, PLACE, Server, serving, soon

LINES = {"content-type": "application/jsonl"}
PARAMS = {"question": "R03", "place": PLACE, "on": DAY}

OPTIONS = (
    *("--workers", "1", "--body-bytes", "30000", "--batch-bytes", "50000", "--requests", "3", "--connections", "8"),
    *("--read-seconds", "0.6", "--body-seconds", "1.2", "--write-seconds", "0.5", "--keep-alive-seconds", "1"),
    *("--jobs", "1", "--kept-jobs", "1", "--job-bytes", "60000", "--grace-seconds", "0"),
)


@pytest.fixture(scope="module")
def server() -> Iterator[Server]:
    with serving(*OPTIONS) as found:
        yield found


@pytest.fixture
def client(server: Server) -> Iterator[httpx.Client]:
    with server.client() as found:
        yield found


def connected(server: Server) -> socket.socket:
    return socket.create_connection(("127.0.0.1", server.port), timeout=30)


def until_closed(connection: socket.socket) -> bytes:
    """All that comes until the service closes the connection."""
    found = b""
    while True:
        try:
            piece = connection.recv(65536)
        except ConnectionResetError:
            return found
        if not piece:
            return found
        found += piece


def told(answer: bytes) -> dict[str, Any]:
    """The problem in an answer as it came over the wire."""
    head, _, body = answer.partition(b"\r\n\r\n")
    assert b"application/problem+json" in head and b"connection: close" in head.lower()
    assert b"yokebook-rulebook: " in head.lower()
    data: dict[str, Any] = json.loads(body)
    assert head.startswith(b"HTTP/1.1 %d " % data["status"])
    return data


def head(path: str, length: int, media_type: str = "application/json") -> bytes:
    return (
        f"POST {path} HTTP/1.1\r\nHost: localhost\r\nContent-Type: {media_type}\r\nContent-Length: {length}\r\n\r\n"
    ).encode()


def still_serves(client: httpx.Client) -> None:
    answer = client.post("/v1/records/rule", json={"law": LAW, "questions": ["R03"], "record": MARKED})
    assert answer.status_code == 200 and answer.json()["rulings"][0]["word"] == "required"


def test_a_body_that_trickles_is_cut(server: Server, client: httpx.Client):
    with connected(server) as connection:
        connection.sendall(head("/v1/records/rule", 5000))
        try:
            for _ in range(40):  # each piece soon enough, but not all of them
                connection.sendall(b" ")
                time.sleep(0.1)
        except OSError:
            pass  # it was cut
        problem = told(until_closed(connection))
    assert problem["type"] == "/v1/problems/too-slow"
    assert problem["detail"] == (
        "The body came too slowly; allowed: 0.6 seconds between two pieces, and 1.2 for all of it."
    )
    still_serves(client)


def test_a_body_that_stops_is_cut(server: Server):
    with connected(server) as connection:
        connection.sendall(head("/v1/jobs?question=R03", 5000, "application/jsonl") + b"{}\n")
        assert told(until_closed(connection))["type"] == "/v1/problems/too-slow"


def test_a_head_that_never_ends_is_cut(server: Server):
    with connected(server) as connection:
        connection.sendall(b"GET /v1/health HTTP/1.1\r\nHost: localhost\r\n")
        try:
            for _ in range(20):
                connection.sendall(b"X: y\r\n")
                time.sleep(0.1)
        except OSError:
            pass
        problem = told(until_closed(connection))
    assert (problem["status"], problem["detail"]) == (408, "No request came within 0.6 seconds.")


def test_a_connection_without_a_request_is_closed(server: Server):
    with connected(server) as connection:
        assert told(until_closed(connection))["status"] == 408
    with connected(server) as connection:
        connection.sendall(b"GET /v1/health HTTP/1.1\r\nHost: localhost\r\n\r\n")
        answer = until_closed(connection)  # kept for another request, and not for ever
        assert answer.startswith(b"HTTP/1.1 200 ") and answer.count(b"HTTP/1.1") == 1


def test_what_is_not_http_is_told(server: Server):
    with connected(server) as connection:
        connection.sendall(b"\x16\x03\x01\x02\x00\x01\r\n\r\n")
        assert told(until_closed(connection))["type"] == "/v1/problems/not-http"


def test_a_large_body_is_refused_whether_its_size_is_said_or_not(server: Server, client: httpx.Client):
    answer = client.post("/v1/records/rule", content=b" " * 40_000, headers={"content-type": "application/json"})
    assert answer.status_code == 413
    assert answer.json()["detail"] == "The body has 40,000 bytes; allowed: at most 30,000 bytes."

    def without_end() -> Iterator[bytes]:
        for _ in range(40):
            yield b"{}\n" * 5000

    answer = client.post("/v1/records/batch", params=PARAMS, content=without_end(), headers=LINES)
    assert answer.status_code == 413
    assert answer.json()["detail"] == "The body goes on; allowed: at most 50,000 bytes."
    still_serves(client)


def test_who_waits_to_be_allowed_to_send_is_refused_at_once(server: Server):
    with connected(server) as connection:
        start = head("/v1/records/rule", 100_000_000).replace(b"\r\n\r\n", b"\r\nExpect: 100-continue\r\n\r\n")
        connection.sendall(start)
        answer = until_closed(connection)
    assert b"100 Continue" not in answer and told(answer)["status"] == 413


def test_no_more_requests_at_a_time_than_are_allowed(server: Server, client: httpx.Client):
    slow = [connected(server) for _ in range(3)]
    try:
        for connection in slow:
            connection.sendall(head("/v1/records/rule", 100))
        answers = [client.get("/v1/health") for _ in range(5)]
    finally:
        for connection in slow:
            connection.close()
    refused = [answer for answer in answers if answer.status_code == 503]
    assert refused and refused[0].headers["retry-after"] == "1"
    assert refused[0].json()["detail"] == "As many requests are answered at a time as are allowed, which is 3."
    soon(lambda: client.get("/v1/health").status_code == 200)


def test_no_more_connections_than_are_allowed(server: Server):
    held = [connected(server) for _ in range(8)]
    try:
        with connected(server) as connection:
            connection.sendall(b"GET /v1/health HTTP/1.1\r\nHost: localhost\r\n\r\n")
            assert told(until_closed(connection))["detail"] == "There are as many connections as are allowed."
    finally:
        for connection in held:
            connection.close()


def test_who_does_not_take_the_answer_is_cut(server: Server, client: httpx.Client):
    with socket.socket() as connection:
        connection.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 65536)
        connection.settimeout(30)
        connection.connect(("127.0.0.1", server.port))
        request = b"GET /v1/openapi.json HTTP/1.1\r\nHost: localhost\r\n\r\n"
        connection.sendall(request * 30)  # more than the buffers between the two hold
        time.sleep(1.5)
        received = until_closed(connection)
    size = len(client.get("/v1/openapi.json").content)
    assert len(received) < 30 * size
    still_serves(client)


def test_no_more_jobs_than_are_allowed(server: Server, client: httpx.Client):
    batch = "\n".join([json.dumps({"contact.supply": "controlled"})] * 500).encode()
    params = {"place": PLACE, "on": DAY}
    first = client.post("/v1/jobs", params=params, content=batch, headers=LINES)
    assert first.status_code == 202
    second = client.post("/v1/jobs", params=PARAMS, content=b"{}", headers=LINES)
    assert (second.status_code, second.headers["retry-after"]) == (503, "30")
    assert second.json()["detail"] == "As many jobs wait or run as are allowed, which is 1."
    assert client.post(first.headers["location"] + "/cancel").status_code == 200
    soon(lambda: client.get(first.headers["location"]).json()["state"] == "cancelled")
    third = client.post("/v1/jobs", params=PARAMS, content=b"{}", headers=LINES)
    assert third.status_code == 202
    soon(lambda: client.get(third.headers["location"]).json()["state"] == "done")
    assert client.get(first.headers["location"]).status_code == 404  # only one that has ended is kept


def test_a_job_whose_answers_are_too_many_stops_and_says_where(server: Server, client: httpx.Client):
    batch = "\n".join([json.dumps(MARKED)] * 100).encode()
    taken = client.post("/v1/jobs", params=PARAMS, content=batch, headers=LINES)
    soon(lambda: client.get(taken.headers["location"]).json()["state"] == "stopped")
    job = client.get(taken.headers["location"]).json()
    assert job["why"] == "its answers have more than 60,000 bytes"
    assert job["not_ruled"] == {"from": job["ruled"] + 1, "to": 100, "lines": 100 - job["ruled"]}
    lines = client.get(taken.headers["location"] + "/lines")
    assert len(lines.content) < 61_000 and "not_ruled" in lines.text.splitlines()[-1]


def test_who_goes_away_in_the_middle_of_a_batch_leaves_the_rest_alone(server: Server, client: httpx.Client):
    batch = b"\n".join([b'{"contact.supply": "controlled"}'] * 200)
    with connected(server) as connection:
        path = f"/v1/records/batch?place={PLACE}&on={DAY}"
        connection.sendall(head(path, len(batch), "application/jsonl") + batch)
        assert connection.recv(100).startswith(b"HTTP/1.1 200")
    still_serves(client)
    soon(lambda: any("/v1/records/batch 200" in line for line in server.log))

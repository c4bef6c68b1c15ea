"""The service under load, with clients that mean no good among the others: no answer is wrong or lost, those clients
get a clear refusal, and memory stays what it was."""

from __future__ import annotations

import json
import socket
import statistics
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest

import yokebook
from service.running import DAY, LAW, MARKED, PLACE, UNMARKED, Server, children, serving
from yokebook_adapters.service.book_data import book_digest
from yokebook_adapters.service.laws import Asked, law_data
from yokebook_adapters.service.limits import Limits
from yokebook_adapters.service.problems import json_bytes

SECONDS = 56
CLIENTS = Path(__file__).with_name("load.py")
JSON = {"content-type": "application/json"}
LINES = {"content-type": "application/jsonl"}

#: Above what it was in the second third of the time, the memory of all processes together may be this much in the last
#: third, and that of each of them this much: on a slow machine one may still be making laws ready.
_GROWTH, _OF_ONE = 0.1, 0.3

#: More days than laws that are kept ready, so that these come and go.
_DAYS = [f"2024-{month:02}-{day:02}" for month in (8, 9, 10) for day in range(1, 11)]


def due() -> list[dict[str, Any]]:
    """Requests with the answers that are due, worked out with the Python interface."""
    rulebook = yokebook.load()
    book, digest = rulebook.book, book_digest(rulebook.book)

    def post(law: dict[str, str], record: dict[str, Any]) -> dict[str, Any]:
        code = rulebook.in_force(law["place"], on=law["on"])
        answer = {
            "rulebook": {"digest": digest},
            "law": law_data(code, Asked(**law)),  # type: ignore[arg-type]
            "rulings": [code.rule("marking.required", record).to_dict()],
            "cautions": list(book.cautions),
        }
        body = json.dumps({"law": law, "questions": ["R03"], "record": record})
        return sent("POST", "/v1/records/rule", body, 200, json_bytes(answer).decode())

    def sent(method: str, path: str, content: str | None, status: int, text: str | None = None) -> dict[str, Any]:
        return {"method": method, "path": path, "content": content, "headers": JSON, "status": status, "due": text}

    made = []
    for day in _DAYS:
        made += [post({"place": PLACE, "on": day}, record) for record in (MARKED, UNMARKED)]
        made.append(post(LAW, {**MARKED, "space.occupancy": "education"}))
        made.append(sent("GET", "/v1/health", None, 200))
    made.append(sent("POST", "/v1/records/rule", '{"law": {}, "record": {"x": 1}}', 422))
    return made


def memory(process: int) -> dict[int, int]:
    """The resident memory of a service and of each of its processes, in kB."""
    found: dict[int, int] = {}
    for each in (process, *children(process)):
        try:
            status = Path(f"/proc/{each}/status").read_text()
        except OSError:
            continue
        resident = [line.split()[1] for line in status.splitlines() if line.startswith("VmRSS:")]
        found.update((each, int(kilobytes)) for kilobytes in resident)
    return found


def thirds(samples: list[dict[int, int]]) -> dict[int, tuple[float, float]]:
    """For each process that was there all the time, the median of its memory in the second third of the time and in
    the last one."""
    third = len(samples) // 3
    middle, last = samples[third : 2 * third], samples[2 * third :]
    lasting = [process for process in samples[third] if all(process in sample for sample in (*middle, *last))]
    return {
        each: (statistics.median(s[each] for s in middle), statistics.median(s[each] for s in last)) for each in lasting
    }


# ---- clients that mean no good ---------------------------------------------------------------------------------------


def trickling(server: Server) -> None:
    with socket.create_connection(("127.0.0.1", server.port), timeout=60) as connection:
        connection.sendall(
            b"POST /v1/records/rule HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\n"
            b"Content-Length: 1000\r\n\r\n"
        )
        try:
            for _ in range(60):
                connection.sendall(b" ")
                time.sleep(0.2)
        except OSError:
            pass
        assert b" 408 " in connection.recv(4096)


def going_away(server: Server) -> None:
    batch = b"\n".join([json.dumps(MARKED).encode()] * 3000)
    with (
        server.client() as client,
        client.stream(
            "POST", "/v1/records/batch", params={"place": PLACE, "on": DAY}, content=batch, headers=LINES
        ) as answer,
    ):
        assert answer.status_code == 200
        next(answer.iter_lines())


def sending_100_megabytes(server: Server) -> None:
    def body() -> Iterator[bytes]:
        for _ in range(100):
            yield b"{}\n" * 333_333

    with server.client() as client:
        answer = client.post("/v1/records/batch", params=LAW, content=body(), headers=LINES)
        assert answer.status_code == 413 and answer.json()["type"] == "/v1/problems/too-large"
        answer = client.post("/v1/projects/rule", content=b" " * 100_000_000, headers=JSON)
        assert answer.json()["detail"] == "The body has 100,000,000 bytes; allowed: at most 2,000,000 bytes."


def sending_deep_json(server: Server) -> None:
    with server.client() as client:
        answer = client.post("/v1/records/rule", content=b'{"record": ' + b"[" * 900_000, headers=JSON)
        assert answer.status_code == 400
        assert answer.json()["errors"][0]["detail"] == "this is nested too deep; allowed: at most 20 levels"


def sending_bad_text(server: Server) -> None:
    with server.client() as client:
        answer = client.post("/v1/records/rule", content=b'{"record": {"stated_by": "\xc3\x28"}}', headers=JSON)
        assert answer.status_code == 400
        assert answer.json()["errors"][0]["detail"] == "byte 0xc3 is not UTF-8; send UTF-8"


def sending_a_million_rows(server: Server) -> None:
    with server.client() as client:
        rows = b'{"contact.supply": "controlled"}\n' * 1_000_000
        answer = client.post("/v1/jobs", params=LAW, content=rows, headers=LINES)
        assert answer.status_code == 413
        assert answer.json()["errors"] == [
            {"line": 100_001, "detail": "the batch goes on here; allowed: at most 100,000 lines"}
        ]


def sending_a_batch_that_is_right(server: Server) -> None:
    batch = "\n".join(json.dumps(record) for record in [MARKED, UNMARKED] * 50).encode()
    with server.client() as client:
        params = {**LAW, "question": "R03"}
        lines = client.post("/v1/records/batch", params=params, content=batch, headers=LINES).text.splitlines()
    words = [json.loads(line)["rulings"][0]["word"] for line in lines[1:-1]]
    assert words == ["required", "not required"] * 50


BAD: tuple[Callable[[Server], None], ...] = (
    trickling,
    going_away,
    sending_100_megabytes,
    sending_deep_json,
    sending_bad_text,
    sending_a_million_rows,
    sending_a_batch_that_is_right,
)


@pytest.mark.slow
def test_a_minute_of_fifty_clients_and_of_those_that_mean_no_good(tmp_path: Path):
    file = tmp_path / "due.json"
    file.write_text(json.dumps(due()), encoding="utf-8")
    with serving("--read-seconds", "2", "--body-seconds", "6", "--grace-seconds", "1") as server:
        command = [sys.executable, str(CLIENTS), server.url, str(SECONDS), str(file)]
        loading = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
        ended = threading.Event()
        samples: list[dict[int, int]] = []

        def watch() -> None:
            while not ended.wait(1):
                samples.append(memory(server.process.pid))

        watching = threading.Thread(target=watch)
        watching.start()
        rounds = 0
        try:
            with ThreadPoolExecutor(len(BAD)) as at_once:
                while loading.poll() is None and rounds < 4:
                    for done in [at_once.submit(one, server) for one in BAD]:
                        done.result()
                    rounds += 1
            printed, _ = loading.communicate(timeout=120)
        finally:
            ended.set()
            watching.join()
            loading.kill()
        assert server.client().get("/v1/health").json()["status"] == "serving"
        processes = Limits().processes
    seen = json.loads(printed)
    assert {outcome: count for outcome, count in seen.items() if outcome not in ("sent", "right")} == {}
    assert seen["right"] == seen["sent"] > 500 and rounds >= 1
    grown = thirds(samples)
    said = ", ".join(f"{before / 1000:.0f} then {after / 1000:.0f} MB" for before, after in grown.values())
    print(f"{seen['right']} answers, {rounds} rounds, memory by process: {said}")
    assert len(grown) > processes  # those that rule, and the service itself
    assert all(after < before * (1 + _OF_ONE) for before, after in grown.values()), said
    before, after = (sum(each) for each in zip(*grown.values(), strict=True))
    assert after < before * (1 + _GROWTH), said

"""What the README shows a vendor runs as it stands: its requests with curl, and the client in Python."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from service.running import Server, serving

TOP = Path(__file__).parents[2]
README = (TOP / "README.md").read_text(encoding="utf-8")
ADDRESS = "http://127.0.0.1:8425"


@pytest.fixture(scope="module")
def server() -> Iterator[Server]:
    with serving("--workers", "2") as found:
        yield found


def shown() -> list[str]:
    """Every block of commands that has a request in it."""
    blocks = re.findall(r"(?:^    .*\n)+", README, re.MULTILINE)
    return [block for block in blocks if "curl " in block]


def run(server: Server, command: str, folder: Path) -> str:
    there = command.replace(ADDRESS, server.url)
    assert there != command
    return subprocess.run(["bash", "-ec", there], cwd=folder, capture_output=True, text=True, check=True).stdout


def records(folder: Path) -> Path:
    made = folder / "records.jsonl"
    made.write_text('{"contact.supply": "controlled"}\n{"contact.supply": "sometimes"}\n', encoding="utf-8")
    return made


def test_a_record_a_project_and_a_batch(server: Server, tmp_path: Path):
    record, project, batch, _ = shown()
    [ruling] = json.loads(run(server, record, tmp_path))["rulings"]
    assert ruling["word"] == "required"
    ruled = json.loads(run(server, project, tmp_path))
    marking = {each["subject"]["id"]: each["word"] for each in ruled["rulings"] if each["ruling"] == "R03"}
    assert marking["101/A/upper"] != "not required" and marking["101/A/lower"] == "not required"
    begin, first, second, end = [json.loads(line) for line in run(server, batch, tmp_path).splitlines()]
    assert begin["begin"]["lines"] == 2 and end["end"]["ruled"] == 2
    assert [each["rulings"][0]["word"] for each in (first, second)] == ["cannot tell", "not required"]


def test_a_job_step_by_step(server: Server, tmp_path: Path):
    records(tmp_path)
    *_, job = shown()
    start, *steps = [re.sub(r" +# .*", "", step) for step in re.split(r"\n(?=    curl)", job.rstrip())]
    answer = run(server, start, tmp_path)
    found = re.search(r"^location: /v1/jobs/(\w+)", answer, re.MULTILINE | re.IGNORECASE)
    assert " 202 " in answer and found and len(steps) == 3
    events, cancelled, lines = [run(server, step.replace("/jobs/ID", f"/jobs/{found[1]}"), tmp_path) for step in steps]
    assert "event: end" in events and json.loads(cancelled)["state"] == "done"
    assert json.loads(lines.splitlines()[-1])["end"] | {"why": ""} == {
        "state": "done", "lines": 2, "ruled": 1, "refused": 1, "not_ruled": None, "why": "",
    }  # fmt: skip


def test_the_client_in_python(server: Server, tmp_path: Path):
    script = TOP / "adapters" / "yokebook_adapters" / "demo" / "follow_a_job.py"
    command = [sys.executable, str(script), str(records(tmp_path)), server.url]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    assert json.loads(done.stdout) == {"words": {"cannot tell": 1}, "not_ruled": None}
    assert "done: 2 of 2" in done.stderr and "line 2: `contact.supply`" in done.stderr

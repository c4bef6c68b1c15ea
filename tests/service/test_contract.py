"""Nothing that the service does is undocumented, and all that its document allows it accepts."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from service.contract import hold
from service.running import Server, serving
from yokebook_adapters.service.operations import OPERATIONS


@pytest.fixture(scope="module")
def server() -> Iterator[Server]:
    with serving("--workers", "2") as found:
        yield found


def test_examples_and_made_up_requests(server: Server, tmp_path: Path):
    printed = hold(server, tmp_path, "--phases", "examples,fuzzing", "--max-examples", "4")
    assert f"{len(OPERATIONS)} selected / {len(OPERATIONS)} total" in printed
    passed = re.search(r"(\d+) generated, (\d+) passed", printed)
    assert passed and passed[1] == passed[2] and int(passed[1]) > 3 * len(OPERATIONS)


@pytest.mark.slow
def test_every_way_of_being_right_or_wrong_one_by_one(server: Server, tmp_path: Path):
    printed = hold(server, tmp_path, "--phases", "coverage,stateful", "--max-examples", "3", "--max-time", "45")
    passed = re.search(r"(\d+) generated, (\d+) passed", printed)
    assert passed and passed[1] == passed[2] and int(passed[1]) > 100

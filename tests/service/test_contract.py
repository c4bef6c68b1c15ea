"""Nothing that the service does is undocumented, and all that its document allows it accepts."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from service.contract import AS_SERVED, WITH_KNOWN_WORDS, document_of, hold, with_few_facts, with_known_words
from service.running import Server, serving
from yokebook_adapters.service.operations import OPERATIONS

#: A record and a project as most operations take them, and a thing of a project named; the others take the same.
OF_INPUTS = ("ruleRecord", "ruleProject", "faceProject")


@pytest.fixture(scope="module")
def server() -> Iterator[Server]:
    with serving("--workers", "2") as found:
        yield found


def held(printed: str, operations: int, least: int) -> None:
    """It went through so many operations with no fewer cases than that, and every one of them passed."""
    assert f"{operations} selected / {len(OPERATIONS)} total" in printed
    passed = re.search(r"(\d+) generated, (\d+) passed", printed)
    assert passed and passed[1] == passed[2] and int(passed[1]) >= least


def test_the_document_as_it_is_served(server: Server, tmp_path: Path):
    options = ("--phases", "examples,fuzzing", "--max-examples", "4")
    printed = hold(server, tmp_path, document_of(server), AS_SERVED, *options)
    held(printed, len(OPERATIONS), 3 * len(OPERATIONS))


def test_whatever_is_said_in_known_words_is_accepted(server: Server, tmp_path: Path):
    options = ("--mode", "positive", "--phases", "examples,fuzzing", "--max-examples", "3")
    printed = hold(server, tmp_path, with_known_words(document_of(server)), WITH_KNOWN_WORDS, *options)
    held(printed, len(OPERATIONS), 2 * len(OPERATIONS))


@pytest.mark.slow
def test_every_way_of_being_right_or_wrong_one_by_one(server: Server, tmp_path: Path):
    """Whatever takes no record and no project, of the document as it is served."""
    takes_json = [operation.id for operation in OPERATIONS if operation.takes == "json"]
    others = [option for name in takes_json for option in ("--exclude-operation-id", name)]
    options = ("--phases", "coverage,stateful", "--max-examples", "3", *others)
    printed = hold(server, tmp_path, document_of(server), AS_SERVED, *options)
    held(printed, len(OPERATIONS) - len(takes_json), 400)


@pytest.mark.slow
def test_every_way_of_being_right_or_wrong_with_few_facts(server: Server, tmp_path: Path):
    wanted = [option for name in OF_INPUTS for option in ("--include-operation-id", name)]
    options = ("--phases", "coverage", *wanted)
    printed = hold(server, tmp_path, with_few_facts(document_of(server)), AS_SERVED, *options)
    held(printed, len(OF_INPUTS), 500)

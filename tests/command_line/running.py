"""Runs the command in this process and gives what it printed; one rulebook is loaded for all tests."""

from __future__ import annotations

import io
import json
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

import yokebook
from shipped_book import rulebook
from yokebook_adapters.command_line.main import main

DEMO = Path(__file__).parents[2] / "adapters" / "yokebook_adapters" / "demo" / "brindle-falls.yaml"

_load = yokebook.load


@dataclass
class Ran:
    status: int
    out: str
    err: str

    @property
    def words(self) -> str:
        """The output on one line, so that a test does not hang on where it wraps."""
        return " ".join(self.out.split())

    @property
    def lines(self) -> list[dict[str, Any]]:
        """The output as JSON Lines."""
        return [json.loads(line) for line in self.out.splitlines()]


def _load_once(path: Path | str | None = None, *, drafts: Sequence[Path | str] = ()) -> yokebook.Rulebook:
    """The shipped rulebook, loaded once for all tests, or another one."""
    return rulebook() if path is None and not drafts else _load(path, drafts=drafts)


class Command:
    """The command, with the shipped rulebook loaded once."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
        self.monkeypatch = monkeypatch
        self.capsys = capsys
        monkeypatch.setattr(yokebook, "load", _load_once)

    def __call__(self, *argv: str | Path, stdin: str | bytes = "") -> Ran:
        data = stdin if isinstance(stdin, bytes) else stdin.encode()
        self.monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(data), "utf-8"))
        status = main([str(argument) for argument in argv])
        printed = self.capsys.readouterr()
        return Ran(status, printed.out, printed.err)

"""Lint and types, by the tools that check them, as tests so that one command runs everything."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

TOP = Path(__file__).parents[1]


@pytest.mark.parametrize(
    "tool",
    [["ruff", "check", "."], ["mypy"], ["pyright", "--pythonpath", sys.executable]],
    ids=["ruff", "mypy", "pyright"],
)
def test_clean(tool: list[str]):
    command = [sys.executable, "-m", *tool]
    done = subprocess.run(command, cwd=TOP, capture_output=True, text=True, timeout=600, check=False)
    assert done.returncode == 0, done.stdout + done.stderr

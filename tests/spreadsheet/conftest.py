from __future__ import annotations

import pytest

from command_line.running import Command


@pytest.fixture
def command(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Command:
    """Runs `yokebook` in this process."""
    return Command(monkeypatch, capsys)

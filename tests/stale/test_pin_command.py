"""`yokebook pin` tells, of each pin that no longer fitted, what the moved text does to outcomes."""

from __future__ import annotations

from pathlib import Path

import pytest

from stale.small_city import MARKING, edit, made, stale
from yokebook_adapters.command_line.main import main


def run(root: Path, capsys: pytest.CaptureFixture[str]) -> str:
    """What the command prints, in one line."""
    assert main(["pin", str(root / "places" / "city.yaml")]) == 0
    return " ".join(capsys.readouterr().out.split())


def test_the_effect_is_told_once_and_then_settled(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    root = made(tmp_path / "rulebook")
    edit(root, MARKING, "where: {contact.supply: controlled}", "where: {contact.supply: [controlled, always on]}")
    told = run(root, capsys)
    assert (
        "moved: where was: contact.supply is controlled is: contact.supply is always on or controlled Below the layer "
        "outcomes change: `marking.required` was not required and is required where contact.delay_min is at least 0 "
        "min and at most 20 min and contact.supply is always on. With the amendment in place no outcome changes."
    ) in told
    assert stale(root) == []
    assert "Below the layer" not in run(root, capsys)


def test_new_words_are_kept_by_the_next_run(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    root = made(tmp_path / "rulebook")
    edit(root, MARKING, "says: what is controlled is marked", "says: mark it")
    assert [each.kind for each in stale(root)] == ["editorial change below"]
    before = (root / "places" / "city.yaml").read_bytes()
    run(root, capsys)
    assert stale(root) == []
    assert (root / "places" / "city.yaml").read_bytes() == before

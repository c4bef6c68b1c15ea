"""The wheel holds everything and works by itself, in an environment of its own and outside the checkout."""

from __future__ import annotations

import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

TOP = Path(__file__).parents[1]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel, built from this checkout."""
    folder = tmp_path_factory.mktemp("wheel")
    run([sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", str(folder), str(TOP)], folder)
    [built] = folder.glob("*.whl")
    return built


def run(command: list[str], where: Path, expected: int = 0) -> str:
    """What the command prints, run in the folder `where` with nothing of this checkout on its path."""
    env = {"PATH": "/usr/local/bin:/usr/bin:/bin", "HOME": str(where), "PIP_DISABLE_PIP_VERSION_CHECK": "1"}
    env |= {k: v for k, v in os.environ.items() if k.startswith("PIP_") or k.lower().endswith("_proxy")}
    done = subprocess.run(command, cwd=where, env=env, capture_output=True, text=True, timeout=600, check=False)
    assert done.returncode == expected, done.stdout + done.stderr
    return done.stdout


def shipped() -> set[str]:
    """Every file that the wheel must hold, by its name there."""
    wanted = {}
    for source, target in (
        ("engine/yokebook", "yokebook"),
        ("adapters/yokebook_adapters", "yokebook_adapters"),
        ("rulebook", "yokebook/rulebook"),
        ("schemas", "yokebook/schemas"),
    ):
        for file in (TOP / source).rglob("*"):
            if file.is_file() and "__pycache__" not in file.parts:
                wanted[f"{target}/{file.relative_to(TOP / source).as_posix()}"] = file
    return set(wanted)


def test_every_file_is_in_the_wheel_and_nothing_else(wheel: Path):
    names = {name for name in zipfile.ZipFile(wheel).namelist() if ".dist-info/" not in name}
    assert names == shipped()
    assert any(name.endswith("demo/brindle-falls.yaml") for name in names)
    assert any(name.endswith("py.typed") for name in names)


def test_it_rules_in_an_environment_of_its_own(wheel: Path, tmp_path: Path):
    run([sys.executable, "-m", "venv", str(tmp_path / "env")], tmp_path)
    python = str(tmp_path / "env" / "bin" / "python")
    run([python, "-m", "pip", "install", "--quiet", str(wheel)], tmp_path)
    where = run([python, "-c", "import yokebook; print(yokebook.__file__)"], tmp_path)
    assert str(tmp_path) in where
    printed = run([str(tmp_path / "env" / "bin" / "yokebook"), "rule", "--demo"], tmp_path, expected=1)
    assert "AGAINST" in printed and "Brindle Falls" in printed
    project = tmp_path / "room.yaml"
    project.write_text(
        "project: {place: demo/tamarisk, dates: {permit application: 2023-05-10}}\n"
        "controls: [{id: S1, turns_off_by: presence}]\n",
        encoding="utf-8",
    )
    command = [str(tmp_path / "env" / "bin" / "yokebook"), "rule", "room.yaml", "--question", "R01", "--all"]
    assert "S1: automatic" in run(command, tmp_path)

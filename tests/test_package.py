"""The wheel holds everything and works by itself, in an environment of its own and outside the checkout."""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest
import yaml

from yokebook.load.packed.writing import pack_of_shipped

TOP = Path(__file__).parents[1]

#: What building adds to the files: the rulebook as it is loaded.
PACK = "yokebook/rulebook.jsonl"


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
    return {*wanted, PACK}


def test_every_file_is_in_the_wheel_and_nothing_else(wheel: Path):
    names = {name for name in zipfile.ZipFile(wheel).namelist() if ".dist-info/" not in name}
    assert names == shipped()
    assert any(name.endswith("demo/brindle-falls.yaml") for name in names)
    assert any(name.endswith("py.typed") for name in names)


def test_the_pack_is_of_the_rulebook_of_this_checkout(wheel: Path):
    """The same bytes of it as are made here, of the same files, after all of them."""
    archive = zipfile.ZipFile(wheel)
    assert archive.read(PACK) == pack_of_shipped()
    assert archive.namelist().index(PACK) > max(archive.namelist().index(name) for name in shipped() - {PACK})
    header = json.loads(archive.read(PACK).splitlines()[1])
    assert header["code"] is None
    for name, (size, digest) in header["files"].items():
        data = archive.read(f"yokebook/rulebook/{name}")
        assert (len(data), hashlib.sha256(data).hexdigest()) == (size, digest), name
    assert len(header["files"]) == len(list((TOP / "rulebook").rglob("*.yaml")))
    lines = archive.read(PACK).partition(b"\n")[2].partition(b"\n")[2]
    assert hashlib.sha256(lines).hexdigest() == header["sha256"]


#: Rules, and says whether YAML was read and whether bytes of it were compared with the pack's.
RULES = """
import sys, yokebook
code = yokebook.load().edition("nfpa-70", "2014")
word = code.rule("control.acts", {"control.turns_off_by": "schedule"}).word
print(word, "yaml" in sys.modules, "hashlib" in sys.modules)
print(code.book.questions["control.acts"].asks)
"""


def test_it_rules_without_reading_yaml_until_somebody_changes_it(wheel: Path, tmp_path: Path):
    """In an environment that has neither PyYAML nor jsonschema, then in one that has them."""
    run([sys.executable, "-m", "venv", "--without-pip", str(tmp_path / "env")], tmp_path)
    python = str(tmp_path / "env" / "bin" / "python")
    install = [sys.executable, "-m", "pip", "--python", python, "install", "--quiet", "--no-deps"]
    run([*install, str(wheel)], tmp_path)
    told = run([python, "-c", RULES], tmp_path).splitlines()
    assert told[0] == "automatic False False"
    [questions] = (tmp_path / "env").rglob("yokebook/rulebook/questions/loads.yaml")
    [asking] = [path for path in questions.parent.glob("*.yaml") if told[1] in path.read_text(encoding="utf-8")]
    text = asking.read_text(encoding="utf-8")
    asking.write_text(text.replace(told[1], told[1].upper()), encoding="utf-8")
    faulty = subprocess.run([python, "-c", RULES], cwd=tmp_path, capture_output=True, text=True, check=False)
    assert "No module named 'yaml'" in faulty.stderr
    packages = Path(yaml.__file__).parents[1]
    reading = f"import sys; sys.path.append({str(packages)!r}){RULES}"
    assert run([python, "-c", reading], tmp_path).splitlines() == ["automatic True True", told[1].upper()]
    loaded = f"import sys; sys.path.append({str(packages)!r}); from yokebook.load.__main__ import main; main([])"
    assert "its pack is damaged or not of these files" in run([python, "-c", loaded], tmp_path)


@pytest.mark.slow
def test_a_wheel_by_way_of_a_source_archive_is_the_same(wheel: Path, tmp_path: Path):
    run([sys.executable, "-m", "build", "--no-isolation", "--outdir", str(tmp_path), str(TOP)], tmp_path)
    [built] = tmp_path.glob("*.whl")
    one, other = zipfile.ZipFile(wheel), zipfile.ZipFile(built)
    assert one.namelist() == other.namelist()
    assert one.read(PACK) == other.read(PACK)


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

"""In a checkout the YAML is the truth; the pack of it is kept and made again without anybody's doing."""

from __future__ import annotations

import os
import shutil
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from packed.checkout import Checkout

READ, FROM_PACK = "How long does it wait? True", "How long does it wait? False"
OTHER = "How long till it acts?"


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A checkout that was loaded once."""
    checkout = Checkout(tmp_path_factory.mktemp("made") / "checkout")
    time.sleep(0.05)  # so that the code is older than the process
    assert checkout.run() == READ
    assert checkout.kept.exists()
    return checkout.folder


@pytest.fixture
def checkout(made: Path, tmp_path: Path) -> Checkout:
    """A copy of it, with a pack that is younger than every file."""
    shutil.copytree(made, tmp_path / "checkout", copy_function=shutil.copy2)
    found = object.__new__(Checkout)
    found.folder, found.rulebook = tmp_path / "checkout", tmp_path / "checkout" / "rulebook"
    found.kept = found.folder / ".yokebook_cache" / "rulebook.jsonl"
    time.sleep(0.03)  # file systems count in steps of a few milliseconds
    os.utime(found.kept)
    time.sleep(0.03)
    return found


def test_the_second_process_reads_no_yaml(checkout: Checkout):
    assert checkout.run() == FROM_PACK


COMPARED = 'import sys, yokebook; yokebook.load(); print("hashlib" in sys.modules)'


def test_bytes_are_compared_only_of_files_that_were_touched(checkout: Checkout):
    assert checkout.run(COMPARED) == "False"
    checkout.fact.touch()
    assert checkout.run(COMPARED) == "True"


def test_an_edit_of_the_same_length_is_seen_and_the_pack_made_again(checkout: Checkout):
    checkout.ask(OTHER)
    assert checkout.run() == f"{OTHER} True"
    assert checkout.run() == f"{OTHER} False"


def test_an_edit_under_its_old_date_is_seen(checkout: Checkout):
    before = checkout.fact.stat()
    checkout.ask(OTHER)
    os.utime(checkout.fact, ns=(before.st_atime_ns, before.st_mtime_ns))
    assert checkout.fact.stat().st_mtime_ns == before.st_mtime_ns < checkout.kept.stat().st_mtime_ns
    assert checkout.run() == f"{OTHER} True"


def test_a_file_of_the_same_length_and_an_old_date_put_in_its_place_is_seen(checkout: Checkout):
    copy = checkout.folder / "copy.yaml"
    shutil.copy2(checkout.fact, copy)
    checkout.ask(OTHER)
    checkout.fact.rename(checkout.folder / "edited.yaml")
    copy.rename(checkout.fact)
    assert checkout.run() == FROM_PACK
    os.utime(checkout.folder / "edited.yaml", (1, 1))
    (checkout.folder / "edited.yaml").replace(checkout.fact)
    assert checkout.run() == f"{OTHER} True"


def test_a_file_that_was_only_touched_changes_nothing(checkout: Checkout):
    checkout.fact.touch()
    assert checkout.run() == FROM_PACK


NEW = "entity: control\nfacts:\n  colour: {type: text, says: Its colour., asks: What colour?, look: The device.}\n"
HAS = 'import sys, yokebook; print("control.colour" in yokebook.load().book.facts, "yaml" in sys.modules)'


def test_files_that_come_and_go_are_seen(checkout: Checkout):
    assert checkout.run(HAS) == "False False"
    (checkout.rulebook / "facts" / "colour.yaml").write_text(NEW, encoding="utf-8")
    assert checkout.run(HAS) == "True True"
    assert checkout.run(HAS) == "True False"
    (checkout.rulebook / "facts" / "colour.yaml").unlink()
    assert checkout.run(HAS) == "False True"


def test_a_change_of_what_reads_the_yaml_is_seen(checkout: Checkout):
    reader = checkout.folder / "engine" / "yokebook" / "load" / "facts.py"
    text = reader.read_text(encoding="utf-8")
    assert text.count('asks=fields.text("asks")') == 1
    reader.write_text(text.replace('asks=fields.text("asks")', 'asks=fields.text("asks").upper()'), encoding="utf-8")
    assert checkout.run() == "HOW LONG DOES IT WAIT? True"
    assert checkout.run() == "HOW LONG DOES IT WAIT? False"


LONG_RUNNING = """
import pathlib, time, yokebook
reader = pathlib.Path("engine/yokebook/load/facts.py")
import yokebook.load.facts
time.sleep(0.05)
text = reader.read_text(encoding="utf-8")
reader.write_text(text.replace('asks=fields.text("asks")', 'asks=fields.text("asks").upper()'), encoding="utf-8")
print(yokebook.load().book.facts["control.delay_min"].asks)
"""


def test_a_process_that_runs_older_code_than_is_there_keeps_nothing(checkout: Checkout):
    """What it read is right for it, and would be wrong for the next one."""
    assert checkout.run(LONG_RUNNING) == "How long does it wait?"
    assert checkout.run() == "HOW LONG DOES IT WAIT? True"
    assert checkout.run() == "HOW LONG DOES IT WAIT? False"


def _cut(kept: Path) -> None:
    kept.write_bytes(kept.read_bytes()[:-10])


def _empty(kept: Path) -> None:
    kept.write_bytes(b"")


def _changed(kept: Path) -> None:
    """One letter of what a process would tell, in the midst of the file."""
    data = kept.read_bytes()
    assert data.count(b"How long does it wait?") == 1
    kept.write_bytes(data.replace(b"How long does it wait?", b"How long does it wAit?"))


def _of_another_form(kept: Path) -> None:
    kept.write_bytes(kept.read_bytes().replace(b"form 1", b"form 0"))


def _no_text(kept: Path) -> None:
    kept.write_bytes(bytes(range(256)))


def _folder(kept: Path) -> None:
    kept.unlink()
    kept.mkdir()


DAMAGES: list[Callable[[Path], None]] = [_cut, _empty, _changed, _of_another_form, _no_text, Path.unlink, _folder]


@pytest.mark.parametrize("damage", DAMAGES, ids=lambda damage: damage.__name__.strip("_"))
def test_a_damaged_pack_is_as_none(checkout: Checkout, damage: Callable[[Path], None]):
    before = checkout.kept.stat()
    damage(checkout.kept)
    if checkout.kept.is_file():  # as if the damage had been done unseen
        os.utime(checkout.kept, ns=(before.st_atime_ns, before.st_mtime_ns))
    assert checkout.run() == READ
    assert checkout.run() == (READ if damage is _folder else FROM_PACK)


def test_where_nothing_can_be_kept_the_yaml_is_read(checkout: Checkout):
    shutil.rmtree(checkout.kept.parent)
    checkout.kept.parent.write_text("no folder\n", encoding="utf-8")
    assert [checkout.run(), checkout.run()] == [READ, READ]
    assert [entry.name for entry in checkout.folder.iterdir() if entry.name.startswith(".")] == [".yokebook_cache"]


def test_processes_that_start_at_once_all_read_right_and_leave_one_whole_pack(checkout: Checkout):
    checkout.ask(OTHER)
    processes = [checkout.start() for _ in range(4)]
    for process in processes:
        out, errors = process.communicate(timeout=120)
        assert out.rpartition(" ")[0] == OTHER, errors
    assert sorted(entry.name for entry in checkout.kept.parent.iterdir()) == [".gitignore", "rulebook.jsonl"]
    assert checkout.run() == f"{OTHER} False"


FAULTS = """
import yokebook
try:
    yokebook.load()
except yokebook.RulebookFaults as found:
    print(found)
"""


def test_a_faulty_rulebook_is_told_as_ever_and_never_kept(checkout: Checkout):
    before = checkout.kept.read_bytes()
    fact = checkout.fact.read_text(encoding="utf-8")
    checkout.fact.write_text(fact.replace("type: yes_no", "type: yes_or_no"), encoding="utf-8")
    line = 1 + fact[: fact.index("type: yes_no")].count("\n")
    (checkout.rulebook / "facts" / "odd.yml").write_text("a: b\n", encoding="utf-8")
    told = checkout.run(FAULTS).splitlines()
    assert told[0].startswith(f"rulebook/facts/control.yaml:{line}:11: ") and "`yes_or_no`" in told[0]
    assert told[1] == "rulebook/facts/odd.yml:1:1: a rulebook's files end in `.yaml`"
    assert checkout.kept.read_bytes() == before
    checkout.fact.write_text(fact, encoding="utf-8")
    (checkout.rulebook / "facts" / "odd.yml").unlink()
    assert checkout.run() == FROM_PACK


OWN = 'import sys, yokebook; yokebook.load("rulebook"); print("yaml" in sys.modules, "jsonschema" in sys.modules)'


def test_a_folder_of_ones_own_is_always_read_and_checked(checkout: Checkout):
    """Even one that is beside a pack of it."""
    assert checkout.run(OWN) == "True True"


def test_drafts_stand_in_for_files_of_the_yaml(checkout: Checkout):
    town = (checkout.rulebook / "places" / "town.yaml").read_text(encoding="utf-8")
    (checkout.folder / "draft.yaml").write_text(town.replace("name: Town", "name: Ville"), encoding="utf-8")
    program = 'import yokebook; print(yokebook.load(drafts=["draft.yaml"]).book.places["town"].name)'
    assert checkout.run(program) == "Ville"


def test_git_does_not_see_what_is_kept(checkout: Checkout):
    assert (checkout.kept.parent / ".gitignore").read_text(encoding="utf-8") == "*\n"

"""What a process that uses yokebook imports, and when: nothing that reads YAML, and to load nothing that rules."""

from __future__ import annotations

import json
import subprocess
import sys

import yokebook

RECORD = {"receptacle.configuration": "5-20R", "receptacle.built_in_control": False, "contact.supply": "controlled"}

LOAD = "import yokebook; book = yokebook.load()"
RULE = f"""{LOAD}
code = book.in_force(place="demo/tamarisk/brindle-falls", dates={{"permit application": "2024-10-15"}})
code.rule("marking.required", {RECORD!r}).to_dict()
"""
#: What reads YAML or holds files against a schema, or is slow to import and needed for neither.
NEVER = {"yaml", "jsonschema", "referencing", "hashlib", "difflib", "pathlib", "tempfile"}


def imported(program: str) -> set[str]:
    """The modules that a fresh process has once the program has run."""
    yokebook.load()  # so that there is a pack
    told = f"{program}\nimport json, sys\nprint(json.dumps(sorted(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", told], capture_output=True, text=True, timeout=120, check=False)
    assert done.returncode == 0, done.stderr
    found: list[str] = json.loads(done.stdout.splitlines()[-1])
    return set(found)


def test_loading_imports_neither_yaml_nor_what_rules():
    found = imported(LOAD)
    assert found & NEVER == set()
    assert {name for name in found if name.startswith("yokebook")} == {
        *("yokebook", "yokebook.rulebook", "yokebook.shipped", "yokebook.load", "yokebook.load.packed"),
        *("yokebook.load.packed.opening", "yokebook.load.packed.sources"),
    }
    assert "dataclasses" not in found


def test_ruling_imports_neither_yaml_nor_what_resolves_nor_what_explains():
    found = imported(RULE)
    assert found & NEVER == set()
    unused = {"editions", "layers", "pins", "sheet", "canonical", "explain", "proof", "intake.project", "load.files"}
    assert {name for name in found if name.removeprefix("yokebook.") in unused} == set()
    assert "yokebook.ruling" in found


def test_the_guards_can_fail():
    assert {"yaml", "yokebook.load.files"} <= imported("import yokebook.load.yaml_nodes, yokebook.load.files")


def test_every_public_name_is_to_be_had():
    names = {name: getattr(yokebook, name) for name in yokebook.__all__}
    assert {name for name, found in names.items() if not callable(found)} == set()
    program = "import yokebook.load.book, yokebook; yokebook.load(); print(yokebook.RulebookFaults.__name__)"
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, timeout=120, check=False)
    assert done.stdout == "RulebookFaults\n", done.stderr


def test_the_command_imports_only_the_command_that_is_run():
    found = imported('from yokebook_adapters.command_line.main import main; main(["places", "demo/tamarisk"])')
    assert found & {"yaml", "jsonschema", "yokebook.ruling", "yokebook_adapters.building"} == set()

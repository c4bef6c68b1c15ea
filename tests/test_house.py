"""The rules of the house that a machine can see: what may stand where, what may import what, and no law in Python."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from shipped_book import book

TOP = Path(__file__).parents[1]
ENGINE = TOP / "engine" / "yokebook"
ADAPTERS = TOP / "adapters" / "yokebook_adapters"
ENGINE_FILES = sorted(ENGINE.rglob("*.py"))
ALL_FILES = [*ENGINE_FILES, *sorted(ADAPTERS.rglob("*.py"))]

#: Loading reads files, and only the part of it that keeps packs writes any; the rest of the engine rules and explains.
#: `published_schema` makes the published schemas: a tool for authors, never used to rule.
MAY_READ = {"load", "shipped.py", "front_door.py", "published_schema.py"}

#: Modules that reach outside the program, and those that only loading may use.
OUTSIDE = {
    *("asyncio", "http", "multiprocessing", "os", "random", "requests", "secrets", "shutil", "socket"),
    *("sqlite3", "subprocess", "tempfile", "threading", "time", "urllib", "webbrowser"),
}
#: Looks at files and their dates, and makes new ones that no other process writes.
ONLY_OF_FILES = {"os", "tempfile"}
#: Tells whether the files of the engine are those that this process imported.
MAY_KNOW_WHEN = {"load/packed/opening.py"}
MAY_LOOK_AT_FILES = {"shipped.py", "load/packed/opening.py", "load/packed/sources.py", "load/packed/keeping.py"}
#: Lets one thread at a time work out what is new, and starts none.
MAY_LOCK = {"flat/deciding.py"}
ONLY_LOADING = {"yaml", "jsonschema", "referencing"}
FILE_CALLS = {
    *("open", "read_text", "read_bytes", "write_text", "write_bytes", "mkdir", "unlink", "glob", "rglob"),
    *("iterdir", "print"),
}
WRITE_CALLS = {"write_text", "write_bytes", "mkdir", "makedirs", "mkstemp", "unlink", "chmod", "utime"}
MAY_WRITE = {"load/packed/keeping.py", "published_schema.py"}
THREAD_CALLS = {"Thread", "Timer", "start_new_thread", "ThreadPoolExecutor"}
CLOCK_CALLS = {"now", "today", "utcnow"}

#: Words that are a choice or an outcome somewhere in the rulebook and also structure: kinds of thing, keys of authored
#: files, how to say that there is nothing.
STRUCTURE = {"load", "none", "office", "lower", "required", "contact device", "does not apply"}


def inside(file: Path, names: set[str]) -> bool:
    """Whether a file of the engine is one of these, or in one of these folders."""
    return file.relative_to(ENGINE).parts[0] in names


def tree(file: Path) -> ast.Module:
    return ast.parse(file.read_text(encoding="utf-8"), str(file))


def imports(module: ast.Module) -> Iterator[str]:
    for node in ast.walk(module):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            yield node.module or ""


def calls(module: ast.Module) -> Iterator[tuple[int, str]]:
    for node in ast.walk(module):
        if isinstance(node, ast.Call):
            function = node.func
            name = function.id if isinstance(function, ast.Name) else getattr(function, "attr", "")
            yield node.lineno, name


def opened_to_write(module: ast.Module) -> list[tuple[int, str]]:
    """Calls of `open` in a way that changes a file."""
    return [
        (node.lineno, mode.value)
        for node in ast.walk(module)
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "open"
        for mode in [*node.args[1:], *(keyword.value for keyword in node.keywords if keyword.arg == "mode")]
        if isinstance(mode, ast.Constant) and isinstance(mode.value, str) and set(mode.value) & set("wxa+")
    ]


def constants(module: ast.Module) -> Iterator[tuple[int, object]]:
    """Literals in code, docstrings left out."""
    docstrings = {
        id(node.body[0].value)
        for node in ast.walk(module)
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef)
        and node.body
        and isinstance(node.body[0], ast.Expr)
    }
    for node in ast.walk(module):
        if isinstance(node, ast.Constant) and id(node) not in docstrings:
            yield node.lineno, node.value


def name_of(file: Path) -> str:
    return str(file.relative_to(TOP))


def test_the_top_level_reads_as_the_product():
    allowed = {"README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml"}
    allowed |= {"adapters", "engine", "rulebook", "schemas", "tests"}
    built = {"build", "dist"}
    found = {entry.name for entry in TOP.iterdir() if not entry.name.startswith(".")} - built
    assert found <= allowed


def test_no_python_among_the_codes():
    assert list((TOP / "rulebook").rglob("*.py")) == []


@pytest.mark.parametrize("file", ALL_FILES, ids=name_of)
def test_files_are_short_and_finished(file: Path):
    text = file.read_text(encoding="utf-8")
    assert text.count("\n") <= 450
    assert not re.search(r"\b(TO" r"DO|FIX" r"ME|XX" r"X)\b|NotImplemented" r"Error", text)


@pytest.mark.parametrize("file", ENGINE_FILES, ids=name_of)
class TestEngine:
    def test_imports_no_adapter_and_nothing_that_reaches_outside(self, file: Path):
        names = {name.partition(".")[0] for name in imports(tree(file))}
        assert names & {"yokebook_adapters"} == set()
        name = file.relative_to(ENGINE).as_posix()
        allowed = ONLY_OF_FILES if name in MAY_LOOK_AT_FILES else set()
        allowed = allowed | ({"time"} if name in MAY_KNOW_WHEN else set())
        allowed = allowed | ({"threading"} if name in MAY_LOCK else set())
        assert names & OUTSIDE <= allowed
        if not inside(file, MAY_READ):
            assert names & ONLY_LOADING == set()

    def test_starts_no_thread(self, file: Path):
        assert [call for call in calls(tree(file)) if call[1] in THREAD_CALLS] == []

    def test_reads_files_only_to_load_and_never_the_clock(self, file: Path):
        found = [(line, name) for line, name in calls(tree(file)) if name in FILE_CALLS]
        assert inside(file, MAY_READ) or found == []
        assert [call for call in calls(tree(file)) if call[1] in CLOCK_CALLS] == []

    def test_writes_files_only_to_keep_packs(self, file: Path):
        found = [(line, name) for line, name in calls(tree(file)) if name in WRITE_CALLS]
        found += opened_to_write(tree(file))
        assert file.relative_to(ENGINE).as_posix() in MAY_WRITE or found == []

    def test_holds_no_section_number(self, file: Path):
        section = re.compile(r"\b[1-9]\d{2}\.\d|\bC4\d{2}|\b8\.4\.2")
        found = [(line, text) for line, text in constants(tree(file)) if isinstance(text, str) and section.search(text)]
        assert found == []

    def test_holds_no_word_of_law(self, file: Path):
        shipped = book()
        words = {word for fact in shipped.facts.values() for word in fact.values}
        words |= {word for question in shipped.questions.values() for word in question.outcomes}
        words |= {word for reading in shipped.readings.values() for word in reading.alternatives}
        words |= {*shipped.questions, *shipped.readings, *shipped.calculations, *shipped.documents, *shipped.places}
        words |= {rule.id for edition in shipped.editions.values() for table in edition.tables for rule in table.rules}
        if file.name != "labels.py":  # which calls things what people call them
            words |= set(shipped.facts)
        else:
            words -= {"only"}
        found = [(line, word) for line, word in constants(tree(file)) if word in words - STRUCTURE]
        assert found == []

    def test_holds_no_threshold(self, file: Path):
        """Numbers up to 30 also count columns and lines; any bigger one that a code sets is none of the engine's."""
        shipped = book()
        limits = {value.value for edition in shipped.editions.values() for value in edition.values if value.value > 30}
        assert limits
        numbers = [(line, n) for line, n in constants(tree(file)) if isinstance(n, int | float)]
        assert [(line, n) for line, n in numbers if n in limits] == []


def test_the_guards_can_fail():
    """Each guard finds what it is there for."""
    bad = ast.parse('import socket, yokebook_adapters.text\nx = open("210.10", "w")\ny = datetime.now()\n')
    assert {"socket", "yokebook_adapters.text"} <= set(imports(bad))
    assert opened_to_write(bad) == [(2, "w")]
    assert {"open", "now"} <= {name for _, name in calls(bad)}
    assert (2, "210.10") in list(constants(bad))

"""The published schemas, and every shipped file held against the one that its first line names."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from yokebook import shipped
from yokebook.load import schema_check
from yokebook.load.faults import Fault
from yokebook.load.files import read_file
from yokebook.load.yaml_nodes import read_yaml

RULEBOOK = shipped.folder("rulebook")
SCHEMAS = shipped.folder("schemas")
FILES = sorted(path.relative_to(RULEBOOK).as_posix() for path in RULEBOOK.rglob("*.yaml"))
MODELINE = re.compile(r"# yaml-language-server: \$schema=(\S+)")
NAMES = sorted(schema_check.schemas())
OF_RULEBOOKS = [
    "calculations", "cases", "cautions", "documents", "edition", "facts", "place", "questions", "readings", "table",
]  # fmt: skip


def described(schema: Any, where: str) -> Iterator[str]:
    """Every property below this schema that has no description."""
    if isinstance(schema, dict):
        for name, inner in schema.get("properties", {}).items() if isinstance(schema.get("properties"), dict) else ():
            if not isinstance(inner, dict) or not inner.get("description"):
                yield f"{where}.{name}"
        for key, inner in schema.items():
            yield from described(inner, f"{where}.{key}")
    elif isinstance(schema, list):
        for item in schema:
            yield from described(item, where)


@pytest.mark.parametrize("name", NAMES)
def test_schema(name: str) -> None:
    schema = schema_check.schemas()[name]
    Draft202012Validator.check_schema(schema)
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert list(described(schema, name)) == []


@pytest.mark.parametrize("name", [*OF_RULEBOOKS, "common"])
def test_no_schema_of_a_rulebook_file_has_one_of(name: str) -> None:
    """`oneOf` gives messages that nobody can act on."""
    assert '"oneOf"' not in (SCHEMAS / f"{name}.schema.json").read_text(encoding="utf-8")


@pytest.mark.parametrize("file", FILES)
def test_shipped_file(file: str) -> None:
    path = RULEBOOK / file
    named = MODELINE.fullmatch(path.read_text(encoding="utf-8").partition("\n")[0])
    assert named, f"{file} does not begin with the line that names its schema"
    faults: list[Fault] = []
    node = read_file(path, file, faults)
    assert node is not None
    assert (path.parent / named[1]).resolve() == SCHEMAS / f"{schema_check.schema_for(file, node)}.schema.json"
    assert [str(fault) for fault in [*faults, *schema_check.check(node, schema_check.schema_for(file, node))]] == []


NUMBER = "reads as a number, and text is due: put"
BAD: list[tuple[str, str, list[str]]] = [
    ("cautions", "cautions: []", ["1:11: `cautions` has too few; allowed: at least 1"]),
    ("cautions", "cautions: [12]", [f"1:12: item 1 of `cautions` {NUMBER} `12` in quotes"]),
    (
        "cautions",
        "cautions: [true]",
        ["1:12: item 1 of `cautions` reads as true or false, and text is due: put `true` in quotes"],
    ),
    ("cautions", "cautions: x", ["1:11: `cautions` is `x`; allowed: a list"]),
    (
        "cautions",
        "caution: [x]",
        [
            "1:1: `caution` is not a key of the file (did you mean `cautions`?); allowed: `cautions`",
            "1:1: `cautions` is missing from the file",
        ],
    ),
    ("cautions", "cautions:\n", ["1:1: `cautions` has no value"]),
    (
        "place",
        "{place: p, name: n, office: o, demo: 1, lines: {}}",
        ["1:38: `demo` is `1`; allowed: `true`, `false`, `yes`, `no`"],
    ),
    (
        "edition",
        "carried: [{rules: [a], checked: {seen: x, memory: y}}]",
        ["1:33: `checked` has too many: `seen`, `memory`; allowed: at most 1"],
    ),
    (
        "edition",
        "changes: [{delete: a#b, pin: x}]",
        ["1:30: `pin` is `x`; allowed: eight digits over the text below, written by `yokebook pin`; never typed"],
    ),
    (
        "documents",
        "documents: {code: {kind: k, title: t, publisher: p, editions: [2014]}}",
        [f"1:64: item 1 of `editions` {NUMBER} `2014` in quotes"],
    ),
]


@pytest.mark.parametrize(("schema", "text", "messages"), BAD, ids=[f"{name}: {text}" for name, text, _ in BAD])
def test_own_phrases(schema: str, text: str, messages: list[str]) -> None:
    faults: list[Fault] = []
    node = read_yaml(text, "f.yaml", faults)
    assert node is not None
    assert sorted(str(fault) for fault in schema_check.check(node, schema)) == [f"f.yaml:{text}" for text in messages]


def test_unknown_schema() -> None:
    node = read_yaml("a: b", "f.yaml", [])
    assert node is not None
    with pytest.raises(KeyError):
        schema_check.check(node, "nothing")


def test_the_folders_of_shipped_data_are_the_checkouts() -> None:
    top = Path(__file__).resolve().parents[2]
    assert (top / "rulebook", top / "schemas") == (RULEBOOK, SCHEMAS)

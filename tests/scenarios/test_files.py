"""The scenarios' files as a user would hand them in, and their whole sheets."""

from __future__ import annotations

import json

import jsonschema
import pytest
from referencing import Registry, Resource

from scenarios.staging import HERE, SCENARIOS, project_data, stage, whole
from shipped_book import rulebook
from yokebook.front_door import read_project
from yokebook.shipped import folder

#: The open-plan floor has some two thousand rulings.
SHEETS = [pytest.param(name, marks=[pytest.mark.slow] if name == "sc07" else []) for name in SCENARIOS]


def test_ten_scenarios() -> None:
    assert [f"sc{number:02}" for number in range(1, 11)] == list(SCENARIOS)


@pytest.mark.parametrize("name", SCENARIOS)
def test_read_as_a_file(name: str) -> None:
    """The file gives the things that its data gives."""
    graph = read_project(HERE / f"{name}.yaml", rulebook().book)
    assert [(thing.kind, thing.id) for thing in graph] == [(thing.kind, thing.id) for thing in stage(name).graph]


@pytest.mark.parametrize("name", SCENARIOS)
def test_valid_by_the_published_schema(name: str) -> None:
    schemas = {path.name: json.loads(path.read_text("utf-8")) for path in folder("schemas").glob("*.schema.json")}
    registry = Registry().with_resources(
        (uri, Resource.from_contents(schema))
        for file, schema in schemas.items()
        for uri in (file, schema.get("$id", file))
    )
    checker = jsonschema.Draft202012Validator(schemas["project.schema.json"], registry=registry)
    data = json.loads(json.dumps(project_data(name), default=str))  # a date is text to a schema
    assert [error.message for error in checker.iter_errors(data)] == []


@pytest.mark.parametrize("name", SHEETS)
def test_no_fault_of_the_rulebook(name: str) -> None:
    """On real rooms no table is silent or contradicts itself, nothing is too much to decide, and every edition was
    read."""
    faulty = [
        key for key, ruling in whole(name).items() if ruling.status not in ("settled", "readings differ", "cannot tell")
    ]
    assert faulty == []
    assert [key for key, ruling in whole(name).items() if ruling.not_checked] == []

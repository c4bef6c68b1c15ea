"""The schemas of what the service takes: the published ones, but that records and projects are left to the front
door, which says of each field what is allowed."""

from __future__ import annotations

from functools import cache
from typing import Any

from jsonschema import Draft202012Validator

from yokebook.load.schema_check import schemas

#: What the front door reads, by the schema that says what it accepts.
_LEFT_TO_THE_DOOR = ("record.schema.json", "project.schema.json")


def definitions() -> dict[str, Any]:
    """What the service takes and gives, by name: `$defs` of the published schema `service`."""
    found: dict[str, Any] = schemas()["service"]["$defs"]
    return found


@cache
def request_validator(name: str) -> Draft202012Validator:
    """Holds a body against the request of this name. Raises KeyError for an unknown name."""
    definitions()[name]
    return Draft202012Validator({"$ref": f"#/$defs/{name}", "$defs": _without_inputs(definitions())})


def _without_inputs(schema: Any) -> Any:
    if isinstance(schema, dict):
        if schema.get("$ref") in _LEFT_TO_THE_DOOR:
            return {}
        return {key: _without_inputs(value) for key, value in schema.items()}
    return schema

"""Files held against their JSON Schemas, faults in our own words at their place in the file."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping
from functools import cache
from pathlib import PurePosixPath
from typing import Any

from jsonschema import Draft202012Validator
from jsonschema.exceptions import ValidationError
from referencing import Registry, Resource

from yokebook import shipped
from yokebook.load.faults import Fault, listed, suggest
from yokebook.load.nodes import MappingNode, Node, Scalar, SequenceNode, kind_name, plain_data
from yokebook.model import At

#: Which schema a file of a rulebook has, by its top folder.
SCHEMA_OF_FOLDER = {
    "questions": "questions",
    "facts": "facts",
    "calculations": "calculations",
    "readings": "readings",
    "documents": "documents",
    "places": "place",
    "cases": "cases",
}

_TYPES = {
    "object": "a mapping",
    "array": "a list",
    "string": "text",
    "number": "a number",
    "integer": "a whole number",
    "boolean": "true or false",
    "null": "nothing",
}


def schema_for(relative: str, node: Node) -> str:
    """The name of the schema of a rulebook's file, given its path below the rulebook's folder."""
    path = PurePosixPath(relative)
    if relative == "cautions.yaml":
        return "cautions"
    if path.parts[0] in SCHEMA_OF_FOLDER:
        return SCHEMA_OF_FOLDER[path.parts[0]]
    return "table" if isinstance(node, MappingNode) and "answers" in node.entries else "edition"


@cache
def schemas() -> dict[str, Any]:
    """Every shipped schema by its name without `.schema.json`."""
    folder = shipped.folder("schemas")
    return {
        path.name.removesuffix(".schema.json"): json.loads(path.read_text(encoding="utf-8"))
        for path in sorted(folder.glob("*.schema.json"))
    }


@cache
def _validator(name: str) -> Draft202012Validator:
    resources = [(f"{key}.schema.json", Resource.from_contents(schema)) for key, schema in schemas().items()]
    registry: Registry[Any] = Registry().with_resources(resources)
    return Draft202012Validator(schemas()[name], registry=registry)


def schema_faults(nodes: Mapping[str, Node]) -> list[Fault]:
    """The faults of a rulebook's files, given by path below its folder."""
    return [fault for path, node in nodes.items() for fault in check(node, schema_for(path, node))]


def check(node: Node, schema: str) -> list[Fault]:
    """The faults of one file against the schema of this name, such as `table`. Raises KeyError for an unknown name."""
    return check_with(node, _validator(schema), "the file")


def check_with(node: Node, validator: Draft202012Validator, called: str) -> list[Fault]:
    """The faults of data against a schema of one's own; `called` is what messages call the whole of it."""
    errors = validator.iter_errors(plain_data(node))
    return [fault for error in errors for fault in _faults(error, node, called)]


def _faults(error: ValidationError, root: Node, called: str) -> Iterator[Fault]:
    node, where, key_at = _find(root, list(error.absolute_path), called)
    phrase = _PHRASES.get(str(error.validator))
    if isinstance(node, Scalar) and node.is_null and key_at is not None:
        yield Fault(key_at, f"{where} has no value")
    elif error.validator == "additionalProperties" and isinstance(node, MappingNode):
        yield from _unknown_keys(error, node, where)
    elif error.validator == "required" and isinstance(node, MappingNode):
        for key in _value(error):
            if key not in node.entries and f"'{key}'" in error.message:
                yield Fault(node.at, f"`{key}` is missing from {where}")
    elif phrase is not None:
        yield Fault(node.at, f"{where} {phrase(error, node)}")
    else:
        yield Fault(node.at, f"{where} does not fit its schema: {error.message}")


def _find(root: Node, path: list[str | int], called: str) -> tuple[Node, str, At | None]:
    """The node at a path, what to call it (the nearest key above it), and where that key is if it is the node's own."""
    node, where, key_at = root, called, None
    for step in path:
        if isinstance(node, MappingNode) and str(step) in node.entries:
            entry = node.entries[str(step)]
            node, where, key_at = entry.value, f"`{step}`", entry.key.at
        elif isinstance(node, SequenceNode) and isinstance(step, int):
            node, where, key_at = node.items[step], f"item {step + 1} of {where}", None
    return node, where, key_at


def _unknown_keys(error: ValidationError, node: MappingNode, where: str) -> Iterator[Fault]:
    known = list(error.schema.get("properties", ())) if isinstance(error.schema, Mapping) else []
    for key, entry in node.entries.items():
        if key not in known:
            text = f"`{key}` is not a key of {where}{suggest(key, known)}; allowed: {listed(known, 30)}"
            yield Fault(entry.key.at, text)


def _value(error: ValidationError) -> Any:
    """What the schema's keyword says; jsonschema types it as perhaps absent."""
    return error.validator_value


def _type(error: ValidationError, node: Node) -> str:
    value = _value(error)
    wanted = value if isinstance(value, list) else [value]
    names = " or ".join(_TYPES[name] for name in wanted)
    if isinstance(node, Scalar) and "string" in wanted and node.plain and not node.is_null:
        return f"reads as {_read_as(node)}, and {names} is due: put `{node.text}` in quotes"
    return f"is {kind_name(node)}; allowed: {names}"


def _read_as(node: Scalar) -> str:
    return "a number" if node.is_number else "true or false"


def _enum(error: ValidationError, node: Node) -> str:
    words = [str(word).lower() if isinstance(word, bool) else str(word) for word in _value(error)]
    hint = suggest(node.text, words) if isinstance(node, Scalar) else ""
    return f"is {kind_name(node)}{hint}; allowed: {listed(words, 30)}"


def _pattern(error: ValidationError, node: Node) -> str:
    schema = error.schema if isinstance(error.schema, Mapping) else {}
    allowed = str(schema.get("description", _value(error))).rstrip(".")
    return f"is {kind_name(node)}; allowed: {allowed[:1].lower()}{allowed[1:]}"


def _fewest(error: ValidationError, node: Node) -> str:
    return f"has too few; allowed: at least {_value(error)}"


def _most(error: ValidationError, node: Node) -> str:
    keys = f": {listed(node.entries)}" if isinstance(node, MappingNode) else ""
    return f"has too many{keys}; allowed: at most {_value(error)}"


_PHRASES: dict[str, Callable[[ValidationError, Node], str]] = {
    "type": _type,
    "enum": _enum,
    "pattern": _pattern,
    "minItems": _fewest,
    "minProperties": _fewest,
    "minLength": _fewest,
    "maxItems": _most,
    "maxProperties": _most,
}

"""The OpenAPI 3.1 document, made from the published JSON Schemas and the list of operations, so that neither what is
taken nor what is given is described twice."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from yokebook.load.schema_check import schemas
from yokebook.model import Book
from yokebook_adapters.service import batches
from yokebook_adapters.service.operations import ALWAYS, OPERATIONS, Operation
from yokebook_adapters.service.problems import KINDS, MEDIA_TYPE

Json = dict[str, Any]

#: The published schemas that the document holds whole, under their own names.
_WHOLE = ("record", "project", "ruling", "views", "schedule", "authority", "comparison", "sheet")

_COMPONENTS = "#/components/schemas/"


def document(version: str, book: Book) -> Json:
    """The whole document; its examples are of the rulebook's own places and questions. The same schemas, version and
    rulebook give the same document."""
    examples = _Examples(book)
    return {
        "openapi": "3.1.0",
        "info": {
            "title": "yokebook",
            "version": version,
            "description": "Rules on receptacles and what controls them, from the adopted code as data, and says why. "
            "Not a design, a permit, an inspection or legal advice.",
            "license": {"name": "Apache-2.0", "identifier": "Apache-2.0"},
        },
        "jsonSchemaDialect": "https://json-schema.org/draft/2020-12/schema",
        "servers": [{"url": "/"}],
        "paths": _paths(examples),
        "components": {"schemas": components()},
    }


# ---- schemas --------------------------------------------------------------------------------------------------------


def components() -> Json:
    """Every schema by name: those published by themselves, then what the service takes and gives."""
    found: Json = {}
    for name in _WHOLE:
        schema = {key: value for key, value in schemas()[name].items() if key != "$schema"}
        found[name] = _moved(schema, f"{_COMPONENTS}{name}")
    for name, schema in schemas()["service"]["$defs"].items():
        found[name] = _moved(schema, None)
    return dict(sorted(found.items()))


def _moved(schema: Any, home: str | None) -> Any:
    """The schema with every reference to where the document has its target. `home` is where `#` of the schema is now;
    None for the schema `service`, whose own definitions are components themselves."""
    if isinstance(schema, dict):
        return {
            key: _reference(value, home) if key == "$ref" and isinstance(value, str) else _moved(value, home)
            for key, value in schema.items()
        }
    if isinstance(schema, list):
        return [_moved(item, home) for item in schema]
    return schema


def _reference(target: str, home: str | None) -> str:
    file, _, inside = target.partition("#")
    if file:
        return f"{_COMPONENTS}{file.removesuffix('.schema.json')}{inside}"
    if home is None:
        return _COMPONENTS + inside.removeprefix("/$defs/")
    return home + inside


# ---- paths ----------------------------------------------------------------------------------------------------------


class _Examples:
    """What examples are made of: the first question on rooms, fact and place, and an edition that answers it."""

    def __init__(self, book: Book) -> None:
        self.question = next((each.id for each in book.questions.values() if each.per == "space"), "QUESTION")
        self.fact = next(iter(book.facts), "FACT")
        self.place = next((place.id for place in book.places.values() if place.demo), next(iter(book.places), "PLACE"))
        answering = (
            f"{document}:{edition}"
            for (document, edition), each in book.editions.items()
            if any(table.question == self.question for table in each.tables)
        )
        self.edition = next(answering, "DOCUMENT:EDITION")

    def in_path(self) -> Mapping[str, str | None]:
        """An example of each parameter of a path; none of a job, which has to be started first."""
        own = {"question": self.question, "fact": self.fact, "place": self.place}
        return {"schema": "record", "problem": "refused", "job": None, **own}

    def of(self, request: str) -> Json:
        """An example of a request."""
        law: Json = {"edition": self.edition}
        if request == "compare":
            return {"was": law, "now": law, "questions": [self.question]}
        room = {"spaces": [{"id": "room", "yokes": [{"id": "R1", "contacts": [{"id": "upper"}]}]}]}
        if request == "explain_project":
            return {"law": law, "subject": "room", "question": self.question, "project": room}
        if request == "face_project":
            return {"law": law, "subject": "room/R1", "project": room}
        if request == "read_project":
            return {"record": {}}
        if request in ("rule_project", "project_output", "print_project"):
            return {"law": law, "project": {"controls": [{"id": "S1"}]}}
        named = {"questions": [self.question]} if request == "rule_record" else {"question": self.question}
        return {"law": law, **named, "record": {}}


def _paths(examples: _Examples) -> Json:
    found: dict[str, Json] = {}
    for operation in OPERATIONS:
        found.setdefault(operation.path, {})[operation.method.lower()] = _operation(operation, examples)
    return found


def _operation(operation: Operation, examples: _Examples) -> Json:
    made: Json = {
        "operationId": operation.id,
        "summary": operation.says,
        "parameters": [*_path_parameters(operation.path, examples), *(_QUERY[name] for name in operation.query)],
        "responses": _responses(operation),
    }
    if operation.takes == "json":
        schema = {"$ref": f"{_COMPONENTS}{operation.request}"}
        content = {"application/json": {"schema": schema, "example": examples.of(operation.request)}}
        made["requestBody"] = {"required": True, "content": content}
    elif operation.takes == "batch":
        says = "One flat record a line; blank lines are passed over."
        schema = {"type": "string", "description": says, "pattern": "[^ \\t\\n\\r\\x0b\\x0c]"}
        made["requestBody"] = {"required": True, "content": {batches.MEDIA_TYPE: {"schema": schema}}}
    return made


_IN_PATH = {
    "schema": "The name of the schema, such as record.",
    "problem": "The kind of problem, the last part of its `type`.",
    "question": "The question, by its id or ruling number.",
    "fact": "The fact, by its name in a record.",
    "place": "The place, by its id; its slashes may be written as they are.",
    "job": "The job, by its id.",
}


def _path_parameters(path: str, examples: _Examples) -> list[Json]:
    made: list[Json] = []
    for name in re.findall(r"{(\w+)}", path):
        schema = {"type": "string", "minLength": 1}
        one: Json = {"name": name, "in": "path", "required": True, "description": _IN_PATH[name], "schema": schema}
        example = examples.in_path()[name]
        made.append(one if example is None else one | {"example": example})
    return made


def _of_law(name: str) -> Json:
    schema: Json = schemas()["service"]["$defs"]["law"]["properties"][name]
    return schema


def _query(name: str, says: str, schema: Json, *, several: bool = False) -> Json:
    of_value = {"type": "array", "items": schema} if several else schema
    made: Json = {"name": name, "in": "query", "required": False, "description": says, "schema": of_value}
    return made | ({"style": "form", "explode": True} if several else {})


_TEXT: Json = {"type": "string", "pattern": "\\S"}
_PAIR: Json = {"type": "string", "pattern": "^[^=]*[^=\\s][^=]*=.*\\S"}

_QUERY: Mapping[str, Json] = {
    "place": _query("place", "The place whose law is asked for; without it a record gives its own.", _TEXT),
    "on": _query("on", "One day that is taken for every event.", _of_law("on")),
    "date": _query("date", "The day of one event, as EVENT=DATE.", _PAIR, several=True),
    "choice": _query("choice", "What the project chose, as ID=ALTERNATIVE.", _PAIR, several=True),
    "edition": _query("edition", "A bare edition, such as nfpa-70:2023, instead of a place.", _of_law("edition")),
    "document": _query("document", "Only this document or kind of document.", _TEXT),
    "question": _query("question", "Only this question, by id or ruling number.", _TEXT, several=True),
    "topic": _query("topic", "Also the questions of this topic, or of `all`.", _TEXT, several=True),
}


def _responses(operation: Operation) -> Json:
    problems: dict[int, list[str]] = {}
    for kind in (*operation.problems, *ALWAYS, *(["bad-query"] if not operation.query else [])):
        problems.setdefault(KINDS[kind][0], []).append(kind)
    found: Json = {str(operation.status): _given(operation)}
    if operation.id in _TAGGED:
        found["304"] = {"description": "Nothing has changed since the tag that the request names."}
    found |= {str(status): _refused(kinds) for status, kinds in sorted(problems.items())}
    return found


#: The operations whose answers carry a tag.
_TAGGED = (
    "openapi", "schema", "problem", "questions", "question", "facts", "fact", "documents", "places", "place", "tables",
)  # fmt: skip


def _event(*names: str, data: str) -> Json:
    """An event of one of these names, whose data is JSON of this component."""
    text = {
        "type": "string",
        "contentMediaType": "application/json",
        "contentSchema": {"$ref": f"{_COMPONENTS}{data}"},
    }
    return {
        "type": "object",
        "properties": {"event": {"enum": list(names)}, "data": text},
        "required": ["event", "data"],
    }


#: The events of a project that is followed, each with the component that its data is.
_FOLLOWED = {"begin": "follow_begin", "rulings": "follow_rulings", "end": "follow_end", "problem": "problem"}

_LINES = "One line to begin with (batch_begin), one for each record (batch_line), and one at the end (batch_end)."


def _given(operation: Operation) -> Json:
    if operation.gives == "nothing":
        return {"description": operation.says, "headers": _HEADERS}
    other: Mapping[str, tuple[str, str, Json]] = {
        "openapi": ("This document.", "application/json", {"type": "object", "required": ["openapi", "paths"]}),
        "json-schema": ("The schema.", "application/schema+json", {"type": "object"}),
        "text": ("In words.", "text/plain", {"type": "string"}),
        "batch": (_LINES, batches.MEDIA_TYPE, {"type": "string"}),
        "followed": (
            "An event `begin`, an event `rulings` for some at a time, and at the end `end` or `problem`.",
            "text/event-stream",
            {"anyOf": [_event(name, data=data) for name, data in _FOLLOWED.items()]},
        ),
        "events": (
            "An event `progress` whenever the job moves, and `end` at its end; the data of each is the job.",
            "text/event-stream",
            _event("progress", "end", data="job"),
        ),
    }
    says, media_type, schema = other.get(
        operation.gives, (operation.says, "application/json", {"$ref": f"{_COMPONENTS}{operation.gives}"})
    )
    return {"description": says, "headers": _HEADERS, "content": {media_type: {"schema": schema}}}


_HEADERS: Json = {
    "Yokebook-Rulebook": {"description": "The digest of the rulebook.", "schema": {"type": "string"}},
    "X-Request-Id": {"description": "The request's id in the log.", "schema": {"type": "string"}},
}


def _refused(kinds: Sequence[str]) -> Json:
    says = " Or: ".join(f"{KINDS[kind][1]}." for kind in dict.fromkeys(kinds))
    content = {MEDIA_TYPE: {"schema": {"$ref": f"{_COMPONENTS}problem"}}}
    return {"description": says, "headers": _HEADERS, "content": content}

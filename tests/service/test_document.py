"""The OpenAPI document: it is one, it says of everything what is in it, and what every operation answers fits it."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import httpx
import pytest
from jsonschema import Draft202012Validator
from openapi_spec_validator import OpenAPIV31SpecValidator
from referencing import Registry, Resource

from service.running import DAY, LAW, MARKED, PLACE, PROJECT, serving
from yokebook_adapters.service.operations import OPERATIONS

#: A room with a device of each kind of half, and a control on which people do not agree.
ROOM = {
    **PROJECT,
    "controls": [
        {
            "id": "S1", "kind": "wall-box sensor", "turns_off_by": "presence", "turns_on_by": "person",
            "acts_as_wall_switch": True, "amps": 15,
        }
    ],
    "loads": [{"id": "refrigerator", "kind": "refrigeration"}],
}  # fmt: skip
JSON = {"content-type": "application/json"}
LINES = {"content-type": "application/jsonl"}
PARAMS = {"place": PLACE, "on": DAY, "question": "R03"}

Json = dict[str, Any]


@pytest.fixture(scope="module")
def client() -> Iterator[httpx.Client]:
    with serving("--workers", "2", "--body-bytes", "100000") as server, server.client() as found:
        yield found


@pytest.fixture(scope="module")
def document(client: httpx.Client) -> Json:
    found: Json = client.get("/v1/openapi.json").json()
    return found


def test_it_is_an_openapi_document(document: Json):
    assert [error.message for error in OpenAPIV31SpecValidator(document).iter_errors()] == []
    spoilt = json.loads(json.dumps(document))
    del spoilt["paths"]["/v1/facts/{fact}"]["get"]["parameters"]
    spoilt["components"]["schemas"]["law"]["type"] = "mapping"
    assert len(list(OpenAPIV31SpecValidator(spoilt).iter_errors())) >= 2


#: Keywords that say what is in an object.
_SAYS = {"properties", "additionalProperties", "patternProperties", "$ref", "allOf", "anyOf", "then"}


def undescribed(schema: Any, where: str) -> Iterator[str]:
    """Every object of which nothing is said but that it is one, and every list of anything."""
    if isinstance(schema, dict):
        kinds = schema.get("type")
        if (kinds == "object" or (isinstance(kinds, list) and "object" in kinds)) and not _SAYS & set(schema):
            yield where
        if kinds == "array" and not {"items", "prefixItems"} & set(schema):
            yield where
        for key, inner in schema.items():
            if key not in ("example", "if", "then"):  # those only add to what is said of the whole
                yield from undescribed(inner, f"{where}/{key}")
    elif isinstance(schema, list):
        for number, inner in enumerate(schema):
            yield from undescribed(inner, f"{where}/{number}")


def test_every_object_is_described_in_full(document: Json):
    """All but this document itself and a JSON Schema, whose form is that of a standard."""
    assert list(undescribed(document, "")) == [
        "/paths//v1/openapi.json/get/responses/200/content/application/json/schema",
        "/paths//v1/schemas/{schema}/get/responses/200/content/application/schema+json/schema",
    ]


def test_every_example_of_a_request_fits_it(document: Json):
    found = [
        (content["schema"], content["example"])
        for path in document["paths"].values()
        for operation in path.values()
        for content in operation.get("requestBody", {}).get("content", {}).values()
        if "example" in content
    ]
    assert len(found) == sum(operation.takes == "json" for operation in OPERATIONS)
    for schema, example in found:
        assert faults(document, schema, example) == []


def faults(document: Json, schema: Json, data: Any) -> list[str]:
    registry: Registry[Any] = Registry().with_resource(
        "document", Resource.from_contents({"$schema": document["jsonSchemaDialect"], **document})
    )
    home = _at_home(schema)
    return [error.message for error in Draft202012Validator(home, registry=registry).iter_errors(data)]


def _at_home(schema: Any) -> Any:
    """The schema with references that lead into the document from wherever it stands."""
    if isinstance(schema, dict):
        return {k: f"document{v}" if k == "$ref" else _at_home(v) for k, v in schema.items()}
    return [_at_home(each) for each in schema] if isinstance(schema, list) else schema


# ---- what is answered ------------------------------------------------------------------------------------------------


def of_the_rulebook(client: httpx.Client) -> Iterator[tuple[str, httpx.Response]]:
    """Every operation that reads, by its name, with an answer."""
    paths = {
        "health": "health", "openapi": "openapi.json", "schema": "schemas/comparison", "problem": "problems/refused",
        "questions": "questions", "question": "questions/R03", "facts": "facts", "fact": "facts/contact.supply",
        "documents": "documents", "places": "places", "place": f"places/{PLACE}",
        "tables": f"tables/R03?place={PLACE}&on={DAY}",
    }  # fmt: skip
    for name, path in paths.items():
        yield name, client.get(f"/v1/{path}")


def of_inputs(client: httpx.Client) -> Iterator[tuple[str, httpx.Response]]:
    """Every operation on a record, a project or two laws, with an answer that has something in each of its parts."""
    file = {"name": "room.json", "text": json.dumps(ROOM)}
    read = client.post("/v1/projects/read", json={"file": file})
    project = read.json()["project"]
    record = {"law": LAW, "record": MARKED}
    was, now = {"edition": "nfpa-70:2014"}, {"edition": "nfpa-70:2023"}
    bodies: dict[str, tuple[str, Json]] = {
        "ruleRecord": ("records/rule", record),
        "explainRecord": ("records/explain", {**record, "question": "R03"}),
        "askRecord": ("records/ask", {"law": LAW, "question": "R03"}),
        "ruleProject": ("projects/rule", {"project": project}),
        "followProject": ("projects/follow", {"project": project}),
        "explainProject": ("projects/explain", {"project": project, "subject": "R1/A/upper", "question": "R03"}),
        "scheduleProject": ("projects/schedule", {"project": project}),
        "authorityProject": ("projects/authority", {"project": project}),
        "sheetProject": ("projects/sheet", {"project": project}),
        "printProject": ("projects/print", {"project": project}),
        "faceProject": ("projects/face", {"project": project, "subject": "R1/A"}),
        "compareLaws": ("compare", {"was": was, "now": now, "questions": ["R07"], "project": project}),
    }
    yield "readProject", read
    for name, (path, body) in bodies.items():
        yield name, client.post(f"/v1/{path}", json=body)


def of_batches(client: httpx.Client) -> Iterator[tuple[str, httpx.Response]]:
    """Every operation on a batch, with an answer."""
    batch = f'{json.dumps(MARKED)}\n{{"contact.supply": 5}}\n'.encode()
    yield "ruleBatch", client.post("/v1/records/batch", params=PARAMS, content=batch, headers=LINES)
    taken = client.post("/v1/jobs", params=PARAMS, content=batch, headers=LINES)
    here = taken.headers["location"]
    yield "startJob", taken
    yield "jobEvents", client.get(f"{here}/events")
    yield "job", client.get(here)
    yield "jobLines", client.get(f"{here}/lines")
    yield "cancelJob", client.post(f"{here}/cancel")
    yield "forgetJob", client.delete(here)


def misfits(document: Json, name: str, answer: httpx.Response) -> list[str]:
    """In which ways an answer is not what the document says of the operation."""
    operation = next(each for each in OPERATIONS if each.id == name)
    described = document["paths"][operation.path][operation.method.lower()]["responses"].get(str(answer.status_code))
    if described is None:
        return [f"{answer.status_code} is not documented"]
    missing = [header for header in described.get("headers", ()) if header.lower() not in answer.headers]
    content = described.get("content", {})
    media_type = answer.headers.get("content-type", "").partition(";")[0]
    if not content:
        return missing + (["it has a body"] if answer.content else [])
    schema = content[media_type]["schema"]
    if media_type == "text/event-stream":
        return missing + [fault for event in events(answer) for fault in faults_of_event(document, schema, event)]
    if media_type == "application/jsonl":
        return missing + faults_of_lines(document, answer)
    return missing + faults(document, schema, answer.json() if media_type.endswith("json") else answer.text)


def events(answer: httpx.Response) -> list[dict[str, str]]:
    blocks = [block for block in answer.text.split("\n\n") if block.startswith("event:")]
    return [dict(line.split(": ", 1) for line in block.split("\n")) for block in blocks]


def faults_of_event(document: Json, schema: Json, event: dict[str, str]) -> list[str]:
    """A schema only says in passing what the data of an event is, so it is held against that here."""
    found = faults(document, schema, event)
    of_name = [each for each in schema.get("anyOf", [schema]) if event["event"] in each["properties"]["event"]["enum"]]
    inside = of_name[0]["properties"]["data"]["contentSchema"]
    return found + faults(document, inside, json.loads(event["data"]))


def faults_of_lines(document: Json, answer: httpx.Response) -> list[str]:
    first, *middle, last = [json.loads(line) for line in answer.text.split("\n") if line]
    lines = [("batch_begin", first), *(("batch_line", line) for line in middle), ("batch_end", last)]
    return [
        fault for kind, line in lines for fault in faults(document, {"$ref": f"#/components/schemas/{kind}"}, line)
    ]


def test_what_every_operation_answers_fits_the_document(client: httpx.Client, document: Json):
    answers = [*of_the_rulebook(client), *of_inputs(client), *of_batches(client)]
    assert sorted(name for name, _ in answers) == sorted(operation.id for operation in OPERATIONS)
    assert {name: answer.text[:300] for name, answer in answers if not answer.is_success} == {}
    assert {name: found for name, answer in answers if (found := misfits(document, name, answer))} == {}
    given = dict(answers)
    assert given["scheduleProject"].json()["schedule"]["order"]["devices"]
    assert all(given["ruleProject"].json()["views"].values())
    assert given["authorityProject"].json()["questions"]
    compared = given["compareLaws"].json()
    assert compared["changes"]["changes"][0]["witness"]["record"] and compared["project"]["groups"][0]["devices"]


def test_an_answer_with_another_field_does_not_fit(client: httpx.Client, document: Json):
    """So that the test above can fail: deep inside an answer one field is added, another left out."""
    answer = client.post("/v1/projects/schedule", json={"project": ROOM}).json()
    schema = {"$ref": "#/components/schemas/marking_schedule"}
    assert faults(document, schema, answer) == []
    more, less = json.loads(json.dumps(answer)), json.loads(json.dumps(answer))
    more["schedule"]["lines"][0]["halves"][0]["colour"] = "ivory"
    del less["schedule"]["order"]["devices"][0]["count"]
    assert len(faults(document, schema, more)) == len(faults(document, schema, less)) == 1


@pytest.mark.parametrize(
    ("name", "method", "path", "named", "status"),
    [
        ("fact", "GET", "/v1/facts/contact.suply", {}, 404),
        ("tables", "GET", "/v1/tables/R03?place=nowhere", {}, 400),
        ("ruleRecord", "POST", "/v1/records/rule", {"content": "{", "headers": JSON}, 400),
        ("ruleRecord", "POST", "/v1/records/rule", {"json": {"record": {"x": 1}}}, 422),
        ("ruleRecord", "POST", "/v1/records/rule", {"content": b"{}", "headers": {"content-type": "text/plain"}}, 415),
        ("ruleProject", "POST", "/v1/projects/rule", {"json": {"project": "x" * 100_001}}, 413),
        ("startJob", "POST", "/v1/jobs?plaice=x", {"content": b"{}", "headers": LINES}, 400),
        ("health", "GET", "/v1/health", {"headers": {"host": "elsewhere.example"}}, 421),
    ],
)  # fmt: skip
def test_refusals_fit_the_document(
    client: httpx.Client, document: Json, name: str, method: str, path: str, named: Any, status: int
):
    answer = client.request(method, path, **named)
    assert answer.status_code == status, answer.text
    assert misfits(document, name, answer) == []

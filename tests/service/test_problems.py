"""Each bad input gets its whole problem: what was found, where, and what is allowed; all faults of it at once."""

from __future__ import annotations

import asyncio
import json
from collections import Counter
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import httpx
import pytest

import yokebook
from service.running import DAY, LAW, MARKED, PLACE, Inside
from yokebook_adapters.service import worker
from yokebook_adapters.service.app import make_app
from yokebook_adapters.service.limits import Limits
from yokebook_adapters.service.problems import KINDS, Problem

JSON = {"content-type": "application/json"}
RULE = "/v1/records/rule"
LIMITS = Limits(workers=1, body_bytes=20_000, batch_lines=3, line_bytes=300, depth=6)


@cache
def book() -> yokebook.Rulebook:
    return yokebook.load()


@pytest.fixture(scope="module")
def inside() -> Iterator[Inside]:
    found = Inside(yokebook.load(), LIMITS)
    yield found
    found.service.pool.close()


def problem(answer: httpx.Response) -> dict[str, Any]:
    """The problem, once its frame has been looked at."""
    assert answer.headers["content-type"] == "application/problem+json"
    data: dict[str, Any] = answer.json()
    kind = data.pop("type").removeprefix("/v1/problems/")
    status, title, _ = KINDS[kind]
    assert (data.pop("title"), data.pop("status"), answer.status_code) == (title, status, status)
    return {"kind": kind, **data}


def posted(inside: Inside, content: str | bytes, path: str = RULE, **named: Any) -> dict[str, Any]:
    data = content.encode() if isinstance(content, str) else content
    return problem(inside.request("POST", path, content=data, **{"headers": JSON, **named}))


def one(pointer: str, detail: str, column: int = 1) -> dict[str, Any]:
    return {"pointer": pointer, "line": 1, "column": column, "detail": detail}


NOT_JSON: list[tuple[str | bytes, dict[str, Any]]] = [
    ("", one("", "the body is empty")),
    ("{", one("", "this is not JSON: a key in double quotes is due here", 2)),
    (b'{"a": "\xff"}', one("", "byte 0xff is not UTF-8; send UTF-8", 8)),
    ('{"a": "\x00"}', one("", "control character U+0000 is not allowed in text", 8)),
    ('{"record": {}, "record": {}}', one("/record", "`record` stands twice here, first in line 1", 16)),
    ('{"record": {"a/b": {"c": 1, "c": 2}}}', one("/record/a~1b/c", "`c` stands twice here, first in line 1", 29)),
    (
        '{"record": {"x": NaN}}',
        one(
            "/record/x",
            "this is not JSON: `NaN` is no value; allowed: text in double quotes, a number, true, false or null",
            18,
        ),
    ),
    ('{"a":' * 7 + "1" + "}" * 7, one("/a/a/a/a/a/a", "this is nested too deep; allowed: at most 6 levels", 31)),
    ("[" * 100_0, one("", "this is nested too deep; allowed: at most 6 levels", 31)),
    ("{} x", one("", "this is not JSON: something follows the end of the value", 4)),
]


@pytest.mark.parametrize(("content", "error"), NOT_JSON, ids=[str(content)[:24] for content, _ in NOT_JSON])
def test_what_is_not_json(inside: Inside, content: str | bytes, error: dict[str, Any]):
    assert posted(inside, content) == {"kind": "not-json", "detail": "The body has 1 fault.", "errors": [error]}


def test_every_fault_of_the_text_at_once(inside: Inside):
    found = posted(inside, '{"a": Infinity, "b": {"c": 1, "c": 2}, "b": 3}')
    assert [each["pointer"] for each in found["errors"]] == ["/a", "/b/c", "/b"]


def test_every_fault_of_the_fields_at_once(inside: Inside):
    record = {
        "contact.supply": "sometimes",
        "control.off_delay_min": True,
        "receptacle.configuration": 5,
        "receptacle.built_in_control": 0,
        "contact.suply": "controlled",
        "project.place": "nowhere",
    }
    law = {"dates": {"permit aplication": DAY}}
    body = {"law": law, "questions": ["R03", "R99"], "topics": ["wirings"], "record": record}
    found = posted(inside, json.dumps(body))
    assert found["kind"] == "refused" and found["detail"] == "The body has 9 faults."
    told = {each["pointer"]: each["detail"] for each in found["errors"]}
    assert told["/questions/1"] == (
        "there is no question `R99` (did you mean `R59`?); allowed: an id or ruling number of GET /v1/questions"
    )
    assert told["/topics/0"].startswith("there is no topic `wirings` (did you mean `wiring`?); allowed: `")
    assert told["/law/dates/permit aplication"].startswith("`permit aplication` is no event (did you mean `permit app")
    assert told["/record/contact.supply"] == (
        "`contact.supply`: `sometimes` is none of the answers; allowed: `always on`, `controlled`"
    )
    assert told["/record/control.off_delay_min"].startswith("`control.off_delay_min`: `true` is a yes or no where")
    assert told["/record/receptacle.configuration"].startswith("`receptacle.configuration`: `5` ")
    assert told["/record/receptacle.built_in_control"] == (
        "`receptacle.built_in_control`: `0` is neither yes nor no; allowed: yes, no, true, false"
    )
    assert told["/record/contact.suply"] == "`contact.suply` is no fact (did you mean `contact.supply`?)"
    assert told["/record/project.place"].startswith("`project.place`: `nowhere` is no place")
    assert set(found["errors"][3]) == {"pointer", "line", "column", "detail"}


def test_what_is_around_the_record_is_held_against_its_schema(inside: Inside):
    body = '{"law": {"plac": "x", "on": 5}, "questions": [], "record": [], "more": 1}'
    told = {each["pointer"]: each["detail"] for each in posted(inside, body)["errors"]}
    assert told == {
        "/law/plac": "`plac` is not a key of `law` (did you mean `place`?); allowed: `place`, `on`, `dates`, "
        "`choices`, `edition`",
        "/law/on": "`on` reads as a number, and text is due: put `5` in quotes",
        "/questions": "`questions` has too few; allowed: at least 1",
        "/record": "a record is a mapping of keys and values; found a list",
        "/more": "`more` is not a key of the body; allowed: `law`, `questions`, `topics`, `document`, `record`",
    }
    missing = posted(inside, "{}")
    assert {"pointer": "", "line": 1, "column": 1, "detail": "`record` is missing from the body"} in missing["errors"]


LAWS: list[tuple[dict[str, Any], str, str]] = [
    ({}, "/law", "no place is given; give `place`, or `edition` for a bare edition"),
    ({"place": PLACE, "on": "2024-02-30"}, "/law/on", "`2024-02-30`"),
    ({"place": PLACE, "dates": {"permit application": "2024-02-30"}}, "/law/dates/permit application", "`2024-02-30`"),
    ({"place": "demo/tamarisk/brindle-fals"}, "/law/place", "did you mean `demo/tamarisk/brindle-falls`?"),
    ({"edition": "nfpa-70:1066"}, "/law/edition", "has no edition `1066` in this rulebook; it has 2014"),
    ({"edition": "nfpa70:2014"}, "/law/edition", "there is no document `nfpa70`"),
    ({"edition": "nfpa-70"}, "/law/edition", "allowed: document and edition as nfpa-70:2023"),
    ({"edition": "nfpa-70:2014", "on": DAY}, "/law/edition", "a bare edition has no `on`"),
    ({"place": PLACE, "choices": {"path/one": "x"}}, "/law/choices/path~1one", "path/one"),
]


@pytest.mark.parametrize(("law", "pointer", "detail"), LAWS, ids=[str(law) for law, _, _ in LAWS])
def test_a_law_that_there_is_not(inside: Inside, law: dict[str, Any], pointer: str, detail: str):
    [error] = posted(inside, json.dumps({"law": law, "record": {}}))["errors"]
    assert error["pointer"] == pointer and detail in error["detail"]


def test_a_document_that_does_not_answer(inside: Inside):
    body = {"law": LAW, "questions": ["R03"], "document": "energy", "record": MARKED}
    [error] = posted(inside, json.dumps(body))["errors"]
    assert error["detail"] == "`energy` does not answer `marking.required` here; allowed: `electrical`"
    counts = Counter(question.ruling for question in book().in_force(PLACE, on=DAY).questions())
    number = next(ruling for ruling, count in counts.items() if count > 1)
    [error] = posted(inside, json.dumps({"law": LAW, "question": number, "record": {}}), "/v1/records/ask")["errors"]
    assert error["pointer"] == "/question" and error["detail"].endswith("with the question's id and with `document`")


def test_another_type_of_body(inside: Inside):
    found = posted(inside, "{}", headers={"content-type": "text/plain"})
    fault = {"header": "content-type", "detail": "found `text/plain`; allowed: application/json, in UTF-8"}
    assert found == {
        "kind": "wrong-type", "detail": "The body has to be application/json.", "errors": [fault],
    }  # fmt: skip
    for given in ("application/json; charset=utf-16", ""):
        assert posted(inside, "{}", headers={"content-type": given})["kind"] == "wrong-type"
    assert posted(inside, "{}", "/v1/records/batch")["detail"] == (
        "The body has to be application/jsonl or application/x-ndjson."
    )


def test_paths_and_methods_that_there_are_not(inside: Inside):
    nothing = "There is nothing at this path; /v1/openapi.json lists every path."
    assert problem(inside.request("GET", "/v2/health")) == {"kind": "not-found", "detail": nothing}
    answer = inside.request("DELETE", RULE)
    assert problem(answer) == {"kind": "wrong-method", "detail": "Allowed here: POST."}
    assert answer.headers["allow"] == "POST"
    assert inside.request("PUT", "/v1/jobs/x").headers["allow"] == "GET, HEAD, DELETE"


@pytest.mark.parametrize(
    ("path", "parameter", "detail"),
    [
        ("/v1/facts/contact.suply", "fact", "there is no fact `contact.suply` (did you mean `contact.supply`?)"),
        ("/v1/places/demo/tamarsk", "place", "there is no place `demo/tamarsk` (did you mean `demo/tamarisk`?)"),
        ("/v1/questions/R99", "question", "see GET /v1/questions for the ids"),
        ("/v1/schemas/rulings", "schema", "there is no schema `rulings` (did you mean `ruling`?)"),
        ("/v1/jobs/17", "job", "no such job is kept; POST its batch to /v1/jobs again"),
    ],
)
def test_ids_that_there_are_not(inside: Inside, path: str, parameter: str, detail: str):
    found = problem(inside.request("GET", path))
    assert found["kind"] == "not-found" and found["errors"] == [{"parameter": parameter, "detail": detail}]


def test_every_fault_of_a_query_at_once(inside: Inside):
    query = "place=&on=2024-02-30&on=2024-03-01&date=permit&choice=a=b&choice=a=c&plaice=x"
    found = problem(inside.request("GET", f"/v1/tables/R03?{query}"))
    assert found["kind"] == "bad-query"
    assert [(each["parameter"], each["detail"]) for each in found["errors"]] == [
        (
            "plaice",
            "`plaice` is no parameter here (did you mean `place`?); allowed: `place`, `on`, `date`, `choice`, "
            "`edition`, `document`",
        ),
        ("place", "`place` is empty; give a value or leave it out"),
        ("on", "`on` is given 2 times; allowed: once"),
        ("date", "`permit` has no `=` between two parts"),
        ("choice", "`a` is given twice"),
    ]
    assert problem(inside.request("GET", "/v1/facts?x=1"))["errors"][0]["parameter"] == "x"
    law = problem(inside.request("GET", "/v1/tables/R03?place=nowhere&date=permit=2024-01-01"))["errors"]
    assert {each["parameter"] for each in law} == {"date"}
    assert problem(inside.request("GET", "/v1/tables/R03"))["errors"][0]["parameter"] == "place"


def test_a_body_where_none_is_taken(inside: Inside):
    found = problem(inside.request("GET", "/v1/facts", content=b"x"))
    assert found == {"kind": "too-large", "detail": "The body has 1 bytes; allowed: no body."}


def test_bodies_and_lines_that_are_too_large(inside: Inside):
    found = posted(inside, b" " * 20_001)
    assert found == {"kind": "too-large", "detail": "The body has 20,001 bytes; allowed: at most 20,000 bytes."}
    lines = {"headers": {"content-type": "application/jsonl"}, "params": {"place": PLACE, "on": DAY}}
    assert posted(inside, "{}\n\n{}\n{}\n{}\n", "/v1/records/batch", **lines) == {
        "kind": "too-large",
        "detail": "The batch has too many lines.",
        "errors": [{"line": 5, "detail": "the batch goes on here; allowed: at most 3 lines"}],
    }
    assert posted(inside, "{}\n" + " " * 301, "/v1/jobs", **lines) == {
        "kind": "too-large",
        "detail": "A line is too long.",
        "errors": [{"line": 2, "detail": "this line is too long; allowed: at most 300 bytes"}],
    }
    empty = posted(inside, "\n \n", "/v1/jobs", **lines)
    assert empty["errors"] == [{"pointer": "", "detail": "give one record a line"}]
    unknown = {**lines, "params": {"question": "R99", "topic": "x", "date": "x=2024-01-01"}}
    found = posted(inside, "{}", "/v1/jobs", **unknown)
    assert [each["parameter"] for each in found["errors"]] == ["question", "topic", "date"]
    for wrong in ({"on": "null"}, {"date": "permit application=2024-02-30"}, {"choice": "x=y"}):
        found = posted(inside, "{}", "/v1/jobs", headers=lines["headers"], params=wrong)
        assert [each["parameter"] for each in found["errors"]] == [*wrong]


def test_what_is_just_within_each_limit_is_taken(inside: Inside):
    body = json.dumps({"law": LAW, "questions": ["R03"], "record": MARKED}).encode().ljust(20_000)
    assert inside.request("POST", RULE, content=body, headers=JSON).status_code == 200
    params = {"place": PLACE, "on": DAY, "question": "R03"}
    lines = b"\n".join([json.dumps({"contact.supply": "controlled"}).encode().ljust(300)] * 3)
    named = {"params": params, "headers": {"content-type": "application/jsonl"}}
    for content in (lines, lines + b"\n"):
        answer = inside.request("POST", "/v1/records/batch", content=content, **named)
        assert json.loads(answer.text.split("\n")[-2])["end"]["ruled"] == 3
    six_levels = '{"record": {"a": {"b": {"c": {"d": {}}}}}}'
    assert posted(inside, six_levels)["kind"] == "refused"


def test_names_that_the_service_does_not_go_by(inside: Inside):
    """A page of another site that has its own name lead to this machine gets nothing."""
    for host in ("rebound.example", "127.0.0.1.example", "localhost@x", ""):
        answer = inside.request("GET", "/v1/health", headers={"host": host})
        assert problem(answer)["kind"] == "wrong-host"
    for host in ("localhost:8425", "127.0.0.1", "[::1]:1", "LOCALHOST"):
        assert inside.request("GET", "/v1/health", headers={"host": host}).status_code == 200


def test_one_other_origin_may_be_let_in(inside: Inside):
    app = make_app(inside.service, origin="https://tool.example")

    async def ask(origin: str) -> httpx.Response:
        transport = httpx.ASGITransport(app)
        async with httpx.AsyncClient(transport=transport, base_url="http://127.0.0.1:1") as client:
            headers = {"origin": origin, "access-control-request-method": "POST"}
            return await client.options(RULE, headers=headers)

    allowed = asyncio.run(ask("https://tool.example"))
    assert allowed.headers["access-control-allow-origin"] == "https://tool.example"
    assert "access-control-allow-origin" not in asyncio.run(ask("https://other.example")).headers


def test_static_files_are_served_where_there_is_a_page(inside: Inside, tmp_path: Path):
    (tmp_path / "index.html").write_text("<title>x</title>", encoding="utf-8")
    app = make_app(inside.service, page=tmp_path)

    async def get(path: str) -> httpx.Response:
        transport = httpx.ASGITransport(app)
        async with httpx.AsyncClient(transport=transport, base_url="http://127.0.0.1:1") as client:
            return await client.get(path)

    page = asyncio.run(get("/"))
    assert page.text == "<title>x</title>" and "default-src 'none'" in page.headers["content-security-policy"]
    assert problem(asyncio.run(get("/other.js")))["kind"] == "not-found"
    assert problem(asyncio.run(get("/../pyproject.toml")))["kind"] == "not-found"


def test_a_ruling_that_takes_too_long_is_stopped_and_the_next_is_right(inside: Inside):
    body = json.dumps({"law": LAW, "questions": ["R03"], "record": {}}).encode()
    slow = json.dumps({"law": LAW, "topics": ["all"], "record": {"contact.supply": "controlled"}}).encode()
    run = inside.service.pool.run

    async def both() -> tuple[Problem, bytes]:
        with pytest.raises(Problem) as stopped:
            await run("small", 0.02, worker.answer, "ruleRecord", slow, 0.02)
        return stopped.value, await run("small", 60, worker.answer, "ruleRecord", body, 60)

    stopped, answer = asyncio.run(both())
    assert stopped.data() == {
        "type": "/v1/problems/too-long",
        "title": "The ruling was stopped",
        "status": 422,
        "detail": "This took longer than the 0.02 seconds that the service allows, and was stopped.",
    }
    expected = book().in_force(PLACE, on=DAY).rule("marking.required", {}).to_dict()
    assert json.dumps(json.loads(answer)["rulings"][0]) == json.dumps(expected)


def test_a_process_that_dies_is_replaced_and_the_request_is_answered(inside: Inside):
    processes = inside.service.pool._executor._processes
    assert processes
    for process in list(processes.values()):
        process.kill()
    answer = inside.request("POST", RULE, json={"law": LAW, "questions": ["R03"], "record": MARKED})
    assert answer.json()["rulings"][0]["word"] == "required"


def test_a_fault_of_the_service_itself_shows_nothing_of_it(inside: Inside, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(inside.service, "health", lambda: {"secret": object()})
    assert problem(inside.request("GET", "/v1/health")) == {
        "kind": "failed", "detail": "The service failed; see its log for this request's id.",
    }  # fmt: skip

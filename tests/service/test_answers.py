"""What the service answers is what the Python interface gives, byte for byte; every answer fits its schema."""

from __future__ import annotations

import json
from collections.abc import Iterator
from functools import cache
from typing import Any

import httpx
import pytest
from jsonschema import Draft202012Validator
from referencing import Registry, Resource

import yokebook
from service.running import DAY, LAW, MARKED, PLACE, PROJECT, UNMARKED, Server, serving, soon
from yokebook import front_door
from yokebook.load.schema_check import schemas
from yokebook.sheet import Sheet
from yokebook_adapters.authority import questions_for_authority
from yokebook_adapters.building import make_report
from yokebook_adapters.interview import Interview
from yokebook_adapters.marking_schedule import kinds_to_keep_off, marking_schedule
from yokebook_adapters.service.book_data import book_digest
from yokebook_adapters.service.openapi import components
from yokebook_adapters.table_text import as_data

JSON = {"content-type": "application/json"}
LINES = {"content-type": "application/jsonl"}

@pytest.fixture(scope="module")
def server() -> Iterator[Server]:
    with serving("--workers", "2") as found:
        yield found


@pytest.fixture(scope="module")
def client(server: Server) -> Iterator[httpx.Client]:
    with server.client() as found:
        yield found


@cache
def book() -> yokebook.Rulebook:
    return yokebook.load()


@cache
def code() -> yokebook.Code:
    return book().in_force(PLACE, on=DAY)


def text(data: object) -> str:
    return json.dumps(data, ensure_ascii=False)


@cache
def validator(name: str) -> Draft202012Validator:
    resources = [(f"{key}.schema.json", Resource.from_contents(each)) for key, each in schemas().items()]
    registry: Registry[Any] = Registry().with_resources(resources)
    return Draft202012Validator({"$ref": f"service.schema.json#/$defs/{name}"}, registry=registry)


def fitting(name: str, answer: httpx.Response, status: int = 200) -> dict[str, Any]:
    """The answer as data, once it has fitted the schema that the OpenAPI document names for it."""
    assert answer.status_code == status, answer.text
    data: dict[str, Any] = answer.json()
    assert [error.message for error in validator(name).iter_errors(data)] == []
    assert answer.headers["yokebook-rulebook"] == data["rulebook"]["digest"] == book_digest(book().book)
    return data


def post(client: httpx.Client, path: str, gives: str, **body: Any) -> dict[str, Any]:
    return fitting(gives, client.post(path, json=body))


# ---- records ---------------------------------------------------------------------------------------------------------


def test_a_record_is_ruled_as_in_python_byte_for_byte(client: httpx.Client):
    for record in (MARKED, UNMARKED, {"contact.supply": "always on"}):
        answer = post(client, "/v1/records/rule", "rulings", law=LAW, questions=["R03"], record=record)
        assert [text(each) for each in answer["rulings"]] == [text(code().rule("marking.required", record).to_dict())]
    assert answer["law"]["place"] == PLACE and answer["law"]["on"] == DAY
    kinds = {line["kind"]: [each["entry"] for each in line["entries"]] for line in answer["law"]["in_force"]}
    assert kinds == {kind: [each.id for each in line.candidates] for kind, line in code().in_force.items()}


def test_without_questions_all_in_force_are_asked(client: httpx.Client):
    answer = post(client, "/v1/records/rule", "rulings", law=LAW, record=MARKED)
    expected = code().rule_project(code().graph(MARKED)).rulings
    assert len(expected) > 20
    assert [text(each) for each in answer["rulings"]] == [text(each.to_dict()) for each in expected]
    topical = post(client, "/v1/records/rule", "rulings", law=LAW, topics=["wiring"], record=MARKED)
    assert {each["question"] for each in topical["rulings"]} > {each["question"] for each in answer["rulings"]}
    energy = post(client, "/v1/records/rule", "rulings", law=LAW, document="energy", record=MARKED)
    assert {each["document"]["kind"] for each in energy["rulings"]} == {"energy"}


def test_a_question_named_twice_is_answered_once(client: httpx.Client):
    answer = post(client, "/v1/records/rule", "rulings", law=LAW, questions=["R03", "marking.required"], record=MARKED)
    assert [ruling["question"] for ruling in answer["rulings"]] == ["marking.required"]
    params = (*LAW.items(), ("question", "R03"), ("question", "r03"))
    lines = client.post("/v1/records/batch", params=params, content=text(MARKED).encode(), headers=LINES).text
    assert len(json.loads(lines.split("\n")[1])["rulings"]) == 1


def test_the_same_request_gives_the_same_bytes(client: httpx.Client):
    body = text({"law": LAW, "record": MARKED})
    first, second = (client.post("/v1/records/rule", content=body, headers=JSON) for _ in range(2))
    assert first.content == second.content


def test_a_record_brings_its_own_law(client: httpx.Client):
    record = {**MARKED, "project.place": PLACE, "project.date.permit application": DAY}
    answer = post(client, "/v1/records/rule", "rulings", questions=["marking.required"], record=record)
    assert answer["law"]["dates"] == {"permit application": DAY}
    assert answer["rulings"][0]["word"] == "required"
    edition = {"edition": "nfpa-70:2014"}
    other = post(client, "/v1/records/rule", "rulings", law=edition, questions=["R03"], record=record)
    assert other["law"]["edition"] == "nfpa-70:2014" and other["rulings"][0]["document"]["edition"] == "2014"


def test_an_explanation_is_that_of_python(client: httpx.Client):
    answer = post(client, "/v1/records/explain", "rulings", law=LAW, question="R03", record=MARKED)
    assert [text(each) for each in answer["rulings"]] == [text(code().explain("marking.required", MARKED).to_dict())]
    assert answer["rulings"][0]["tried"]


def test_an_interview_asks_what_can_still_matter_until_nothing_does(client: httpx.Client):
    """Each answer is the first choice offered, or yes; the interview in Python, answered alike, ends with the same."""

    def rule(record: Any, dates: Any, choices: Any) -> Any:
        return code().rule("marking.required", record).to_dict()

    inside = Interview(rule)
    record: dict[str, Any] = {}
    for _ in range(12):
        answer = post(client, "/v1/records/ask", "next_questions", law=LAW, question="R03", record=record)
        assert text(answer["ruling"]) == text(code().rule("marking.required", record).to_dict())
        if answer["settled"]:
            break
        first = answer["ask"][0]
        ask = first["ask"]
        if first["gives"] is not None:
            assert first["gives"]["yes"] or first["gives"]["no"]
            record |= first["gives"]["yes"] or first["gives"]["no"]
        else:
            record[ask["fact"]] = next(iter(ask["values"])) if ask["values"] else True
    else:
        raise AssertionError("it never came to an end")
    assert answer["ask"] == [] and len(answer["ruling"]["possible"]) == 1 and record
    inside.record = record
    assert inside.rule(record, {}, {})["word"] == answer["ruling"]["word"]


def test_an_open_date_is_asked_for(client: httpx.Client):
    answer = post(client, "/v1/records/ask", "next_questions", law={"place": PLACE}, question="R03")
    assert answer["ask"][0]["ask"]["fact"] == "dates.permit application"
    assert answer["ask"][0]["gives"] is None


# ---- projects --------------------------------------------------------------------------------------------------------


def test_a_project_is_ruled_as_in_python(client: httpx.Client):
    answer = post(client, "/v1/projects/rule", "project_rulings", project=PROJECT)
    sheet = _sheet()
    for ruling in answer["rulings"]:
        assert ruling.pop("at")["file"] == "body.json" if ruling["at"] else ruling.pop("at") is None
        assert ruling.pop("room") in ("R1", "")
    assert [text(each) for each in answer["rulings"]] == [text(each.to_dict()) for each in sheet.rulings]
    report = make_report("", [sheet], book())
    assert answer["counts"] == report.counts()
    assert text(answer["views"]) == text(report.views())


def test_where_a_project_has_a_fault_the_pointer_says(client: httpx.Client):
    spaces = [{**PROJECT["spaces"][0], "yokes": [{"id": "A", "configuration": "5-16R"}]}]  # type: ignore[index]
    answer = client.post("/v1/projects/rule", json={"project": {**PROJECT, "spaces": spaces}})
    assert answer.status_code == 422
    assert [each["pointer"] for each in answer.json()["errors"]] == [
        "/project/spaces/0/yokes/0/configuration"
    ]


def test_what_is_stated_and_what_comes_out_differ_with_a_pointer(client: httpx.Client):
    record = {"receptacle.configuration": "5-20R", "receptacle.volts": 250}
    answer = client.post("/v1/records/rule", json={"law": LAW, "record": record})
    assert answer.status_code == 422
    [error] = answer.json()["errors"]
    assert error["pointer"] == "/record/receptacle.volts" and "comes out as" in error["detail"]


def test_one_thing_of_a_project_is_explained(client: httpx.Client):
    answer = post(
        client, "/v1/projects/explain", "project_explained", subject="R1/A/upper", question="R03", project=PROJECT
    )
    [ruling] = answer["rulings"]
    assert ruling["tried"] and ruling["room"] == "R1"
    graph = front_door.project_to_graph(PROJECT, book().book)
    expected = _law_of_project().explain("marking.required", graph, None, "R1/A/upper").to_dict()
    assert text({key: value for key, value in ruling.items() if key not in ("room", "at")}) == text(expected)


def test_marking_schedule_and_questions_for_the_authority_are_those_of_the_commands(client: httpx.Client):
    sheet = _sheet()
    report = make_report("", [sheet], book())
    graphs = [sheet.session.graph]
    schedule = post(client, "/v1/projects/schedule", "marking_schedule", project=PROJECT)["schedule"]
    keep_off = kinds_to_keep_off(sheet.session.in_force, book().book)
    expected = marking_schedule(report.rulings, graphs, book().book, keep_off)
    assert len(schedule["lines"]) == 2 and text(schedule) == text(expected)
    questions = post(client, "/v1/projects/authority", "authority_questions", project=PROJECT)["questions"]
    of_python = questions_for_authority(report.rulings, graphs, book().book.readings, book().book.questions)
    assert text(questions) == text(of_python)


@cache
def _law_of_project() -> yokebook.Code:
    return book().in_force(PLACE, {"permit application": DAY})


@cache
def _sheet() -> Sheet:
    return _law_of_project().rule_project(PROJECT)


def test_two_laws_are_compared(client: httpx.Client):
    was, now = {"edition": "nfpa-70:2014"}, {"edition": "nfpa-70:2017"}
    answer = post(
        client, "/v1/compare", "changes", was=was, now=now, questions=["marking.form"], project=PROJECT
    )
    expected = yokebook.compare(book().edition("nfpa-70", "2014"), book().edition("nfpa-70", "2017"), ["marking.form"])
    assert text(answer["changes"]) == text(json.loads(json.dumps(expected.to_dict())))
    assert answer["changes"]["changes"] and answer["project"]["groups"] is not None


# ---- what the rulebook holds ----------------------------------------------------------------------------------------


def test_tables_are_the_resolved_ones(client: httpx.Client):
    answer = fitting("tables", client.get("/v1/tables/R03", params={"place": PLACE, "on": DAY}))
    _, law = code().table("marking.required")
    assert [text(each) for each in answer["tables"]] == [text(as_data(law.resolved, "marking.required", book().book))]
    rules = {rule["rule"]: rule for rule in answer["tables"][0]["rules"]}
    assert list(rules) == [rule.id for rule in law.resolved.tables["marking.required"].rules]


def test_lists_hold_everything(client: httpx.Client):
    model = book().book
    assert {q["id"] for q in fitting("questions", client.get("/v1/questions"))["questions"]} == set(model.questions)
    facts = {fact["id"] for fact in fitting("facts", client.get("/v1/facts"))["facts"]}
    assert facts == set(model.facts) | set(model.calculations)
    assert {p["id"] for p in fitting("places", client.get("/v1/places"))["places"]} == set(model.places)
    documents = fitting("documents", client.get("/v1/documents"))["documents"]
    assert {d["id"]: tuple(d["editions"]) for d in documents} == {d.id: d.editions for d in model.documents.values()}
    assert fitting("one_question", client.get("/v1/questions/R03"))["question"]["id"] == "marking.required"
    assert fitting("one_fact", client.get("/v1/facts/contact.supply"))["fact"]["values"]


def test_every_place_shows_its_line_of_time(client: httpx.Client):
    for place in book().book.places.values():
        answer = client.get(f"/v1/places/{place.id}")
        data = (fitting("one_place", answer) if place.demo else answer.json())["place"]
        assert {kind: [entry["id"] for entry in line] for kind, line in data["lines"].items()} == {
            kind: [entry.id for entry in line] for kind, line in place.lines.items()
        }
        ops = [op["target"] for layer in data["layers"] for amendment in layer["amendments"] for op in amendment["ops"]]
        assert ops == [op.target for layer in place.layers.values() for a in layer.amendments for op in a.ops]


def test_what_has_not_changed_is_not_sent_again(client: httpx.Client):
    for path in ("/v1/questions", f"/v1/places/{PLACE}", f"/v1/tables/R03?place={PLACE}&on={DAY}", "/v1/openapi.json"):
        first = client.get(path)
        again = client.get(path, headers={"if-none-match": first.headers["etag"]})
        assert (again.status_code, again.content) == (304, b"")
        assert client.get(path, headers={"if-none-match": '"other"'}).content == first.content


def test_the_document_holds_the_published_schemas_themselves(client: httpx.Client):
    document = client.get("/v1/openapi.json").json()
    assert document["openapi"] == "3.1.0"
    assert document["components"]["schemas"] == components()
    for name in ("record", "project", "ruling"):
        here = json.dumps(document["components"]["schemas"][name])
        back = json.loads(here.replace(f"#/components/schemas/{name}", "#"))
        published = client.get(f"/v1/schemas/{name}").json()
        assert back == {key: value for key, value in published.items() if key != "$schema"}
        assert published == schemas()[name]


def test_every_kind_of_problem_is_described(client: httpx.Client):
    problem = client.get("/v1/facts/contact.suply").json()
    assert "did you mean `contact.supply`?" in problem["errors"][0]["detail"]
    told = client.get(problem["type"])
    assert told.status_code == 200 and told.headers["content-type"].startswith("text/plain")
    assert told.text.startswith(problem["title"])


# ---- batches ---------------------------------------------------------------------------------------------------------


def test_a_batch_is_answered_line_by_line_as_python_rules(client: httpx.Client):
    records = [MARKED, UNMARKED] * 25
    content = "\n".join(["", *(text(record) for record in records), "", '{"contact.supply": 1}', ""])
    params = {"question": "R03", "place": PLACE, "on": DAY}
    answer = client.post("/v1/records/batch", params=params, content=content.encode(), headers=LINES)
    assert answer.headers["content-type"] == "application/jsonl"
    first, *lines, last = [json.loads(line) for line in answer.text.splitlines()]
    for name, each in (("batch_begin", first), ("batch_end", last), *(("batch_line", line) for line in lines)):
        assert [error.message for error in validator(name).iter_errors(each)] == []
    assert first["begin"]["lines"] == 51 and first["begin"]["rulebook"]["digest"] == book_digest(book().book)
    expected = {id(r): text(code().rule("marking.required", r).to_dict()) for r in (MARKED, UNMARKED)}
    assert [text(line["rulings"][0]) for line in lines[:50]] == [expected[id(record)] for record in records]
    assert [line["line"] for line in lines] == [*range(2, 52), 53]
    assert lines[50]["problem"]["errors"][0]["pointer"] == "/contact.supply"
    assert last["end"] == {"state": "done", "lines": 51, "ruled": 50, "refused": 1, "not_ruled": None, "why": ""}


def test_a_job_tells_how_far_it_is_and_gives_the_same_lines(client: httpx.Client):
    content = "\n".join(text(record) for record in [MARKED, UNMARKED] * 30).encode()
    params = {"question": "R03", "place": PLACE, "on": DAY}
    taken = client.post("/v1/jobs", params=params, content=content, headers=LINES)
    job = fitting("job", taken, 202)
    assert taken.headers["location"] == f"/v1/jobs/{job['job']}"
    again = client.post("/v1/jobs", params=params, content=content, headers=LINES)
    assert fitting("job", again, 202)["job"] == job["job"]
    events = _events(client, f"/v1/jobs/{job['job']}/events")
    assert [name for name, _ in events] == ["progress"] * (len(events) - 1) + ["end"]
    counts = [data["ruled"] for _, data in events]
    assert counts == sorted(counts) and counts[-1] == 60
    assert events[-1][1]["state"] == "done" and events[-1][1]["not_ruled"] is None
    lines = client.get(f"/v1/jobs/{job['job']}/lines").content
    assert lines == client.post("/v1/records/batch", params=params, content=content, headers=LINES).content


def test_a_job_is_cancelled_and_says_what_was_not_ruled(client: httpx.Client):
    content = "\n".join([text(MARKED)] * 3000).encode()
    params = {"place": PLACE, "on": DAY}
    job = fitting("job", client.post("/v1/jobs", params=params, content=content, headers=LINES), 202)["job"]
    fitting("job", client.post(f"/v1/jobs/{job}/cancel"))
    name, data = _events(client, f"/v1/jobs/{job}/events")[-1]
    assert (name, data["state"], data["why"]) == ("end", "cancelled", "it was cancelled")
    assert data["ruled"] < 3000
    assert data["not_ruled"] == {"from": data["ruled"] + 1, "to": 3000, "lines": 3000 - data["ruled"]}
    *lines, last = [json.loads(line) for line in client.get(f"/v1/jobs/{job}/lines").text.splitlines()]
    assert last["end"]["not_ruled"] == data["not_ruled"]
    assert [line["line"] for line in lines[1:]] == list(range(1, data["ruled"] + 1))
    assert client.delete(f"/v1/jobs/{job}").status_code == 204
    assert client.get(f"/v1/jobs/{job}/lines").status_code == 404


def _events(client: httpx.Client, path: str) -> list[tuple[str, dict[str, Any]]]:
    with client.stream("GET", path) as answer:
        assert answer.headers["content-type"].startswith("text/event-stream")
        blocks = [block for block in "".join(answer.iter_text()).split("\n\n") if block.startswith("event:")]
    found = []
    for block in blocks:
        name, data = block.splitlines()
        found.append((name.removeprefix("event: "), json.loads(data.removeprefix("data: "))))
    return found


# ---- a browser, and the log ------------------------------------------------------------------------------------------


def test_a_browser_is_kept_to_the_services_own_files(client: httpx.Client):
    headers = client.get("/v1/health").headers
    assert "default-src 'none'" in headers["content-security-policy"]
    assert headers["x-content-type-options"] == "nosniff"
    assert "access-control-allow-origin" not in client.get("/v1/health", headers={"origin": "http://x.example"}).headers


def test_a_browser_asks_for_each_file_of_the_page_anew(client: httpx.Client):
    """So that after an upgrade no old part of it runs with new ones."""
    for path in ("/", "/page.css", "/js/main.js", "/openings.json"):
        first = client.get(path)
        assert (first.status_code, first.headers["cache-control"]) == (200, "no-cache")
        again = client.get(path, headers={"if-none-match": first.headers["etag"]})
        assert (again.status_code, again.headers["cache-control"], again.content) == (304, "no-cache", b"")


def test_the_log_names_requests_and_nothing_that_they_hold(server: Server, client: httpx.Client):
    headers = {"x-request-id": "ours-17"}
    body = {"law": LAW, "record": {"stated_by": "Seldom Known"}}
    answer = client.post("/v1/records/rule", json=body, headers=headers)
    assert answer.headers["x-request-id"] == "ours-17"
    client.get("/v1/facts/no%0Asuch", params={"place": "secret-place"})
    client.get("/v1/health")
    soon(lambda: any("ours-17 POST /v1/records/rule 200" in line for line in server.log))
    soon(lambda: any("GET /v1/facts/no%0Asuch 400" in line for line in server.log))
    assert "Seldom Known" not in server.text and "secret-place" not in server.text

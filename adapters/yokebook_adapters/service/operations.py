"""Every operation of the service, once: its path, what it takes and gives, what can go wrong. The routes and the
OpenAPI document are both made from this list."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from yokebook_adapters.service.queries import OF_BATCHES, OF_TABLES

Method = Literal["GET", "POST", "DELETE"]

#: What an operation takes: nothing, a request of the published schema `service` as JSON, or a batch as JSON Lines.
Takes = Literal["nothing", "json", "batch"]


@dataclass(frozen=True)
class Operation:
    """One operation. `gives` names what it answers with in the published schema `service`, or says another form;
    `problems` are those of its own, beside what any request can meet."""

    id: str
    method: Method
    path: str
    says: str
    gives: str
    takes: Takes = "nothing"
    request: str = ""
    query: Sequence[str] = ()
    problems: Sequence[str] = ()
    status: int = 200


_BODY = ("not-json", "wrong-type", "refused", "too-long", "failed")
_FOUND = ("not-found",)


def _posts(id_: str, path: str, says: str, request: str, gives: str) -> Operation:
    return Operation(id_, "POST", path, says, gives, "json", request, problems=_BODY)


OPERATIONS: Sequence[Operation] = (
    Operation("health", "GET", "/v1/health", "Whether the service is there, and by which rulebook it rules.", "health"),
    Operation("openapi", "GET", "/v1/openapi.json", "This document.", "openapi"),
    Operation(
        "schema", "GET", "/v1/schemas/{schema}", "A published JSON Schema, such as record or ruling.", "json-schema",
        problems=_FOUND,
    ),
    Operation(
        "problem", "GET", "/v1/problems/{problem}", "What a kind of problem is, and what to do about it.", "text",
        problems=_FOUND,
    ),
    Operation("questions", "GET", "/v1/questions", "Every question that can be asked.", "questions"),
    Operation(
        "question", "GET", "/v1/questions/{question}", "One question, by its id or ruling number.", "one_question",
        problems=_FOUND,
    ),
    Operation("facts", "GET", "/v1/facts", "Every fact that a record can carry.", "facts"),
    Operation("fact", "GET", "/v1/facts/{fact}", "One fact.", "one_fact", problems=_FOUND),
    Operation("documents", "GET", "/v1/documents", "The documents and their editions.", "documents"),
    Operation("places", "GET", "/v1/places", "The places.", "places"),
    Operation(
        "place", "GET", "/v1/places/{place}", "One place with its lines of time and its amendments.", "one_place",
        problems=_FOUND,
    ),
    Operation(
        "tables", "GET", "/v1/tables/{question}", "The resolved tables that answer a question under a law.", "tables",
        query=OF_TABLES, problems=(*_FOUND, "bad-query", "too-long", "failed"),
    ),
    _posts("ruleRecord", "/v1/records/rule", "Rules on one flat record.", "rule_record", "rulings"),
    _posts("explainRecord", "/v1/records/explain", "Explains one ruling on a record.", "explain_record", "rulings"),
    _posts(
        "askRecord", "/v1/records/ask", "The next step of an interview: what can still matter, and what can come out.",
        "ask_record", "next_questions",
    ),
    Operation(
        "ruleBatch", "POST", "/v1/records/batch", "Rules on flat records, one a line; answers line by line as it goes.",
        "batch", "batch", query=OF_BATCHES, problems=("bad-query", "wrong-type", "refused", "too-long", "failed"),
    ),
    _posts("ruleProject", "/v1/projects/rule", "Rules on a whole project.", "rule_project", "project_rulings"),
    _posts(
        "explainProject", "/v1/projects/explain", "Explains one ruling on one thing of a project.", "explain_project",
        "project_explained",
    ),
    _posts(
        "scheduleProject", "/v1/projects/schedule", "The marking schedule of a project.", "project_output",
        "marking_schedule",
    ),
    _posts(
        "authorityProject", "/v1/projects/authority", "What to ask the authority about a project.", "project_output",
        "authority_questions",
    ),
    _posts(
        "readProject", "/v1/projects/read", "A file or a flat record as the data of a project.", "read_project",
        "project_read",
    ),
    Operation(
        "followProject", "POST", "/v1/projects/follow", "Rules on a whole project, ruling by ruling as it goes; a "
        "client that closes the connection ends it.", "followed", "json", "rule_project", problems=_BODY,
    ),
    _posts(
        "sheetProject", "/v1/projects/sheet", "The sheet of a project to file, which can be ruled again.",
        "project_output", "filed_sheet",
    ),
    _posts(
        "printProject", "/v1/projects/print", "The ruling sheet of a project as a page to print.", "print_project",
        "printed_sheet",
    ),
    _posts(
        "faceProject", "/v1/projects/face", "The face of one device with its marks, as a drawing.", "face_project",
        "device_face",
    ),
    _posts("compareLaws", "/v1/compare", "What changes from one law to another.", "compare", "changes"),
    Operation(
        "startJob", "POST", "/v1/jobs", "Takes a batch as a job; the same batch sent twice is one job.", "job",
        "batch", query=OF_BATCHES, problems=("bad-query", "wrong-type", "refused", "too-long", "failed"), status=202,
    ),
    Operation("job", "GET", "/v1/jobs/{job}", "How far a job is.", "job", problems=_FOUND),
    Operation("forgetJob", "DELETE", "/v1/jobs/{job}", "Cancels a job and lets its answers go.", "nothing",
              problems=_FOUND, status=204),
    Operation("cancelJob", "POST", "/v1/jobs/{job}/cancel", "Cancels a job; its answers so far are kept.", "job",
              problems=_FOUND),
    Operation("jobEvents", "GET", "/v1/jobs/{job}/events", "How far a job is, as server-sent events.", "events",
              problems=_FOUND),
    Operation("jobLines", "GET", "/v1/jobs/{job}/lines", "The answers of a job, line by line, those to come included.",
              "batch", problems=_FOUND),
)  # fmt: skip

#: What any request can meet.
ALWAYS = ("wrong-host", "too-large", "too-slow", "too-busy", "stopping")

"""Reports as SARIF 2.1.0 (OASIS), the standard interchange format for findings.

A ruling becomes a result whose kind says what it is: `fail` only where something is against and was checked,
`pass`, `open` where facts are missing, `review` where people read the clause differently or nobody read this edition,
`notApplicable`, or `informational` for questions that cannot come out against.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any
from urllib.parse import quote

from yokebook_adapters.as_json import json_text
from yokebook_adapters.finding_text import details, headline
from yokebook_adapters.outcome import Heap, RulingData, heap
from yokebook_adapters.report import Report, exit_status_of
from yokebook_adapters.version import version

SCHEMA_ADDRESS = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"

_KIND: dict[Heap, str] = {
    "against": "fail",
    "fault of the rulebook": "open",
    "impossible": "open",
    "readings differ": "review",
    "cannot tell": "open",
    "not checked": "review",
    "not entered": "open",
    "does not arise": "notApplicable",
}


def as_sarif(reports: Sequence[Report]) -> str:
    """All projects as one SARIF log with one run a project."""
    log = {"$schema": SCHEMA_ADDRESS, "version": "2.1.0", "runs": [_run(report) for report in reports]}
    return json_text(log)


def kind_of(ruling: RulingData, report: Report) -> str:
    """The SARIF kind of a ruling."""
    lies_on = heap(ruling)
    if lies_on in ("settled", "also held"):
        return "pass" if report.questions[ruling["question"]].against else "informational"
    return _KIND[lies_on]


def _run(report: Report) -> dict[str, Any]:
    questions = list(dict.fromkeys(ruling["question"] for ruling in report.rulings))
    taxonomies = _taxonomies(report)
    return {
        "tool": {"driver": _driver(report, questions, taxonomies)},
        "invocations": [_invocation(report)],
        "artifacts": [{"location": {"uri": _uri(report.file)}, "roles": ["analysisTarget"]}],
        "taxonomies": [
            {
                "name": _title(name, edition),
                **({"version": edition} if edition else {}),
                "taxa": [{"id": section} for section in sections],
            }
            for (name, edition), sections in taxonomies.items()
        ],
        "results": [_result(ruling, report, questions, taxonomies) for ruling in report.rulings],
        "columnKind": "unicodeCodePoints",
        "properties": {"place": report.place, "dates": dict(sorted(report.dates.items()))},
    }


def _driver(
    report: Report, questions: Sequence[str], taxonomies: Mapping[tuple[str, str], Sequence[str]]
) -> dict[str, Any]:
    about = {ruling["question"]: ruling for ruling in report.rulings}
    return {
        "name": "yokebook",
        "version": version(),
        "rules": [
            {
                "id": question,
                "shortDescription": {"text": about[question]["asks"]},
                "properties": {"ruling": about[question]["ruling"]},
            }
            for question in questions
        ],
        "supportedTaxonomies": [_component(key, taxonomies) for key in taxonomies],
    }


def _invocation(report: Report) -> dict[str, Any]:
    notes = [{"level": "error", "message": {"text": message}} for message in report.refused]
    notes += [
        {"level": "error", "message": {"text": f"{ruling['subject']['id']}, {ruling['question']}: {ruling['word']}"}}
        for ruling in report.rulings
        if heap(ruling) in ("fault of the rulebook", "impossible")
    ]
    return {
        "executionSuccessful": not notes,
        "exitCode": exit_status_of([report]),
        "toolExecutionNotifications": notes,
    }


def _taxonomies(report: Report) -> dict[tuple[str, str], list[str]]:
    """(document's title, edition) -> its sections that the rulings cite, both in order of first use."""
    found: dict[tuple[str, str], list[str]] = {}
    for ruling in report.rulings:
        for key, section in _cited(ruling, report):
            sections = found.setdefault(key, [])
            if section not in sections:
                sections.append(section)
    return found


def _cited(ruling: RulingData, report: Report) -> list[tuple[tuple[str, str], str]]:
    """((document's title, edition), section) of the standing rules; a local ordinance has no edition."""
    document = ruling["document"]
    cites = []
    for rule in ruling["standing"]:
        cite = rule["cite"]
        if cite:
            edition = document["edition"] if document and cite["document"] == document["id"] else ""
            cites.append(((report.documents.get(cite["document"], cite["document"]), edition), cite["section"]))
    return list(dict.fromkeys(cites))


def _title(name: str, edition: str) -> str:
    return f"{name}, {edition} edition" if edition else name


def _component(key: tuple[str, str], taxonomies: Mapping[tuple[str, str], Sequence[str]]) -> dict[str, Any]:
    return {"name": _title(*key), "index": list(taxonomies).index(key)}


def _result(
    ruling: RulingData,
    report: Report,
    questions: Sequence[str],
    taxonomies: Mapping[tuple[str, str], Sequence[str]],
) -> dict[str, Any]:
    kind = kind_of(ruling, report)
    text = [f"{ruling['subject']['label']}: {headline(ruling)}"]
    text += [ruling["asks"]] if heap(ruling) in ("settled", "does not arise") else details(ruling, report)
    result: dict[str, Any] = {
        "ruleId": ruling["question"],
        "ruleIndex": questions.index(ruling["question"]),
        "kind": kind,
        "level": "error" if kind == "fail" else "none",
        "message": {"text": "\n".join(text)},
        "locations": [_location(ruling, report)],
        "partialFingerprints": {"question-and-subject/v1": _fingerprint(ruling)},
        "properties": {
            "word": ruling["word"],
            "status": ruling["status"],
            "standing": [rule["rule"] for rule in ruling["standing"]],
            "possible": list(ruling["possible"]),
            "also_held": [dict(held) for held in ruling["also_held"]],
            "not_checked": ruling["not_checked"],
            "ask": [dict(ask) for ask in ruling["ask"]],
        },
    }
    taxa = [
        {
            "id": section,
            "index": list(taxonomies[key]).index(section),
            "toolComponent": _component(key, taxonomies),
        }
        for key, section in _cited(ruling, report)
    ]
    if taxa:
        result["taxa"] = taxa
    return result


def _location(ruling: RulingData, report: Report) -> dict[str, Any]:
    subject = ruling["subject"]
    location: dict[str, Any] = {
        "logicalLocations": [
            {"name": subject["label"] or subject["id"], "fullyQualifiedName": subject["id"], "kind": subject["kind"]}
        ]
    }
    at = ruling["at"]
    if at:
        location["physicalLocation"] = {
            "artifactLocation": {"uri": _uri(at["file"]), **({"index": 0} if at["file"] == report.file else {})},
            "region": {"startLine": at["line"], "startColumn": at["column"]},
        }
    return location


def _uri(file: str) -> str:
    """A file as the user named it, as a relative or absolute URI reference; `-` is standard input."""
    if file == "-":
        return "stdin"
    path = Path(file)
    return path.as_uri() if path.is_absolute() else quote(path.as_posix())


def _fingerprint(ruling: RulingData) -> str:
    """The same for the same question about the same device under the same kind of document, whatever its outcome."""
    document = ruling["document"]
    parts = [ruling["question"], ruling["subject"]["id"], document["kind"] if document else ""]
    return hashlib.sha256("\n".join(parts).encode()).hexdigest()[:32]

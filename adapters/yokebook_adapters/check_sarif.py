"""What a check found as SARIF 2.1.0 (OASIS): one result a finding, at the line of the rule, op or entry it rests on."""

from __future__ import annotations

from pathlib import Path
from typing import Any
from urllib.parse import quote

from yokebook.model import At
from yokebook.proof.findings import Blamed, Finding, Report, Severity
from yokebook_adapters.as_json import json_text
from yokebook_adapters.sarif import SCHEMA_ADDRESS
from yokebook_adapters.version import version

_LEVEL: dict[Severity, str] = {"error": "error", "not decided": "error", "warning": "warning", "note": "note"}


def as_sarif(report: Report) -> str:
    """The findings as one SARIF log with one run."""
    kinds = list(dict.fromkeys(finding.kind for finding in report.findings))
    run = {
        "tool": {
            "driver": {
                "name": "yokebook",
                "version": version(),
                "rules": [{"id": kind.replace(" ", "-"), "shortDescription": {"text": kind}} for kind in kinds],
            }
        },
        "invocations": [{"executionSuccessful": True}],
        "results": [_result(finding, kinds) for finding in report.findings],
        "columnKind": "unicodeCodePoints",
        "properties": {"laws": report.laws, "tables": report.tables, "rules": report.rules},
    }
    log = {"$schema": SCHEMA_ADDRESS, "version": "2.1.0", "runs": [run]}
    return json_text(log)


def _result(finding: Finding, kinds: list[str]) -> dict[str, Any]:
    result: dict[str, Any] = {
        "ruleId": finding.kind.replace(" ", "-"),
        "ruleIndex": kinds.index(finding.kind),
        "level": _LEVEL[finding.severity],
        "message": {"text": finding.says},
        "properties": {key: value for key, value in finding.to_dict().items() if key not in ("kind", "says", "at")},
    }
    if finding.severity == "not decided":
        result["kind"] = "open"
        result["level"] = "none"
    if finding.at is not None:
        result["locations"] = [{"physicalLocation": _location(finding.at)}]
    related = [_related(number, each) for number, each in enumerate(finding.blamed)]
    if related:
        result["relatedLocations"] = related
    return result


def _related(number: int, blamed: Blamed) -> dict[str, Any]:
    says = f": {blamed.says}" if blamed.says else ""
    return {"id": number, "message": {"text": f"{blamed.id}{says}"}, "physicalLocation": _location(blamed.at)}


def _location(at: At) -> dict[str, Any]:
    path = Path(at.file)
    uri = path.as_uri() if path.is_absolute() else quote(path.as_posix())
    return {
        "artifactLocation": {"uri": uri},
        "region": {"startLine": at.line, "startColumn": at.column},
    }

"""Reports as JSON (one document) and JSON Lines (one ruling a line)."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from typing import Any

from yokebook_adapters.report import Report, exit_status_of
from yokebook_adapters.views import governing_editions


def json_text(data: object) -> str:
    """Data as the commands print it: keys as they come, no number that JSON does not have, a line's end."""
    return json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def report_data(report: Report) -> dict[str, Any]:
    """One project's report as JSON-able data: what was ruled, refused and counted, and the views."""
    return {
        "file": report.file,
        "project": report.name,
        "place": report.place,
        "dates": dict(sorted(report.dates.items())),
        "stated_by": report.stated_by,
        "exit_status": report.exit_status(),
        "counts": report.counts(),
        "refused": list(report.refused),
        "rulings": [dict(ruling) for ruling in report.rulings],
        "views": report.views(),
        "cautions": list(report.cautions),
    }


def as_json(reports: Sequence[Report]) -> str:
    """All projects as one JSON document, keys in a fixed order, numbers of law as exact text."""
    data = {"exit_status": exit_status_of(reports), "projects": [report_data(report) for report in reports]}
    return json_text(data)


def output_json(report: Report, **parts: Any) -> str:
    """One output made of a project's rulings, its `parts` between what it stands on and the cautions, as JSON."""
    data = {
        "file": report.file,
        "project": report.name,
        "place": report.place,
        "dates": dict(sorted(report.dates.items())),
        "stated_by": report.stated_by,
        "documents": governing_editions(report.rulings),
        "exit_status": report.exit_status(),
        **parts,
        "refused": list(report.refused),
        "cautions": list(report.cautions),
    }
    return json_text(data)


def as_json_lines(reports: Iterable[Report]) -> Iterable[str]:
    """One line for each ruling, then one for each fault of the input; every line names its file."""
    for report in reports:
        for ruling in report.rulings:
            yield json.dumps({"file": report.file, **ruling}, ensure_ascii=False, allow_nan=False) + "\n"
        for message in report.refused:
            yield json.dumps({"file": report.file, "refused": message}, ensure_ascii=False, allow_nan=False) + "\n"

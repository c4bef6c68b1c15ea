"""What every page of one project begins and ends with."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import PurePath
from typing import Any

from yokebook_adapters.report import Report
from yokebook_adapters.text import governs
from yokebook_adapters.views import governing_editions

#: What each digest of a sheet is of.
_DIGESTS = {"record": "the facts", "law": "the law", "rulings": "the rulings"}


def head_without_project(title: str, about: str, cautions: Sequence[str]) -> dict[str, Any]:
    """The same for a page that is of no project: what it is `about` stands where the project's name does."""
    return {"title": title, "project": about, "digests": [], "refused": [], "cautions": list(cautions)}


def head_of(report: Report, title: str) -> dict[str, Any]:
    """The parts of a page that say of what it is: title, project, place, dates, law, who stated the facts, digests,
    what was refused, and the cautions."""
    digests = report.digests() if report.rulings else {}
    return {
        "title": title,
        "project": report.name or PurePath(report.file).name or "a project without a name",
        "file": PurePath(report.file).name,
        "place": report.place or "no place given",
        "dates": [f"{event} {day}" for event, day in sorted(report.dates.items())],
        "governs": [governs(document) for document in governing_editions(report.rulings)],
        "stated_by": report.stated_by,
        "digests": [(part, _DIGESTS[part], digest) for part, digest in digests.items()],
        "refused": list(report.refused),
        "cautions": list(report.cautions),
    }

"""The questions for the authority as a page: what hangs on each, what each answer gives, and room for the answer."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import groupby
from typing import Any

from yokebook_adapters.authority_text import RANK_TITLES, clause_text, gives_text, hangs_text, held_by_text
from yokebook_adapters.pages.head import head_of
from yokebook_adapters.pages.printing import page
from yokebook_adapters.report import Report


def questions_page(report: Report, questions: Sequence[Mapping[str, Any]]) -> str:
    """The questions as HTML: `questions` as questions_for_authority gives them, `report` what was ruled for them."""
    numbered = list(enumerate(questions, start=1))
    ranks = [
        {"title": RANK_TITLES[rank].capitalize(), "questions": [_question(n, each, report) for n, each in its]}
        for rank, its in groupby(numbered, key=lambda each: str(each[1]["rank"]))
    ]
    return page("questions.html", head=head_of(report, "Questions for the authority"), ranks=ranks,
                ruled=bool(report.rulings))  # fmt: skip


def _question(number: int, question: Mapping[str, Any], report: Report) -> dict[str, Any]:
    return {
        "number": number,
        "asks": question["asks"],
        "clause": clause_text(question["cite"], report) if question["cite"] else "",
        "why": question["why"],
        "hangs": hangs_text(question),
        "alternatives": [
            {"id": each["id"], "standing": each["standing"], "says": each["says"], "held": held_by_text(each),
             "gives": gives_text(each)}
            for each in question.get("alternatives", ())
        ],
        "meanwhile": question.get("meanwhile"),
        "office": question["office"],
    }  # fmt: skip

"""The resolved tables that answer a question."""

from __future__ import annotations

from typing import Any

from yokebook.load.faults import RulebookFaults
from yokebook_adapters.service.desk import Desk
from yokebook_adapters.service.problems import Problem
from yokebook_adapters.service.queries import OF_TABLES, Pairs, Query
from yokebook_adapters.table_text import as_data


def tables(desk: Desk, name: str, pairs: Pairs) -> dict[str, Any]:
    """Every table that answers the question of this id or ruling number under the law asked for. Raises Problem."""
    questions = desk.find_questions(name)
    if not questions:
        fault = {"parameter": "question", "detail": desk.no_question(name)}
        raise Problem("not-found", "There is no such question.", [fault])
    query = Query(pairs, OF_TABLES)
    asked, document = query.asked(), query.one("document")
    query.finish()
    try:
        code = desk.laws.code(asked)
    except RulebookFaults as faulty:
        query.law_faults(faulty)
        query.finish()
        raise
    try:
        found = [
            as_data(code.table(question.id, kind)[1].resolved, question.id, desk.book)
            for question, kind in desk.answering(code, questions, document)
        ]
    except ValueError as fault:
        query.fault("document" if document else "question", str(fault))
        query.finish()
        raise
    return desk.answer(code, asked, tables=found)

"""A batch of flat records, one a line: what is asked of all of them, and the answer to each line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from yokebook.intake.entry import from_node
from yokebook.load.faults import InputFaults, RulebookFaults, listed, suggest
from yokebook.model import Question
from yokebook_adapters.service.bodies import read_body
from yokebook_adapters.service.desk import Desk, each_once, pointer_of
from yokebook_adapters.service.laws import Asked, law_data
from yokebook_adapters.service.problems import Problem, told
from yokebook_adapters.service.queries import OF_BATCHES, Pairs, Query
from yokebook_adapters.service.record_operations import not_answered, rulings_on


@dataclass(frozen=True)
class Wanted:
    """What a batch asks of every one of its records."""

    asked: Asked
    questions: Sequence[Question] | None
    topics: Sequence[str]
    document: str | None


def wanted(desk: Desk, pairs: Pairs) -> Wanted:
    """What the query of a batch asks for. Raises Problem with every fault of it."""
    query = Query(pairs, OF_BATCHES)
    asked, document = query.asked(), query.one("document")
    questions: list[Question] = []
    for name in query.many("question"):
        found = desk.find_questions(name)
        if not found:
            query.fault("question", desk.no_question(name))
        questions += found
    topics = query.many("topic")
    for name in topics:
        if name not in desk.topics:
            detail = f"there is no topic `{name}`{suggest(name, desk.topics)}; allowed: {listed(desk.topics)}"
            query.fault("topic", detail)
    try:
        if asked.place or asked.edition:
            desk.laws.code(asked)
        elif faults := asked.faults() + desk.laws.unusable(asked):
            raise RulebookFaults(faults)
    except RulebookFaults as faulty:
        query.law_faults(faulty)
    query.finish()
    return Wanted(asked, each_once(questions) or None, topics, document)


def begin(desk: Desk, pairs: Pairs, lines: int) -> dict[str, Any]:
    """The first line of the answer to a batch of so many lines. Raises Problem with every fault of the query."""
    of_all = wanted(desk, pairs)
    asked = of_all.asked
    return {
        "begin": {
            "rulebook": {"digest": desk.digest},
            "asked": {
                "place": asked.place,
                "on": asked.on,
                "dates": dict(asked.dates),
                "choices": dict(asked.choices),
                "edition": asked.edition,
                "questions": [question.id for question in of_all.questions or ()],
                "document": of_all.document,
            },
            "lines": lines,
            "cautions": list(desk.book.cautions),
        }
    }


def one_line(desk: Desk, of_all: Wanted, number: int, line: bytes) -> dict[str, Any]:
    """The answer to one line. Raises Problem."""
    body = read_body(line, desk.limits.line_bytes, desk.limits.depth)
    try:
        graph = desk.door.record(from_node(body.node))
        code = desk.laws.code(of_all.asked, graph)
        rulings = rulings_on(desk, code, graph, of_all.questions, of_all.topics, of_all.document)
    except InputFaults as refused:
        raise body.refusal(refused.faults) from None
    except RulebookFaults as faulty:
        errors = [{"pointer": _pointer(pointer_of("", fault)), "detail": fault.message} for fault in faulty.faults]
        raise Problem("refused", f"The line has {told(errors)}.", errors) from None
    except ValueError as fault:
        raise not_answered("", fault) from None
    return {"line": number, "law": law_data(code, of_all.asked), "rulings": [ruling.to_dict() for ruling in rulings]}


def _pointer(of_law: str) -> str:
    """Where a record says what the law turns on."""
    first, _, name = of_law.removeprefix("/").partition("/")
    return {"dates": f"/project.date.{name}", "choices": f"/project.choice.{name}", "": ""}.get(first, "/project.place")

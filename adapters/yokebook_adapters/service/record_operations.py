"""What can be asked of one flat record."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from yokebook.code import Code
from yokebook.entities import KIND_OF_PREFIX
from yokebook.graph import Graph
from yokebook.load.faults import InputFaults
from yokebook.model import Question
from yokebook.ruling import Ruling, rule_on
from yokebook_adapters.interview import Interview
from yokebook_adapters.one_record import Put, put
from yokebook_adapters.outcome import RulingData
from yokebook_adapters.reasons import one_of_several
from yokebook_adapters.service.desk import Desk, Reading
from yokebook_adapters.service.given import given_in_words
from yokebook_adapters.service.problems import Problem


def rule_record(desk: Desk, data: bytes) -> dict[str, Any]:
    """The rulings on one record. Raises Problem."""
    reading = Reading(desk, data, "rule_record")
    graph, questions, topics = reading.record(), reading.questions(), reading.topics()
    code = reading.code(graph)
    reading.finish()
    assert graph is not None and code is not None  # else there were faults
    try:
        rulings = rulings_on(desk, code, graph, questions, topics, reading.data("document"))
    except InputFaults as refused:
        raise reading.refused(refused, "/record") from None
    except ValueError as fault:
        raise not_answered("/questions", fault) from None
    return desk.answer(code, reading.asked(), rulings=[ruling.to_dict() for ruling in rulings])


def rulings_on(
    desk: Desk,
    code: Code,
    graph: Graph,
    questions: Sequence[Question] | None,
    topics: Sequence[str],
    document: str | None,
) -> list[Ruling]:
    """The rulings on a record's graph: on the questions named, by every document that answers; or on all in force.

    Raises InputFaults where what is stated and what comes out differ, ValueError where no document answers.
    """
    if questions is None:
        found = code.rule_project(graph, None, topics).rulings
        return [r for r in found if document is None or _is_by(r, document)]
    wanted = desk.answering(code, questions, document)
    session = code.session(graph)
    return [
        code.rule(question.id, graph)
        if kind is None
        else rule_on(session, question, graph.things[question.per][0], kind)
        for question, kind in wanted
    ]


def _is_by(ruling: Ruling, document: str) -> bool:
    return ruling.document is not None and document in (ruling.document["kind"], ruling.document["id"])


def explain_record(desk: Desk, data: bytes) -> dict[str, Any]:
    """The rulings on one question for one record, each with its whole trace. Raises Problem."""
    reading = Reading(desk, data, "explain_record")
    graph, questions = reading.record(), reading.questions("question")
    code = reading.code(graph)
    reading.finish()
    assert graph is not None and code is not None and questions is not None
    try:
        rulings = [
            code.explain(question.id, graph, kind)
            for question, kind in desk.answering(code, questions, reading.data("document"))
        ]
    except InputFaults as refused:
        raise reading.refused(refused, "/record") from None
    except ValueError as fault:
        raise not_answered("/question", fault) from None
    return desk.answer(code, reading.asked(), rulings=[ruling.to_dict() for ruling in rulings])


def ask_record(desk: Desk, data: bytes) -> dict[str, Any]:
    """Where an interview stands: the ruling so far, and what can still matter with what each answer adds to the record.

    Raises Problem; where more than one document answers, one has to be named.
    """
    reading = Reading(desk, data, "ask_record")
    graph, questions = reading.record(), reading.questions("question")
    code = reading.code(graph)
    reading.finish()
    assert graph is not None and code is not None and questions is not None
    try:
        asked = desk.answering(code, questions, reading.data("document"))
    except ValueError as fault:
        raise not_answered("/question", fault) from None
    if len(asked) > 1:
        several = ", ".join(f"`{question.id}` by the {kind} document" for question, kind in asked)
        detail = f"this means {several}; name one, with the question's id and with `document`"
        raise Problem("refused", "The body has 1 fault.", [{"pointer": "/question", "detail": detail}])
    question, named = asked[0]
    try:
        kind, session = code.kind(question.id, named), code.session(graph)
    except InputFaults as refused:
        raise reading.refused(refused, "/record") from None
    except ValueError as fault:
        raise not_answered("/question", fault) from None
    thing = graph.things[question.per][0]
    ruled = rule_on(session, question, thing, kind).to_dict()
    return desk.answer(
        code,
        reading.asked(),
        ruling=ruled,
        reason_is="one of several" if one_of_several(session, question, thing, kind) else "sure",
        settled=not ruled["ask"],
        ask=_asks(ruled, graph),
        given=given_in_words(reading.data("record", {}), graph, desk.book),
    )


def _asks(ruled: RulingData, graph: Graph) -> list[dict[str, Any]]:
    def count(record: Mapping[str, Any], fact: str) -> int:
        prefix, name, _ = fact.split(".")
        return len(graph.things[KIND_OF_PREFIX[prefix]][0].list_of(name)[0])

    interview = Interview(lambda record, dates, choices: ruled, count)
    asks = []
    for ask in interview.asks():
        way = put(ask, count({}, str(ask["fact"])) if ask["kind"] == "list" else 0)
        asks.append({"ask": dict(ask), "gives": None if way is None else _gives(way)})
    return asks


def _gives(way: Put) -> dict[str, Any]:
    return {"yes": None if way.yes is None else dict(way.yes), "no": None if way.no is None else dict(way.no)}


def not_answered(pointer: str, fault: ValueError) -> Problem:
    """The problem where no document in force answers what was asked."""
    return Problem("refused", "The body has 1 fault.", [{"pointer": pointer, "detail": str(fault)}])

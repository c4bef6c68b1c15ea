"""What can be asked of one project, and of two laws."""

from __future__ import annotations

from typing import Any

import yokebook
from yokebook.code import Code
from yokebook.graph import Graph
from yokebook.load.faults import InputFaults
from yokebook.proof.comparing_projects import compare_project
from yokebook.sheet import Sheet
from yokebook_adapters.authority import questions_for_authority
from yokebook_adapters.building import make_report, placed
from yokebook_adapters.drawings.of_device import face_of
from yokebook_adapters.marking_schedule import kinds_to_keep_off, marking_schedule
from yokebook_adapters.pages.printing import CannotPrint
from yokebook_adapters.pages.ruling_sheet import ruling_sheet
from yokebook_adapters.report import Report
from yokebook_adapters.service.bodies import NAME
from yokebook_adapters.service.desk import Desk, Reading
from yokebook_adapters.service.laws import law_data
from yokebook_adapters.service.problems import Problem
from yokebook_adapters.service.record_operations import not_answered
from yokebook_adapters.version import version


def rule_project(desk: Desk, data: bytes) -> dict[str, Any]:
    """The rulings on one project with counts and views. Raises Problem."""
    reading = Reading(desk, data, "rule_project")
    code, _, report = _report(desk, reading)
    return desk.answer(
        code,
        reading.asked(),
        project=report.name,
        stated_by=report.stated_by,
        counts=report.counts(),
        rulings=[dict(ruling) for ruling in report.rulings],
        views=report.views(),
    )


def schedule_project(desk: Desk, data: bytes) -> dict[str, Any]:
    """The marking schedule of one project. Raises Problem."""
    reading = Reading(desk, data, "project_output")
    code, sheet, report = _report(desk, reading)
    keep_off = kinds_to_keep_off(sheet.session.in_force, desk.book)
    schedule = marking_schedule(report.rulings, [sheet.session.graph], desk.book, keep_off)
    return desk.answer(code, reading.asked(), project=report.name, schedule=schedule)


def authority_project(desk: Desk, data: bytes) -> dict[str, Any]:
    """What to ask the authority about one project. Raises Problem."""
    reading = Reading(desk, data, "project_output")
    code, sheet, report = _report(desk, reading)
    graphs = [sheet.session.graph]
    questions = questions_for_authority(report.rulings, graphs, desk.book.readings, desk.book.questions)
    return desk.answer(code, reading.asked(), project=report.name, questions=questions)


def sheet_project(desk: Desk, data: bytes) -> dict[str, Any]:
    """The filed sheet of one project, which `yokebook rerun` rules again. Raises Problem."""
    reading = Reading(desk, data, "project_output")
    code, sheet, _ = _report(desk, reading)
    return desk.answer(code, reading.asked(), sheet=sheet.filed({"version": version()}))


def print_project(desk: Desk, data: bytes) -> dict[str, Any]:
    """The ruling sheet of one project as an HTML page, short or full. Raises Problem."""
    reading = Reading(desk, data, "print_project")
    code, _, report = _report(desk, reading, reading.data("name", ""))
    try:
        full, changes = bool(reading.data("full", False)), bool(reading.data("changes", True))
        html = ruling_sheet(report, full=full, changes=changes)
    except CannotPrint as missing:
        raise Problem("failed", str(missing)) from None
    return desk.answer(code, reading.asked(), html=html)


def face_project(desk: Desk, data: bytes) -> dict[str, Any]:
    """The drawing of one device's face with its marks, as SVG; null where no document rules on them. Raises Problem."""
    reading = Reading(desk, data, "face_project")
    graph = reading.project()
    code, yoke = reading.code(graph), reading.thing(graph, "yoke")
    reading.finish()
    assert graph is not None and code is not None and yoke is not None
    try:
        picture = face_of(code, code.session(graph), yoke, legend=False)
    except InputFaults as refused:
        raise reading.refused(refused, "/project") from None
    if picture is None:
        return desk.answer(code, reading.asked(), face=None)
    face = {"svg": picture.inline(), "title": picture.title, "description": picture.description}
    return desk.answer(code, reading.asked(), face=face)


def explain_project(desk: Desk, data: bytes) -> dict[str, Any]:
    """The rulings on one question for one thing of a project, each with its whole trace. Raises Problem."""
    reading = Reading(desk, data, "explain_project")
    graph, questions = reading.project(), reading.questions("question")
    code, thing = reading.code(graph), reading.thing(graph)
    reading.finish()
    assert graph is not None and code is not None and questions is not None and thing is not None
    fitting = [question for question in questions if question.per == thing.kind]
    if not fitting:
        per = " or ".join(dict.fromkeys(question.per for question in questions))
        detail = f"`{thing.id}` is a {thing.kind}, and this is asked of a {per}"
        raise Problem("refused", "The body has 1 fault.", [{"pointer": "/question", "detail": detail}])
    try:
        rulings = [
            placed(code.explain(question.id, graph, kind, thing.id), graph)
            for question, kind in desk.answering(code, fitting, reading.data("document"))
        ]
    except InputFaults as refused:
        raise reading.refused(refused, "/project") from None
    except ValueError as fault:
        raise not_answered("/question", fault) from None
    return desk.answer(code, reading.asked(), rulings=rulings)


def compare_laws(desk: Desk, data: bytes) -> dict[str, Any]:
    """What changes from one law to another, and for a project. Raises Problem."""
    reading = Reading(desk, data, "compare")
    graph, questions = reading.project(), reading.questions()
    was, now = reading.code(None, "was"), reading.code(None, "now")
    reading.finish()
    assert was is not None and now is not None
    document = reading.data("document")
    wanted = None if questions is None else [question.id for question in questions]
    try:
        changes = yokebook.compare(was, now, wanted, document)
        of_project = None if graph is None else compare_project(was, now, graph, wanted, document).to_dict()
    except InputFaults as refused:
        raise reading.refused(refused, "/project") from None
    except ValueError as fault:
        raise not_answered("", fault) from None
    return {
        "rulebook": {"digest": desk.digest},
        "was": law_data(was, reading.asked("was")),
        "now": law_data(now, reading.asked("now")),
        "changes": changes.to_dict(),
        "project": of_project,
        "cautions": list(desk.book.cautions),
    }


def _report(desk: Desk, reading: Reading, file: str = NAME) -> tuple[Code, Sheet, Report]:
    """The rulings on the project that a body holds, as of a `file` of this name. Raises Problem."""
    graph, questions, topics = reading.project(), reading.questions(), reading.topics()
    code = reading.code(graph)
    reading.finish()
    assert graph is not None and code is not None
    sheet = _sheet(code, graph, None if questions is None else [q.id for q in questions], topics, reading)
    return code, sheet, make_report(file, [sheet], desk.rulebook)


def _sheet(code: Code, graph: Graph, questions: list[str] | None, topics: list[str], reading: Reading) -> Sheet:
    try:
        return code.rule_project(graph, questions, topics)
    except InputFaults as refused:
        raise reading.refused(refused, "/project") from None

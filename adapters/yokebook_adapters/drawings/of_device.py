"""Just the rulings that a drawing shows, and the face of one device of a project with them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from yokebook.code import Code
from yokebook.graph import Thing
from yokebook.model import Question
from yokebook.ruling import rule_on
from yokebook.session import Session
from yokebook_adapters.drawings.face import SHOWN, draw_face, halves_of
from yokebook_adapters.drawings.svg import Picture
from yokebook_adapters.marking_schedule import marking_schedule
from yokebook_adapters.outcome import RulingData
from yokebook_adapters.views import marks_by_yoke


def face_of(code: Code, session: Session, yoke: Thing, *, legend: bool = True) -> Picture | None:
    """The face as the law in force has it marked; None where no document in force rules on its mark.

    Of a contact device that nothing is given of no ruling is made.
    """
    contacts = [contact for contact in yoke.list_of("contacts")[0] if contact.given]
    rulings = rulings_on(code, session, [q for q in code.questions() if q.ruling in SHOWN], contacts)
    marks = marks_by_yoke(rulings, session.graph)
    if not marks:
        return None
    [line] = marking_schedule(rulings, [session.graph], code.book)["lines"]
    by_contact = {contact.id: [r for r in rulings if r["subject"]["id"] == contact.id] for contact in contacts}
    name = f"face-{yoke.id}"
    return draw_face(line["label"], halves_of(line, marks[0], by_contact), name, legend=legend)


def rulings_on(
    code: Code, session: Session, questions: Iterable[Question], things: Sequence[Thing]
) -> list[RulingData]:
    """The rulings on these questions for these things, without their room and place."""
    return [
        {**rule_on(session, question, thing, kind).to_dict(), "room": "", "at": None}
        for question in questions
        for kind in code.kinds_for(question.id)
        for thing in things
        if thing.kind == question.per
    ]

"""The face of one device of a project, with just the rulings made that the drawing shows."""

from __future__ import annotations

from yokebook.code import Code
from yokebook.graph import Graph, Thing
from yokebook.model import Book
from yokebook.ruling import rule_on
from yokebook_adapters.building import placed
from yokebook_adapters.drawings.face import DRAWN, draw_face, halves_of
from yokebook_adapters.drawings.svg import Picture
from yokebook_adapters.marking_schedule import marking_schedule
from yokebook_adapters.views import marks_by_yoke


def face_of(code: Code, graph: Graph, yoke: Thing, book: Book) -> Picture:
    """The face as the law in force has it marked. Raises InputFaults where what is stated and what comes out differ.

    Of a contact device that nothing is given of no ruling is made.
    """
    session = code.session(graph)
    contacts = [contact for contact in yoke.list_of("contacts")[0] if contact.given]
    rulings = [
        placed(rule_on(session, question, contact, kind), graph)
        for question in code.questions()
        if question.ruling in DRAWN and question.per == "contact"
        for kind in code.kinds_for(question.id)
        for contact in contacts
    ]
    marks = marks_by_yoke(rulings, graph)
    lines = marking_schedule(rulings, [graph], book)["lines"]
    if not lines:
        return draw_face(yoke.label, [], legend=False)
    by_contact = {contact.id: [r for r in rulings if r["subject"]["id"] == contact.id] for contact in contacts}
    return draw_face(yoke.label, halves_of(lines[0], marks[0], by_contact), legend=False)

"""Makes a report of a sheet: adds where each ruling belongs, the views, and what outputs name things by."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, cast

from yokebook.entities import Kind
from yokebook.explain import tried, used_facts, would_change
from yokebook.graph import Graph, Missing, Thing
from yokebook.model import At, Book
from yokebook.rulebook import Rulebook
from yokebook.ruling import Ruling, rule_on
from yokebook.session import Session
from yokebook.sheet import Sheet
from yokebook_adapters.amended import questions_touched
from yokebook_adapters.lines import in_words
from yokebook_adapters.outcome import RulingData
from yokebook_adapters.reasons import one_of_several
from yokebook_adapters.report import Report
from yokebook_adapters.views import amendment_effect, marks_by_yoke, parts_to_buy


def make_report(file: str, sheets: Sequence[Sheet], rulebook: Rulebook, refused: Iterable[str] = ()) -> Report:
    """The report of one file's sheets: one of a project file, one a row of a schedule whose rows are records.

    `refused` are faults of the input beside those that the sheets hold.
    """
    book, graphs = rulebook.book, [sheet.session.graph for sheet in sheets]
    rulings = [placed(ruling, sheet.session.graph) for sheet in sheets for ruling in sheet.rulings]
    marks = [entry for graph in graphs for entry in marks_by_yoke(rulings, graph)]
    projects = [graph.project for graph in graphs]
    second_look = SecondLook(sheets, rulebook)
    return Report(
        file=file,
        name=in_words(dict.fromkeys(project.text.get("project.name", "") for project in projects)),
        place=in_words(dict.fromkeys(book.places[sheet.place].name for sheet in sheets if sheet.place)),
        dates=_dates(sheets),
        stated_by=", ".join(dict.fromkeys(who for project in projects for who in project.stated_by.values())),
        rulings=rulings,
        refused=[*refused, *(str(fault) for sheet in sheets for fault in sheet.refused)],
        rooms=list(dict.fromkeys(space.label for graph in graphs for space in graph.things["space"])),
        marks=marks,
        parts=[entry for graph in graphs for entry in parts_to_buy(rulings, graph)],
        amendment_effect=second_look.amendment_effect,
        would_change=second_look.would_change,
        tried=second_look.tried,
        one_of_several=second_look.one_of_several,
        stated=second_look.stated,
        digests=lambda: sheets[0].filed()["digests"] if len(sheets) == 1 else {},
        **names(book),
    )


def _dates(sheets: Iterable[Sheet]) -> dict[str, str]:
    """The date of each event; where sheets differ, all of them."""
    found: dict[str, dict[str, None]] = {}
    for sheet in sheets:
        for event, day in ({"every event": sheet.on} if sheet.on else sheet.dates).items():
            found.setdefault(event, {})[day] = None
    return {event: in_words(days) for event, days in found.items()}


def names(book: Book) -> dict[str, Any]:
    """What outputs take from the rulebook: questions, titles, plain words for facts, cautions."""
    return {
        "cautions": book.cautions,
        "questions": book.questions,
        "inputs": {fact.id: fact.says for fact in book.facts.values()}
        | {calculation.id: calculation.says for calculation in book.calculations.values()},
        "documents": {document.id: document.title for document in book.documents.values()},
    }


def placed(ruling: Ruling, graph: Graph) -> dict[str, Any]:
    """The ruling as data, with the room that its subject is in and the subject's place in the project file."""
    thing = _thing(graph, ruling.subject)
    return {**ruling.to_dict(), "room": room_of(thing), "at": _at(thing)}


def room_of(thing: Thing) -> str:
    """The label of the one room that the thing is in or serves; empty where there is none, or more than one."""
    spaces = {space.id: space for space in _spaces(thing)}
    return next(iter(spaces.values())).label if len(spaces) == 1 else ""


def _spaces(thing: Thing) -> Iterable[Thing]:
    if thing.kind in ("space", "yoke", "contact"):
        space = thing.one("space")
        return [] if space is None or isinstance(space, Missing) else [space]
    if thing.kind == "project":
        return []
    return [space for contact in thing.list_of("contacts")[0] for space in _spaces(contact)]


def _at(thing: Thing) -> dict[str, Any] | None:
    places = [at for at in thing.at.values() if isinstance(at, At)]
    if not places:
        return None
    first = min(places, key=lambda at: (at.line, at.column))
    return {"file": first.file, "line": first.line, "column": first.column}


def _thing(graph: Graph, subject: Mapping[str, str]) -> Thing:
    return next(thing for thing in graph.things[cast(Kind, subject["kind"])] if thing.id == subject["id"])


class SecondLook:
    """Rules again on what an output wants to know more of: without the amendments, or with a fact changed."""

    def __init__(self, sheets: Iterable[Sheet], rulebook: Rulebook) -> None:
        self._sessions = {
            (ruling.subject["kind"], ruling.subject["id"]): sheet.session
            for sheet in sheets
            for ruling in sheet.rulings
        }
        self._rulebook = rulebook
        #: by kind of document and session: the bare edition and the questions that the amendments can touch
        self._bare: dict[tuple[str, int], tuple[Session, frozenset[str]] | None] = {}
        self._stated: dict[tuple[str, str], str] | None = None
        self._changes: dict[tuple[int, str, str, str], list[dict[str, Any]]] = {}

    def _session(self, ruling: RulingData) -> Session:
        return self._sessions[ruling["subject"]["kind"], ruling["subject"]["id"]]

    def amendment_effect(self, ruling: RulingData) -> dict[str, Any] | None:
        """What the place's amendments did to the ruling (R10): it is made again under the bare edition, other
        documents as in force. None where they did nothing, or where it is not known which entry governs."""
        kind = ruling["document"]["kind"] if ruling["document"] else ""
        session = self._session(ruling)
        key = (kind, id(session))
        if key not in self._bare:
            self._bare[key] = self._bare_session(kind, session)
        found = self._bare[key]
        if found is None or ruling["question"] not in found[1]:
            return None
        bare = found[0]
        question = self._rulebook.book.questions[ruling["question"]]
        base = rule_on(bare, question, _thing(bare.graph, ruling["subject"]), kind).to_dict()
        effect = amendment_effect(ruling, base, list(question.outcomes))
        return None if effect["effect"] == "no effect" else effect

    def _bare_session(self, kind: str, session: Session) -> tuple[Session, frozenset[str]] | None:
        line = session.in_force.get(kind)
        law = line.candidates[0].law if line is not None and len(line.candidates) == 1 else None
        if law is None or not law.resolved.amendments:
            return None
        book = self._rulebook.book
        bare = self._rulebook.edition(law.resolved.document.id, law.resolved.edition)
        resolved = bare.in_force[kind].candidates[0].law
        touched = questions_touched(law.resolved, resolved.resolved, book) if resolved else frozenset()
        return Session(session.graph, book, {**session.in_force, **bare.in_force}), touched

    def would_change(self, ruling: RulingData) -> list[dict[str, Any]]:
        """Single facts that would give another outcome, as `explain` tells them; each ruling is tried once."""
        session, question = self._session(ruling), self._rulebook.book.questions[ruling["question"]]
        thing, kind = _thing(session.graph, ruling["subject"]), ruling["document"]["kind"]
        key = (id(session), question.id, thing.id, kind)
        if key not in self._changes:
            used = used_facts(session, question, thing, kind)
            self._changes[key] = would_change(session, question, thing, kind, used)
        return self._changes[key]

    def tried(self, ruling: RulingData) -> list[dict[str, Any]]:
        """Every rule tried, as `explain` tells them; none where no document governs."""
        if ruling["document"] is None:
            return []
        session, question = self._session(ruling), self._rulebook.book.questions[ruling["question"]]
        return tried(session, question, _thing(session.graph, ruling["subject"]), ruling["document"]["kind"])

    def one_of_several(self, ruling: RulingData) -> bool:
        """Whether the rules that it names give the outcome only in some completions of what is given."""
        if ruling["document"] is None:
            return False
        session, question = self._session(ruling), self._rulebook.book.questions[ruling["question"]]
        return one_of_several(session, question, _thing(session.graph, ruling["subject"]), ruling["document"]["kind"])

    def stated(self, subject: str, fact: str) -> str:
        """Who stated a fact of the thing with this path; empty where nobody is named."""
        if self._stated is None:
            self._stated = {}
            for session in {id(session): session for session in self._sessions.values()}.values():
                for thing in session.graph:
                    self._stated |= {(thing.id, name): who for name, who in thing.stated_by.items()}
        return self._stated.get((subject, fact), "")

"""What every operation does first: it reads what was asked and finds the law, the questions and the input; all that is
wrong is told at once."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import yokebook
from yokebook.code import Code
from yokebook.entities import Kind
from yokebook.front_door import FrontDoor
from yokebook.graph import Graph, Thing
from yokebook.intake.entry import Entry, Fields, from_node
from yokebook.load.faults import Fault, InputFaults, RulebookFaults, listed, suggest
from yokebook.load.nodes import plain_data
from yokebook.load.schema_check import check_with
from yokebook.model import At, Question
from yokebook.overview import questions_named
from yokebook_adapters.service.bodies import Body, escaped, read_body
from yokebook_adapters.service.laws import Asked, Laws, law_data
from yokebook_adapters.service.limits import Limits
from yokebook_adapters.service.problems import Problem, told
from yokebook_adapters.service.shapes import request_validator

Error = Mapping[str, Any]

#: Turns the place of a fault of the law, such as `dates.permit application`, into the field at fault.
Where = Callable[[str], Mapping[str, str]]


class Desk:
    """One process's rulebook with all that is kept ready to rule by it."""

    def __init__(self, rulebook: yokebook.Rulebook, digest: str, limits: Limits) -> None:
        self.rulebook = rulebook
        self.book = rulebook.book
        self.digest = digest
        self.limits = limits
        self.door = FrontDoor(self.book)
        self.laws = Laws(rulebook)
        #: what was made ready of projects that are followed, by what was sent; only the last ones
        self.followed: OrderedDict[bytes, Any] = OrderedDict()
        self.topics = [*dict.fromkeys(q.topic for q in self.book.questions.values() if q.topic), "all"]

    def answer(self, code: Code, asked: Asked, **parts: Any) -> dict[str, Any]:
        """An answer with the rulebook and the law that it was ruled by, and what every output ends with."""
        head = {"rulebook": {"digest": self.digest}, "law": law_data(code, asked)}
        return head | parts | {"cautions": list(self.book.cautions)}

    def find_questions(self, name: str) -> list[Question]:
        """The questions with this id or ruling number; none is an empty list."""
        return questions_named(self.book, name)

    def no_question(self, name: str) -> str:
        """What to say of a name that no question has."""
        known = [*self.book.questions, *(q.ruling for q in self.book.questions.values())]
        allowed = "an id or ruling number of GET /v1/questions"
        return f"there is no question `{name}`{suggest(name, known)}; allowed: {allowed}"

    def answering(
        self, code: Code, questions: Sequence[Question], document: str | None
    ) -> list[tuple[Question, str | None]]:
        """Each question with each kind of document that is to answer it; with None where nothing in force does and
        none was named, so that ruling on it says why. Of the questions of one ruling number those that nothing answers
        are passed over. Raises ValueError where the document named answers none of a ruling number."""
        found: list[tuple[Question, str | None]] = []
        for number in dict.fromkeys(question.ruling for question in questions):
            of_number = [question for question in questions if question.ruling == number]
            pairs = [(q, kind) for q in of_number for kind in code.kinds_for(q.id) if self._is(kind, document)]
            if not pairs and document is not None:
                raise ValueError(self._not_answered(code, of_number[0], document))
            found += pairs or [(of_number[0], None)]
        return found

    def _is(self, kind: str, document: str | None) -> bool:
        return document is None or document in self._names(kind)

    def _not_answered(self, code: Code, question: Question, document: str) -> str:
        allowed = listed(code.kinds_for(question.id)) or "none, because no document in force here answers it"
        return f"`{document}` does not answer `{question.id}` here; allowed: {allowed}"

    def _names(self, kind: str) -> list[str]:
        return [kind, *(document.id for document in self.book.documents.values() if document.kind == kind)]


class Reading:
    """One body being read for one operation: parts are taken out of it, and faults gathered until they are told."""

    def __init__(self, desk: Desk, data: bytes, request: str) -> None:
        """Raises Problem where the body is not JSON."""
        self.desk = desk
        self.body: Body = read_body(data, desk.limits.body_bytes, desk.limits.depth)
        self.errors: list[Error] = []
        faults = check_with(self.body.node, request_validator(request), "the body")
        self.note(list(dict.fromkeys(faults)))
        self.fits = not faults
        self._input_refused = False

    def note(self, faults: Sequence[Fault], default: str = "") -> None:
        """Notes faults, each at its place; `default` is the pointer of those without one."""
        self.errors += [self.body.error(fault, default) for fault in faults]

    def finish(self) -> None:
        """Raises Problem with every fault noted, in the order of the body."""
        if self.errors:
            place = {id(error): number for number, error in enumerate(self.errors)}
            ordered = sorted(self.errors, key=lambda e: (e.get("line", 0), e.get("column", 0), place[id(e)]))
            raise Problem("refused", f"The body has {told(ordered)}.", ordered)

    def data(self, key: str, default: Any = None) -> Any:
        """What stands under a key as plain data; `default` where it is left out or the body does not fit."""
        node = self.body.part(key)
        return plain_data(node) if node is not None and self.fits else default

    def record(self) -> Graph | None:
        """The graph of the record; None where it has faults, which are noted. A record left out is an empty one."""
        node = self.body.part("record")
        return self._through_door(self.desk.door.record, from_node(node) if node else Entry("", Fields(())), "/record")

    def project(self) -> Graph | None:
        """The graph of the project; None where there is none, or where it has faults, which are noted."""
        node = self.body.part("project")
        return self._through_door(self.desk.door.project, from_node(node), "/project") if node else None

    def _through_door(self, door: Callable[[Entry], Graph], entry: Entry, pointer: str) -> Graph | None:
        try:
            return door(entry)
        except InputFaults as refused:
            self.note(refused.faults, pointer)
            self._input_refused = True
            return None

    def thing(self, graph: Graph | None, kind: Kind | None = None) -> Thing | None:
        """The thing that the subject names, of this kind where one is wanted; None where there is none, which is
        noted."""
        if graph is None or not self.fits:
            return None
        subject = self.data("subject")
        try:
            thing = graph.find(subject)
        except KeyError as unknown:
            self.errors.append({"pointer": "/subject", "detail": str(unknown.args[0])})
            return None
        if kind is not None and thing.kind != kind:
            detail = f"`{subject}` is a {thing.kind}; allowed: a {kind}"
            self.errors.append({"pointer": "/subject", "detail": detail})
            return None
        return thing

    def asked(self, key: str = "law") -> Asked:
        """What is said about the law."""
        return Asked(**self.data(key, {}))

    def code(self, graph: Graph | None, key: str = "law") -> Code | None:
        """The law asked for; None where that has faults, which are noted. A graph that was refused gives none."""
        if not self.fits:
            return None
        try:
            return self.desk.laws.code(self.asked(key), graph)
        except RulebookFaults as faulty:
            for fault in faulty.faults:
                if not fault.at and self._input_refused:
                    continue  # the input may name a place all the same
                self.errors.append({"pointer": pointer_of(f"/{key}", fault), "detail": fault.message})
            return None

    def questions(self, key: str = "questions") -> list[Question] | None:
        """The questions named, each once; None where none is. A name that no question has is noted."""
        names = self.data(key)
        if names is None:
            return None
        found: list[Question] = []
        for number, name in enumerate([names] if isinstance(names, str) else names):
            meant = self.desk.find_questions(name)
            if not meant:
                pointer = f"/{key}" if isinstance(names, str) else f"/{key}/{number}"
                self.errors.append({"pointer": pointer, "detail": self.desk.no_question(name)})
            found += meant
        return each_once(found)

    def topics(self) -> list[str]:
        """The topics named; one that no question has is noted."""
        names: list[str] = self.data("topics", [])
        known = self.desk.topics
        for number, name in enumerate(names):
            if name not in known:
                detail = f"there is no topic `{name}`{suggest(name, known)}; allowed: {listed(known)}"
                self.errors.append({"pointer": f"/topics/{number}", "detail": detail})
        return names

    def refused(self, refused: InputFaults, pointer: str) -> Problem:
        """The problem for faults that came up while ruling: what is stated and what comes out differ."""
        return self.body.refusal(refused.faults, pointer)


def each_once(questions: Sequence[Question]) -> list[Question]:
    """The questions, those named twice only once."""
    return list({question.id: question for question in questions}.values())


def pointer_of(prefix: str, fault: Fault) -> str:
    """The pointer of a fault of the law, which stands at `place`, `dates.EVENT` and the like."""
    assert not isinstance(fault.at, At)
    part, dot, name = fault.at.partition(".")
    inside = f"/{part}/{escaped(name)}" if dot else f"/{part}" if part else ""
    return prefix + inside

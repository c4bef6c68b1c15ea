"""The law in force for a place on a day, ready to rule: what the rest of the world calls."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

from yokebook import adoption, front_door
from yokebook.graph import Graph, Thing
from yokebook.law import Candidate, InForce, Law
from yokebook.load.faults import Fault, RulebookFaults, suggest
from yokebook.model import Book, Question, Table
from yokebook.overview import could_answer
from yokebook.progress import Progress, nobody
from yokebook.ruling import Ruling, rule_on
from yokebook.session import Session
from yokebook.stated import session_on

if TYPE_CHECKING:
    from yokebook.decision import Decided, Decision
    from yokebook.flat.deciding import Fast
    from yokebook.proof.findings import Report
    from yokebook.sheet import Sheet


def code_in_force(
    book: Book, place: str, dates: Mapping[str, str], on: str | None, choices: Mapping[str, str], *, drafts: bool
) -> Code:
    """As `Rulebook.in_force`."""
    found = adoption.in_force_documents(book, place, dates, on, choices, drafts=drafts)
    office = book.places[place].office
    in_force = {kind: _line(book, kind, candidates, office) for kind, candidates in found.items()}
    return Code(book, in_force, place, dates, on, choices)


def code_of_edition(book: Book, document: str, edition: str) -> Code:
    """As `Rulebook.edition`."""
    from yokebook.editions import resolve_edition

    if document not in book.documents:
        found = f"there is no document `{document}`{suggest(document, book.documents)}"
        raise RulebookFaults([Fault("document", found)])
    its = book.documents[document]
    if edition not in its.editions:
        allowed = ", ".join(its.editions)
        found = f"`{document}` has no edition `{edition}` in this rulebook; it has {allowed}"
        raise RulebookFaults([Fault("edition", found)])
    law = Law(resolve_edition(book, document, edition), book)
    candidate = Candidate(f"{document} {edition}", "in force", law, "")
    return Code(book, {its.kind: InForce(its.kind, (candidate,))}, None, {}, None, {})


def _line(book: Book, kind: str, found: list[adoption.Candidate], office: str) -> InForce:
    candidates: list[Candidate] = []
    needs: dict[tuple[str, str, str, tuple[str, ...]], None] = {}
    for one in found:
        law = Law(one.resolved, book) if one.resolved is not None else None
        name = one.entry.id if one.entry is not None else "before the first entry"
        if one.adopting is not None and one.adopting is not one.entry:
            name = f"{name}: {one.adopting.id}"  # of a place followed, which may leave several entries possible
        if one.alternative is not None:
            name = f"{name}: {one.alternative}"
        if one.variant:
            name = f"{name}: {one.variant}"
        candidates.append(Candidate(name, one.state, law, one.reason, office))
        for need in one.needs:
            if isinstance(need, adoption.DateNeed):
                needs["date", need.event, f"What is the date of the {need.event}?", ()] = None
            else:
                needs["choice", need.id, need.asks, need.alternatives] = None
    return InForce(kind, tuple(candidates), tuple(needs))


@dataclass
class Code:
    """The law in force for one place and day (or one bare edition): rules, explains, and says what it can be asked."""

    book: Book
    in_force: Mapping[str, InForce]
    place: str | None
    dates: Mapping[str, str]
    on: str | None
    choices: Mapping[str, str]

    # ---- what can be asked ----------------------------------------------------------------------------------------

    @cached_property
    def _asked_of(self) -> dict[str, frozenset[str]]:
        """For each kind of document, the questions that it answers or, where nobody entered it, could answer."""
        by_kind: dict[str, frozenset[str]] = {}
        for kind, line in self.in_force.items():
            answered: set[str] = set()
            for candidate in line.candidates:
                if candidate.law is not None:
                    answered |= set(candidate.law.resolved.tables)
                elif candidate.state == "not entered":
                    answered |= could_answer(self.book, kind)
            by_kind[kind] = frozenset(answered)
        return by_kind

    def questions(self) -> list[Question]:
        """The questions that some document in force answers, by ruling number."""
        asked = {q for questions in self._asked_of.values() for q in questions}
        return sorted((self.book.questions[q] for q in asked), key=lambda q: (q.ruling, q.id))

    def kinds_for(self, question: str) -> list[str]:
        """The kinds of document in force that answer a question. Raises ValueError for an unknown question."""
        if question not in self.book.questions:
            raise ValueError(f"there is no question `{question}`{suggest(question, self.book.questions)}")
        return [kind for kind, asked in self._asked_of.items() if question in asked]

    def table(self, question: str, document: str | None = None) -> tuple[Table, Law]:
        """The resolved table that answers a question, with its law. Raises ValueError where no single one does."""
        kind = self.kind(question, document)
        laws = [c.law for c in self.in_force[kind].candidates if c.law is not None and c.law.answers(question)]
        if not laws:
            raise ValueError(f"no document in force has a table for `{question}`")
        if len(laws) > 1:
            entries = ", ".join(candidate.id for candidate in self.in_force[kind].candidates)
            raise ValueError(f"more than one entry may govern `{question}` ({entries}); give the dates")
        return laws[0].resolved.tables[question], laws[0]

    def kind(self, question: str, document: str | None = None) -> str:
        """The kind of document that answers a question, or that could where nobody entered it.

        Raises ValueError where none does, or several do and none is named.
        """
        kinds = self.kinds_for(question)
        if document is not None:
            for kind in kinds:
                laws = [c.law for c in self.in_force[kind].candidates if c.law is not None]
                if document == kind or any(law.resolved.document.id == document for law in laws):
                    return kind
            raise ValueError(f"`{document}` does not answer `{question}` here")
        if len(kinds) > 1:
            raise ValueError(f"several documents answer `{question}`; name one of {', '.join(kinds)}")
        if kinds:
            return kinds[0]
        could = [k for k in self.in_force if question in could_answer(self.book, k)]
        if could:
            return could[0]
        raise ValueError(f"no document in force here answers `{question}`")

    # ---- proof ------------------------------------------------------------------------------------------------------

    def check(self) -> Report:
        """Gaps, contradictions and the rest that can be found in the tables in force, each with a record of it."""
        from yokebook.proof.checking import check_code

        return check_code(self)

    # ---- ruling -----------------------------------------------------------------------------------------------------

    def graph(self, record: Mapping[str, Any] | Graph) -> Graph:
        """The record as a graph. Raises InputFaults with every fault of it."""
        return record if isinstance(record, Graph) else front_door.record_to_graph(record, self.book)

    def session(self, record: Mapping[str, Any] | Graph) -> Session:
        """A session on one record: rulings made in it share what they work out.

        Raises InputFaults for a bad record, and for a value stated that its other facts give otherwise.
        """
        return session_on(self.book, self.in_force, record)

    def rule(
        self,
        question: str,
        record: Mapping[str, Any] | Graph,
        document: str | None = None,
        subject: str | None = None,
    ) -> Ruling:
        """The ruling on one question for a flat record, or for the thing `subject` of a graph.

        Raises InputFaults for a bad record, ValueError where no document, or more than one, answers.
        """
        kind = self.kind(question, document)
        session = self.session(record)
        return rule_on(session, self.book.questions[question], self._thing(session.graph, question, subject), kind)

    def rule_all(
        self, question: str, record: Mapping[str, Any] | Graph, subject: str | None = None
    ) -> list[Ruling]:
        """One ruling for each document in force that answers. Raises InputFaults for a bad record."""
        session = self.session(record)
        thing = self._thing(session.graph, question, subject)
        return [rule_on(session, self.book.questions[question], thing, kind) for kind in self.kinds_for(question)]

    def explain(
        self,
        question: str,
        record: Mapping[str, Any] | Graph,
        document: str | None = None,
        subject: str | None = None,
    ) -> Ruling:
        """As `rule`, with every rule tried, what would change the outcome and the facts that are enough for it."""
        from yokebook.explain import explain_on  # as `Sheet` below, only for those who ask for it

        kind = self.kind(question, document)
        session = self.session(record)
        return explain_on(session, self.book.questions[question], self._thing(session.graph, question, subject), kind)

    def rule_project(
        self,
        project: Mapping[str, Any] | Graph,
        questions: list[str] | None = None,
        topics: Sequence[str] = (),
        progress: Progress = nobody,
    ) -> Sheet:
        """Every ruling that applies to a project: each question in force for each thing it is asked of.

        Questions with a topic are asked where their topic is named, or `all`; with `questions` just these are asked.
        `project` is nested data as in a project file, or a graph. `progress` is told before each ruling how many are
        made, and of how many. Raises InputFaults for a bad project.
        """
        from yokebook.sheet import Sheet

        graph = project if isinstance(project, Graph) else front_door.project_to_graph(project, self.book)
        session = self.session(graph)
        asked = self.asked_of(graph, questions, topics)
        rulings: list[Ruling] = []
        for question, thing, kind in asked:
            progress(len(rulings), len(asked))
            rulings.append(rule_on(session, question, thing, kind))
        return Sheet(rulings, session, self.place, dict(self.dates), self.on, dict(self.choices))

    def asked_of(
        self, graph: Graph, questions: Sequence[str] | None = None, topics: Sequence[str] = ()
    ) -> list[tuple[Question, Thing, str]]:
        """What `rule_project` asks of a project, in its order: each question, the thing that it is asked of, and the
        kind of document that answers it."""
        return [
            (question, thing, kind)
            for question, kind in self._wanted(questions, topics)
            for thing in graph.things[question.per]
            if thing.named
        ]

    def _wanted(self, questions: Sequence[str] | None, topics: Sequence[str]) -> list[tuple[Question, str]]:
        """What is asked of a project: each question with each kind of document that answers it."""
        wanted = [
            q
            for q in self.questions()
            if (q.id in questions if questions is not None else not q.topic or q.topic in topics or "all" in topics)
        ]
        return [(question, kind) for question in wanted for kind in self.kinds_for(question.id)]

    # ---- deciding ---------------------------------------------------------------------------------------------------

    @cached_property
    def _fast(self) -> Fast:
        from yokebook.flat.deciding import Fast

        return Fast(self.book, self.in_force)

    def decider(self, question: str, document: str | None = None) -> Callable[[Mapping[str, Any]], Decision]:
        """What decides one question for flat records: a function from a record to what `rule` would say of it, without
        reasons in words. It takes a millisecond or so for each new kind of record, and microseconds for one that it
        cannot tell from others it has seen.

        Raises ValueError where no document, or more than one, answers; the function raises InputFaults for a bad
        record.
        """
        kind = self.kind(question, document)
        return self._fast.records(self.book.questions[question], kind).decides

    def decide(
        self,
        question: str,
        record: Mapping[str, Any] | Graph,
        document: str | None = None,
        subject: str | None = None,
    ) -> Decision:
        """What `rule` would say, without reasons in words; `rule` gives them for the same record. Raises as `rule`."""
        if isinstance(record, Graph) or subject is not None:
            kind = self.kind(question, document)
            session = self.session(record)
            thing = self._thing(session.graph, question, subject)
            return self._fast.thing(session, self.book.questions[question], kind, thing)
        asked = (question, document)
        decider = self._deciders.get(asked)
        if decider is None:
            decider = self._deciders[asked] = self.decider(question, document)
        return decider(record)

    @cached_property
    def _deciders(self) -> dict[tuple[str, str | None], Callable[[Mapping[str, Any]], Decision]]:
        return {}

    def decide_project(
        self,
        project: Mapping[str, Any] | Graph,
        questions: list[str] | None = None,
        topics: Sequence[str] = (),
    ) -> list[Decided]:
        """What `rule_project` would rule, in the same order, without reasons in words, and many times faster.

        `rule` gives the reasons of any one of them. Raises InputFaults for a bad project.
        """
        graph = project if isinstance(project, Graph) else front_door.project_to_graph(project, self.book)
        session = Session(graph, self.book, self.in_force)
        return self._fast.project(session, self._wanted(questions, topics))

    def _thing(self, graph: Graph, question: str, subject: str | None) -> Thing:
        per = self.book.questions[question].per
        things = graph.things[per]
        if subject is not None:
            for thing in things:
                if thing.id == subject:
                    return thing
            hint = suggest(subject, [thing.id for thing in things])
            raise ValueError(f"`{question}` is asked per {per}, and no {per} is called `{subject}`{hint}")
        if len(things) != 1:
            raise ValueError(f"`{question}` is asked per {per}, and there are {len(things)}; name one")
        return things[0]

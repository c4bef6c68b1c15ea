"""The regions of rulebook/cases/: boxes of a table's inputs with the outcome that is due everywhere in them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from yokebook import adoption, editions, shipped
from yokebook.load.cells import Boxes
from yokebook.load.cells import Place as SeenFrom
from yokebook.load.common import check_id
from yokebook.load.faults import Fault, RulebookFaults, listed, suggest
from yokebook.load.fields import Fields
from yokebook.load.files import read_file
from yokebook.load.nodes import MappingNode, Node, Scalar, SequenceNode, kind_name
from yokebook.load.scope import Input, Scope, sees
from yokebook.model import At, Book, Question, Resolved
from yokebook.model.claimed import Claim
from yokebook.reach import names_in_expression

FOLDER = "cases"


def load_claims(root: Path | None, book: Book) -> list[Claim]:
    """Every region of the files in `cases/` of the rulebook in the folder `root`, or of the shipped one, in the order
    of the files. `book` is that rulebook, loaded.

    Raises RulebookFaults with every fault of every region.
    """
    folder = root if root is not None else shipped.folder("rulebook")
    name = (str(root) if root is not None else folder.name).rstrip("/")
    faults: list[Fault] = []
    found = (
        read_file(path, f"{name}/{path.relative_to(folder).as_posix()}", faults)
        for path in sorted((folder / FOLDER).rglob("*.yaml"))
    )
    claims = read_claims([node for node in found if node is not None], book, faults)
    if faults:
        raise RulebookFaults(faults)
    return claims


def read_claims(nodes: Sequence[Node], book: Book, faults: list[Fault]) -> list[Claim]:
    """The regions of files of cases, given as nodes. What is wrong is added to `faults`; a region with a fault is left
    out."""
    reader = _Reader(book, faults)
    return [claim for node in nodes if isinstance(node, MappingNode) for claim in reader.file(node)]


def scope_of(book: Book) -> Scope:
    """What the names of a loaded rulebook mean."""
    scope = Scope(questions=dict(book.questions), readings=dict(book.readings))
    scope.document_ids = frozenset(book.documents)
    scope.kinds_of_document = frozenset(document.kind for document in book.documents.values())
    for fact in book.facts.values():
        scope.add_fact(fact)
    for made in book.calculations.values():
        scope.inputs[made.id] = Input(made.id, made.entity, made.type, made.unit, tuple(made.values))
    for made in book.calculations.values():
        for name in names_in_expression(made.expression):
            used = None if name.startswith("value.") else scope.find(name, None)
            if used is not None and used.entity is not None and not sees(made.entity, used.entity):
                scope.through_lists.setdefault((made.entity, name), []).append(made.id)
    for (document, _), edition in book.editions.items():
        known = scope.values.setdefault(document, {})
        known.update((value.id, value.unit) for value in edition.values)
    return scope


class _Reader:
    """Reads regions, noting faults."""

    def __init__(self, book: Book, faults: list[Fault]) -> None:
        self.book = book
        self.faults = faults
        self.boxes = Boxes(scope_of(book), faults)
        self._taken: dict[str, At] = {}
        self._editions: dict[tuple[str, str], Resolved] = {}

    def file(self, root: MappingNode) -> Iterator[Claim]:
        """The regions of one file."""
        node = root.get("regions")
        if node is None:
            return
        if not isinstance(node, SequenceNode):
            self.faults.append(Fault(node.at, f"`regions` is a list of regions; found {kind_name(node)}"))
            return
        for item in node.items:
            fields = Fields.of(item, "a region", self.faults)
            before = len(self.faults)
            claim = None if fields is None else self._claim(fields)
            if claim is not None and len(self.faults) == before:
                yield claim

    def _claim(self, fields: Fields) -> Claim | None:
        claim_id = self._id(fields)
        says, source, section = fields.text("says"), fields.text("source"), fields.optional_text("section")
        asked = fields.text("question")
        question = self.book.questions.get(asked)
        document, place = fields.optional_text("document"), fields.optional_text("place")
        bare = fields.texts("editions", "editions", required=False)
        dates, choices = self._pairs(fields, "dates"), self._pairs(fields, "choices")
        where, but_not = fields.required("where"), fields.optional("but_not")
        if question is None:
            fields.required("expect")
            fields.finish()
            if asked:
                hint = suggest(asked, self.book.questions)
                fields.fault(fields.value_at("question"), f"there is no question `{asked}`{hint}")
            return None
        expect = fields.word("expect", question.outcomes, f"an outcome of `{question.id}`")
        fields.finish()
        if place is None:
            laws = self._bare(fields, document, bare, question)
        else:
            laws = self._in_place(fields, place, dates, choices, question, document)
        seen_from = SeenFrom(question.per, laws[0].document.id if laws else None)
        claim = Claim(
            id=claim_id,
            says=says,
            source=source,
            section=section,
            question=question.id,
            document=document,
            editions=tuple(edition for edition, _ in bare),
            place=place,
            dates=dates,
            choices=choices,
            where=({},) if where is None else self.boxes.boxes(where, seen_from, "`where`"),
            but_not=() if but_not is None else self.boxes.boxes(but_not, seen_from, "`but_not`"),
            expect=expect,
            at=fields.at,
        )
        self._numbers_set([node for node in (where, but_not) if node is not None], laws)
        return claim

    def _id(self, fields: Fields) -> str:
        name = fields.text("id")
        if not name:
            return name
        fields.what = f"the region `{name}`"
        check_id(name, "a region", fields.value_at("id"), fields)
        first = self._taken.setdefault(name, fields.value_at("id"))
        if first != fields.value_at("id"):
            fields.fault(fields.value_at("id"), f"the region id `{name}` is taken already, at {first}")
        return name

    def _pairs(self, fields: Fields, key: str) -> dict[str, str]:
        """Texts by name, under `dates` or `choices`."""
        found: dict[str, str] = {}
        for entry in fields.entries(key, "texts", required=False):
            if isinstance(entry.value, Scalar) and not entry.value.is_null:
                found[entry.key.text] = entry.value.text
            else:
                fault = f"`{entry.key.text}` in `{key}` of {fields.what} is text; found {kind_name(entry.value)}"
                fields.fault(entry.key.at, fault)
        return found

    # ---- under which laws -----------------------------------------------------------------------------------------

    def _bare(
        self, fields: Fields, document: str | None, bare: Sequence[tuple[str, At]], question: Question
    ) -> list[Resolved]:
        """The bare editions that a region names, as far as they are there and have the table."""
        for key in ("dates", "choices"):
            if fields.has(key):
                fields.fault(fields.key_at(key), f"`{key}` means nothing without a `place`")
        if document is None or not bare:
            fault = f"{fields.what} names a `place` with `dates`, or a `document` with a list of its `editions`"
            fields.fault(fields.at, fault)
            return []
        known = [edition for its, edition in self.book.editions if its == document]
        if not known:
            fault = f"there is no document `{document}`{suggest(document, self.book.documents)}"
            fields.fault(fields.value_at("document"), fault)
            return []
        laws: list[Resolved] = []
        for edition, at in bare:
            if edition not in known:
                fields.fault(at, f"`{document}` has no edition `{edition}` here; there are {listed(known)}")
                continue
            law = self._edition(document, edition)
            if question.id in law.tables:
                laws.append(law)
            else:
                fields.fault(at, f"`{document}` {edition} has no table for `{question.id}`")
        return laws

    def _edition(self, document: str, edition: str) -> Resolved:
        if (document, edition) not in self._editions:
            self._editions[document, edition] = editions.resolve_edition(self.book, document, edition)
        return self._editions[document, edition]

    def _in_place(
        self,
        fields: Fields,
        place: str,
        dates: Mapping[str, str],
        choices: Mapping[str, str],
        question: Question,
        document: str | None,
    ) -> list[Resolved]:
        """The one document in force that answers; nothing, with a fault, where there is none or no single one."""
        if fields.has("editions"):
            fields.fault(fields.key_at("editions"), "`editions` cannot stand beside `place`: its dates say which")
        try:
            found = adoption.in_force_documents(self.book, place, dates, None, choices)
        except RulebookFaults as wrong:
            for fault in wrong.faults:
                fields.fault(self._place_of(fields, fault), fault.message)
            return []
        at = fields.value_at("place")
        answering = {
            kind: candidates for kind, candidates in found.items() if _answer(candidates, question.id, document)
        }
        if len(answering) > 1:
            which = f"several documents in force answer `{question.id}`; name one under `document`"
            fields.fault(fields.value_at("question"), f"{which}: {listed(answering)}")
            return []
        if not answering:
            fields.fault(at, f"no document in force there on these dates has a table for `{question.id}`")
            return []
        (candidates,) = answering.values()
        if len(candidates) > 1:
            fields.fault(at, "these dates and choices leave more than one entry possible; give those that settle it")
            return []
        return [candidate.resolved for candidate in candidates if candidate.resolved is not None]

    def _place_of(self, fields: Fields, fault: Fault) -> At:
        """Where in the region a fault of its place, a date or a choice is."""
        if isinstance(fault.at, At):
            return fields.value_at("place")
        key, _, name = fault.at.partition(".")
        inner = fields.node.get(key)
        if isinstance(inner, MappingNode) and name in inner.entries:
            return inner.entries[name].value.at
        return fields.value_at(key)

    def _numbers_set(self, nodes: Sequence[Node], laws: Sequence[Resolved]) -> None:
        """A fault for each named number in the boxes that a law does not set."""
        for scalar in (scalar for node in nodes for scalar in _scalars(node)):
            name = scalar.text.removeprefix("value.")
            missing = [law for law in laws if name not in law.values]
            if name != scalar.text and missing and not any(fault.at == scalar.at for fault in self.faults):
                its = f"{missing[0].document.id} {missing[0].edition}"
                self.faults.append(Fault(scalar.at, f"{its} does not set `{scalar.text}`"))


def _answer(candidates: Sequence[adoption.Candidate], question: str, document: str | None) -> bool:
    """Whether one of the ways in which a kind of document may stand answers a question as this document."""
    return any(
        each.resolved is not None
        and question in each.resolved.tables
        and document in (None, each.resolved.document.id, each.resolved.document.kind)
        for each in candidates
    )


def _scalars(node: Node) -> Iterator[Scalar]:
    if isinstance(node, Scalar):
        yield node
    elif isinstance(node, SequenceNode):
        for item in node.items:
            yield from _scalars(item)
    else:
        for entry in node.entries.values():
            yield from _scalars(entry.value)

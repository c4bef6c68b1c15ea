"""rulebook/questions/, readings/, documents/ and cautions.yaml."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Literal, TypeVar, cast

from yokebook.entities import KINDS, Kind
from yokebook.load.common import check_id, cite_of, words_of
from yokebook.load.faults import Fault, listed, suggest
from yokebook.load.fields import Fields
from yokebook.load.nodes import Entry, Node
from yokebook.model import Alternative, Document, Question, Reading

_T = TypeVar("_T")

STANDINGS = ("published", "argued")


@dataclass(frozen=True)
class DocumentFile:
    """A document and the folder that its editions' folders are in."""

    document: Document
    folder: str


def read_each(
    root: Node, key: str, what: str, faults: list[Fault], known: dict[str, _T], make: Callable[[Fields, Entry], _T]
) -> None:
    """Reads a file `KEY: {id: …, id: …}` into `known`; an id that `known` has already is a fault."""
    fields = Fields.of(root, f"a {key} file", faults)
    if fields is None:
        return
    for entry in fields.entries(key, key):
        inner = Fields.of(entry.value, f"the {what} `{entry.key.text}`", faults)
        if inner is None:
            continue
        check_id(entry.key.text, f"a {what}", entry.key.at, inner)
        made = make(inner, entry)
        inner.finish()
        if entry.key.text in known:
            faults.append(Fault(entry.key.at, f"the {what} `{entry.key.text}` is declared already"))
        else:
            known[entry.key.text] = made
    fields.finish()


def question(fields: Fields, entry: Entry) -> Question:
    """One question."""
    outcomes = words_of(fields, "outcomes", "outcomes and their trade words")
    return Question(
        id=entry.key.text,
        ruling=fields.text("ruling"),
        asks=fields.text("asks"),
        per=cast(Kind, fields.word("per", KINDS, "a kind of thing")),
        outcomes=outcomes,
        against=_some_of(fields, "against", outcomes),
        at=entry.key.at,
        idle=_some_of(fields, "idle", outcomes),
        topic=fields.text("topic", ""),
    )


def _some_of(fields: Fields, key: str, outcomes: dict[str, str]) -> frozenset[str]:
    chosen = fields.texts(key, "outcomes", required=False)
    for word, at in chosen:
        if word not in outcomes:
            fields.fault(
                at,
                f"`{word}` in `{key}` is no outcome of {fields.what}{suggest(word, outcomes)}; "
                f"allowed: {listed(outcomes)}",
            )
    return frozenset(word for word, _ in chosen)


def document(fields: Fields, entry: Entry) -> DocumentFile:
    """One document."""
    made = Document(
        id=entry.key.text,
        kind=fields.text("kind"),
        title=fields.text("title"),
        publisher=fields.text("publisher"),
        editions=tuple(edition for edition, _ in fields.texts("editions", "editions")),
        at=entry.key.at,
    )
    folder = fields.text("folder", entry.key.text)
    if folder.startswith(("/", ".")) or ".." in folder.split("/") or "\\" in folder:
        fields.fault(
            fields.value_at("folder"), f"`{folder}` must be a folder inside the rulebook, such as `electrical`"
        )
        folder = "/".join(part for part in folder.replace("\\", "/").split("/") if part.strip("."))
    return DocumentFile(made, folder)


def reading(documents: Mapping[str, DocumentFile]) -> Callable[[Fields, Entry], Reading]:
    """A reader of one reading that knows the documents."""

    def read(fields: Fields, entry: Entry) -> Reading:
        alternatives = {
            inner.key.text: _alternative(inner, fields) for inner in fields.entries("alternatives", "alternatives")
        }
        if len(alternatives) < 2:
            fields.fault(fields.value_at("alternatives"), f"{fields.what} needs at least two alternatives")
        cite = cite_of(fields, documents)
        editions = fields.texts("editions", "editions", required=False)
        known = documents[cite.document].document.editions if cite.document in documents else ()
        for edition, at in editions:
            if known and edition not in known:
                fields.fault(at, f"`{cite.document}` has no edition `{edition}`; allowed: {listed(known)}")
        return Reading(
            id=entry.key.text,
            cite=cite,
            editions=tuple(edition for edition, _ in editions),
            asks=fields.text("asks"),
            plain=fields.word("plain", alternatives, "an alternative") if alternatives else fields.text("plain"),
            plain_because=fields.text("plain_because"),
            alternatives=alternatives,
            at=entry.key.at,
        )

    return read


def _alternative(entry: Entry, reading: Fields) -> Alternative:
    fields = Fields.of(entry.value, f"the alternative `{entry.key.text}`", reading.faults)
    if fields is None:
        return Alternative(entry.key.text, "", "argued", "", "")
    made = Alternative(
        id=entry.key.text,
        says=fields.text("says"),
        standing=cast(Literal["published", "argued"], fields.word("standing", STANDINGS, "a standing")),
        holders=fields.text("holders"),
        source=fields.text("source"),
    )
    fields.finish()
    return made


def cautions(root: Node, faults: list[Fault]) -> tuple[str, ...]:
    """The sentences of cautions.yaml."""
    fields = Fields.of(root, "cautions.yaml", faults)
    if fields is None:
        return ()
    sentences = tuple(text for text, _ in fields.texts("cautions", "sentences"))
    fields.finish()
    return sentences

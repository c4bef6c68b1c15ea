"""What the rulebook holds, as data for lists: questions, facts, documents, places with their lines of time."""

from __future__ import annotations

from typing import Any

from yokebook.adoption import line_events
from yokebook.canonical import digest, encode
from yokebook.entities import KINDS
from yokebook.model import (
    Adopts,
    Amendment,
    Book,
    Calculation,
    Document,
    Entry,
    Fact,
    Layer,
    NotEntered,
    Place,
    Question,
)
from yokebook.overview import questions_named
from yokebook.parts_of_ruling import cite_data
from yokebook_adapters.service.problems import Problem

_OF_THE_BOOK = (
    "questions", "facts", "impossible", "calculations", "readings", "documents", "editions", "places", "cautions",
)  # fmt: skip


def book_digest(book: Book) -> str:
    """SHA-256 of all that the rulebook holds, wording included, in hex; where it stands on disk is not in it."""
    return digest(encode({part: getattr(book, part) for part in _OF_THE_BOOK}))


def question_data(question: Question) -> dict[str, Any]:
    """One question."""
    return {
        "id": question.id,
        "ruling": question.ruling,
        "asks": question.asks,
        "per": question.per,
        "outcomes": dict(question.outcomes),
        "against": [word for word in question.outcomes if word in question.against],
        "idle": [word for word in question.outcomes if word in question.idle],
        "topic": question.topic,
    }


def questions_data(book: Book) -> list[dict[str, Any]]:
    """Every question, by ruling number."""
    return [question_data(q) for q in sorted(book.questions.values(), key=lambda q: (q.ruling, q.id))]


def facts_data(book: Book) -> list[dict[str, Any]]:
    """Everything that a record can state: facts, then what is computed from them, by the kind of thing."""
    found = [_fact(fact, computed=False) for fact in book.facts.values()]
    found += [_fact(calculation, computed=True) for calculation in book.calculations.values()]
    return sorted(found, key=lambda fact: KINDS.index(fact["of"]))


def _fact(fact: Fact | Calculation, *, computed: bool) -> dict[str, Any]:
    return {
        "id": fact.id,
        "of": fact.entity,
        "type": fact.type,
        "says": fact.says,
        "asks": fact.asks,
        "look": fact.look,
        "values": dict(fact.values) or None,
        "unit": fact.unit,
        "computed": computed,
    }


def documents_data(book: Book) -> list[dict[str, Any]]:
    """Every document with its editions, by kind."""
    return [_document(document) for document in sorted(book.documents.values(), key=lambda d: (d.kind, d.id))]


def _document(document: Document) -> dict[str, Any]:
    return {
        "id": document.id,
        "kind": document.kind,
        "title": document.title,
        "publisher": document.publisher,
        "editions": list(document.editions),
    }


def places_data(book: Book) -> list[dict[str, Any]]:
    """Every place, by id."""
    return [_head(place) for place in sorted(book.places.values(), key=lambda place: place.id)]


def _head(place: Place) -> dict[str, Any]:
    return {
        "id": place.id,
        "name": place.name,
        "within": place.within,
        "office": place.office,
        "demo": place.demo,
    }


def place_data(book: Book, place: Place) -> dict[str, Any]:
    """One place with its line of time for each kind of document, and its amendments."""
    return {
        **_head(place),
        "events": list(line_events(book, place.id)),
        "lines": {kind: [_entry(entry) for entry in line] for kind, line in place.lines.items()},
        "layers": [_layer(layer) for layer in place.layers.values()],
    }


def _entry(entry: Entry) -> dict[str, Any]:
    return {
        "id": entry.id,
        "event": entry.event,
        "on_or_after": entry.on_or_after,
        "state": _state(entry),
        "adopts": _adopts(entry.adopts) if entry.adopts is not None else None,
        "follows": entry.follows,
        "layers": list(entry.layers),
        "amendments": entry.amendments,
        "reason": entry.none_in_force or entry.not_entered or "",
        "choice": _choice(entry),
        "says": entry.says,
        "source": entry.source,
    }


def _state(entry: Entry) -> str:
    states = {
        "adopts": entry.adopts is not None,
        "follows": entry.follows is not None,
        "none in force": entry.none_in_force is not None,
        "not entered": entry.not_entered is not None,
        "choice": entry.choice is not None,
    }
    return next(state for state, holds in states.items() if holds)


def _adopts(adopts: Adopts) -> dict[str, Any]:
    return {
        "document": adopts.document,
        "edition": adopts.edition,
        "layers": list(adopts.layers),
        "amendments": adopts.amendments,
    }


def _choice(entry: Entry) -> dict[str, Any] | None:
    if entry.choice is None:
        return None
    alternatives = {
        name: None if isinstance(taken, NotEntered) else _adopts(taken) for name, taken in entry.choice.items()
    }
    return {"id": entry.choice_id, "asks": entry.choice_asks, "alternatives": alternatives}


def _layer(layer: Layer) -> dict[str, Any]:
    return {"id": layer.id, "amendments": [_amendment(amendment) for amendment in layer.amendments]}


def _amendment(amendment: Amendment) -> dict[str, Any]:
    return {
        "id": amendment.id,
        "says": amendment.says,
        "cite": cite_data(amendment.cite),
        "checked": {"mark": amendment.checked.mark, "source": amendment.checked.source},
        "ops": [{"op": op.op, "target": op.target} for op in amendment.ops],
    }


def one_question(book: Book, name: str) -> Question:
    """The question of this id, or of a ruling number that only one question has. Raises Problem."""
    found = questions_named(book, name)
    if len(found) != 1:
        several = ", ".join(f"`{question.id}`" for question in found)
        detail = f"several questions are {name}: {several}" if found else "see GET /v1/questions for the ids"
        raise Problem("not-found", "There is no such question.", [{"parameter": "question", "detail": detail}])
    return found[0]

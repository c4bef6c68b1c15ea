"""What one knows of a rulebook only once all of it was read: events, choices, answers taken, who answers what.

A book from a pack has it ready; of any other each is gathered when it is asked for.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from yokebook.adopted_layers import find_layer, layers_named
from yokebook.model import Book, Entry, Overview, Place, Question
from yokebook.reach import answer_named, names_in_expression, names_in_rule


def overview(book: Book) -> Overview:
    """All of it."""
    asked_of = {kind: could_answer(book, kind) for kind in dict.fromkeys(d.kind for d in book.documents.values())}
    return Overview(all_events(book), all_choices(book), answers_taken(book), asked_of)


def all_events(book: Book) -> tuple[str, ...]:
    """The events that the line of some place, or a layer in one, goes by, in file order."""
    if book.worked_out is not None:
        return book.worked_out.overview.events
    return tuple(dict.fromkeys(event for place, entry in _entries(book) for event in events_of(book, place, entry)))


def events_of(book: Book, place: Place, entry: Entry) -> Iterator[str]:
    """The events whose dates decide on an entry or on the layers that it names."""
    if entry.event is not None:
        yield entry.event
    for name in layers_named(entry):
        found = find_layer(book, place, name)
        if found is not None and found[1].window is not None:
            yield found[1].window.event


def all_choices(book: Book) -> Mapping[str, tuple[str, ...]]:
    """The alternatives of each choice that a line leaves; where several places leave a choice of one name, those of
    all of them."""
    if book.worked_out is not None:
        return book.worked_out.overview.choices
    found: dict[str, dict[str, None]] = {}
    for _, entry in _entries(book):
        if entry.choice_id:
            found.setdefault(entry.choice_id, {}).update(dict.fromkeys(entry.choice or ()))
    return {name: tuple(alternatives) for name, alternatives in found.items()}


def _entries(book: Book) -> Iterator[tuple[Place, Entry]]:
    for place in book.places.values():
        for line in place.lines.values():
            for entry in line:
                yield place, entry


def answers_taken(book: Book) -> tuple[str, ...]:
    """The names `answer.KIND.QUESTION` by which a table or calculation takes an answer from another kind of
    document."""
    if book.worked_out is not None:
        return book.worked_out.overview.answers
    names: set[str] = set()
    for edition in book.editions.values():
        names.update(name for table in edition.tables for rule in table.rules for name in names_in_rule(rule))
    for calculation in book.calculations.values():
        names.update(names_in_expression(calculation.expression))
    found = ((name, answer_named(name, book)) for name in sorted(names))
    return tuple(name for name, answer in found if answer is not None and answer[0] is not None)


def could_answer(book: Book, kind: str) -> frozenset[str]:
    """The questions that some edition of some document of this kind answers."""
    if book.worked_out is not None:
        return book.worked_out.overview.asked_of.get(kind, frozenset())
    documents = {document.id for document in book.documents.values() if document.kind == kind}
    return frozenset(
        table.question
        for (document, _), edition in book.editions.items()
        if document in documents
        for table in edition.tables
    )


def questions_named(book: Book, name: str) -> list[Question]:
    """The questions with this id or ruling number; none is an empty list."""
    return [question for question in book.questions.values() if name == question.id or name.upper() == question.ruling]

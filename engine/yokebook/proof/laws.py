"""Every law of a rulebook that can govern: each edition bare, and each adoption of each entry of each place."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from yokebook import adoption, editions
from yokebook.code import Code
from yokebook.law import Candidate, InForce, Law
from yokebook.layers import adopted_here
from yokebook.load.faults import RulebookFaults
from yokebook.model import Adopts, Book, Entry, Place, Resolved
from yokebook.proof.elements import Space


@dataclass(frozen=True)
class Standing:
    """One document as it stands in one law: its name for people, and the documents in force beside it.

    `steps` are the names by which rules say that this law's own text wrote them: the edition, or the amendments of its
    layers. `below` is the law that its layers amend, None for a bare edition.
    """

    name: str
    law: Law
    in_force: Mapping[str, InForce]
    steps: frozenset[str]
    below: Law | None = None
    place: Place | None = None
    entry: Entry | None = None
    adopts: Adopts | None = None

    @property
    def layered(self) -> bool:
        """Whether amendments are over the edition."""
        return bool(self.law.resolved.amendments)

    spaces: dict[tuple[str, bool], Space] = field(default_factory=dict, repr=False, compare=False)


def bare_editions(book: Book) -> Iterator[Standing]:
    """Each edition of each document by itself."""
    for document, edition in book.editions:
        law = Law(editions.resolve_edition(book, document, edition), book)
        yield _bare(law, f"{document} {edition}")


def _bare(law: Law, name: str) -> Standing:
    in_force = InForce(law.kind, (Candidate(name, "in force", law, ""),))
    return Standing(name, law, {law.kind: in_force}, frozenset({name}))


def place_laws(book: Book, only: frozenset[str] | None = None) -> Iterator[Standing]:
    """What each entry of each place (of those in `only`) adopts. Entries that follow another place and put no layer of
    their own over it are left out: what they put in force is checked there."""
    for place in book.places.values():
        if only is not None and place.id not in only:
            continue
        for kind, line in place.lines.items():
            for entry in line:
                for adopts in adopted_here(book, place, kind, entry):
                    yield from _entry_laws(book, place, kind, entry, adopts)


def _entry_laws(book: Book, place: Place, kind: str, entry: Entry, adopts: Adopts) -> Iterator[Standing]:
    day = entry.on_or_after or "0001-01-01"
    try:
        resolved = adoption.resolve_adoption(book, place, entry, adopts, drafts=True)
        below = adoption.resolve_adoption(book, place, entry, _without_layers(adopts), drafts=True)
        beside = adoption.in_force_documents(book, place.id, {}, day, {}, drafts=True)
    except RulebookFaults:
        return  # told by whoever loads or resolves the rulebook
    law = Law(resolved, book)
    in_force = {name: _first(book, name, found) for name, found in beside.items() if name != kind}
    in_force[kind] = InForce(kind, (Candidate(entry.id, "in force", law, ""),))
    own = frozenset(amendment.id for amendment in resolved.amendments)
    name = f"{place.id} {entry.id}"
    yield Standing(name, law, in_force, own, Law(below, book), place, entry, adopts)


def _without_layers(adopts: Adopts) -> Adopts:
    return Adopts(adopts.document, adopts.edition, (), adopts.amendments)


def _first(book: Book, kind: str, found: list[adoption.Candidate]) -> InForce:
    """The first of the ways in which another document may stand that day: enough to show that a record can be."""
    first = found[0]
    law = Law(first.resolved, book) if first.resolved is not None else None
    return InForce(kind, (Candidate("one of these", first.state, law, first.reason),))


def of_code(code: Code) -> Iterator[Standing]:
    """The laws of one code: of each kind of document, every entry that its dates leave possible."""
    for line in code.in_force.values():
        for candidate in line.candidates:
            if candidate.law is not None:
                resolved = candidate.law.resolved
                yield Standing(
                    _name(resolved, candidate),
                    candidate.law,
                    {**code.in_force, line.kind: InForce(line.kind, (candidate,))},
                    frozenset(a.id for a in resolved.amendments) or frozenset({candidate.id}),
                    _below(code.book, resolved),
                )


def _name(resolved: Resolved, candidate: Candidate) -> str:
    return candidate.id if resolved.place is None else f"{resolved.place} {candidate.id}"


def _below(book: Book, resolved: Resolved) -> Law | None:
    if resolved.place is None:
        return None
    return Law(editions.resolve_edition(book, resolved.document.id, resolved.edition), book)

"""Calculations, conditions and answers that hang on themselves, across documents too."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from yokebook.editions import resolve_edition
from yokebook.layers import apply_layer, layer_uses
from yokebook.load.faults import Fault, RulebookFaults
from yokebook.model import At, Book, Resolved
from yokebook.reach import answer_named, names_in_boxes, names_in_expression, names_in_rule


@dataclass
class _Needs:
    """What each name needs, and where that is written. Answers of another kind of document keep that kind in front."""

    edges: dict[str, dict[str, At]] = field(default_factory=dict)

    def add(self, name: str, needed: str, at: At) -> None:
        self.edges.setdefault(name, {}).setdefault(needed, at)

    def joined(self, other: _Needs) -> _Needs:
        """Both together."""
        both = _Needs({name: dict(needed) for name, needed in self.edges.items()})
        for name, needed in other.edges.items():
            for each, at in needed.items():
                both.add(name, each, at)
        return both


def cycle_faults(book: Book) -> list[Fault]:
    """A fault for each circle of names that need each other: calculations and conditions by themselves, with the
    answers of one document as it stands, and with the answers of other kinds of document."""
    alone = _of_book(book)
    found = _circles(alone)
    by_kind: dict[str, _Needs] = {}
    for resolved in _texts(book):
        answers = _of_document(resolved, book)
        found.update({key: fault for key, fault in _circles(alone.joined(answers)).items() if key not in found})
        kind = resolved.document.kind
        by_kind[kind] = by_kind.get(kind, _Needs()).joined(answers)
    across = _across(alone, by_kind)
    crossing = {key: fault for key, fault in _circles(across).items() if len(_kinds_in(key)) > 1}
    return [*found.values(), *crossing.values()]


def _of_book(book: Book) -> _Needs:
    needs = _Needs()
    for calculation in book.calculations.values():
        for name in names_in_expression(calculation.expression):
            needs.add(calculation.id, name, calculation.at)
    for fact in book.facts.values():
        for name in () if fact.applies_when is None else names_in_boxes([fact.applies_when]):
            needs.add(fact.id, name, fact.at)
    return needs


def _of_document(resolved: Resolved, book: Book) -> _Needs:
    needs = _Needs()
    for question, table in resolved.tables.items():
        for rule in table.rules:
            for name in names_in_rule(rule):
                answer = answer_named(name, book)
                own = answer is not None and answer[0] == resolved.document.kind
                needs.add(f"answer.{question}", f"answer.{answer[1]}" if answer and own else name, rule.at)
    return needs


def _texts(book: Book) -> Iterator[Resolved]:
    """Every edition by itself, and with each layer that an entry puts on it."""
    for document, edition in book.editions:
        yield resolve_edition(book, document, edition)
    for use, faults in layer_uses(book):
        if not faults:
            try:
                yield apply_layer(book, use.below, use.layer, drafts=True)
            except RulebookFaults:
                continue  # layer_faults reports it


def _across(alone: _Needs, by_kind: Mapping[str, _Needs]) -> _Needs:
    """All kinds of document in one: each name with the kind of document that it is worked out for in front."""
    whole = _Needs()
    for kind, answers in by_kind.items():
        for name, needed in alone.joined(answers).edges.items():
            for each, at in needed.items():
                whole.add(f"{kind}: {name}", _in_kind(each, kind, by_kind), at)
    return whole


def _in_kind(name: str, kind: str, by_kind: Mapping[str, _Needs]) -> str:
    for other in by_kind:
        if name.startswith(f"answer.{other}."):
            return f"{other}: answer.{name.removeprefix(f'answer.{other}.')}"
    return f"{kind}: {name}"


def _kinds_in(circle: tuple[str, ...]) -> set[str]:
    return {name.partition(": ")[0] for name in circle}


def _circles(needs: _Needs) -> dict[tuple[str, ...], Fault]:
    """One circle for each knot of names, by its names from the first in alphabetical order."""
    found: dict[tuple[str, ...], Fault] = {}
    done: set[str] = set()
    for start in sorted(needs.edges):
        path: list[str] = []
        waiting: list[tuple[str, Iterator[str]]] = []
        name: str | None = start
        while name is not None or waiting:
            if name is not None and name not in done:
                if name in path:
                    circle = _from_first(path[path.index(name) :])
                    found.setdefault(circle, _fault(circle, needs))
                else:
                    path.append(name)
                    waiting.append((name, iter(sorted(needs.edges.get(name, ())))))
            name = next(waiting[-1][1], None) if waiting else None
            if name is None and waiting:
                done.add(waiting.pop()[0])
                path.pop()
    return found


def _from_first(circle: list[str]) -> tuple[str, ...]:
    first = circle.index(min(circle))
    return tuple(circle[first:] + circle[:first])


def _fault(circle: tuple[str, ...], needs: _Needs) -> Fault:
    after = (*circle[1:], circle[0])
    told = ", which needs ".join(f"`{name}`" for name in after)
    return Fault(needs.edges[circle[0]][after[0]], f"`{circle[0]}` needs {told}: nothing can hang on itself")

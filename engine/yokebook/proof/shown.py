"""Regions and records as people read them, and as data."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from yokebook.entities import PARENT, REFERENCE, REFERENCES, Kind
from yokebook.graph import Thing
from yokebook.model import Book, Value
from yokebook.proof.cover import Region
from yokebook.proof.elements import Space
from yokebook.proof.realise import Realised, a_value
from yokebook.showing import show_span, show_value, unit_of
from yokebook.values import NA, NotApplicable, Range, Some, Span, in_order

#: Past this many words it is shorter to say which are left out.
_MANY_WORDS = 6


def region_data(space: Space, region: Region) -> list[dict[str, str]]:
    """A region as `[{"input": name, "is": words}]`, inputs that may have any value left out."""
    every = dict(zip(space.names, space.elements, strict=True))
    return [
        {"input": name, "is": spans_words(spans, every[name], unit_of(space.book, name))}
        for name, spans in space.spans(region).items()
    ]


def spans_words(spans: Sequence[Span], every: Sequence[Span], unit: str | None) -> str:
    """Some of the values of an input as words: `controlled`, `left or right`, `not lamp`, `at most 20 A`."""
    words = [v for span in spans if isinstance(span, Some) for v in in_order(span.values)]
    left_out = [v for span in every if isinstance(span, Some) for v in in_order(span.values) if v not in words]
    parts: list[str] = []
    if len(words) > _MANY_WORDS and 0 < len(left_out) < len(words):
        parts.append(f"not {' or '.join(show_value(v, unit) for v in left_out)}")
    else:
        parts += [show_value(v, unit) for v in words]
    parts += [show_span(span, unit) for span in spans if isinstance(span, Range)]
    if NA in spans:
        parts.append("not applicable")
    return " or ".join(parts)


def point_of(space: Space, region: Region) -> dict[str, Value | NotApplicable]:
    """One value of each input in a region: the first word, or a round number well inside."""
    point: dict[str, Value | NotApplicable] = {}
    for i, name in enumerate(space.names):
        low = region[i] & -region[i]
        span = space.elements[i][low.bit_length() - 1]
        point[name] = NA if isinstance(span, NotApplicable) else a_value(span)
    return point


def point_data(book: Book, point: Mapping[str, Value | NotApplicable]) -> dict[str, str]:
    """A point's values as text by input."""
    return {
        name: "not applicable" if isinstance(value, NotApplicable) else show_value(value, unit_of(book, name))
        for name, value in point.items()
    }


def record_data(book: Book, found: Realised) -> dict[str, object]:
    """A record that was found, as data: whose facts, and the readings under which it is ruled."""
    return {
        "subject": found.subject.id,
        "facts": [
            {"subject": thing.id, "fact": name, "value": show_value(value, unit_of(book, name))}
            for thing, name, value in found.facts
        ],
        "readings": dict(sorted(found.readings.items())),
        "outcome": found.outcome.word,
    }


def project_data(book: Book, found: Realised) -> dict[str, object]:
    """The building of a record that was found as nested project data, which the front door takes."""
    facts: dict[str, dict[str, object]] = {}
    for thing, name, value in found.facts:
        key = name.partition(".")[2] if not name.startswith("answer.") else name
        facts.setdefault(f"{thing.kind} {thing.id}", {})[key] = _written(book, name, value)
    project = found.graph.project

    def of(thing: Thing) -> dict[str, object]:
        own: dict[str, object] = {} if thing is project else {"id": thing.id.rpartition("/")[2]}
        own |= facts.get(f"{thing.kind} {thing.id}", {})
        for name in REFERENCE.get(thing.kind, {}):
            if name in thing.refs:
                there = thing.refs[name]
                own[name] = "none" if there is None else there.id.rpartition("/")[2]
        for name in REFERENCES.get(thing.kind, {}):
            own[name] = [each.id for each in thing.many.get(name, [])]
        for kind, (parent, name) in PARENT.items():
            if parent == thing.kind and kind not in _TOP:
                own[name] = [of(each) for each in thing.many.get(name, [])]
        return own

    nested = of(project)
    spaces = nested.pop("spaces", [])
    top = {name: [of(each) for each in project.many.get(name, [])] for name in _TOP.values()}
    return {"project": nested, "complete": True, "spaces": spaces, **top}


#: Kinds that a project lists at its top, not inside another thing.
_TOP: dict[Kind, str] = {"control": "controls", "circuit": "circuits", "load": "loads"}


def _written(book: Book, name: str, value: Value) -> object:
    """A value as a project file has it: numbers with their unit as text."""
    if isinstance(value, bool | str):
        return value
    unit = unit_of(book, name)
    return show_value(value, unit) if unit is not None else int(value) if value.denominator == 1 else float(value)

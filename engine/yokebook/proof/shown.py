"""Regions and records as people read them, and as data."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

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

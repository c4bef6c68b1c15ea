"""What a flat record says, in the words in which it was asked for."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from yokebook.entities import KIND_OF_PREFIX, REFERENCE
from yokebook.graph import Graph
from yokebook.model import Book
from yokebook.showing import show_value, unit_of
from yokebook_adapters.one_record import put


def given_in_words(record: Mapping[str, Any], graph: Graph, book: Book) -> list[dict[str, str]]:
    """For each key of the record in its order: the key (`fact`), what it answers (`asks`), and the answer (`shows`)."""
    return [{"fact": key, **_said(key, graph, book)} for key, value in record.items() if value is not None]


def _said(key: str, graph: Graph, book: Book) -> dict[str, str]:
    prefix, _, rest = key.partition(".")
    thing = graph.things[KIND_OF_PREFIX[prefix]][0] if prefix in KIND_OF_PREFIX else graph.project
    if key in thing.given:
        term = book.facts.get(key) or book.calculations.get(key)
        value = thing.given[key]
        words = term.values.get(value) if term is not None and isinstance(value, str) else None
        shows = words or show_value(value, unit_of(book, key))
        return {"asks": (term.asks or term.says) if term is not None else key, "shows": shows}
    list_name = rest.removesuffix(".complete")
    if list_name in thing.complete:
        asked = put({"kind": "list", "fact": key}, len(thing.list_of(list_name)[0]))
        assert asked is not None  # lists are always put as a yes or no
        return {"asks": asked.asks, "shows": "yes" if thing.complete[list_name] else "no"}
    if rest in REFERENCE.get(thing.kind, {}):
        asked = put({"kind": "link", "fact": key}, 0)
        assert asked is not None
        return {"asks": asked.asks, "shows": "no"}
    return {"asks": key, "shows": thing.text.get(key, "given")}

"""The published schemas: the checked-in files are the generated ones, and they and the front door take the same."""

from __future__ import annotations

import json
import re
from functools import cache
from typing import Any

import jsonschema
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from front_door.small_book import BOOK
from shipped_book import book
from yokebook import published_schema
from yokebook.front_door import project_to_graph, record_to_graph
from yokebook.intake.vocabulary import Term, Vocabulary, vocabulary
from yokebook.load.faults import InputFaults
from yokebook.model import Book
from yokebook.shipped import folder


@cache
def validator(kind: str, name: str) -> jsonschema.Draft202012Validator:
    of = BOOK if name == "small" else book()
    schema = published_schema.record_schema(of) if kind == "record" else published_schema.project_schema(of)
    return jsonschema.Draft202012Validator(schema)


@pytest.mark.parametrize("kind", ["record", "project"])
def test_the_checked_in_schema_is_the_generated_one(kind: str) -> None:
    path = folder("schemas") / f"{kind}.schema.json"
    made = getattr(published_schema, f"{kind}_schema")(book())
    assert path.read_text(encoding="utf-8") == published_schema.text_of(made), "run python -m yokebook.published_schema"


@pytest.mark.parametrize("kind", ["record", "project"])
def test_the_schema_is_a_schema_and_describes_every_property(kind: str) -> None:
    schema = validator(kind, "shipped").schema
    assert isinstance(schema, dict)
    jsonschema.Draft202012Validator.check_schema(schema)
    bare: list[str] = []

    def walk(node: Any, path: str) -> None:
        if isinstance(node, dict):
            for key, inner in (*node.get("properties", {}).items(), *node.get("patternProperties", {}).items()):
                if not str(inner.get("description", "")).strip():
                    bare.append(f"{path}/{key}")
            for key, inner in node.items():
                walk(inner, f"{path}/{key}")
        elif isinstance(node, list):
            for number, inner in enumerate(node):
                walk(inner, f"{path}/{number}")

    walk(schema, "")
    assert bare == []


# ---- values ----------------------------------------------------------------------------------------------------------

_NUMBERS = st.one_of(
    st.integers(-5, 300),
    st.sampled_from([0.0, 0.5, 1.0, 1.5, 2.0, 3.0, 120.0, 1e-3, 12.25]),
    st.floats(-10, 400, allow_nan=False),
)
_DIGITS = st.sampled_from(
    ["0", "00", "1", "20", "0.0", "0.50", "5 1/2", "1/2", "0/3", "0 0/1", "1/0", "2e1", "0e5", ".5", "5.", "-1"]
)
_UNITS = st.sampled_from(
    [
        "in",
        "ft",
        "mm",
        "m",
        "min",
        "s",
        "h",
        "W",
        "kW",
        "VA",
        "kVA",
        "hp",
        "A",
        "V",
        "sq ft",
        "sq m",
        "sqft",
        "IN",
        "",
        "acres",
    ]
)
_QUANTITIES = st.lists(st.tuples(_DIGITS, st.sampled_from(["", " ", "  "]), _UNITS), min_size=1, max_size=3).flatmap(
    lambda terms: st.sampled_from(["", " ", "\n"]).map(lambda between: between.join("".join(term) for term in terms))
)
_ANYTHING = st.one_of(
    st.none(),
    st.booleans(),
    _NUMBERS,
    _QUANTITIES,
    st.sampled_from(["yes", "no", "true", "Yes", "none", "", " ", "\t", "2024-10-01", "2024-13-01", "2024-10-01\n"]),
    st.text(max_size=4),
    st.lists(st.integers(), max_size=1),
    st.dictionaries(st.text(max_size=2), st.integers(), max_size=1),
)


@cache
def _words(name: str) -> Vocabulary:
    return vocabulary(BOOK if name == "small" else book())


@cache
def _keys(name: str) -> list[str]:
    return [*sorted(_words(name).record_keys), "contact.suply", "nothing"]


@cache
def _known_values(name: str) -> st.SearchStrategy[Any]:
    words = {value for term in _words(name).terms.values() for value in term.values}
    return st.one_of(_ANYTHING, st.sampled_from(sorted(words)))


def _takes(record: dict[str, object], book: Book) -> bool:
    try:
        record_to_graph(record, book)
    except InputFaults:
        return False
    return True


def _only_the_front_door_can_tell(key: str, value: object, term: Term | None) -> bool:
    """What the docstring of published_schema leaves to the front door: the calendar, and ids of places and choices."""
    if key == "project.place" or key.startswith(("project.choice.", "project.date.")):
        return True
    bounds = term is not None and (term.high is not None or term.low not in (None, 0))
    return bounds and isinstance(value, str) and term is not None and term.unit is not None


@pytest.mark.parametrize("name", ["small", "shipped"])
@settings(max_examples=400, deadline=None)
@given(data=st.data())
def test_the_front_door_takes_exactly_what_the_record_schema_takes(name: str, data: st.DataObject) -> None:
    key = data.draw(st.sampled_from(_keys(name)))
    term = _words(name).terms.get(key)
    value = data.draw(_known_values(name) if term is None or term.unit is None else st.one_of(_QUANTITIES, _ANYTHING))
    if _only_the_front_door_can_tell(key, value, term):
        return
    its = BOOK if name == "small" else book()
    assert _takes({key: value}, its) == validator("record", name).is_valid({key: value}), (key, value)


@settings(max_examples=400, deadline=None)
@given(number=_DIGITS, unit=_UNITS, more=_QUANTITIES, key=st.sampled_from(sorted(vocabulary(BOOK).terms)))
def test_quantities_as_text_are_taken_alike(number: str, unit: str, more: str, key: str) -> None:
    for text in (f"{number} {unit}", f"{number}{unit}", f"{number} {unit} {more}", f"{number} {unit}  "):
        assert _takes({key: text}, BOOK) == validator("record", "small").is_valid({key: text}), (key, text)


@pytest.mark.parametrize(
    ("value", "taken"),
    [("2024-10-01", True), ("2024-10-1", False), ("2024-00-01", False), ("2024-10-01\n", False), (20241001, False)],
)
def test_dates_are_taken_alike(value: object, taken: bool) -> None:
    record: dict[str, Any] = {"project.date.permit application": value}
    assert _takes(record, BOOK) == taken == validator("record", "small").is_valid(record)


# ---- projects --------------------------------------------------------------------------------------------------------

_GOOD_PROJECT: dict[str, Any] = {
    "project": {"name": "a", "dates": {"permit application": "2024-10-01"}, "complete": {"spaces": "yes"}},
    "complete": True,
    "spaces": [
        {
            "id": "s",
            "area_sq_ft": "150 sq ft",
            "yokes": [{"id": "R", "volts": 125, "contacts": [{"id": "u", "controls": ["S"], "load": "none"}]}],
        }
    ],
    "controls": [{"id": "S", "off_delay_min": "20 min", "complete": "no", "stated_by": None}],
    "circuits": [{"id": "LP-1/3", "breaker_amps": 20}],
    "loads": None,
}


def _places(node: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    items = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ()
    return [path, *(place for key, inner in items for place in _places(inner, (*path, key)))]


def _with(node: Any, path: tuple[Any, ...], value: Any) -> Any:
    if not path:
        return value
    changed = dict(node) if isinstance(node, dict) else list(node)
    changed[path[0]] = _with(node[path[0]], path[1:], value)
    return changed


def _takes_project(project: Any) -> bool:
    try:
        project_to_graph(project, BOOK)
    except InputFaults:
        return False
    return True


def test_the_good_project_is_good_by_both() -> None:
    assert _takes_project(_GOOD_PROJECT)
    assert validator("project", "small").is_valid(_GOOD_PROJECT)


@settings(max_examples=400, deadline=None)
@given(data=st.data())
def test_one_changed_value_of_a_project_is_taken_alike(data: st.DataObject) -> None:
    """References and repeated ids are the front door's alone, so values that would only break one are left out."""
    path: tuple[Any, ...] = data.draw(st.sampled_from(_places(_GOOD_PROJECT)[1:]))
    value = data.draw(_ANYTHING)
    dangling = isinstance(value, str) and value.strip() and (path[-1] == "load" or "controls" in path[2:])
    renamed = path[-1] == "id" and path[0] == "controls"
    date = path[-1] == "permit application" and isinstance(value, str) and bool(re.fullmatch(r"\d{4}-\d\d-\d\d", value))
    emptied = path in (("controls",), ("controls", 0))  # the contact device's reference would lead nowhere
    undone = path[0] == "spaces" and path[-1] in ("contacts", "yokes", "spaces") and not value  # complete and empty
    if dangling or renamed or emptied or undone or (date and value != "2024-10-01"):
        return
    project = _with(_GOOD_PROJECT, path, value)
    assert _takes_project(project) == validator("project", "small").is_valid(project), (path, value)


@pytest.mark.parametrize("path", [("project",), ("spaces", 0), ("controls", 0), ()])
def test_an_unknown_key_is_refused_by_both(path: tuple[Any, ...]) -> None:
    node = _GOOD_PROJECT
    for step in path:
        node = node[step]
    project = _with(_GOOD_PROJECT, path, {**node, "owner": "x"})
    assert not _takes_project(project)
    assert not validator("project", "small").is_valid(project)


def test_the_schema_is_json() -> None:
    for kind in ("record", "project"):
        schema = validator(kind, "shipped").schema
        assert json.loads(json.dumps(schema)) == schema

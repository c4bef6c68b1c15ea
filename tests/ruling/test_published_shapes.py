"""What the engine gives, held against its published schemas: rulings of every status, explained or not, and a sheet."""

from __future__ import annotations

import copy
import json
from collections.abc import Iterator, Mapping
from dataclasses import fields
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any, get_args

import pytest
import yaml
from jsonschema import Draft202012Validator
from referencing import Registry, Resource

import yokebook
import yokebook_adapters
from ruling import small
from shipped_book import rulebook
from yokebook import assumptions, front_door, model
from yokebook.code import Code
from yokebook.decision import RulingStatus
from yokebook.explain import explain_on
from yokebook.law import Candidate, InForce
from yokebook.load import schema_check
from yokebook.model import Book, Impossible, OneOf, Within
from yokebook.ruling import Ruling, rule_on
from yokebook.session import Session
from yokebook_adapters.building import placed

DEMO = Path(yokebook_adapters.__file__).parent / "demo" / "brindle-falls.yaml"
EXPLAINED = {"tried", "would_change", "sufficient", "sufficient_is"}
Data = dict[str, Any]


@cache
def validator(name: str) -> Draft202012Validator:
    resources = [(f"{key}.schema.json", Resource.from_contents(each)) for key, each in schema_check.schemas().items()]
    registry: Registry[Any] = Registry().with_resources(resources)
    return Draft202012Validator(schema_check.schemas()[name], registry=registry)


def misfits(name: str, data: Data) -> list[str]:
    """Where the data, taken through JSON text, does not fit the schema of this name."""
    read = json.loads(json.dumps(data, allow_nan=False))
    return [f"{error.json_path}: {error.message}" for error in validator(name).iter_errors(read)]


def checked(ruling: Ruling) -> Data:
    """The ruling as data, after the checks that go for every one."""
    data = ruling.to_dict()
    assert misfits("ruling", data) == []
    assert Ruling.from_dict(json.loads(json.dumps(data))).to_dict() == data
    if ruling.status == "settled":
        assert data["word"] in (data["outcome"], f"would be {data['outcome']}")
        assert (data["word"] != data["outcome"]) == data["not_checked"]
        assert data["outcome"] in data["possible"]
    else:
        assert data["word"] == data["status"]
    return data


# ---- tiny tables, one for each status -------------------------------------------------------------------------------

X_A, X_B = {"contact.x": OneOf(frozenset({"a"}))}, {"contact.x": OneOf(frozenset({"b"}))}
BY_READING = [
    small.rule("upper#one", [{"reading.r": OneOf(frozenset({"one"}))}], "low"),
    small.rule("upper#two", [{"reading.r": OneOf(frozenset({"two"}))}], "high"),
    small.rule("upper#three", [{"reading.r": OneOf(frozenset({"three"}))}], "middle"),
]
DISAGREEING = [small.rule("upper#low", [X_A], "low"), small.rule("upper#high", [{**X_A}], "high")]
EXCEPTED = [
    small.rule("upper#base", [{}], "high"),
    small.rule("upper#excused", [X_A, {"contact.n": Within(Fraction(1), False, Fraction(5, 2), True)}], "low",
               but_not=[{"contact.p": OneOf(frozenset({True}))}], exception_to="all"),
]  # fmt: skip
SMALL: dict[str, tuple[list[model.Rule], Data]] = {
    "settled": (EXCEPTED, {"contact.x": "a", "contact.p": False, "contact.n": Fraction(3, 2)}),
    "cannot tell": (EXCEPTED, {"contact.p": False}),
    "readings differ": (BY_READING, {}),
    "conflict": (DISAGREEING, {"contact.x": "a"}),
    "silent": (DISAGREEING, {"contact.x": "c"}),
}


def rulings(session: Session) -> tuple[Ruling, Ruling]:
    """The plain and the explained ruling on `upper` for the one contact."""
    contact = session.graph.things["contact"][0]
    question = session.book.questions["upper"]
    return rule_on(session, question, contact, "small"), explain_on(session, question, contact, "small")


def check_both(session: Session, status: str) -> tuple[Data, Data]:
    """Both rulings as data, each of this status; only the explained one has the parts of an explanation."""
    plain, explained = (checked(each) for each in rulings(session))
    assert (plain["status"], explained["status"]) == (status, status)
    assert not EXPLAINED & set(plain)
    assert set(explained) >= EXPLAINED
    return plain, explained


@pytest.mark.parametrize("status", SMALL)
def test_status_of_a_tiny_table(status: str) -> None:
    rules, given = SMALL[status]
    check_both(small.session([small.table("upper", rules)], given), status)


def test_an_argued_reading_is_held_besides() -> None:
    always = [small.rule("upper#base", [{}], "low"), BY_READING[2]]
    exception = [always[0], small.rule("upper#three", BY_READING[2].where, "middle", exception_to="all")]
    plain, _ = check_both(small.session([small.table("upper", exception)], {}), "settled")
    assert [each["outcomes"] for each in plain["also_held"]] == [["middle"]]


def test_impossible() -> None:
    session = small.session([small.table("upper", EXCEPTED)], {"contact.x": "a", "contact.y": "a"})
    never = Impossible("contact", {**X_A, "contact.y": OneOf(frozenset({"a"}))}, "x and y are never both a", small.AT)
    session.book = _with_impossible(session.book, never)
    plain, _ = check_both(session, "impossible")
    assert plain["status_of"] == {"table": "", "because": "c: x and y are never both a"}  # of the contact `c`


def _with_impossible(book: Book, never: Impossible) -> Book:
    return Book("", book.questions, book.facts, (never,), {}, book.readings, book.documents, {}, {}, ())


@pytest.mark.parametrize(("state", "status"), [("not entered", "no adoption entered"), ("none in force",) * 2])
def test_no_document(state: Any, status: str) -> None:
    session = small.session([], {})
    candidate = Candidate("entry", state, None, "because it is so", "the counter")
    session.in_force = {"small": InForce("small", (candidate,))}
    plain, _ = check_both(session, status)
    assert plain["document"]["state"] == state
    assert plain["status_of"]["because"] == "because it is so"


def test_no_line_of_time_for_the_kind() -> None:
    session = small.session([], {})
    session.in_force = {}
    plain, _ = check_both(session, "no adoption entered")
    assert plain["document"] is None


def test_not_decided(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(assumptions, "BUDGET", 1)
    plain, _ = check_both(small.session([small.table("upper", EXCEPTED)], {}), "not decided")
    assert plain["possible"] == list(small.OUTCOMES)


# ---- the shipped rulebook -------------------------------------------------------------------------------------------


def codes() -> Iterator[Code]:
    """The first and last edition of every document, and places on days: a gap, a direction, an ordinance."""
    for document in rulebook().book.documents.values():
        for edition in {document.editions[0]: None, document.editions[-1]: None}:
            yield rulebook().edition(document.id, edition)
    for place, day in [
        ("us/wa", "2022-05-02"), ("us/dc", "2021-03-01"), ("demo/tamarisk", "2025-03-03"),
        ("demo/tamarisk/brindle-falls", "2019-05-06"), ("demo/tamarisk/brindle-falls", "2024-10-01"),
    ]:  # fmt: skip
        yield rulebook().in_force(place, on=day)


#: Asked with nothing given as well: of each kind of thing one, and none that tries many completions.
QUICK = ("control.acts", "marking.scope", "receptacle.circuit-rating", "circuit.load", "load.always-on", "share.listed")
RECORDS: dict[str, Data] = {
    "nothing given": {},
    "a lamp on a sensor": {
        "receptacle.configuration": "5-15R", "contact.position": "upper", "contact.supply": "controlled",
        "contact.controls.complete": True, "control.kind": "wall-box sensor", "control.turns_off_by": "presence",
        "control.acts_as_wall_switch": True, "load.kind": "lamp", "load.power_w": "9 W", "circuit.breaker_amps": 20,
        "space.occupancy": "dwelling", "space.use": "living room",
        "space.required_lighting_outlet": "met by switched receptacle",
    },
    "a motor tool on a snap switch": {
        "receptacle.configuration": "5-20R", "contact.supply": "controlled", "contact.controls.complete": True,
        "control.contacts.complete": True, "control.wired_loads.complete": True, "control.kind": "snap switch",
        "control.horsepower_marked": False, "control.amps": 15, "load.kind": "motor tool", "load.motor_hp": "3/4 hp",
        "load.volts": 115, "circuit.breaker_amps": 20,
    },
}  # fmt: skip


#: These try thousands of completions where nothing is said of the room; they are asked of the record that names one.
LONG = ("protection.ground-fault", "protection.ground-fault.satisfied", "protection.replacement.ground-fault")


def asked(name: str, question: str) -> bool:
    if name == "nothing given":
        return question in QUICK
    return "space.use" in RECORDS[name] or question not in LONG


@pytest.mark.parametrize("name", RECORDS)
def test_every_question_under_every_document(name: str) -> None:
    for code in codes():
        for question in code.questions():
            if asked(name, question.id):
                for ruling in code.rule_all(question.id, RECORDS[name]):
                    checked(ruling)


@pytest.mark.parametrize("question", ["marking.required", "control.horsepower", "receptacle.circuit-rating"])
@pytest.mark.parametrize("name", list(RECORDS)[1:])
def test_explained(name: str, question: str) -> None:
    for edition in ("2014", "2026"):
        data = checked(rulebook().edition("nfpa-70", edition).explain(question, RECORDS[name]))
        assert data["tried"]
        assert data["sufficient"] == [] or data["status"] == "settled"


def test_a_date_that_is_asked_for() -> None:
    """Without a date several entries may govern: the ruling names them and asks for the date."""
    data = checked(
        rulebook().in_force("demo/tamarisk/brindle-falls").rule("marking.required", RECORDS["a lamp on a sensor"])
    )
    assert len(data["document"]["could_be"]) > 1
    assert "dates.permit application" in [each["fact"] for each in data["ask"]]


@pytest.fixture(scope="module")
def demo() -> yokebook.Sheet:
    project = yaml.safe_load(DEMO.read_text(encoding="utf-8"))
    project["project"]["dates"] = {event: str(day) for event, day in project["project"]["dates"].items()}
    graph = front_door.project_to_graph(project, rulebook().book)
    return rulebook().in_force(graph.place or "", dates=graph.dates).rule_project(graph)


def test_the_demo_filed(demo: yokebook.Sheet) -> None:
    filed = demo.filed({"when": "2024-10-16T08:00:00+00:00", "version": "0", "for": "the file"})
    assert len(filed["rulings"]) > 100
    assert misfits("sheet", filed) == []


def test_a_demo_finding(demo: yokebook.Sheet) -> None:
    for ruling in demo.rulings[:40]:
        finding = placed(ruling, demo.session.graph)
        assert misfits("finding", finding) == []
        assert misfits("finding", {"file": "shop.yaml", **finding}) == []
        assert misfits("ruling", finding) == [
            "$: Unevaluated properties are not allowed ('at', 'room' were unexpected)"
        ]


# ---- the schemas are as closed as they say --------------------------------------------------------------------------


def test_schema_and_class_have_the_same_fields() -> None:
    of_ruling = schema_check.schemas()["ruling"]["$defs"]["ruling"]
    assert set(of_ruling["properties"]) == {field.name for field in fields(Ruling)}
    assert set(of_ruling["required"]) == set(of_ruling["properties"]) - EXPLAINED
    assert of_ruling["properties"]["status"]["enum"] == list(get_args(RulingStatus))


def test_every_class_that_a_sheet_may_hold_is_named() -> None:
    """All classes of the rulebook's data but those that only lie behind a resolved document."""
    classes = {name for name, each in vars(model).items() if hasattr(each, "__dataclass_fields__")}
    behind = {"Adopts", "At", "Book", "Carried", "Edition", "Entry", "Layer", "NotEntered", "Op", "Place", "Window"}
    named = schema_check.schemas()["sheet"]["$defs"]["encoded"]["then"]["properties"]["is"]["enum"]
    assert set(named) == classes - behind


BROKEN: list[tuple[str, Mapping[str, Any]]] = [
    ("a status of nobody's", {"status": "fine"}),
    ("settled without an outcome", {"outcome": None}),
    ("an unknown part", {"note": "x"}),
    ("a number for a word", {"word": 1}),
    ("a mark of nobody's", {"checked": {"mark": "sure", "because": []}}),
    ("a document that lacks its edition", {"document": {"kind": "electrical"}}),
    ("conflict without its table", {"status": "conflict", "outcome": None, "status_of": None}),
    ("an explanation in part", {"tried": []}),
    ("a float for a figure", {"figures": [{"exact": 1.5}]}),
]


@pytest.mark.parametrize(("change"), [change for _, change in BROKEN], ids=[name for name, _ in BROKEN])
def test_a_broken_ruling_does_not_fit(change: Mapping[str, Any]) -> None:
    rules, given = SMALL["settled"]
    data = rulings(small.session([small.table("upper", rules)], given))[0].to_dict()
    assert misfits("ruling", data) == []
    assert misfits("ruling", {**data, **change}) != []


def test_a_broken_sheet_does_not_fit() -> None:
    code = rulebook().edition("nfpa-70", "2014")
    filed = code.rule_project({"controls": [{"id": "S1", "kind": "snap switch"}]}, ["control.acts"]).filed()
    assert misfits("sheet", filed) == []
    for path, value in [
        (("digests", "law"), "x"), (("format",), "another"), (("basis", "record", "form"), "list"),
        (("basis", "questions"), {"is": "Place"}), (("basis", "facts"), {"number": "1", "set": []}),
        (("basis", "impossible"), 1.5),
    ]:  # fmt: skip
        broken = copy.deepcopy(filed)
        inner: Any = broken
        for key in path[:-1]:
            inner = inner[key]
        inner[path[-1]] = value
        assert misfits("sheet", broken) != [], path

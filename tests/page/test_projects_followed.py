"""What the page has of the service beside others: files and records as projects, projects followed ruling by ruling,
faces, sheets. Asked of a desk in this process; the service in front of it is tested elsewhere."""

from __future__ import annotations

import json
from functools import cache
from typing import Any

import pytest

import yokebook
from page.small_shop import SMALL
from yokebook import front_door
from yokebook_adapters.outcome import heap
from yokebook_adapters.project_data import project_data
from yokebook_adapters.service import files, following_operations, project_operations, record_operations
from yokebook_adapters.service.book_data import book_digest
from yokebook_adapters.service.desk import Desk
from yokebook_adapters.service.limits import Limits
from yokebook_adapters.service.problems import Problem

SHOP = SMALL.replace("NAME", "Shop")


@cache
def _desk() -> Desk:
    rulebook = yokebook.load()
    return Desk(rulebook, book_digest(rulebook.book), Limits())


def _sent(**body: Any) -> bytes:
    return json.dumps(body).encode()


@cache
def _shop() -> Any:
    return files.read_project(_desk(), _sent(file={"name": "shop.yaml", "text": SHOP}))["project"]


def test_a_project_followed_gives_what_the_project_ruled_at_once_gives() -> None:
    """The same rulings in the same order, each with its heap and the rows that it rests on."""
    body = _sent(project=_shop())
    begin, total = following_operations.begin(_desk(), body)
    followed = [following_operations.ruling(_desk(), body, number) for number in range(total)]
    at_once = project_operations.rule_project(_desk(), body)["rulings"]
    assert begin["rulings"] == total == len(at_once) > 40
    assert begin["rooms"] == ["Shop"] and begin["devices"] == 1
    for short, whole in zip(followed, at_once, strict=True):
        assert short["heap"] == heap(whole)
        assert [short[key] for key in ("question", "subject", "word", "room")] == [
            whole[key] for key in ("question", "subject", "word", "room")
        ]
        none_fires = [whole["none_fires"]] if whole["none_fires"] else []
        says = [row["says"] for row in [*whole["standing"], *none_fires]]
        assert [row["says"] for row in short["rests_on"]] == says


def test_a_project_as_data_is_the_same_building() -> None:
    """Read again it has the same digest of its record as the file itself."""
    code = _desk().rulebook.edition("nfpa-70", "2023")
    graph = front_door.read_project(SHOP, _desk().book)
    again = front_door.project_to_graph(json.loads(json.dumps(project_data(graph, _desk().book))), _desk().book)
    digests = [code.rule_project(each, ["control.acts"]).filed()["digests"]["record"] for each in (graph, again)]
    assert digests[0] == digests[1]


@pytest.mark.parametrize("number", ["1/3 hp", "0.125 hp", "1.5 hp"])
def test_numbers_are_not_rounded_on_the_way(number: str) -> None:
    """A third of a horsepower stays a third."""
    record = {"load.motor_hp": number, "contact.supply": "controlled"}
    project = files.read_project(_desk(), _sent(record=record))["project"]
    assert project["loads"][0]["motor_hp"] == number


def test_a_record_as_a_project_is_ruled_alike() -> None:
    """One device with what the record says of it."""
    record = {
        "contact.supply": "controlled", "control.turns_off_by": "schedule", "receptacle.configuration": "5-20R",
        "contact.controls.complete": True, "receptacle.built_in_control": False, "space.use": "private office",
        "space.occupancy": "office",
    }  # fmt: skip
    project = files.read_project(_desk(), _sent(record=record))["project"]
    law = {"edition": "nfpa-70:2023"}
    asked = {"law": law, "questions": ["marking.required"]}
    by_project = project_operations.rule_project(_desk(), _sent(project=project, **asked))["rulings"]
    by_record = record_operations.rule_record(_desk(), _sent(record=record, **asked))["rulings"]
    assert [each["word"] for each in by_project] == [each["word"] for each in by_record] == ["required"]


@pytest.mark.parametrize(
    ("body", "says"),
    [
        ({}, "give a project file"),
        ({"file": {"name": "a.csv", "text": "x"}}, "add the mapping file"),
        ({"file": {"name": "a.yaml", "text": "x"}, "mapping": {"name": "m.yaml", "text": "x"}}, "is no schedule"),
        ({"file": {"name": "a.xlsx", "base64": "?"}, "mapping": {"name": "m.yaml", "text": "x"}}, "this is no base64"),
        ({"file": {"name": "a.yaml", "text": "project: {place: nowhere}"}}, "a.yaml:1:18"),
        ({"file": {"name": "a.csv", "text": "x"}, "mapping": {"name": "m.yaml", "text": "rows: [}"}}, "m.yaml:1"),
    ],
)
def test_what_cannot_be_read_is_refused_with_its_place(body: dict[str, Any], says: str) -> None:
    """In words that say what to do."""
    with pytest.raises(Problem) as refused:
        files.read_project(_desk(), json.dumps(body).encode())
    assert any(says in error["detail"] for error in refused.value.errors)


def test_a_face_says_in_words_what_it_draws() -> None:
    """The upper half is on a sensor and gets the mark of the ordinance, the lower one is always on."""
    face = project_operations.face_project(_desk(), _sent(project=_shop(), subject="office/R1"))["face"]
    assert face["svg"].startswith("<svg") and "style=" not in face["svg"]
    said = face["description"]
    assert "Upper: controlled by C1, circuit P/1; to be marked; form: symbol and word; place: face." in said
    assert "Lower: always on, circuit P/1; no mark asked for." in said


def test_a_face_is_of_a_device() -> None:
    """Anything else is refused."""
    with pytest.raises(Problem) as refused:
        project_operations.face_project(_desk(), _sent(project=_shop(), subject="C1"))
    assert refused.value.errors[0]["detail"] == "`C1` is a control; allowed: a yoke"


def test_the_next_step_of_an_interview_says_what_was_given_in_words() -> None:
    """Facts, lists and links, in the order given."""
    record = {"control.turns_off_by": "presence", "contact.controls.complete": "yes", "contact.circuit": "none"}
    body = _sent(law={"edition": "nfpa-70:2023"}, question="marking.required", record=record)
    given = record_operations.ask_record(_desk(), body)["given"]
    assert [each["fact"] for each in given] == list(record)
    assert [each["shows"] for each in given] == ["it senses that nobody is there", "yes", "no"]

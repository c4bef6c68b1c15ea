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
from yokebook_adapters.schedule_mapping import read_mapping
from yokebook_adapters.schedule_reading import read_schedule
from yokebook_adapters.service import files, following_operations, project_operations, record_operations
from yokebook_adapters.service.book_data import book_digest
from yokebook_adapters.service.desk import Desk
from yokebook_adapters.service.laws import Asked
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


def test_the_reason_of_a_settled_ruling_is_sure_or_one_of_several() -> None:
    """A wall switch in a living room asks for no mark: either the exception for the room's light says so, or nothing
    asks for one; which of them is known once it is said how the room is lit."""
    record = {
        "contact.supply": "controlled", "control.turns_off_by": "person", "contact.controls.complete": "yes",
        "receptacle.built_in_control": "no", "space.occupancy": "dwelling", "space.use": "living room",
        "control.kind": "snap switch",
    }  # fmt: skip
    lit = {"space.required_lighting_outlet": "met by switched receptacle"}
    unlit = {"space.required_lighting_outlet": "met by luminaire"}
    for more, reason in (({}, "one of several"), (lit, "sure"), (unlit, "sure")):
        body = _sent(law={"edition": "nfpa-70:2023"}, question="marking.required", record=record | more)
        asked = record_operations.ask_record(_desk(), body)
        assert (asked["ruling"]["word"], asked["reason_is"]) == ("not required", reason)


def test_the_next_step_of_an_interview_says_what_was_given_in_words() -> None:
    """Facts, lists and links, in the order given."""
    record = {"control.turns_off_by": "presence", "contact.controls.complete": "yes", "contact.circuit": "none"}
    body = _sent(law={"edition": "nfpa-70:2023"}, question="marking.required", record=record)
    given = record_operations.ask_record(_desk(), body)["given"]
    assert [each["fact"] for each in given] == list(record)
    assert [each["shows"] for each in given] == ["it senses that nobody is there", "yes", "no"]


RECORDS = """\
rows: record
call_rows_by: [Mark]
columns:
  Mark: receptacle.name
  Config: receptacle.configuration
  Switched: {fact: contact.supply, words: {Y: controlled, N: always on}}
  Control: {fact: control.turns_off_by, words: {occ: presence, hand: person, clock: schedule}}
  Use: {fact: space.use}
  Occupancy: {fact: space.occupancy}
  Inside: {fact: receptacle.built_in_control}
  Plugged: {fact: load.kind}
constants: {project.place: demo/tamarisk/brindle-falls, project.date.permit application: 2022-10-15}
complete: [contact.controls]
"""
ROWS = """\
Mark,Config,Switched,Control,Use,Occupancy,Inside,Plugged
R1,5-20R,Y,occ,private office,office,no,computer
R2,5-15R,Y,hand,private office,office,no,refrigeration
R3/a,L5-20R,Y,clock,conference,office,no,
"""


def _rows(rows: str, mapping: str = RECORDS) -> dict[str, Any]:
    sent = {"file": {"name": "rows.csv", "text": rows}, "mapping": {"name": "rows.mapping.yaml", "text": mapping}}
    return files.read_project(_desk(), _sent(**sent))


def test_rows_that_are_records_stand_side_by_side_and_are_ruled_as_each_is_by_itself() -> None:
    """Whatever is asked of a receptacle, a half, a control, a circuit or a load of one row comes to what it comes to
    where nothing else is there."""
    project = _rows(ROWS)["project"]
    assert [space["id"] for space in project["spaces"]] == ["R1", "R2", "R3 a"]
    followed = project_operations.rule_project(_desk(), _sent(project=project))["rulings"]
    mapping = read_mapping(RECORDS.encode(), _desk().book, "rows.mapping.yaml")
    alone, _ = read_schedule(ROWS.encode(), mapping, _desk().book, "rows.csv")
    code = _desk().laws.code(Asked(), alone[0][1])
    by_itself = [
        (ruling.question, ruling.subject["kind"], ruling.word)
        for _, graph in alone
        for ruling in code.rule_project(graph).rulings
        if ruling.subject["kind"] != "project"
    ]
    together = [
        (ruling["question"], ruling["subject"]["kind"], ruling["word"])
        for ruling in followed
        if ruling["subject"]["kind"] != "project"
    ]
    assert len(together) > 60
    assert sorted(together) == sorted(by_itself)


@pytest.mark.parametrize(
    ("rows", "mapping", "says"),
    [
        (ROWS, RECORDS.replace("Use: {fact: space.use}", "Use: {fact: project.work_kind, words: {private office: new, "
         "conference: alteration}}"), "say different things of the project (`work_kind`)"),
        (ROWS, RECORDS.replace("complete: [", "complete: [project.spaces, "), "lists all there is in its project"),
        (ROWS.splitlines()[0] + "\n", RECORDS, "no row with a device in it"),
    ],
)  # fmt: skip
def test_rows_of_different_jobs_are_not_made_one(rows: str, mapping: str, says: str) -> None:
    """They would lend each other what is said of the whole job."""
    with pytest.raises(Problem) as refused:
        _rows(rows, mapping)
    assert says in refused.value.errors[0]["detail"]

"""Flat records: what is taken, how it is linked, and the whole text of what is said of everything else."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from fractions import Fraction

import pytest

from front_door.small_book import BOOK
from yokebook.front_door import FrontDoor, read_record, record_to_graph
from yokebook.graph import MISSING, Graph
from yokebook.load.faults import InputFaults


def faults_of(record: dict[str, object]) -> list[str]:
    """The faults of a record as text, one each; [] for a record that is taken."""
    try:
        record_to_graph(record, BOOK)
    except InputFaults as refused:
        return str(refused).split("\n")
    return []


def the(graph: Graph, path: str) -> dict[str, object]:
    return dict(graph.find(path).given)


NOT_TAKEN: list[tuple[str, object, str]] = [
    ("contact.suply", "controlled", "`contact.suply` is no fact (did you mean `contact.supply`?)"),
    (
        "voltage",
        125,
        "`voltage` is no fact; a fact's name starts with one of `project.`, `space.`, `wall.`, `receptacle.`, "
        "`contact.`, `control.`, `circuit.`, `load.`",
    ),
    (
        "contact.supply",
        "switched",
        "`switched` is none of the answers; allowed: `always on`, `controlled`",
    ),
    (
        "receptacle.configuration",
        "5-15",
        "`5-15` is none of the answers (did you mean `5-15R`?); allowed: `5-15R`, `6-20R`",
    ),
    ("contact.supply", True, "`true` is none of the answers; allowed: `always on`, `controlled`"),
    ("contact.supply", ["controlled"], "found a list; allowed: `always on`, `controlled`"),
    ("contact.switched", 1, "`1` is neither yes nor no; allowed: yes, no, true, false"),
    ("contact.switched", 0, "`0` is neither yes nor no; allowed: yes, no, true, false"),
    ("contact.switched", "Yes", "`Yes` is neither yes nor no; allowed: yes, no, true, false"),
    ("contact.controls.complete", 1, "`1` is neither yes nor no; allowed: yes, no, true, false"),
    (
        "space.area_sq_ft",
        True,
        "`true` is a yes or no where a number is due; allowed: an area in `sq ft` or `sq m`, or a plain number in "
        "`sq ft`, above 0",
    ),
    (
        "space.area_sq_ft",
        "240",
        "`240` in quotes is text where a number is due; allowed: an area in `sq ft` or `sq m`, or a plain number "
        "in `sq ft`, above 0",
    ),
    (
        "space.area_sq_ft",
        "12 ft",
        "`12 ft` is a length; allowed: an area in `sq ft` or `sq m`, or a plain number in `sq ft`, above 0",
    ),
    (
        "space.area_sq_ft",
        "12 acres",
        "`acres` in `12 acres` is not a unit; allowed: an area in `sq ft` or `sq m`, or a plain number in `sq ft`, "
        "above 0",
    ),
    (
        "space.area_sq_ft",
        0,
        "`0` is out of range; allowed: an area in `sq ft` or `sq m`, or a plain number in `sq ft`, above 0",
    ),
    (
        "space.area_sq_ft",
        "0 sq m",
        "`0 sq m` is out of range; allowed: an area in `sq ft` or `sq m`, or a plain number in `sq ft`, above 0",
    ),
    (
        "control.off_delay_min",
        -1,
        "`-1` is out of range; allowed: a time in `min`, `s` or `h`, or a plain number in `min`, at least 0",
    ),
    ("circuit.breaker_amps", float("nan"), "`nan` is not a number; allowed: a current in `A`, above 0"),
    ("circuit.breaker_amps", float("inf"), "`inf` is not a number; allowed: a current in `A`, above 0"),
    ("circuit.breaker_amps", Decimal("NaN"), "`NaN` is not a usable number; allowed: a current in `A`, above 0"),
    (
        "circuit.breaker_amps",
        date(2024, 1, 2),
        "`2024-01-02` is a date where a number is due; allowed: a current in `A`, above 0",
    ),
    (
        "circuit.breaker_amps",
        {20},
        "found a Python object of type `set`; allowed: a current in `A`, above 0",
    ),
    ("control.floors", 2.5, "`2.5` is out of range; allowed: a whole number, at least 1, at most 9"),
    ("control.floors", 10, "`10` is out of range; allowed: a whole number, at least 1, at most 9"),
    (
        "control.floors",
        "2",
        "`2` in quotes is text where a number is due; allowed: a whole number, at least 1, at most 9",
    ),
    ("load.power_factor", "90%", "`90%` is text where a number is due; allowed: a plain number, above 0, at most 1"),
    (
        "receptacle.volts",
        120,
        "`120` is refused: that is the circuit's voltage; a receptacle on it is rated 125 V",
    ),
    (
        "receptacle.volts",
        "120 V",
        "`120 V` is refused: that is the circuit's voltage; a receptacle on it is rated 125 V",
    ),
    (
        "receptacle.volts",
        130,
        "`130` is no value that this can have; allowed: `125`, `250`, `125 V`, `250 V`",
    ),
    ("space.name", 12, "text is due here, found `12`"),
    ("space.name", "  ", "text is due here, found an empty text"),
    ("contact.load", "lamp", "`lamp` is no id here; allowed: `none`, or leave it out and state facts of the load"),
    ("project.place", "demo/twon", "`demo/twon` is no place (did you mean `demo/town`?); allowed: `demo/town`"),
    (
        "project.date.permit aplication",
        "2024-01-01",
        "`permit aplication` is no event (did you mean `permit application`?); allowed: `permit application`",
    ),
    (
        "project.date.permit application",
        "1/2/2024",
        "`1/2/2024` is no date; allowed: year, month and day, such as `2024-10-01`",
    ),
    (
        "project.date.permit application",
        "2023-02-29",
        "`2023-02-29` is no date; allowed: year, month and day, such as `2024-10-01`",
    ),
    (
        "project.choice.window-2023",
        "new",
        "`window-2023` is no choice (did you mean `window-2024`?); allowed: `window-2024`",
    ),
    (
        "project.choice.window-2024",
        "newer",
        "`newer` is no alternative (did you mean `new`?); allowed: `old`, `new`",
    ),
]


@pytest.mark.parametrize(("key", "value", "message"), NOT_TAKEN)
def test_what_is_refused_is_told_in_full(key: str, value: object, message: str) -> None:
    assert faults_of({key: value}) == [f"{key}: {message}"]


def test_every_fault_of_a_record_is_told_at_once() -> None:
    found = faults_of({"contact.suply": "x", "space.area_sq_ft": True, "receptacle.volts": 120, "contact.mark": "word"})
    assert [line.partition(": ")[0] for line in found] == ["contact.suply", "receptacle.volts", "space.area_sq_ft"]


def test_a_fact_is_refused_where_it_does_not_apply() -> None:
    found = faults_of({"contact.mark": "none", "contact.mark_permanent": True})
    message = "does not apply where `contact.mark` is `none`; it applies only where that is `word`"
    assert found == [f"contact.mark_permanent: {message}"]


def test_a_fact_is_refused_where_the_fact_that_it_hangs_on_does_not_apply() -> None:
    found = faults_of({"contact.mark": "none", "contact.mark_deep": True})
    message = "does not apply where `contact.mark_permanent` is not applicable; it applies only where that is yes"
    assert found == [f"contact.mark_deep: {message}"]


def test_a_fact_may_be_given_while_what_it_hangs_on_is_not_given() -> None:
    graph = record_to_graph({"contact.mark_permanent": True}, BOOK)
    assert the(graph, "contact") == {"contact.mark_permanent": True}


@pytest.mark.parametrize(
    ("value", "minutes"),
    [
        (20, Fraction(20)),
        (0.1, Fraction(1, 10)),  # a decimal float is what was written, not its binary neighbour
        (Decimal("2.50"), Fraction(5, 2)),
        (Fraction(1, 3), Fraction(1, 3)),
        ("90 s", Fraction(3, 2)),
        ("1 h 30 min", Fraction(90)),
        ("0 min", Fraction(0)),
    ],
)
def test_numbers_are_exact_and_in_the_facts_own_unit(value: object, minutes: Fraction) -> None:
    assert the(record_to_graph({"control.off_delay_min": value}, BOOK), "control") == {"control.off_delay_min": minutes}


@pytest.mark.parametrize(
    ("value", "hp"), [("1/2 hp", Fraction(1, 2)), ("1 1/2 hp", Fraction(3, 2)), (0.75, Fraction(3, 4))]
)
def test_horsepower_is_written_as_the_trade_writes_it(value: object, hp: Fraction) -> None:
    assert the(record_to_graph({"load.motor_hp": value}, BOOK), "load") == {"load.motor_hp": hp}


@pytest.mark.parametrize("value", [True, "yes"])
def test_yes_is_one_value_however_written(value: object) -> None:
    assert the(record_to_graph({"contact.switched": value}, BOOK), "contact") == {"contact.switched": True}


def test_null_is_not_given() -> None:
    graph = record_to_graph(
        {"contact.supply": None, "space.name": None, "contact.load": None, "control.floors": None}, BOOK
    )
    assert the(graph, "contact") == {}
    assert graph.find("contact").one("load") is MISSING
    assert not graph.find("control").named


def test_things_named_are_linked_and_lists_are_open_unless_said() -> None:
    graph = record_to_graph(
        {
            "receptacle.configuration": "5-15R",
            "control.turns_off_by": "presence",
            "circuit.breaker_amps": 20,
            "load.kind": "lamp",
            "contact.controls.complete": True,
        },
        BOOK,
    )
    contact, control, circuit = graph.find("contact"), graph.find("control"), graph.find("circuit")
    assert contact.list_of("controls") == ([control], True)
    assert control.list_of("contacts") == ([contact], False)
    assert circuit.list_of("contacts") == ([contact], False)
    assert contact.one("load") is graph.find("load")
    assert contact.one("circuit") is circuit
    assert contact.one("yoke") is graph.find("receptacle")
    assert graph.project.list_of("contacts") == ([contact], False)
    assert [thing.kind for thing in graph if not thing.named] == ["wall"]


def test_a_thing_that_no_fact_names_stands_in_no_list_of_one_that_is_named() -> None:
    graph = record_to_graph({"contact.supply": "controlled", "contact.controls.complete": True}, BOOK)
    contact = graph.find("contact")
    assert contact.list_of("controls") == ([], True)  # said to be all, so nothing controls it
    assert contact.one("load") is MISSING
    assert contact.one("circuit") is MISSING
    assert graph.find("control").list_of("contacts") == ([contact], False)


def test_a_control_alone_can_still_be_asked_about_a_contact_device() -> None:
    graph = record_to_graph({"control.turns_off_by": "presence"}, BOOK)
    contact, control = graph.find("contact"), graph.find("control")
    assert not contact.named
    assert contact.list_of("controls") == ([control], False)
    assert control.list_of("contacts") == ([], False)  # nobody said that it controls a receptacle


def test_a_receptacle_has_a_contact_device() -> None:
    graph = record_to_graph({"receptacle.configuration": "5-15R"}, BOOK)
    assert graph.find("contact").named
    assert graph.find("receptacle").list_of("contacts") == ([graph.find("contact")], False)
    assert graph.find("space").list_of("contacts") == ([graph.find("contact")], False)


def test_nothing_plugged_in_is_not_the_same_as_not_said() -> None:
    graph = record_to_graph({"contact.load": "none"}, BOOK)
    assert graph.find("contact").one("load") is None
    assert graph.find("contact").one("circuit") is MISSING


def test_place_dates_choices_and_who_said_it() -> None:
    record = {
        "project.place": "demo/town",
        "project.date.permit application": date(2024, 10, 1),
        "project.choice.window-2024": "new",
        "stated_by": "the plan",
        "control.stated_by": "nameplate",
        "control.turns_off_by": "presence",
        "contact.supply": "controlled",
    }
    graph = record_to_graph(record, BOOK)
    assert (graph.place, graph.dates, graph.choices) == (
        "demo/town",
        {"permit application": "2024-10-01"},
        {"window-2024": "new"},
    )
    assert graph.find("control").stated_by == {"control.turns_off_by": "nameplate"}
    assert graph.find("contact").stated_by == {"contact.supply": "the plan"}


@pytest.mark.parametrize(
    ("record", "label"),
    [
        ({}, "the contact device"),
        ({"contact.position": "upper"}, "the upper contact device"),
        ({"receptacle.name": "R1", "contact.position": "upper", "space.name": "living room"}, "R1 upper, living room"),
        ({"receptacle.name": "R1", "contact.position": "only", "space.use": "office"}, "R1, office"),
        (
            {"receptacle.name": "R1", "receptacle.location": "left of the door", "contact.position": "lower"},
            "R1 lower, left of the door",
        ),
    ],
)
def test_labels_are_what_one_would_say(record: dict[str, object], label: str) -> None:
    assert record_to_graph(record, BOOK).find("contact").label == label


def test_a_record_called_by_a_name_has_ids_and_labels_of_its_own() -> None:
    graph = FrontDoor(BOOK).record({"contact.position": "upper", "space.use": "office"}, called="R12")
    assert graph.find("R12/contact").label == "R12 upper, office"


def test_many_records_keep_the_good_ones() -> None:
    rows = [("a", {"contact.supply": "controlled"}), ("b", {"contact.supply": 1}), ("c", {"contact.mark": "none"})]
    good, faults = FrontDoor(BOOK).records(rows)
    assert [name for name, _ in good] == ["a", "c"]
    assert [str(fault) for fault in faults] == [
        "contact.supply: `1` is none of the answers; allowed: `always on`, `controlled`"
    ]


def test_a_record_file_names_line_and_column() -> None:
    text = "contact.supply: controlled\nspace.area_sq_ft: yes\nspace.name: 210.10\nreceptacle.volts: 120 V\n"
    with pytest.raises(InputFaults) as refused:
        read_record(text, BOOK)
    assert str(refused.value).split("\n") == [
        "record.yaml:2:19: `space.area_sq_ft`: `yes` is a yes or no where a number is due; allowed: an area in `sq ft` "
        "or `sq m`, or a plain number in `sq ft`, above 0",
        "record.yaml:3:13: `space.name`: `210.10` reads as a number where text is due; put it in quotes",
        "record.yaml:4:19: `receptacle.volts`: `120 V` is refused: that is the circuit's voltage; a receptacle on it "
        "is rated 125 V",
    ]


def test_data_nested_without_end_is_refused() -> None:
    endless: list[object] = []
    endless.append(endless)
    assert faults_of({"contact.supply": endless}) == [
        "contact.supply: found a list; allowed: `always on`, `controlled`"
    ]

"""Things that nobody gave or that only a list leads to: decided as they are ruled on, in any order of records."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from itertools import permutations

import pytest

from flat.held_against import as_decision, by_decide, by_rule, said
from ruling import places, small
from ruling.places import only
from yokebook.code import Code
from yokebook.model import Alternative, Book, Box, ByReading, Impossible, NamedNumber, Over, Table, WhereBox, Within

#: A choice of three letters for each kind of thing.
FACTS = {
    name: fact
    for kind in ("project", "space", "wall", "circuit", "load", "control")
    for name, fact in places.facts_of(kind, small.fact("d", "choice")).items()
}


def code_of(book: Book, *tables: Table) -> Code:
    """The law of these tables with nothing kept yet."""
    return Code(book, places.stands(places.law(book, tables)), None, {}, None, {})


def table(*boxes: Box) -> Table:
    """A table with a rule for each box, each with a word of its own, and another word where none fires."""
    rules = [small.rule(f"upper#{i}", [box], small.OUTCOMES[i]) for i, box in enumerate(boxes)]
    return small.table("upper", rules, "high")


def cannot_be(book: Book, *boxes: Box) -> Book:
    """The same with combinations that cannot be, each of the kind of thing that its first name is of."""
    kinds = [next(iter(box)).partition(".")[0] for box in boxes]
    combinations = [Impossible(kind, box, "so", small.AT) for kind, box in zip(kinds, boxes, strict=True)]  # type: ignore[arg-type]
    return replace(book, impossible=tuple(combinations))


def differing(book: Book, asked: Table, records: list[dict[str, object]]) -> list[object]:
    """The records that are decided otherwise than ruled, whichever of the others came before."""
    fresh = code_of(book, asked)
    due = [by_rule(fresh, "upper", record) for record in records]
    found: list[object] = []
    for order in permutations(range(len(records)), 2):
        code = code_of(book, asked)
        found += [(order, records[i]) for i in order if by_decide(code, "upper", records[i]) != due[i]]
    return found


def each(**values: str) -> list[dict[str, object]]:
    """A record for each combination of letters, `x="ab"` for a contact's x of a or b."""
    found: list[dict[str, object]] = [{}]
    for name, letters in values.items():
        full = f"contact.{name}" if name in "xy" else f"{name}.d"
        found = [{**record, full: letter} for record in found for letter in letters]
    return found


def test_a_wall_that_nobody_gave_is_not_known_to_be_in_the_room():
    figure = places.calculation("wall.f", WhereBox(({"space.d": only("b")},)))
    asked = table({"wall.f": only(True), "contact.x": only("a")}, {"wall.f": only(False), "contact.x": only("b")})
    assert differing(places.book(FACTS, [figure]), asked, each(x="abc", space="ab")) == []


def test_a_circuit_that_nobody_gave_is_not_known_to_have_the_contact():
    of_contacts = Over("any", "circuit.contacts", ({},), ({"contact.y": only("b")},), None)
    book = places.book(FACTS, [places.calculation("circuit.f", of_contacts)])
    asked = table({"circuit.f": only(True), "contact.x": only("a")}, {"circuit.f": only(False), "contact.x": only("b")})
    assert differing(book, asked, each(x="abc", y="ab")) == []
    of_circuit = cannot_be(book, {"circuit.d": only("a"), "circuit.f": only(False)})
    asked = table({"circuit.d": only("a"), "circuit.f": only(False)}, {"circuit.d": only("b"), "contact.x": only("b")})
    assert differing(of_circuit, asked, each(x="abc", y="ab")) == []


#: A figure of what is plugged in, which the project has a say in, and a combination of both that cannot be.
OF_LOAD_AND_PROJECT: Mapping[str, tuple[Book, Table]] = {
    "figure": (
        places.book(
            FACTS,
            [places.calculation("load.f", WhereBox(({"load.d": only("a"), "project.d": only("b")},)))],
        ),
        table({"load.f": only(True)}),
    ),
    "combination": (
        cannot_be(places.book(FACTS), {"load.d": only("a"), "project.d": only("b")}),
        table({"load.d": only("a")}),
    ),
}


@pytest.mark.parametrize("name", OF_LOAD_AND_PROJECT)
def test_what_is_plugged_in_is_of_the_project_though_nobody_gave_it(name: str):
    book, asked = OF_LOAD_AND_PROJECT[name]
    assert differing(book, asked, each(x="a", project="abc")) == []
    for order in ("abc", "bca"):
        code = code_of(book, asked)
        for letter in order:
            contact = {"id": "C", "x": "a"}
            project = {
                "project": {"d": letter},
                "spaces": [{"id": "S", "yokes": [{"id": "R", "contacts": [contact]}]}],
            }
            [ruled] = code.rule_project(project).rulings
            [decided] = code.decide_project(project)
            assert said(decided.decision) == said(as_decision(ruled, code))


@pytest.mark.parametrize("alternative", ["one", "two"])
def test_an_argued_alternative_counts_in_what_cannot_be(alternative: str):
    """Also where only one alternative is published, so that nothing is open."""
    ways = {name: Alternative(name, name, "published", "x", "s") for name in ("one", "two")}
    ways["two"] = replace(ways["two"], standing="argued")
    reading = replace(small.READINGS["r"], alternatives=ways)
    letter = {"one": "b", "two": "a"}
    boxes = {name: WhereBox(({"contact.y": only(letter[name])},)) for name in ways}
    book = places.book(FACTS, [places.calculation("contact.f", ByReading("r", boxes))], [reading])
    asked = table({"contact.x": only("a"), "reading.r": only("one")}, {"contact.x": only("b")})
    tied = cannot_be(book, {"contact.x": only("a"), "contact.f": only(True)})
    assert differing(tied, asked, [*each(x="ab", y="abc"), *each(x="ab")]) == []
    by_reading = cannot_be(book, {"contact.x": only("a"), "contact.y": only("c"), "reading.r": only(alternative)})
    assert differing(by_reading, asked, [*each(x="ab", y="abc"), *each(x="ab")]) == []


def test_a_number_that_is_not_set_in_what_cannot_be_of_things_not_looked_at_is_no_matter():
    number = places.facts_of("load", small.fact("n", "number"))
    book = cannot_be(places.book(FACTS | number), {"load.n": Within(NamedNumber("none")), "load.d": only("a")})
    asked = table({"contact.x": only("a")}, {"contact.x": only("b")})
    assert differing(book, asked, [*each(x="ab"), *each(y="a")]) == []


def test_a_text_that_does_not_apply_is_refused():
    text = replace(small.fact("t", "text"), applies_when={"contact.y": only("a")})
    book = places.book(FACTS | {text.id: text})
    asked = table({"contact.x": only("a")}, {"contact.x": only("b")})
    records = [{**record, "contact.t": "so it says"} for record in each(x="ab", y="ab")]
    assert differing(book, asked, records) == []
    assert "does not apply" in str(by_decide(code_of(book, asked), "upper", records[-1]))


@pytest.mark.parametrize("kind", ["load", "circuit", "control"])
def test_what_the_lists_of_a_thing_lead_to_has_to_be_possible(kind: str):
    book = cannot_be(places.book(FACTS, questions={"upper": kind}), {"contact.x": only("a"), "contact.y": only("b")})
    records = [{**record, f"{kind}.d": "a"} for record in each(x="ab", y="ab")]
    asked = table({f"{kind}.d": only("a")})
    assert differing(book, asked, records) == []
    assert "impossible" in str(by_decide(code_of(book, asked), "upper", records[1]))


def test_a_wall_that_the_receptacle_is_not_on_need_not_be_possible():
    """Whether it is on the wall tells two records apart though the question does not look at that."""
    governed = replace(FACTS["wall.d"], applies_when={"space.d": only("a")})
    book = cannot_be(places.book({**FACTS, "wall.d": governed}), {"space.d": only("a"), "contact.y": only("b")})
    book = replace(book, impossible=tuple(replace(each, entity="contact") for each in book.impossible))
    of_space = WhereBox(({"space.d": only("a")}, {"space.d": only("b")}))
    book = replace(book, calculations={"contact.f": places.calculation("contact.f", of_space)})
    asked = table({"contact.f": only(True), "contact.x": only("a")}, {"contact.x": only("b")})
    on = [{**record, "wall.d": "a"} for record in each(x="ab", y="ab")]
    assert differing(book, asked, [*on, *({**record, "receptacle.wall": "none"} for record in on)]) == []

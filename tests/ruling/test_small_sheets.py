"""A filed sheet ruled again: lower answers of several documents, stated figures, readings, what cannot occur."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import replace
from fractions import Fraction

from hypothesis import given, settings
from hypothesis import strategies as st

from ruling import places, small
from ruling.places import only
from yokebook.law import Candidate, InForce
from yokebook.load.faults import RulebookFaults
from yokebook.model import Impossible, NamedNumber, NumberValue, Table, Value, WhereBox, Within
from yokebook.ruling import Ruling, rule_on
from yokebook.sheet import Sheet, rule_again

NAMES = ("answer.lower", "contact.x", "contact.p", "reading.r")


def as_read(rulings: list[Ruling]) -> object:
    """The rulings as JSON gives them back."""
    return json.loads(json.dumps([ruling.to_dict() for ruling in rulings]))


def both_ways(place: places.Place, kinds: tuple[str, ...]) -> tuple[object, object]:
    """The rulings on `upper` under each kind of document, and those of the filed sheet ruled again."""
    session = place.session()
    contact = session.graph.things["contact"][0]
    rulings = [rule_on(session, place.the_book.questions["upper"], contact, kind) for kind in kinds]
    filed = json.loads(json.dumps(Sheet(rulings, session, None, {}, None, {}).filed()))
    return as_read(rulings), as_read(rule_again(filed))


class TestRuledAgain:
    """`basis` embeds the resolved tables, readings and calculations that the question reaches, so it can be ruled again
    with nothing else at hand."""

    @settings(max_examples=60, deadline=None)
    @given(
        small.tables("upper", NAMES, most=3),
        small.tables("lower", ("contact.x", "contact.n"), most=2),
        small.records(("contact.x", "contact.p", "contact.n")),
        st.booleans(),
    )
    def test_equal_in_every_part(
        self, upper: Table, lower: Table, record: Mapping[str, Value], two_entries: bool
    ) -> None:
        cannot = Impossible("contact", {"contact.x": only("a"), "contact.p": only(True)}, "so it is", small.AT)
        book = replace(places.book({}, [], [places.reading("r", "three")]), impossible=(cannot,))
        law = places.law(book, [upper, lower])
        candidates = [Candidate("entry", "in force", law, "")]
        if two_entries:
            candidates.append(Candidate("other", "not entered", None, "nobody did"))
        line = InForce("small", tuple(candidates), (("date", "permit", "", ()),))
        try:
            one, two = both_ways(places.Place(book, {"small": line}, record), ("small",))
        except RulebookFaults:
            return  # a cycle of exceptions is refused at load
        assert one == two

    def test_an_own_answer_in_a_calculation_of_two_documents(self) -> None:
        """The calculation takes each document's own lower answer."""
        calc = places.calculation("contact.f", WhereBox(({"answer.lower": only("high")},)))
        book = places.book({}, [calc])
        laws = [
            places.law(
                book,
                [
                    small.table("upper", [small.rule("upper#0", [{"contact.f": only(True)}], "high")], "low"),
                    small.table("lower", [], word),
                ],
                kind,
            )
            for kind, word in (("small", "low"), ("energy", "high"))
        ]
        one, two = both_ways(places.Place(book, places.stands(*laws)), ("small", "energy"))
        assert one == two
        assert isinstance(one, list) and [ruling["word"] for ruling in one] == ["low", "high"]

    def test_a_named_number_of_what_cannot_occur(self) -> None:
        number = NumberValue("v", Fraction(1), None, "1", "neither", "", small.CITE, small.SEEN, small.AT)
        cannot = Impossible("contact", {"contact.n": Within(low=NamedNumber("v"))}, "too many", small.AT)
        book = replace(places.book(), impossible=(cannot,))
        law = places.law(book, [small.table("upper", [], "low")])
        law = type(law)(replace(law.resolved, values={"v": number}), book)
        place = places.Place(book, places.stands(law), {"contact.n": Fraction(2)})
        one, two = both_ways(place, ("small",))
        assert one == two
        assert isinstance(one, list) and one[0]["status"] == "impossible"

    def test_a_stated_figure(self) -> None:
        calc = places.calculation("contact.f", WhereBox(({"answer.lower": only("high")},)))
        book = places.book({}, [calc])
        tables = [
            small.table("upper", [small.rule("upper#0", [{"contact.x": only("a")}], "high")], "low"),
            small.table("lower", [small.rule("lower#0", [{"contact.x": only("a")}], "high")], "low"),
        ]
        place = places.Place(book, places.stands(places.law(book, tables)), {"contact.f": True})
        one, two = both_ways(place, ("small",))
        assert one == two
        assert isinstance(one, list) and one[0]["outcome"] == "high"

"""Readings inside figures over a list, and what is also held: by brute force over the combinations of alternatives."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import product

from hypothesis import given, settings
from hypothesis import strategies as st

from ruling import places, small
from ruling.places import only
from yokebook.model import (
    Amendment,
    Box,
    ByReading,
    Calculation,
    Cite,
    Constant,
    Of,
    Over,
    Step,
    Table,
    Value,
    WhereBox,
    Within,
)
from yokebook.ruling import Ruling

P, Q, F = "control.p", "control.q", "contact.f"
FACTS = places.facts_of("control", small.FACTS["contact.p"], small.FACTS["contact.q"])
Item = Mapping[str, Value]
PUBLISHED = ("one", "two")

items = st.lists(st.fixed_dictionaries({}, optional={P: st.booleans(), Q: st.booleans()}), min_size=1, max_size=3)


def passes(alternative: str, item: Item) -> bool:
    """Under one the control's p counts, under two its q, under three neither has to."""
    return {"one": bool(item[P]), "two": bool(item[Q]), "three": True}[alternative]


def full_items(given_: Sequence[Item]) -> list[tuple[Item, ...]]:
    """Every way that all items may be."""
    return list(product(*(list(places.ways((P, Q), item, {P: (True, False), Q: (True, False)})) for item in given_)))


def word(ruling: Ruling) -> tuple[str, set[str]]:
    """The status and the outcomes shown."""
    return ruling.status, set(ruling.possible)


def due_word(by_readings: list[set[str]]) -> tuple[str, set[str]]:
    """design: every P the same single outcome: that; all single, not the same: readings differ; else cannot tell."""
    together = set().union(*by_readings)
    if len(together) == 1:
        return "settled", together
    return ("readings differ" if all(len(p) == 1 for p in by_readings) else "cannot tell"), together


class TestOneReadingForEveryItem:
    """An answer inside a calculation over a list is ruled item by item, once for each combination of readings, the same
    one for every item."""

    @settings(max_examples=100, deadline=None)
    @given(items, st.sampled_from(("any", "all", "count")), st.booleans())
    def test_by_brute_force(self, given_: list[Item], op: str, in_box: bool) -> None:
        """The reading is named by a cell of the item, or by a calculation of the item."""
        item = places.calculation("control.f", ByReading("r", {"one": Of(P), "two": Of(Q), "three": Of("control.yes")}))
        yes = places.calculation("control.yes", WhereBox(({},)))
        boxes: tuple[Box, ...] = ({"control.f": only(True)},)
        if in_box:
            boxes = (
                {"reading.r": only("one"), P: only(True)},
                {"reading.r": only("two"), Q: only(True)},
                {"reading.r": only("three")},
            )
        where, are = (boxes, ()) if op == "count" else (({},), boxes)
        figure = places.calculation(
            F,
            Over(op, "contact.controls", where, are, None),  # type: ignore[arg-type]
            "number" if op == "count" else "yes_no",
        )
        book = places.book(FACTS, [item, yes, figure], [places.reading("r", "three")])
        cell = Within(low=Fraction(2)) if op == "count" else only(True)
        table = small.table("upper", [small.rule("upper#0", [{F: cell}], "high")], "low")
        ruling = places.Place(book, places.stands(places.law(book, [table])), controls=given_).ruling()

        def outcomes(alternative: str) -> set[str]:
            found = set()
            for full in full_items(given_):
                passing = [passes(alternative, i) for i in full]
                high = {"any": any(passing), "all": all(passing), "count": sum(passing) >= 2}[op]
                found.add("high" if high else "low")
            return found

        status, shown = due_word([outcomes(a) for a in PUBLISHED])
        assert word(ruling) == (status, shown)
        held = {o for row in ruling.also_held for o in row["outcomes"]}
        assert held == outcomes("three") - shown


class TestAlsoHeld:
    """Each argued alternative is tried alone, against every combination of the other readings' published ones; outcomes
    that the word does not already show are also held, and never change the word."""

    @settings(max_examples=120, deadline=None)
    @given(
        st.lists(
            st.tuples(
                st.dictionaries(
                    st.sampled_from(("reading.r", "reading.s")),
                    st.sets(st.sampled_from(("one", "two", "three", "four")), min_size=1, max_size=2),
                    max_size=2,
                ),
                st.none() | st.booleans(),
                st.sampled_from(small.OUTCOMES),
            ),
            min_size=1,
            max_size=4,
        ),
        st.none() | st.booleans(),
    )
    def test_two_readings(self, rows: list[tuple[dict[str, set[str]], bool | None, str]], p_given: bool | None) -> None:
        rules = []
        for i, (wanted, p, then) in enumerate(rows):
            box = {name: only(*values) for name, values in wanted.items()}
            if p is not None:
                box["contact.p"] = only(p)
            rules.append(small.rule(f"upper#{i}", [box], then, (), tuple(f"upper#{j}" for j in range(i))))
        table = small.table("upper", rules, "low")
        readings = [places.reading("r", "three", "four"), places.reading("s", "three")]
        book = places.book({}, [], readings)
        contact: dict[str, Value] = {} if p_given is None else {"contact.p": p_given}
        ruling = places.Place(book, places.stands(places.law(book, [table])), contact).ruling()

        def outcomes(r: str, s: str) -> set[str]:
            full = {"reading.r": r, "reading.s": s}
            ps = (True, False) if p_given is None else (p_given,)
            return {small.naive({"upper": table}, "upper", {**full, "contact.p": p})[1] for p in ps}

        status, shown = due_word([outcomes(r, s) for r in PUBLISHED for s in PUBLISHED])
        assert word(ruling) == (status, shown)
        due: dict[tuple[str, str], set[str]] = {}
        for r in ("three", "four"):
            due["r", r] = set().union(*(outcomes(r, s) for s in PUBLISHED)) - shown
        due["s", "three"] = set().union(*(outcomes(r, "three") for r in PUBLISHED)) - shown
        held = {(row["reading"], row["alternative"]): set(row["outcomes"]) for row in ruling.also_held}
        assert held == {key: outcomes for key, outcomes in due.items() if outcomes}


def law_with_choice(alternative: str, where: Box | None) -> tuple[places.Place, Calculation]:
    """A place that chose a reading, for all contacts or those in a box; high where the reading chosen is three."""
    book = places.book({}, [], [places.reading("r", "three")])
    rules = [
        small.rule("upper#0", [{"reading.r": only("three")}], "high"),
        small.rule("upper#1", [{"reading.r": only("two")}], "middle"),
    ]
    law = places.law(book, [small.table("upper", rules, "low")])
    step = Step("A-1", "choose_reading", None, "so directed", small.AT)
    assumed = replace(small.SEEN, mark="assumed")
    amendment = Amendment("A-1", "so directed", Cite("order", "1"), assumed, (), small.AT)
    resolved = replace(law.resolved, chosen=(("r", alternative, where, step),), amendments=(amendment,))
    chosen = type(law)(resolved, book)
    return places.Place(book, places.stands(chosen)), places.calculation(F, Constant(Fraction(1)), "number")


class TestChooseReading:
    """A place's direction may choose any alternative, argued ones too; `where:` narrows it."""

    def test_within_and_without_its_box(self) -> None:
        place, _ = law_with_choice("three", {"contact.p": only(True)})
        place.contact = {"contact.p": True}
        inside = place.ruling()
        assert (inside.outcome, inside.also_held) == ("high", [])
        place.contact = {"contact.p": False}
        outside = place.ruling()
        assert (outside.status, set(outside.possible)) == ("readings differ", {"low", "middle"})
        place.contact = {}
        unknown = place.ruling()
        assert (unknown.status, set(unknown.possible)) == ("cannot tell", {"low", "middle", "high"})
        assert [ask["fact"] for ask in unknown.ask] == ["contact.p"]

    def test_a_ruling_is_only_as_well_checked_as_the_direction(self) -> None:
        place, _ = law_with_choice("three", None)
        assert place.ruling().checked["mark"] == "assumed"


def test_the_tables_of_this_page_are_tables() -> None:
    place, _ = law_with_choice("one", None)
    law = place.in_force["small"].candidates[0].law
    assert law is not None and isinstance(law.resolved.tables["upper"], Table)

"""Answers of other tables and documents, chains through lists, and lower tables at fault: by brute force."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ruling import places, small
from ruling.places import only
from ruling.test_semantics import ruled
from yokebook.law import Candidate, InForce
from yokebook.load.faults import RulebookFaults
from yokebook.model import Box, Over, Table, Value, WhereBox

FEW = ("contact.x", "contact.p")
X, P = "control.x", "control.p"
CONTROL = places.facts_of("control", small.FACTS["contact.x"], small.FACTS["contact.p"])
VALUES: dict[str, Sequence[Value]] = {X: small.LETTERS, P: (True, False)}


def in_energy(table: Table) -> Table:
    """The upper table with `answer.lower` made the energy document's."""

    def named(box: dict[str, object]) -> dict[str, object]:
        return {("answer.energy.lower" if n == "answer.lower" else n): cell for n, cell in box.items()}

    rules = [
        small.rule(r.id, [named(b) for b in r.where], r.then, [named(b) for b in r.but_not], r.exception_to)  # type: ignore[arg-type]
        for r in table.rules
    ]
    return small.table("upper", rules, table.none_fires.then)


class TestOtherDocuments:
    """An answer names the kind of document that gives it; if that kind has no entry on the day, or no such table, the
    answer is a fact not given. A missing date keeps every entry possible, and `rule` joins them in P."""

    @settings(max_examples=100, deadline=None)
    @given(
        small.tables("lower", FEW, most=2),
        small.tables("lower", FEW, most=2),
        small.tables("upper", ("answer.lower", "contact.x"), most=3),
        small.records(FEW),
        st.lists(st.sampled_from(("first", "second", "not entered", "no table")), min_size=1, max_size=3, unique=True),
    )
    def test_several_entries(
        self, one: Table, two: Table, upper: Table, record: dict[str, Value], entries: list[str]
    ) -> None:
        book = places.book()
        laws = {"first": [one], "second": [two], "no table": []}
        candidates = [
            Candidate(e, "not entered", None, "nobody did") if e == "not entered"
            else Candidate(e, "in force", places.law(book, laws[e], "energy"), "")
            for e in entries
        ]  # fmt: skip
        line = InForce("energy", tuple(candidates), (("date", "permit", "", ()),))
        stands = {**places.stands(places.law(book, [in_energy(upper)])), "energy": line}
        due = set()
        for full in small.completions(record, FEW):
            for entry in entries:
                if entry in ("first", "second"):
                    tables = {"lower": laws[entry][0], "upper": upper}
                    due.add(small.naive(tables, "upper", full)[1])
                    continue
                for word in small.OUTCOMES:
                    said = small.table("lower", [small.rule("lower#0", [{}], word)], None)
                    due.add(small.naive({"lower": said, "upper": upper}, "upper", full)[1])
        try:
            ruling = places.Place(book, stands, record).ruling()
        except RulebookFaults:
            pytest.skip("a cycle of exceptions is refused at load")
        assert set(ruling.possible) == due
        assert bool(ruling.ask) == (len(due) > 1)

    def test_asks_the_date_and_the_answer(self) -> None:
        book = places.book()
        upper = small.table("upper", [small.rule("upper#0", [{"answer.energy.lower": only("high")}], "high")], "low")
        none = {"energy": InForce("energy", (Candidate("e", "none in force", None, "none"),))}
        stands = {**places.stands(places.law(book, [upper])), **none}
        assert [a["fact"] for a in places.Place(book, stands).ruling().ask] == ["answer.energy.lower"]
        laws = [places.law(book, [small.table("lower", [], word)], "energy") for word in ("low", "high")]
        two = InForce(
            "energy",
            tuple(Candidate(f"e{i}", "in force", law, "") for i, law in enumerate(laws)),
            (("date", "permit", "", ()),),
        )
        ruling = places.Place(book, {**stands, "energy": two}).ruling()
        assert [a["fact"] for a in ruling.ask] == ["dates.permit"]

    def test_upper_entries_joined(self) -> None:
        """Two entries may govern: one says low, the other has nothing in force."""
        book = places.book()
        law = places.law(book, [small.table("upper", [], "low")])
        entries = (Candidate("a", "in force", law, ""), Candidate("b", "not entered", None, "nobody did"))
        ruling = places.Place(book, {"small": InForce("small", entries, (("date", "permit", "", ()),))}).ruling()
        assert (ruling.status, set(ruling.possible)) == ("cannot tell", {"low", "no adoption entered"})
        assert [a["fact"] for a in ruling.ask] == ["dates.permit"]


def lower_words(table: Table, item: dict[str, Value]) -> set[str]:
    """All that the answer of an item may be."""
    return {small.naive({"acts": table}, "acts", full)[1] for full in places.ways((X, P), item, VALUES)}


@st.composite
def acts_tables(draw: st.DrawFn, faulty: bool) -> Table:
    """A table asked of a control, on x and p; with `faulty` it may be silent or in conflict."""
    rules = []
    for i in range(draw(st.integers(1, 2))):
        names = draw(st.sets(st.sampled_from((X, P))))
        box: Box = {
            name: only(*draw(st.sets(st.sampled_from(VALUES[name]), min_size=1, max_size=2))) for name in sorted(names)
        }
        weaker = () if faulty else tuple(f"acts#{j}" for j in range(i))
        rules.append(small.rule(f"acts#{i}", [box], draw(st.sampled_from(("low", "high"))), (), weaker))
    return small.table("acts", rules, None if faulty and draw(st.booleans()) else "low")


controls = st.lists(
    st.fixed_dictionaries({}, optional={X: st.sampled_from(small.LETTERS), P: st.booleans()}), min_size=1, max_size=2
)


def any_of(words: Sequence[str]) -> str:
    """`any … high` over the items' answers; where a fault would matter, the fault."""
    if "high" in words:
        return "high"
    return next((w for w in words if w not in small.OUTCOMES), "low")


class TestChainThroughAList:
    """An answer taken inside a calculation over a list is ruled item by item and enters as a bound; a half-listed list
    never passes. If a completion needs a lower answer that is silent or in conflict, the upper has the same status."""

    @settings(max_examples=150, deadline=None)
    @given(st.data(), st.booleans(), controls, st.booleans())
    def test_by_brute_force(
        self, data: st.DataObject, faulty: bool, items: list[dict[str, Value]], complete: bool
    ) -> None:
        acts = data.draw(acts_tables(faulty))
        figure = places.calculation(
            "contact.f", Over("any", "contact.controls", ({},), ({"answer.acts": only("high")},), None)
        )
        book = places.book(CONTROL, [figure], questions={"upper": "contact", "acts": "control"})
        upper = small.table("upper", [small.rule("upper#0", [{"contact.f": only(True)}], "high")], "low")
        place = places.Place(book, places.stands(places.law(book, [upper, acts])), {}, items, complete)
        ruling = place.ruling()
        each = [sorted(lower_words(acts, item)) for item in items]
        due = {any_of(words) for words in product(*each)}
        if complete:
            # two faults in one completion: either may be named
            assert due <= set(ruling.possible)
            assert set(ruling.possible) <= {w for words in product(*each) for w in (*words, any_of(words))} | {"low"}
            if all(w in small.OUTCOMES for words in each for w in words):
                assert set(ruling.possible) == due
        elif due == {"high"}:
            assert ruling.outcome == "high"
        else:
            assert due | {"high"} <= set(ruling.possible)  # a control that nobody listed may act
        if ruling.status == "settled":
            assert due == {ruling.outcome}
        if ruling.status == "cannot tell":
            assert ruling.ask

    def test_conflict_and_silence_are_both_told(self) -> None:
        """x = a: conflict; x = b: silent; x = c: high. All three are possible where x is not given."""
        rules = [
            small.rule("acts#0", [{X: only("a", "c")}], "high"),
            small.rule("acts#1", [{X: only("a")}], "low"),
        ]
        figure = places.calculation(
            "contact.f", Over("any", "contact.controls", ({},), ({"answer.acts": only("high")},), None)
        )
        book = places.book(CONTROL, [figure], questions={"upper": "contact", "acts": "control"})
        upper = small.table("upper", [small.rule("upper#0", [{"contact.f": only(True)}], "high")], "low")
        stands = places.stands(places.law(book, [upper, small.table("acts", rules)]))
        ruling = places.Place(book, stands, {}, [{}]).ruling()
        assert set(ruling.possible) == {"conflict", "silent", "high"}
        assert [a["fact"] for a in ruling.ask] == [X]


class TestAFaultThatDoesNotMatter:
    """An upper rule needs a lower answer only where it turns on it."""

    def test_a_box_that_fails_anyway(self) -> None:
        lower = small.table("lower", [small.rule("lower#0", [{}], "low"), small.rule("lower#1", [{}], "high")])
        box = {"answer.lower": only("low"), "contact.x": only("a")}
        upper = small.table("upper", [small.rule("upper#0", [box], "high")], "low")
        _, ruling, _ = ruled([lower, upper], "upper", {})
        assert set(ruling.possible) == {"conflict", "low"}

    def test_another_box_of_a_calculation_holds(self) -> None:
        lower = small.table("lower", [], None)
        calc = places.calculation("contact.f", WhereBox(({"answer.lower": only("low")}, {"contact.p": only(True)})))
        book = places.book({}, [calc])
        upper = small.table("upper", [small.rule("upper#0", [{"contact.f": only(True)}], "high")], "low")
        place = places.Place(book, places.stands(places.law(book, [lower, upper])), {"contact.p": True})
        assert place.ruling().outcome == "high"
        place.contact = {"contact.p": False}
        assert place.ruling().status == "silent"

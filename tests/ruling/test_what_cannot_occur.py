"""Facts that apply only sometimes, combinations that cannot occur, look-ups and stated figures: by brute force."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

from hypothesis import assume, given, settings
from hypothesis import strategies as st

from ruling import places, small
from ruling.places import only
from yokebook.model import Book, Box, Cell, Impossible, LookUp, NoneOf, Of, Over, Table, Value
from yokebook.ruling import Ruling, rule_on

X, P, Q, K = "contact.x", "contact.p", "contact.q", "contact.k"
NAMES = (X, P, Q)
#: p has a meaning only where x is a or b
APPLIES = {X: only("a", "b")}


def the_book(impossible: Iterable[Box] = ()) -> Book:
    """The small facts, p with `applies_when`, and combinations that cannot occur."""
    facts = {**small.FACTS, P: replace(small.FACTS[P], applies_when=APPLIES)}
    cannot = tuple(Impossible("contact", box, "so it is", small.AT) for box in impossible)
    return replace(small.book(), facts=facts, impossible=cannot)


def possible_records(record: Mapping[str, Value], impossible: Iterable[Box]) -> list[dict[str, Value]]:
    """All completions: p only where x is a or b, and nothing declared impossible."""
    found = []
    for full in small.completions(record, NAMES):
        if full[X] == "c":
            if P in record:
                continue
            full = {k: v for k, v in full.items() if k != P}
        if not any(small.box_state({}, box, full) for box in impossible) and full not in found:
            found.append(full)
    return found


def ruled(book: Book, table: Table, record: Mapping[str, Value]) -> Ruling:
    """The ruling of the table `upper`."""
    session = small.session([table], record, book)
    return rule_on(session, book.questions["upper"], session.graph.things["contact"][0], "small")


def words(table: Table, records: Iterable[Mapping[str, Value]]) -> dict[tuple[tuple[str, Value], ...], str]:
    """The word for each full record, by the definition."""
    return {tuple(sorted(r.items())): small.naive({"upper": table}, "upper", r)[1] for r in records}


def settles(outcomes: Mapping[tuple[tuple[str, Value], ...], str], asked: set[str], given_: Iterable[str]) -> bool:
    """Whether the answers to what is asked, and what is given, leave one outcome whatever they are."""
    by_answers: dict[tuple[tuple[str, Value], ...], set[str]] = {}
    for record, word in outcomes.items():
        known = tuple(pair for pair in record if pair[0] in asked or pair[0] in given_)
        by_answers.setdefault(known, set()).add(word)
    return all(len(found) == 1 for found in by_answers.values())


class TestAppliesWhenAndImpossible:
    """Where `applies_when` is false a fact is in no cell, never asked, may not be given. Impossible completions are
    left out; if none is left the outcome is *impossible*, with the reason."""

    @settings(max_examples=150, deadline=None)
    @given(small.tables("upper", NAMES, most=3), small.records(NAMES), st.lists(small.boxes(NAMES, most=2), max_size=2))
    def test_agrees_with_brute_force(self, table: Table, record: dict[str, Value], impossible: list[Box]) -> None:
        ruling = ruled(the_book(impossible), table, record)
        due = words(table, possible_records(record, impossible))
        if not due:
            assert ruling.status == "impossible" and ruling.status_of is not None and ruling.status_of["because"]
            return
        assert set(ruling.possible) == set(due.values())
        asked = {ask["fact"] for ask in ruling.ask}
        assert settles(due, asked, record)
        assert (asked == set()) == (len(set(due.values())) == 1)
        if not impossible and X in record and record[X] == "c":
            assert P not in asked

    def test_asks_though_two_facts_can_only_change_together(self) -> None:
        """p and q are always equal: no two completions differ in one of them alone, yet one has to be asked."""
        impossible = [{X: only("a"), P: only(True), Q: only(False)}, {X: only("a"), P: only(False), Q: only(True)}]
        rules = [
            small.rule("upper#0", [{P: only(True), Q: only(True)}], "high"),
            small.rule("upper#1", [{P: only(False), Q: only(False)}], "middle"),
        ]
        ruling = ruled(the_book(impossible), small.table("upper", rules, "low"), {X: "a"})
        assert (ruling.status, ruling.possible) == ("cannot tell", ["middle", "high"])
        assert len(ruling.ask) == 1

    def test_nothing_given_that_does_not_apply(self) -> None:
        """p is given, so x is a or b, and the rule on c cannot fire."""
        table = small.table("upper", [small.rule("upper#0", [{X: only("c")}], "high")], "low")
        assert ruled(the_book(), table, {P: True}).outcome == "low"


letters = st.sets(st.sampled_from(small.LETTERS), min_size=1, max_size=2).map(frozenset)
letter_cells: st.SearchStrategy[Cell] = letters.flatmap(lambda v: st.sampled_from((small.OneOf(v), NoneOf(v))))
look_ups = st.builds(
    LookUp,
    st.just(X),
    st.dictionaries(st.sampled_from(small.LETTERS), st.sampled_from(small.LETTERS), min_size=1),
    st.none() | st.sampled_from(small.LETTERS),
)
KX: tuple[str, ...] = (K, "contact.kk", X)
KX_BOXES: st.SearchStrategy[dict[str, Cell]] = st.dictionaries(st.sampled_from(KX), letter_cells, max_size=2)


@st.composite
def look_up_tables(draw: st.DrawFn) -> Table:
    """A table on x, on what is looked up by x, and on what is looked up by that."""
    rules = [
        small.rule(f"upper#{i}", [draw(KX_BOXES)], draw(st.sampled_from(small.OUTCOMES)), (), "all" if i else ())
        for i in range(draw(st.integers(1, 3)))
    ]
    return small.table("upper", rules, draw(st.sampled_from(small.OUTCOMES)))


def looked_up(look: LookUp, by: Value | None) -> Value | None:
    """design: a value the table does not list makes the result `otherwise`, or not applicable."""
    return None if by is None else look.table.get(by, look.otherwise)


class TestLookUpsAndStatedFigures:
    """Ratings are looked up from the configuration, or given instead and must agree."""

    @settings(max_examples=150, deadline=None)
    @given(look_up_tables(), look_ups, look_ups, st.none() | st.sampled_from(small.LETTERS), st.booleans())
    def test_agrees_with_brute_force(
        self, table: Table, look: LookUp, second: LookUp, stated: str | None, x_given: bool
    ) -> None:
        second = LookUp(K, second.table, second.otherwise)
        calculations = [places.calculation(K, look, "choice"), places.calculation("contact.kk", second, "choice")]
        book = replace(small.book({c.id: c for c in calculations}))
        record: dict[str, Value] = {X: "a"} if x_given else {}
        due = set()
        for x in ("a",) if x_given else small.LETTERS:
            k = looked_up(look, x)
            if stated is not None and k is not None and k != stated:
                continue  # must agree
            k = stated if stated is not None else k
            full = {X: x, K: k, "contact.kk": looked_up(second, k)}
            due.add(small.naive({"upper": table}, "upper", {n: v for n, v in full.items() if v is not None})[1])
        ruling = ruled(book, table, {**record, **({K: stated} if stated is not None else {})})
        if not due:
            assert ruling.status == "impossible"
            return
        assert due <= set(ruling.possible)
        if ruling.possible_is == "exact":
            assert due == set(ruling.possible)
        if ruling.status == "settled":
            assert due == {ruling.outcome}

    def test_not_listed_after_two_look_ups_is_not_lost(self) -> None:
        """x is a, b or c; b and c are in no second table, so kk may be not applicable."""
        first, second = LookUp(X, {"a": "a", "b": "b", "c": "c"}, None), LookUp(K, {"a": "a"}, None)
        third = LookUp("contact.kk", {"a": "b"}, None)
        calculations = [
            places.calculation(K, first, "choice"),
            places.calculation("contact.kk", second, "choice"),
            places.calculation("contact.kkk", third, "choice"),
        ]
        book = small.book({c.id: c for c in calculations})
        table = small.table("upper", [small.rule("upper#0", [{"contact.kkk": only("b")}], "high")], "low")
        assert ruled(book, table, {}).possible == ["low", "high"]

    def test_a_stated_figure_restricts_each_completion_by_itself(self) -> None:
        """Stated: on two controls. What one completion cannot have must not strike out the others."""
        held = Of("load.p")
        calc = places.calculation("contact.k", held)
        book = replace(small.book({calc.id: calc}), facts={**small.FACTS, **places.facts_of("load", small.FACTS[P])})
        table = small.table("upper", [small.rule("upper#0", [{"load.p": only(False)}], "high")], "low")
        place = places.Place(book, places.stands(places.law(book, [table])), {"contact.k": True}, load={})
        assert place.ruling().outcome == "low"


class TestStatedInsideLists:
    """A stated figure of a list's item restricts what the item may be."""

    def test_item(self) -> None:
        """The control is stated to be f, which is p; so an `all` over its p is yes though p itself is not given."""
        facts = places.facts_of("control", small.FACTS[P])
        item = places.calculation("control.f", Of("control.p"))
        whole = places.calculation(K, Over("all", "contact.controls", ({},), ({"control.p": only(True)},), None))
        book = places.book(facts, [item, whole])
        table = small.table("upper", [small.rule("upper#0", [{K: only(True)}], "high")], "low")
        stands = places.stands(places.law(book, [table]))
        assert places.Place(book, stands, controls=[{"control.f": True}]).ruling().outcome == "high"
        assert places.Place(book, stands, controls=[{}]).ruling().status == "cannot tell"
        assert places.Place(book, stands, controls=[{"control.f": True, "control.p": False}]).ruling().status == (
            "impossible"
        )

    @settings(max_examples=60, deadline=None)
    @given(st.lists(st.tuples(st.none() | st.booleans(), st.none() | st.booleans()), min_size=1, max_size=2))
    def test_any_by_brute_force(self, items: list[tuple[bool | None, bool | None]]) -> None:
        """Declared impossible: p and q both yes. Items with p or q; any of them p."""
        assume((True, True) not in items)
        facts = places.facts_of("control", small.FACTS[P], small.FACTS[Q])
        whole = places.calculation(K, Over("any", "contact.controls", ({},), ({"control.p": only(True)},), None))
        cannot = Impossible("control", {"control.p": only(True), "control.q": only(True)}, "no", small.AT)
        book = replace(places.book(facts, [whole]), impossible=(cannot,))
        table = small.table("upper", [small.rule("upper#0", [{K: only(True)}], "high")], "low")
        given_ = [{n: v for n, v in (("control.p", p), ("control.q", q)) if v is not None} for p, q in items]
        ruling = places.Place(book, places.stands(places.law(book, [table])), controls=given_).ruling()
        may = any(p is None and q is not True for p, q in items)
        must = any(p is True for p, _ in items)
        due = {"high"} if must else ({"low", "high"} if may else {"low"})
        assert set(ruling.possible) == due

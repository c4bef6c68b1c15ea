"""What ties inputs rules out nothing that comes about: random buildings through the evaluator, of rulebooks with
calculations of every form."""

from __future__ import annotations

import random
from collections.abc import Mapping
from dataclasses import replace
from fractions import Fraction

import pytest

from proof.holds_of_books import in_span
from proof.worlds import Full, World, inputs_of, random_full, random_world
from ruling import places, small
from ruling.places import only
from yokebook.entities import KIND_OF_PREFIX, Kind
from yokebook.model import Book, Box, Calculation, Impossible, LookUp, Of, Over, Question, Table, Value, WhereBox
from yokebook.proof.elements import Side, Space, space_of
from yokebook.session import LowerFault

LIGHT, HEAVY = "light", "heavy"


def point_in(space: Space, values: Mapping[str, Value | None]) -> tuple[int, ...]:
    """The elements that hold these values, exactly one each."""
    found: list[int] = []
    for name, spans in zip(space.names, space.elements, strict=True):
        held = [number for number, span in enumerate(spans) if in_span(span, values[name])]
        assert len(held) == 1, (name, values[name], spans)
        found += held
    return tuple(found)


def holds_of(full: Full, space: Space) -> bool:
    """Whether a building that can be was looked at: its inputs are in elements, nothing rules them out, and the rows
    say what the evaluator says."""
    for thing in full.graph.things[full.world.per]:
        if full.can_be(thing):
            try:
                values = inputs_of(full, thing, space.names)
                outcome = full.context.decide(full.world.law, thing, "upper")
            except LowerFault:
                continue  # no answer below to look at
            said = ("ruled", outcome.word) if outcome.status == "ruled" else (outcome.status, "")
            assert space.rows[0].at(point_in(space, values)) == said, values
            return True
    return False


def looked_at(seeds: range, each: int) -> int:
    """How many buildings of random rulebooks it holds of."""
    count = 0
    for seed in seeds:
        rng = random.Random(seed)
        world = random_world(rng)
        space = space_of([Side(world.law, "upper")], world.book, tied=True)
        count += sum(holds_of(random_full(rng, world), space) for _ in range(each))
    return count


def test_no_building_that_can_be_is_ruled_out() -> None:
    assert looked_at(range(300), 10) > 1500


@pytest.mark.slow
def test_no_building_that_can_be_is_ruled_out_by_many() -> None:
    assert looked_at(range(10_000, 13_000), 12) > 20_000


# ---- what was ruled out wrongly, or left out -------------------------------------------------------------------------


def world_of(
    table: Table, per: Kind = "contact", *calculations: Calculation, impossible: tuple[Impossible, ...] = ()
) -> World:
    """One table over the small facts, those of a circuit and of a load too."""
    facts = {kind: places.facts_of(kind, *small.FACTS.values()) for kind in ("circuit", "load", "space", "project")}
    every = {name: fact for its in facts.values() for name, fact in its.items()}
    upper = Question("upper", "R00", "upper?", per, {o: o for o in small.OUTCOMES}, frozenset(), small.AT)
    book: Book = replace(places.book(every, calculations), questions={"upper": upper}, impossible=impossible)
    return World(book, places.law(book, [table]), per)


def tied(world: World) -> Space:
    return space_of([Side(world.law, "upper")], world.book, tied=True)


def one_rule(box: Box) -> Table:
    return small.table("upper", [small.rule("upper#0", [box], "high")], "low")


def says(world: World, **values: Value | None) -> tuple[str, str]:
    """What the table says of these inputs, `contact_x` for `contact.x`; any value of the others."""
    space = tied(world)
    point = [
        next(n for n, span in enumerate(spans) if name not in values or in_span(span, values[name]))
        for name, spans in zip((name.replace(".", "_") for name in space.names), space.elements, strict=True)
    ]
    return space.rows[0].at(point)


@pytest.mark.parametrize(
    ("kind", "is_ruled_out"), [("load", False), ("circuit", False), ("space", True), ("contact", True)]
)
def test_a_combination_of_a_thing_that_need_not_be_there(kind: Kind, *, is_ruled_out: bool) -> None:
    """No load may be in such a project: there are contacts there all the same, with nothing plugged in."""
    prefix = {value: key for key, value in KIND_OF_PREFIX.items()}[kind]
    cannot = Impossible(kind, {"project.x": only("a")}, f"no {prefix} there", small.AT)
    world = world_of(one_rule({"project.x": only("a")}), impossible=(cannot,))
    assert says(world, project_x="a") == (("impossible", "") if is_ruled_out else ("ruled", "high"))
    assert says(world, project_x="b") == ("ruled", "low")


def test_a_combination_that_names_what_need_not_be_there() -> None:
    cannot = Impossible("load", {"load.x": only("a"), "project.x": only("a")}, "so it is", small.AT)
    world = world_of(one_rule({"project.x": only("a"), "load.x": only("a")}), impossible=(cannot,))
    assert says(world, project_x="a", load_x="a") == ("impossible", "")
    assert says(world, project_x="a", load_x=None) == ("ruled", "low")


class TestLookUps:
    """x is a, b or c; a is light, b is heavy, c is not listed. Of a contact with c either may be stated."""

    def world(self, otherwise: str | None, box: Box) -> World:
        look_up = LookUp("contact.x", {"a": LIGHT, "b": HEAVY}, otherwise)
        weight = replace(places.calculation("contact.k", look_up, "choice"), values={LIGHT: "", HEAVY: ""})
        return world_of(one_rule(box), "contact", weight)

    @pytest.mark.parametrize(
        ("x", "k", "due"),
        [
            ("a", LIGHT, "low"), ("a", HEAVY, None), ("a", None, None), ("b", HEAVY, "high"), ("b", LIGHT, None),
            ("c", LIGHT, "low"), ("c", HEAVY, "high"), ("c", None, "low"),
        ],
    )  # fmt: skip
    def test_what_is_not_listed_may_be_stated(self, x: str, k: str | None, due: str | None) -> None:
        world = self.world(None, {"contact.k": only(HEAVY), "contact.x": only("a", "b", "c")})
        assert says(world, contact_x=x, contact_k=k) == (("impossible", "") if due is None else ("ruled", due))

    @pytest.mark.parametrize(("x", "k", "due"), [("a", LIGHT, "low"), ("c", LIGHT, None), ("c", HEAVY, "high")])
    def test_with_a_word_for_the_rest_nothing_else_can_be(self, x: str, k: str, due: str | None) -> None:
        world = self.world(HEAVY, {"contact.k": only(HEAVY), "contact.x": only("a", "b", "c")})
        assert says(world, contact_x=x, contact_k=k) == (("impossible", "") if due is None else ("ruled", due))


@pytest.mark.parametrize("op", ["count", "any", "all", "sum"])
def test_a_figure_over_the_list_of_a_circuit_that_is_not_there(op: str) -> None:
    are: tuple[Box, ...] = ({"contact.p": only(True)},) if op in ("any", "all") else ()
    of = Of("contact.n") if op == "sum" else None
    over = Over(op, "circuit.contacts", ({},), are, of)  # type: ignore[arg-type]
    type_ = "yes_no" if op in ("any", "all") else "number"
    box: Box = {"contact.k": only(True) if type_ == "yes_no" else only(Fraction(1))}
    world = world_of(one_rule(box), "contact", places.calculation("contact.k", over, type_))
    assert says(world, contact_k=None) == ("ruled", "low")


def test_whether_a_box_holds_is_tied_both_ways() -> None:
    holds = places.calculation("contact.k", WhereBox(({"contact.x": only("a"), "contact.p": only(True)},)))
    world = world_of(one_rule({"contact.k": only(True), "contact.x": only("a", "b", "c")}), "contact", holds)
    assert says(world, contact_x="a", contact_p=True, contact_k=True) == ("ruled", "high")
    assert says(world, contact_x="a", contact_p=True, contact_k=False) == ("impossible", "")
    assert says(world, contact_x="b", contact_p=True, contact_k=True) == ("impossible", "")
    assert says(world, contact_x="a", contact_p=False, contact_k=True) == ("impossible", "")

"""A check finds what some record shows: conflicts, silence and relaxed outcomes of random buildings are told as errors,
with a record that has them; and what is told of a region holds of every record in it."""

from __future__ import annotations

import random
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import combinations
from pathlib import Path

import pytest

from proof.amended_worlds import amended, standing_of
from proof.holds_of_books import in_span
from proof.worlds import Full, World, inputs_of, random_full, random_world
from ruling import places, small
from ruling.places import only
from small_rulebook import FILES, write
from yokebook.entities import PREFIX, Kind
from yokebook.exploring import explore
from yokebook.front_door import project_to_graph
from yokebook.graph import Graph, Thing
from yokebook.law import Law
from yokebook.load.book import load_book
from yokebook.model import (
    Arithmetic,
    Box,
    ByReading,
    Calculation,
    Constant,
    Fact,
    Impossible,
    LookUp,
    Of,
    Over,
    Table,
    WhereBox,
    Within,
)
from yokebook.proof import places as of_places
from yokebook.proof.checking import check_book
from yokebook.proof.findings import Finding
from yokebook.proof.places import relaxing_findings
from yokebook.proof.realise import STEPS, Realised, Realiser
from yokebook.proof.shown import project_data
from yokebook.proof.tables import TableCheck
from yokebook.session import LowerFault, Outcome, Session
from yokebook.values import Span

TWO = Fraction(2)
N, P = small.FACTS["contact.n"], small.FACTS["contact.p"]


def check_of(world: World) -> TableCheck:
    realiser = Realiser(world.book, world.law, world.in_force)
    return TableCheck(world.book, standing_of(world), "upper", realiser)


def ruled(full: Full, law: Law | None = None) -> Iterator[tuple[Thing, Outcome]]:
    """Each thing at hand of a building that can be, with what the table says of it; answers below are without fault."""
    law = law or full.world.law
    for thing in full.graph.things[full.world.per]:
        try:
            if full.can_be(thing):
                inputs_of(full, thing, law.ready("upper").inputs)
                yield thing, full.context.decide(law, thing, "upper")
        except LowerFault:
            continue


# ---- conflicts and silence -------------------------------------------------------------------------------------------


def faults_shown(world: World, rng: random.Random, buildings: int) -> set[frozenset[str]]:
    """What is wrong with some building: the two rules of each conflict; nothing for silence."""
    then = {rule.id: rule.then for rule in world.law.resolved.tables["upper"].rules}
    found: set[frozenset[str]] = set()
    for _ in range(buildings):
        for _, outcome in ruled(random_full(rng, world, stated=False)):
            if outcome.status == "silent":
                found.add(frozenset())
            elif outcome.status == "conflict":
                pairs = combinations(sorted(outcome.standing), 2)
                found |= {frozenset(pair) for pair in pairs if then[pair[0]] != then[pair[1]]}
    return found


def told(findings: Sequence[Finding]) -> dict[frozenset[str], str]:
    """The severity of each conflict, by its two rules, and of a gap, by nothing."""
    return {
        frozenset(each.id for each in finding.blamed) if finding.kind == "conflict" else frozenset(): finding.severity
        for finding in findings
        if finding.kind in ("conflict", "gap")
    }


def all_are_told(seeds: range, buildings: int) -> int:
    """Everything that is wrong with some building is an error; how many such things there were."""
    count = 0
    for seed in seeds:
        rng = random.Random(seed)
        world = random_world(rng)
        severities = told(list(check_of(world).findings()))
        for fault in faults_shown(world, rng, buildings):
            assert severities.get(fault) == "error", (seed, fault)
            count += 1
    return count


def test_what_is_wrong_with_a_building_is_an_error() -> None:
    assert all_are_told(range(150), 20) > 60


@pytest.mark.slow
def test_what_is_wrong_with_any_of_many_buildings_is_an_error() -> None:
    assert all_are_told(range(20_000, 20_600), 60) > 350


# ---- regions ---------------------------------------------------------------------------------------------------------


class Kept(Realiser):
    """Keeps what was looked for and what was found."""

    def __init__(self, world: World) -> None:
        super().__init__(world.book, world.law, world.in_force)
        self.looked_for: list[tuple[str, Mapping[str, Sequence[Span]]]] = []
        self.found: list[Realised] = []

    def find(
        self, question: str, wanted: Mapping[str, Sequence[Span]], status: str, steps: int = STEPS
    ) -> Realised | None:
        self.looked_for.append((status, wanted))
        found = super().find(question, wanted, status, steps)
        self.found += [] if found is None else [found]
        return found


def kept(world: World) -> Kept:
    """Everything looked for in a check of the table at hand."""
    realiser = Kept(world)
    list(TableCheck(world.book, standing_of(world), "upper", realiser).findings())
    return realiser


def regions_hold(seeds: range, buildings: int) -> int:
    """In every building with inputs in a region of a finding the table is silent or in conflict as the finding has it;
    how many such there were."""
    count = 0
    for seed in seeds:
        rng = random.Random(seed)
        world = random_world(rng)
        looked_for = kept(world).looked_for
        for _ in range(buildings if looked_for else 0):
            full = random_full(rng, world, stated=False)
            for thing, outcome in ruled(full):
                for status, wanted in looked_for:
                    try:
                        values = inputs_of(full, thing, wanted)
                    except LowerFault:
                        continue
                    if all(any(in_span(span, values[name]) for span in spans) for name, spans in wanted.items()):
                        assert outcome.status == status, (seed, wanted, values)
                        count += 1
    return count


def test_a_region_holds_of_every_building_in_it() -> None:
    assert regions_hold(range(100), 20) > 400


@pytest.mark.slow
def test_a_region_holds_of_every_one_of_many_buildings_in_it() -> None:
    assert regions_hold(range(30_000, 30_800), 40) > 3_000


def test_a_record_found_goes_through_the_front_door() -> None:
    """As project data it has the outcome that it was looked for, argued readings held fixed."""
    count = argued = 0
    for seed in range(400):
        world = random_world(random.Random(seed))
        for found in kept(world).found:
            graph = project_to_graph(project_data(world.book, found), world.book)
            thing = graph.find(f"{PREFIX[world.per]}:{found.subject.id}")
            assert outcomes(world, graph, thing, found.readings) == {found.outcome.key()}, seed
            count += 1
            argued += "three" in found.readings.values()
    assert count > 60 and argued >= 3


def outcomes(
    world: World, graph: Graph, thing: Thing, readings: Mapping[str, str], law: Law | None = None
) -> set[tuple[str, str]]:
    in_force = world.in_force if law is None else replace(world, law=law).in_force
    found = explore(Session(graph, world.book, in_force), "upper", thing, "small", readings)
    assert found.decided
    return {leaf.outcome.key() for leaf in found.leaves}


# ---- relaxed outcomes ------------------------------------------------------------------------------------------------


def relaxed(world: World, above: Law, rng: random.Random, buildings: int) -> set[tuple[str, str]]:
    """What some building has without the amendments, and less strictly with them."""
    found: set[tuple[str, str]] = set()
    order: list[str] = [*small.OUTCOMES]
    for _ in range(buildings):
        full = random_full(rng, world, stated=False)
        with_them = Full(replace(world, law=above), full.graph, full.readings)
        was, now = dict(ruled(full)), dict(ruled(with_them))
        found |= {
            (was[thing].word, now[thing].word)
            for thing in was
            if thing in now
            and was[thing].status == now[thing].status == "ruled"
            and order.index(now[thing].word) < order.index(was[thing].word)
        }
    return found


def warnings(world: World, above: Law) -> Iterator[tuple[str, str, Realised]]:
    """What is told to be less strict: the outcome below, that with the amendments, and the record."""
    shown: list[Realised] = []
    with_them = replace(world, law=above)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(of_places, "record_data", lambda _, found: shown.append(found) or {})
        realiser = Realiser(world.book, above, with_them.in_force)
        findings = list(relaxing_findings(world.book, standing_of(with_them, below=world.law), realiser))
    told_of = [finding for finding in findings if finding.severity == "warning"]
    for finding, record in zip(told_of, shown, strict=True):
        said = re.fullmatch(r"`upper` is (\w+) here, and without the amendments it is (\w+)(;.*)?", finding.says)
        if said is not None:
            yield said[2], said[1], record


def relaxed_are_told(seeds: range, buildings: int, *, lower: bool) -> tuple[int, int]:
    """Every outcome that some building has less strictly is a warning (unless `lower`, where amendments to a lower
    table may do it), and the record of each warning has both outcomes; how many there were of each."""
    due = shown = 0
    for seed in seeds:
        rng = random.Random(seed)
        world = random_world(rng)
        above = amended(rng, world, lower=lower)
        told_of = list(warnings(world, above))
        if not lower:
            really = relaxed(world, above, rng, buildings)
            assert really <= {(was, now) for was, now, _ in told_of}, seed
            due += len(really)
        for was, now, record in told_of:
            assert outcomes(world, record.graph, record.subject, record.readings) == {("ruled", was)}, seed
            assert outcomes(world, record.graph, record.subject, record.readings, above) == {("ruled", now)}, seed
            shown += 1
    return due, shown


def test_what_amendments_relax_is_told_and_true_above_and_below() -> None:
    due, shown = relaxed_are_told(range(120), 15, lower=False)
    assert due > 10 and shown > 20


def test_what_is_told_is_true_where_a_lower_table_is_amended_too() -> None:
    _, shown = relaxed_are_told(range(150), 0, lower=True)
    assert shown > 20


@pytest.mark.slow
def test_what_many_amendments_relax_is_told_and_true() -> None:
    assert min(relaxed_are_told(range(40_000, 40_500), 40, lower=False)) > 75
    assert relaxed_are_told(range(41_000, 41_500), 0, lower=True)[1] > 75


# ---- records that were not found -------------------------------------------------------------------------------------


class TestSearch:
    """Each of these was once told as a note, though a record has it."""

    def world(
        self, table: Table, facts: Mapping[str, Fact], *calculations: Calculation, per: Kind = "contact"
    ) -> World:
        its = places.book(facts, calculations, questions={"upper": per})
        return World(its, places.law(its, [table]), per)

    def only_fault(self, world: World) -> Finding:
        [fault] = [finding for finding in check_of(world).findings() if finding.severity == "error"]
        return fault

    def test_an_argued_reading_behind_a_figure_over_a_list(self) -> None:
        """Under `three` alone the figure may be at most one."""
        of = ByReading("r", {"one": Constant(TWO), "two": Constant(TWO), "three": Of("control.n")})
        figure = places.calculation("contact.k", Over("largest", "contact.controls", ({},), (), of), "number")
        table = clashing({"contact.k": Within(None, False, Fraction(1))})
        record = self.only_fault(self.world(table, places.facts_of("control", N), figure)).record
        assert record is not None and record["readings"] == {"r": "three"}

    def test_each_alternative_of_a_region_is_tried(self) -> None:
        """The rules clash under `two` and `three`; only under `two` is the figure what they want."""
        by_reading = ByReading("r", {each: WhereBox(({"reading.r": only("two")},)) for each in ("one", "two", "three")})
        figure = places.calculation("contact.k", by_reading)
        table = clashing({"reading.r": only("three", "two"), "contact.k": only(True)})
        record = self.only_fault(self.world(table, {}, figure)).record
        assert record is not None and record["readings"] == {"r": "two"}

    @pytest.mark.parametrize(
        ("operator", "n"), [("times", "0.8"), ("plus", "-0.4"), ("ratio", "1.25"), ("minus", "0.4")]
    )
    def test_a_single_number_that_a_figure_has_to_come_to(self, operator: str, n: str) -> None:
        """Two times n (and n, over n, less n) is exactly 1.6."""
        expression = Arithmetic(operator, (Constant(TWO), Of("contact.n")))  # type: ignore[arg-type]
        figure = places.calculation("contact.k", expression, "number")
        table = clashing({"contact.k": only(Fraction(8, 5))})
        world = self.world(table, {"contact.n": replace(N, low=Fraction(-4))}, figure)
        record = self.only_fault(world).record
        assert record is not None
        assert [(each["fact"], each["value"]) for each in record["facts"]] == [("contact.n", n)]

    def test_neither_a_load_nor_a_circuit(self) -> None:
        facts = {**places.facts_of("circuit", P), **places.facts_of("load", P)}
        either: list[Box] = [{"circuit.p": only(True, False)}, {"load.p": only(True, False)}]
        table = small.table("upper", [small.rule("upper#0", either, "high")])
        assert self.only_fault(self.world(table, facts)).kind == "gap"

    def test_other_values_where_the_first_cannot_be(self) -> None:
        """The figure is n, and it is to be at most two; n is never at most 1.5."""
        cannot = Impossible("contact", {"contact.n": Within(None, False, Fraction(3, 2))}, "so it is", small.AT)
        figure = places.calculation("contact.k", Of("contact.n"), "number")
        table = clashing({"contact.k": Within(None, False, TWO)})
        book = replace(places.book({}, [figure], questions={"upper": "contact"}), impossible=(cannot,))
        record = self.only_fault(World(book, places.law(book, [table]), "contact")).record
        assert record is not None
        [value] = [each["value"] for each in record["facts"] if each["fact"] == "contact.n"]
        assert Fraction(3, 2) < Fraction(value) <= TWO

    def test_a_figure_read_off_a_nameplate_that_has_to_be_what_is_behind_it(self) -> None:
        """Four where p holds; it may be stated, but nothing else agrees, and four is no number that a cell has."""
        look_up = LookUp("contact.p", {True: Fraction(3)}, Fraction(0))
        expression = Arithmetic("plus", (Constant(Fraction(1)), look_up))
        figure = replace(places.calculation("contact.k", expression, "number"), ask_first=True)
        table = clashing({"contact.k": Within(Fraction(5, 2)), "contact.p": only(True)})
        record = self.only_fault(self.world(table, {}, figure)).record
        assert record is not None
        assert [(each["fact"], each["value"]) for each in record["facts"]] == [("contact.p", "yes")]


def clashing(box: Box) -> Table:
    """A table in which two rules clash in a box."""
    rules = [small.rule(f"upper#{word}", [box], word) for word in ("low", "high")]
    return small.table("upper", rules, "middle")


# ---- odd rulebooks ---------------------------------------------------------------------------------------------------

ACTS = "electrical/2014/control.acts.yaml"
FACTS_OF_CONTROL = "facts/control.yaml"
SECOND = {
    "documents/second.yaml": """\
documents:
  second: {kind: energy, title: B, publisher: N, editions: ["1"], folder: energy}
""",
    "energy/1/edition.yaml": "document: second\nedition: '1'\npublished: x\nhow_checked: read\n",
    "energy/1/control.acts.yaml": """\
answers: control.acts
none_fires: forbidden
rules:
  - id: a
    where: {control.delay_min: {more_than: 1 min}, control.by_hand: yes, reading.sensor-is-switch: switch}
    then: automatic
    says: So it is.
    cite: {document: second, section: "1"}
    checked: {seen: the text}
""",
}
IMPOSSIBLE = "  - {where: {control.delay_min: {more_than: value.longest}, control.by_hand: yes}, because: so it is}\n"


@pytest.mark.parametrize(
    ("changes", "kinds"),
    [
        ({ACTS: "answers: control.acts\nnone_fires: forbidden\nrules: []\n"}, {"gap"}),
        ({ACTS: "answers: control.acts\nnone_fires: {then: manual, says: x, checked: {seen: x}}\nrules: []\n"}, set()),
        ({**SECOND, FACTS_OF_CONTROL: FILES[FACTS_OF_CONTROL] + IMPOSSIBLE}, set()),
    ],
    ids=["no rules and no answer", "no rules", "a combination with a number that one document does not set"],
)
def test_an_odd_rulebook_is_checked(tmp_path: Path, changes: dict[str, str], kinds: set[str]) -> None:
    report = check_book(load_book(write(tmp_path, changes)))
    left_out = {"missing pin", "reading that changes nothing"}
    assert {finding.kind for finding in report.of("error")} - left_out == kinds
    if changes.keys() >= SECOND.keys():
        assert "`control.delay_min` uses `value.longest`, which this edition does not set" in {
            finding.says for finding in report.of("not decided")
        }

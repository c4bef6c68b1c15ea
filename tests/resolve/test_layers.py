"""Design: ops by rule id, each reading the text below the layer; the demo city's BF-1 and BF-4 in small."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from resolve.making import (
    MARK,
    READING,
    WHERE_AUTOMATIC,
    amendment,
    at,
    at_most,
    book,
    box,
    layer,
    none_fires,
    one,
    op,
    rule,
    value,
)
from yokebook.editions import resolve_edition
from yokebook.layers import apply_layer
from yokebook.load.faults import RulebookFaults
from yokebook.model import Book, Box, Checked, Cite, Op, Resolved, Rule
from yokebook.prevails import prevails

BOOK = book()
BELOW = resolve_edition(BOOK, "nfpa-70", "2014")
HOMES: Box = box(space__occupancy=one("dwelling"))
AMENDED = Checked("seen", "the ordinance")


def layered(*ops: Op, below: Resolved = BELOW, b: Book = BOOK) -> Resolved:
    return apply_layer(b, below, layer("L", amendment("BF-1", *ops, checked=AMENDED)), drafts=True)


def marking(resolved: Resolved, short: str) -> Rule:
    return next(r for r in resolved.tables[MARK].rules if r.id == f"{MARK}#{short}")


def faults_of(*ops: Op, below: Resolved = BELOW) -> list[str]:
    with pytest.raises(RulebookFaults) as raised:
        layered(*ops, below=below)
    return [str(fault) for fault in raised.value.faults]


class TestReplace:
    def test_the_whole_rule_is_new_and_links_to_it_stay(self) -> None:
        other = replace(
            BELOW,
            tables={
                MARK: replace(BELOW.tables[MARK], rules=(rule("a", "not required", exception_to=["b"]), rule("b")))
            },
        )
        above = layered(op("replace", f"{MARK}#b", rule=rule("b", where=[HOMES])), below=other)
        assert marking(above, "b").where == (HOMES,)
        assert prevails(above.tables[MARK])[f"{MARK}#a"] == {f"{MARK}#b"}

    def test_nothing_of_the_old_rule_is_left_but_its_chain(self) -> None:
        above = layered(op("replace", f"{MARK}#lighting", 7, rule=rule("lighting", "required", [HOMES])))
        new = marking(above, "lighting")
        assert (new.exception_to, new.then, new.where) == ((), "required", (HOMES,))
        assert [(s.by, s.op) for s in new.chain] == [("nfpa-70 2014", "written"), ("BF-1", "replace")]
        assert (new.chain[-1].cite, new.chain[-1].says, new.chain[-1].at) == (
            Cite("ordinance", "BF-1"),
            "says BF-1",
            at(7),
        )

    def test_what_a_table_says_where_no_rule_fires(self) -> None:
        above = layered(op("replace", f"{MARK}#none_fires", none_fires=none_fires(None)))
        assert above.tables[MARK].none_fires.then is None
        assert [s.op for s in above.tables[MARK].none_fires.chain] == ["written", "replace"]


class TestNarrow:
    def test_a_cell_joins_every_box(self) -> None:
        two = replace(marking(BELOW, "lighting"), where=(box(contact__a=one(True)), box(contact__b=one(True))))
        below = replace(BELOW, tables={MARK: replace(BELOW.tables[MARK], rules=(two,))})
        above = layered(op("narrow", f"{MARK}#lighting", add_where=(HOMES,)), below=below)
        assert marking(above, "lighting").where == ({**two.where[0], **HOMES}, {**two.where[1], **HOMES})

    def test_the_rest_of_the_rule_stays(self) -> None:
        above = layered(op("narrow", f"{MARK}#lighting", add_but_not=(HOMES,)))
        old, new = marking(BELOW, "lighting"), marking(above, "lighting")
        assert (new.where, new.then, new.exception_to, new.cite, new.says) == (
            old.where,
            old.then,
            "all",
            old.cite,
            old.says,
        )
        assert new.but_not == (HOMES,)

    def test_a_cell_on_an_input_that_has_one_is_what_both_allow(self) -> None:
        above = layered(
            op("narrow", f"{MARK}#automatic", add_where=(box(receptacle__configuration=one("5-20R", "6-20R")),))
        )
        assert marking(above, "automatic").where[0]["receptacle.configuration"] == one("5-20R")

    def test_the_weaker_mark_of_base_and_amendment_counts(self) -> None:
        guess = Checked("assumed", "nobody read it")
        below = replace(BELOW, tables={MARK: replace(BELOW.tables[MARK], rules=(rule("a", checked=guess), rule("b")))})
        above = layered(
            op("narrow", f"{MARK}#a", add_but_not=(HOMES,)),
            op("narrow", f"{MARK}#b", add_but_not=(HOMES,), checked=Checked("memory", "the clerk")),
            below=below,
        )
        assert (marking(above, "a").checked, marking(above, "b").checked.mark) == (guess, "memory")

    def test_narrowed_to_nothing(self) -> None:
        assert faults_of(
            op("narrow", f"{MARK}#automatic", 7, add_where=(box(receptacle__configuration=one("6-20R")),))
        ) == ["t.yaml:7:3: `narrow` of `marking.required#automatic` leaves the rule no record; delete it instead"]

    def test_a_cell_that_cannot_be_joined(self) -> None:
        below = layered(op("add", f"{MARK}#slow", rule=rule("slow", where=[box(control__delay=at_most("delay"))])))
        assert faults_of(
            op("narrow", f"{MARK}#slow", 7, add_where=(box(control__delay=at_most(10)),)), below=below
        ) == [
            "t.yaml:7:3: `narrow` of `marking.required#slow` cannot be worked out: the rule has a cell on "
            "`control.delay` already and a named number is in one of the two; replace the rule instead"
        ]

    def test_adding_nothing(self) -> None:
        assert faults_of(op("narrow", f"{MARK}#automatic", 7)) == [
            "t.yaml:7:3: `narrow` of `marking.required#automatic` adds no cell and no `but_not` box"
        ]


class TestDelete:
    def test_the_rule_is_gone(self) -> None:
        above = layered(op("delete", f"{MARK}#built-in"))
        assert [r.id for r in above.tables[MARK].rules] == [f"{MARK}#automatic", f"{MARK}#lighting"]

    def test_exceptions_that_name_it_are_orphans(self) -> None:
        rules = (
            rule("a"),
            rule("x", "not required", exception_to=["a"]),
            rule("y", "not required", prevails_over=["a"]),
        )
        below = replace(BELOW, tables={MARK: replace(BELOW.tables[MARK], rules=rules)})
        assert faults_of(op("delete", f"{MARK}#a", 7), below=below) == [
            "t.yaml:7:3: `delete` of `marking.required#a` leaves rules that name it in `exception_to` or "
            "`prevails_over`: `marking.required#x`, `marking.required#y`; replace or delete them too"
        ]
        both = op("delete", f"{MARK}#x"), op("replace", f"{MARK}#y", rule=rule("y", "not required"))
        above = layered(op("delete", f"{MARK}#a", 7), *both, below=below)
        assert [r.id for r in above.tables[MARK].rules] == [f"{MARK}#y"]

    def test_an_exception_to_all_is_no_orphan(self) -> None:
        above = layered(op("delete", f"{MARK}#automatic"))
        assert prevails(above.tables[MARK])[f"{MARK}#lighting"] == {f"{MARK}#built-in"}


class TestAdd:
    def test_an_exception_to_all_below_reaches_the_new_rule(self) -> None:
        above = layered(op("add", f"{MARK}#new", rule=rule("new")))
        assert f"{MARK}#new" in prevails(above.tables[MARK])[f"{MARK}#lighting"]
        assert [(s.by, s.op) for s in marking(above, "new").chain] == [("BF-1", "add")]

    def test_a_taken_id(self) -> None:
        assert faults_of(op("add", f"{MARK}#automatic", 7, rule=rule("automatic"))) == [
            "t.yaml:7:3: `add` of `marking.required#automatic`: the id is taken by the rule at t.yaml:1001:3; ids are "
            "never used again"
        ]

    def test_a_table_of_its_own_begins_with_what_it_says_where_no_rule_fires(self) -> None:
        begin = op("add", "half#none_fires", 8, none_fires=none_fires("either"))
        above = layered(op("add", "half#upright", 7, rule=rule("upright", "upper", table="half")), begin)
        assert (above.tables["half"].none_fires.then, above.tables["half"].rules[0].id) == ("either", "half#upright")

    def test_a_table_that_is_not_there(self) -> None:
        assert faults_of(op("add", "half#upright", 7, rule=rule("upright", table="half"))) == [
            "t.yaml:7:3: `add` of `half#upright`: nfpa-70 2014 has no table `half`; to begin one, add "
            "`half#none_fires` beside it"
        ]

    def test_a_table_begun_twice(self) -> None:
        with pytest.raises(RulebookFaults) as raised:
            layered(op("add", f"{MARK}#none_fires", 7, none_fires=none_fires()))
        assert "nfpa-70 2014 has that table already, at t.yaml:" in str(raised.value)

    def test_a_pin_where_none_is_due(self) -> None:
        assert faults_of(op("add", f"{MARK}#new", 7, rule=rule("new"), pin="0123abcd", pin_at=at(8))) == [
            "t.yaml:8:3: `add` of `marking.required#new` has a pin; an add changes nothing below, so it takes none"
        ]


class TestPrevailsOver:
    def test_a_rule_declared_over_an_exception_to_all_is_no_longer_under_it(self) -> None:
        above = layered(op("prevails_over", f"{MARK}#automatic", over=(f"{MARK}#lighting",)))
        over = prevails(above.tables[MARK])
        assert over[f"{MARK}#lighting"] == {f"{MARK}#built-in"}
        assert over[f"{MARK}#automatic"] == {f"{MARK}#lighting", f"{MARK}#built-in"}

    def test_over_a_rule_that_the_same_layer_adds(self) -> None:
        above = layered(
            op("prevails_over", f"{MARK}#automatic", over=(f"{MARK}#new",)),
            op("add", f"{MARK}#new", rule=rule("new", "not required")),
        )
        assert marking(above, "automatic").prevails_over == (f"{MARK}#new",)

    def test_what_a_layer_below_declared_stays(self) -> None:
        below = layered(op("prevails_over", "acts#sensor", over=("acts#sensor-2",)), below=self.with_second_sensor())
        above = layered(op("prevails_over", "acts#sensor", over=("acts#sensor-3",)), below=below)
        sensor = next(r for r in above.tables["acts"].rules if r.id == "acts#sensor")
        assert sensor.prevails_over == ("acts#sensor-2", "acts#sensor-3")

    def with_second_sensor(self) -> Resolved:
        more = (rule(name, "manual", table="acts") for name in ("sensor-2", "sensor-3"))
        return layered(*(op("add", each.id, rule=each) for each in more))

    def test_over_a_rule_that_is_not_there(self) -> None:
        assert faults_of(op("prevails_over", f"{MARK}#automatic", 7, over=(f"{MARK}#lightning",))) == [
            "t.yaml:7:3: `marking.required#automatic` is to prevail over `marking.required#lightning`, which nfpa-70 "
            "2014 with L does not have in that table (did you mean `marking.required#lighting`?)"
        ]

    def test_over_nothing(self) -> None:
        assert faults_of(op("prevails_over", f"{MARK}#automatic", 7)) == [
            "t.yaml:7:3: `prevails_over` of `marking.required#automatic` names no rule in `over`"
        ]

    def test_a_cycle(self) -> None:
        below = layered(op("prevails_over", f"{MARK}#automatic", over=(f"{MARK}#lighting",)))
        assert faults_of(op("prevails_over", f"{MARK}#lighting", over=(f"{MARK}#automatic",)), below=below) == [
            "t.yaml:1001:3: exceptions go round in a circle: `marking.required#automatic` over "
            "`marking.required#lighting` over `marking.required#automatic`; of two rules only one can prevail"
        ]


class TestSetValue:
    def test_the_value_is_new_with_one_step_more(self) -> None:
        new = layered(op("set_value", "delay", value=value("delay", 15))).values["delay"]
        assert new.value == 15
        assert [(s.by, s.op) for s in new.chain] == [("nfpa-70 2014", "written"), ("BF-1", "set_value")]

    def test_a_name_that_is_not_there(self) -> None:
        assert faults_of(op("set_value", "dealy", 7, value=value("dealy", 15))) == [
            "t.yaml:7:3: `set_value` names `dealy`, which nfpa-70 2014 does not have (did you mean `delay`?)"
        ]

    def test_another_kind_of_unit(self) -> None:
        assert faults_of(op("set_value", "delay", 7, value=value("delay", 15, "ft"))) == [
            "t.yaml:7:3: `value.delay` is in `min` and is set in `ft`; a value keeps its kind of unit"
        ]


class TestChooseReading:
    def choose(self, alternative: str, where: Box | None = None) -> Op:
        return op("choose_reading", "sensor", alternative=alternative, where=where)

    def test_a_choice_for_all_takes_the_place_of_those_below(self) -> None:
        below = layered(self.choose("wall switch"))
        above = layered(self.choose("automatic"), below=below)
        assert [(reading, way, where, step.by) for reading, way, where, step in above.chosen] == [
            ("sensor", "automatic", None, "BF-1")
        ]

    def test_a_choice_with_a_box_stands_before_those_below(self) -> None:
        below = layered(self.choose("wall switch"))
        above = layered(self.choose("automatic", HOMES), below=below)
        assert [(way, where) for _, way, where, _ in above.chosen] == [("automatic", HOMES), ("wall switch", None)]

    def test_faults(self) -> None:
        assert faults_of(op("choose_reading", "senser", 7, alternative="automatic")) == [
            "t.yaml:7:3: `choose_reading` names `senser`, which is no reading of this rulebook (did you mean `sensor`?)"
        ]
        assert faults_of(op("choose_reading", "sensor", 7, alternative="manual")) == [
            "t.yaml:7:3: `choose_reading` of `sensor` chooses `manual`; its alternatives are `automatic`, `wall switch`"
        ]
        where = box(control__delay=at_most("dilay"))
        assert faults_of(op("choose_reading", "sensor", 7, alternative="automatic", where=where)) == [
            "t.yaml:7:3: `choose_reading` of `sensor` uses `dilay`, which nfpa-70 2014 does not set"
        ]

    def test_a_reading_of_other_editions(self) -> None:
        later = book(readings=[replace(READING, editions=("2017",))])
        with pytest.raises(RulebookFaults) as raised:
            layered(op("choose_reading", "sensor", 7, alternative="automatic"), b=later)
        assert str(raised.value) == (
            "t.yaml:7:3: `choose_reading` of `sensor`: nfpa-70 2014 does not leave it open; it is a reading of nfpa-70 "
            "`2017`"
        )


class TestTargets:
    def test_a_missing_target(self) -> None:
        assert faults_of(op("delete", f"{MARK}#automatik", 7), op("delete", f"{MARK}#none_fires", 8)) == [
            "t.yaml:7:3: `delete` names `marking.required#automatik`, which nfpa-70 2014 does not have (did you mean "
            "`marking.required#automatic`?)",
            "t.yaml:8:3: `delete` of `marking.required#none_fires`: what a table says where no rule fires can only be "
            "replaced",
        ]

    def test_two_ops_on_one_id_even_in_two_amendments(self) -> None:
        first = amendment("BF-1", op("delete", f"{MARK}#automatic", 7))
        second = amendment("BF-2", op("narrow", f"{MARK}#automatic", 8, add_where=(HOMES,)))
        with pytest.raises(RulebookFaults) as raised:
            apply_layer(BOOK, BELOW, layer("L", first, second), drafts=True)
        assert str(raised.value) == (
            "t.yaml:8:3: `narrow` is a second change to `marking.required#automatic`; `delete` of BF-1 at t.yaml:7:3 "
            "is the first, and one layer or edition may change an id only once"
        )

    def test_two_amendments_of_one_id(self) -> None:
        one_, two = amendment("BF-1"), replace(amendment("BF-1"), at=at(9))
        with pytest.raises(RulebookFaults) as raised:
            apply_layer(BOOK, BELOW, layer("L", replace(one_, at=at(8)), two), drafts=True)
        assert str(raised.value) == "t.yaml:9:3: amendment `BF-1` is in layer `L` twice: here and at t.yaml:8:3"

    def test_a_number_that_the_document_does_not_set(self) -> None:
        fast = rule("fast", where=[box(control__delay=at_most("deley"))])
        assert faults_of(op("add", f"{MARK}#fast", 7, rule=fast)) == [
            "t.yaml:7:3: `marking.required#fast` uses `value.deley`, which nfpa-70 2014 with L does not set (did you "
            "mean `delay`?)"
        ]

    def test_all_faults_at_once(self) -> None:
        wrong = (
            op("delete", f"{MARK}#no"),
            op("set_value", "no", value=value("no", 1)),
            op("add", "no#no", rule=rule("no")),
        )
        assert len(faults_of(*wrong)) == 3


OPS = (
    op("replace", f"{MARK}#automatic", rule=rule("automatic", where=[WHERE_AUTOMATIC, HOMES])),
    op("narrow", f"{MARK}#lighting", add_where=(HOMES,)),
    op("delete", f"{MARK}#built-in"),
    op("add", f"{MARK}#one", rule=rule("one", prevails_over=["two"])),
    op("add", f"{MARK}#two", rule=rule("two", "not required")),
    op("add", "half#upright", rule=rule("upright", table="half")),
    op("add", "half#none_fires", none_fires=none_fires()),
    op("prevails_over", "acts#sensor", over=("acts#slow",)),
    op("replace", "acts#slow", rule=rule("slow", "manual", table="acts")),
    op("set_value", "delay", value=value("delay", 15)),
    op("choose_reading", "sensor", alternative="automatic"),
)


@given(st.permutations(OPS))
def test_the_order_of_ops_in_a_layer_never_matters(ops: list[Op]) -> None:
    there, here = layered(*OPS), layered(*ops)
    assert here.tables == there.tables
    assert here.values == there.values
    assert here.chosen == there.chosen


class TestStack:
    def test_a_layer_reads_what_the_one_below_left(self) -> None:
        first = layered(op("replace", f"{MARK}#automatic", rule=rule("automatic", where=[HOMES])))
        second = layered(op("narrow", f"{MARK}#automatic", add_but_not=(WHERE_AUTOMATIC,)), below=first)
        assert (marking(second, "automatic").where, marking(second, "automatic").but_not) == (
            (HOMES,),
            (WHERE_AUTOMATIC,),
        )
        assert [s.op for s in marking(second, "automatic").chain] == ["written", "replace", "narrow"]
        assert [a.id for a in second.amendments] == ["BF-1", "BF-1"]

    def test_applying_leaves_the_text_below_as_it_was(self) -> None:
        before = resolve_edition(BOOK, "nfpa-70", "2014")
        layered(*OPS)
        assert before == BELOW

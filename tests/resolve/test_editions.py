"""Design: an edition after the first says of every rule, none_fires and value of the one before, exactly once, that it
is carried or how it changed."""

from dataclasses import replace

import pytest

from resolve.making import (
    ALL_CARRIED,
    MARK,
    at,
    at_most,
    book,
    box,
    carried,
    edition,
    first_edition,
    none_fires,
    one,
    op,
    rule,
    table,
    value,
)
from yokebook.editions import edition_faults, resolve_edition
from yokebook.load.faults import RulebookFaults
from yokebook.model import Checked, Cite, Edition, Op, Step

ASSUMED = Checked("assumed", "carried from 2014; nobody read 2017")


def next_edition(
    *more: Op, besides: tuple[str, ...] = (f"{MARK}#*", "acts#*", "value.delay"), **rest: object
) -> Edition:
    return replace(edition("2017", "2014", carried=[carried(*besides, line=10)], changes=more), **rest)  # type: ignore[arg-type]


def faults_of(*editions: Edition) -> list[str]:
    return [str(fault) for fault in edition_faults(book(*editions))]


def messages_of(*editions: Edition) -> list[str]:
    return [fault.message for fault in edition_faults(book(*editions))]


class TestFirstEdition:
    def test_tables_and_values_are_as_written(self) -> None:
        resolved = resolve_edition(book(), "nfpa-70", "2014")
        assert [r.id for r in resolved.tables[MARK].rules] == [
            f"{MARK}#{i}" for i in ("automatic", "built-in", "lighting")
        ]
        assert resolved.values["delay"].value == 20
        assert (resolved.place, resolved.entry, resolved.amendments_entered, resolved.chosen) == (
            None,
            None,
            "none",
            (),
        )

    def test_the_chain_of_everything_starts_with_the_edition_that_wrote_it(self) -> None:
        resolved = resolve_edition(book(), "nfpa-70", "2014")
        wrote = resolved.tables[MARK].rules[0]
        assert wrote.chain == (Step("nfpa-70 2014", "written", wrote.cite, "says automatic", wrote.at),)
        assert [s.op for s in resolved.tables[MARK].none_fires.chain] == ["written"]
        assert [s.by for s in resolved.values["delay"].chain] == ["nfpa-70 2014"]


class TestCarried:
    def test_a_new_section_and_mark_move_and_the_boxes_stay(self) -> None:
        moved = carried(f"{MARK}#automatic", section="406.3(F)", checked=ASSUMED, line=10)
        later = edition("2017", "2014", carried=[moved, carried(f"{MARK}#*", "acts#*", "value.delay", line=11)])
        b = book(first_edition(), later)
        old = resolve_edition(b, "nfpa-70", "2014").tables[MARK].rules[0]
        new = resolve_edition(b, "nfpa-70", "2017").tables[MARK].rules[0]
        assert (new.where, new.then, new.says) == (old.where, old.then, old.says)
        assert (new.cite, new.checked) == (Cite("nfpa-70", "406.3(F)"), ASSUMED)
        assert [(s.by, s.op, s.cite) for s in new.chain] == [
            ("nfpa-70 2014", "written", Cite("nfpa-70", "406.3(E)")),
            ("nfpa-70 2017", "carried", Cite("nfpa-70", "406.3(F)")),
        ]

    def test_as_before_keeps_each_section(self) -> None:
        resolved = resolve_edition(book(), "nfpa-70", "2017")
        assert {r.cite for t in resolved.tables.values() for r in t.rules} == {Cite("nfpa-70", "406.3(E)")}

    def test_a_values_mark_is_that_of_the_edition_that_carries_it(self) -> None:
        later = edition(
            "2017", "2014", carried=[carried(f"{MARK}#*", "acts#*"), carried("value.delay", checked=ASSUMED)]
        )
        resolved = resolve_edition(book(first_edition(), later), "nfpa-70", "2017")
        assert resolved.values["delay"].checked == ASSUMED
        assert [s.op for s in resolved.values["delay"].chain] == ["written", "carried"]

    def test_the_shorthand_carries_what_the_edition_does_not_name_elsewhere(self) -> None:
        later = next_edition(op("delete", f"{MARK}#built-in"))
        resolved = resolve_edition(book(first_edition(), later), "nfpa-70", "2017")
        assert [r.id for r in resolved.tables[MARK].rules] == [f"{MARK}#automatic", f"{MARK}#lighting"]
        assert [s.op for s in resolved.tables[MARK].none_fires.chain] == ["written", "carried"]


class TestChanges:
    def test_each_op_does_its_work_and_adds_a_step(self) -> None:
        later = next_edition(
            op("replace", f"{MARK}#automatic", rule=rule("automatic", where=[box(receptacle__built_in=one(False))])),
            op(
                "narrow",
                f"{MARK}#lighting",
                add_where=(box(space__dwelling=one(True)),),
                checked=SEEN_2017,
                says="homes only",
            ),
            op("add", f"{MARK}#new", rule=rule("new", "not required")),
            op("replace", f"{MARK}#none_fires", none_fires=none_fires("required")),
            op("set_value", "delay", value=value("delay", 15)),
            op("prevails_over", "acts#sensor", over=("acts#slow",), checked=SEEN_2017),
            op("replace", "acts#slow", rule=rule("slow", "manual", table="acts")),
            besides=(f"{MARK}#*", "acts#*"),
        )
        resolved = resolve_edition(book(first_edition(), later), "nfpa-70", "2017")
        marking = {r.id.partition("#")[2]: r for r in resolved.tables[MARK].rules}
        acts = {r.id: r for r in resolved.tables["acts"].rules}
        assert list(marking) == ["automatic", "built-in", "lighting", "new"]
        assert marking["automatic"].where == (box(receptacle__built_in=one(False)),)
        assert marking["lighting"].where == (box(contact__by_wall_switch=one(True), space__dwelling=one(True)),)
        assert (marking["lighting"].checked, marking["lighting"].chain[-1].says) == (SEEN_2017, "homes only")
        assert resolved.tables[MARK].none_fires.then == "required"
        assert resolved.values["delay"].value == 15
        assert acts["acts#sensor"].prevails_over == ("acts#slow",)
        last = {name: r.chain[-1].op for name, r in marking.items()}
        assert last == {"automatic": "replace", "built-in": "carried", "lighting": "narrow", "new": "add"}
        assert [s.by for s in marking["new"].chain] == ["nfpa-70 2017"]

    def test_a_later_edition_may_answer_a_new_question_with_a_new_value(self) -> None:
        half = table(rule("upright", "upper", [box(control__delay=at_most(20))], table="half"), question="half")
        later = next_edition(tables=(half,), values=(value("height", 5),))
        resolved = resolve_edition(book(first_edition(), later), "nfpa-70", "2017")
        assert [s.by for s in resolved.tables["half"].rules[0].chain] == ["nfpa-70 2017"]
        assert [s.op for s in resolved.values["height"].chain] == ["written"]

    def test_three_editions_make_a_chain_of_three(self) -> None:
        third = edition("2020", "2017", carried=[carried(f"{MARK}#*", "acts#*", "value.delay")])
        b = book(first_edition(), next_edition(), third)
        chain = resolve_edition(b, "nfpa-70", "2020").tables[MARK].rules[0].chain
        assert [(s.by, s.op) for s in chain] == [
            ("nfpa-70 2014", "written"),
            ("nfpa-70 2017", "carried"),
            ("nfpa-70 2020", "carried"),
        ]
        assert edition_faults(b) == []


SEEN_2017 = Checked("seen", "the 2017 text, read in a test")


class TestFaults:
    def test_a_forgotten_rule_none_fires_and_value_are_each_named(self) -> None:
        first = replace(first_edition(), values=(replace(value("delay", 20), at=at(7)),))
        first = replace(
            first, tables=(replace(first.tables[0], none_fires=replace(none_fires(), at=at(6))), first.tables[1])
        )
        later = edition("2017", "2014", carried=[carried(f"{MARK}#automatic", f"{MARK}#lighting", "acts#*", line=10)])
        assert faults_of(first, later) == [
            "2017.yaml:1:3: nfpa-70 2017 forgets `marking.required#built-in`: carry or change it; nfpa-70 2014 has it "
            "at t.yaml:1002:3",
            "2017.yaml:1:3: nfpa-70 2017 forgets `marking.required#none_fires`: carry or change it; nfpa-70 2014 has "
            "it at t.yaml:6:3",
            "2017.yaml:1:3: nfpa-70 2017 forgets `value.delay`: carry or change it; nfpa-70 2014 has it at t.yaml:7:3",
        ]

    def test_carried_and_changed(self) -> None:
        later = next_edition(
            op("delete", f"{MARK}#built-in", 31), besides=(f"{MARK}#built-in", f"{MARK}#*", "acts#*", "value.delay")
        )
        assert faults_of(first_edition(), later) == [
            "t.yaml:10:3: `marking.required#built-in` is named twice in nfpa-70 2017: carried here, delete at "
            "t.yaml:31:3"
        ]

    def test_changed_twice(self) -> None:
        later = next_edition(
            op("delete", f"{MARK}#built-in", 31),
            op("prevails_over", f"{MARK}#built-in", 32, over=(f"{MARK}#lighting",), checked=SEEN_2017),
        )
        assert faults_of(first_edition(), later) == [
            "t.yaml:32:3: `marking.required#built-in` is named twice in nfpa-70 2017: prevails_over here, delete at "
            "t.yaml:31:3"
        ]

    def test_an_id_that_the_edition_before_lacks(self) -> None:
        later = next_edition(
            op("delete", f"{MARK}#bilt-in", 31),
            besides=(f"{MARK}#lihgting", f"{MARK}#*", "act#*", "acts#*", "value.delay"),
        )
        assert faults_of(first_edition(), later) == [
            "t.yaml:10:3: `act#*` is carried, but nfpa-70 2014 has no such table (did you mean `acts`?)",
            "t.yaml:31:3: delete `marking.required#bilt-in`: nfpa-70 2014 does not have it (did you mean "
            "`marking.required#built-in`?)",
            "t.yaml:10:3: carried `marking.required#lihgting`: nfpa-70 2014 does not have it (did you mean "
            "`marking.required#lighting`?)",
        ]

    def test_a_shorthand_that_carries_nothing(self) -> None:
        later = next_edition(besides=(f"{MARK}#*", "acts#*", "acts#*", "value.delay"))
        assert faults_of(first_edition(), later) == [
            "t.yaml:10:3: `acts#*` carries nothing: this edition names every rule of that table elsewhere"
        ]

    def test_a_reading_chosen_by_an_edition(self) -> None:
        later = next_edition(op("choose_reading", "sensor", 31, alternative="automatic"))
        assert faults_of(first_edition(), later) == [
            "t.yaml:31:3: nfpa-70 2017 chooses the reading `sensor`; an edition cannot, a place's layer can"
        ]

    def test_a_narrowed_rule_must_say_how_well_it_is_checked(self) -> None:
        later = next_edition(op("narrow", f"{MARK}#lighting", 31, add_where=(box(space__dwelling=one(True)),)))
        assert faults_of(first_edition(), later) == [
            "t.yaml:31:3: `narrow` of `marking.required#lighting` lacks `checked`: how sure are we of the rule as "
            "nfpa-70 2017 has it?"
        ]

    def test_whole_table_and_value_that_are_not_new(self) -> None:
        later = next_edition(
            tables=(replace(table(rule("automatic")), at=at(31)),), values=(replace(value("delay", 9), at=at(32)),)
        )
        assert faults_of(first_edition(), later) == [
            "t.yaml:32:3: nfpa-70 2014 has `value.delay` already; carry it or write `set_value`",
            "t.yaml:31:3: nfpa-70 2014 has the table `marking.required` already; carry or change its rules one by one",
        ]

    def test_a_named_number_that_no_edition_sets_even_through_a_calculation(self) -> None:
        first = replace(first_edition(), values=())
        slow = rule("slow", where=[box(control__slow=one(True))], table="half", line=40)
        first = replace(first, tables=(*first.tables, table(slow, question="half")))
        assert messages_of(first) == [
            "`acts#slow` uses `value.delay`, which nfpa-70 2014 does not set",
            "`half#slow` uses `value.delay`, which nfpa-70 2014 does not set",
        ]

    def test_links_to_rules_that_are_not_there(self) -> None:
        first = edition("2014", tables=[table(rule("a"), rule("b", "not required", exception_to=["aa"], line=40))])
        assert faults_of(first) == [
            "t.yaml:40:3: `marking.required#b` is to prevail over `marking.required#aa`, which nfpa-70 2014 does not "
            "have in that table (did you mean `marking.required#a`?)"
        ]

    def test_a_cycle_of_exceptions(self) -> None:
        first = edition("2014", tables=[table(rule("a", exception_to=["b"], line=40), rule("b", exception_to=["a"]))])
        assert faults_of(first) == [
            "t.yaml:40:3: exceptions go round in a circle: `marking.required#a` over `marking.required#b` over "
            "`marking.required#a`; of two rules only one can prevail"
        ]

    def test_editions_that_follow_each_other_or_nothing(self) -> None:
        circle = messages_of(edition("2014", "2017"), edition("2017", "2014"))
        assert "editions of `nfpa-70` follow each other in a circle: `2014` follows `2017` follows `2014`" in circle
        assert messages_of(first_edition(), replace(next_edition(), follows="2015"))[0] == (
            "nfpa-70 2017 follows `2015`, which is not an edition here; there are `2014`, `2017`"
        )

    def test_a_fault_of_one_edition_is_not_told_again_by_the_next(self) -> None:
        second = edition("2017", "2014", carried=[carried(f"{MARK}#*", "acts#*")])
        third = edition("2020", "2017", carried=[ALL_CARRIED])
        assert len(faults_of(first_edition(), second, third)) == 1

    def test_resolving_raises_every_fault_of_the_line(self) -> None:
        second = edition("2017", "2014", carried=[carried(f"{MARK}#*", "acts#*")])
        third = edition("2020", "2017", carried=[carried(f"{MARK}#*", "value.delay")])
        with pytest.raises(RulebookFaults) as raised:
            resolve_edition(book(first_edition(), second, third), "nfpa-70", "2020")
        assert len(raised.value.faults) == 4  # 2017 forgets the value, 2020 the three ids of acts

    @pytest.mark.parametrize(
        ("document", "name", "message"),
        [
            ("nfpa-07", "2014", "document: no document `nfpa-07` in this rulebook (did you mean `nfpa-70`?)"),
            ("nfpa-70", "2015", "edition: no edition `2015` of `nfpa-70` in this rulebook; there are `2014`, `2017`"),
        ],
    )
    def test_unknown_names(self, document: str, name: str, message: str) -> None:
        with pytest.raises(RulebookFaults) as raised:
            resolve_edition(book(), document, name)
        assert str(raised.value) == message

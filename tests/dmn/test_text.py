"""The FEEL text of a small table, written by hand, and boxes taken out of boxes."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import yokebook
from dmn.engine import MODEL, texts
from small_rulebook import write
from yokebook.law import Law
from yokebook.model import Box, Cell, NoneOf, OneOf, Value, Within
from yokebook.values import holds, within
from yokebook_adapters.dmn import as_dmn
from yokebook_adapters.dmn_cells import Allowed, Numbers, Words, YesNo, allowed_by, decimal, rows_of, unary_tests

ACTS = """\
answers: control.acts
none_fires: forbidden
rules:
  - id: timed
    where: {control.kind: sensor, control.delay_min: {at_least: 15 min, less_than: 60 min}}
    but_not: {control.delay_min: {more_than: value.longest, at_most: 30 min}, control.by_hand: yes}
    then: automatic
    says: One that waits goes off by itself.
    cite: {document: code, section: "3"}
    checked: {seen: the text}
  - id: held
    exception_to: [timed]
    where: {control.by_hand: yes, control.floors: [3, 1]}
    then: manual
    says: One with a button on one or three floors does not.
    cite: {document: code, section: "4"}
    checked: {memory: somebody}
  - id: switch
    where:
      - {control.kind: {not: [sensor]}, control.delay_min: {more_than: 239.5 min}}
      - {control.kind: {not: [sensor]}, control.delay_min: {at_most: 7.5 min}}
    then: manual
    says: A switch does not.
    cite: {document: code, section: "5"}
    checked: {seen: the text}
"""


def law(folder: Path, table: str = ACTS) -> Law:
    code = yokebook.load(write(folder, {"electrical/2014/control.acts.yaml": table})).edition("code", "2014")
    return code.table("control.acts")[1]


def test_a_small_table_row_by_row(tmp_path: Path) -> None:
    """Exceptions come first, else by id. What `timed` takes out, waits over 20 up to 30 minutes with a button, leaves
    the waits outside that, and those inside it without a button."""
    its = law(tmp_path)
    [table] = ET.fromstring(as_dmn(its, "control.acts", its.book, conflicts=())).iter(f"{MODEL}decisionTable")
    rules = table.findall(f"{MODEL}rule")
    assert [[*texts(rule, "inputEntry"), *texts(rule, "outputEntry")] for rule in rules] == [
        # by_hand, delay_min, floors, kind
        ["true", "-", "1,3", "-", '"manual"'],
        ["-", "> 239.5", "-", 'not("sensor")', '"manual"'],
        ["-", "<= 7.5", "-", 'not("sensor")', '"manual"'],
        ["-", "[15..20],(30..60)", "-", '"sensor"', '"automatic"'],
        ["false", "(20..30]", "-", '"sensor"', '"automatic"'],
        ["-", "-", "-", "-", '"silent"'],
    ]
    assert [texts(rule, "annotationEntry") for rule in rules] == [
        ["control.acts#held", "A code", "4", "memory"],
        ["control.acts#switch", "A code", "5", "seen"],
        ["control.acts#switch", "A code", "5", "seen"],
        ["control.acts#timed", "A code", "3", "seen"],
        ["control.acts#timed", "A code", "3", "seen"],
        ["none fires", "", "", "derived"],
    ]


def test_columns_say_what_they_are_and_which_values_they_can_have(tmp_path: Path) -> None:
    its = law(tmp_path)
    root = ET.fromstring(as_dmn(its, "control.acts", its.book, conflicts=()))
    [table] = root.iter(f"{MODEL}decisionTable")
    assert table.get("hitPolicy") == "FIRST"
    columns = table.findall(f"{MODEL}input")
    types = [column.findall(f"{MODEL}inputExpression")[0].get("typeRef") for column in columns]
    found = [
        (column.get("label"), *texts(column, "inputExpression"), kind, *texts(column, "inputValues"))
        for column, kind in zip(columns, types, strict=True)
    ]
    assert found == [
        ("control.by_hand", "control_by_hand", "boolean", "true,false"),
        ("control.delay_min", "control_delay_min", "number", "[0..240]"),
        ("control.floors", "control_floors", "number"),
        ("control.kind", "control_kind", "string", '"switch","sensor"'),
    ]
    assert texts(table.findall(f"{MODEL}output")[0], "outputValues") == ['"manual","automatic","silent"']
    assert root.findall(f"{MODEL}description")[0].text == (
        "control.acts (R01): Does it act by itself? A code, 2014 edition\n"
        "A table in this form must never be fed a record with missing facts, or with facts that do not apply.\n"
        "Line voltage can kill."
    )


def test_the_whole_file_of_a_table_with_one_rule(tmp_path: Path) -> None:
    one_rule = """\
answers: control.acts
none_fires: {then: manual, says: The rest is worked by hand., checked: {seen: the text}}
rules:
  - id: sensor
    where: {control.kind: sensor}
    then: automatic
    says: A sensor acts by itself.
    cite: {document: code, section: "1"}
    checked: {seen: the text}
"""
    its = law(tmp_path, one_rule)
    assert as_dmn(its, "control.acts", its.book, conflicts=()) == """\
<?xml version="1.0" encoding="UTF-8"?>
<definitions xmlns="https://www.omg.org/spec/DMN/20230324/MODEL/" id="table" name="control_acts" \
namespace="urn:yokebook:code:2014:control.acts" exporter="yokebook">
  <description>control.acts (R01): Does it act by itself? A code, 2014 edition
A table in this form must never be fed a record with missing facts, or with facts that do not apply.
Line voltage can kill.</description>
  <inputData id="input_control_kind" name="control_kind" label="control.kind">
    <variable name="control_kind" typeRef="string" />
  </inputData>
  <decision id="decision" name="outcome_control_acts" label="control.acts">
    <question>Does it act by itself?</question>
    <variable name="outcome_control_acts" typeRef="string" />
    <informationRequirement>
      <requiredInput href="#input_control_kind" />
    </informationRequirement>
    <decisionTable id="rows" hitPolicy="FIRST">
      <input id="column_control_kind" label="control.kind">
        <inputExpression typeRef="string">
          <text>control_kind</text>
        </inputExpression>
        <inputValues>
          <text>"switch","sensor"</text>
        </inputValues>
      </input>
      <output id="output" typeRef="string">
        <outputValues>
          <text>"manual","automatic"</text>
        </outputValues>
      </output>
      <annotation name="rule" />
      <annotation name="document" />
      <annotation name="section" />
      <annotation name="checked" />
      <rule id="row_1">
        <inputEntry>
          <text>"sensor"</text>
        </inputEntry>
        <outputEntry>
          <text>"automatic"</text>
        </outputEntry>
        <annotationEntry>
          <text>control.acts#sensor</text>
        </annotationEntry>
        <annotationEntry>
          <text>A code</text>
        </annotationEntry>
        <annotationEntry>
          <text>1</text>
        </annotationEntry>
        <annotationEntry>
          <text>seen</text>
        </annotationEntry>
      </rule>
      <rule id="row_2">
        <inputEntry>
          <text>-</text>
        </inputEntry>
        <outputEntry>
          <text>"manual"</text>
        </outputEntry>
        <annotationEntry>
          <text>none fires</text>
        </annotationEntry>
        <annotationEntry>
          <text />
        </annotationEntry>
        <annotationEntry>
          <text />
        </annotationEntry>
        <annotationEntry>
          <text>seen</text>
        </annotationEntry>
      </rule>
    </decisionTable>
  </decision>
</definitions>
"""


# ---- cells ----------------------------------------------------------------------------------------------------------


def span(low: int | None, low_open: bool, high: int | None, high_open: bool) -> Within:
    return Within(
        None if low is None else Fraction(low), low_open, None if high is None else Fraction(high), high_open
    )


def numbers(*values: int) -> frozenset[Value]:
    return frozenset(Fraction(value) for value in values)


@pytest.mark.parametrize(
    ("cell", "text"),
    [
        (span(15, False, 20, True), "[15..20)"),
        (span(15, True, 20, False), "(15..20]"),
        (span(20, True, None, False), "> 20"),
        (span(20, False, None, False), ">= 20"),
        (span(None, False, -5, True), "< -5"),
        (span(None, False, 20, False), "<= 20"),
        (span(20, False, 20, False), "20"),
        (span(None, False, None, False), "-"),
        (OneOf(numbers(30, 15)), "15,30"),
        (NoneOf(numbers(30, 15)), "not(15,30)"),
        (OneOf(frozenset({Fraction(17, 8)})), "2.125"),
        (OneOf(frozenset({"b", "a"})), '"a","b"'),
        (NoneOf(frozenset({"b", "a"})), 'not("a","b")'),
        (OneOf(frozenset({True})), "true"),
        (NoneOf(frozenset({True})), "false"),
        (OneOf(frozenset({True, False})), "true,false"),
    ],
)
def test_a_cell_as_unary_tests(cell: Cell, text: str) -> None:
    assert unary_tests(allowed_by(cell)) == text


def test_a_number_as_a_decimal() -> None:
    assert [decimal(Fraction(n)) for n in ("0", "-1/8", "1/1024", "2040", "0.05", "1e33")] == [
        *("0", "-0.125", "0.0009765625", "2040", "0.05"),
        "1" + "0" * 33,
    ]
    for number in ("1/3", "1/7", "1e34", "1/3000"):
        with pytest.raises(ValueError, match=rf"^no decimal of at most 34 digits is equal to {Fraction(number)}$"):
            decimal(Fraction(number))


ENDS = st.one_of(st.none(), st.integers(0, 4).map(Fraction))
RANGES = st.builds(Within, ENDS, st.booleans(), ENDS, st.booleans())
SETS = st.frozensets(st.integers(0, 4).map(Fraction), min_size=1)
WORDS = st.frozensets(st.sampled_from("abc"), min_size=1)
BOOLS = st.frozensets(st.booleans(), min_size=1)
CELLS: dict[str, st.SearchStrategy[Cell]] = {
    "number": st.one_of(RANGES, SETS.map(OneOf), SETS.map(NoneOf)),
    "word": st.one_of(WORDS.map(OneOf), WORDS.map(NoneOf)),
    "flag": st.one_of(BOOLS.map(OneOf), BOOLS.map(NoneOf)),
}
BOXES = st.fixed_dictionaries({}, optional=CELLS)
RECORDS = [
    {"number": Fraction(half, 2), "word": word, "flag": flag}
    for half in range(-1, 10)
    for word in "abcd"
    for flag in (True, False)
]


def is_in(value: Value, allowed: Allowed) -> bool:
    match allowed:
        case Words(words, all_but):
            return (value in words) != all_but
        case YesNo(bools):
            return value in bools
        case Numbers(ranges):
            return isinstance(value, Fraction) and any(within(value, each) for each in ranges)


@given(BOXES, st.lists(BOXES, max_size=3))
def test_a_box_less_others_is_exactly_what_is_left_and_no_record_is_in_two_rows(where: Box, but_not: list[Box]) -> None:
    rows = rows_of([where], but_not)
    for record in RECORDS:
        inside = [all(holds(cell, record[name]) for name, cell in box.items()) for box in (where, *but_not)]
        found = sum(all(is_in(record[name], allowed) for name, allowed in row.items()) for row in rows)
        assert found == int(inside[0] and not any(inside[1:]))


def test_a_rule_that_takes_out_all_it_has_gives_no_row() -> None:
    box: Box = {"word": OneOf(frozenset({"a"}))}
    assert rows_of([box], [{"word": OneOf(frozenset({"a", "b"}))}]) == []
    assert rows_of([box], [{}]) == []
    assert rows_of([], []) == []

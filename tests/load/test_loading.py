"""What a good rulebook becomes: each thing as its file says it, with its place."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest
import yaml

from small_rulebook import edited, write
from yokebook.load import yaml_nodes
from yokebook.load.__main__ import main
from yokebook.load.book import load_book
from yokebook.model import (
    Adopts,
    At,
    Book,
    Checked,
    Cite,
    Comparison,
    Constant,
    NamedNumber,
    NoneOf,
    Of,
    OneOf,
    Over,
    Refuse,
    Within,
)


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Book:
    changes = edited(
        "calculations/contact.yaml",
        "    largest: {over: contact.controls, of: control.delay_min}",
        """\
    largest:
      over: contact.controls
      where: [{control.kind: {not: switch}}, {control.by_hand: true}]
      of: control.delay_min
    refuse: [{values: [0 min, 1 h], because: nobody sets that}]
  contact.waits_long:
    type: yes_no
    says: It waits long.
    comparison: {value: contact.slowest_min, at_least: 1/2 h}
    cite: {document: A handbook, section: "9"}
    checked: {memory: a colleague}
""",
    )
    return load_book(write(tmp_path_factory.mktemp("good") / "book", changes))


def test_a_fact(book: Book) -> None:
    fact = book.facts["control.delay_min"]
    assert (fact.entity, fact.type, fact.unit, fact.whole) == ("control", "number", "min", False)
    assert (fact.low, fact.low_open, fact.high, fact.high_open) == (0, False, 240, False)
    assert fact.applies_when == {"control.kind": OneOf(frozenset({"sensor"}))}
    assert book.facts["control.floors"].whole
    assert list(book.facts["control.kind"].values) == ["switch", "sensor"]


def test_an_impossible_combination(book: Book) -> None:
    (found,) = book.impossible
    assert found.where == {"control.kind": OneOf(frozenset({"switch"})), "control.by_hand": OneOf(frozenset({False}))}
    assert found.because == "a switch is worked by hand"


def test_a_table(book: Book) -> None:
    (table,) = [t for t in book.editions["code", "2014"].tables if t.question == "marking.required"]
    automatic, slow = table.rules
    assert automatic.id == "marking.required#automatic"
    assert automatic.where == ({"contact.automatic": OneOf(frozenset({True}))},)
    assert (automatic.but_not, automatic.exception_to, automatic.prevails_over) == ((), (), ())
    assert (automatic.then, automatic.cite) == ("required", Cite("code", "1"))
    assert automatic.checked == Checked("seen", "the text")
    assert slow.exception_to == ("marking.required#automatic",)
    assert slow.where == ({"contact.slowest_min": Within(low=NamedNumber("longest"), low_open=True)},)
    assert slow.at == At(f"{book.root}/electrical/2014/marking.required.yaml", 10, 5)
    assert (table.none_fires.then, table.none_fires.cite) == ("not required", None)


def test_a_table_that_must_answer(book: Book) -> None:
    (table,) = [t for t in book.editions["code", "2014"].tables if t.question == "control.acts"]
    assert table.none_fires.then is None


def test_a_named_number(book: Book) -> None:
    (value,) = book.editions["code", "2014"].values
    assert (value.id, value.value, value.unit, value.written, value.stricter) == (
        "longest", Fraction(20), "min", "20 min", "lower",
    )  # fmt: skip


def test_calculations(book: Book) -> None:
    over = book.calculations["contact.slowest_min"].expression
    assert over == Over(
        op="largest",
        over="contact.controls",
        where=(
            {"control.kind": NoneOf(frozenset({"switch"}))},
            {"control.by_hand": OneOf(frozenset({True}))},
        ),
        are=({},),
        of=Of("control.delay_min"),
    )
    assert book.calculations["contact.slowest_min"].refuse == (
        Refuse(frozenset({Fraction(0), Fraction(60)}), "nobody sets that"),
    )
    waits = book.calculations["contact.waits_long"]
    assert waits.expression == Comparison(Of("contact.slowest_min"), "at_least", Constant(Fraction(30)))
    assert (waits.cite, waits.checked) == (Cite("A handbook", "9"), Checked("memory", "a colleague"))
    assert book.calculations["contact.automatic"].checked == Checked("derived", "definition")


def test_a_later_edition(book: Book) -> None:
    edition = book.editions["code", "2017"]
    (carried,) = edition.carried
    assert (edition.follows, edition.tables, edition.changes) == ("2014", (), ())
    assert carried.rules == ("marking.required#*", "control.acts#*", "value.longest")
    assert (carried.section, carried.checked) == (None, Checked("assumed", "as before"))


def test_a_place(book: Book) -> None:
    place = book.places["town"]
    first, second = place.lines["electrical"]
    assert (first.event, first.on_or_after) == ("permit application", "2015-01-01")
    assert first.adopts == Adopts("code", "2014", ("town-1",), "all entered")
    assert second.adopts == Adopts("code", "2017", (), "all entered")
    (amendment,) = place.layers["town-1"].amendments
    delete, choose = amendment.ops
    assert (delete.op, delete.target, delete.pin) == ("delete", "marking.required#slow", None)
    assert (choose.op, choose.target, choose.alternative, choose.was) == (
        "choose_reading", "sensor-is-switch", "switch", "open",
    )  # fmt: skip


def test_an_amendments_words_are_those_of_the_rules_it_brings(tmp_path: Path) -> None:
    changes = edited(
        "places/town.yaml",
        "- delete: marking.required#slow",
        "- {replace: marking.required#slow, pin: '0a1b2c3d', where: {contact.supply: controlled}, then: required}\n"
        "          - {set_value: longest, value: 10 min}\n"
        "          - {add: marking.required#none_fires, then: required}",
    )
    book = load_book(write(tmp_path / "book", changes), check_schema=False)
    replace, set_value, add, _ = book.places["town"].layers["town-1"].amendments[0].ops
    assert replace.rule is not None and set_value.value is not None and add.none_fires is not None
    for brought in (replace.rule, set_value.value, add.none_fires):
        assert brought.says == "Slow ones are marked too."
        assert brought.cite == Cite("Town ordinance", "1")
        assert brought.checked == Checked("seen", "the ordinance")
    assert replace.pin == "0a1b2c3d"
    assert (set_value.value.value, set_value.value.stricter) == (10, "lower")


def test_every_form_of_a_choice_of_documents(tmp_path: Path) -> None:
    choice = """\
choice:
        id: window
        asks: Which code?
        alternatives:
          old: {document: code, edition: "2014", layers: [town-1]}
          new: {document: code, edition: "2017"}"""
    book = load_book(
        write(tmp_path / "book", edited("places/town.yaml", 'adopts: {document: code, edition: "2017"}', choice))
    )
    entry = book.places["town"].lines["electrical"][1]
    assert entry.adopts is None and (entry.choice_id, entry.choice_asks) == ("window", "Which code?")
    assert entry.choice == {
        "old": Adopts("code", "2014", ("town-1",), "all entered"),
        "new": Adopts("code", "2017", (), "all entered"),
    }


def test_the_shipped_rulebook_loads_and_is_whole() -> None:
    """With every schema, edition, layer and cycle looked at."""
    book = load_book(check_schema=True)
    assert book.editions and book.places and book.cautions
    assert all(
        rule.cite.section for edition in book.editions.values() for table in edition.tables for rule in table.rules
    )


def test_the_command_tells_size_or_faults(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = write(tmp_path / "book")
    assert main([str(folder)]) == 0
    assert capsys.readouterr().out == (
        "rulebook loads: 2 tables in 2 editions, 5 facts, 2 calculations, 1 readings, 1 places\n"
    )
    (folder / "cautions.yaml").write_text("cautions: x\n", encoding="utf-8")
    assert main([str(folder)]) == 3
    assert capsys.readouterr().out == (
        f"{folder}/cautions.yaml:1:11: `cautions` of cautions.yaml is a list of sentences; found `x`\n"
    )


def test_the_book_is_the_same_without_the_parser_in_c(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = write(tmp_path / "book")
    in_c = load_book(folder)
    monkeypatch.setattr(yaml_nodes, "_FAST", yaml.SafeLoader)
    assert load_book(folder) == in_c

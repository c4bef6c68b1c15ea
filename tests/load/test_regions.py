"""Regions of case files: read with their laws, every fault with its place."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

from small_rulebook import FILES, write
from yokebook.load.book import load_book
from yokebook.load.faults import RulebookFaults
from yokebook.load.regions import load_claims
from yokebook.model import At, NamedNumber, NoneOf, OneOf, Within
from yokebook.model.claimed import Claim

GOOD = """\
regions:
  - id: short-waits
    says: Short waits are marked.
    source: the text
    section: "1"
    document: code
    editions: ["2014", "2017"]
    question: marking.required
    where: {contact.automatic: yes, contact.slowest_min: {at_most: value.longest}}
    but_not: [{contact.slowest_min: 1/2 h}, {reading.sensor-is-switch: {not: switch}}]
    expect: required
  - id: town
    says: Long ones too.
    source: the ordinance
    place: town
    dates: {permit application: 2016-01-01}
    question: marking.required
    where: [{contact.automatic: yes}, {contact.supply: controlled}]
    expect: required
"""


#: The town without its layer, which is a draft.
TOWN = FILES["places/town.yaml"].partition("layers:\n")[0].replace(", layers: [town-1]", "")


@pytest.fixture(autouse=True)
def _beside_the_book(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def claims_of(folder: Path, files: dict[str, str]) -> list[Claim]:
    write(folder / "book", {"places/town.yaml": TOWN} | {f"cases/{name}": text for name, text in files.items()})
    return load_claims(Path("book"), load_book(Path("book"), check_schema=False))


def faults_of(folder: Path, *files: str) -> list[str]:
    with pytest.raises(RulebookFaults) as found:
        claims_of(folder, {f"{number}.yaml": text for number, text in enumerate(files)})
    return str(found.value).splitlines()


def test_a_region_is_read_as_a_rules_boxes_are(tmp_path: Path) -> None:
    short, town = claims_of(tmp_path, {"a.yaml": GOOD})
    assert short == Claim(
        id="short-waits",
        says="Short waits are marked.",
        source="the text",
        section="1",
        question="marking.required",
        document="code",
        editions=("2014", "2017"),
        place=None,
        dates={},
        choices={},
        where=(
            {
                "contact.automatic": OneOf(frozenset({True})),
                "contact.slowest_min": Within(high=NamedNumber("longest")),
            },
        ),
        but_not=(
            {"contact.slowest_min": OneOf(frozenset({Fraction(30)}))},
            {"reading.sensor-is-switch": NoneOf(frozenset({"switch"}))},
        ),
        expect="required",
        at=At("book/cases/a.yaml", 2, 5),
    )
    assert (town.place, dict(town.dates), town.editions, len(town.where)) == (
        "town", {"permit application": "2016-01-01"}, (), 2
    )  # fmt: skip


def test_cases_stand_beside_regions_and_files_below_folders_count(tmp_path: Path) -> None:
    found = claims_of(tmp_path, {"a.yaml": "cases: []\n" + GOOD, "more/b.yaml": "cases: []\n"})
    assert [claim.id for claim in found] == ["short-waits", "town"]


def test_every_fault_of_every_region_is_told_with_its_place(tmp_path: Path) -> None:
    bad = """\
regions:
  - id: two words
    says: x
    source: x
    document: code
    editions: ["2013", "2014"]
    question: control.acts
    where: {control.kind: swich, contact.supply: controlled, control.delay_min: 20}
    but_not: {control.delay_min: {at_most: value.longst}}
    expect: automatc
    colour: red
  - id: asked-of-nobody
    says: x
    document: code
    editions: ["2014"]
    question: control.act
    where: {}
    expect: automatic
"""
    assert faults_of(tmp_path, bad) == [
        "book/cases/0.yaml:2:9: `two words` is no id of a region; allowed: letters, digits, `_`, `.` and `-`",
        "book/cases/0.yaml:6:16: `code` has no edition `2013` here; there are `2014`, `2017`",
        "book/cases/0.yaml:8:27: `swich` is not a value of `control.kind` (did you mean `switch`?); allowed: `switch`, "
        "`sensor`",
        "book/cases/0.yaml:8:34: `contact.supply` is of a contact, and a control may have several of them or none; "
        "what is missing is a calculation `control.…` over `control.contacts` that uses it",
        "book/cases/0.yaml:8:81: `control.delay_min`: `20` has no unit; allowed: a time in `min`, `s` or `h`",
        "book/cases/0.yaml:9:44: `control.delay_min`: no edition of `code` has a named number `value.longst` (did you "
        "mean `longest`?)",
        "book/cases/0.yaml:10:13: `expect` of the region `two words`: `automatc` is not an outcome of `control.acts` "
        "(did you mean `automatic`?); allowed: `manual`, `automatic`",
        "book/cases/0.yaml:11:5: `colour` is not a key of the region `two words`; allowed: `id`, `says`, `source`, "
        "`section`, `question`, `document`, `place`, `editions`, `dates`, `choices`, `where`, `but_not`, `expect`",
        "book/cases/0.yaml:12:5: `source` is missing from the region `asked-of-nobody`",
        "book/cases/0.yaml:16:15: there is no question `control.act` (did you mean `control.acts`?)",
    ]


def region(**keys: str) -> str:
    """One region; keys with an empty text are left out."""
    whole = {
        "id": "one", "says": "x", "source": "x", "document": "code", "editions": '["2014"]',
        "question": "marking.required", "where": "{contact.automatic: yes}", "expect": "required", **keys,
    }  # fmt: skip
    lines = [f"{key}: {text}" for key, text in whole.items() if text]
    return "regions:\n  - " + "\n    ".join(lines) + "\n"


BARE = {"document": "", "editions": ""}


@pytest.mark.parametrize(
    ("keys", "fault"),
    [
        (BARE, "2:5: the region `one` names a `place` with `dates`, or a `document` with a list of its `editions`"),
        ({"document": "cod"}, "5:15: there is no document `cod` (did you mean `code`?)"),
        ({"dates": "{permit application: 2016-01-01}"}, "10:5: `dates` means nothing without a `place`"),
        (
            {"document": "", "place": "town", "dates": "{permit application: 2016-01-01}"},
            "5:5: `editions` cannot stand beside `place`: its dates say which",
        ),
        ({**BARE, "place": "twon"}, "8:12: no place `twon` in this rulebook (did you mean `town`?)"),
        (
            {**BARE, "place": "town"},
            "8:12: these dates and choices leave more than one entry possible; give those that settle it",
        ),
        (
            {**BARE, "place": "town", "dates": "{permit application: 2016-01-32}"},
            "9:33: `2016-01-32` is not a day of the calendar; allowed: a date as YYYY-MM-DD, such as 2024-10-01",
        ),
        (
            {**BARE, "place": "town", "dates": "{permit application: 2010-01-01}"},
            "8:12: no document in force there on these dates has a table for `marking.required`",
        ),
        ({"where": "[]"}, "8:12: `where` is an empty list; allowed: a box, or a list of boxes"),
        ({"expect": ""}, "2:5: `expect` is missing from the region `one`"),
    ],
)
def test_one_fault(tmp_path: Path, keys: dict[str, str], fault: str) -> None:
    assert faults_of(tmp_path, region(**keys)) == [f"book/cases/0.yaml:{fault}"]


def test_an_id_is_taken_once_over_all_files(tmp_path: Path) -> None:
    assert faults_of(tmp_path, region(), region()) == [
        "book/cases/1.yaml:2:9: the region id `one` is taken already, at book/cases/0.yaml:2:9"
    ]


def test_a_named_number_that_one_of_the_editions_does_not_set(tmp_path: Path) -> None:
    changes = {
        "electrical/2017/edition.yaml": """\
document: code
edition: "2017"
follows: "2014"
how_checked: not read
carried:
  - rules: ["marking.required#*", "control.acts#*", value.longest]
    checked: {assumed: as before}
values:
  shortest:
    value: 1 min
    stricter: lower
    says: The shortest wait.
    cite: {document: code, section: "2"}
    checked: {seen: the text}
""",
        "cases/0.yaml": region(editions='["2014", "2017"]', where="{contact.slowest_min: {at_least: value.shortest}}"),
    }
    write(tmp_path / "book", changes)
    with pytest.raises(RulebookFaults) as found:
        load_claims(Path("book"), load_book(Path("book"), check_schema=False))
    assert str(found.value) == "book/cases/0.yaml:8:45: code 2014 does not set `value.shortest`"


def test_regions_that_are_no_list(tmp_path: Path) -> None:
    assert faults_of(tmp_path, "regions: some\n", "regions: [one]\n") == [
        "book/cases/0.yaml:1:10: `regions` is a list of regions; found `some`",
        "book/cases/1.yaml:1:11: a region is a mapping of keys; found `one`",
    ]


def test_a_file_of_regions_alone_fits_the_schema_and_an_empty_one_does_not(tmp_path: Path) -> None:
    write(tmp_path / "book", {"cases/a.yaml": GOOD})
    load_book(Path("book"), check_schema=True)
    write(tmp_path / "book", {"cases/a.yaml": "{}\n", "cases/b.yaml": region(expect="").replace("says: x", "say: x")})
    with pytest.raises(RulebookFaults) as found:
        load_book(Path("book"), check_schema=True)
    assert str(found.value).splitlines() == [
        "book/cases/a.yaml:1:1: the file has too few; allowed: at least 1",
        "book/cases/b.yaml:2:5: `says` is missing from item 1 of `regions`",
        "book/cases/b.yaml:3:5: `say` is not a key of item 1 of `regions` (did you mean `says`?); allowed: `id`, "
        "`says`, `source`, `section`, `document`, `editions`, `place`, `dates`, `choices`, `question`, `where`, "
        "`but_not`, `expect`",
    ]

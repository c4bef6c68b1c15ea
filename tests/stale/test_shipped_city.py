"""The shipped rulebook: one edit of the law marks just the ops of Brindle Falls that stand on it."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest

from shipped_book import rulebook
from stale.small_city import edit, flat, marked, told
from yokebook import shipped
from yokebook.load.book import load_book
from yokebook.proof.findings import Finding
from yokebook.rulebook import Rulebook
from yokebook_adapters.pinfile import pin_report
from yokebook_adapters.stale import stale_report

CITY = "demo/tamarisk/brindle-falls"
ON_SCOPE = [
    "replace marking.required#automatic",
    "replace marking.form#form",
    "replace marking.place#face",
    "delete marking.place#built-in",
]


@pytest.fixture
def root(tmp_path: Path) -> Path:
    folder = tmp_path / "rulebook"
    shutil.copytree(shipped.folder("rulebook"), folder)
    return folder


def found_in(root: Path) -> list[Finding]:
    return stale_report(load_book(root, check_schema=False), CITY)


def test_as_shipped_nothing_moved_and_every_record_is_whole() -> None:
    book = rulebook().book
    owners = [place.id for place in book.places.values() if place.layers]
    assert CITY in owners
    for place in owners:
        assert stale_report(book, place) == []
        states = [row.state for row in pin_report(book, place).rows]
        assert set(states) <= {"kept"}
        if not states:  # layers that only add rules have no pins
            assert place != CITY
            continue
        record = (Path(book.root) / "places" / f"{place}.yaml.pins.json").read_text(encoding="utf-8")
        assert record.count('"editorial"') == record.count('"pin"') == record.count('"numbers"') > 0


def test_a_number_of_the_scope(root: Path) -> None:
    """Marking covers 15 and 20 A; with 30 A too, every table of the city that asks for the scope stands on other text.
    The narrowed exception names no scope, and the readings do not."""
    edit(root, "electrical/2014/marking.scope.yaml", "receptacle.amps: [15, 20]", "receptacle.amps: [15, 20, 30]")
    found = found_in(root)
    assert marked(found) == ON_SCOPE
    first = found[0]
    assert (
        'Moved: marking.scope#straight-blade was "where receptacle.amps is 15 or 20 and receptacle.locking is no and '
        'receptacle.volts is 125: in scope" and is "where receptacle.amps is 15, 20 or 30 and receptacle.locking is no '
        'and receptacle.volts is 125: in scope". Below the layer outcomes change: `marking.required` was not required '
        "and is required for a record in which " in told(first)
    )
    assert first.record is not None and (first.record["was"], first.record["outcome"]) == ("not required", "required")
    record = flat(first)
    assert record["receptacle.configuration"] == "5-30R"  # of the straight-blade 125 V ones the only one of 30 A
    outcomes = [
        Rulebook(load_book(folder, check_schema=False))
        .in_force(CITY, on="2024-10-01", drafts=True)
        .rule("marking.required", record)
        .outcome
        for folder in (shipped.folder("rulebook"), root)
    ]
    assert outcomes == ["not required", "required"]


def test_what_cannot_matter(root: Path) -> None:
    """What is automatically controlled is controlled: to say so in the rule as well changes no outcome."""
    edit(
        root,
        "electrical/2014/marking.required.yaml",
        "        contact.automatic_control: yes\n        reading.purpose",
        "        contact.automatic_control: yes\n        contact.supply: controlled\n        reading.purpose",
    )
    found = found_in(root)
    assert marked(found) == ON_SCOPE
    assert {told(each).partition(". Below")[2] for each in found} == {
        " the layer no outcome changes. With the amendment in place no outcome changes"
    }


def test_a_room_of_the_exception(root: Path) -> None:
    """The exception reaches laundries: below wherever the switch stands in, in the city in dwellings only."""
    edit(root, "electrical/2023/marking.changes.yaml", *_exception(root))
    found = found_in(root)
    assert marked(found) == ["narrow marking.required#lighting-exception", *ON_SCOPE[1:]]
    narrowed = found[0]
    region = {each["input"]: each["is"] for each in narrowed.region}
    assert region["space.use"] == "laundry" and region["space.occupancy"] == "dwelling"
    assert re.search(
        r"With the amendment in place outcomes change: `marking\.required` was required and is not required where ",
        told(narrowed),
    )


def _exception(root: Path) -> tuple[str, str]:
    """The rule of the exception with laundries taken out of the rooms that it does not reach."""
    text = (root / "electrical/2023/marking.changes.yaml").read_text(encoding="utf-8")
    start = text.index("replace: marking.required#lighting-exception")
    rule = text[start : text.index("then:", start)]
    assert rule.count("laundry, ") == 1
    return rule, rule.replace("laundry, ", "")

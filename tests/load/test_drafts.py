"""Files of places that stand elsewhere, read beside a rulebook's own."""

from __future__ import annotations

from pathlib import Path

import pytest

import yokebook
from small_rulebook import FILES, write
from yokebook import RulebookFaults

TOWN = FILES["places/town.yaml"]
VILLAGE = """\
place: green/village
name: Village
office: the green
lines:
  electrical:
    - id: V1
      follows: town
      source: invented
"""


@pytest.fixture(autouse=True)
def _here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A rulebook in `book`, and the tests stand beside it."""
    monkeypatch.chdir(tmp_path)
    write(tmp_path / "book")


def draft(name: str, text: str) -> Path:
    """A file beside the rulebook."""
    path = Path(name)
    path.write_text(text, encoding="utf-8")
    return path


def refused(*drafts: Path | str) -> list[str]:
    """The lines of the refusal of the rulebook with these drafts."""
    with pytest.raises(RulebookFaults) as found:
        yokebook.load("book", drafts=drafts)
    return str(found.value).splitlines()


def test_a_draft_stands_in_for_the_rulebooks_place():
    path = draft("mine.yaml", TOWN.replace("name: Town", "name: Town, as it might be"))
    book = yokebook.load("book", drafts=[path]).book
    assert book.places["town"].name == "Town, as it might be"
    assert book.places["town"].at.file == "mine.yaml"
    assert list(book.places) == ["town"]
    assert yokebook.load("book").book.places["town"].name == "Town"


def test_a_draft_may_be_a_new_place():
    book = yokebook.load("book", drafts=[str(draft("new.yaml", VILLAGE))])
    assert set(book.book.places) == {"town", "green/village"}
    code = book.in_force("green/village", on="2019-01-01")
    assert code.in_force["electrical"].candidates[0].law is not None
    assert code.in_force["electrical"].candidates[0].law.resolved.edition == "2017"


def test_the_file_that_a_draft_stands_in_for_is_not_read():
    Path("book/places/town.yaml").write_text("place: [", encoding="utf-8")
    assert yokebook.load("book", drafts=[draft("mine.yaml", TOWN)]).book.places["town"].name == "Town"


def test_the_rulebooks_own_file_may_be_the_draft():
    book = yokebook.load("book", drafts=["book/places/town.yaml"]).book
    assert book.places == yokebook.load("book").book.places


def test_pins_are_due_unless_drafts_are_let_pass():
    """The town's layer deletes a rule and chooses a reading, and has no pins."""
    book = yokebook.load("book", drafts=[draft("mine.yaml", TOWN)])
    with pytest.raises(RulebookFaults) as found:
        book.in_force("town", on="2016-01-01")
    told = [line.partition(" ")[0] for line in str(found.value).splitlines()]
    assert told == ["mine.yaml:27:13:", "mine.yaml:28:13:"]
    law = book.in_force("town", on="2016-01-01", drafts=True).in_force["electrical"].candidates[0].law
    assert law is not None
    assert [rule.id for rule in law.resolved.tables["marking.required"].rules] == ["marking.required#automatic"]


def test_no_such_file():
    assert refused("nowhere.yaml") == ["nowhere.yaml:1:1: cannot be read: No such file or directory"]


def test_a_draft_that_names_no_place():
    wanted = "a draft of a place says which place it is: `place:` with the place's id is missing"
    assert refused(draft("mine.yaml", TOWN.replace("place: town\n", ""))) == [f"mine.yaml:1:1: {wanted}"]
    assert refused(draft("list.yaml", "- place: town\n")) == [f"list.yaml:1:1: {wanted}"]


def test_two_drafts_of_one_place():
    drafts = draft("one.yaml", TOWN), draft("two.yaml", TOWN)
    assert refused(*drafts) == [
        "two.yaml:1:8: `town` is also the place of one.yaml; allowed: one draft for each place"
    ]


def test_faults_of_a_draft_name_its_own_file():
    path = draft("mine.yaml", TOWN.replace("delete: marking.required#slow", "delete: marking.required#slwo"))
    [fault] = refused(path)
    assert fault.startswith("mine.yaml:27:")
    assert "`marking.required#slwo`" in fault


def test_a_draft_is_held_against_its_schema_in_the_shipped_rulebook_too():
    path = draft("mine.yaml", VILLAGE.replace("office:", "ofice:").replace("follows: town", "follows: demo/tamarisk"))
    with pytest.raises(RulebookFaults) as found:
        yokebook.load(drafts=[path])
    told = str(found.value).splitlines()
    assert [line.partition(" ")[0] for line in told] == ["mine.yaml:1:1:", "mine.yaml:3:1:"]
    assert told[0] == "mine.yaml:1:1: `office` is missing from a place"


def test_what_only_shows_when_names_are_followed_is_told_of_a_draft_in_the_shipped_rulebook():
    path = draft("mine.yaml", VILLAGE)
    with pytest.raises(RulebookFaults) as found:
        yokebook.load(drafts=[path])
    assert str(found.value).startswith(
        "mine.yaml:6:7: entry `V1` follows `town`, which is no place of this rulebook"
    )

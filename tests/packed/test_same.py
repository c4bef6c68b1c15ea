"""A book from a pack is the book of the YAML: every part, every position, every law; so are rulings and findings."""

from __future__ import annotations

import copy
import pickle
from dataclasses import fields, replace
from functools import cache
from pathlib import Path

import pytest

import yokebook
from small_rulebook import write
from yokebook import shipped
from yokebook.adoption import candidates, resolve_adoption
from yokebook.editions import resolve_edition
from yokebook.layers import adopted_here
from yokebook.load.book import load_book
from yokebook.load.packed import sources
from yokebook.load.packed.opening import Pack, open_pack
from yokebook.load.packed.reading import book_of
from yokebook.load.packed.writing import pack_of, writer
from yokebook.model import Book, LawName, Resolved
from yokebook.overview import overview
from yokebook_adapters import check_text


@cache
def from_yaml() -> Book:
    return load_book()


@cache
def pack(folder: Path) -> Pack:
    (folder / "pack").write_bytes(pack_of(from_yaml(), sources.record(shipped.folder_name("rulebook"), sources.YAML)))
    found = open_pack(str(folder / "pack"), shipped.folder_name("rulebook"), "")
    assert found is not None
    return found


@pytest.fixture(scope="module")
def packed(tmp_path_factory: pytest.TempPathFactory) -> Book:
    """The shipped book, by way of a pack of it."""
    return book_of(pack(tmp_path_factory.getbasetemp()))


def test_every_part_of_the_book_is_equal_and_in_the_same_order(packed: Book):
    other = from_yaml()
    for field in fields(Book):
        if field.init:
            ours, theirs = getattr(packed, field.name), getattr(other, field.name)
            assert ours == theirs, field.name
            assert list(ours) == list(theirs), field.name
    assert packed == other


def test_positions_are_those_of_the_files(packed: Book):
    """Looked up in the text of the file, without the loader."""
    folder = Path(shipped.folder_name("rulebook"))
    for edition in packed.editions.values():
        for table in edition.tables:
            for rule in table.rules:
                line = (folder.parent / rule.at.file).read_text(encoding="utf-8").splitlines()[rule.at.line - 1]
                assert line[rule.at.column - 1 :].startswith(f"id: {rule.id.partition('#')[2]}"), rule.at


def laws_of(book: Book) -> dict[LawName, Resolved]:
    """Every law that entries of places put in force, by the long way."""
    found: dict[LawName, Resolved] = {}
    for place in book.places.values():
        for kind, line in place.lines.items():
            for entry in line:
                for adopts in adopted_here(book, place, kind, entry):
                    full = (name if "#" in name else f"{place.id}#{name}" for name in adopts.layers)
                    names = tuple((name.partition("#")[0], name.partition("#")[2]) for name in full)
                    law = resolve_adoption(book, place, entry, adopts, drafts=False)
                    found[adopts.document, adopts.edition, names] = law
    return found


def test_laws_are_those_that_resolving_gives(packed: Book):
    assert packed.worked_out is not None and from_yaml().worked_out is None
    due = laws_of(from_yaml())
    due |= {(*edition, ()): resolve_edition(from_yaml(), *edition) for edition in from_yaml().editions}
    assert set(packed.worked_out.laws) == set(due)
    assert sum(1 for _, _, layers in due if layers) > 10
    for name, law in due.items():
        found = packed.worked_out.laws[name]
        assert found == law, name
        assert list(found.tables) == list(law.tables) and list(found.values) == list(law.values)
        assert found.amendments == law.amendments


def test_what_is_known_of_the_whole_is_the_same(packed: Book):
    assert overview(packed) == overview(from_yaml())


def test_a_changed_book_keeps_nothing_that_was_worked_out(packed: Book):
    changed = replace(packed, editions={key: packed.editions[key] for key in list(packed.editions)[:1]})
    assert packed.worked_out is not None and changed.worked_out is None


RECORD = {"receptacle.configuration": "5-20R", "receptacle.built_in_control": False, "contact.supply": "controlled"}
PROJECT = {
    "project": {"place": "demo/tamarisk/brindle-falls", "dates": {"permit application": "2024-10-15"}},
    "spaces": [
        {
            "id": "R1",
            "use": "open office",
            "occupancy": "office",
            "yokes": [{"id": "A", "configuration": "5-20R", "contacts": [{"id": "upper", "supply": "controlled"}]}],
        }
    ],
}


def test_rulings_and_digests_are_the_same(packed: Book):
    rulings, digests = [], []
    for book in (packed, from_yaml()):
        code = yokebook.Rulebook(book).in_force("demo/tamarisk/brindle-falls", {"permit application": "2024-10-15"})
        rulings.append(code.rule("marking.required", RECORD).to_dict())
        filed = code.rule_project(PROJECT, questions=["marking.required", "marking.form"]).filed({})
        digests.append(filed["digests"])
    assert rulings[0] == rulings[1]
    assert digests[0] == digests[1] and set(digests[0]) == {"record", "law", "rulings"}


def test_findings_name_the_same_lines(packed: Book):
    texts = [
        check_text.as_text(yokebook.Rulebook(book).check(["us/wa/seattle"]), book, every=True)
        for book in (packed, from_yaml())
    ]
    assert texts[0] == texts[1]
    assert "rulebook/electrical/" in texts[0]


# ---- the file ------------------------------------------------------------------------------------------------------


def test_the_same_rulebook_gives_the_same_bytes(tmp_path: Path):
    folder = write(tmp_path / "book")
    packs = {pack_of(load_book(folder), sources.record(str(folder), sources.YAML)) for _ in range(2)}
    assert len(packs) == 1


def test_a_pack_is_not_of_another_rulebook(tmp_path: Path):
    one, other = write(tmp_path / "one"), write(tmp_path / "other", {"cautions.yaml": "cautions:\n  - Look out.\n"})
    (tmp_path / "pack").write_bytes(pack_of(load_book(one), sources.record(str(one), sources.YAML)))
    assert open_pack(str(tmp_path / "pack"), str(one), "") is not None
    assert open_pack(str(tmp_path / "pack"), str(other), "") is None


def test_a_rulebook_with_a_draft_in_it_is_packed_without_the_law_of_the_draft(tmp_path: Path):
    """Asked for, it is refused as ever, and taken as it is where drafts are allowed."""
    folder = write(tmp_path / "book")
    book = load_book(folder)
    (tmp_path / "pack").write_bytes(pack_of(book, sources.record(str(folder), sources.YAML)))
    found = open_pack(str(tmp_path / "pack"), str(folder), "")
    assert found is not None
    packed = book_of(found)
    assert packed.worked_out is not None
    assert list(packed.worked_out.laws) == [("code", "2014", ()), ("code", "2017", ())]
    dates = {"permit application": "2016-01-01"}
    messages = []
    for each in (packed, book):
        with pytest.raises(yokebook.RulebookFaults) as refused:
            candidates(each, "town", "electrical", dates, {})
        messages.append(str(refused.value))
    assert messages[0] == messages[1] and "has no pin" in messages[0]
    laws = [candidates(each, "town", "electrical", dates, {}, drafts=True)[0].resolved for each in (packed, book)]
    assert laws[0] == laws[1] and laws[0] is not None


def test_books_are_copied_and_sent_to_other_processes_whole(tmp_path: Path):
    folder = write(tmp_path / "book")
    (tmp_path / "pack").write_bytes(pack_of(load_book(folder), sources.record(str(folder), sources.YAML)))
    found = open_pack(str(tmp_path / "pack"), str(folder), "")
    assert found is not None
    book = book_of(found)
    for other in (pickle.loads(pickle.dumps(book)), copy.deepcopy(book)):
        assert other == book and type(other.places) is dict
        assert other.worked_out.laws == book.worked_out.laws  # type: ignore[union-attr]


def test_only_data_of_a_rulebook_can_be_packed():
    with pytest.raises(TypeError, match="float is not data of a rulebook"):
        writer([])(1.5)


def test_the_shipped_pack_is_of_every_file():
    names = set(sources.record(shipped.folder_name("rulebook"), sources.YAML))
    folder = Path(shipped.folder_name("rulebook"))
    assert names == {path.relative_to(folder).as_posix() for path in folder.rglob("*.y*ml")}

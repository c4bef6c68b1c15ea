"""The page's own data and files, without a browser."""

from __future__ import annotations

import json
import re
from typing import Any

import yokebook
from yokebook.front_door import record_to_graph
from yokebook_adapters.service.app import PAGE

RULEBOOK = yokebook.load()
BOOK = RULEBOOK.book

#: What a record says of lists and links beside facts, as far as the page does.
LISTS = ("contact.controls.complete", "contact.load")
OPENINGS: dict[str, Any] = json.loads((PAGE / "openings.json").read_text(encoding="utf-8"))


def test_every_set_asks_what_the_rulebook_has() -> None:
    """Questions by their ids, openings by their names."""
    for each in OPENINGS["sets"]:
        assert set(each["questions"]) <= set(BOOK.questions)
        assert set(each["openings"]) <= set(OPENINGS["openings"])


def test_every_choice_states_facts_that_the_front_door_takes() -> None:
    """And every condition names a word that its fact has."""
    for opening in OPENINGS["openings"].values():
        ids = [choice["id"] for choice in opening["choices"]]
        assert len(set(ids)) == len(ids) and "?" not in ids
        for choice in opening["choices"]:
            record_to_graph(choice["facts"], BOOK)
        for condition in (opening, *opening["choices"]):
            for fact, words in condition.get("when", {}).items():
                assert set(words) <= set(BOOK.facts[fact].values)


def test_a_set_is_offered_the_kinds_of_code_that_can_answer_it() -> None:
    """Any edition of any document of the kind; of other kinds none can."""
    codes = [(each.kind, RULEBOOK.edition(each.id, year)) for each in BOOK.documents.values() for year in each.editions]
    for each in OPENINGS["sets"]:
        assert each["kinds"] == sorted({kind for kind, code in codes if code.kinds_for(each["questions"][0])})


def test_what_is_not_known_covers_what_its_choices_say() -> None:
    """Whoever does not know it is not asked for the same in other words."""
    for opening in OPENINGS["openings"].values():
        facts = {fact for choice in opening["choices"] for fact in choice["facts"] if fact != "contact.supply"}
        assert all(any(fact.startswith(begins) for begins in opening["covers"]) for fact in facts)
        assert all(any(name.startswith(begins) for name in (*BOOK.facts, *LISTS)) for begins in opening["covers"])


def test_choices_that_go_together_make_a_record() -> None:
    """One choice of each opening of a set, every choice once."""
    for each in OPENINGS["sets"]:
        lists = [OPENINGS["openings"][name]["choices"] for name in each["openings"]]
        for turn in range(max(map(len, lists), default=0)):
            record: dict[str, Any] = {}
            for choices in lists:
                record |= choices[turn % len(choices)]["facts"]
            if record.get("contact.supply") != "always on":  # nothing then switches it, which other choices say
                record_to_graph(record, BOOK)


def test_the_page_holds_no_code_or_style_within_its_markup_and_asks_for_nothing_elsewhere() -> None:
    """Its policy would stop it; nothing of other people's is in it either."""
    html = (PAGE / "index.html").read_text(encoding="utf-8")
    assert re.findall(r"<style|\son\w+=|style=|<script(?![^>]*src=)", html) == []
    for file in PAGE.rglob("*"):
        text = file.read_text(encoding="utf-8") if file.is_file() else ""
        assert re.findall(r"https?://(?!www\.w3\.org/2000/svg)", text) == [], file
        assert not re.search(r"innerHTML|outerHTML|insertAdjacentHTML|document\.write|eval\(|localStorage", text), file


def test_the_page_is_light() -> None:
    """All of it together is smaller than one photograph, even before anything is packed."""
    assert sum(file.stat().st_size for file in PAGE.rglob("*") if file.is_file()) < 120_000


def test_no_part_is_long() -> None:
    """As elsewhere in the project."""
    for file in PAGE.rglob("*.*"):
        assert len(file.read_text(encoding="utf-8").splitlines()) <= 450, file

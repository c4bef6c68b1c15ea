"""Filed sheets: `{made, rulings, basis, digests}`, ruled again with nothing else at hand."""

from __future__ import annotations

import copy
import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import rfc8785
from hypothesis import given
from hypothesis import strategies as st

import yokebook
from shipped_book import rulebook
from yokebook import front_door
from yokebook.canonical import canonical, decode, encode
from yokebook.model import Book
from yokebook.rulebook import Rulebook

PROJECT: dict[str, Any] = {
    "project": {
        "place": "demo/tamarisk/brindle-falls",
        "dates": {"permit application": "2024-10-15"},
        "stated_by": "the owner",
        "work_kind": "new",
    },
    "complete": True,
    "spaces": [
        {
            "id": "office",
            "use": "private office",
            "occupancy": "office",
            "yokes": [
                {
                    "id": "R1",
                    "configuration": "5-20R",
                    "mounting": "upright",
                    "contacts": [
                        {"id": "upper", "position": "upper", "supply": "controlled", "controls": ["S"], "mark": "none"},
                        {"id": "lower", "position": "lower", "supply": "always on", "mark": "none"},
                    ],
                }
            ],
        }
    ],
    "controls": [{"id": "S", "kind": "wall-box sensor", "turns_off_by": "presence", "off_delay_min": "20 min"}],
}


@pytest.fixture(scope="module")
def book() -> Rulebook:
    return rulebook()


def filed(book: Rulebook, project: dict[str, Any] = PROJECT) -> dict[str, Any]:
    """The project's filed sheet, as read back from JSON text."""
    graph = front_door.project_to_graph(project, book.book)
    assert graph.place is not None
    code = book.in_force(graph.place, dates=graph.dates)
    sheet = code.rule_project(graph).filed({"when": "2024-10-16", "for": "the file"})
    read: dict[str, Any] = json.loads(json.dumps(sheet))
    return read


class TestRuledAgain:
    """design: `basis` embeds all that the question reaches, so it can be ruled again with nothing else at hand."""

    def test_equal_in_every_part(self, book: Rulebook) -> None:
        sheet = filed(book)
        again = [json.loads(json.dumps(ruling.to_dict())) for ruling in yokebook.rule_again(sheet)]
        assert len(again) > 20
        assert again == sheet["rulings"]

    def test_the_basis_holds_no_more_than_is_reached(self, book: Rulebook) -> None:
        graph = front_door.project_to_graph(PROJECT, book.book)
        code = book.in_force(graph.place or "", dates=graph.dates)
        basis = code.rule_project(graph, ["control.acts"]).filed()["basis"]
        assert set(decode(basis["questions"])) == {"control.acts"}
        assert all(set(decode(c["resolved"]).tables) <= {"control.acts"} for c in basis["in_force"][0]["candidates"])

    def test_who_stated_and_when_are_in_no_digest(self, book: Rulebook) -> None:
        other = copy.deepcopy(PROJECT)
        other["project"]["stated_by"] = "somebody else"
        one, two = filed(book), filed(book, other)
        assert one["made"]["stated_by"] != two["made"]["stated_by"]
        assert one["digests"] == two["digests"]

    @pytest.mark.parametrize("part", ["record", "law", "rulings"])
    def test_a_changed_sheet_is_refused(self, book: Rulebook, part: str) -> None:
        sheet = filed(book)
        if part == "record":
            sheet["basis"]["record"]["things"][0]["given"]["project.work_kind"] = "existing"
        elif part == "law":
            table = next(iter(sheet["basis"]["in_force"][0]["candidates"][0]["resolved"]["tables"]["pairs"]))
            table[1]["rules"][0]["then"] = "nothing"
        else:
            sheet["rulings"][0]["word"] = "nothing"
        with pytest.raises(ValueError, match=f"the filed sheet was changed: its {part} digest is"):
            yokebook.rule_again(sheet)

    def test_other_data_is_no_sheet(self) -> None:
        with pytest.raises(ValueError) as fault:
            yokebook.rule_again({"made": {}})
        assert str(fault.value) == "this is no filed sheet: `format` is `None`, not `yokebook sheet 1`"


class TestDigests:
    """Law = the normative fields of the basis; an editorial change never moves it, a normative one always does."""

    def test_editorial_change_leaves_the_law_digest(self, book: Rulebook) -> None:
        changed = _with_rule(book.book, says="Other words.")
        assert filed(Rulebook(changed))["digests"]["law"] == filed(book)["digests"]["law"]

    def test_normative_change_moves_the_law_digest(self, book: Rulebook) -> None:
        changed = _with_rule(book.book, then="satisfied")
        assert filed(Rulebook(changed))["digests"]["law"] != filed(book)["digests"]["law"]

    @given(
        st.recursive(
            st.none() | st.booleans() | st.text() | st.integers(-(2**53) + 1, 2**53 - 1),
            lambda inner: st.lists(inner) | st.dictionaries(st.text("abcdefxyzäö"), inner),
            max_leaves=20,
        )
    )
    def test_canonical_json_is_that_of_rfc_8785(self, data: Any) -> None:
        """Against the reference library rfc8785 of the package registry."""
        assert canonical(data).encode() == rfc8785.dumps(data)

    def test_encoding_and_back(self, book: Rulebook) -> None:
        for part in (book.book.questions, book.book.facts, book.book.calculations, book.book.readings):
            data = encode(part)
            assert encode(decode(json.loads(json.dumps(data)))) == data


def _with_rule(book: Book, **changes: str) -> Book:
    """The book with one rule of yoke.disconnect changed in 2014, which later editions carry and no layer pins."""
    key = ("nfpa-70", "2014")
    edition = book.editions[key]
    tables = []
    for table in edition.tables:
        rules = table.rules
        if table.question == "yoke.disconnect":
            rules = (replace(rules[0], **changes), *rules[1:])  # type: ignore[arg-type]
        tables.append(replace(table, rules=rules))
    return replace(book, editions={**book.editions, key: replace(edition, tables=tuple(tables))})


def test_sheet_text_names_no_file_of_this_machine() -> None:
    sheet = filed(rulebook())
    assert str(Path(__file__).parents[2]) not in json.dumps(sheet)

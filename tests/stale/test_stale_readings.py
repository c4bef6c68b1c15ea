"""Design: a reading that moved marks the ops that choose it; what it does to outcomes is worked out exactly where the
old choice can be put back, and searched for where other alternatives are published now."""

from __future__ import annotations

from pathlib import Path

import pytest

from stale.small_city import FILES, edit, flat, made, marked, stale, told
from yokebook.editions import resolve_edition
from yokebook.layers import apply_layer
from yokebook.load.book import load_book
from yokebook.rulebook import Rulebook

#: The city's own layer on top of another, which chooses the reading before it.
BENEATH = (
    "  L:\n    amendments:\n",
    """  B:
    amendments:
      - id: BF-0
        says: What an earlier ordinance chose.
        cite: {document: an ordinance, section: "0"}
        checked: {memory: a test}
        ops: [{choose_reading: sensor, was: open, alternative: no switch}]
  L:
    amendments:
""",
)


@pytest.fixture
def root(tmp_path: Path) -> Path:
    return made(tmp_path / "rulebook")


def stacked(tmp_path: Path) -> Path:
    """The city with its layer over another, pinned."""
    alone = FILES["places/city.yaml"]
    over = alone.replace("layers: [L]", "layers: [B, L]").replace(*BENEATH)
    over = over.replace("was: open\n            alt", "was: no switch\n            alt")
    return made(tmp_path / "stacked", {"places/city.yaml": (alone, over)})


def rulings(root: Path, record: dict[str, object], *, layered: bool) -> str:
    rulebook = Rulebook(load_book(root))
    code = rulebook.in_force("city", drafts=True) if layered else rulebook.edition("nfpa-70", "2014")
    return code.rule("sensor.counts", record).status


class TestPublished:
    CHANGES = (
        "Below the layer outcomes change: `sensor.counts` was out and is in or out for a record in which contact.use "
        "is desk. With the amendment in place no outcome changes"
    )

    @pytest.mark.parametrize(
        ("old", "new", "moved"),
        [
            (
                "standing: argued",
                "standing: published",
                'alternatives was "a switch (argued), no switch (published)" and is "a switch (published), no switch '
                '(published)"',
            ),
            ("plain: no switch", "plain: a switch", 'plain was "no switch" and is "a switch"'),
        ],
    )
    def test_one_more_is_published(self, tmp_path: Path, root: Path, old: str, new: str, moved: str) -> None:
        """At a desk a switch counts; that is one of the words now. The city has chosen the other one."""
        edit(root, "readings/r.yaml", old, new)
        (one,) = stale(root)
        assert marked([one]) == ["choose_reading sensor"]
        assert told(one).endswith(f"now. Moved: {moved}. {self.CHANGES}")
        assert flat(one) == {"contact.use": "desk"}
        untouched = made(tmp_path / "untouched")
        assert rulings(untouched, flat(one), layered=False) == "settled"
        assert rulings(root, flat(one), layered=False) == "readings differ"
        assert rulings(root, flat(one), layered=True) == "settled"

    def test_one_more_that_is_only_argued(self, root: Path) -> None:
        argued = "      perhaps: {says: maybe, standing: argued, holders: some, source: a test}\n      a switch:"
        edit(root, "readings/r.yaml", "      a switch:", argued)
        (one,) = stale(root)
        assert told(one).endswith(
            'Moved: alternatives was "a switch (argued), no switch (published)" and is "a switch (argued), no switch '
            '(published), perhaps (argued)". Below the layer no outcome changes. With the amendment in place no '
            "outcome changes"
        )

    def test_its_words(self, root: Path) -> None:
        edit(root, "readings/r.yaml", "says: it is,", "says: it surely is,")
        (one,) = stale(root)
        assert (one.kind, one.severity) == ("editorial change below", "note")
        assert told(one) == (
            "The base of `choose_reading` of `sensor` (BF-1) is only worded, cited or marked otherwise, and the pin "
            'holds: a switch says was "it is" and is "it surely is". No outcome changes'
        )


class TestChosenBelow:
    def test_another_choice_below(self, tmp_path: Path) -> None:
        """Both are for every record, so the tables are compared exactly: at a desk, and only there, it matters."""
        root = stacked(tmp_path)
        assert stale(root) == []
        edit(root, "places/city.yaml", "was: open, alternative: no switch", "was: open, alternative: a switch")
        (one,) = stale(root)
        assert told(one).startswith("`choose_reading` of `sensor` (BF-1) has the pin ")
        assert told(one).endswith(
            'Moved: chosen below was "no switch" and is "a switch". Below the layer outcomes change: `sensor.counts` '
            "was out and is in where contact.use is desk. With the amendment in place no outcome changes"
        )
        assert [dict(each) for each in one.region] == [{"input": "contact.use", "is": "desk"}]
        assert flat(one) == {"contact.use": "desk"}
        assert one.record is not None and (one.record["was"], one.record["outcome"]) == ("out", "in")
        self.holds_of_the_layer_below(root)

    def holds_of_the_layer_below(self, root: Path) -> None:
        """The evaluator says so of the layer below by itself."""
        book = load_book(root)
        edition, layer = resolve_edition(book, "nfpa-70", "2014"), book.places["city"].layers["B"]
        below = apply_layer(book, edition, layer, drafts=True)
        assert [(name, alternative) for name, alternative, _, _ in below.chosen] == [("sensor", "a switch")]

    def test_a_choice_for_some_records_only(self, tmp_path: Path) -> None:
        root = stacked(tmp_path)
        edit(
            root,
            "places/city.yaml",
            "was: open, alternative: no switch",
            "was: open, alternative: a switch, where: {contact.supply: controlled}",
        )
        (one,) = stale(root)
        assert 'Moved: chosen below was "no switch" and is "a switch where contact.supply is controlled". ' in told(one)
        assert told(one).endswith("With the amendment in place no outcome changes")
        # at a desk, with the supply controlled, the switch counts now
        assert flat(one) == {"contact.use": "desk", "contact.supply": "controlled"}

"""Design: editing a base rule, number, calculation or lower table marks exactly the ops pinned to it, shows both texts,
says which part moved, and whether any record gets another outcome: below the layer and with the amendment in place."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from stale.small_city import FILES, MARKING, edit, flat, made, marked, outcome, stale, told
from yokebook.editions import resolve_edition
from yokebook.load.book import load_book
from yokebook.load.faults import RulebookFaults
from yokebook.pins import pin_of
from yokebook.proof.findings import Finding
from yokebook_adapters.pinfile import pin_report
from yokebook_adapters.stale import stale_report


@pytest.fixture
def root(tmp_path: Path) -> Path:
    return made(tmp_path / "rulebook")


def pins(root: Path, target: str) -> tuple[str, str]:
    """The pin in the file and the one due."""
    (row,) = [row for row in pin_report(load_book(root), "city").rows if row.target == target]
    assert row.found is not None
    return row.found, row.due


def start(root: Path, op: str, target: str) -> str:
    found, due = pins(root, target)
    return f"`{op}` of `{target}` (BF-1) has the pin `{found}`, and the text below layer `L` has `{due}` now. "


def of(found: list[Finding], target: str) -> Finding:
    (one,) = [each for each in found if f"of `{target}`" in each.says]
    return one


def before_and_after(tmp_path: Path, root: Path, finding: Finding, *, layered: bool) -> tuple[str, str]:
    """What the untouched rulebook and the edited one say of a finding's record."""
    untouched = made(tmp_path / "untouched")
    record = flat(finding)
    first, second = (outcome(each, finding.question, record, layered=layered) for each in (untouched, root))
    return first, second


class TestNothing:
    def test_as_pinned(self, root: Path) -> None:
        assert stale(root) == []

    def test_an_unrelated_rule(self, root: Path) -> None:
        """No op is pinned to `sign.needed#shelf`; one is to another rule of its table."""
        edit(root, "electrical/2014/sign.needed.yaml", "use: shelf, contact.supply: controlled", "use: shelf")
        assert stale(root) == []

    def test_a_comment_and_an_order(self, root: Path) -> None:
        old = "{contact.supply: controlled, contact.use: desk}"
        edit(root, MARKING, old, "{contact.use: desk, contact.supply: controlled} # the other way round")
        assert stale(root) == []


class TestRule:
    def test_outcomes_change_below_and_none_with_the_amendment(self, tmp_path: Path, root: Path) -> None:
        """The city replaces the whole rule, so what it said never mattered in the city."""
        edit(root, MARKING, "where: {contact.supply: controlled}", "where: {contact.supply: [controlled, always on]}")
        found = stale(root)
        assert marked(found) == ["replace marking.required#automatic", "narrow sign.needed#marked"]
        one = found[0]
        assert told(one) == start(root, "replace", "marking.required#automatic") + (
            'Moved: where was "contact.supply is controlled" and is "contact.supply is always on or controlled". Below '
            "the layer outcomes change: `marking.required` was not required and is required where contact.delay_min is "
            "at least 0 min and at most 20 min and contact.supply is always on. With the amendment in place no outcome "
            "changes"
        )
        file = root / "places" / "city.yaml"
        assert one.repairs == (
            "read the new text; every record keeps its outcome with the amendment in place, so then run "
            f"`yokebook pin {file}`",
        )
        assert (one.severity, one.question, one.laws, one.reachable) == (
            "error",
            "marking.required",
            ("city E",),
            "shown",
        )
        assert one.at is not None and (one.at.file, one.at.line) == (str(file), 17)
        assert [each.id for each in one.blamed] == ["BF-1", "marking.required#automatic"]
        assert before_and_after(tmp_path, root, one, layered=False) == ("not required", "required")

    def test_none_below_and_some_with_the_amendment(self, tmp_path: Path, root: Path) -> None:
        """Below, whatever is controlled is marked by the other rule too; the city has narrowed that one to desks."""
        edit(root, MARKING, "contact.use: desk", "contact.use: shelf")
        found = stale(root)
        assert marked(found) == ["narrow marking.required#also", "narrow sign.needed#marked"]
        assert told(found[0]) == start(root, "narrow", "marking.required#also") + (
            'Moved: where was "contact.supply is controlled and contact.use is desk" and is "contact.supply is '
            'controlled and contact.use is shelf". Below the layer no outcome changes. With the amendment in place '
            "outcomes change: `marking.required` was not required and is required where contact.delay_min is at least "
            "0 min and at most 15 min and contact.supply is controlled and contact.use is shelf and contact.amps is "
            "over 5 A"
        )
        assert {each["input"]: each["is"] for each in found[0].region} == {
            "contact.delay_min": "at least 0 min and at most 15 min",
            "contact.supply": "controlled",
            "contact.use": "shelf",
            "contact.amps": "over 5 A",
        }
        assert before_and_after(tmp_path, root, found[0], layered=True) == ("not required", "required")
        assert found[0].repairs == (
            f"read the new text; if the outcomes that change are meant, run `yokebook pin {root}/places/city.yaml`; if "
            "not, mend the amendment first",
        )

    def test_no_outcome_changes_at_all(self, root: Path) -> None:
        """What waits over 20 min is not marked whatever feeds it, and the edit says so of either feed."""
        edit(
            root,
            MARKING,
            "where: {contact.delay_min: {more_than: value.delay}}",
            "where: {contact.delay_min: {more_than: value.delay}, contact.supply: [controlled, always on]}",
        )
        one = stale(root)[0]
        assert told(one) == start(root, "narrow", "marking.required#slow") + (
            'Moved: where was "contact.delay_min is more than 20 min" and is "contact.delay_min is more than 20 min '
            'and contact.supply is always on or controlled". Below the layer no outcome changes. With the amendment in '
            "place no outcome changes"
        )
        assert (one.severity, one.region, one.record) == ("error", (), None)

    def test_the_outcome_of_a_rule(self, root: Path) -> None:
        edit(root, MARKING, "    then: not required\n", "    then: required\n")
        one = of(stale(root), "marking.required#slow")
        assert 'Moved: then was "not required" and is "required". Below the layer outcomes change: ' in told(one)
        assert one.record is not None and (one.record["was"], one.record["outcome"]) == ("not required", "required")


class TestWording:
    def test_an_editorial_change_is_a_note_and_the_pin_holds(self, root: Path) -> None:
        edit(
            root,
            MARKING,
            'says: what is controlled is marked\n    cite: {document: nfpa-70, section: "3"}\n    checked: {memory: ',
            'says: mark it\n    cite: {document: nfpa-70, section: "3(a)"}\n    checked: {seen: ',
        )
        (one,) = stale(root)
        assert (one.kind, one.severity) == ("editorial change below", "note")
        assert told(one) == (
            "The base of `replace` of `marking.required#automatic` (BF-1) is only worded, cited or marked otherwise, "
            'and the pin holds: says was "what is controlled is marked" and is "mark it"; section was "3" and is '
            '"3(a)"; checked was "memory" and is "seen". No outcome changes'
        )
        assert one.repairs == (f"run `yokebook pin {root}/places/city.yaml` to keep the new words in the record",)

    def test_it_is_told_beside_what_moved(self, root: Path) -> None:
        edit(root, MARKING, "says: what is controlled is marked", "says: mark it")
        edit(root, MARKING, "where: {contact.supply: controlled}", "where: {contact.supply: always on}")
        one = of(stale(root), "marking.required#automatic")
        assert one.kind == "stale pin"
        assert (
            'Moved: where was "contact.supply is controlled" and is "contact.supply is always on"; says was "what is '
            'controlled is marked" and is "mark it". ' in told(one)
        )


class TestNumber:
    def test_everything_pinned_to_it_and_nothing_else(self, tmp_path: Path, root: Path) -> None:
        """The city sets the number itself, so with the amendment in place it is 15 min before and after."""
        edit(root, "electrical/2014/edition.yaml", "value: 20 min", "value: 10 min")
        found = stale(root)
        assert marked(found) == ["narrow marking.required#slow", "set_value delay", "narrow sign.needed#marked"]
        changes = (
            "Below the layer outcomes change: `marking.required` was required and is not required where "
            "contact.delay_min is over 10 min and at most 20 min and contact.supply is controlled. With the amendment "
            "in place no outcome changes"
        )
        assert told(found[0]) == start(root, "narrow", "marking.required#slow") + (
            'Moved: where was "contact.delay_min is more than 20 min" and is "contact.delay_min is more than 10 min"; '
            f'value.delay was "20 min" and is "10 min". {changes}'
        )
        assert told(found[1]) == start(root, "set_value", "delay") + (
            f'Moved: value was "20 min" and is "10 min". {changes}'
        )
        assert before_and_after(tmp_path, root, found[1], layered=False) == ("required", "not required")

    def test_which_way_is_stricter(self, root: Path) -> None:
        edit(root, "electrical/2014/edition.yaml", "stricter: lower", "stricter: higher")
        (one,) = stale(root)
        assert told(one) == start(root, "set_value", "delay") + (
            'Moved: stricter was "lower" and is "higher". Below the layer no outcome changes. With the amendment in '
            "place no outcome changes"
        )


    def test_one_table_changes_and_of_another_nothing_is_shown(self, tmp_path: Path) -> None:
        """The number stands in a figure too, where it makes no difference: over 10 A is heavy whatever waits."""
        heavy = "where: [{contact.amps: {more_than: 10 A}}, {contact.amps: {more_than: 10 A}, contact.delay_min: LONG}]"
        root = made(
            tmp_path / "both",
            {
                "calculations/c.yaml": (
                    "where: {contact.amps: {more_than: 10 A}}",
                    heavy.replace("LONG", "{more_than: value.delay}"),
                )
            },
        )
        edit(root, "electrical/2014/edition.yaml", "value: 20 min", "value: 10 min")
        found = stale(root)
        assert "Below the layer outcomes change: `marking.required` was required and is" in told(of(found, "delay"))
        assert "Below the layer it is not shown to change any outcome: " in told(of(found, "load.kept#heavy"))


class TestCalculation:
    def test_a_record_shows_it(self, tmp_path: Path, root: Path) -> None:
        edit(root, "calculations/c.yaml", "more_than: 10 A", "more_than: 8 A")
        (one,) = stale(root)
        assert marked([one]) == ["narrow load.kept#heavy"]
        assert told(one).startswith(
            start(root, "narrow", "load.kept#heavy") + 'Moved: contact.heavy was "yes where contact.amps is more than '
            '10" and is "yes where contact.amps is more than 8". Below the layer outcomes change: `load.kept` was '
            "loose and is kept for a record in which contact.amps is "
        )
        amps = float(str(flat(one)["contact.amps"]).removesuffix(" A"))
        assert 8 < amps <= 10
        assert flat(one)["contact.supply"] == "controlled"  # the city's rule asks for it
        assert before_and_after(tmp_path, root, one, layered=True) == ("loose", "kept")
        assert one.record is not None and one.region == ()

    def test_one_that_is_the_same_told_otherwise_is_not_called_fine(self, root: Path) -> None:
        edit(root, "calculations/c.yaml", "{contact.amps: {more_than: 10 A}}", REWORDED)
        (one,) = stale(root)
        doubt = (
            "it is not shown to change any outcome: `contact.heavy` moved, and no record was found of which "
            "`load.kept` is another"
        )
        assert told(one).endswith(f"Below the layer {doubt}. With the amendment in place {doubt}")
        assert one.repairs == (
            "read the text below and mend the amendment if it no longer says what is meant; then run "
            f"`yokebook pin {root}/places/city.yaml`",
        )
        assert (one.severity, one.record) == ("error", None)


class TestLowerTable:
    def test_one_of_which_nothing_is_shown_is_not_called_fine_above_it(self, tmp_path: Path) -> None:
        root = made(
            tmp_path / "upper",
            {"electrical/2014/sign.needed.yaml": ("required, contact.use: desk", "required, answer.load.kept: kept")},
        )
        edit(root, "calculations/c.yaml", "{contact.amps: {more_than: 10 A}}", REWORDED)
        found = stale(root)
        assert marked(found) == ["narrow load.kept#heavy", "narrow sign.needed#marked"]
        assert (
            "Below the layer it is not shown to change any outcome: `answer.load.kept` moved, and no record was found "
            "of which `sign.needed` is another. " in told(found[1])
        )

    def test_the_rule_that_moved_and_a_record(self, tmp_path: Path, root: Path) -> None:
        edit(root, MARKING, "where: {contact.supply: controlled}", "where: {contact.supply: [controlled, always on]}")
        one = of(stale(root), "sign.needed#marked")
        assert told(one).startswith(
            start(root, "narrow", "sign.needed#marked") + 'Moved: marking.required#automatic was "where contact.supply '
            'is controlled: required" and is "where contact.supply is always on or controlled: required". Below the '
            "layer outcomes change: `sign.needed` was none and is sign for a record in which "
        )
        assert told(one).endswith("With the amendment in place no outcome changes")
        assert flat(one)["contact.supply"] == "always on" and flat(one)["contact.use"] == "desk"
        assert before_and_after(tmp_path, root, one, layered=False) == ("none", "sign")

    def test_one_whose_own_outcomes_stay(self, root: Path) -> None:
        """The other rule marks all that is controlled, so the lower table gives the same word of every record."""
        edit(root, MARKING, "contact.use: desk", "contact.use: shelf")
        one = of(stale(root), "sign.needed#marked")
        assert "Below the layer no outcome changes. " in told(one)

    def test_a_rule_that_is_new_there(self, root: Path) -> None:
        edit(root, MARKING, "  - id: slow\n", NEW_RULE + "  - id: slow\n")
        one = of(stale(root), "sign.needed#marked")
        moved = 'Moved: marking.required#new was not part of it and is "where contact.use is desk: required". '
        assert moved in told(one)


#: What is over 12 A is over 10 A: the same, told otherwise.
REWORDED = "[{contact.amps: {more_than: 10 A}}, {contact.amps: {more_than: 12 A}}]"

NEW_RULE = """\
  - id: new
    where: {contact.use: desk}
    then: required
    says: at a desk it is marked
    cite: {document: nfpa-70, section: "9"}
    checked: {memory: a test}
"""


class TestRecord:
    def test_one_from_before_old_texts_were_kept_whole(self, root: Path) -> None:
        file = root / "places" / "city.yaml.pins.json"
        data = json.loads(file.read_text(encoding="utf-8"))
        for pin in data["pins"]:
            del pin["numbers"], pin["editorial"]
            for part in pin["parts"].values():
                del part["is"]
        file.write_text(json.dumps(data), encoding="utf-8")
        assert stale(root) == []
        edit(root, MARKING, "says: what is controlled is marked", "says: mark it")
        assert stale(root) == []  # the words are not in such a record
        edit(root, MARKING, "where: {contact.supply: controlled}", "where: {contact.supply: always on}")
        one = of(stale(root), "marking.required#automatic")
        assert told(one) == start(root, "replace", "marking.required#automatic") + (
            'Moved: where was "contact.supply is controlled" and is "contact.supply is always on". It is not shown to '
            "change any outcome: the record is from before old texts were kept whole"
        )

    def test_none_of_that_pin(self, root: Path) -> None:
        (root / "places" / "city.yaml.pins.json").unlink()
        edit(root, MARKING, "where: {contact.supply: controlled}", "where: {contact.supply: always on}")
        one = of(stale(root), "marking.required#automatic")
        assert told(one) == start(root, "replace", "marking.required#automatic") + (
            "What moved is not known: no record of the text with this pin is kept beside the file"
        )

    def test_one_that_somebody_changed(self, root: Path) -> None:
        file = root / "places" / "city.yaml.pins.json"
        text = file.read_text(encoding="utf-8")
        assert '"is": "required"' in text
        file.write_text(text.replace('"is": "required"', '"is": "not required"'), encoding="utf-8")
        with pytest.raises(RulebookFaults) as raised:
            stale(root)
        assert str(raised.value) == (
            f"{file}:1:1: not a record of pins as `yokebook pin` writes it; delete it, and the next `yokebook pin` "
            "writes it anew"
        )

    def test_a_draft_elsewhere_has_its_record_beside_it(self, tmp_path: Path, root: Path) -> None:
        draft = tmp_path / "draft.yaml"
        for end in ("", ".pins.json"):
            (root / "places" / f"city.yaml{end}").rename(tmp_path / f"draft.yaml{end}")
        edit(root, MARKING, "where: {contact.supply: controlled}", "where: {contact.supply: always on}")
        book = load_book(root, drafts=[draft])
        found = stale_report(book, "city")
        assert marked(found) == ["replace marking.required#automatic", "narrow sign.needed#marked"]
        assert 'where was "contact.supply is controlled"' in told(found[0])
        assert found == stale_report(book, "city", draft)
        assert found[0].repairs == (  # the city replaces the whole rule
            "read the new text; every record keeps its outcome with the amendment in place, so then move the draft, "
            f"and `{draft}.pins.json` with it, to `places/city.yaml` in the rulebook and run `yokebook pin` on it",
        )

    def test_an_unknown_place(self, root: Path) -> None:
        with pytest.raises(RulebookFaults) as raised:
            stale_report(load_book(root), "citty")
        assert str(raised.value) == "place: no place `citty` in this rulebook (did you mean `city`?)"


class TestTwoEntries:
    def test_one_finding_for_both_laws(self, tmp_path: Path) -> None:
        second = (
            '    - {id: F, event: permit, on_or_after: 2020-01-01, adopts: {document: nfpa-70, edition: "2014", '
            "layers: [L]}, amendments: all entered, says: s, source: test}\nlayers:\n"
        )
        root = made(tmp_path / "rulebook", {"places/city.yaml": ("layers:\n", second)})
        edit(root, "electrical/2014/edition.yaml", "stricter: lower", "stricter: higher")
        (one,) = stale(root)
        assert one.laws == ("city E", "city F")


def test_the_pins_of_this_rulebook_are_over_what_the_design_says(root: Path) -> None:
    """A guard of the tests above: the pin of the number is over its value and its direction."""
    book = load_book(root)
    pinned = pin_of(resolve_edition(book, "nfpa-70", "2014"), book, "delay")
    assert dict(pinned.canonical) == {"value": "20 min", "stricter": "lower"}
    assert FILES["electrical/2014/edition.yaml"].count("value: 20 min") == 1

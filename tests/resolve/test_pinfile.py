"""Design: nobody types a pin. `yokebook pin FILE` writes it, keeps comments and layout, and keeps what it hashed beside
the file, so that a stale pin can show the old text next to the new."""

import json
import re
from pathlib import Path

import pytest

from yokebook.adoption import in_force_documents
from yokebook.load.book import load_book
from yokebook.load.faults import RulebookFaults
from yokebook_adapters.pinfile import PinReport, pin_file, pin_report, record_path

FILES = {
    "cautions.yaml": "cautions: [Ask the office.]\n",
    "questions/q.yaml": """
questions:
  marking.required:
    ruling: R03
    asks: Must it be marked?
    per: contact
    outcomes: {not required: no mark, required: a mark}
    against: []
""",
    "facts/contact.yaml": """
entity: contact
facts:
  supply:
    type: choice
    values: {always on: always on, controlled: controlled}
    says: What feeds it.
    asks: What feeds it?
    look: The plan.
  delay_min:
    type: number
    unit: min
    says: The delay.
    asks: What is the delay?
    look: The device.
""",
    "readings/r.yaml": """
readings:
  sensor:
    cite: {document: nfpa-70, section: "1"}
    editions: []
    asks: Is a sensor a wall switch?
    plain: no switch
    plain_because: it goes off by itself
    alternatives:
      no switch: {says: it is not, standing: published, holders: a body, source: a bulletin}
      a switch: {says: it is, standing: argued, holders: some, source: "common practice, no published source found"}
""",
    "documents/d.yaml": """
documents:
  nfpa-70: {kind: electrical, title: A code, publisher: A body, editions: ["2014"], folder: electrical}
""",
    "electrical/2014/edition.yaml": """
document: nfpa-70
edition: "2014"
published: "2013"
how_checked: a test
values:
  delay:
    {value: 20 min, stricter: lower, says: delay, cite: {document: nfpa-70, section: "2"}, checked: {memory: a test}}
""",
    "electrical/2014/marking.required.yaml": """
answers: marking.required
none_fires: {then: not required, says: nothing asks for it, checked: {memory: a test}}
rules:
  - id: automatic
    where: {contact.supply: controlled}
    then: required
    says: marked
    cite: {document: nfpa-70, section: "3"}
    checked: {memory: a test}
  - id: slow
    exception_to: all
    where: {contact.delay_min: {more_than: value.delay}}
    then: not required
    says: not marked
    cite: {document: nfpa-70, section: "4"}
    checked: {memory: a test}
""",
}
CITY = """\
# the city's own file
place: city
name: City
office: the counter
demo: yes
lines:
  electrical:
    - {id: E, adopts: {document: nfpa-70, edition: "2014", layers: [L]}, amendments: all entered, says: s, source: test}
layers:
  L:
    amendments:
      - id: BF-1
        says: Everything controlled is marked.
        cite: {document: an ordinance, section: "1"}
        checked: {memory: a test}
        ops:
          - replace: marking.required#automatic   # what the council meant
            where: {contact.supply: [controlled, always on]}
            then: required
          - {narrow: marking.required#slow, where: {contact.supply: controlled}}   # kept on one line
          - {set_value: delay, value: 15 min}
          - choose_reading: sensor
            was: open

            alternative: no switch
          - add: marking.required#new
            where: {contact.supply: always on}
            then: not required
            says: new
"""
PIN = re.compile(r'(, )?\bpin: "[0-9a-f]{8}"')


@pytest.fixture
def root(tmp_path: Path) -> Path:
    folder = tmp_path / "rulebook"
    for name, text in {**FILES, "places/city.yaml": CITY}.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(text, encoding="utf-8")
    return folder


def city(root: Path) -> Path:
    return root / "places" / "city.yaml"


def edit(root: Path, name: str, old: str, new: str) -> None:
    text = (root / name).read_text(encoding="utf-8")
    assert old in text
    (root / name).write_text(text.replace(old, new), encoding="utf-8")


def states(report: PinReport) -> list[tuple[str, str]]:
    return [(row.target.removeprefix("marking.required#"), row.state) for row in report.rows]


def pins(root: Path) -> list[str]:
    return re.findall(r'pin: "([0-9a-f]{8})"', city(root).read_text(encoding="utf-8"))


class TestWriting:
    def test_only_pins_are_new_and_each_stands_at_its_op(self, root: Path) -> None:
        report = pin_file(city(root))
        assert states(report) == [
            ("automatic", "missing"),
            ("slow", "missing"),
            ("delay", "missing"),
            ("sensor", "missing"),
        ]
        due = [row.due for row in report.rows]
        assert report.written
        expected = CITY.replace(
            "# what the council meant\n", f'# what the council meant\n            pin: "{due[0]}"\n'
        )
        expected = expected.replace(
            "narrow: marking.required#slow,", f'narrow: marking.required#slow, pin: "{due[1]}",'
        )
        expected = expected.replace("set_value: delay,", f'set_value: delay, pin: "{due[2]}",')
        expected = expected.replace(
            "choose_reading: sensor\n", f'choose_reading: sensor\n            pin: "{due[3]}"\n'
        )
        assert city(root).read_text(encoding="utf-8") == expected

    def test_afterwards_the_place_is_in_force(self, root: Path) -> None:
        with pytest.raises(RulebookFaults):
            in_force_documents(load_book(root), "city", {}, None, {})
        pin_file(city(root))
        (found,) = in_force_documents(load_book(root), "city", {}, None, {})["electrical"]
        assert found.resolved is not None and found.resolved.values["delay"].value == 15

    def test_a_second_run_changes_nothing(self, root: Path) -> None:
        pin_file(city(root))
        text, record = city(root).read_bytes(), record_path(city(root)).read_bytes()
        again = pin_file(city(root))
        assert {state for _, state in states(again)} == {"kept"}
        assert not again.written
        assert (city(root).read_bytes(), record_path(city(root)).read_bytes()) == (text, record)

    def test_an_old_pin_is_written_over_where_it_stands(self, root: Path) -> None:
        edit(
            root,
            "places/city.yaml",
            "            then: required\n",
            "            then: required\n            pin: '0123abcd' # old\n",
        )
        edit(
            root,
            "places/city.yaml",
            "narrow: marking.required#slow,",
            'pin: "0123abcd", narrow: marking.required#slow,',
        )
        report = pin_file(city(root))
        text = city(root).read_text(encoding="utf-8")
        assert states(report)[:2] == [("automatic", "stale"), ("slow", "stale")]
        assert f'            then: required\n            pin: "{report.rows[0].due}" # old\n' in text
        assert f'- {{pin: "{report.rows[1].due}", narrow: marking.required#slow,' in text

    @pytest.mark.parametrize("ending", ["\r\n", "\n"])
    def test_line_ends_and_a_missing_last_one_are_kept(self, root: Path, ending: str) -> None:
        text = CITY.partition("          - add:")[0].replace(
            "            was: open\n\n            alternative: no switch\n", ""
        )
        text = text.replace("choose_reading: sensor\n", "delete: marking.required#slow").replace(
            "          - {narrow", "          # {narrow"
        )
        city(root).write_bytes(text.replace("\n", ending).encode())
        report = pin_file(city(root))
        written = city(root).read_bytes().decode()
        assert PIN.sub("", written).count("\r") == text.replace("\n", ending).count("\r") + ending.count("\r")
        assert written.endswith(f'- delete: marking.required#slow\n            pin: "{report.rows[-1].due}"')
        assert {state for _, state in states(pin_file(city(root)))} == {"kept"}

    def test_the_base_in_words(self, root: Path) -> None:
        rows = pin_file(city(root)).rows
        assert [(row.base, row.words) for row in rows] == [
            ("nfpa-70 2014", "where contact.supply is controlled: required"),
            (
                "nfpa-70 2014",
                "where contact.delay_min is more than 20 min: not required; exception to every rule of the table with "
                "another outcome",
            ),
            ("nfpa-70 2014", "value: 20 min; stricter: lower"),
            (
                "nfpa-70 2014",
                "alternatives: a switch (argued), no switch (published); plain: no switch; chosen below: none",
            ),
        ]


class TestRecord:
    def test_it_holds_what_each_pin_was_made_over(self, root: Path) -> None:
        report = pin_file(city(root))
        record = json.loads((root / "places" / "city.yaml.pins.json").read_text(encoding="utf-8"))
        assert record["about"] == "What each pin in city.yaml was made over. `yokebook pin` writes this file."
        assert [(p["layer"], p["amendment"], p["op"], p["target"]) for p in record["pins"]] == [
            ("L", "BF-1", "replace", "marking.required#automatic"),
            ("L", "BF-1", "narrow", "marking.required#slow"),
            ("L", "BF-1", "set_value", "delay"),
            ("L", "BF-1", "choose_reading", "sensor"),
        ]
        assert [p["pin"] for p in record["pins"]] == [row.due for row in report.rows] == pins(root)
        assert {name: part["words"] for name, part in record["pins"][0]["parts"].items()} == {
            "where": "contact.supply is controlled",
            "but not": "never",
            "then": "required",
            "exception to": "none",
            "prevails over": "none",
        }

    def test_a_record_that_cannot_be_read(self, root: Path) -> None:
        record_path(city(root)).write_text('{"pins": 3}', encoding="utf-8")
        with pytest.raises(RulebookFaults) as raised:
            pin_file(city(root))
        assert str(raised.value) == (
            f"{record_path(city(root))}:1:1: not a record of pins as `yokebook pin` writes it; delete it, and the next "
            f"`yokebook pin` writes it anew"
        )


class TestStale:
    def test_the_part_that_moved_old_beside_new(self, root: Path) -> None:
        pin_file(city(root))
        old = pins(root)
        table = "electrical/2014/marking.required.yaml"
        edit(root, table, "{contact.supply: controlled}", "{contact.supply: [controlled, always on]}")
        edit(root, "electrical/2014/edition.yaml", "value: 20 min", "value: 10 min")
        report = pin_report(load_book(root), "city")
        assert states(report) == [("automatic", "stale"), ("slow", "stale"), ("delay", "stale"), ("sensor", "kept")]
        assert [row.found for row in report.rows] == old
        assert [[(m.name, m.was, m.now) for m in row.moved] for row in report.stale()] == [
            [("where", "contact.supply is controlled", "contact.supply is always on or controlled")],
            [("where", "contact.delay_min is more than 20 min", "contact.delay_min is more than 10 min")],
            [("value", "20 min", "10 min")],
        ]
        with pytest.raises(RulebookFaults) as raised:
            in_force_documents(load_book(root), "city", {}, None, {})
        row = report.rows[0]
        assert str(raised.value).splitlines()[0] == (
            f"{city(root)}:18:18: `replace` of `marking.required#automatic` has the pin `{old[0]}`; the text below the "
            f"layer has `{row.due}`, so it is no longer what was amended; `yokebook pin` shows the old text beside the "
            "new"
        )

    def test_pinning_anew_reports_the_same_and_settles_it(self, root: Path) -> None:
        pin_file(city(root))
        edit(root, "electrical/2014/edition.yaml", "value: 20 min", "value: 10 min")
        before = pin_report(load_book(root), "city")
        written = pin_file(city(root))
        assert written.rows == before.rows
        assert {state for _, state in states(pin_file(city(root)))} == {"kept"}

    def test_an_editorial_change_leaves_every_pin(self, root: Path) -> None:
        pin_file(city(root))
        edit(root, "electrical/2014/marking.required.yaml", "says: marked", "says: it is marked, in other words")
        edit(root, "electrical/2014/marking.required.yaml", 'section: "3"', 'section: "3(a)"')
        assert {state for _, state in states(pin_report(load_book(root), "city"))} == {"kept"}

    def test_without_a_record_of_that_pin_nothing_is_said_to_have_moved(self, root: Path) -> None:
        pin_file(city(root))
        edit(root, "places/city.yaml", pins(root)[0], "0123abcd")
        (row,) = pin_report(load_book(root), "city").stale()
        assert (row.found, row.moved) == ("0123abcd", ())


class TestRefusals:
    def test_a_file_that_is_no_place(self, root: Path) -> None:
        file = root / "facts" / "contact.yaml"
        with pytest.raises(RulebookFaults) as raised:
            pin_file(file, root)
        assert str(raised.value) == (
            f"{file}: not the file of a place of the rulebook {root}; only places have layers, and their files are in "
            f"{(root / 'places').resolve()}"
        )

    def test_a_layer_that_no_entry_adopts(self, root: Path) -> None:
        edit(root, "places/city.yaml", ", layers: [L]", "")
        with pytest.raises(RulebookFaults) as raised:
            pin_file(city(root))
        assert str(raised.value) == (
            f"{city(root)}:10:3: layer `L` is adopted by no entry, so there is no text below it to pin"
        )

    def test_a_layer_over_two_texts(self, root: Path) -> None:
        edit(root, "documents/d.yaml", '["2014"]', '["2014", "2017"]')
        (root / "electrical/2017").mkdir()
        (root / "electrical/2017/edition.yaml").write_text(
            'document: nfpa-70\nedition: "2017"\nfollows: "2014"\npublished: "2016"\nhow_checked: a test\n'
            "carried:\n  - {rules: [marking.required#*], checked: {memory: a test}, section: as before}\n"
            "changes:\n  - {set_value: delay, value: 10 min, stricter: lower, says: shorter,"
            ' cite: {document: nfpa-70, section: "2"}, checked: {memory: a test}}\n',
            encoding="utf-8",
        )
        second = (
            CITY.splitlines()[7]
            .replace("id: E,", "id: F, event: permit, on_or_after: 2020-01-01,")
            .replace("2014", "2017")
        )
        edit(root, "places/city.yaml", "source: test}\nlayers", f"source: test}}\n{second}\nlayers")
        with pytest.raises(RulebookFaults) as raised:
            pin_file(city(root))
        found = [fault.message for fault in raised.value.faults]
        assert [re.sub(r"\([0-9a-f]{8} and [0-9a-f]{8}\)", "(…)", each) for each in found] == [
            f"layer `L` is adopted by `E` over nfpa-70 2014 and by `F` over nfpa-70 2017, where `{target}` is not the "
            f"same (…); write a layer for each"
            for target in ("marking.required#slow", "delay")
        ]

    def test_an_op_that_is_no_mapping_of_its_own(self, root: Path) -> None:
        start = CITY.index("          - replace:")
        city(root).write_text(
            CITY[:start].replace("        ops:\n", "        ops: [delete: marking.required#slow]\n"), encoding="utf-8"
        )
        with pytest.raises(RulebookFaults) as raised:
            pin_file(city(root))
        assert str(raised.value) == (
            f"{city(root)}:16:15: the pin of this `delete` cannot be written without changing more; write the op as a "
            f"block, a key a line"
        )
        assert pins(root) == []

    def test_a_rulebook_at_fault(self, root: Path) -> None:
        edit(root, "places/city.yaml", "#automatic  ", "#automatik  ")
        with pytest.raises(RulebookFaults) as raised:
            pin_file(city(root))
        assert "`replace` names `marking.required#automatik`, which nfpa-70 2014 does not have" in str(raised.value)

    def test_an_unknown_place(self, root: Path) -> None:
        with pytest.raises(RulebookFaults) as raised:
            pin_report(load_book(root), "ctiy")
        assert str(raised.value) == "place: no place `ctiy` in this rulebook (did you mean `city`?)"

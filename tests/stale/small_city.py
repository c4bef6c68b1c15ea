"""A small rulebook on disk whose city amends it, pinned; then one thing in it is edited and the pins looked at anew."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path

from yokebook.load.book import load_book
from yokebook.proof.findings import Finding
from yokebook.rulebook import Rulebook
from yokebook_adapters.pinfile import pin_file
from yokebook_adapters.stale import stale_report

FILES = {
    "cautions.yaml": "cautions: [Ask the office.]\n",
    "questions/q.yaml": """
questions:
  marking.required:
    {ruling: R03, asks: Must it be marked?, per: contact, against: [], outcomes: {not required: none, required: a mark}}
  load.kept:
    {ruling: R04, asks: Must it be held?, per: contact, against: [], outcomes: {loose: free, kept: held}}
  sensor.counts:
    {ruling: R05, asks: Does it count?, per: contact, against: [], outcomes: {out: not counted, in: counted}}
  sign.needed:
    {ruling: R06, asks: Is a sign needed?, per: contact, against: [], outcomes: {none: no sign, sign: a sign}}
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
  use: {type: choice, values: {desk: a desk, shelf: a shelf}, says: Where it is., asks: Where is it?, look: The plan.}
  delay_min:
    {type: number, unit: min, domain: {at_least: 0}, says: The delay., asks: What is the delay?, look: The device.}
  amps: {type: number, unit: A, domain: {at_least: 0}, says: The current., asks: What current?, look: The nameplate.}
""",
    "calculations/c.yaml": """
calculations:
  contact.heavy:
    type: yes_no
    says: It carries a lot.
    where: {contact.amps: {more_than: 10 A}}
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
    says: what is controlled is marked
    cite: {document: nfpa-70, section: "3"}
    checked: {memory: a test}
  - id: also
    where: {contact.supply: controlled, contact.use: desk}
    then: required
    says: what is controlled at a desk is marked
    cite: {document: nfpa-70, section: "3"}
    checked: {memory: a test}
  - id: slow
    exception_to: all
    where: {contact.delay_min: {more_than: value.delay}}
    then: not required
    says: what waits long is not marked
    cite: {document: nfpa-70, section: "4"}
    checked: {memory: a test}
""",
    "electrical/2014/load.kept.yaml": """
answers: load.kept
none_fires: {then: loose, says: nothing asks for it, checked: {memory: a test}}
rules:
  - id: heavy
    where: {contact.heavy: yes}
    then: kept
    says: what is heavy is held
    cite: {document: nfpa-70, section: "5"}
    checked: {memory: a test}
""",
    "electrical/2014/sensor.counts.yaml": """
answers: sensor.counts
none_fires: {then: out, says: it does not count, checked: {memory: a test}}
rules:
  - id: desk
    where: {contact.use: desk, reading.sensor: a switch}
    then: in
    says: a switch at a desk counts
    cite: {document: nfpa-70, section: "6"}
    checked: {memory: a test}
""",
    "electrical/2014/sign.needed.yaml": """
answers: sign.needed
none_fires: {then: none, says: no sign, checked: {memory: a test}}
rules:
  - id: marked
    where: {answer.marking.required: required, contact.use: desk}
    then: sign
    says: what is marked at a desk has a sign
    cite: {document: nfpa-70, section: "7"}
    checked: {memory: a test}
  - id: shelf
    where: {contact.use: shelf, contact.supply: controlled}
    then: sign
    says: what is controlled on a shelf has a sign
    cite: {document: nfpa-70, section: "8"}
    checked: {memory: a test}
""",
    "places/city.yaml": """\
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
        says: The city marks less.
        cite: {document: an ordinance, section: "1"}
        checked: {memory: a test}
        ops:
          - replace: marking.required#automatic
            where: {contact.supply: controlled, contact.use: desk}
            then: required
          - narrow: marking.required#also
            where: {contact.amps: {more_than: 5 A}}
          - narrow: marking.required#slow
            where: {contact.supply: controlled}
          - set_value: delay
            value: 15 min
          - narrow: load.kept#heavy
            where: {contact.supply: controlled}
          - choose_reading: sensor
            was: open
            alternative: no switch
          - narrow: sign.needed#marked
            where: {contact.supply: controlled}
""",
}
MARKING = "electrical/2014/marking.required.yaml"


def made(root: Path, edits: Mapping[str, tuple[str, str]] | None = None) -> Path:
    """The rulebook in a folder, edited before it is pinned."""
    for name, text in FILES.items():
        (root / name).parent.mkdir(parents=True, exist_ok=True)
        (root / name).write_text(text, encoding="utf-8")
    for name, (old, new) in (edits or {}).items():
        edit(root, name, old, new)
    pin_file(root / "places" / "city.yaml")
    return root


def edit(root: Path, name: str, old: str, new: str) -> None:
    """One text in one file in another's stead; it must stand there once."""
    text = (root / name).read_text(encoding="utf-8")
    assert text.count(old) == 1, (text.count(old), old)
    (root / name).write_text(text.replace(old, new), encoding="utf-8")


def stale(root: Path) -> list[Finding]:
    """What is found in the city."""
    return stale_report(load_book(root), "city")


def marked(found: list[Finding]) -> list[str]:
    """The ops that were found stale, as `op target`."""
    return [
        f"{name[1]} {name[2]}"
        for each in found
        if each.kind == "stale pin" and (name := re.match(r"`(\w+)` of `([^`]+)`", each.says)) is not None
    ]


def told(finding: Finding) -> str:
    """All that a finding says of what moved in one paragraph: its sentences, and in the place of the parts' names what
    each was and is, in that of the effect in short the whole effect."""
    words = "; ".join(_moved_words(each) for each in finding.moved)
    names = [f"`{each['part']}`" for each in finding.moved]
    listed = " and ".join([", ".join(names[:-1]), names[-1]]) if len(names) > 1 else "".join(names)
    before, _, after = finding.says.partition(listed) if names else (finding.says, "", "")
    assert after or not names, f"{finding.says} names other parts than {listed}"
    if finding.effects:
        after = ". " + ". ".join(each["says"] for each in finding.effects)
    return before + words + after.removeprefix(" moved")


def _moved_words(moved: Mapping[str, str]) -> str:
    was = f'was "{moved["was"]}"' if "was" in moved else "was not part of it"
    now = f'is "{moved["is"]}"' if "is" in moved else "is no longer part of it"
    return f"{moved['part']} {was} and {now}"


def outcome(root: Path, question: str, record: Mapping[str, object], *, layered: bool, reading: str = "") -> str:
    """What the rulebook in a folder says of a record, by the evaluator: below the layer or with it on top."""
    book = load_book(root)
    rulebook = Rulebook(book)
    code = rulebook.in_force("city", drafts=True) if layered else rulebook.edition("nfpa-70", "2014")
    ruling = code.rule(question, dict(record))
    return ruling.outcome or " or ".join(sorted(ruling.possible))


def flat(finding: Finding) -> dict[str, object]:
    """The record of a finding as a flat record."""
    assert finding.record is not None
    return {fact["fact"]: fact["value"] for fact in finding.record["facts"]}

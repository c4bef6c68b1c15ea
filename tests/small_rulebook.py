"""A whole rulebook of a few lines, written to a folder, for tests that break one thing in it."""

from __future__ import annotations

from pathlib import Path

FILES: dict[str, str] = {
    "cautions.yaml": "cautions:\n  - Line voltage can kill.\n",
    "documents/code.yaml": """\
documents:
  code:
    kind: electrical
    title: A code
    publisher: Nobody
    editions: ["2014", "2017"]
    folder: electrical
""",
    "questions/all.yaml": """\
questions:
  marking.required:
    ruling: R03
    asks: Must it be marked?
    per: contact
    outcomes: {not required: no mark, required: a mark}
  control.acts:
    ruling: R01
    asks: Does it act by itself?
    per: control
    outcomes: {manual: by hand, automatic: by itself}
""",
    "facts/contact.yaml": """\
entity: contact
facts:
  supply:
    type: choice
    values: {always on: not switched, controlled: switched}
    says: Whether anything switches it.
    asks: Does anything switch it?
    look: A tester.
""",
    "facts/control.yaml": """\
entity: control
facts:
  kind:
    type: choice
    values: {switch: a switch, sensor: a sensor}
    says: What it is.
    asks: What is it?
    look: The device.
  delay_min:
    type: number
    unit: min
    domain: {at_least: 0, at_most: 240}
    says: How long it waits.
    asks: How long does it wait?
    look: The setting.
    applies_when: {control.kind: sensor}
  floors:
    type: number
    whole: yes
    says: Floors served.
    asks: How many floors?
    look: The plan.
  by_hand:
    type: yes_no
    says: It has a button.
    asks: Has it a button?
    look: The device.
impossible:
  - {where: {control.kind: switch, control.by_hand: no}, because: a switch is worked by hand}
""",
    "calculations/contact.yaml": """\
calculations:
  contact.automatic:
    type: yes_no
    says: Something switches it by itself.
    any: {over: contact.controls, are: {answer.control.acts: automatic}}
  contact.slowest_min:
    type: number
    unit: min
    says: The longest wait.
    largest: {over: contact.controls, of: control.delay_min}
""",
    "readings/sensor.yaml": """\
readings:
  sensor-is-switch:
    cite: {document: code, section: "1"}
    asks: Is a sensor a switch?
    plain: no switch
    plain_because: the text says switch
    alternatives:
      no switch: {says: it is none, standing: published, holders: a body, source: a paper}
      switch: {says: it is one, standing: argued, holders: some, source: "common practice, no published source found"}
""",
    "electrical/2014/edition.yaml": """\
document: code
edition: "2014"
published: long ago
how_checked: read
values:
  longest:
    value: 20 min
    stricter: lower
    says: The longest wait.
    cite: {document: code, section: "2"}
    checked: {seen: the text}
""",
    "electrical/2014/control.acts.yaml": """\
answers: control.acts
none_fires: forbidden
rules:
  - id: sensor
    where: {control.kind: sensor}
    then: automatic
    says: A sensor acts by itself.
    cite: {document: code, section: "1"}
    checked: {seen: the text}
  - id: switch
    where: {control.kind: switch}
    then: manual
    says: A switch does not.
    cite: {document: code, section: "1"}
    checked: {seen: the text}
""",
    "electrical/2014/marking.required.yaml": """\
answers: marking.required
none_fires: {then: not required, says: No rule asks for a mark., checked: {seen: the text}}
rules:
  - id: automatic
    where: {contact.automatic: yes}
    then: required
    says: What is switched by itself is marked.
    cite: {document: code, section: "1"}
    checked: {seen: the text}
  - id: slow
    exception_to: [automatic]
    where: {contact.slowest_min: {more_than: value.longest}}
    then: not required
    says: Slow ones are not.
    cite: {document: code, section: "1"}
    checked: {seen: the text}
""",
    "electrical/2017/edition.yaml": """\
document: code
edition: "2017"
follows: "2014"
how_checked: not read
carried:
  - rules: ["marking.required#*", "control.acts#*", value.longest]
    checked: {assumed: as before}
""",
    "places/town.yaml": """\
place: town
name: Town
office: the counter
demo: yes
lines:
  electrical:
    - id: E1
      event: permit application
      on_or_after: 2015-01-01
      adopts: {document: code, edition: "2014", layers: [town-1]}
      amendments: all entered
      source: invented
    - id: E2
      event: permit application
      on_or_after: 2018-01-01
      adopts: {document: code, edition: "2017"}
      amendments: all entered
      source: invented
layers:
  town-1:
    amendments:
      - id: T-1
        says: Slow ones are marked too.
        cite: {document: Town ordinance, section: "1"}
        checked: {seen: the ordinance}
        ops:
          - delete: marking.required#slow
          - {choose_reading: sensor-is-switch, alternative: switch, was: open}
""",
}


def write(folder: Path, changes: dict[str, str] | None = None) -> Path:
    """The rulebook in `folder`, some of its files put otherwise; the folder."""
    for name, text in {**FILES, **(changes or {})}.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return folder


def edited(name: str, old: str, new: str) -> dict[str, str]:
    """One file with one piece of its text put otherwise."""
    assert FILES[name].count(old) == 1, f"{old!r} is not once in {name}"
    return {name: FILES[name].replace(old, new)}

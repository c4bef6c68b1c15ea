"""Project files with something wrong in them, through the real command: every word that a person reads.

Each case is ruled on beside a good file, which has to come out as if it stood alone. The messages are what a clerk or
an electrician needs: where it stands, what was found, what is allowed.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from command_line.of_the_book import events, has, listed, place_ids
from command_line.running import Command, Ran

GOOD = """\
project: {place: demo/tamarisk, dates: {permit application: 2023-05-10}}
controls: [{id: S1, turns_off_by: person}]
"""
HEAD = GOOD.splitlines()[0] + "\n"

AMPS = "allowed: a current in `A`, above 0"
TIME = "allowed: a time in `min`, `s` or `h`, at least 0"
TRUTH = "allowed: yes, no, true, false"
KINDS = (
    "allowed: `snap switch`, `three-way switch`, `dimmer`, `wall-box sensor`, `ceiling sensor and relay`, "
    "`count-down timer`, `program timer`, `time clock`, `relay or contactor`, `photo control`, `card switch`, "
    "`building signal`, `load-sensing`, `demand response`, `wireless wall station`"
)
PLACES = f"allowed: {listed(place_ids())}"
IS_DUE = "is a yes or no where a number is due"
RATED = "that is the circuit's voltage; a receptacle on it is rated 125 V"
NO_VALUE = "is no value; allowed: text in double quotes, a number, true, false or null"
COMMA = "inside { } a comma in unquoted text starts a new key, so put text that holds a comma in quotes"
DIFFERS = "because `receptacle.configuration` is `5-20R`; correct one of them or leave the given value out"


@pytest.fixture(autouse=True)
def _here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("good.yaml").write_text(GOOD, encoding="utf-8")


def words_for(ran: Ran, file: str) -> list[str]:
    """The words said of a file, read off the JSON Lines."""
    return [line["word"] for line in ran.lines if line["file"] == file and "word" in line]


def refused(ran: Ran) -> str:
    """What the data itself says was refused, which has to be what people are told."""
    return "".join(f"{line['refused']}\n" for line in ran.lines if "refused" in line)


CIRCUITS = "circuits:\n"
CASES: dict[str, tuple[str, str | bytes, str]] = {
    "wrong unit": (
        "p.yaml",
        HEAD + "controls: [{id: S1, off_delay_min: 20 ft}]\ncircuits: [{id: C1, breaker_amps: 20 kW}]\n",
        f"p.yaml:2:36: `control.off_delay_min`: `20 ft` is a length; {TIME}\n"
        f"p.yaml:3:35: `circuit.breaker_amps`: `20 kW` is a power; {AMPS}\n",
    ),
    "unit that is none": (
        "p.yaml",
        HEAD + "controls: [{id: S1, off_delay_min: 20 mins}]\n",
        f"p.yaml:2:36: `control.off_delay_min`: `mins` in `20 mins` is not a unit; {TIME}\n",
    ),
    "unit missing": (
        "p.yaml",
        HEAD + "controls: [{id: S1, off_delay_min: 20}]\nspaces: [{id: a, area_sq_ft: 150}]\n",
        f"p.yaml:2:36: `control.off_delay_min`: `20` has no unit; {TIME}\n"
        "p.yaml:3:30: `space.area_sq_ft`: `150` has no unit; allowed: an area in `sq ft` or `sq m`, above 0\n",
    ),
    "text for a number": (
        "p.yaml",
        HEAD + 'circuits: [{id: C1, breaker_amps: twenty}, {id: C2, breaker_amps: "20"}]\n',
        f"p.yaml:2:35: `circuit.breaker_amps`: `twenty` is not a number; {AMPS}\n"
        f"p.yaml:2:67: `circuit.breaker_amps`: `20` in quotes is text where a number is due; {AMPS}\n",
    ),
    "unknown fact": (
        "p.yaml",
        HEAD + "controls: [{id: S1, off_dely_min: 20 min}]\ncircuits: [{id: C1, colour: red}]\n",
        "p.yaml:2:21: `off_dely_min` is nothing that a control has (did you mean `off_delay_min`?)\n"
        f"p.yaml:3:21: `colour` is nothing that a circuit has; allowed: {listed(has('circuit'), None)}\n",
    ),
    "duplicate key": (
        "p.yaml",
        HEAD + "controls:\n  - id: S1\n    kind: snap switch\n    kind: time clock\n",
        "p.yaml:5:5: `kind` stands twice here, first in line 4\n",
    ),
    "duplicate key in JSON": (
        "p.json",
        '{"controls": [\n {"id": "S1", "kind": "snap switch", "kind": "time clock"}\n]}\n',
        "p.json:2:38: `kind` stands twice here, first in line 2\n",
    ),
    "the same id twice": (
        "p.yaml",
        HEAD + "controls: [{id: S1}, {id: S1}]\n",
        "p.yaml:2:27: `control.id`: `S1` stands twice in this project; ids of one kind must differ there\n",
    ),
    "unknown place": (
        "p.yaml",
        "project: {place: demo/tamarsk}\n",
        "p.yaml:1:18: `project.place`: `demo/tamarsk` is no place (did you mean `demo/tamarisk`?); " + PLACES + "\n",
    ),
    "no place": (
        "p.yaml",
        "controls: [{id: S1}]\n",
        "p.yaml: no place is given; add one to the project, or give --place or --edition\n",
    ),
    "a day that is none": (
        "p.yaml",
        "project: {place: demo/tamarisk, dates: {permit application: 05/10/2023, permt: 2023-01-01}}\n",
        "p.yaml:1:61: `project.dates.permit application`: `05/10/2023` is no date; allowed: year, month and day, "
        "such as `2024-10-01`\n"
        f"p.yaml:1:73: `project.dates.permt`: `permt` is no event; allowed: {listed(events())}\n",
    ),
    "word that is none": (
        "p.yaml",
        HEAD + "controls: [{id: S1, kind: snapswitch}]\n",
        f"p.yaml:2:27: `control.kind`: `snapswitch` is none of the answers (did you mean `snap switch`?); {KINDS}\n",
    ),
    "huge file": (
        "p.yaml",
        HEAD + "# " + "x" * 2_000_000 + "\n",
        "p.yaml:1:1: the file has 2,000,076 bytes; allowed: at most 2,000,000\n",
    ),
    "deep nesting": (
        "p.yaml",
        HEAD + "controls: " + "[" * 40 + "]" * 40 + "\n",
        "p.yaml:2:40: this is nested too deep; allowed: at most 30 levels\n",
    ),
    "deep nesting in JSON": (
        "p.json",
        "[" * 100_000 + "]" * 100_000,
        "p.json:1:31: this is nested too deep; allowed: at most 30 levels\n",
    ),
    "alias": (
        "p.yaml",
        HEAD + "controls:\n  - &s {id: S1, kind: snap switch}\n  - *s\n",
        "p.yaml:3:5: `&s` is an anchor; anchors and aliases are not allowed, leave it out\n"
        "p.yaml:4:5: `*s` is an alias; write the thing out again\n",
    ),
    "merge key": (
        "p.yaml",
        HEAD + "controls:\n  - &s {id: S1, kind: snap switch}\n  - {<<: *s, id: S2}\n",
        "p.yaml:3:5: `&s` is an anchor; anchors and aliases are not allowed, leave it out\n"
        "p.yaml:4:10: `*s` is an alias; write the thing out again\n",
    ),
    "tags": (
        "p.yaml",
        HEAD + "controls:\n  - {id: !!str 12, kind: !sensor snap switch}\n",
        "p.yaml:3:10: `!!str` is a tag; tags are not allowed, leave it out\n"
        "p.yaml:3:26: `!sensor` is a tag; tags are not allowed, leave it out\n",
    ),
    "tag that makes an object": (
        "p.yaml",
        HEAD + "controls: !!python/object/apply:os.system [exit]\n",
        "p.yaml:2:11: `!!python/object/apply:os.system` is a tag; tags are not allowed, leave it out\n"
        "p.yaml:2:44: `control`: found `exit`; allowed: a mapping\n",
    ),
    "not UTF-8": (
        "p.yaml",
        HEAD.encode() + b"controls:\n  - {id: caf\xe9}\n",
        "p.yaml:3:13: byte 0xe9 is not UTF-8; save it as UTF-8\n",
    ),
    "UTF-16": ("p.yaml", GOOD.encode("utf-16"), "p.yaml:1:1: byte 0xff is not UTF-8; save it as UTF-8\n"),
    "empty": ("p.yaml", "", "p.yaml:1:1: the file is empty\n"),
    "empty JSON": ("p.json", " \n", "p.json:1:1: the file is empty\n"),
    "only comments": ("p.yaml", "# later\n", "p.yaml:1:1: the file holds only comments\n"),
    "control character": (
        "p.yaml",
        HEAD + 'controls: [{id: "S\0001"}]\n',
        "p.yaml:2:19: control character U+0000 is not allowed in text\n",
    ),
    "boolean for a number": (
        "p.yaml",
        HEAD + "circuits: [{id: C1, breaker_amps: true}, {id: C2, breaker_amps: yes}]\n",
        f"p.yaml:2:35: `circuit.breaker_amps`: `true` {IS_DUE}; {AMPS}\n"
        f"p.yaml:2:65: `circuit.breaker_amps`: `yes` {IS_DUE}; {AMPS}\n",
    ),
    "boolean for a number in JSON": (
        "p.json",
        '{"circuits": [{"id": "C1", "breaker_amps": false}]}',
        f"p.json:1:44: `circuit.breaker_amps`: `false` {IS_DUE}; {AMPS}\n",
    ),
    "number for a yes or no": (
        "p.yaml",
        HEAD + "controls:\n"
        "  - {id: S1, acts_as_wall_switch: 1}\n  - {id: S2, acts_as_wall_switch: 0}\n"
        "  - {id: S3, acts_as_wall_switch: on}\n",
        f"p.yaml:3:35: `control.acts_as_wall_switch`: `1` is neither yes nor no; {TRUTH}\n"
        f"p.yaml:4:35: `control.acts_as_wall_switch`: `0` is neither yes nor no; {TRUTH}\n"
        f"p.yaml:5:35: `control.acts_as_wall_switch`: `on` is neither yes nor no; {TRUTH}\n",
    ),
    "not a number": (
        "p.yaml",
        HEAD
        + "circuits:\n"
        + "".join(
            f"  - {{id: C{n}, breaker_amps: {word}}}\n" for n, word in enumerate((".nan", "NaN", ".inf", "-.inf"))
        ),
        "".join(
            f"p.yaml:{line}:28: `circuit.breaker_amps`: `{word}` is not a number; {AMPS}\n"
            for line, word in ((3, ".nan"), (4, "NaN"), (5, ".inf"), (6, "-.inf"))
        ),
    ),
    "not a number in JSON": (
        "p.json",
        '{"circuits": [\n {"id": "C1", "breaker_amps": NaN},\n {"id": "C2", "breaker_amps": -Infinity},\n'
        ' {"id": "C3", "breaker_amps": twenty}\n]}',
        f"p.json:2:31: this is not JSON: `NaN` {NO_VALUE}\n"
        f"p.json:3:31: this is not JSON: `-Infinity` {NO_VALUE}\n"
        f"p.json:4:31: this is not JSON: `twenty` {NO_VALUE}\n",
    ),
    "numbers out of all measure": (
        "p.yaml",
        HEAD + "circuits: [{id: C1, breaker_amps: 1e999}, {id: C2, breaker_amps: 1e-999}]\n"
        "loads: [{id: L, power_w: 1e999 W}]\n",
        f"p.yaml:2:35: `circuit.breaker_amps`: `1e999` is too large a number; {AMPS}\n"
        f"p.yaml:2:66: `circuit.breaker_amps`: `1e-999` is too small a number; {AMPS}\n"
        "p.yaml:3:26: `load.power_w`: `1e999 W` is too large a number; allowed: a power in `W` or `kW`, at least 0\n",
    ),
    "1e999 in JSON": (
        "p.json",
        '{"circuits": [{"id": "C1", "breaker_amps": 1e999}]}',
        f"p.json:1:44: `circuit.breaker_amps`: `1e999` is too large a number; {AMPS}\n",
    ),
    "below the least": (
        "p.yaml",
        HEAD + "circuits: [{id: C1, breaker_amps: -20}, {id: C2, breaker_amps: 0}]\n",
        f"p.yaml:2:35: `circuit.breaker_amps`: `-20` is out of range; {AMPS}\n"
        f"p.yaml:2:64: `circuit.breaker_amps`: `0` is out of range; {AMPS}\n",
    ),
    # NEMA WD 6: a 5-20 receptacle is 20 A, 125 V
    "stated values that differ from the computed ones": (
        "p.yaml",
        HEAD + "spaces:\n  - id: a\n    yokes:\n      - {id: R1, configuration: 5-20R, amps: 15, volts: 250 V}\n",
        f"p.yaml:5:46: `receptacle.amps` is given as 15 A and comes out as 20 A, {DIFFERS}\n"
        f"p.yaml:5:57: `receptacle.volts` is given as 250 V and comes out as 125 V, {DIFFERS}\n",
    ),
    "the circuit's voltage typed as a receptacle's rating": (
        "p.yaml",
        HEAD + "spaces:\n  - id: a\n    yokes:\n      - {id: R1, volts: 120}\n      - {id: R2, volts: 110 V}\n"
        "      - {id: R3, volts: 115}\n      - {id: R4, volts: 130}\n",
        f"p.yaml:5:25: `receptacle.volts`: `120` is refused: {RATED}\n"
        f"p.yaml:6:25: `receptacle.volts`: `110 V` is refused: {RATED}\n"
        f"p.yaml:7:25: `receptacle.volts`: `115` is refused: {RATED}\n"
        "p.yaml:8:25: `receptacle.volts`: `130` is no value that this can have; allowed: `125`, `250`, `277`, "
        "`125 V`, `250 V`, `277 V`\n",
    ),
    "comma in unquoted text": (
        "p.yaml",
        HEAD + "spaces:\n  - id: a\n    yokes:\n      - {id: R1, location: by the door, left of it}\n",
        f"p.yaml:5:41: `left of it` has no value: {COMMA}\n",
    ),
    "id that reads as a number": (
        "p.yaml",
        HEAD + "circuits: [{id: 210.10}]\n",
        "p.yaml:2:17: `circuit.id`: `210.10` reads as a number where text is due; put it in quotes\n",
    ),
    "ids that lead nowhere": (
        "p.yaml",
        HEAD + "controls: [{id: S1}]\nspaces:\n  - id: a\n    yokes:\n      - id: R1\n"
        "        contacts: [{id: only, controls: [S9], circuit: C1}]\n",
        "p.yaml:7:42: `contact.controls`: no control has the id `S9`; allowed: `S1`\n"
        "p.yaml:7:56: `contact.circuit`: no circuit has the id `C1`; allowed: none, because the project lists no "
        "circuit\n",
    ),
    "no project at all": (
        "p.yaml",
        "- S1\n- S2\n",
        "p.yaml:1:1: a project is a mapping of keys and values; found a list\n",
    ),
    "bracket left open": (
        "p.yaml",
        HEAD + "controls: [{id: S1\ncircuits: []\n",
        "p.yaml:3:9: this is not YAML: inside the `{` of line 2, a colon stands here where a comma or `}` is due; "
        "is a `}` missing before it?\n",
    ),
    "quote left open": (
        "p.yaml",
        HEAD + 'controls: [{id: "S1}]\n',
        "p.yaml:3:1: this is not YAML: in the text in quotes that begins in line 2, the text in quotes is never "
        "closed\n",
    ),
    "tab": (
        "p.yaml",
        "project:\n\tplace: demo/tamarisk\n",
        "p.yaml:2:1: this is not YAML: a tab stands here; indent with spaces\n",
    ),
    "colon in text": (
        "p.yaml",
        "project:\n  name: Annex: rooms\n",
        "p.yaml:2:14: this is not YAML: a colon and a space are not possible here; put text that holds them in quotes, "
        "and begin all keys of one mapping in the same column\n",
    ),
    "two documents": (
        "p.yaml",
        HEAD + "---\n" + HEAD,
        "p.yaml:2:1: a second document starts here; allowed: one document a file\n",
    ),
    "several faults": (
        "p.yaml",
        "project: {place: demo/tamarsk}\ncircuits: [{id: C1, breaker_amps: twenty, volt: 3}]\n"
        "controls: [{id: S1, kind: snapswitch, kind: dimmer}]\n",
        f"p.yaml:1:18: `project.place`: `demo/tamarsk` is no place (did you mean `demo/tamarisk`?); {PLACES}\n"
        f"p.yaml:2:35: `circuit.breaker_amps`: `twenty` is not a number; {AMPS}\n"
        "p.yaml:2:43: `volt` is nothing that a circuit has (did you mean `volts`?)\n"
        f"p.yaml:3:27: `control.kind`: `snapswitch` is none of the answers (did you mean `snap switch`?); {KINDS}\n"
        "p.yaml:3:39: `kind` stands twice here, first in line 3\n",
    ),
}


@pytest.mark.parametrize(("file", "text", "told"), CASES.values(), ids=CASES)
def test_a_bad_project(command: Command, file: str, text: str | bytes, told: str):
    Path(file).write_bytes(text if isinstance(text, bytes) else text.encode())
    ran = command("rule", file, "good.yaml", "--question", "R01", "--format", "jsonl")
    assert ran.err == told
    assert refused(ran) == told
    assert ran.status == 3
    assert words_for(ran, file) == []
    assert words_for(ran, "good.yaml") == ["manual"]  # what somebody's hand turns off is not automatic


def test_the_text_for_people_has_the_faults_too(command: Command):
    """The report is filed, and what is told on standard error is gone by then."""
    Path("p.yaml").write_text(HEAD + "circuits: [{id: C1, breaker_amps: 20 kW}]\n", encoding="utf-8")
    ran = command("rule", "p.yaml", "good.yaml", "--question", "R01", "--all")
    assert ran.status == 3
    assert ran.err == f"p.yaml:2:35: `circuit.breaker_amps`: `20 kW` is a power; {AMPS}\n"
    assert ran.out.startswith(
        "p.yaml\n\nREFUSED (1 fault of the input; nothing was ruled on these)\n"
        "  p.yaml:2:35: `circuit.breaker_amps`: `20 kW` is a power; allowed: a current in `A`, above 0\n"
    )
    assert "S1: manual" in ran.words


def test_a_day_that_nobody_entered_is_no_bad_input(command: Command):
    """The law of that day is not known here, which is something to find out and nobody's slip."""
    Path("p.yaml").write_text(GOOD.replace("2023-05-10", "2009-05-10"), encoding="utf-8")
    ran = command("rule", "p.yaml", "good.yaml", "--question", "R01", "--format", "jsonl")
    assert (ran.status, ran.err) == (4, "")
    assert words_for(ran, "p.yaml") == ["no adoption entered"]
    assert words_for(ran, "good.yaml") == ["manual"]

"""What others have published, held against the rulings: worked examples, quiz answers, and limits of public law.

The files of `published/` say for each example who published it, what it says in our own words, and the word and the
figures that its answer gives, with the arithmetic of the source. Nothing in them was taken from a ruling. Where two
published answers differ the ruling has to say so and to give both.
"""

from __future__ import annotations

import ast
import math
import operator
import re
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from shipped_book import rulebook
from yokebook import Code, Ruling, front_door, shipped
from yokebook.load.faults import Fault
from yokebook.load.files import read_file
from yokebook.load.nodes import plain_data

Data = Mapping[str, Any]

HERE = Path(__file__).parent / "published"
CASES = shipped.folder("rulebook") / "cases"
TOPICS = {
    *("marking", "lighting outlet", "spacing", "switch rating", "receptacle rating", "circuit load", "horsepower"),
    *("two circuits", "neutral", "grounding current", "tamper-resistant", "weather", "ground fault", "arc fault"),
    *("replacement", "restart", "washington", "district of columbia", "california", "90.1", "model energy code"),
    *("new york city", "adoption", "device"),
}
#: Public bodies, publishers of laws, associations, the trade press, courses and forums; no maker, no firm, nobody's own
#: page, and no product that looks codes up or checks against them.
HOSTS = {
    *("ecmweb.com", "ecmag.com", "iaeimagazine.org", "necconnect.org", "neca-neis.org", "codebookcity.com"),
    *("electricallicenserenewal.com", "g-wonlinetextbooks.com", "controlbooth.com", "diychatroom.com"),
    *("thebuildingcodeforum.com", "electriciantalk.com", "leeduser.buildinggreen.com", "codes.iccsafe.org"),
    *("apps.leg.wa.gov", "casetext.com", "print.casetext.com", "nyc.legistar1.com", "nyc.gov", "ecfr.gov", "osha.gov"),
    *("law.cornell.edu", "codes.findlaw.com", "docs-preview.legis.wisconsin.gov", "ghba.org", "ncbeec.org"),
    *("dli.mn.gov", "nema.org", "ecode360.com", "mass.gov", "regulations.justia.com"),
    *("texreg.sos.state.tx.us", "jade1.com", "ohsonline.com"),
}
ADDRESS = re.compile(r"https?://(?:www\.)?([^/\s]+)(?:/\S*)?")
#: A few public laws were read in copies without an address that can be given: these are found by name and section.
BY_NAME = re.compile(r"^California Code of Regulations, Title 24, Part [36] \(20\d\d\), (section|Table) ")
OPERATORS: dict[type[ast.operator], Callable[[Fraction, Fraction], Fraction]] = {
    ast.Add: operator.add,
    ast.Sub: operator.sub,
    ast.Mult: operator.mul,
    ast.Div: operator.truediv,
}


# ---- reading the examples -------------------------------------------------------------------------------------------


def read(path: Path) -> Any:
    """A YAML file as data, numbers exact. Fails where it cannot be read."""
    faults: list[Fault] = []
    found = read_file(path, path.name, faults)
    assert found is not None and not faults, [str(fault) for fault in faults]
    return plain_data(found)


EXAMPLES: list[Data] = [each for path in sorted(HERE.glob("*.yaml")) for each in read(path)["examples"]]
ASKED = [(example, row) for example in EXAMPLES for row in example["answers"]]
NAMES = [f"{example['id']}-{nth}" for example in EXAMPLES for nth, _ in enumerate(example["answers"], 1)]


def number(text: object) -> Fraction:
    """What an arithmetic of whole and decimal numbers comes to, such as `9 / 2 rounded up`."""
    worked, _, rounded = str(text).replace(",", "").partition(" rounded ")
    value = _value(ast.parse(worked.strip(), mode="eval").body)
    return {"up": Fraction(math.ceil(value)), "down": Fraction(math.floor(value)), "": value}[rounded.strip()]


def _value(node: ast.expr) -> Fraction:
    if isinstance(node, ast.BinOp):
        return OPERATORS[type(node.op)](_value(node.left), _value(node.right))
    assert isinstance(node, ast.Constant)
    return Fraction(str(node.value))


def sides(text: object) -> list[Fraction]:
    """The values on the two sides of `8 * 180 = 1440`, or the one of `1440`."""
    return [number(side) for side in str(text).split("=")]


# ---- ruling on them -------------------------------------------------------------------------------------------------


@cache
def records() -> dict[str, Data]:
    """The record of every worked case, by its id."""
    paths = [path for path in CASES.glob("*.yaml") if not path.name.startswith("regions-")]
    return {case["id"]: case["record"] for path in paths for case in read(path)["cases"]}


@cache
def law(under: str, dates: tuple[tuple[str, str], ...], choices: tuple[tuple[str, str], ...]) -> Code:
    """The law of a place on its days, such as `us/tx`, or an edition alone, such as `nfpa-70 2017`."""
    if " " in under:
        document, edition = under.split(" ")
        return rulebook().edition(document, edition)
    return rulebook().in_force(under, dates=dict(dates), choices=dict(choices))


def rule(row: Data) -> Ruling:
    """The ruling that an answer of an example is held against."""
    code = law(row["under"], *(tuple(sorted(row.get(part, {}).items())) for part in ("dates", "choices")))
    if "project" in row:
        graph = front_door.project_to_graph(row["project"], rulebook().book)
        return code.rule(row["question"], graph, row.get("document"), row["subject"])
    record = {**records()[row["case"]], **row.get("with", {})} if "case" in row else row["record"]
    return code.rule(row["question"], record, document=row.get("document"))


def differences(row: Data, ruling: Ruling) -> Iterator[str]:
    """What the ruling does not say as the source does."""
    if ruling.word != row["expect"]:
        yield f"the source says `{row['expect']}`, the ruling `{ruling.word}`"
    if "readings" in row:
        found = dict(by_reading(ruling))
        if found != {(reading, held): [word] for reading, held, word in published_words(row)}:
            yield f"published are {row['readings']}, the ruling has {found}"
    for name, worked in row.get("figures", {}).items():
        shown = {each["exact"] for each in ruling.figures if each["calculation"] == name}
        if {Fraction(text) for text in shown if text is not None} != {sides(worked)[-1]}:
            yield f"`{name}` is {worked} in the source, in the ruling {sorted(map(str, shown)) or 'none'}"


def by_reading(ruling: Ruling) -> Iterator[tuple[tuple[str, str], list[str]]]:
    """Where a ruling turns on one reading: the reading and an alternative of it, with the outcomes that it gives."""
    for each in ruling.under:
        ((reading, alternative),) = each["readings"].items()
        yield (reading, alternative), list(each["outcomes"])


def published_words(row: Data) -> Iterator[tuple[str, str, str]]:
    """The words that are published: the reading, an alternative of it, and its word."""
    for reading, alternatives in row["readings"].items():
        yield from ((reading, held, word) for held, word in alternatives.items())


@pytest.mark.parametrize(("example", "row"), ASKED, ids=NAMES)
def test_the_ruling_agrees(example: Data, row: Data) -> None:
    found = list(differences(row, rule(row)))
    assert not found, f"{example['id']}: {'; '.join(found)} ({source(example)})"


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda each: each["id"])
def test_the_sources_arithmetic_comes_out(example: Data) -> None:
    figures = [line for row in example["answers"] for line in row.get("figures", {}).values()]
    assert [line for line in (*example.get("worked", ()), *figures) if len(set(sides(line))) != 1] == []


# ---- who says so ----------------------------------------------------------------------------------------------------


def source(example: Data) -> str:
    """Who published it, the title, the day and where it stands, as one line."""
    return ", ".join(str(example[part]) for part in ("by", "title", "date", "address") if part in example)


def published(example: Data) -> Iterator[Data]:
    """The sources of an example: its own, and of answers that differ the other too."""
    yield example
    if "differs" in example:
        yield example["differs"]


def test_there_are_as_many_as_promised() -> None:
    assert len([example for example in EXAMPLES if "address" in example]) >= 35


def test_no_id_is_used_twice() -> None:
    assert [name for name, times in Counter(example["id"] for example in EXAMPLES).items() if times > 1] == []


def test_every_topic_has_one() -> None:
    assert {example["topic"] for example in EXAMPLES} == TOPICS


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda each: each["id"])
def test_the_source_is_named(example: Data) -> None:
    assert len(example["says"].split()) > 5
    for each in published(example):
        assert each["by"].strip() and each["title"].strip() and str(each["date"]).strip()
        if "address" in each:
            found = ADDRESS.fullmatch(each["address"])
            assert found and found[1] in HOSTS, each["address"]
        else:
            assert BY_NAME.match(each["title"]), "no address, and no public law that can be found by its name"


def test_no_host_that_nothing_uses() -> None:
    used = {ADDRESS.sub(r"\1", each["address"]) for one in EXAMPLES for each in published(one) if "address" in each}
    assert HOSTS - used == set()


def test_answers_that_differ_are_read_both_ways() -> None:
    """Two published answers: `readings differ`, and each alternative stands in the rulebook as published."""
    differing = [example for example in EXAMPLES if "differs" in example]
    assert len(differing) >= 8
    held_by = {
        (one.id, held): each.standing
        for one in rulebook().book.readings.values()
        for held, each in one.alternatives.items()
    }
    for example in differing:
        rows = [row for row in example["answers"] if "readings" in row]
        assert rows and {row["expect"] for row in rows} == {"readings differ"}
        for row in rows:
            assert len({word for _, _, word in published_words(row)}) > 1
            assert {held_by[reading, held] for reading, held, _ in published_words(row)} == {"published"}, example["id"]


# ---- a wrong answer would be found ----------------------------------------------------------------------------------


class TestAWrongAnswerIsFound:
    ROW: Data = next(row for example, row in ASKED if example["id"] == "vacuum-13-on-20")

    def test_the_right_one_is_not(self) -> None:
        assert list(differences(self.ROW, rule(self.ROW))) == []

    @pytest.mark.parametrize(
        ("change", "said"),
        [
            ({"expect": "satisfied"}, "the source says `satisfied`, the ruling `not satisfied`"),
            (
                {"figures": {"circuit.fastened_limit": "0.8 * 20 = 16"}},
                "`circuit.fastened_limit` is 0.8 * 20 = 16 in the source, in the ruling ['10']",
            ),
            (
                {"figures": {"circuit.receptacle_va": 1}},
                "`circuit.receptacle_va` is 1 in the source, in the ruling none",
            ),
            ({"readings": {"any": {"a": "x"}}}, "published are {'any': {'a': 'x'}}, the ruling has {}"),
        ],
    )
    def test_a_wrong_one_is_told(self, change: Data, said: str) -> None:
        assert list(differences({**self.ROW, **change}, rule(self.ROW))) == [said]

    @pytest.mark.parametrize(
        ("text", "value"),
        [("9 / 2 rounded up", 5), ("20 * 120 / 180 rounded down", 13), ("0.5 * 15", Fraction(15, 2)), ("1,440", 1440)],
    )
    def test_arithmetic_is_read_exactly(self, text: str, value: Fraction) -> None:
        assert number(text) == value

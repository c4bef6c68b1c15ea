"""The worked scenarios as projects: load one, change a few facts, rule on it, and read a ruling as a test does."""

from __future__ import annotations

from copy import deepcopy
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any

import yaml

from shipped_book import rulebook
from yokebook import front_door
from yokebook.code import Code
from yokebook.graph import Graph
from yokebook.law import InForce, Law
from yokebook.ruling import Ruling
from yokebook_adapters.building import placed
from yokebook_adapters.marking_schedule import marking_schedule
from yokebook_adapters.views import marks_by_yoke, parts_to_buy

COUNTY, CITY = "demo/tamarisk", "demo/tamarisk/brindle-falls"
HERE = Path(__file__).parent
SCENARIOS = tuple(sorted(path.stem for path in HERE.glob("sc*.yaml")))
EVENT = "permit application"
Data = dict[str, Any]
#: What is changed in a project: the path of a thing and its new facts; None takes a fact away.
Changes = dict[str, dict[str, Any]]


@cache
def _read(name: str) -> Data:
    data: Data = yaml.safe_load((HERE / f"{name}.yaml").read_text(encoding="utf-8"))
    return data


def project_data(name: str, changes: Changes | None = None) -> Data:
    """The scenario's project as data, with the changes made. Raises KeyError for a path that leads to nothing."""
    data = deepcopy(_read(name))
    for path, facts in (changes or {}).items():
        thing = find(data, path)
        for key, value in facts.items():
            if value is None:
                thing.pop(key)
            else:
                thing[key] = value
    return data


def find(data: Data, path: str) -> Data:
    """The thing of a project with this path, such as `living/R2/upper` or `S1`; `project` is the project itself."""
    if path == "project":
        return dict_of(data["project"])
    for key in ("controls", "circuits", "loads"):
        for thing in data.get(key, ()):
            if thing["id"] == path:
                return dict_of(thing)
    here: Data = data
    for key, part in zip(("spaces", "yokes", "contacts"), path.split("/"), strict=False):
        here = next((dict_of(thing) for thing in here[key] if thing["id"] == part), {})
        if not here:
            raise KeyError(path)
    return here


def dict_of(thing: Any) -> Data:
    """The thing itself, which is a mapping."""
    assert isinstance(thing, dict)
    return thing


@dataclass(frozen=True)
class Staged:
    """A scenario under one law."""

    code: Code
    graph: Graph

    def rule(self, question: str, subject: str, document: str | None = None) -> Ruling:
        """The ruling on one question for one thing."""
        return self.code.rule(question, self.graph, document, subject)

    def word(self, question: str, subject: str) -> str:
        """The outcome where the ruling is settled and checked, else its status."""
        ruling = self.rule(question, subject)
        if ruling.status == "settled":
            assert ruling.outcome is not None and ruling.word == ruling.outcome
            return ruling.outcome
        return ruling.status

    def marks(self) -> dict[str, str]:
        """For every yoke the halves that get the mark, in words."""
        return {entry["yoke"]: entry["mark"] for entry in marks_by_yoke(self._on_marking(), self.graph)}

    def parts(self) -> dict[str, dict[str, Any]]:
        """For every yoke the device to buy."""
        return {entry["yoke"]: entry for entry in parts_to_buy(self._on_marking(), self.graph)}

    def rulings(self, *topics: str, only: list[str] | None = None) -> list[Data]:
        """Every ruling as outputs take it: of the questions without a topic and those of these topics, or of `only`."""
        sheet = self.code.rule_project(self.graph, only, topics)
        return [placed(ruling, self.graph) for ruling in sheet.rulings]

    def schedule(self, *topics: str, only: list[str] | None = None) -> Data:
        """The marking schedule: `lines` by yoke and what to `order`."""
        return marking_schedule(self.rulings(*topics, only=only), [self.graph], rulebook().book)

    def _on_marking(self) -> list[Data]:
        questions = ("marking.required", "ordinary.permitted")
        contacts = [contact.id for contact in self.graph.things["contact"]]
        return [self.rule(question, contact).to_dict() for contact in contacts for question in questions]


def stage(name: str, changes: Changes | None = None, place: str | None = None, day: str | None = None) -> Staged:
    """The scenario with some facts changed, under its own law or that of another place and day."""
    return stage_data(project_data(name, changes), place, day)


def stage_data(data: Data, place: str | None = None, day: str | None = None) -> Staged:
    """A project given as data, under its own law or that of another place and day."""
    where: str = place or data["project"]["place"]
    when = day or str(data["project"]["dates"][EVENT])
    return Staged(rulebook().in_force(where, {EVENT: when}), front_door.project_to_graph(data, rulebook().book))


def as_published(staged: Staged, document: str, edition: str) -> Staged:
    """The same project under a bare edition, no place and no amendments."""
    return Staged(rulebook().edition(document, edition), staged.graph)


def under_another_law(staged: Staged, kind: str, **parts: Any) -> Staged:
    """The same project under the law in force with parts of the resolved document replaced, as another place might."""
    (candidate,) = staged.code.in_force[kind].candidates
    assert candidate.law is not None
    law = Law(replace(candidate.law.resolved, **parts), rulebook().book)
    lines = {**staged.code.in_force, kind: InForce(kind, (replace(candidate, law=law),))}
    return Staged(replace(staged.code, in_force=lines), staged.graph)


# ---- whole sheets -------------------------------------------------------------------------------------------------

#: A ruling of a sheet: its question, its subject's path and the kind of document.
Key = tuple[str, str, str]


def ruled(data: Data, dated: bool = True) -> dict[Key, Ruling]:
    """Every ruling on a project under its own law, with its date or without."""
    dates = {EVENT: str(data["project"]["dates"][EVENT])} if dated else {}
    code = rulebook().in_force(data["project"]["place"], dates)
    sheet = code.rule_project(front_door.project_to_graph(data, rulebook().book))
    return {(r.question, r.subject["id"], (r.document or {}).get("kind", "")): r for r in sheet.rulings}


@cache
def whole(name: str) -> dict[Key, Ruling]:
    """Every ruling on a scenario as its file has it."""
    return ruled(project_data(name))


# ---- reading a ruling ---------------------------------------------------------------------------------------------


def chosen(ruling: Ruling) -> list[tuple[str, str, str]]:
    """The readings that a place has chosen and that the ruling rests on: reading, alternative, and who chose it."""
    return [(c["reading"], c["alternative"], c["chosen_by"]["by"]) for c in ruling.readings_chosen]


def figure(ruling: Ruling, calculation: str, subject: str | None = None) -> Fraction:
    """The exact figure that the ruling shows. Raises StopIteration where it shows none."""
    exact = next(
        f["exact"] for f in ruling.figures if f["calculation"] == calculation and subject in (None, f["subject"])
    )
    return Fraction(exact)


def by_reading(ruling: Ruling) -> dict[str, str]:
    """Under a reading that is the only one in question: its alternatives, each with its outcome."""
    assert ruling.status == "readings differ"
    found: dict[str, str] = {}
    for row in ruling.under:
        ((_, alternative),) = row["readings"].items()
        (found[alternative],) = row["outcomes"]
    return found


def also_held(ruling: Ruling) -> dict[str, str]:
    """What else is held: argued alternatives, each with the outcome that it would give."""
    found: dict[str, str] = {}
    for held in ruling.also_held:
        (found[held["alternative"]],) = held["outcomes"]
    return found


def steps(ruling: Ruling, calculation: str, subject: str | None = None) -> str:
    """How the figure came about, as printed. Raises StopIteration where the ruling shows none."""
    found = (f for f in ruling.figures if f["calculation"] == calculation and subject in (None, f["subject"]))
    return str(next(found)["steps"])

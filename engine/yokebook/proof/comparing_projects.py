"""A project ruled under two laws: the devices whose ruling is not the same, and why."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import asdict, dataclass
from typing import Any

from yokebook.code import Code
from yokebook.graph import Graph
from yokebook.proof.causes import Direction
from yokebook.ruling import Ruling

#: What pairs two rulings: the question, the kind of document, and whose it is.
_Pair = tuple[str, str, str, str]


@dataclass(frozen=True)
class DeviceChange:
    """One thing whose ruling changes: the rules that stand before and after, and the answers below by other rules, as
    `{"question", "subject", "was", "now"}`."""

    subject: dict[str, str]
    was: list[dict[str, Any]]
    now: list[dict[str, Any]]
    below: list[dict[str, Any]]


@dataclass(frozen=True)
class DeviceGroup:
    """The things of which one question is ruled one way under the old law and another under the new."""

    question: str
    ruling: str
    asks: str
    kind: str
    was: str
    now: str
    direction: Direction
    against: dict[str, bool]  # whether the old and the new outcome are against, as {"was", "now"}
    devices: list[DeviceChange]


@dataclass(frozen=True)
class OnlyOne:
    """A question that only one of the laws asks, with how often it gives each word."""

    question: str
    ruling: str
    asks: str
    kind: str
    words: dict[str, int]


@dataclass(frozen=True)
class ProjectChanges:
    """What changes for one project. `same` counts the rulings that keep their word."""

    groups: list[DeviceGroup]
    only_was: list[OnlyOne]
    only_now: list[OnlyOne]
    same: int

    def to_dict(self) -> dict[str, Any]:
        """All of it as JSON-able data."""
        return asdict(self)


def compare_project(
    was: Code, now: Code, graph: Graph, questions: Collection[str] | None = None, document: str | None = None
) -> ProjectChanges:
    """The rulings on a project that are not the same under two laws, for the questions and the kind of document wanted
    (all by default). `document` is a kind or the id of a document. The place and dates of the project do not count.

    Raises InputFaults for a project in which what is stated and what comes out differ.
    """
    wanted = None if questions is None else list(questions)
    old, new = (
        {_pair(ruling): ruling for ruling in code.rule_project(graph, wanted).rulings if _of(ruling, document)}
        for code in (was, now)
    )
    groups: dict[tuple[str, str, str, str], DeviceGroup] = {}
    same = 0
    for key, after in new.items():
        before = old.get(key)
        if before is None:
            continue
        if (before.word, before.status, before.outcome) == (after.word, after.status, after.outcome):
            same += 1
            continue
        group = groups.setdefault((key[0], key[1], before.word, after.word), _group(now, key[1], before, after))
        group.devices.append(_device(before, after))
    only_was = [ruling for key, ruling in old.items() if key not in new]
    only_now = [ruling for key, ruling in new.items() if key not in old]
    return ProjectChanges(list(groups.values()), _only(only_was), _only(only_now), same)


def _pair(ruling: Ruling) -> _Pair:
    return (ruling.question, _kind(ruling), ruling.subject["kind"], ruling.subject["id"])


def _kind(ruling: Ruling) -> str:
    return str(ruling.document["kind"]) if ruling.document is not None else ""


def _of(ruling: Ruling, document: str | None) -> bool:
    """Whether a ruling is by a document of the kind, or with the id, that is wanted."""
    if document is None or ruling.document is None:
        return document is None
    return document in (ruling.document["kind"], ruling.document["id"])


def _group(code: Code, kind: str, before: Ruling, after: Ruling) -> DeviceGroup:
    rank = {word: n for n, word in enumerate(code.book.questions[after.question].outcomes)}
    direction: Direction = "neither"
    if before.outcome in rank and after.outcome in rank and before.outcome != after.outcome:
        direction = "stricter" if rank[after.outcome] > rank[before.outcome] else "less strict"
    against = {"was": before.against, "now": after.against}
    return DeviceGroup(
        after.question, after.ruling, after.asks, kind, before.word, after.word, direction, against, []
    )  # fmt: skip


def _device(before: Ruling, after: Ruling) -> DeviceChange:
    return DeviceChange(dict(after.subject), _standing(before), _standing(after), _below(before, after))


def _standing(ruling: Ruling) -> list[dict[str, Any]]:
    """The rules that stand; where none fires and that settles it, what the table says then."""
    rules = [{key: rule[key] for key in _OF_RULE} for rule in ruling.standing]
    if not rules and ruling.none_fires is not None:
        rules = [{"rule": f"{ruling.question}#none_fires", **{key: ruling.none_fires[key] for key in _OF_RULE[1:]}}]
    return rules


_OF_RULE = ("rule", "then", "says", "cite", "checked", "chain")


def _below(before: Ruling, after: Ruling) -> list[dict[str, Any]]:
    """The answers below that stand by other rules than before."""
    old = {(each["question"], each["subject"]): each["standing"] for each in before.through}
    return [
        {"question": each["question"], "subject": each["subject"], "was": was, "now": each["standing"]}
        for each in after.through
        if (was := old.get((each["question"], each["subject"]))) is not None and _ids(was) != _ids(each["standing"])
    ]


def _ids(rules: list[dict[str, Any]]) -> list[tuple[str, str]]:
    return [(rule["rule"], rule["then"]) for rule in rules]


def _only(rulings: list[Ruling]) -> list[OnlyOne]:
    found: dict[tuple[str, str], OnlyOne] = {}
    for ruling in rulings:
        key = (ruling.question, _kind(ruling))
        each = found.setdefault(key, OnlyOne(ruling.question, ruling.ruling, ruling.asks, key[1], {}))
        each.words[ruling.word] = each.words.get(ruling.word, 0) + 1
    return list(found.values())

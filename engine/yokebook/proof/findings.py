"""What a check finds: what it is, how serious, where, with a record that shows it, whom to blame and how to mend it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from yokebook.model import At, Cite, Rule

Severity = Literal["error", "not decided", "warning", "note"]

#: Most serious first.
SEVERITIES: tuple[Severity, ...] = ("error", "not decided", "warning", "note")

Reachable = Literal["shown", "not shown", ""]


@dataclass(frozen=True)
class Blamed:
    """A rule, op or entry that a finding rests on."""

    id: str
    at: At
    then: str = ""
    says: str = ""
    cite: Cite | None = None
    by: str = ""  # the edition or amendment that wrote or last changed it


@dataclass(frozen=True)
class Finding:
    """One finding.

    `region` is the widest set of records that it stands for, as `[{"input", "is"}]`, inputs that may have any value
    left out; `regions` holds further ones. `boundary` names inputs that are held to one number of a scale without
    steps. `point` is one record of a table's own inputs; `record` a raw record with that result, as data, where one
    was found. `laws` lists every law in which the same table has the same finding.

    Of a text that moved, `moved` holds its parts as `{"part", "was", "is"}`, without `was` or `is` where a part was not
    there or no longer is, and `effects` what that does to outcomes at each level of the law: `{"where", "effect",
    "says", "changes"}`.
    """

    kind: str
    severity: Severity
    says: str
    question: str = ""
    laws: tuple[str, ...] = ()
    blamed: tuple[Blamed, ...] = ()
    region: tuple[Mapping[str, str], ...] = ()
    regions: tuple[tuple[Mapping[str, str], ...], ...] = ()
    more_regions: int = 0
    boundary: tuple[str, ...] = ()
    point: Mapping[str, str] = field(default_factory=dict)
    reachable: Reachable = ""
    record: Mapping[str, Any] | None = None
    repairs: tuple[str, ...] = ()
    at: At | None = None
    moved: tuple[Mapping[str, str], ...] = ()
    effects: tuple[Mapping[str, Any], ...] = ()

    def to_dict(self) -> dict[str, Any]:
        """The finding as plain data, parts that are empty left out."""
        data: dict[str, Any] = {"kind": self.kind, "severity": self.severity, "says": self.says}
        parts: dict[str, Any] = {
            "question": self.question,
            "laws": list(self.laws),
            "at": None if self.at is None else str(self.at),
            "moved": [dict(each) for each in self.moved],
            "effects": [dict(each) for each in self.effects],
            "blamed": [_blamed(each) for each in self.blamed],
            "region": [dict(each) for each in self.region],
            "further_regions": [[dict(each) for each in region] for region in self.regions],
            "more_regions": self.more_regions,
            "boundary_only": list(self.boundary),
            "witness": dict(self.point),
            "reachable": self.reachable,
            "record": self.record,
            "repairs": list(self.repairs),
        }
        return data | {key: value for key, value in parts.items() if value}


def _blamed(each: Blamed) -> dict[str, Any]:
    data: dict[str, Any] = {"id": each.id, "at": str(each.at)}
    cite = None if each.cite is None else {"document": each.cite.document, "section": each.cite.section}
    parts = {"then": each.then, "says": each.says, "cite": cite, "by": each.by}
    return data | {key: value for key, value in parts.items() if value}


@dataclass(frozen=True)
class Report:
    """All findings of one check, and how much it looked at."""

    findings: tuple[Finding, ...]
    laws: int = 0
    tables: int = 0  # different ones
    rules: int = 0

    def of(self, severity: Severity) -> tuple[Finding, ...]:
        """The findings of one severity."""
        return tuple(finding for finding in self.findings if finding.severity == severity)

    @property
    def clean(self) -> bool:
        """Whether nothing is wrong and nothing was left undecided."""
        return not self.of("error") and not self.of("not decided")


def blamed_rule(rule: Rule) -> Blamed:
    """A rule as one that a finding rests on."""
    return Blamed(rule.id, rule.at, rule.then, rule.says, rule.cite, written_by(rule))


def written_by(rule: Rule) -> str:
    """The edition or amendment that wrote a rule or last changed it."""
    return next((step.by for step in reversed(rule.chain) if step.op != "carried"), "")


def in_order(findings: Iterable[Finding]) -> list[Finding]:
    """Findings, the most serious first, then by kind, question and place."""
    return sorted(
        findings,
        key=lambda f: (SEVERITIES.index(f.severity), f.kind, f.question, f.laws[:1], f.says),
    )

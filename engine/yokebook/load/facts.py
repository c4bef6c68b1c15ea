"""rulebook/facts/: what a record may carry, and which combinations cannot occur."""

from __future__ import annotations

from dataclasses import replace
from typing import cast, get_args

from yokebook.entities import KINDS, LISTS, PARENT, PREFIX, REFERENCE, REFERENCES, Kind
from yokebook.load.cells import Boxes, Place
from yokebook.load.common import check_id, words_of
from yokebook.load.faults import Fault
from yokebook.load.fields import Fields
from yokebook.load.nodes import Entry, Node
from yokebook.load.scope import Scope
from yokebook.model import Fact, FactType, Impossible
from yokebook.units import MEASURE_OF

TYPES: tuple[FactType, ...] = get_args(FactType)


def reserved_names(kind: Kind) -> frozenset[str]:
    """The keys of a thing in a project file that no fact or calculation may take."""
    children = {key for parent, key in PARENT.values() if parent == kind}
    references = {*REFERENCE.get(kind, {}), *REFERENCES.get(kind, {})}
    project = {"place", "dates", "choices"} if kind == "project" else set()
    return frozenset({"id", "stated_by", "complete"} | children | references | set(LISTS[kind]) | project)


class FactFiles:
    """Reads facts in two rounds: what they are, then the boxes that need all of them known."""

    def __init__(self, scope: Scope, faults: list[Fault]) -> None:
        self.scope = scope
        self.faults = faults
        self.facts: dict[str, Fact] = {}
        self._later: list[tuple[str, Node]] = []
        self._impossible: list[tuple[Kind, Node]] = []

    def read(self, root: Node) -> None:
        """First round, one file."""
        fields = Fields.of(root, "a facts file", self.faults)
        if fields is None:
            return
        before = len(self.faults)
        entity = cast(Kind, fields.word("entity", KINDS, "a kind of thing"))
        known_entity = len(self.faults) == before
        for entry in fields.entries("facts", "facts"):
            self._fact(entry, entity)
            if not known_entity:
                self.scope.broken.update(f"{prefix}.{entry.key.text}" for prefix in PREFIX.values())
        self._impossible.extend((entity, node) for node in fields.items("impossible", "combinations", required=False))
        fields.finish()

    def _fact(self, entry: Entry, entity: Kind) -> None:
        name = entry.key.text
        fact_id = f"{PREFIX[entity]}.{name}"
        before = len(self.faults)
        fields = Fields.of(entry.value, f"the fact `{fact_id}`", self.faults)
        if fields is not None:
            check_id(name, "a fact", entry.key.at, fields)
            if name in reserved_names(entity):
                fields.fault(
                    entry.key.at, f"`{name}` cannot name a fact of a {entity}: a project file uses it otherwise"
                )
            if fact_id in self.facts:
                fields.fault(entry.key.at, f"`{fact_id}` is declared already at {self.facts[fact_id].at}")
            else:
                self.facts[fact_id] = self._body(fields, fact_id, entity, entry)
                self.scope.add_fact(self.facts[fact_id])
        if len(self.faults) > before:
            self.scope.broken.add(fact_id)

    def _body(self, fields: Fields, fact_id: str, entity: Kind, entry: Entry) -> Fact:
        before = len(self.faults)
        fact_type = cast(FactType, fields.word("type", TYPES, "a type of fact"))
        if len(self.faults) > before:
            fact_type = "text"
            for key in ("values", "unit", "domain", "whole"):
                fields.has(key)
        values = words_of(fields, "values", "words and their meaning") if fact_type == "choice" else {}
        unit = None
        fact = Fact(
            fact_id, entity, fact_type, "", "", "", values, None, None, False, None, False, False, None, entry.key.at
        )
        if fact_type == "number":
            unit = fields.word("unit", tuple(MEASURE_OF), "a unit", "") or None
            fact = self._domain(fields, replace(fact, unit=unit, whole=fields.truth("whole", False)))
        fact = replace(fact, says=fields.text("says"), asks=fields.text("asks"), look=fields.text("look"))
        applies_when = fields.optional("applies_when")
        if applies_when is not None:
            self._later.append((fact_id, applies_when))
        fields.finish()
        return fact

    def _domain(self, fields: Fields, fact: Fact) -> Fact:
        inner = fields.fields("domain", f"the domain of `{fact.id}`", required=False)
        if inner is None:
            return fact
        ends = {key: inner.number(key, None) for key in ("at_least", "more_than", "at_most", "less_than")}
        inner.finish()
        for one, other in (("at_least", "more_than"), ("at_most", "less_than")):
            if ends[one] is not None and ends[other] is not None:
                inner.fault(inner.at, f"{inner.what} has both `{one}` and `{other}`; allowed: one of them")
        low = ends["more_than"] if ends["at_least"] is None else ends["at_least"]
        high = ends["less_than"] if ends["at_most"] is None else ends["at_most"]
        if low is not None and high is not None and low > high:
            inner.fault(inner.at, f"{inner.what} is a range that no number is in")
        return replace(
            fact, low=low, low_open=ends["more_than"] is not None, high=high, high_open=ends["less_than"] is not None
        )

    def finish(self) -> tuple[dict[str, Fact], tuple[Impossible, ...]]:
        """Second round: every fact and every impossible combination."""
        boxes = Boxes(self.scope, self.faults)
        for fact_id, node in self._later:
            fact = self.facts[fact_id]
            box = boxes.box(node, Place(fact.entity), f"`applies_when` of `{fact_id}`")
            for name in box:
                if name not in self.facts:
                    message = f"`applies_when` of `{fact_id}` may name facts only; `{name}` is none"
                    self.faults.append(Fault(node.at, message))
            self.facts[fact_id] = replace(fact, applies_when=box)
        return self.facts, tuple(found for item in self._impossible if (found := self._combination(*item, boxes)))

    def _combination(self, entity: Kind, node: Node, boxes: Boxes) -> Impossible | None:
        fields = Fields.of(node, "an impossible combination", self.faults)
        if fields is None:
            return None
        where = fields.required("where")
        box = {} if where is None else boxes.box(where, Place(entity), "`where` of an impossible combination")
        made = Impossible(entity, box, fields.text("because"), fields.at)
        fields.finish()
        return made

"""rulebook/calculations/: facts computed from other facts."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import cast

from yokebook.entities import KIND_OF_PREFIX, Kind
from yokebook.load.cells import Boxes, Place
from yokebook.load.common import check_id, checked_of, optional_cite, words_of
from yokebook.load.expressions import Expressions
from yokebook.load.facts import TYPES, reserved_names
from yokebook.load.faults import Fault, listed
from yokebook.load.fields import Fields
from yokebook.load.nodes import Entry, Node, SequenceNode
from yokebook.load.scope import Input, Scope, sees
from yokebook.model import Calculation, Checked, Constant, FactType, NamedNumber, Refuse, Value
from yokebook.reach import names_in_expression
from yokebook.units import MEASURE_OF

_DEFINITION = Checked("derived", "definition")


class CalculationFiles:
    """Reads calculations in two rounds: what they give, then how."""

    def __init__(self, scope: Scope, faults: list[Fault]) -> None:
        self.scope = scope
        self.faults = faults
        self._begun: dict[str, tuple[Fields, Calculation]] = {}

    def read(self, root: Node) -> None:
        """First round, one file."""
        fields = Fields.of(root, "a calculations file", self.faults)
        if fields is None:
            return
        for entry in fields.entries("calculations", "calculations"):
            self._begin(entry)
        fields.finish()

    def _begin(self, entry: Entry) -> None:
        name = entry.key.text
        fields = Fields.of(entry.value, f"the calculation `{name}`", self.faults)
        prefix, _, rest = name.partition(".")
        entity = KIND_OF_PREFIX.get(prefix)
        if fields is None:
            self.scope.broken.add(name)
            return
        check_id(name, "a calculation", entry.key.at, fields)
        if entity is None or not rest:
            fields.fault(
                entry.key.at, f"`{name}` must begin with what it is of: {listed(KIND_OF_PREFIX)}, then a point"
            )
            self.scope.broken.add(name)
            return
        if rest in reserved_names(entity):
            fields.fault(
                entry.key.at, f"`{rest}` cannot name a calculation of a {entity}: a project file uses it otherwise"
            )
        if name in self.scope.inputs:
            fields.fault(entry.key.at, f"`{name}` is declared already")
            return
        before = len(self.faults)
        made = self._signature(fields, entry, entity)
        self._begun[name] = (fields, made)
        self.scope.inputs[name] = Input(name, entity, made.type, made.unit, tuple(made.values))
        if len(self.faults) > before:
            self.scope.broken.add(name)

    def _signature(self, fields: Fields, entry: Entry, entity: Kind) -> Calculation:
        fact_type = cast(FactType, fields.word("type", tuple(t for t in TYPES if t != "text"), "a type of calculation"))
        return Calculation(
            id=entry.key.text,
            entity=entity,
            type=fact_type,
            says=fields.text("says"),
            unit=(fields.word("unit", tuple(MEASURE_OF), "a unit", "") or None) if fact_type == "number" else None,
            values=words_of(fields, "values", "words and their meaning") if fact_type == "choice" else {},
            expression=Constant(Fraction(0)),
            cite=optional_cite(fields, self.scope.document_ids),
            checked=checked_of(fields, _DEFINITION),
            at=entry.key.at,
            asks=fields.text("asks", ""),
            ask_first=fields.truth("ask_first", False),
            look=fields.text("look", ""),
        )

    def finish(self) -> dict[str, Calculation]:
        """Second round: every calculation."""
        done: dict[str, Calculation] = {}
        for name, (fields, made) in self._begun.items():
            result = self.scope.inputs[name]
            expression = Expressions(self.scope, self.faults, result).read(fields, made.entity)
            refuse = tuple(
                found
                for node in fields.items("refuse", "refused values", required=False)
                if (found := self._refuse(node, result)) is not None
            )
            fields.finish()
            if expression is None:
                self.scope.broken.add(name)
            else:
                done[name] = replace(made, expression=expression, refuse=refuse)
        for made in done.values():
            self._note_lists(made)
        return done

    def _note_lists(self, made: Calculation) -> None:
        """Remembers what the calculation takes that its own thing cannot see: it reaches that through a list."""
        for name in names_in_expression(made.expression):
            if name.startswith("value."):
                continue
            used = self.scope.find(name, None)
            if used is not None and used.entity is not None and not sees(made.entity, used.entity):
                self.scope.through_lists.setdefault((made.entity, name), []).append(made.id)

    def _refuse(self, node: Node, result: Input) -> Refuse | None:
        fields = Fields.of(node, "a refused value", self.faults)
        if fields is None:
            return None
        listed_node = fields.required("values")
        because = fields.text("because")
        fields.finish()
        if listed_node is None:
            return None
        boxes = Boxes(self.scope, self.faults)
        nodes = listed_node.items if isinstance(listed_node, SequenceNode) else [listed_node]
        values: set[Value] = set()
        for item in nodes:
            value = boxes.value(item, result, Place(None))
            if value is not None and not isinstance(value, NamedNumber):
                values.add(value)
        return Refuse(frozenset(values), because)

"""The expressions of calculations: what they take, of which type and unit."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise
from typing import Literal, cast

from yokebook import units
from yokebook.entities import Kind
from yokebook.load.built import ANY_UNIT, Built, Faulty
from yokebook.load.cells import RELATIONS, Boxes, Place
from yokebook.load.faults import Fault, listed
from yokebook.load.fields import Fields
from yokebook.load.list_expressions import OVER_LISTS, ListExpressions
from yokebook.load.nodes import MappingNode, Node, Scalar, SequenceNode, kind_name
from yokebook.load.scalars import number_of, truth_of, word_of
from yokebook.load.scope import Input, Scope, units_fit
from yokebook.model import (
    Arithmetic,
    ByReading,
    Comparison,
    Constant,
    Expression,
    FactType,
    LookUp,
    NamedNumber,
    Number,
    Of,
    Tiers,
    Value,
    WhereBox,
)

ARITHMETIC = ("times", "plus", "minus", "ratio", "round_up")
OPERATORS = (*OVER_LISTS, *ARITHMETIC, "tiers", "look_up", "comparison", "where", "by_reading")


class Expressions:
    """Reads the expressions of one calculation."""

    def __init__(self, scope: Scope, faults: list[Fault], result: Input) -> None:
        self.scope = scope
        self.faults = faults
        self.result = result
        self.boxes = Boxes(scope, faults)
        self.lists = ListExpressions(self)

    def read(self, fields: Fields, entity: Kind) -> Expression | None:
        """The expression of a calculation whose mapping holds one operator key; None, with faults, if it is wrong."""
        operator = fields.one_key_of(OPERATORS, "operator")
        if operator is None:
            return None
        entry = fields.node.entries[operator]
        try:
            built = self._operator(operator, entry.value, entity, top=True)
            self._check_result(built, entry.value)
        except Faulty:
            return None
        return built.expression

    def fail(self, node: Node, message: str) -> Faulty:
        """Notes a fault; what to raise."""
        self.faults.append(Fault(node.at, message))
        return Faulty()

    def _check_result(self, built: Built, node: Node) -> None:
        wanted = self.result
        if built.type != wanted.type:
            raise self.fail(node, f"this gives {_TYPE_NAMES[built.type]}; `{wanted.id}` is {_TYPE_NAMES[wanted.type]}")
        if built.type == "number" and built.unit != ANY_UNIT and not units_fit(built.unit, wanted.unit):
            found = units.allowed_forms(built.unit)
            raise self.fail(node, f"this gives {found}; `{wanted.id}` is {units.allowed_forms(wanted.unit)}")

    # ---- operands ---------------------------------------------------------------------------------------------

    def _any(self, node: Node, entity: Kind) -> Built:
        """An operand: a name, a number, `value.ID`, or a mapping with one operator key."""
        if isinstance(node, MappingNode):
            fields = Fields(node, "an operand", self.faults)
            operator = fields.one_key_of(OPERATORS, "operator")
            fields.finish()
            if operator is None:
                raise Faulty
            return self._operator(operator, node.entries[operator].value, entity)
        if not isinstance(node, Scalar) or node.is_null:
            raise self.fail(
                node, f"a name, a number or a mapping with an operator is due here, found {kind_name(node)}"
            )
        if node.text.startswith("value."):
            return self._named(node)
        if node.text[:1].isdigit() or node.text[:1] == "-":
            return self._constant(node)
        try:
            found = self.scope.find(node.text, entity)
        except ValueError as error:
            raise self.fail(node, str(error)) from None
        if found is None:
            raise Faulty
        return Built(Of(node.text), found.type, found.unit)

    def _named(self, node: Scalar) -> Built:
        name = node.text.removeprefix("value.")
        if node.text in self.scope.broken:
            raise Faulty
        try:
            unit = self.scope.value_unit(name, None)
        except ValueError as error:
            raise self.fail(node, str(error)) from None
        return Built(NamedNumber(name), "number", unit)

    def _constant(self, node: Scalar) -> Built:
        try:
            value, unit = units.parse_any(node.text)
        except ValueError as error:
            raise self.fail(node, str(error)) from None
        return Built(Constant(value), "number", unit)

    def number(self, node: Node, entity: Kind) -> Built:
        """An operand that is a number. Raises Faulty, the fault noted."""
        built = self._any(node, entity)
        if built.type != "number":
            raise self.fail(node, f"a number is due here; this gives {_TYPE_NAMES[built.type]}")
        return built

    def same_unit(self, parts: list[Built], node: Node) -> str | None:
        """The common unit of numbers that are added or compared. Raises Faulty, the fault noted."""
        known = [part.unit for part in parts if part.unit != ANY_UNIT]
        for unit in known[1:]:
            if not units_fit(known[0], unit):
                one, other = units.allowed_forms(known[0]), units.allowed_forms(unit)
                raise self.fail(node, f"{one} and {other} cannot stand together here")
        return next((unit for unit in known if unit is not None), known[0] if known else ANY_UNIT)

    # ---- operators --------------------------------------------------------------------------------------------

    def _operator(self, operator: str, node: Node, entity: Kind, *, top: bool = False) -> Built:
        if operator in OVER_LISTS:
            return self.lists.read(operator, node, entity)
        if operator in ARITHMETIC:
            return self._arithmetic(operator, node, entity)
        if operator == "tiers":
            return self._tiers(node, entity)
        if operator == "look_up":
            return self._look_up(node, entity, top=top)
        if operator == "comparison":
            return self._comparison(node, entity)
        if operator == "by_reading":
            return self._by_reading(node, entity)
        return Built(WhereBox(self.boxes.boxes(node, Place(entity), "`where`")), "yes_no")

    def fields(self, node: Node, operator: str) -> Fields:
        """The mapping under an operator. Raises Faulty, the fault noted."""
        fields = Fields.of(node, f"`{operator}`", self.faults)
        if fields is None:
            raise Faulty
        return fields

    def _arithmetic(self, operator: str, node: Node, entity: Kind) -> Built:
        op = cast(Literal["times", "plus", "minus", "ratio", "round_up"], operator)
        if op == "round_up":
            one = self.number(node, entity)
            return Built(Arithmetic(op, (one.expression,)), "number", one.unit)
        count = len(node.items) if isinstance(node, SequenceNode) else 0
        exact = op in ("minus", "ratio")
        if not isinstance(node, SequenceNode) or count < 2 or (exact and count != 2):
            raise self.fail(node, f"`{op}` takes a list of {'two' if exact else 'at least two'} operands")
        parts = [self.number(item, entity) for item in node.items]
        expression = Arithmetic(op, tuple(part.expression for part in parts))
        if op in ("plus", "minus"):
            return Built(expression, "number", self.same_unit(parts, node))
        if op == "times":
            not_plain = [part.unit for part in parts if part.unit is not None]
            unit = not_plain[0] if len(not_plain) == 1 else (ANY_UNIT if not_plain else None)
            return Built(expression, "number", unit)
        top, bottom = parts[0].unit, parts[1].unit
        unit = ANY_UNIT if ANY_UNIT in (top, bottom) else top if bottom is None else None if top == bottom else ANY_UNIT
        return Built(expression, "number", unit)

    def _comparison(self, node: Node, entity: Kind) -> Built:
        fields = self.fields(node, "comparison")
        left_node = fields.required("value")
        relation = fields.one_key_of((*RELATIONS, "equals"), "relation")
        fields.finish()
        if left_node is None or relation is None:
            raise Faulty
        left = self.number(left_node, entity)
        right = self.number(fields.node.entries[relation].value, entity)
        self.same_unit([left, right], node)
        named = cast(Literal["at_least", "more_than", "at_most", "less_than", "equals"], relation)
        return Built(Comparison(left.expression, named, right.expression), "yes_no")

    def _tiers(self, node: Node, entity: Kind) -> Built:
        fields = self.fields(node, "tiers")
        of_node = fields.required("of")
        step_nodes = fields.items("steps", "steps")
        fields.finish()
        if of_node is None:
            raise Faulty
        of = self.number(of_node, entity)
        if not step_nodes:
            message = "`steps` of `tiers` is empty; allowed: each step, the last one without `up_to`"
            self.faults.append(Fault(fields.value_at("steps"), message))
            raise Faulty
        steps = [self._step(item, of, last=item is step_nodes[-1]) for item in step_nodes]
        ends = [(item, end) for item, (end, _) in zip(step_nodes, steps, strict=True) if isinstance(end, Fraction)]
        for (_, below), (item, end) in pairwise(ends):
            if end <= below:
                raise self.fail(item, "`tiers` goes up: each step ends above the one before it")
        return Built(Tiers(of.expression, tuple(steps)), "number", of.unit)

    def _step(self, node: Node, of: Built, *, last: bool) -> tuple[Number | None, Number]:
        fields = Fields.of(node, "a step of `tiers`", self.faults)
        if fields is None:
            raise Faulty
        end_node, at_node = fields.optional("up_to"), fields.required("at")
        fields.finish()
        if at_node is None:
            raise Faulty
        if last != (end_node is None):
            wanted = "the last step of `tiers` has no `up_to`, for nothing is above it"
            raise self.fail(node, wanted if last else "only the last step of `tiers` may leave out `up_to`")
        rate = self._number_alone(at_node)
        if rate.unit is not None:
            raise self.fail(at_node, f"`at` is a plain number; this is {units.allowed_forms(rate.unit)}")
        if end_node is None:
            return None, _of_number(rate)
        end = self._number_alone(end_node)
        self.same_unit([of, end], end_node)
        return _of_number(end), _of_number(rate)

    def _number_alone(self, node: Node) -> Built:
        """A number or a named number, and nothing computed."""
        if not isinstance(node, Scalar) or not (node.text.startswith("value.") or node.text[:1].isdigit()):
            raise self.fail(node, f"a number or `value.ID` is due here, found {kind_name(node)}")
        return self._named(node) if node.text.startswith("value.") else self._constant(node)

    def _by_reading(self, node: Node, entity: Kind) -> Built:
        fields = self.fields(node, "by_reading")
        reading_id = fields.word("reading", self.scope.readings, "a reading")
        alternatives = {entry.key.text: entry for entry in fields.entries("alternatives", "alternatives")}
        fields.finish()
        reading = self.scope.readings.get(reading_id)
        if reading is None or not alternatives:
            raise Faulty
        missing = [name for name in reading.alternatives if name not in alternatives]
        if missing or len(alternatives) > len(reading.alternatives):
            wanted = listed(reading.alternatives)
            raise self.fail(node, f"`by_reading` says something for each alternative of `{reading_id}`: {wanted}")
        parts = {name: self._any(entry.value, entity) for name, entry in alternatives.items()}
        kinds = {part.type for part in parts.values()}
        if len(kinds) > 1:
            raise self.fail(node, f"the alternatives give different things: {listed(sorted(kinds))}")
        built = ByReading(reading_id, {name: part.expression for name, part in parts.items()})
        first = next(iter(parts.values()))
        unit = self.same_unit(list(parts.values()), node) if first.type == "number" else None
        return Built(built, first.type, unit)

    def _look_up(self, node: Node, entity: Kind, *, top: bool) -> Built:
        fields = self.fields(node, "look_up")
        by_node = fields.required("by")
        entries = list(fields.entries("table", "values"))
        otherwise_node = fields.optional("otherwise")
        fields.finish()
        if by_node is None or not isinstance(by_node, Scalar):
            raise Faulty
        try:
            by = self.scope.find(by_node.text, entity)
        except ValueError as error:
            raise self.fail(by_node, str(error)) from None
        if by is None:
            raise Faulty
        result = self.result if top else Input("this operand", None, "number", None, ())
        table: dict[Value, Value] = {}
        for entry in entries:
            key = self._value(entry.key, by)
            if key in table:
                raise self.fail(entry.key, f"`{entry.key.text}` stands twice in the table of `look_up`")
            table[key] = self._value(entry.value, result)
        otherwise = None if otherwise_node is None else self._value(otherwise_node, result)
        unit = self.result.unit if top else ANY_UNIT
        return Built(LookUp(by_node.text, table, otherwise), result.type, unit)

    def _value(self, node: Node, of: Input) -> Value:
        try:
            if of.type == "yes_no":
                return truth_of(node)
            if of.type == "choice":
                return word_of(node, of.words, f"a value of `{of.id}`")
            if of.type == "text":
                raise ValueError(f"`{of.id}` is free text, which no table can look up")
            return self._exact(node, of)
        except ValueError as error:
            raise self.fail(node, f"`look_up`: {error}") from None

    def _exact(self, node: Node, of: Input) -> Fraction:
        if of is self.result or of.id in self.scope.inputs:
            return number_of(node, of.unit)
        return units.parse_any(node.text)[0] if isinstance(node, Scalar) else number_of(node, None)


def _of_number(built: Built) -> Number:
    expression = built.expression
    assert isinstance(expression, Constant | NamedNumber)
    return expression if isinstance(expression, NamedNumber) else expression.value


_TYPE_NAMES: dict[FactType, str] = {
    "yes_no": "a yes or no",
    "choice": "a word of a list",
    "number": "a number",
    "text": "free text",
}

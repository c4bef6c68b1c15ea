"""The expressions of calculations that run over a list: what they take of each item, of which type and unit."""

from __future__ import annotations

from typing import Literal, cast

from yokebook.entities import KINDS, ONE, PREFIX, Kind
from yokebook.load.built import Built, ExpressionReader, Faulty
from yokebook.load.cells import Place
from yokebook.load.fields import Fields
from yokebook.load.nodes import MappingNode, Node, Scalar, kind_name
from yokebook.load.scope import list_named, sees
from yokebook.model import Box, Expression, Grouped, Nearest, Over, Uncovered

OVER_LISTS = ("any", "all", "count", "sum", "largest", "smallest", "share", "uncovered_length", "nearest")

#: What may be taken of each group of a list's items.
GROUP_FIGURES = ("count", "sum", "share")


class ListExpressions:
    """Reads the operators that run over a list, for a reader of expressions."""

    def __init__(self, reader: ExpressionReader) -> None:
        self.reader = reader

    def read(self, operator: str, node: Node, entity: Kind) -> Built:
        """The expression of one of OVER_LISTS as a thing of kind `entity` has it. Raises Faulty, the fault noted."""
        fields = self.reader.fields(node, operator)
        if operator == "uncovered_length":
            return self._uncovered(fields, entity)
        if operator == "nearest":
            return self._nearest(fields, entity)
        if operator in ("largest", "smallest") and "group_by" in fields.node.entries:
            return self._grouped(operator, fields, entity)
        return self._over(operator, fields, entity)

    def _list(self, node: Node | None, entity: Kind) -> tuple[str, Kind]:
        """A list's name and the kind of its items."""
        if node is None:
            raise Faulty
        name = node.text if isinstance(node, Scalar) else ""
        try:
            return name, list_named(name, entity)
        except ValueError as error:
            raise self.reader.fail(node, str(error)) from None

    def _boxes(self, node: Node | None, item: Kind, key: str) -> tuple[Box, ...]:
        return ({},) if node is None else self.reader.boxes.boxes(node, Place(item), f"`{key}`")

    def _over(self, operator: str, fields: Fields, entity: Kind) -> Built:
        list_node = fields.required("over")
        where, are = fields.optional("where"), None
        of_node: Node | None = None
        if operator in ("any", "all", "share"):
            are = fields.required("are")
        elif operator != "count":
            of_node = fields.required("of")
        fields.finish()
        name, item = self._list(list_node, entity)
        of = None if of_node is None else self.reader.number(of_node, item)
        over = Over(
            op=cast(Literal["any", "all", "count", "sum", "largest", "smallest", "share"], operator),
            over=name,
            where=self._boxes(where, item, "where"),
            are=self._boxes(are, item, "are"),
            of=None if of is None else of.expression,
        )
        if operator in ("any", "all"):
            return Built(over, "yes_no")
        return Built(over, "number", None if of is None else of.unit)

    # ---- groups -----------------------------------------------------------------------------------------------

    def _grouped(self, operator: str, fields: Fields, entity: Kind) -> Built:
        list_node, by_node = fields.required("over"), fields.required("group_by")
        where, of_node = fields.optional("where"), fields.required("of")
        fields.finish()
        name, item = self._list(list_node, entity)
        by = self._group_by(by_node, item)
        figure, are, of = self._group_figure(of_node, item)
        grouped = Grouped(
            op=cast(Literal["largest", "smallest"], operator),
            over=name,
            where=self._boxes(where, item, "where"),
            by=by,
            figure=cast(Literal["count", "sum", "share"], figure),
            are=are,
            of=None if of is None else of.expression,
        )
        return Built(grouped, "number", None if of is None else of.unit)

    def _group_by(self, node: Node | None, item: Kind) -> str:
        if not isinstance(node, Scalar):
            message = "`group_by` is one fact or calculation of the items"
            raise Faulty if node is None else self.reader.fail(node, f"{message}; found {kind_name(node)}")
        try:
            found = self.reader.scope.find(node.text, item)
        except ValueError as error:
            raise self.reader.fail(node, str(error)) from None
        if found is None:
            raise Faulty
        if found.type == "text":
            raise self.reader.fail(node, f"`{node.text}` is free text, which makes no groups")
        return node.text

    def _group_figure(self, node: Node | None, item: Kind) -> tuple[str, tuple[Box, ...], Built | None]:
        """What is taken of each group: `count`, or a mapping with `sum` or `share`."""
        if node is None:
            raise Faulty
        if isinstance(node, Scalar) and node.text == "count":
            return "count", (), None
        if not isinstance(node, MappingNode):
            message = f"`of` beside `group_by` is `count`, `sum: …` or `share: …`; found {kind_name(node)}"
            raise self.reader.fail(node, message)
        fields = Fields(node, "`of` beside `group_by`", self.reader.faults)
        figure = fields.one_key_of(GROUP_FIGURES[1:], "figure")
        if figure is None:
            raise Faulty
        fields.finish()
        value = node.entries[figure].value
        if figure == "share":
            return figure, self._boxes(value, item, "share"), None
        return figure, (), self.reader.number(value, item)

    # ---- lengths and distances --------------------------------------------------------------------------------

    def _uncovered(self, fields: Fields, entity: Kind) -> Built:
        length_node, list_node = fields.required("length"), fields.required("over")
        where = fields.optional("where")
        at_node, reach_node = fields.required("at"), fields.required("reach")
        fields.finish()
        name, item = self._list(list_node, entity)
        if length_node is None or at_node is None or reach_node is None:
            raise Faulty
        length = self.reader.number(length_node, entity)
        at, reach = self.reader.number(at_node, item), self.reader.number(reach_node, item)
        unit = self.reader.same_unit([length, at, reach], fields.node)
        uncovered = Uncovered(
            length.expression, name, self._boxes(where, item, "where"), at.expression, reach.expression
        )
        return Built(uncovered, "number", unit)

    def _nearest(self, fields: Fields, entity: Kind) -> Built:
        list_node, where = fields.required("over"), fields.optional("where")
        nodes = {key: fields.optional(key) for key in ("along", "x", "y")}
        on_node, otherwise_node = fields.optional("on"), fields.optional("otherwise")
        fields.finish()
        name, item = self._list(list_node, entity)
        if item != entity:
            message = f"`nearest` is of one thing among others of its kind; `{name}` is no list of a {entity}'s kind"
            raise self.reader.fail(fields.node, message)
        given = tuple(key for key, node in nodes.items() if node is not None)
        if (given, on_node is not None) not in _NEAREST_FORMS:
            message = "`nearest` takes `along`, or `x` and `y`, or all three with `on`, the kind that `along` is along"
            raise self.reader.fail(fields.node, message)
        parts = {key: self.reader.number(node, entity) for key, node in nodes.items() if node is not None}
        otherwise = None if otherwise_node is None else self.reader.number(otherwise_node, entity)
        every = [*parts.values(), *([] if otherwise is None else [otherwise])]
        unit = self.reader.same_unit(every, fields.node)
        made: dict[str, Expression | None] = {key: part.expression for key, part in parts.items()}
        nearest = Nearest(
            over=name,
            where=self._boxes(where, item, "where"),
            along=made.get("along"),
            on=None if on_node is None else self._on(on_node, entity),
            x=made.get("x"),
            y=made.get("y"),
            otherwise=None if otherwise is None else otherwise.expression,
        )
        return Built(nearest, "number", unit)

    def _on(self, node: Node, entity: Kind) -> Kind:
        kinds: dict[str, Kind] = {PREFIX[kind]: kind for kind in KINDS if kind in ONE[entity] and sees(entity, kind)}
        text = node.text if isinstance(node, Scalar) else ""
        if text not in kinds:
            allowed = ", ".join(f"`{prefix}`" for prefix in kinds)
            raise self.reader.fail(node, f"`{text}` is nothing that a {entity} has one of; allowed: {allowed}")
        return kinds[text]


_NEAREST_FORMS = ((("along",), False), (("x", "y"), False), (("along", "x", "y"), True))

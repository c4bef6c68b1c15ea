"""The changes that editions and layers make: ops by the id of a rule, a named number or a reading."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import cast, get_args

from yokebook.load.cells import Place
from yokebook.load.common import check_id, checked_of, cite_of, optional_cite
from yokebook.load.faults import Fault, suggest
from yokebook.load.fields import Fields
from yokebook.load.nodes import Node
from yokebook.load.scalars import text_of
from yokebook.load.tables import Defaults, TableReader
from yokebook.model import Amendment, Op, OpName, Question

OPS: tuple[OpName, ...] = get_args(OpName)
_PIN = re.compile(r"[0-9a-f]{8}")


class OpReader:
    """Reads changes to the tables that `tables` reads."""

    def __init__(self, tables: TableReader) -> None:
        self.tables = tables
        self.scope = tables.scope
        self.document = tables.document
        self.faults = tables.faults

    def ops(self, fields: Fields, key: str, defaults: Defaults, *, layer: bool, required: bool = True) -> list[Op]:
        """The changes under `key`. In a layer they may carry pins, and choose readings."""
        found: list[Op] = []
        for node in fields.items(key, "changes", required=required):
            inner = Fields.of(node, "a change", self.faults)
            op = None if inner is None else self._op(inner, defaults, layer=layer)
            if op is not None:
                found.append(op)
        return found

    def _op(self, fields: Fields, defaults: Defaults, *, layer: bool) -> Op | None:
        allowed = OPS if layer else tuple(op for op in OPS if op != "choose_reading")
        name = fields.one_key_of(allowed, "kind of change")
        if name is None:
            return None
        target = fields.text(name)
        if not target:
            return None
        fields.what = f"`{name}` of `{target}`"
        op = Op(op=cast(OpName, name), target=target, at=fields.at)
        if layer and name != "add":
            op = self._pin(fields, op)
        if name in ("narrow", "delete", "prevails_over", "choose_reading"):
            op = self._own_words(fields, op)
        if name == "set_value":
            done = self._set_value(fields, op, defaults, layer=layer)
        elif name == "choose_reading":
            done = self._choose_reading(fields, op)
        else:
            done = self._on_table(fields, op, defaults, layer=layer)
        if done is not None:
            fields.finish()
        return done

    def _pin(self, fields: Fields, op: Op) -> Op:
        node = fields.optional("pin")
        if node is None:
            return op
        try:
            pin = text_of(node)
            if not _PIN.fullmatch(pin):
                raise ValueError(
                    f"`{pin}` is no pin; allowed: 8 digits 0-9 a-f in quotes, as `yokebook pin` writes them"
                )
        except ValueError as error:
            self.faults.append(Fault(node.at, f"`pin` of {fields.what}: {error}"))
            return op
        return replace(op, pin=pin, pin_at=node.at)

    def _set_value(self, fields: Fields, op: Op, defaults: Defaults, *, layer: bool) -> Op | None:
        name = op.target.removeprefix("value.")
        stricter = self.scope.stricter.get(name) if layer else None
        try:
            if f"value.{name}" not in self.scope.broken:
                self.scope.value_unit(name, self.document)
        except ValueError as error:
            fields.fault(fields.value_at(op.op), str(error))
            stricter = "neither"
        value = self.tables.value(fields, name, defaults, op.at, stricter)
        return None if value is None else replace(op, target=name, value=value)

    def _choose_reading(self, fields: Fields, op: Op) -> Op | None:
        name = op.target.removeprefix("reading.")
        reading = self.scope.readings.get(name)
        if reading is None:
            hint = suggest(name, self.scope.readings)
            fields.fault(fields.value_at(op.op), f"there is no reading `{name}`{hint}")
            return None
        where = fields.optional("where")
        return replace(
            op,
            target=name,
            alternative=fields.word("alternative", reading.alternatives, f"an alternative of `{name}`"),
            was=fields.text("was"),
            where=None if where is None else self.tables.boxes.box(where, Place(None, self.document), "`where`"),
        )

    def _on_table(self, fields: Fields, op: Op, defaults: Defaults, *, layer: bool) -> Op | None:
        question_id, mark, short = op.target.rpartition("#")
        question = self.scope.questions.get(question_id)
        if not mark or not short:
            fields.fault(
                fields.value_at(op.op), f"`{op.target}` is no rule; allowed: QUESTION#rule, such as `q.id#rule-id`"
            )
            return None
        if question is None:
            hint = suggest(question_id, self.scope.questions)
            fields.fault(fields.value_at(op.op), f"`{op.target}`: there is no question `{question_id}`{hint}")
            return None
        if op.op in ("add", "replace"):
            if short == "none_fires":
                return replace(op, none_fires=self.tables.none_fires(fields, question, defaults))
            if op.op == "add":
                check_id(short, "a rule", fields.value_at(op.op), fields)
            return replace(op, rule=self.tables.rule(fields, op.target, question, defaults))
        return self._on_rule(fields, op, question, layer=layer)

    def _on_rule(self, fields: Fields, op: Op, question: Question, *, layer: bool) -> Op:
        place = Place(question.per, self.document)
        if op.op == "delete":
            because = fields.text("because", "" if layer else None)
            return replace(op, says=because or op.says)
        if op.op == "prevails_over":
            over = tuple(self.tables.full(name, at, question) for name, at in fields.texts("over", "rules"))
            return replace(op, over=over)
        where, but_not = fields.optional("where"), fields.optional("but_not")
        if where is None and but_not is None:
            fields.fault(fields.at, f"{fields.what} adds nothing; allowed: `where`, `but_not`")
        if not layer and op.checked is None:
            fields.fault(fields.at, f"`checked` is missing from {fields.what}")
        return replace(
            op,
            add_where=() if where is None else self.tables.boxes.boxes(where, place, "`where`"),
            add_but_not=() if but_not is None else self.tables.boxes.boxes(but_not, place, "`but_not`"),
        )

    def _own_words(self, fields: Fields, op: Op) -> Op:
        return replace(
            op,
            says=fields.text("says", ""),
            cite=optional_cite(fields, self.scope.document_ids),
            checked=checked_of(fields) if fields.has("checked") else None,
        )

    # ---- amendments -------------------------------------------------------------------------------------------

    def amendment(self, node: Node) -> Amendment | None:
        """One amendment of a layer."""
        fields = Fields.of(node, "an amendment", self.faults)
        if fields is None:
            return None
        name = fields.text("id")
        fields.what = f"the amendment `{name}`"
        says = fields.text("says")
        cite, checked = cite_of(fields, self.scope.document_ids), checked_of(fields)
        ops = self.ops(fields, "ops", Defaults(says, cite, checked), layer=True)
        fields.finish()
        return Amendment(name, says, cite, checked, tuple(ops), fields.at)

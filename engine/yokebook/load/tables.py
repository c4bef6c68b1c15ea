"""Tables, rules and named numbers."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Literal, cast, get_args

from yokebook import units
from yokebook.load.cells import Boxes, Place
from yokebook.load.common import check_id, checked_of, cite_of
from yokebook.load.faults import Fault, RulebookFaults, suggest
from yokebook.load.fields import Fields
from yokebook.load.nodes import Node, Scalar, SequenceNode, kind_name
from yokebook.load.scope import Scope
from yokebook.model import (
    At,
    Checked,
    Cite,
    NoneFires,
    NumberValue,
    Question,
    Rule,
    Table,
)
from yokebook.prevails import prevails

Stricter = Literal["lower", "higher", "neither"]
STRICTER: tuple[Stricter, ...] = get_args(Stricter)


@dataclass(frozen=True, slots=True)
class Defaults:
    """What a rule, value or op takes over from the amendment it is in; None: it must say so itself."""

    says: str | None = None
    cite: Cite | None = None
    checked: Checked | None = None


WRITTEN_OUT = Defaults()


class TableReader:
    """Reads what one document's editions, or one place's layers (document None), are made of."""

    def __init__(self, scope: Scope, document: str | None, faults: list[Fault]) -> None:
        self.scope = scope
        self.document = document
        self.faults = faults
        self.boxes = Boxes(scope, faults)

    # ---- tables -----------------------------------------------------------------------------------------------

    def table(self, root: Node, stem: str) -> Table | None:
        """The table of a file, whose name without `.yaml` is `stem`."""
        fields = Fields.of(root, "a table", self.faults)
        if fields is None:
            return None
        answers = fields.text("answers")
        question = self.scope.questions.get(answers)
        if question is None:
            hint = suggest(answers, self.scope.questions)
            fields.fault(fields.value_at("answers"), f"there is no question `{answers}`{hint}")
            return None
        if answers != stem:
            fields.fault(fields.value_at("answers"), f"a table that answers `{answers}` is in a file `{answers}.yaml`")
            return None
        none_fires = self._none_fires_of_table(fields, question)
        rules = [rule for node in fields.items("rules", "rules") if (rule := self._rule_of_table(node, question))]
        fields.finish()
        table = Table(answers, none_fires, self._distinct(rules), fields.at)
        self._check_exceptions(table)
        return table

    def _none_fires_of_table(self, fields: Fields, question: Question) -> NoneFires:
        node = fields.required("none_fires")
        forbidden = NoneFires(None, "", None, Checked("derived", "a table that has to answer every record"), fields.at)
        if node is None:
            return forbidden
        if isinstance(node, Scalar):
            if node.text != "forbidden":
                message = f"`none_fires` is `forbidden`, or a mapping with `then`; found {kind_name(node)}"
                self.faults.append(Fault(node.at, message))
            return replace(forbidden, at=node.at)
        inner = Fields.of(node, "`none_fires`", self.faults)
        if inner is None:
            return forbidden
        made = self.none_fires(inner, question, WRITTEN_OUT)
        inner.finish()
        return made

    def none_fires(self, fields: Fields, question: Question, defaults: Defaults) -> NoneFires:
        """What a table says where no rule fires, from a mapping with `then`."""
        cite = cite_of(fields, self.scope.document_ids) if fields.has("cite") else defaults.cite
        return NoneFires(
            then=fields.word("then", question.outcomes, f"an outcome of `{question.id}`"),
            says=fields.text("says", defaults.says),
            cite=cite,
            checked=checked_of(fields, defaults.checked),
            at=fields.at,
        )

    def _rule_of_table(self, node: Node, question: Question) -> Rule | None:
        fields = Fields.of(node, "a rule", self.faults)
        if fields is None:
            return None
        short = fields.text("id")
        fields.what = f"the rule `{short}`"
        if short in ("none_fires", "all"):
            fields.fault(fields.value_at("id"), f"`{short}` has a meaning of its own and cannot be a rule's id")
        elif short:
            check_id(short, "a rule", fields.value_at("id"), fields)
        rule = self.rule(fields, f"{question.id}#{short}", question, WRITTEN_OUT)
        fields.finish()
        return rule

    def rule(self, fields: Fields, rule_id: str, question: Question, defaults: Defaults) -> Rule:
        """The rule of this full id that a mapping writes out."""
        place = Place(question.per, self.document)
        where = fields.required("where")
        but_not = fields.optional("but_not")
        return Rule(
            id=rule_id,
            where=({},) if where is None else self.boxes.boxes(where, place, "`where`"),
            but_not=() if but_not is None else self.boxes.boxes(but_not, place, "`but_not`"),
            then=fields.word("then", question.outcomes, f"an outcome of `{question.id}`"),
            exception_to=self._exception_to(fields, question),
            prevails_over=(),
            says=fields.text("says", defaults.says),
            cite=cite_of(fields, self.scope.document_ids, defaults.cite),
            checked=checked_of(fields, defaults.checked),
            at=fields.at,
        )

    def _exception_to(self, fields: Fields, question: Question) -> tuple[str, ...] | Literal["all"]:
        node = fields.optional("exception_to")
        if node is None:
            return ()
        if isinstance(node, Scalar) and node.text == "all":
            return "all"
        if not isinstance(node, SequenceNode):
            self.faults.append(Fault(node.at, f"`exception_to` is `all` or a list of rules; found {kind_name(node)}"))
            return ()
        return tuple(self.full(name, at, question) for name, at in fields.texts("exception_to", "rules"))

    def full(self, name: str, at: At, question: Question) -> str:
        """The full id of a rule of the question's table, from its full or short one."""
        table, mark, _ = name.rpartition("#")
        if not mark:
            return f"{question.id}#{name}"
        if table != question.id:
            self.faults.append(
                Fault(at, f"`{name}` is in another table; a rule of `{question.id}` can only prevail there")
            )
        return name

    def _distinct(self, rules: list[Rule]) -> tuple[Rule, ...]:
        by_id: dict[str, Rule] = {}
        for rule in rules:
            if rule.id in by_id:
                first = by_id[rule.id].at
                self.faults.append(Fault(rule.at, f"the rule id `{rule.id}` is taken already, in line {first.line}"))
            by_id.setdefault(rule.id, rule)
        return tuple(by_id.values())

    def _check_exceptions(self, table: Table) -> None:
        ids = [rule.id for rule in table.rules]
        for rule in table.rules:
            for name in () if rule.exception_to == "all" else rule.exception_to:
                if name not in ids and name.startswith(f"{table.question}#"):
                    message = (
                        f"`{rule.id}` is an exception to `{name}`, which this table does not have{suggest(name, ids)}"
                    )
                    self.faults.append(Fault(rule.at, message))
        try:
            prevails(table)
        except RulebookFaults as found:
            self.faults.extend(found.faults)

    # ---- named numbers ----------------------------------------------------------------------------------------

    def values(self, fields: Fields) -> list[NumberValue]:
        """The named numbers under `values`."""
        found: list[NumberValue] = []
        for entry in fields.entries("values", "named numbers", required=False):
            inner = Fields.of(entry.value, f"the named number `{entry.key.text}`", self.faults)
            if inner is None:
                continue
            check_id(entry.key.text, "a named number", entry.key.at, inner)
            made = self.value(inner, entry.key.text, WRITTEN_OUT, entry.key.at)
            inner.finish()
            if made is None:
                self.scope.broken.add(f"value.{entry.key.text}")
            else:
                found.append(made)
        return found

    def value(
        self, fields: Fields, name: str, defaults: Defaults, at: At, stricter: str | None = None
    ) -> NumberValue | None:
        """One named number: what `value`, `stricter`, `says`, `cite` and `checked` say."""
        node = fields.required("value")
        number = None if node is None else self._quantity(node, f"the named number `{name}`")
        made = NumberValue(
            id=name,
            value=Fraction(0) if number is None else number[0],
            unit=None if number is None else number[1],
            written=node.text if isinstance(node, Scalar) else "",
            stricter=cast(Stricter, fields.word("stricter", STRICTER, "a direction", stricter)),
            says=fields.text("says", defaults.says),
            cite=cite_of(fields, self.scope.document_ids, defaults.cite),
            checked=checked_of(fields, defaults.checked),
            at=at,
        )
        return None if number is None else made

    def _quantity(self, node: Node, what: str) -> tuple[Fraction, str | None] | None:
        try:
            if not isinstance(node, Scalar) or node.is_null:
                raise ValueError(f"a number is due here, found {kind_name(node)}")
            return units.parse_any(node.text)
        except ValueError as error:
            self.faults.append(Fault(node.at, f"{what}: {error}"))
            return None

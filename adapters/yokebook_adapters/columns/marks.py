"""How well what a row rests on is checked: whether its outcome is one that nobody checked in this edition."""

from __future__ import annotations

from collections.abc import Sequence

from yokebook.law import Law
from yokebook.model import Checked
from yokebook_adapters.columns.inputs import World
from yokebook_adapters.columns.logic import (
    Sql,
    both,
    case,
    either,
    false,
    maybe,
    negated,
    null,
    surely,
    true,
    truth,
)
from yokebook_adapters.columns.tables import Standing, Tables


class Marks:
    """What the rulings on one question may rest on that is carried from an edition that somebody else read."""

    def __init__(self, tables: Tables, law: Law, question: str, worlds: Sequence[World]) -> None:
        self.tables = tables
        self.inputs = tables.inputs
        self.law = law
        self.question = question
        self.worlds = worlds
        ready = law.ready(question)
        self.reached = {
            name for one in self.inputs.of_table(ready) for name in self.inputs.reached(law, one)
        }

    def not_checked(self, standing: Standing) -> Sql:
        """Whether the outcome of the rules that stand rests on something assumed; NULL where only the evaluator can
        tell."""
        ready = standing.ready
        sure = [
            surely(stands)
            for rule, stands in zip(ready.rules, standing.stands, strict=True)
            if _assumed(rule.checked)
        ]
        if _assumed(ready.table.none_fires.checked):
            sure.append(negated(either(surely(stands) for stands in standing.stands)))
        possible = truth(self._somewhere()) if self._somewhere() else either(self._may_rest_on())
        return case([(either(sure), true()), (possible, null())], false())

    def _may_rest_on(self) -> list[Sql]:
        """For each rule that is assumed, whether it may fire; for each table whose silence is, whether none may."""
        found: list[Sql] = []
        for kind, question in [(self.law.kind, self.question), *self.tables.lower]:
            law = self.law if kind == self.law.kind else self.tables.lower[kind, question]
            ready = law.ready(question)
            rules = [i for i, rule in enumerate(ready.rules) if _assumed(rule.checked)]
            for world in self.worlds if rules or _assumed(ready.table.none_fires.checked) else ():
                fires = self.tables.fires(law, question, world)
                found += [maybe(fires[i]) for i in rules]
                if question != self.question and _assumed(ready.table.none_fires.checked):
                    found.append(both(negated(surely(each)) for each in fires))
        return found

    def _somewhere(self) -> bool:
        """Whether a calculation, a named number or a layer's choice of a reading that may be used is assumed."""
        laws = {id(law): law for law in (self.law, *self.tables.lower.values())}
        book = self.inputs.book
        calculations = (book.calculations[name] for name in self.reached if name in book.calculations)
        return (
            any(_assumed(calculation.checked) for calculation in calculations)
            or any(_assumed(law.value_mark(name)) for law in laws.values() for name in self._values(law))
            or any(_assumed(made.checked) for law in laws.values() if law.chosen for made in law.resolved.amendments)
        )

    def _values(self, law: Law) -> list[str]:
        named = (name.removeprefix("value.") for name in self.reached if name.startswith("value."))
        return [name for name in named if name in law.resolved.values]


def _assumed(checked: Checked) -> bool:
    return checked.mark == "assumed"

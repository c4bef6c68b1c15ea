"""What the names of tables turn on: everything behind them, through calculations, answers and what applies."""

from __future__ import annotations

from yokebook.code import Code
from yokebook.law import Law, ReadyTable
from yokebook.reach import names_in_expression, names_in_rule
from yokebook.session import answer_of


class Reach:
    """What lies behind each name under the law in force."""

    def __init__(self, code: Code) -> None:
        self.code = code
        self.book = code.book
        self._reached: dict[tuple[str, str], frozenset[str]] = {}

    def law_of(self, kind: str) -> Law | None:
        """The law of a kind of document, where there is just one in force."""
        line = self.code.in_force.get(kind)
        return line.candidates[0].law if line is not None and len(line.candidates) == 1 else None

    def reached(self, law: Law, name: str) -> frozenset[str]:
        """Everything that a name's value turns on, itself included, through calculations, answers and what applies."""
        key = (law.kind, name)
        if key not in self._reached:
            self._reached[key] = frozenset({name})  # while it is worked out: nothing goes round in a circle
            found = {name}
            for behind in self._behind(law, name):
                found |= self.reached(law, behind)
            if name.startswith("answer."):
                found |= self._behind_answer(law, name)
            self._reached[key] = frozenset(found)
        return self._reached[key]

    def _behind(self, law: Law, name: str) -> set[str]:
        if name.startswith("reading."):
            chosen = law.chosen.get(name.removeprefix("reading."), ())
            return {inner for each in chosen for inner in each.where or {}}
        fact, calculation = self.book.facts.get(name), self.book.calculations.get(name)
        if calculation is not None:
            return set(names_in_expression(calculation.expression))
        return set(fact.applies_when or ()) if fact is not None else set()

    def _behind_answer(self, law: Law, name: str) -> set[str]:
        kind, question = answer_of(self.book, name.removeprefix("answer."), law.kind)
        its_law = law if kind == law.kind else self.law_of(kind)
        if its_law is None or not its_law.answers(question.id):
            return set()
        return {n for one in self.of_table(its_law.ready(question.id)) for n in self.reached(its_law, one)}

    def of_table(self, ready: ReadyTable) -> set[str]:
        """Everything that a table's rules name: inputs, and named numbers as `value.ID`."""
        return {name for rule in ready.rules for name in names_in_rule(rule)}

"""What tables say of a record of raw values, word for word by the definition: no index, no elements, no order of rules.

A record maps an input to its value; an input that is not in it does not apply there, and is in no cell.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from fractions import Fraction

from ruling.small import close
from yokebook.model import Box, Cell, NamedNumber, NoneOf, OneOf, Rule, Table, Value

Record = Mapping[str, Value]


class Truth:
    """The tables of one law with its named numbers. `ruling` gives (status, word), as (ruled, high) or (silent, "")."""

    def __init__(self, tables: Mapping[str, Table], numbers: Mapping[str, Fraction]) -> None:
        self.tables, self.numbers = tables, numbers
        self.over = {question: over(table.rules) for question, table in tables.items()}

    def ruling(self, question: str, record: Record) -> tuple[str, str]:
        """Fires: in a `where` box and in no `but_not` box. Stands: fires, and nothing that fires prevails over it.

        A lower answer at fault is needed where a rule that nothing beats turns on it: then that is what is said.
        """
        table, over = self.tables[question], self.over[question]
        states = {rule.id: self._state(rule, record) for rule in table.rules}
        fires = [rule for rule in table.rules if states[rule.id] is True]
        unbeaten = [rule for rule in table.rules if not any((other.id, rule.id) in over for other in fires)]
        for rule in unbeaten:
            state = states[rule.id]
            if isinstance(state, str):
                return state, ""
        words = {rule.then for rule in unbeaten if states[rule.id] is True}
        if len(words) > 1:
            return "conflict", ""
        if words:
            return "ruled", words.pop()
        return ("ruled", table.none_fires.then) if table.none_fires.then is not None else ("silent", "")

    def _state(self, rule: Rule, record: Record) -> bool | str:
        """Whether a rule fires, or the status of the lower answer at fault that it turns on."""
        inside = [self._in_box(box, record) for box in rule.where]
        outside = [self._in_box(box, record) for box in rule.but_not]
        if True in outside or all(each is False for each in inside):
            return False
        if True in inside:
            return next((each for each in outside if isinstance(each, str)), True)
        return next(each for each in (*inside, *outside) if isinstance(each, str))

    def _in_box(self, box: Box, record: Record) -> bool | str:
        fault: str | None = None
        for name, cell in box.items():
            value = record.get(name)
            lower = name.removeprefix("answer.")
            if value is None and lower in self.tables and lower != name:
                status, value = self.ruling(lower, record)
                if status != "ruled":
                    fault = status
                    continue
            if not self.in_cell(cell, value):
                return False
        return True if fault is None else fault

    def in_cell(self, cell: Cell, value: Value | None) -> bool:
        """Whether a cell holds; None for an input that does not apply."""
        if value is None:
            return False
        if isinstance(cell, OneOf):
            return any(value == self._plain(each) for each in cell.values)
        if isinstance(cell, NoneOf):
            return all(value != self._plain(each) for each in cell.values)
        assert isinstance(value, Fraction)
        low, high = self._plain(cell.low), self._plain(cell.high)
        assert not isinstance(low, str) and not isinstance(high, str)
        if low is not None and not (value > low if cell.low_open else value >= low):
            return False
        return high is None or (value < high if cell.high_open else value <= high)

    def _plain(self, value: Value | NamedNumber | None) -> Value | None:
        return self.numbers[value.id] if isinstance(value, NamedNumber) else value


def over(rules: Iterable[Rule]) -> set[tuple[str, str]]:
    """Pairs (winner, loser). `all` means every rule with another outcome that is no exception itself and that is not
    declared, through others or not, to prevail over this one."""
    rules = list(rules)
    pairs = {(rule.id, loser) for rule in rules if rule.exception_to != "all" for loser in rule.exception_to}
    pairs |= {(rule.id, loser) for rule in rules for loser in rule.prevails_over}
    declared = close(pairs)
    for rule in rules:
        if rule.exception_to == "all":
            pairs |= {
                (rule.id, other.id)
                for other in rules
                if other.then != rule.then and not other.exception_to and (other.id, rule.id) not in declared
            }
    return close(pairs)

"""What a ruling rests on: rules, named numbers, calculations, chosen readings and lower answers, each with its mark."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from yokebook.deciding import Context
from yokebook.graph import Thing
from yokebook.law import Chosen, Law
from yokebook.model import (
    CHECK_ORDER,
    Box,
    ByReading,
    Calculation,
    Checked,
    Expression,
    LookUp,
    NamedNumber,
    Of,
    Over,
    OverList,
    Rule,
    WhereBox,
    Within,
    boxes_on_items,
    taken_of_items,
    taken_of_itself,
)
from yokebook.reach import readings_reached
from yokebook.session import LowerFault, OverBudget, answer_of
from yokebook.trace import RuleTrace, box_holds, subject_of, trace_rules
from yokebook.values import Split
from yokebook.walking import list_of


def _box_names(boxes: Iterable[Box]) -> Iterator[str]:
    for box in boxes:
        yield from box


def _value_names(boxes: Iterable[Box]) -> Iterator[str]:
    for box in boxes:
        for cell in box.values():
            ends: Iterable[object] = (cell.low, cell.high) if isinstance(cell, Within) else cell.values
            yield from (end.id for end in ends if isinstance(end, NamedNumber))


def operands(expression: Expression) -> Iterator[Expression]:
    """The expression and everything inside it that is of the same thing (not of a list's items)."""
    yield expression
    for part in taken_of_itself(expression):
        yield from operands(part)


def names_in(expression: Expression) -> list[str]:
    """The inputs of the same thing that an expression names."""
    names: list[str] = []
    for part in operands(expression):
        if isinstance(part, Of):
            names.append(part.name)
        elif isinstance(part, LookUp):
            names.append(part.by)
        elif isinstance(part, WhereBox):
            names += _box_names(part.boxes)
    return names


class Support:
    """Collects what a ruling rests on: rules, named numbers, calculations and lower answers, each with its mark."""

    def __init__(self, context: Context) -> None:
        self.context = context
        #: by kind of document and what is checked: two documents may have rules of one name
        self.marks: dict[tuple[str, str], Checked] = {}
        self.figures: dict[tuple[str, str], tuple[Law, Thing, Calculation]] = {}
        self.chosen: dict[str, Chosen] = {}  # readings that a layer chose and that were used
        #: lower answers that were used: by thing and question, with the rules that stand there
        self.answers: dict[tuple[str, str], tuple[Law, Thing, list[Rule]]] = {}
        self._visited: set[tuple[str, str, str, str]] = set()

    def _note(self, law: Law, name: str, checked: Checked) -> None:
        self.marks[law.kind, name] = weaker(self.marks.get((law.kind, name)), checked)

    def rule(self, law: Law, thing: Thing, traced: RuleTrace) -> None:
        """A rule that fires, with all that its cells use: those of boxes it is in, and those of `but_not` boxes, which
        it must not be in."""
        rule = traced.rule
        self._note(law, rule.id, rule.checked)
        inside = [b for b, cells in zip(rule.where, traced.where, strict=True) if box_holds(cells) != "no"]
        for box in (*inside, *rule.but_not):
            self._values(law, [box])
            for name in box:
                self.input(law, thing, name)

    def _values(self, law: Law, boxes: Iterable[Box]) -> None:
        for name in _value_names(boxes):
            self._note(law, f"value.{name}", law.value_mark(name))

    def table(
        self, law: Law, thing: Thing, question: str, enough: frozenset[str] = frozenset()
    ) -> list[RuleTrace]:
        """Everything that the answer of a table rests on; returns its rules, traced. `enough`: rules that give the
        answer by themselves, so that it does not rest on others that stand beside them."""
        traced = trace_rules(self.context, law, thing, question)
        standing = {rule.rule.id for rule in traced if rule.fires == "yes" and not rule.beaten_by}
        # an item's answer may be the same whatever is not known, through rules that each may fire
        for rule in traced:
            if enough and not rule.beaten_by and rule.rule.id not in enough and rule.fires != "no":
                continue
            if rule.fires == "yes" or (rule.fires == "unknown" and not rule.beaten_by):
                self.rule(law, thing, rule)
            elif rule.fires == "no":
                self._kept_out(law, thing, rule)
        if not standing:
            self._note(law, f"{question}#none_fires", law.ready(question).table.none_fires.checked)
        return traced

    def input(self, law: Law, thing: Thing, name: str) -> None:
        """What one input rests on."""
        if name.startswith("reading."):
            self._reading(law, thing, name.removeprefix("reading."))
            return
        subject = subject_of(self.context, law, thing, name)
        if subject is None:
            return
        visit = (law.kind, subject.kind, subject.id, name)
        if visit in self._visited:
            return
        self._visited.add(visit)
        if name.startswith("answer."):
            kind, question = answer_of(self.context.book, name.removeprefix("answer."), law.kind)
            its_law = law if kind == law.kind else self._other_law(kind)
            if its_law is not None and its_law.answers(question.id):
                rows = self.table(its_law, subject, question.id)
                standing = [row.rule for row in rows if row.fires == "yes" and not row.beaten_by]
                self.answers.setdefault((subject.id, question.id), (its_law, subject, standing))
            return
        calculation = self.context.book.calculations.get(name)
        if calculation is None or name in subject.given:
            return
        self._note(law, calculation.id, calculation.checked)
        self.figures.setdefault((subject.id, name), (law, subject, calculation))
        self._expression(law, subject, calculation.expression)

    def _kept_out(self, law: Law, thing: Thing, traced: RuleTrace) -> None:
        """Notes the readings by which alone a layer keeps a rule from firing: the answer rests on that choice too."""
        for cells in traced.where:
            failing = [readings_reached([cell.input], self.context.book) for cell in cells if cell.holds != "yes"]
            if failing and all(any(reading in law.chosen for reading in readings) for readings in failing):
                for readings in failing:
                    for reading in readings:
                        self._reading(law, thing, reading)

    def _reading(self, law: Law, thing: Thing, reading_id: str) -> None:
        try:
            chosen = self.context.chosen(law, thing, reading_id)
        except (Split, LowerFault, OverBudget):
            return
        if chosen is not None:
            self.chosen.setdefault(reading_id, chosen)
            for amendment in law.resolved.amendments:
                if amendment.id == chosen.step.by:
                    self._note(law, f"reading.{reading_id}", amendment.checked)

    def _other_law(self, kind: str) -> Law | None:
        try:
            candidate = self.context.candidate(kind)
        except Split:
            return None
        return candidate.law if candidate is not None else None

    def _expression(self, law: Law, thing: Thing, expression: Expression) -> None:
        if isinstance(expression, ByReading):
            self._reading(law, thing, expression.reading)
        for part in self._parts(law, thing, expression):
            self._expression(law, thing, part)
        if isinstance(expression, NamedNumber):
            self._note(law, f"value.{expression.id}", law.value_mark(expression.id))
        elif isinstance(expression, WhereBox):
            self._values(law, expression.boxes)
        elif isinstance(expression, OverList):
            self._list(law, thing, expression)
        if isinstance(expression, Of | LookUp | WhereBox):
            for name in names_in(expression):
                self.input(law, thing, name)

    def _parts(self, law: Law, thing: Thing, expression: Expression) -> Iterable[Expression]:
        """The expressions that one takes; of a reading's alternatives the one in force, all where that is open."""
        if isinstance(expression, ByReading):
            try:
                return [expression.alternatives[self.context.reading(law, thing, expression.reading)]]
            except (Split, LowerFault, OverBudget):
                return expression.alternatives.values()
        return taken_of_itself(expression)

    def _list(self, law: Law, thing: Thing, part: OverList) -> None:
        try:
            found = list_of(self.context, thing, part)
        except Split:
            return
        if found is None:
            return
        owner, name = found
        boxes = boxes_on_items(part)
        self._values(law, boxes)
        for item in self._deciding(law, part, owner.list_of(name)[0]):
            for cell in _box_names(boxes):
                self.input(law, item, cell)
            for taken in taken_of_items(part):
                self._expression(law, item, taken)

    def _deciding(self, law: Law, part: OverList, items: list[Thing]) -> list[Thing]:
        """The items that a figure rests on: all, but for `any` only those that surely pass where there are some."""
        if not isinstance(part, Over) or part.op != "any":
            return items
        passing = [item for item in items if self._passes(law, item, part)]
        return passing or items

    def _passes(self, law: Law, item: Thing, part: Over) -> bool:
        try:
            return self.context.in_any(law, item, part.where) and self.context.in_any(law, item, part.are)
        except (Split, LowerFault, OverBudget):
            return False


def weaker(one: Checked | None, other: Checked) -> Checked:
    """The weaker of two marks on one thing; the first where they are equal."""
    if one is None:
        return other
    return min(one, other, key=lambda checked: CHECK_ORDER.index(checked.mark))

"""What SQL knows of the inputs of a table: facts, calculations, answers and readings, as three-valued expressions.

A record of a table's row holds one thing of each kind, so that a name means one value. What is said here is said only
where the evaluator is sure of it too; everything else is NULL.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import partial
from itertools import product
from math import prod

from sqlglot import exp

from yokebook.code import Code
from yokebook.deciding import OPTIONAL
from yokebook.entities import KIND_OF_PREFIX, LISTS, Kind
from yokebook.law import Law, plain_cell
from yokebook.model import (
    Arithmetic,
    Box,
    ByReading,
    Calculation,
    Cell,
    Comparison,
    Constant,
    Expression,
    LookUp,
    NamedNumber,
    NoneOf,
    Of,
    OneOf,
    Over,
    WhereBox,
    Within,
)
from yokebook.session import answer_of
from yokebook.values import CellIndex, Range, holds
from yokebook_adapters.columns.arithmetic import computed, related
from yokebook_adapters.columns.given import Given, beyond, equals_any, number
from yokebook_adapters.columns.logic import (
    Sql,
    Steps,
    agreed,
    both,
    case,
    column,
    constant,
    decided,
    decided_by_presence,
    either,
    false,
    first_given,
    given,
    missing,
    negated,
    null,
    same,
    surely,
    text,
    true,
    truth,
)
from yokebook_adapters.columns.reaching import Reach

#: The alternative taken of each reading; None: any of them.
World = Mapping[str, str | None]

#: How many combinations of readings one box is tried under.
_MOST_TRIED = 8

#: Kinds that a thing may have none of, with nothing said of it.
_MAYBE_NONE = {kind for _, kind in OPTIONAL}

#: Kinds that a record has only where it names them.
_BY_REFERENCE: tuple[Kind, ...] = ("circuit", "load", "wall")

#: Kinds that may imply a contact device, with what it stands in, where a record names them.
_IMPLIED_BY: tuple[Kind, ...] = ("contact", "yoke", "space", "wall", "control", "load")


@dataclass(frozen=True)
class Known:
    """What is known of an input: its value, NULL where it is not known, and whether it is not applicable (NULL where
    that is not known either)."""

    value: Sql
    without_meaning: Sql


NOTHING = Known(exp.null(), exp.null())


class Inputs(Reach):
    """The inputs of all tables of the law in force, over the columns given."""

    def __init__(self, code: Code, columns: Sequence[Given], steps: Steps) -> None:
        super().__init__(code)
        self.steps = steps
        self.columns = {column.source.key: column for column in columns}
        self._cells: dict[tuple[object, ...], Sql] = {}
        self._known: dict[tuple[object, ...], Known] = {}
        self._named: dict[Kind, Sql] = {}
        #: how an answer is had, which tables.py knows
        self.answer: Callable[[Law, str, World], Sql] = lambda law, question, world: null()

    # ---- what is given ----------------------------------------------------------------------------------------------

    def stated(self, name: str) -> Sql:
        """The value given of a fact or stated of a calculation."""
        column = self.columns.get(name)
        return null() if column is None else self.steps.name(f"~{name}", column.value)

    def gives(self, kind: Kind) -> Sql:
        """Whether a row says anything of a thing of this kind by name; never NULL."""
        if kind not in self._named:
            its = [c.source.name for c in self.columns.values() if c.source.kind == kind]
            self._named[kind] = self.steps.name(f"~names {kind}", either(given(column(name)) for name in its))
        return self._named[kind]

    def complete(self, name: str) -> Sql:
        """Whether a list such as `contact.controls` is said to be complete; never NULL."""
        return surely(self.stated(f"{name}.complete"))

    # ---- cells and boxes --------------------------------------------------------------------------------------------

    def in_any(self, law: Law, boxes: Sequence[Box], world: World, at: Kind) -> Sql:
        """Whether any of the boxes holds for the thing of a kind. A reading left open that the boxes test is tried
        under each of its alternatives."""
        open_ones = [
            name.removeprefix("reading.")
            for name in dict.fromkeys(name for box in boxes for name in box if name.startswith("reading."))
            if world.get(name.removeprefix("reading.")) is None
        ]
        alternatives = [list(self.book.readings[reading].alternatives) for reading in open_ones]
        if not open_ones or prod(map(len, alternatives)) > _MOST_TRIED:
            return either(self.in_box(law, box, world, at) for box in boxes)
        worlds = [{**world, **dict(zip(open_ones, taken, strict=True))} for taken in product(*alternatives)]
        return agreed([either(self.in_box(law, box, each, at) for box in boxes) for each in worlds])

    def in_box(self, law: Law, box: Box, world: World, at: Kind) -> Sql:
        """Whether every cell of a box holds for the thing of a kind."""
        return both(self.cell(law, name, cell, world, at) for name, cell in box.items())

    def cell(self, law: Law, name: str, cell: Cell, world: World, at: Kind) -> Sql:
        """Whether a cell holds: false where its input is not applicable, NULL where that or the value is not known."""
        plain = plain_cell(cell, law.resolved.values, name)
        key = (id(law), name, plain, self._open_key(law, name, world), at)
        if key not in self._cells:
            self._cells[key] = self._cell(law, name, plain, world, at)
        return self._cells[key]

    def _cell(self, law: Law, name: str, cell: Cell, world: World, at: Kind) -> Sql:
        if name.startswith("reading."):
            return self.by_reading(law, name[len("reading.") :], world, at, lambda taken: truth(holds(cell, taken)))
        if name.startswith("answer."):
            return test(self._answer(law, name.removeprefix("answer."), world), cell)
        calculation = self.book.calculations.get(name)
        kind = KIND_OF_PREFIX[name.partition(".")[0]]
        if calculation is not None and isinstance(calculation.expression, LookUp):
            found = self._looked_up(law, calculation, cell, world)
        elif calculation is not None and isinstance(calculation.expression, Over):
            found = self._over_cell(law, calculation, calculation.expression, cell, world)
        else:
            known = self.known(law, name, world)
            found = _tested(known, test(known.value, cell))
        if kind in _MAYBE_NONE and kind != at:
            return case([(self.gives(kind), found)], null())  # else it is not known whether there is any
        return found

    def _looked_up(self, law: Law, calculation: Calculation, cell: Cell, world: World) -> Sql:
        """A cell on a looked-up value, as one on what it is looked up by."""
        look_up = calculation.expression
        assert isinstance(look_up, LookUp)
        passing = [key for key, value in look_up.table.items() if holds(cell, value)]
        behind: Cell = OneOf(frozenset(passing))
        if look_up.otherwise is not None and holds(cell, look_up.otherwise):
            behind = NoneOf(frozenset(look_up.table) - frozenset(passing))
        found = self.cell(law, look_up.by, behind, world, calculation.entity)
        stated = self.stated(calculation.id)
        return case([(given(stated), test(stated, cell))], found)

    # ---- values -----------------------------------------------------------------------------------------------------

    def known(self, law: Law, name: str, world: World) -> Known:
        """What is known of a fact or calculation of the thing whose name it carries."""
        key = (id(law), name, self._open_key(law, name, world))
        if key not in self._known:
            calculation = self.book.calculations.get(name)
            found = self._fact(law, name, world) if calculation is None else self._figure(law, calculation, world)
            self._known[key] = Known(
                self.steps.name(f"~{name} known", found.value), self.steps.name(f"~{name} n/a", found.without_meaning)
            )
        return self._known[key]

    def _fact(self, law: Law, name: str, world: World) -> Known:
        fact = self.book.facts[name]
        if fact.applies_when is None:
            return Known(self.stated(name), false())
        applies = self.in_box(law, fact.applies_when, world, fact.entity)
        return Known(self.stated(name), case([(given(self.stated(name)), false())], negated(applies)))

    def _figure(self, law: Law, calculation: Calculation, world: World) -> Known:
        found = self.worked_out(law, calculation, world)
        stated = self.stated(calculation.id)
        return Known(first_given([stated, found.value]), case([(given(stated), false())], found.without_meaning))

    def worked_out(self, law: Law, calculation: Calculation, world: World) -> Known:
        """A calculation by its expression, whatever is stated of it. Raises LawFault where the law lacks a number."""
        return self._expression(law, calculation.expression, world, calculation.entity)

    def _expression(self, law: Law, expression: Expression, world: World, at: Kind) -> Known:
        value_of = partial(self._expression, law, world=world, at=at)
        match expression:
            case Of(name):
                return self.of(law, name, world, at)
            case Constant(value):
                return Known(number(value) or null(), false())
            case NamedNumber():
                return Known(number(law.number(expression, "columns")) or null(), false())
            case WhereBox(boxes):
                return Known(self.in_any(law, boxes, world, at), false())
            case LookUp(by=by):
                return _looked_up_value(self.of(law, by, world, at), expression)
            case ByReading(reading, alternatives):
                def alternative(taken: str, part: str) -> Sql:
                    return getattr(value_of(alternatives[taken]), part)  # type: ignore[no-any-return]
                return Known(
                    self.by_reading(law, reading, world, at, partial(alternative, part="value")),
                    self.by_reading(law, reading, world, at, partial(alternative, part="without_meaning")),
                )
            case Over(op="any" | "all"):
                return Known(self._any_or_all(law, expression, world), false())
            case Comparison(left, relation, right):
                return _together(related(relation), [value_of(left), value_of(right)])
            case Arithmetic(op, parts):
                return _together(lambda values: computed(op, values), [value_of(part) for part in parts])
        return NOTHING

    def of(self, law: Law, name: str, world: World, at: Kind) -> Known:
        """What is known of an input that a calculation of a thing of the kind `at` takes."""
        if name.startswith("answer."):
            return Known(self._answer(law, name.removeprefix("answer."), world), false())
        if name.startswith("reading."):
            return Known(self.by_reading(law, name[len("reading.") :], world, at, text), false())
        kind = KIND_OF_PREFIX[name.partition(".")[0]]
        found = self.known(law, name, world)
        if kind not in _MAYBE_NONE or kind == at:
            return found
        there = self.gives(kind)
        return Known(*(case([(there, part)], null()) for part in (found.value, found.without_meaning)))

    # ---- lists of the one thing that a record has -------------------------------------------------------------------

    def _any_or_all(self, law: Law, over: Over, world: World) -> Sql:
        """Over a list that a record may fill with its one thing: sure where that thing decides, or is the only one."""
        item = self._item(over)
        if item is None:
            return null()
        fits = both([self.in_any(law, over.where, world, item), self.in_any(law, over.are, world, item)])
        if over.op == "all":
            fails = negated(self.in_any(law, over.are, world, item))
            fits = both([self.in_any(law, over.where, world, item), self._fails(law, over, world, fails)])
        decides = self.steps.name(f"~{over.op} {over.over}", case([(self._listed(over, item), fits)], null()))
        alone = both([self.complete(over.over), either([negated(decides), self._absent(item)])])
        first, otherwise = (true(), false()) if over.op == "any" else (false(), true())
        return case([(surely(decides), first), (surely(alone), otherwise)], null())

    def _fails(self, law: Law, over: Over, world: World, fails: Sql) -> Sql:
        """Whether the item fails what `all` asks: one that a test has no meaning for is left out, which is more than is
        told apart here, so that only items without such tests are taken."""
        for box in over.are:
            for name in box:
                if name.startswith(("answer.", "reading.")):
                    continue
                if constant(self.known(law, name, world).without_meaning) is not False:
                    return null()
        return fails

    def _item(self, over: Over) -> Kind | None:
        """The kind of thing in a list whose completeness a record can state; None for one that follows from others."""
        prefix, _, name = over.over.partition(".")
        its = LISTS[KIND_OF_PREFIX[prefix]][name]
        return its.kind if its.flagged else None

    def _listed(self, over: Over, item: Kind) -> Sql:
        """Whether the one thing of a record surely stands in a list; never NULL."""
        owner = KIND_OF_PREFIX[over.over.partition(".")[0]]
        return both([self.gives(item), self.gives(owner) if owner in _BY_REFERENCE else true()])

    def _absent(self, item: Kind) -> Sql:
        """Whether a record surely says nothing of a thing, not even by naming another that implies it; never NULL."""
        implying: tuple[Kind, ...] = _IMPLIED_BY if item in ("contact", "yoke", "space") else (item,)
        return negated(either(self.gives(kind) for kind in implying))

    def _over_cell(self, law: Law, calculation: Calculation, over: Over, cell: Cell, world: World) -> Sql:
        """A cell on a figure over a list; of counts as much as the one thing of a record settles."""
        if over.op != "count" or any(over.where) or self._item(over) is None:
            known = self.known(law, calculation.id, world)
            return _tested(known, test(known.value, cell))
        item = self._item(over)
        assert item is not None
        index = CellIndex([(0, cell)], 1)

        def of_count(low: int, high: int | None) -> Sql:
            span = Range(Fraction(low), False, None if high is None else Fraction(high), high is None, True)
            bits = {bits for _, bits in index.pieces(span)}
            return truth(bits == {1}) if len(bits) == 1 else null()

        stated, there, complete = self.stated(calculation.id), self._listed(over, item), self.complete(over.over)
        return case(
            [
                (given(stated), test(stated, cell)),
                (both([there, complete]), of_count(1, 1)),
                (there, of_count(1, None)),
            ],
            null(),
        )

    # ---- readings, answers ------------------------------------------------------------------------------------------

    def by_reading(self, law: Law, reading: str, world: World, at: Kind, part: Callable[[str], Sql]) -> Sql:
        """What a reading's alternative gives: that of the one a layer chose, else the world's, else what all give."""
        taken = world.get(reading)
        alternatives = self.book.readings[reading].alternatives
        found = part(taken) if taken is not None else same([part(alternative) for alternative in alternatives])
        for chosen in reversed(law.chosen.get(reading, [])):
            ours = part(chosen.alternative)
            found = ours if chosen.where is None else decided(self.in_box(law, chosen.where, world, at), ours, found)
        return found

    def _answer(self, law: Law, name: str, world: World) -> Sql:
        kind, question = answer_of(self.book, name, law.kind)
        its_law = self.law_of(kind) if kind != law.kind else law
        if its_law is None:
            return null()
        if not its_law.answers(question.id):
            return self.stated(f"answer.{kind}.{question.id}")
        return self.answer(its_law, question.id, world)

    def _open_key(self, law: Law, name: str, world: World) -> tuple[tuple[str, str | None], ...]:
        """The part of a world that a name turns on."""
        reached = self.reached(law, name)
        return tuple((reading, world[reading]) for reading in sorted(world) if f"reading.{reading}" in reached)


def test(value: Sql, cell: Cell) -> Sql:
    """Whether a cell holds for a value; NULL where that is not known."""
    if constant(value) is None:
        return null()
    if isinstance(cell, Within):
        ends: list[Sql] = []
        if cell.low is not None:
            assert not isinstance(cell.low, NamedNumber)
            ends.append(beyond(value, cell.low, low=True, open_end=cell.low_open))
        if cell.high is not None:
            assert not isinstance(cell.high, NamedNumber)
            ends.append(beyond(value, cell.high, low=False, open_end=cell.high_open))
        return both(ends) if ends else decided_by_presence(value, true())
    if not cell.values:
        return decided_by_presence(value, truth(isinstance(cell, NoneOf)))
    found = equals_any(value, cell.values)
    return found if isinstance(cell, OneOf) else negated(found)


def _tested(known: Known, tested: Sql) -> Sql:
    """The test of a value; false where it is not applicable."""
    if constant(known.without_meaning) in (False, None):
        return tested
    return case([(given(known.value), tested), (surely(known.without_meaning), false())], null())


def _looked_up_value(by: Known, look_up: LookUp) -> Known:
    """A looked-up value as a value, for calculations that take it."""
    def literal(value: object) -> Sql:
        if isinstance(value, Fraction):
            return number(value) or null()
        return truth(value) if isinstance(value, bool) else text(str(value))

    arms = [(missing(by.value), null())]
    arms += [(equals_any(by.value, [key]), literal(value)) for key, value in look_up.table.items()]
    value = case(arms, null() if look_up.otherwise is None else literal(look_up.otherwise))
    if look_up.otherwise is not None:
        return Known(value, by.without_meaning)
    listed = equals_any(by.value, look_up.table)
    return Known(value, case([(given(by.value), negated(listed))], by.without_meaning))


def _together(make: Callable[[Sequence[Sql]], Sql], parts: Sequence[Known]) -> Known:
    """What several values come to; not applicable where one of them is."""
    lacking = either(part.without_meaning for part in parts)
    value = make([part.value for part in parts])
    return Known(value, case([(given(value), false())], lacking))

"""Full records decided by generated code: a look-up for each fact, and the sets of boxes that are left as bits.

The code is made of names of its own alone. Keys of records, values and masks are objects that it refers to, never text
in it, so that nothing of a rulebook is ever run. A value that it does not know, a fact that is not given, a key too many:
with any of these the record goes the long way, through the front door.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Mapping
from fractions import Fraction
from functools import partial
from math import ceil, floor, inf, nextafter
from typing import Any

from yokebook.decision import Decision
from yokebook.flat.plain import NotPlain, Plain, PlainTable, standing
from yokebook.law import ReadyTable
from yokebook.model import Fact, Value
from yokebook.values import CellIndex

#: Whole numbers up to this are exact as floats; the long way is for bigger ones.
_EXACT = float(2**53)

#: Boxes past which what is left of a table is not kept for the next time: there are too many ways for it to be met.
_MANY = 100

#: How many are kept of a smaller one.
_MOST_KEPT = 4_000

#: The most values of a whole number that are looked up one by one.
_FEW = 2_000

Decides = Callable[[Mapping[str, Any]], Decision]


#: Whether a value given under a key makes no difference; KeyError for one that is not known.
NoMatter = Callable[[str, object], bool]


def generated(plain: Plain, otherwise: Decides, no_matter: NoMatter) -> tuple[Decides, str]:
    """What decides records, with its text: full ones by itself, all others by `otherwise`. `no_matter` is asked of what
    a record gives beside the facts of the question. Raises NotPlain where a number cannot be looked up as a float."""
    writer = _Writer(plain, otherwise, _Others(frozenset(plain.facts), no_matter).all_right)
    text = writer.text()
    names = dict(writer.names)
    exec(compile(text, "<generated>", "exec"), names)
    decides: Decides = names["decide"]
    return decides, text


class _Writer:
    """Writes the code, and collects what it refers to."""

    def __init__(self, plain: Plain, otherwise: Decides, others: Callable[[Mapping[str, Any]], bool]) -> None:
        self.plain = plain
        self.names: dict[str, Any] = {"bisect": bisect_right, "otherwise": otherwise, "others": others}
        self.lines: list[str] = []
        self._variables = {name: f"v{i}" for i, name in enumerate(plain.facts)}

    def text(self) -> str:
        """The text of the code."""
        self.lines = ["def decide(record):", "    try:"]
        self._line(f"if len(record) != {len(self._variables)} and not others(record):")
        self._line("    return otherwise(record)")
        for fact, variable in self._variables.items():
            self._line(f"{variable} = record[{self._name(fact)}]")
            if self.plain.facts[fact].type == "number":
                self._number_only(variable, self.plain.facts[fact])
        tables = self.plain.tables()
        number = {id(table): i for i, table in enumerate(tables)}
        for i, table in enumerate(tables):
            self._table(i, table, number)
        self.lines += ["    except (KeyError, TypeError):", "        return otherwise(record)"]
        self._line(f"return m{len(tables) - 1}", indent=4)
        return "\n".join(self.lines) + "\n"

    def _line(self, text: str, indent: int = 8) -> None:
        self.lines.append(f"{' ' * indent}{text}")

    def _name(self, what: object) -> str:
        name = f"k{len(self.names)}"
        self.names[name] = what
        return name

    def _number_only(self, variable: str, fact: Fact) -> None:
        is_none = f"{variable}.__class__ is not int"
        self._line(f"if {is_none}:" if fact.whole else f"if {variable}.__class__ is not float and {is_none}:")
        self._line("    return otherwise(record)")

    def _table(self, i: int, table: PlainTable, number: Mapping[int, int]) -> None:
        parts = []
        for name, index in table.ready.inputs.items():
            lower = table.answers.get(name)
            if lower is not None:
                parts.append(f"a{i}_{number[id(lower)]}")
            else:
                parts.append(self._allowed(table.facts[name], index, self._variables[name]))
        self._line(f"m{i} = {' & '.join(parts) or table.ready.all_bits}")
        if table is self.plain.top:
            self._decided(i, table.ready)
            return
        for j, upper in enumerate(self.plain.tables()):
            indexes = [upper.ready.inputs[name] for name, lower in upper.answers.items() if lower is table]
            if indexes:
                masks = self._name(_Kept(partial(_answer, table.ready, indexes)))
                self._line(f"a{j}_{i} = {masks}[m{i}]")

    def _allowed(self, fact: Fact, index: CellIndex, variable: str) -> str:
        """The boxes that the value of a fact allows."""
        if fact.type == "number" and (by_one := _one_by_one(fact, index)):
            return f"{self._name(by_one)}[{variable}]"
        if fact.type == "number":
            cuts, masks = _as_floats(fact, index)
            return f"{self._name(masks)}[bisect({self._name(cuts)}, {variable})]"
        if fact.type == "choice":
            return f"{self._name({word: index.allowed(word) for word in fact.values})}[{variable}]"
        # 1 and 0 are equal to True and False, and are no answers
        yes, no = index.allowed(True), index.allowed(False)
        names = self._name(yes), self._name(no), self._name({"yes": yes, "no": no})
        return f"({names[0]} if {variable} is True else {names[1]} if {variable} is False else {names[2]}[{variable}])"

    def _decided(self, i: int, ready: ReadyTable) -> None:
        if len(ready.boxes) <= _MANY or any(ready.but_not):
            self._line(f"m{i} = {self._name(_Kept(self._decision))}[m{i}]")
        else:
            alone, others = _first_alone(ready)
            first = self._name([self._decision(left) for left in alone])
            self._line(f"i = (m{i} & -m{i}).bit_length()")
            self._line(f"m{i} = {self._name(self._decision)}(m{i}) if m{i} & {self._name(others)}[i] else {first}[i]")
        self._line(f"if m{i} is None:")
        self._line("    return otherwise(record)")

    def _decision(self, left: int) -> Decision | None:
        """What the table at hand says where these boxes are left; None where it is to be found the long way."""
        try:
            return self.plain.full(left)
        except NotPlain:
            return None


class _Others:
    """What records give beside the facts of a question. One record mostly gives what the one before gave."""

    def __init__(self, facts: frozenset[str], no_matter: NoMatter) -> None:
        self._facts = facts
        self._no_matter = no_matter
        self._before: tuple[str, ...] = ()

    def all_right(self, record: Mapping[str, Any]) -> bool:
        """Whether nothing of it makes a difference. KeyError where something of it is not known."""
        if len(record) != len(self._facts) + len(self._before) or any(key not in record for key in self._before):
            self._before = tuple(key for key in record if key not in self._facts)
        no_matter = self._no_matter
        for key in self._before:
            if not no_matter(key, record[key]):
                return False
        return True


class _Kept(dict[int, Any]):
    """What a function gives for the boxes that are left, each worked out once."""

    def __init__(self, work: Callable[[int], Any]) -> None:
        super().__init__()
        self._work = work

    def __missing__(self, left: int) -> Any:
        found = self._work(left)
        if len(self) >= _MOST_KEPT:
            self.clear()
        self[left] = found
        return found


def _answer(ready: ReadyTable, indexes: list[CellIndex], left: int) -> int:
    """The boxes of an upper table that the answer of a lower one allows. Raises TypeError where it has none."""
    word = standing(ready, left)[0]
    if word is None:
        raise TypeError
    allowed = indexes[0].allowed(word)
    for index in indexes[1:]:
        allowed &= index.allowed(word)
    return allowed


def _first_alone(ready: ReadyTable) -> tuple[list[int], list[int]]:
    """By the place of the first box that is left (counted from 1): that box alone, and the boxes that must not be left
    beside it for its rule to stand alone: all but its own and those of rules that it prevails over."""
    alone, others = [0], [0]
    for box in ready.boxes:
        beaten = 0
        for i, beaten_by in enumerate(ready.beaten_by):
            if box.rule in beaten_by:
                beaten |= ready.where[i]
        alone.append(1 << box.bit)
        others.append(ready.all_bits & ~ready.where[box.rule] & ~beaten)
    return alone, others


def _one_by_one(fact: Fact, index: CellIndex) -> dict[int, int] | None:
    """The boxes that each value of a whole number allows, where these are not too many."""
    if not fact.whole or fact.low is None or fact.high is None or fact.high - fact.low > _FEW:
        return None
    numbers = range(ceil(fact.low), floor(fact.high) + 1)
    ends = {end for end, is_open in ((fact.low, fact.low_open), (fact.high, fact.high_open)) if is_open}
    return {number: index.allowed(Fraction(number)) for number in numbers if number not in ends}


def _as_floats(fact: Fact, index: CellIndex) -> tuple[list[float], list[int | None]]:
    """For numbers as floats or whole numbers: where the boxes allowed change, and which these are in each stretch,
    from below all; None outside the fact's domain. A float counts as the decimal that it is written as."""
    ends = [(end, is_open) for end, is_open in ((fact.low, fact.low_open), (fact.high, fact.high_open)) if end is not None]
    numbers = sorted({*index.cuts, *(end for end, _ in ends)})
    cuts: list[float] = [-_EXACT]
    masks: list[int | None] = [None]

    def allowed(value: Fraction) -> int | None:
        below = fact.low is not None and (value < fact.low or (fact.low_open and value == fact.low))
        above = fact.high is not None and (value > fact.high or (fact.high_open and value == fact.high))
        return None if below or above else index.allowed(value)

    before: Fraction | None = None
    for number in numbers:
        at = float(number)
        if not cuts[-1] < at < _EXACT:
            raise NotPlain  # two numbers that are one as floats
        masks.append(allowed(number - 1 if before is None else (before + number) / 2))
        written = Fraction(repr(at))
        masks.append(allowed(written))
        cuts += [at, nextafter(at, inf)]
        before = number
    masks.append(allowed(Fraction(0) if before is None else before + 1))
    return [*cuts, _EXACT], [*masks, None]

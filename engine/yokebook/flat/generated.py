"""Full records decided by generated code: a look-up for each fact, and the sets of boxes that are left as bits.

The code is made of names of its own alone. Keys of records, values and masks are objects that it refers to, never text
in it, so that nothing of a rulebook is ever run. A value that it does not know, a fact that is not given, a key that
makes a difference otherwise: with any of these the record goes the long way, through the front door.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Mapping
from fractions import Fraction
from functools import partial
from math import ceil, floor, inf, nextafter
from typing import Any, NamedTuple

from yokebook.decision import Decision
from yokebook.flat.plain import NotPlain, Plain, PlainTable, standing
from yokebook.law import ReadyTable
from yokebook.model import Fact
from yokebook.values import CellIndex

#: Whole numbers up to this are exact as floats; the long way is for bigger ones.
_EXACT = float(2**53)

#: How many sets of boxes are kept with what they give; past it one starts anew.
_MOST_KEPT = 20_000

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
        answers = {name: f"a{i}_{number[id(lower)]}" for name, lower in table.answers.items()}
        uppers = [(j, upper) for j, upper in enumerate(self.plain.tables()) if table in upper.answers.values()]
        if table is self.plain.top:
            self._left(i, table, answers, self._decision)
            self._line(f"if m{i} is None:")
            self._line("    return otherwise(record)")
        for j, upper in uppers:
            indexes = [upper.ready.inputs[name] for name, lower in upper.answers.items() if lower is table]
            self._left(i, table, answers, partial(_answer, table.ready, indexes))
            self._line(f"a{j}_{i} = m{i}")

    def _left(self, i: int, table: PlainTable, answers: Mapping[str, str], gives: Callable[[int], Any]) -> None:
        """Puts into the table's variable what `gives` makes of the boxes that are left of it."""
        parts = [
            answers.get(name) or self._allowed(table.facts[name], index, self._variables[name])
            for name, index in table.ready.inputs.items()
        ]
        self._line(f"m{i} = {self._name(_Kept(gives))}[{' & '.join(parts) or table.ready.all_bits}]")

    def _allowed(self, fact: Fact, index: CellIndex, variable: str) -> str:
        """The boxes that the value of a fact allows."""
        shape = _shape(fact)
        names = [self._name(what) for what in shape.made(fact, index)]
        return shape.text.format(v=variable, **dict(zip(shape.names, names, strict=True)))

    def _decision(self, left: int) -> Decision | None:
        """What the table at hand says where these boxes are left; None where it is to be found the long way."""
        try:
            return self.plain.full(left)
        except NotPlain:
            return None


class _Shape(NamedTuple):
    """How the boxes that a value allows are looked up: the text, the names in it, and what these stand for."""

    text: str
    names: tuple[str, ...]
    made: Callable[[Fact, CellIndex], tuple[object, ...]]


def _of_words(fact: Fact, index: CellIndex) -> tuple[object, ...]:
    return ({word: index.allowed(word) for word in fact.values},)


def _of_yes_no(fact: Fact, index: CellIndex) -> tuple[object, ...]:
    yes, no = index.allowed(True), index.allowed(False)
    return yes, no, {"yes": yes, "no": no}


def _of_whole(fact: Fact, index: CellIndex) -> tuple[object, ...]:
    assert fact.low is not None and fact.high is not None
    numbers = range(ceil(fact.low), floor(fact.high) + 1)
    ends = {end for end, is_open in ((fact.low, fact.low_open), (fact.high, fact.high_open)) if is_open}
    return ({number: index.allowed(Fraction(number)) for number in numbers if number not in ends},)


def _shape(fact: Fact) -> _Shape:
    if fact.type == "choice":
        return _Shape("{w}[{v}]", ("w",), _of_words)
    if fact.type == "yes_no":  # 1 and 0 are equal to True and False, and are no answers
        return _Shape("({y} if {v} is True else {n} if {v} is False else {w}[{v}])", ("y", "n", "w"), _of_yes_no)
    if fact.whole and fact.low is not None and fact.high is not None and fact.high - fact.low <= _FEW:
        return _Shape("{w}[{v}]", ("w",), _of_whole)
    return _Shape("{m}[bisect({c}, {v})]", ("c", "m"), _as_floats)


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
        return all(no_matter(key, record[key]) for key in self._before)


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


def _as_floats(fact: Fact, index: CellIndex) -> tuple[object, ...]:
    """For numbers as floats or whole numbers: where the boxes allowed change, and which these are in each stretch,
    from below all; None outside the fact's domain. A float counts as the decimal that it is written as."""
    numbers = sorted({*index.cuts, *(end for end in (fact.low, fact.high) if end is not None)})
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

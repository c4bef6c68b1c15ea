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
    writer = _Writer(plain, otherwise, _Others(frozenset(plain.facts), no_matter))
    text = writer.text()
    names = dict(writer.names)
    exec(compile(text, "<generated>", "exec"), names)
    decides: Decides = names["decide"]
    return decides, text


class _Writer:
    """Writes the code, and collects what it refers to."""

    def __init__(self, plain: Plain, otherwise: Decides, others: _Others) -> None:
        self.plain = plain
        self.names: dict[str, Any] = {"bisect": bisect_right, "otherwise": otherwise}
        self.names |= {"others": others.all_right, "kept": _Partly(otherwise)}
        self.lines: list[str] = []
        self._facts = {name: f"v{i}" for i, name in enumerate(plain.facts)}
        self._keys = {name: self._name(name) for name in plain.facts}
        self._tables = plain.tables()
        self._number = {id(table): i for i, table in enumerate(self._tables)}

    def text(self) -> str:
        """The text of the code."""
        self._partly()
        self._fully()
        return "\n".join(self.lines) + "\n"

    def _line(self, text: str, indent: int = 8) -> None:
        self.lines.append(f"{' ' * indent}{text}")

    def _name(self, what: object) -> str:
        name = f"k{len(self.names)}"
        self.names[name] = what
        return name

    def _fully(self) -> None:
        """Full records: look-ups for all facts, then table by table what is left."""
        self.lines += ["def decide(record):", "    try:"]
        self._line(f"if len(record) != {len(self._facts)} and not others(record):")
        self._line("    return otherwise(record)")
        for name, variable in self._facts.items():
            self._line(f"{variable} = record[{self._keys[name]}]")
            self._number_only(name, 8)
        for i, table in enumerate(self._tables):
            self._table(i, table)
        self._line("except KeyError:", 4)
        self._line("return partly(record)")
        self._line("except TypeError:", 4)
        self._line("return otherwise(record)")
        self._line(f"return m{len(self._tables) - 1}", 4)

    def _partly(self) -> None:
        """Records that do not give every fact: which ones, and what is left of each table by those that are given, say
        all that matters of them."""
        self.lines += ["def partly(record):", "    try:"]
        self._line("missing = 0")
        self._line("get = record.get")
        for i, table in enumerate(self._tables):
            self._line(f"m{i} = {table.ready.all_bits}")
        for n, (name, variable) in enumerate(self._facts.items()):
            self._line(f"{variable} = get({self._keys[name]})")
            self._line(f"if {variable} is None:")
            self._line(f"    missing |= {1 << n}")
            self._line("else:")
            self._number_only(name, 12)
            for i, table in enumerate(self._tables):
                if name in table.facts:
                    self._line(f"m{i} &= {self._allowed(table.facts[name], table.ready.inputs[name], variable)}", 12)
        for i, table in enumerate(self._tables):
            if table is not self.plain.top:  # of one whose facts are all given, its answer is all that matters
                self._line(f"if not missing & {self._behind(table)}:")
                for j, indexes in self._uppers(table):
                    kept = self._name(_Kept(partial(_answer, table.ready, indexes)))
                    self._line(f"    m{j} &= {kept}[m{i}]")
                self._line(f"    m{i} = 0")
        self._line(f"if len(record) + missing.bit_count() != {len(self._facts)} and not others(record):")
        self._line("    return otherwise(record)")
        self._line("except (KeyError, TypeError):", 4)
        self._line("return otherwise(record)")
        left = "".join(f"m{i}, " for i in range(len(self._tables)))
        self._line(f"return kept.get(({left}missing)) or kept.find(({left}missing), record)", 4)

    def _number_only(self, name: str, indent: int) -> None:
        fact, variable = self.plain.facts[name], self._facts[name]
        if fact.type != "number":
            return
        no_int = f"{variable}.__class__ is not int"
        self._line(f"if {no_int}:" if fact.whole else f"if {variable}.__class__ is not float and {no_int}:", indent)
        self._line("    return otherwise(record)", indent)

    def _table(self, i: int, table: PlainTable) -> None:
        if table is self.plain.top:
            self._left(i, table, self._decision)
            self._line(f"if m{i} is None:")
            self._line("    return otherwise(record)")
        for j, indexes in self._uppers(table):
            self._left(i, table, partial(_answer, table.ready, indexes))
            self._line(f"a{j}_{i} = m{i}")

    def _uppers(self, table: PlainTable) -> list[tuple[int, list[CellIndex]]]:
        """The tables that take the answer of this one, by place, with what they have on it."""
        found: list[tuple[int, list[CellIndex]]] = []
        for j, upper in enumerate(self._tables):
            indexes = [upper.ready.inputs[name] for name, lower in upper.answers.items() if lower is table]
            if indexes:
                found.append((j, indexes))
        return found

    def _behind(self, table: PlainTable) -> int:
        """The facts of a table and of those behind it, as bits."""
        bits = sum(1 << n for n, name in enumerate(self._facts) if name in table.facts)
        for lower in table.answers.values():
            bits |= self._behind(lower)
        return bits

    def _left(self, i: int, table: PlainTable, gives: Callable[[int], Any]) -> None:
        """Puts into the table's variable what `gives` makes of the boxes that are left of it."""
        parts = []
        for name, index in table.ready.inputs.items():
            lower = table.answers.get(name)
            if lower is None:
                parts.append(self._allowed(table.facts[name], index, self._facts[name]))
            else:
                parts.append(f"a{i}_{self._number[id(lower)]}")
        if len(parts) < 2:  # what stands for a number out of range is no set of boxes, and `&` finds that
            parts.append(str(table.ready.all_bits))
        self._line(f"m{i} = {self._name(_Kept(gives))}[{' & '.join(parts)}]")

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
        no_matter = self._no_matter
        if len(record) != len(self._facts) + len(self._before) or any(key not in record for key in self._before):
            self._before = tuple(key for key in record if key not in self._facts)
        return all(no_matter(key, record[key]) for key in self._before)


class _Partly(dict[tuple[int, ...], Decision]):
    """The decisions on records that do not give every fact."""

    def __init__(self, otherwise: Decides) -> None:
        super().__init__()
        self._otherwise = otherwise

    def find(self, left: tuple[int, ...], record: Mapping[str, Any]) -> Decision:
        """The decision on a record that leaves this; kept for others that do."""
        decision = self._otherwise(record)
        if len(self) >= _MOST_KEPT:
            self.clear()
        self[left] = decision
        return decision


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

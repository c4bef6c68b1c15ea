"""Records decided by generated code: a look-up for each fact, and the sets of boxes that are left as bits.

The code is made of names of its own alone. Keys of records, values and masks are objects that it refers to, never text
in it, so that nothing of a rulebook is ever run. A value that it does not know, a fact that is not given, a key that
makes a difference otherwise: with any of these the record goes the long way, through the front door.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Mapping, Sequence
from fractions import Fraction
from functools import partial
from math import ceil, floor, inf, nextafter
from typing import Any, NamedTuple

from yokebook.decision import Decision
from yokebook.flat.bounded import keep
from yokebook.flat.plain import Left, NotPlain, Plain
from yokebook.flat.plain_tables import PlainTable
from yokebook.model import Fact, Value
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
    """What decides records, with its text; by `otherwise` those that hold anything odd, or leave too much open.
    `no_matter` is asked of what a record gives beside the facts of the question. Raises NotPlain where a number cannot
    be looked up as a float."""
    writer = _Writer(plain, otherwise, _Others(frozenset(plain.facts), no_matter))
    text = writer.text()
    names = dict(writer.names)
    exec(compile(text, "<generated>", "exec"), names)
    decides: Decides = names["decide"]
    return decides, text


class _Table:
    """A table with what the code says of it: its bits are its boxes, then one for each answer that it takes, which is
    set unless the table that gives it is at fault."""

    def __init__(self, table: PlainTable, plain: Plain) -> None:
        self.table = table
        self.number = table.number
        self.ready = table.ready
        boxes = len(table.ready.boxes)
        self.bit = {name: 1 << boxes + i for i, name in enumerate(table.answers)}
        self.sound = sum(self.bit.values())
        self.all_bits = table.ready.all_bits | self.sound
        #: facts and tables by bit, as in what is missing of a record
        self._inputs: list[tuple[int, int]] = []
        place = {name: i for i, name in enumerate(plain.facts)}
        for name, index in table.ready.inputs.items():
            lower = table.answers.get(name)
            bit = place[name] if lower is None else len(place) + lower.number
            self._inputs.append((index.constrained, 1 << bit))

    def looked_at(self, left: int) -> int:
        """The facts and tables that it turns on where this is left of it."""
        return sum(bit for boxes, bit in self._inputs if boxes & left)

    def at_fault(self, left: int) -> list[str]:
        """The answers whose tables are at fault."""
        return [name for name, bit in self.bit.items() if not bit & left]

    def allowed(self, index: CellIndex) -> Callable[[Value], int]:
        """What is left of it by a value of one of its inputs."""
        return lambda value: index.allowed(value) | self.sound

    def left_by(self, lower: _Table, left: int) -> int:
        """What is left of it by the answer of a lower table of which this is left."""
        names = [name for name, each in self.table.answers.items() if each is lower.table]
        word = lower.table.answer(left & lower.ready.all_bits, lower.at_fault(left))
        if word is None:
            return self.all_bits & ~sum(self.bit[name] for name in names)
        allowed = self.all_bits
        for name in names:
            allowed &= self.allowed(self.ready.inputs[name])(word)
        return allowed


class _Writer:
    """Writes the code, and collects what it refers to."""

    def __init__(self, plain: Plain, otherwise: Decides, others: _Others) -> None:
        self.plain = plain
        self.names: dict[str, Any] = {"bisect": bisect_right, "otherwise": otherwise}
        self.names |= {"others": others.all_right, "kept": _Partly(plain, otherwise)}
        self.lines: list[str] = []
        self._facts = {name: f"v{i}" for i, name in enumerate(plain.facts)}
        self._keys = {name: self._name(name) for name in plain.facts}
        self._tables = [_Table(table, plain) for table in plain.tables()]
        self._top = self._tables[plain.top.number]
        self._decided = self._name(_Kept(self._decision))
        #: for each table, those that take its answer, with what they have left by it
        self._uppers: list[list[tuple[_Table, str]]] = [
            [
                (upper, self._name(_Kept(partial(upper.left_by, table))))
                for upper in self._tables
                if any(lower is table.table for lower in upper.table.answers.values())
            ]
            for table in self._tables
        ]

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
        self._line(f"if len(record) != {len(self._facts)} and not others(record, {len(self._facts)}):")
        self._line("    return otherwise(record)")
        for name, variable in self._facts.items():
            self._line(f"{variable} = record[{self._keys[name]}]")
            self._number_only(name, 8)
        for table in self._tables:
            self._left(table)
        self._line(f"decision = {self._decided}[m{self._top.number}]")
        self._line("except KeyError:", 4)
        self._line("return partly(record)")
        self._line("except TypeError:", 4)
        self._line("return otherwise(record)")
        self._line("return partly(record) if decision is None else decision", 4)

    def _left(self, table: _Table) -> None:
        """Puts into the table's variable what all its inputs leave of it, and what its answer leaves of others."""
        i, parts = table.number, []
        for name, index in table.ready.inputs.items():
            lower = table.table.answers.get(name)
            if lower is None:
                parts.append(self._allowed(table, name, index))
            elif f"a{i}_{lower.number}" not in parts:
                parts.append(f"a{i}_{lower.number}")
        if len(parts) < 2:  # what stands for a number out of range is no set of boxes, and `&` finds that
            parts.append(f"{table.all_bits:#x}")
        self._line(f"m{i} = {' & '.join(parts)}")
        for upper, kept in self._uppers[i]:
            self._line(f"a{upper.number}_{i} = {kept}[m{i}]")

    def _partly(self) -> None:
        """Records that do not give every fact: what is left of each table that the decision turns on, and which facts
        it turns on are missing, say all that matters of them."""
        self.lines += ["def partly(record):", "    try:"]
        self._line("missing = 0")
        self._line("get = record.get")
        for table in self._tables:
            self._line(f"m{table.number} = {table.all_bits:#x}")
        for n, (name, variable) in enumerate(self._facts.items()):
            self._line(f"{variable} = get({self._keys[name]})")
            self._line(f"if {variable} is None:")
            self._line(f"    missing |= {1 << n:#x}")
            self._line("else:")
            self._number_only(name, 12)
            for table in self._tables:
                if name in table.table.facts:
                    allowed = self._allowed(table, name, table.ready.inputs[name])
                    self._line(f"m{table.number} &= {allowed}", 12)
        self._line(f"given = {len(self._facts)} - missing.bit_count()")
        self._line("if len(record) != given and not others(record, given):")
        self._line("    return otherwise(record)")
        lower = [table for table in self._tables if table is not self._top]
        for table in lower:
            self._lower(table)
        self._line("except (KeyError, TypeError):", 4)
        self._line("return otherwise(record)")
        self._turning_on(lower)

    def _lower(self, table: _Table) -> None:
        """Whether a table is open; if not, what its answer leaves of others. `x` is what matters of it."""
        i = table.number
        self._line(f"n{i} = {self._name(_Kept(table.looked_at))}[m{i}]")
        self._line(f"if n{i} & missing:")
        self._line(f"    missing |= {self._table_bit(table):#x}")
        self._line(f"    x{i} = m{i}")
        self._line("else:")
        for upper, kept in self._uppers[i]:
            self._line(f"left = {kept}[m{i}]", 12)
            self._line(f"m{upper.number} &= left", 12)
        last, _ = self._uppers[i][-1]
        bit = next(bit for name, bit in last.bit.items() if last.table.answers[name] is table.table)
        self._line(f"x{i} = -1 if left & {bit:#x} else m{i}", 12)

    def _turning_on(self, lower: Sequence[_Table]) -> None:
        """Looks from the top down at what the decision turns on."""
        top = f"m{self._top.number}"
        self._line(f"need = {self._name(_Kept(self._top.looked_at))}[{top}]", 4)
        self._line("if not need & missing:", 4)
        self._line(f"decision = {self._decided}[{top}]")
        self._line("if decision is not None:")
        self._line("    return decision")
        for table in reversed(lower):
            i = table.number
            self._line(f"if x{i} >= 0:", 4)
            self._line(f"if need & {self._table_bit(table):#x}:")
            self._line(f"    need |= n{i}")
            self._line("else:")
            self._line(f"    x{i} = -1")
        key = "".join(f"x{table.number}, " for table in lower)
        left = "".join(f"m{table.number}, " for table in self._tables)
        self._line(f"key = ({key}{top}, missing & need)", 4)
        self._line(f"return kept.get(key) or kept.find(key, ({left}), missing, record)", 4)

    def _table_bit(self, table: _Table) -> int:
        return 1 << len(self._facts) + table.number

    def _number_only(self, name: str, indent: int) -> None:
        fact, variable = self.plain.facts[name], self._facts[name]
        if fact.type != "number":
            return
        no_int = f"{variable}.__class__ is not int"
        self._line(f"if {no_int}:" if fact.whole else f"if {variable}.__class__ is not float and {no_int}:", indent)
        self._line("    return otherwise(record)", indent)

    def _allowed(self, table: _Table, name: str, index: CellIndex) -> str:
        """What the value of a fact leaves of a table."""
        fact = self.plain.facts[name]
        shape = _shape(fact)
        names = [self._name(what) for what in shape.made(fact, index.cuts, table.allowed(index))]
        return shape.text.format(v=self._facts[name], **dict(zip(shape.names, names, strict=True)))

    def _decision(self, left: int) -> Decision | None:
        """What the top table says where this is left of it; None where it turns on a lower table at fault."""
        top = self._top
        return self.plain.full(left & top.ready.all_bits, top.at_fault(left))


#: What a value leaves of a table.
Allowed = Callable[[Value], int]


class _Shape(NamedTuple):
    """How the boxes that a value allows are looked up: the text, the names in it, and what these stand for."""

    text: str
    names: tuple[str, ...]
    made: Callable[[Fact, Sequence[Fraction], Allowed], tuple[object, ...]]


def _of_words(fact: Fact, cuts: Sequence[Fraction], allowed: Allowed) -> tuple[object, ...]:
    return ({word: allowed(word) for word in fact.values},)


def _of_yes_no(fact: Fact, cuts: Sequence[Fraction], allowed: Allowed) -> tuple[object, ...]:
    yes, no = allowed(True), allowed(False)
    return yes, no, {"yes": yes, "no": no}


def _of_whole(fact: Fact, cuts: Sequence[Fraction], allowed: Allowed) -> tuple[object, ...]:
    assert fact.low is not None and fact.high is not None
    numbers = range(ceil(fact.low), floor(fact.high) + 1)
    ends = {end for end, is_open in ((fact.low, fact.low_open), (fact.high, fact.high_open)) if is_open}
    return ({number: allowed(Fraction(number)) for number in numbers if number not in ends},)


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

    def all_right(self, record: Mapping[str, Any], given: int) -> bool:
        """Whether nothing of it makes a difference, beside so many of the facts. KeyError where something of it is not
        known."""
        no_matter, before = self._no_matter, self._before
        if len(record) != given + len(before) or any(key not in record for key in before):
            before = self._before = tuple(key for key in record if key not in self._facts)
        return all(no_matter(key, record[key]) for key in before)


class _Partly(dict[tuple[int, ...], Decision]):
    """The decisions on records that do not give every fact."""

    def __init__(self, plain: Plain, otherwise: Decides) -> None:
        super().__init__()
        self._plain = plain
        self._otherwise = otherwise

    def find(self, key: tuple[int, ...], left: Sequence[int], missing: int, record: Mapping[str, Any]) -> Decision:
        """The decision on a record of which this is left; kept for others with the same key."""
        plain = self._plain
        boxes = [bits & table.ready.all_bits for bits, table in zip(left, plain.tables(), strict=True)]
        names = frozenset(name for i, name in enumerate(plain.facts) if missing >> i & 1)
        try:
            decision = plain.decide_left(Left(boxes, names))
        except NotPlain:
            decision = self._otherwise(record)
        return keep(self, key, decision, _MOST_KEPT)


class _Kept(dict[int, Any]):
    """What a function gives for the boxes that are left, each worked out once."""

    def __init__(self, work: Callable[[int], Any]) -> None:
        super().__init__()
        self._work = work

    def __missing__(self, left: int) -> Any:
        return keep(self, left, self._work(left), _MOST_KEPT)


def _as_floats(fact: Fact, cuts: Sequence[Fraction], allowed: Allowed) -> tuple[object, ...]:
    """For numbers as floats or whole numbers: where the boxes allowed change, and which these are in each stretch,
    from below all; None outside the fact's domain. A float counts as the decimal that it is written as."""
    numbers = sorted({*cuts, *(end for end in (fact.low, fact.high) if end is not None)})
    found: list[float] = [-_EXACT]
    masks: list[int | None] = [None]

    def within(value: Fraction) -> int | None:
        below = fact.low is not None and (value < fact.low or (fact.low_open and value == fact.low))
        above = fact.high is not None and (value > fact.high or (fact.high_open and value == fact.high))
        return None if below or above else allowed(value)

    before: Fraction | None = None
    for number in numbers:
        at = float(number)
        if not found[-1] < at < _EXACT:
            raise NotPlain  # two numbers that are one as floats
        masks.append(within(number - 1 if before is None else (before + number) / 2))
        written = Fraction(repr(at))
        masks.append(within(written))
        found += [at, nextafter(at, inf)]
        before = number
    masks.append(within(Fraction(0) if before is None else before + 1))
    return [*found, _EXACT], [*masks, None]

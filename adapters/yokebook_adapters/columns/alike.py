"""Rows that are ruled alike in DuckDB: what matters of a row packed into few whole numbers, so that a million rows are
grouped, and joined with what was ruled of each group, by comparing numbers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from sqlglot import exp

from yokebook_adapters.columns.keys import Part, below_cuts, row_key
from yokebook_adapters.columns.logic import Sql, case, column, constant, either, missing, negated, null, surely

#: What one packed number may come to: it stays a whole number of eight bytes.
_LARGEST = 2**62


class Alike:
    """What rows have in common that are ruled alike. `parts` are the expressions to group and join by: packed numbers,
    columns as they stand that hold too many values to be packed, and a text for rows with something in an unusual form.
    """

    def __init__(self, key: Sequence[Part], different: Mapping[str, Sequence[str] | None]) -> None:
        self.parts: list[tuple[str, Sql]] = []
        self._packed: list[tuple[Sql, int]] = []  # packed numbers with how many values each has
        odd: list[Sql] = []
        for part in key:
            source = part.given.source
            words = different.get(source.name)
            cell = column(source.name)
            if part.cuts is None and source.holds == "text" and words is not None:
                self._pack(_word(cell, words), len(words) + 1)
            elif part.cuts is None and source.holds == "yes or no":
                self._pack(_index([(missing(cell), 0), (cell, 1)], 2), 3)
            elif part.cuts is None:
                self.parts.append((f"~as {source.key}", cell))
            else:
                below = list(enumerate(below_cuts(part.given.value, part.cuts), start=1))
                last = 2 * len(part.cuts) + 1
                arms = [(missing(part.given.value), 0), *((test, i) for i, test in below)]
                self._pack(_index(arms, last), last + 1)
                odd.append(negated(surely(part.given.usual)))
        self.parts += [(f"~alike {i}", packed) for i, (packed, _) in enumerate(self._packed)]
        any_odd = either(odd)
        if constant(any_odd) is not False:
            self.parts.append(("~odd", case([(any_odd, row_key(key))], null())))
        if not self.parts:
            self.parts.append(("~alike", exp.Literal.number(0)))

    def _pack(self, index: Sql, size: int) -> None:
        if self._packed and self._packed[-1][1] * size < _LARGEST:
            packed, before = self._packed[-1]
            scaled = exp.Mul(this=exp.paren(index), expression=exp.Literal.number(before))
            self._packed[-1] = (exp.Add(this=packed, expression=scaled), before * size)
        else:
            self._packed.append((exp.paren(index), size))

    def same(self, one: str, other: str) -> Sql:
        """The condition under which rows of two tables are alike."""
        pairs = ((exp.column(n, one, quoted=True), exp.column(n, other, quoted=True), n) for n, _ in self.parts)
        return exp.and_(
            *(
                exp.EQ(this=mine, expression=theirs)
                if name.startswith("~alike")
                else exp.NullSafeEQ(this=mine, expression=theirs)
                for mine, theirs, name in pairs
            )
        )


def _index(arms: Sequence[tuple[Sql, int]], otherwise: int) -> Sql:
    numbered = [(test, exp.Literal.number(number)) for test, number in arms]
    return exp.Cast(this=case(numbered, exp.Literal.number(otherwise)), to=exp.DataType.build("BIGINT"))


def _word(cell: Sql, words: Sequence[str]) -> Sql:
    """The place of a word among those found, after them all where there is none: by an enum, which is by far faster
    than comparing."""
    if not words:
        return exp.Cast(this=exp.Literal.number(0), to=exp.DataType.build("BIGINT"))
    code = exp.Anonymous(this="enum_code", expressions=[exp.TryCast(this=cell, to=enum(words))])
    index = exp.Coalesce(this=code, expressions=[exp.Literal.number(len(words))])
    return exp.Cast(this=index, to=exp.DataType.build("BIGINT"))


def enum(words: Sequence[str]) -> exp.DataType:
    """The type of a column that holds one of these words, at least one."""
    return exp.DataType(this=exp.DataType.Type.ENUM, expressions=[exp.Literal.string(word) for word in words])


def one_of(cell: Sql, words: Sequence[str]) -> Sql:
    """A cell that holds one of these words, as of that type: looked up in a list, which DuckDB does but once for each
    word of a stretch of rows, as it does not where types are changed."""
    listed = exp.Array(expressions=[exp.Literal.string(word) for word in words])
    typed = exp.Cast(
        this=listed, to=exp.DataType(this=exp.DataType.Type.ARRAY, expressions=[enum(words)], nested=True)
    )
    place = exp.Anonymous(this="list_position", expressions=[listed.copy(), cell.copy()])
    return exp.Anonymous(this="list_extract", expressions=[typed, place])

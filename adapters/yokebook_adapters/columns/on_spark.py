"""A question ruled on every row of a Spark DataFrame: the same SELECT as for DuckDB, in Spark's words.

Rows that are alike in all that matters are one kind; each kind is ruled once and joined back. Rows are not numbered.
Needs the extra `spark`.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from sqlglot import exp

from yokebook.code import Code
from yokebook_adapters.columns.compiling import ADDED, BY, KEY, OUTCOME, RULES, Compiled, compile_question
from yokebook_adapters.columns.given import Holds
from yokebook_adapters.columns.keys import row_key
from yokebook_adapters.columns.logic import column
from yokebook_adapters.columns.rows import Evaluator

if TYPE_CHECKING:
    from pyspark.sql import DataFrame  # pyright: ignore[reportMissingImports]

_WHOLE = ("tinyint", "smallint", "int", "bigint")

#: Views of one run: the frame, also with the key of what rows are alike in; one row of each kind; what was ruled.
_ROWS, _KEYED, _KINDS, _RULED = "yokebook_rows", "yokebook_keyed", "yokebook_kinds", "yokebook_ruled"

#: So many kinds of rows are sent to wherever the rows are, to be joined there; with more of them the rows are sorted.
_MOST_SENT = 100_000


def holds(type_: str) -> Holds:
    """What a Spark type's values are to a record."""
    if type_ == "string":
        return "text"
    if type_ == "boolean":
        return "yes or no"
    if type_ in _WHOLE:
        return "whole numbers"
    if type_.startswith("decimal"):
        return "decimals"
    return "floats" if type_ in ("float", "double") else "something else"


def rule_frame(
    frame: DataFrame, code: Code, question: str, document: str | None = None, facts: Mapping[str, str] | None = None
) -> DataFrame:
    """The frame with the columns of `compiling.ADDED`. `facts` says which columns give which facts, where they are not
    named after them. One row of each kind is collected and ruled at once; the frame that comes back is worked out when
    it is used.

    Raises InputFaults for columns that cannot be read, ValueError where no document, or more than one, answers.
    """
    spark = frame.sparkSession
    columns: list[tuple[str, Holds]] = [(name, holds(type_)) for name, type_ in frame.dtypes]
    compiled = compile_question(code, question, columns, document, facts=facts)
    keyed = exp.select("*", exp.alias_(row_key(compiled.key), KEY, quoted=True)).from_(exp.to_table(_ROWS))
    frame.createOrReplaceTempView(_ROWS)
    spark.sql(keyed.sql("spark")).createOrReplaceTempView(_KEYED)
    kinds = spark.sql(_kinds(compiled).sql("spark")).collect()  # few, and from here on all that is ruled on
    types = ", ".join(f"`{name}` {type_}" for name, type_ in [(KEY, "string"), *_fact_types(frame, compiled)])
    spark.createDataFrame(kinds, types).createOrReplaceTempView(_KINDS)
    found = _ruled(frame, compiled)
    ruled = spark.createDataFrame(found, ", ".join(f"`{name}` string" for name in (KEY, *ADDED)))
    ruled.createOrReplaceTempView(_RULED)
    joined = _joined(compiled)
    if len(found) <= _MOST_SENT:
        joined = joined.hint("BROADCAST(ruled)", dialect="spark")
    return spark.sql(joined.sql("spark"))


def _fact_types(frame: DataFrame, compiled: Compiled) -> list[tuple[str, str]]:
    types = dict(frame.dtypes)
    return [(source.name, types[source.name]) for source in compiled.columns]


def _kinds(compiled: Compiled) -> exp.Select:
    """One row of each kind that is ruled alike: its key and the cells that give facts."""
    names = [source.name for source in compiled.columns]
    made = [exp.PropertyEQ(this=exp.to_identifier(name, quoted=True), expression=column(name)) for name in names]
    cells = exp.alias_(exp.First(this=exp.Struct(expressions=made)), "cells")
    firsts = exp.select(column(KEY), *([cells] if names else [])).from_(_KEYED).group_by(column(KEY))
    fields = [exp.Dot.build([exp.column("cells"), exp.to_identifier(name, quoted=True)]) for name in names]
    taken = [exp.alias_(field, name, quoted=True) for field, name in zip(fields, names, strict=True)]
    return exp.select(column(KEY), *taken).from_(firsts.subquery("firsts"))


def _ruled(frame: DataFrame, compiled: Compiled) -> list[tuple[str | None, ...]]:
    """What SQL settles of each kind, and what the evaluator rules of the others."""
    names = [source.name for source in compiled.columns]
    query = compiled.select(exp.to_table(_KINDS), [KEY, *names], keyed=False)
    evaluator = Evaluator(compiled.code, compiled.question, compiled.document, compiled.columns)
    found: list[tuple[str | None, ...]] = []
    for row in frame.sparkSession.sql(query.sql("spark")).collect():
        if row[BY] is not None:
            found.append((row[KEY], row[OUTCOME], row[RULES], None, None, row[BY], None))
            continue
        one = evaluator.rule({name: row[name] for name in names})
        faults = "; ".join(map(str, one.faults)) or None
        found.append((row[KEY], one.outcome, one.rules, one.ask, one.also_held, one.by, faults))
    return found


def _joined(compiled: Compiled) -> exp.Select:
    """Every row with what was ruled of its kind."""
    own = [exp.column(name, "rows", quoted=True) for name in compiled.all_columns]
    added = [exp.column(name, "ruled", quoted=True) for name in ADDED]
    on = exp.EQ(this=exp.column(KEY, "rows", quoted=True), expression=exp.column(KEY, "ruled", quoted=True))
    select = exp.select(*own, *added).from_(exp.to_table(_KEYED, alias="rows"))
    return select.join(exp.to_table(_RULED, alias="ruled"), on=on, join_type="left")

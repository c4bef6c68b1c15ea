"""A question ruled on every row of a Spark DataFrame: the same SELECT as for DuckDB, in Spark's words.

Spark does not number rows; the frame comes back with the columns that are added. Needs the extra `spark`.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from sqlglot import exp

from yokebook.code import Code
from yokebook_adapters.columns.compiling import ADDED, BY, KEY, OUTCOME, RULES, Compiled, compile_question
from yokebook_adapters.columns.given import Holds
from yokebook_adapters.columns.logic import Sql, column, given, text
from yokebook_adapters.columns.rows import Evaluator

if TYPE_CHECKING:
    from pyspark.sql import DataFrame

_WHOLE = ("tinyint", "smallint", "int", "bigint")

#: Views of one run: the frame, what SQL settles of it, what the evaluator ruled.
_SOURCE, _BY_SQL, _ONE_BY_ONE = "yokebook_rows", "yokebook_by_sql", "yokebook_one_by_one"


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
    named after them. The combinations that SQL does not settle are collected and ruled one by one, at once.

    Raises InputFaults for columns that cannot be read, ValueError where no document, or more than one, answers.
    """
    spark = frame.sparkSession
    columns = [(name, holds(type_)) for name, type_ in frame.dtypes]
    compiled = compile_question(code, question, columns, document, facts=facts)
    frame.createOrReplaceTempView(_SOURCE)
    by_sql = spark.sql(compiled.select(exp.to_table(_SOURCE)).sql("spark"))
    by_sql.createOrReplaceTempView(_BY_SQL)
    rows = [tuple(row) for row in _ruled(by_sql, compiled)]
    types = ", ".join(f"`{name}` string" for name in (KEY, *ADDED))
    spark.createDataFrame(rows, types).createOrReplaceTempView(_ONE_BY_ONE)
    return spark.sql(_joined(compiled).sql("spark"))


def _ruled(by_sql: DataFrame, compiled: Compiled) -> list[list[str | None]]:
    """What the evaluator rules of each combination that SQL leaves open, with its key."""
    names = [source.name for source in compiled.columns]
    cells = exp.Struct(expressions=[exp.PropertyEQ(this=exp.to_identifier(n, quoted=True), expression=column(n)) for n in names])
    query = (
        exp.select(column(KEY), exp.alias_(exp.AnyValue(this=cells if names else text("")), "cells"))
        .from_(_BY_SQL)
        .where(given(column(KEY)))
        .group_by(column(KEY))
    )
    evaluator = Evaluator(compiled.code, compiled.question, compiled.document, compiled.columns)
    found: list[list[str | None]] = []
    for row in by_sql.sparkSession.sql(query.sql("spark")).collect():
        one = evaluator.rule(dict(zip(names, row["cells"], strict=True)) if names else {})
        faults = "; ".join(map(str, one.faults)) or None
        found.append([row[KEY], one.outcome, one.rules, one.ask, one.also_held, one.by, faults])
    return found


def _joined(compiled: Compiled) -> exp.Select:
    """Every row with what SQL settled or the evaluator ruled."""
    added: list[Sql] = []
    for name in ADDED:
        theirs: Sql = exp.column(name, "one", quoted=True)
        if name in (OUTCOME, RULES, BY):
            theirs = exp.Coalesce(this=exp.column(name, "sql", quoted=True), expressions=[theirs])
        added.append(exp.alias_(theirs, name, quoted=True))
    own = [exp.column(name, "sql", quoted=True) for name in compiled.all_columns]
    on = exp.EQ(this=exp.column(KEY, "sql", quoted=True), expression=exp.column(KEY, "one", quoted=True))
    select = exp.select(*own, *added).from_(exp.to_table(_BY_SQL, alias="sql"))
    return select.join(exp.to_table(_ONE_BY_ONE, alias="one"), on=on, join_type="left")

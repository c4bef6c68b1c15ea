"""A question ruled on every row of a Parquet or CSV file, in DuckDB: the file streams through, whatever its size."""

from __future__ import annotations

import threading
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

import duckdb
from sqlglot import exp

from yokebook.code import Code
from yokebook.front_door import FrontDoor
from yokebook.intake.vocabulary import vocabulary
from yokebook.load.faults import Fault, InputFaults
from yokebook_adapters.columns.compiling import (
    ADDED,
    ASK,
    BY,
    FAULTS,
    HELD,
    KEY,
    OUTCOME,
    RULES,
    Compiled,
    compile_question,
)
from yokebook_adapters.columns.given import Holds, SourceColumn, Words, source_columns, words_of
from yokebook_adapters.columns.logic import Sql, column, text
from yokebook_adapters.columns.rows import Evaluator, Ruled, read_words

#: How an output is written.
Format = Literal["csv", "jsonl", "parquet"]

#: Told now and then how far a run is: what it does, and which part of that is done (0 to 1).
Progress = Callable[[str, float], None]

#: The number of a row in its file, as people count: the first row of data is 1, in CSV 2, after the header.
ROW = "ruling.row"

#: Above so many different words a text column is not surveyed: it holds something else than words.
_MOST_WORDS = 1_000

_WHOLE = {"TINYINT", "SMALLINT", "INTEGER", "BIGINT", "UTINYINT", "USMALLINT", "UINTEGER", "UBIGINT", "HUGEINT"}


@dataclass
class Found:
    """What a run found: how often each outcome, by whom, the rows refused, and the exit status of it all."""

    rows: int = 0
    outcomes: Counter[str] = field(default_factory=Counter)
    by: Counter[str] = field(default_factory=Counter)
    ruled_one_by_one: int = 0  # how many different combinations the evaluator ruled on
    #: (the first row's number, how many rows are alike, what is wrong with them)
    refused: list[tuple[int, int, Fault]] = field(default_factory=list)
    statuses: set[int] = field(default_factory=set)


class Table:
    """A Parquet or CSV file as a table with row numbers."""

    def __init__(self, file: Path, connection: duckdb.DuckDBPyConnection) -> None:
        self.file = file
        self.connection = connection
        self.is_csv = file.suffix.lower() in (".csv", ".tsv", ".txt")
        self.first_row = 2 if self.is_csv else 1
        try:
            described = connection.execute(f"DESCRIBE {self._all().sql('duckdb')}").fetchall()
        except duckdb.Error as error:
            raise InputFaults([Fault(str(file), f"cannot be read: {_first_line(error)}")]) from None
        self.columns: list[tuple[str, Holds]] = [(name, holds(type_)) for name, type_, *_ in described]
        added = [name for name, _ in self.columns if name in (*ADDED, ROW, KEY) or name.startswith("~")]
        if added:
            raise InputFaults([Fault(f"column `{name}`", "the name is taken by a column to add") for name in added])

    def _all(self) -> exp.Select:
        path = text(str(self.file))
        if self.is_csv:
            options = [exp.EQ(this=exp.column(name), expression=exp.true()) for name in ("all_varchar", "header")]
            return exp.select("*").from_(exp.Anonymous(this="read_csv", expressions=[path, *options]))
        return exp.select("*").from_(exp.Anonymous(this="read_parquet", expressions=[path]))

    def source(self) -> Sql:
        """The rows, with their numbers in the column `ROW`."""
        number: Sql = exp.Window(this=exp.RowNumber())
        if not self.is_csv:
            return self._numbered_parquet()
        counted = exp.Add(this=number, expression=exp.Literal.number(self.first_row - 1))
        return self._all().select(exp.alias_(counted, ROW, quoted=True)).subquery("rows")

    def _numbered_parquet(self) -> Sql:
        flag = exp.EQ(this=exp.column("file_row_number"), expression=exp.true())
        scan = exp.Anonymous(this="read_parquet", expressions=[text(str(self.file)), flag])
        counted = exp.Add(this=exp.column("file_row_number"), expression=exp.Literal.number(self.first_row))
        names = [column(name) for name, _ in self.columns]
        return exp.select(*names, exp.alias_(counted, ROW, quoted=True)).from_(scan).subquery("rows")

    def survey(self, columns: Sequence[SourceColumn], door: FrontDoor) -> dict[str, Words]:
        """What words stand in the text columns that hold words, those not in a usual form read once each."""
        found: dict[str, Words] = {}
        for source in columns:
            term = source.term
            if source.holds != "text" or term is None or term.type not in ("choice", "yes_no"):
                continue
            different = exp.select(column(source.name)).distinct().from_(self._all().subquery("rows"))
            query = different.where(exp.not_(exp.Is(this=column(source.name), expression=exp.null())))
            words = [word for (word,) in self.connection.execute(query.limit(_MOST_WORDS + 1).sql("duckdb")).fetchall()]
            if len(words) <= _MOST_WORDS:
                found[source.name] = read_words(source, words, words_of(term), door)
        return found


def holds(type_: str) -> Holds:
    """What a DuckDB type's values are to a record."""
    name = type_.partition("(")[0]
    if name == "VARCHAR":
        return "text"
    if name == "BOOLEAN":
        return "yes or no"
    if name in _WHOLE:
        return "whole numbers"
    if name == "DECIMAL":
        return "decimals"
    return "floats" if name in ("DOUBLE", "FLOAT") else "something else"


def _first_line(error: duckdb.Error) -> str:
    return str(error).partition("\n")[0]


@dataclass
class Run:
    """One file ruled on one question."""

    code: Code
    question: str
    file: Path
    document: str | None = None
    facts: Mapping[str, str] | None = None  # column: fact, for columns not named after their fact
    threads: int | None = None
    progress: Progress | None = None

    def __post_init__(self) -> None:
        self.connection = duckdb.connect()
        self.connection.execute("SET enable_progress_bar = false")
        if self.threads is not None:
            self.connection.execute("SET threads = ?", [self.threads])
        self.table = Table(self.file, self.connection)
        words = vocabulary(self.code.book)
        self.sources = source_columns(self.table.columns, words, self.facts)
        self.compiled: Compiled | None = None

    def compile(self) -> Compiled:
        """The question over the file's columns; looks through the words of its text columns first."""
        if self.compiled is None:
            self.compiled = compile_question(
                self.code,
                self.question,
                self.table.columns,
                self.document,
                facts=self.facts,
                words=self.table.survey(self.sources, FrontDoor(self.code.book)),
            )
        return self.compiled

    def write(self, output: Path, format: Format, kept: Sequence[str] | None = None) -> Found:
        """Rules every row and writes it, in the file's order: the columns to keep (default: all) and those added.

        Raises InputFaults for columns that cannot be read, ValueError where no document, or more than one, answers.
        """
        compiled = self.compile()
        found = self._rule(compiled)
        row = exp.alias_(column(ROW), ROW, quoted=True)
        settled = compiled.select(self.table.source(), [ROW, *(kept or compiled.all_columns)])
        names = [column(name) for name in (kept or compiled.all_columns)]
        ours = [_either_column(name) for name in ADDED]
        query = exp.select(row, *names, *ours).from_(settled.subquery("columns"))
        on = exp.EQ(this=exp.column(KEY, "columns", quoted=True), expression=exp.column(KEY, "one_by_one", quoted=True))
        query = query.join(exp.to_table("ruled", alias="one_by_one"), on=on, join_type="left")
        options = {"parquet": "FORMAT parquet", "csv": "FORMAT csv, HEADER", "jsonl": "FORMAT json"}[format]
        self._execute(f"COPY ({query.sql('duckdb')}) TO {text(str(output)).sql('duckdb')} ({options})", "writing")
        return found

    # ---- rows that SQL does not settle ----------------------------------------------------------------------------------

    def _rule(self, compiled: Compiled) -> Found:
        """Counts what SQL settles, rules on each combination that it does not, and keeps that in the table `ruled`."""
        found = Found()
        ruled: list[tuple[str, Ruled]] = []
        groups = self._execute(self._groups(compiled).sql("duckdb"), "reading")
        evaluator = Evaluator(self.code, self.question, self.document, compiled.columns)
        question = self.code.book.questions[self.question]
        open_ones = sum(key is not None for key, *_ in groups)
        for key, outcome, count, first, cells in groups:
            found.rows += count
            if key is None:
                found.outcomes[outcome] += count
                found.by["columns"] += count
                found.statuses.add(_status(outcome, question.against))
                continue
            one = evaluator.rule(cells or {})
            ruled.append((key, one))
            found.outcomes[one.outcome] += count
            found.by[one.by] += count
            found.statuses.add(one.status)
            found.refused += [(first, count, fault) for fault in one.faults]
            found.ruled_one_by_one += 1
            if self.progress is not None:
                self.progress("ruling one by one", found.ruled_one_by_one / open_ones)
        found.refused.sort(key=lambda each: each[0])
        self._keep(ruled)
        return found

    def _groups(self, compiled: Compiled) -> exp.Select:
        """Of each key, the number of rows, the first one's number and its cells; settled rows by their outcome."""
        names = [source.name for source in compiled.columns]
        rows = compiled.select(self.table.source(), [ROW, *names])
        cells = exp.Struct(expressions=[exp.PropertyEQ(this=text(n), expression=column(n)) for n in names])
        open_row = exp.not_(exp.Is(this=column(KEY), expression=exp.null()))
        first = exp.Filter(
            this=exp.Anonymous(this="arg_min", expressions=[cells if names else exp.null(), column(ROW)]),
            expression=exp.Where(this=open_row),
        )
        return (
            exp.select(column(KEY), column(OUTCOME), exp.Count(this=exp.Star()), exp.Min(this=column(ROW)), first)
            .from_(rows.subquery("columns"))
            .group_by(column(KEY), column(OUTCOME))
            .order_by(exp.Literal.number(4))
        )

    def _keep(self, ruled: Sequence[tuple[str, Ruled]]) -> None:
        columns = ", ".join(f'"{name}" VARCHAR' for name in (KEY, *ADDED))
        self.connection.execute(f"CREATE OR REPLACE TEMP TABLE ruled ({columns})")
        rows = [
            [key, one.outcome, one.rules, one.ask, one.also_held, one.by, "; ".join(map(str, one.faults)) or None]
            for key, one in ruled
        ]
        for start in range(0, len(rows), 10_000):
            several = rows[start : start + 10_000]
            by_column = [list(values) for values in zip(*several, strict=True)]
            unnested = ", ".join("unnest(?)" for _ in by_column)
            self.connection.execute(f"INSERT INTO ruled SELECT {unnested}", by_column)

    def row(self, number: int) -> dict[str, Any] | None:
        """The cells of one row by its number, as people count; None where there is none."""
        where = exp.EQ(this=column(ROW), expression=exp.Literal.number(number))
        query = exp.select("*").from_(self.table.source()).where(where)
        done = self.connection.execute(query.sql("duckdb"))
        names = [each[0] for each in done.description or ()]
        cells = done.fetchone()
        return None if cells is None else dict(zip(names, cells, strict=True))

    def _execute(self, query: str, doing: str) -> list[Any]:
        """Runs a query in a thread of its own and tells now and then how far it is."""
        if self.progress is None:
            return self.connection.execute(query).fetchall()
        result: list[Any] = []
        failed: list[BaseException] = []

        def run() -> None:
            try:
                result.extend(self.connection.execute(query).fetchall())
            except BaseException as error:
                failed.append(error)

        worker = threading.Thread(target=run, daemon=True)
        worker.start()
        while worker.is_alive():
            worker.join(_TOLD_EVERY)
            done = self.connection.query_progress()
            self.progress(doing, max(0.0, done / 100))
        if failed:
            raise failed[0]
        self.progress(doing, 1.0)
        return result


#: Seconds between two tellings of how far a query is.
_TOLD_EVERY = 0.1


def _either_column(name: str) -> Sql:
    """What SQL settled, or what the evaluator ruled."""
    theirs = exp.column(name, "one_by_one", quoted=True)
    if name in (ASK, HELD, FAULTS):
        return exp.alias_(theirs, name, quoted=True)
    ours = exp.column(name, "columns", quoted=True)
    return exp.alias_(exp.Coalesce(this=ours, expressions=[theirs]), name, quoted=True)


def _status(outcome: str, against: frozenset[str]) -> int:
    """The exit status that a settled row gives; one with `would be` is not checked and never against."""
    from yokebook_adapters.outcome import AGAINST, SETTLED, UNSETTLED

    if outcome in against:
        return AGAINST
    return UNSETTLED if outcome.startswith("would be ") else SETTLED


def explain_row(run: Run, number: int) -> Any:
    """The evaluator's full explanation of one row. Raises InputFaults for a record that is refused, KeyError for no such
    row."""
    cells = run.row(number)
    if cells is None:
        raise KeyError(number)
    return Evaluator(run.code, run.question, run.document, run.sources).explain(cells)

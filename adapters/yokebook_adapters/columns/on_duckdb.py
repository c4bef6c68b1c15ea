"""A question ruled on every row of a Parquet or CSV file, in DuckDB: the file streams through, whatever its size."""

from __future__ import annotations

import tempfile
import threading
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any, Literal

import duckdb
from sqlglot import exp

from yokebook.code import Code
from yokebook.front_door import FrontDoor
from yokebook.graph import Graph
from yokebook.load.faults import Fault, InputFaults
from yokebook.ruling import Ruling
from yokebook_adapters.columns.alike import Alike, enum, one_of
from yokebook_adapters.columns.compiling import (
    ADDED,
    BY,
    KEY,
    OUTCOME,
    RULES,
    Compiled,
    compile_question,
)
from yokebook_adapters.columns.given import Holds, Words, source_columns, words_of
from yokebook_adapters.columns.logic import Sql, column, text
from yokebook_adapters.columns.rows import Evaluator, Ruled, many_in_a_row, read_words
from yokebook_adapters.outcome import AGAINST, SETTLED, UNSETTLED

#: How an output is written.
Format = Literal["csv", "jsonl", "parquet"]

#: Told now and then how far a run is: what it does, and which part of that is done (0 to 1).
Progress = Callable[[str, float], None]

#: The number of a row in its file, as people count: the first row of data is 1, in CSV 2, after the header.
ROW = "ruling.row"

#: Above so many different words a text column is not surveyed: it holds something else than words.
_MOST_WORDS = 1_000

#: Tables of one run: the combinations, the first row of each, what columns settle of them, what is ruled of the others,
#: and all of it; a column of the first.
_GROUPS, _FIRST, _SETTLED, _OTHERS, _RULED, _COUNT = "groups", "firsts", "settled", "others", "ruled", "rows alike"

#: How many rulings are put into the database at once.
_AT_ONCE = 10_000

_WHOLE = {"TINYINT", "SMALLINT", "INTEGER", "BIGINT", "UTINYINT", "USMALLINT", "UINTEGER", "UBIGINT", "HUGEINT"}


@dataclass
class Found:
    """What a run found: how often each outcome, by whom, the rows refused, and the exit status of it all."""

    rows: int = 0
    outcomes: Counter[str] = field(default_factory=Counter)
    by: Counter[str] = field(default_factory=Counter)
    ruled_one_by_one: int = 0  # how many different combinations the evaluator ruled on
    #: what is wrong, with the number of the first row in which it is and how many there are
    refused: dict[Fault, tuple[int, int]] = field(default_factory=dict)
    statuses: set[int] = field(default_factory=set)

    def add(self, one: Ruled, first: int, count: int) -> None:
        """Counts so many rows that are ruled alike, of which the first has this number."""
        self.rows += count
        self.outcomes[one.outcome] += count
        self.by[one.by] += count
        self.statuses.add(one.status)
        for fault in one.faults:
            before, so_many = self.refused.get(fault, (first, 0))
            self.refused[fault] = (min(first, before), so_many + count)


class Table:
    """A Parquet or CSV file as a table with row numbers. A CSV file is parsed once, into a Parquet file of its own."""

    def __init__(self, file: Path, connection: duckdb.DuckDBPyConnection, scratch: Path) -> None:
        self.file = file
        self.connection = connection
        self._written = _written(file)
        is_csv = file.suffix.lower() in (".csv", ".tsv", ".txt")
        self.first_row = 2 if is_csv else 1
        self.path = scratch / "rows.parquet" if is_csv else file
        try:
            if is_csv:
                options = [exp.EQ(this=exp.column(name), expression=exp.true()) for name in ("all_varchar", "header")]
                parsed = exp.select("*").from_(exp.Anonymous(this="read_csv", expressions=[text(str(file)), *options]))
                connection.execute(copy_to(parsed, self.path, "parquet"))
            rows = exp.select("*").from_(exp.Anonymous(this="read_parquet", expressions=[text(str(self.path))]))
            described = connection.execute(f"DESCRIBE {rows.sql('duckdb')}").fetchall()
        except duckdb.Error as error:
            raise InputFaults([Fault(str(file), f"cannot be read: {_first_line(error)}")]) from None
        self.columns: list[tuple[str, Holds]] = [(name, holds(type_)) for name, type_, *_ in described]
        taken = [name for name, _ in self.columns if name in (*ADDED, ROW, KEY) or name.startswith("~")]
        if taken:
            raise InputFaults([Fault(f"column `{name}`", "the name is taken by a column to add") for name in taken])

    def must_be_as_it_was(self) -> None:
        """Raises InputFaults where the file was changed since it was opened: a run reads Parquet more than once."""
        if self.path == self.file and _written(self.file) != self._written:
            raise InputFaults([Fault(str(self.file), "was changed while it was ruled on; rule on it again")])

    def rows(self, *more: Sql) -> exp.Select:
        """The rows, with their numbers in the column `ROW`, and what else is to be worked out of each."""
        flag = exp.EQ(this=exp.column("file_row_number"), expression=exp.true())
        scan = exp.Anonymous(this="read_parquet", expressions=[text(str(self.path)), flag])
        counted = exp.Add(this=exp.column("file_row_number"), expression=exp.Literal.number(self.first_row))
        names = [column(name) for name, _ in self.columns]
        return exp.select(*names, exp.alias_(counted, ROW, quoted=True), *more).from_(scan)

    def source(self) -> Sql:
        """The rows, to select from."""
        return self.rows().subquery("rows")


def different(connection: duckdb.DuckDBPyConnection, rows: Sql, name: str) -> list[str] | None:
    """The different values of a text column, in a stable order; None where there are too many to be words."""
    query = exp.select(column(name)).distinct().from_(rows)
    query = query.where(exp.not_(exp.Is(this=column(name), expression=exp.null()))).limit(_MOST_WORDS + 1)
    found = [value for (value,) in connection.execute(query.sql("duckdb")).fetchall()]
    return sorted(found) if len(found) <= _MOST_WORDS else None


def copy_to(query: exp.Select, file: Path, format: Format) -> str:
    """The statement that writes a query's rows to a file."""
    options = {"parquet": "FORMAT parquet", "csv": "FORMAT csv, HEADER", "jsonl": "FORMAT json"}[format]
    return f"COPY ({query.sql('duckdb')}) TO {text(str(file)).sql('duckdb')} ({options})"


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


def _written(file: Path) -> tuple[int, int] | None:
    """When a file was last written, and its size; None where there is none."""
    try:
        stat = file.stat()
    except OSError:
        return None
    return stat.st_mtime_ns, stat.st_size


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
        self.connection.execute("SET enable_progress_bar = true")  # so that it is counted how far a query is
        self.connection.execute("SET enable_progress_bar_print = false")
        if self.threads is not None:
            self.connection.execute("SET threads = ?", [self.threads])
        self.scratch = tempfile.TemporaryDirectory(prefix="yokebook-")
        self.table = Table(self.file, self.connection, Path(self.scratch.name))
        self.door = FrontDoor(self.code.book)
        self.sources = source_columns(self.table.columns, self.door.words, self.facts)
        #: the different values of text columns, None where there are too many
        self.different = {
            source.name: different(self.connection, self.table.source(), source.name)
            for source in self.sources
            if source.holds == "text"
        }

    @cached_property
    def compiled(self) -> Compiled:
        """The question over the file's columns, after a look at the words that stand in them.

        Raises ValueError where no document, or more than one, answers.
        """
        return compile_question(
            self.code, self.question, self.table.columns, self.document, facts=self.facts, words=self._words()
        )

    def close(self) -> None:
        """Lets go of the database and of what was put aside on disk."""
        self.connection.close()
        self.scratch.cleanup()

    def _words(self) -> dict[str, Words]:
        found: dict[str, Words] = {}
        for source in self.sources:
            different, term = self.different.get(source.name), source.term
            if different is not None and term is not None and term.type in ("choice", "yes_no"):
                found[source.name] = read_words(source, different, words_of(term), self.door)
        return found

    def write(self, output: Path, format: Format, kept: Sequence[str] | None = None) -> Found:
        """Rules every row and writes it, in the file's order: its number, the columns to keep (default: all) and those
        added.

        Raises ValueError where no document, or more than one, answers; InputFaults where the file was changed on the
        way.
        """
        alike = Alike(self.compiled.key, self.different)
        found = self._rule(alike)
        added = [exp.alias_(expression.copy(), name, quoted=True) for name, expression in alike.parts]
        as_words = self._as_words if format == "parquet" else column
        names = [column(ROW), *(as_words(name) for name in (kept or self.compiled.all_columns))]
        query = exp.select(*names, *(column(name) for name in ADDED)).from_(self.table.rows(*added).subquery("rows"))
        query = query.join(exp.to_table(_RULED), on=alike.same("rows", _RULED), join_type="left")
        self._execute(copy_to(query, output, format), "writing")
        if output.resolve() != self.file.resolve():
            self.table.must_be_as_it_was()
        return found

    def _as_words(self, name: str) -> Sql:
        """A column to write; one of few words by their places in a list of them, which Parquet takes far faster, and
        which reads as text all the same."""
        words = self.different.get(name)
        return exp.alias_(one_of(column(name), words), name, quoted=True) if words else column(name)

    # ---- each combination once --------------------------------------------------------------------------------------

    def _rule(self, alike: Alike) -> Found:
        """Rules on each different combination of what matters: by columns, and where that does not settle it by the
        evaluator. What is found is kept in the table `_RULED`."""
        self._group(alike)
        found = Found()
        settled = self.compiled.select(exp.to_table(_FIRST), [ROW], keyed=False)
        self.connection.execute(f"CREATE OR REPLACE TEMP TABLE {_SETTLED} AS {settled.sql('duckdb')}")
        counted = self.connection.execute(
            f'SELECT "{OUTCOME}", sum("{_COUNT}") FROM {_SETTLED} JOIN {_GROUPS} USING ("{ROW}") '
            f'WHERE "{BY}" IS NOT NULL GROUP BY ALL'
        ).fetchall()
        against = self.code.book.questions[self.question].against
        for outcome, count in counted:
            found.add(Ruled(outcome, "", None, None, "columns", (), _status(outcome, against)), 0, int(count))
        with many_in_a_row():
            self._rule_others(found)
        self._join(alike)
        return found

    def _group(self, alike: Alike) -> None:
        """Finds the combinations: what each has in common, the number of its first row and how many are alike in
        `_GROUPS`; the cells of the first rows in `_FIRST`."""
        added = [exp.alias_(expression.copy(), name, quoted=True) for name, expression in alike.parts]
        first = exp.alias_(exp.Min(this=column(ROW)), ROW, quoted=True)
        count = exp.alias_(exp.Count(this=exp.Star()), _COUNT, quoted=True)
        names = [column(name) for name, _ in alike.parts]
        query = exp.select(*names, first, count).from_(self.table.rows(*added).subquery("rows"))
        query = query.group_by(*(name.copy() for name in names))
        self._execute(f"CREATE OR REPLACE TEMP TABLE {_GROUPS} AS {query.sql('duckdb')}", "reading")
        cells = [exp.column(name, "rows", quoted=True) for name in (ROW, *(source.name for source in self.sources))]
        chosen = exp.select(*cells).from_(self.table.source())
        chosen = chosen.join(exp.to_table(_GROUPS), on=_equal(ROW, "rows", _GROUPS))
        self._execute(f"CREATE OR REPLACE TEMP TABLE {_FIRST} AS {chosen.sql('duckdb')}", "reading")

    def _rule_others(self, found: Found) -> None:
        """What the evaluator rules of the combinations that columns leave open, kept in the table `_OTHERS`."""
        evaluator = Evaluator(self.code, self.question, self.document, self.compiled.columns)
        left = self.connection.execute(
            f'SELECT {_FIRST}.*, "{_COUNT}" FROM {_FIRST} JOIN {_SETTLED} USING ("{ROW}") '
            f'JOIN {_GROUPS} USING ("{ROW}") WHERE "{BY}" IS NULL ORDER BY "{ROW}"'
        )
        names = [each[0] for each in left.description or ()]
        rows = left.fetchall()
        columns = ", ".join(f'"{name}" VARCHAR' for name in ADDED)
        self.connection.execute(f'CREATE OR REPLACE TEMP TABLE {_OTHERS} ("{ROW}" BIGINT, {columns})')
        for start in range(0, len(rows), _AT_ONCE):
            kept: list[tuple[object, ...]] = []
            for cells in rows[start : start + _AT_ONCE]:
                row = dict(zip(names, cells, strict=True))
                one = evaluator.rule(row)
                found.add(one, row[ROW], row[_COUNT])
                faults = "; ".join(map(str, one.faults)) or None
                kept.append((row[ROW], one.outcome, one.rules, one.ask, one.also_held, one.by, faults))
                self._tell("ruling", (start + len(kept)) / len(rows))
            unnested = ", ".join("unnest(?)" for _ in kept[0])
            by_column = [list(values) for values in zip(*kept, strict=True)]
            self.connection.execute(f"INSERT INTO {_OTHERS} SELECT {unnested}", by_column)
        found.ruled_one_by_one = len(rows)

    def _join(self, alike: Alike) -> None:
        """Puts what was ruled beside what rows have in common, in the table `_RULED`: few words as places in a list of
        them, as in `_as_words`."""
        names = ", ".join(f'"{name}"' for name in (ROW, *ADDED))
        by_columns = ", ".join(f'"{name}"' if name in (ROW, OUTCOME, RULES, BY) else "NULL" for name in (ROW, *ADDED))
        self.connection.execute(
            f"INSERT INTO {_OTHERS} ({names}) SELECT {by_columns} FROM {_SETTLED} WHERE \"{BY}\" IS NOT NULL"
        )
        added: list[Sql] = []
        for name in ADDED:
            words = different(self.connection, exp.to_table(_OTHERS), name)
            cast = column(name) if words is None else exp.Cast(this=column(name), to=enum(words or [""]))
            added.append(exp.alias_(cast, name, quoted=True))
        joined = exp.select(*(column(name) for name, _ in alike.parts), *added).from_(exp.to_table(_GROUPS))
        joined = joined.join(exp.to_table(_OTHERS), using=[exp.to_identifier(ROW, quoted=True)])
        self.connection.execute(f"CREATE OR REPLACE TEMP TABLE {_RULED} AS {joined.sql('duckdb')}")

    def row(self, number: int) -> dict[str, object] | None:
        """The cells of one row by its number, as people count; None where there is none."""
        where = exp.EQ(this=column(ROW), expression=exp.Literal.number(number))
        done = self.connection.execute(exp.select("*").from_(self.table.source()).where(where).sql("duckdb"))
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
            self._tell(doing, max(0.0, done / 100))
        if failed:
            raise failed[0]
        self._tell(doing, 1.0)
        return result

    def _tell(self, doing: str, done: float) -> None:
        if self.progress is not None:
            self.progress(doing, done)


#: Seconds between two tellings of how far a query is.
_TOLD_EVERY = 0.1


def _equal(name: str, one: str, other: str) -> Sql:
    return exp.EQ(this=exp.column(name, one, quoted=True), expression=exp.column(name, other, quoted=True))


def _status(outcome: str, against: frozenset[str]) -> int:
    """The exit status that a settled row gives; one with `would be` is not checked and never against."""
    if outcome in against:
        return AGAINST
    return UNSETTLED if outcome.startswith("would be ") else SETTLED


def explain_row(run: Run, number: int) -> tuple[Ruling, Graph]:
    """The evaluator's full explanation of one row, by its number, and the row's record.

    Raises InputFaults for a record that is refused, KeyError for no such row.
    """
    cells = run.row(number)
    if cells is None:
        raise KeyError(f"there is no row {number}")
    return Evaluator(run.code, run.question, run.document, run.sources).explain(cells)

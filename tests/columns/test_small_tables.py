"""Small tables in SQL: the text for one of them word for word, cells on and beside their bounds, and random tables."""

from __future__ import annotations

import random
from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given, settings
from sqlglot import exp

from columns.of_the_evaluator import by_columns, evaluated, faults_of
from columns.small_code import TYPES, code_of
from ruling import small
from ruling.small import rule, table
from yokebook.model import Cell, NoneOf, OneOf, Table, Within
from yokebook_adapters.columns.compiling import compile_question
from yokebook_adapters.columns.given import Holds

HALF = Fraction(5, 2)
GOLDEN = Path(__file__).parents[1] / "golden" / "columns.sql"


def one_cell(name: str, cell: Cell) -> Sequence[Table]:
    """A table whose one rule tests one cell: `high` where it holds, else `low`."""
    return [table("upper", [rule("upper#only", [{name: cell}], "high")], "low")]


def words(tables: Sequence[Table], name: str, type_: str, values: Sequence[object], folder: Path) -> list[str]:
    """The word of a row for each value of one column."""
    rows = [{name: value} for value in values]
    found, _, _ = by_columns(code_of(tables), "upper", rows, {name: type_}, folder)
    return [word for word, *_ in found]


class TestTheText:
    def test_is_word_for_word_as_kept(self):
        tables = [
            table(
                "upper",
                [
                    rule("upper#b", [{"contact.n": Within(HALF), "contact.p": OneOf(frozenset({True}))}], "high"),
                    rule("upper#a", [{"contact.x": NoneOf(frozenset({"a"}))}], "low", exception_to=("upper#b",)),
                ],
                "middle",
            )
        ]
        columns: list[tuple[str, Holds]] = [
            ("id", "whole numbers"), ("contact.x", "text"), ("contact.p", "yes or no"), ("contact.n", "floats"),
        ]  # fmt: skip
        select = compile_question(code_of(tables), "upper", columns).select(exp.to_table("devices"), ["id"])
        assert select.sql("duckdb", pretty=True) + "\n" == GOLDEN.read_text(encoding="utf-8")

    def test_holds_words_of_columns_as_data(self, tmp_path: Path):
        evil = "a'); DROP TABLE groups; --"
        name = 'note"; DROP TABLE rows; --'
        rows = [{"contact.x": "a", name: evil}, {"contact.x": evil, name: "'"}]
        tables = one_cell("contact.x", OneOf(frozenset({"a"})))
        found, by, counted = by_columns(
            code_of(tables), "upper", rows, {"contact.x": "VARCHAR", name.replace('"', '""'): "VARCHAR"}, tmp_path
        )
        assert [word for word, *_ in found] == ["high", "refused"]
        assert by == ["columns", "front door"]
        assert counted.rows == 2


class TestCells:
    #: Below, at and above a bound of 2 1/2, and nothing given.
    VALUES = (2.25, 2.5, 2.75, 2.4999999, 2.5000001, None)

    @pytest.mark.parametrize(
        ("cell", "expected"),
        [
            (Within(HALF), "low high high low high"),
            (Within(HALF, low_open=True), "low low high low high"),
            (Within(None, high=HALF), "high high low high low"),
            (Within(None, high=HALF, high_open=True), "high low low high low"),
            (OneOf(frozenset({HALF})), "low high low low low"),
            (NoneOf(frozenset({HALF})), "high low high high high"),
            (Within(Fraction(1, 3), high=HALF), "high high low high low"),
        ],
    )
    def test_below_at_and_above_a_bound(self, cell: Cell, expected: str, tmp_path: Path):
        found = words(one_cell("contact.n", cell), "contact.n", "DOUBLE", self.VALUES, tmp_path)
        assert found == [*expected.split(), "cannot tell"]

    def test_a_sum_of_floats_is_not_the_decimal_it_looks_like(self, tmp_path: Path):
        tables = one_cell("contact.n", Within(None, high=Fraction(3, 10)))
        found = words(tables, "contact.n", "DOUBLE", (0.3, 0.1 + 0.2, 0.30000000000000004, 0.1), tmp_path)
        assert found == ["high", "low", "low", "high"]

    @pytest.mark.parametrize("type_", ["DOUBLE", "DECIMAL(18, 3)", "FLOAT", "VARCHAR"])
    def test_numbers_in_any_type_of_column(self, type_: str, tmp_path: Path):
        values: list[object] = [2, 2.5, 3] if type_ != "VARCHAR" else ["2", "2.5", "3.000"]
        found = words(one_cell("contact.n", Within(HALF)), "contact.n", type_, values, tmp_path)
        assert found == ["low", "high", "high"]

    def test_what_is_no_number_of_the_fact_is_refused_with_what_is_allowed(self, tmp_path: Path):
        values = (float("nan"), float("inf"), -1.0, 1e300, 4.0)
        found = words(one_cell("contact.n", Within(HALF)), "contact.n", "DOUBLE", values, tmp_path)
        assert found == ["refused"] * 4 + ["high"]
        faults = faults_of(tmp_path)
        assert [fault is None for fault in faults] == [False] * 4 + [True]
        assert all("column `contact.n`" in str(fault) and "allowed" in str(fault) for fault in faults[:2])

    def test_whole_numbers_are_whole(self, tmp_path: Path):
        tables = one_cell("contact.m", OneOf(frozenset({Fraction(2)})))
        assert words(tables, "contact.m", "DECIMAL(6, 2)", (Decimal("2.00"), Decimal("2.50")), tmp_path) == [
            "high", "refused",
        ]  # fmt: skip

    def test_words_are_taken_as_a_schedule_reads_them(self, tmp_path: Path):
        values = ("a", " a ", "A", "N/A", "tbd", "", "b", None, "a\u0007")
        found = words(one_cell("contact.x", OneOf(frozenset({"a"}))), "contact.x", "VARCHAR", values, tmp_path)
        assert found == [
            "high", "high", "refused", "cannot tell", "cannot tell", "cannot tell", "low", "cannot tell", "refused",
        ]  # fmt: skip

    def test_yes_and_no_as_words_are_read_and_numbers_are_not(self, tmp_path: Path):
        tables = one_cell("contact.p", OneOf(frozenset({True})))
        assert words(tables, "contact.p", "VARCHAR", ("yes", "true", "no", "false", "Yes ", "y"), tmp_path) == [
            "high", "high", "low", "low", "refused", "refused",
        ]  # fmt: skip
        assert words(tables, "contact.p", "INTEGER", (1, 0), tmp_path) == ["refused", "refused"]


class TestWhatColumnsLeaveToTheEvaluator:
    def test_a_conflict_and_a_forbidden_silence(self, tmp_path: Path):
        rules = [
            rule("upper#one", [{"contact.x": OneOf(frozenset({"a"}))}], "low"),
            rule("upper#two", [{"contact.p": OneOf(frozenset({True}))}], "high"),
        ]
        rows = [
            {"contact.x": "a", "contact.p": True}, {"contact.x": "b", "contact.p": False},
            {"contact.x": "a", "contact.p": False}, {"contact.x": "a", "contact.p": None},
        ]  # fmt: skip
        columns = {name: TYPES[name] for name in ("contact.x", "contact.p")}
        found, by, _ = by_columns(code_of([table("upper", rules)]), "upper", rows, columns, tmp_path)
        assert [word for word, *_ in found] == ["conflict", "silent", "low", "cannot tell"]
        assert by == ["evaluator", "evaluator", "columns", "evaluator"]
        assert [ask for _, _, ask, _ in found] == [None, None, None, "contact.p"]

    def test_an_outcome_that_an_argued_reading_would_change(self, tmp_path: Path):
        where = {"reading.r": OneOf(frozenset({"three"})), "contact.p": OneOf(frozenset({True}))}
        argued = [rule("upper#r", [where], "high")]
        rows = [{"contact.p": True}, {"contact.p": False}]
        found, by, _ = by_columns(
            code_of([table("upper", argued, "low")]), "upper", rows, {"contact.p": "BOOLEAN"}, tmp_path
        )
        assert by == ["evaluator", "columns"]
        assert found == [("low", "", None, "high (r: three)"), ("low", "", None, None)]


NAMES = ("contact.x", "contact.p", "contact.n", "contact.m", "reading.r")


def _random_rows(rng: random.Random, size: int) -> list[dict[str, object]]:
    found = []
    for _ in range(size):
        row: dict[str, object] = {}
        for name in ("contact.x", "contact.p", "contact.n", "contact.m"):
            value = rng.choice((None, *small.COMPLETIONS[name]))
            row[name] = float(value) if isinstance(value, Fraction) else value
        found.append(row)
    return found


def _same(lower: Table, upper: Table, rng: random.Random, size: int) -> None:
    code = code_of([lower, upper])
    rows = _random_rows(rng, size)
    columns = {name: TYPES[name] for name in rows[0]}
    with TemporaryDirectory() as folder:
        found, _, _ = by_columns(code, "upper", rows, columns, Path(folder))
        assert found == evaluated(code, "upper", rows, columns, Path(folder) / "empty.parquet")


@settings(max_examples=8, deadline=None)
@given(
    small.tables("lower", ("contact.x", "contact.p", "reading.r"), most=3),
    small.tables("upper", (*NAMES, "answer.lower")),
    small.st.randoms(use_true_random=False),
)
def test_random_chains_are_ruled_as_the_evaluator_does(lower: Table, upper: Table, rng: random.Random) -> None:
    _same(lower, upper, rng, 25)


@pytest.mark.slow
@settings(max_examples=60, deadline=None)
@given(
    small.tables("lower", ("contact.x", "contact.p", "reading.r"), most=3),
    small.tables("upper", (*NAMES, "answer.lower")),
    small.st.randoms(use_true_random=False),
)
def test_many_random_chains_are_ruled_as_the_evaluator_does(lower: Table, upper: Table, rng: random.Random) -> None:
    _same(lower, upper, rng, 40)



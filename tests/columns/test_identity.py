"""Columns say what the evaluator says: the word, the rules that stand, the first fact to ask, what is also held."""

from __future__ import annotations

import gc
import random
from pathlib import Path

import duckdb
import pytest
from sqlglot import exp

import yokebook
from columns.devices import COLUMNS, pool, write, write_many
from columns.of_the_evaluator import by_columns, evaluated, random_table
from yokebook.code import Code
from yokebook.front_door import FrontDoor
from yokebook.load.faults import InputFaults
from yokebook_adapters.columns import guards, on_duckdb, tables
from yokebook_adapters.columns.compiling import ASK, HELD, OUTCOME, RULES, compile_question
from yokebook_adapters.columns.given import Holds
from yokebook_adapters.columns.logic import false
from yokebook_adapters.columns.on_duckdb import Run
from yokebook_adapters.columns.rows import Evaluator, many_in_a_row, record_of
from yokebook_adapters.outcome import AGAINST, REFUSED, SETTLED, UNSETTLED, status_of

BOOK = yokebook.load()


def law(name: str) -> Code:
    """A bare edition by its year, or the demo city's law on a day."""
    if name == "city":
        return BOOK.in_force("demo/tamarisk/brindle-falls", on="2024-10-15")
    return BOOK.edition("nfpa-70", name)


#: A chain of tables with figures over lists and readings; look-ups; an edition carried on trust; arithmetic; a place.
ASKED = [
    ("2014", "marking.required", 0, True),
    ("2026", "marking.required", 1, True),
    ("city", "marking.required", 0, True),
    ("2017", "protection.tamper-resistant", 0, True),
    ("2023", "receptacle.horsepower", 0, True),
    ("2020", "lighting.wall-control", 0, True),
    ("2023", "control.low-voltage", 0, True),
    ("2014", "control.rating.cord-and-plug", 0, False),  # figures that columns leave to the evaluator
]


@pytest.mark.parametrize(("edition", "question", "stated", "settles"), ASKED)
def test_random_rows(edition: str, question: str, stated: int, settles: bool, tmp_path: Path):
    code = law(edition)
    columns, different = random_table(code, question, seed=11, size=36, stated=stated)
    rows = random.Random(3).choices(different, k=2_000)
    found, by, counted = by_columns(code, question, rows, columns, tmp_path)
    assert found == evaluated(code, question, rows, columns, tmp_path / "empty.parquet")
    assert ("columns" in by) is settles
    assert counted.rows == 2_000
    assert counted.ruled_one_by_one <= 36


def test_most_plausible_devices_are_settled_by_columns(tmp_path: Path):
    rows = pool(seed=5, size=110)
    found, by, _ = by_columns(law("2014"), "marking.required", rows, COLUMNS, tmp_path)
    expected = evaluated(law("2014"), "marking.required", rows, COLUMNS, tmp_path / "empty.parquet")
    assert found == expected
    settled = [said[2] is None and said[3] is None for said in expected]
    assert by.count("columns") > 0.8 * settled.count(True)


def test_without_the_arms_for_what_is_not_known_rows_are_ruled_wrongly(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    code = law("2014")
    rows = pool(seed=5, size=60)
    expected = evaluated(code, "marking.required", rows, COLUMNS, tmp_path / "empty.parquet")
    monkeypatch.setattr(tables, "missing", lambda value: false())
    monkeypatch.setattr(tables, "maybe", tables.surely)
    found, _, _ = by_columns(code, "marking.required", rows, COLUMNS, tmp_path)
    assert sum(one != other for one, other in zip(found, expected, strict=True)) > 3


def test_without_the_guards_rows_that_cannot_be_are_ruled_on(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    code = law("2014")
    columns, rows = random_table(code, "marking.required", seed=1, size=40)
    expected = evaluated(code, "marking.required", rows, columns, tmp_path / "empty.parquet")
    assert "impossible" in {word for word, *_ in expected}
    monkeypatch.setattr(guards, "_not_impossible", lambda inputs, law: ())
    found, _, _ = by_columns(code, "marking.required", rows, columns, tmp_path)
    assert found != expected


def test_what_was_ruled_before_under_the_same_law_is_ruled_so_again(tmp_path: Path):
    code = law("city")
    columns, rows = random_table(code, "marking.required", seed=9, size=30)
    expected = evaluated(law("city"), "marking.required", rows, columns, tmp_path / "empty.parquet")
    for turn in (rows, rows[::-1]):
        found, _, _ = by_columns(code, "marking.required", turn, columns, tmp_path)
        assert found == (expected if turn is rows else expected[::-1])


def test_rows_left_to_the_evaluator_give_the_exit_status_of_their_rulings(tmp_path: Path):
    found: set[int] = set()
    for edition, question in (("2014", "control.permitted"), ("2017", "protection.tamper-resistant")):
        code = law(edition)
        columns, rows = random_table(code, question, seed=8, size=25)
        sources = Run(code, question, write((), columns, tmp_path / "empty.parquet")).sources
        evaluator, door = Evaluator(code, question, None, sources), FrontDoor(code.book)
        for row in rows:
            try:
                expected = status_of(code.rule(question, record_of(sources, row, door)).to_dict())
            except InputFaults:
                expected = REFUSED
            assert evaluator.rule(row).status == expected
            found.add(expected)
    assert found == {SETTLED, AGAINST, REFUSED, UNSETTLED}


def test_a_run_leaves_the_garbage_collector_as_it_was(tmp_path: Path):
    frozen = gc.get_freeze_count()
    gc.unfreeze()
    try:
        by_columns(law("2014"), "marking.required", pool(seed=6, size=4), COLUMNS, tmp_path)
        assert gc.get_freeze_count() == 0
        with many_in_a_row():
            with many_in_a_row():
                assert gc.get_freeze_count() > 1_000
            assert gc.get_freeze_count() > 1_000  # what was so before stays so
        assert gc.get_freeze_count() == 0
    finally:
        if frozen:
            gc.freeze()


def test_columns_of_more_than_a_few_words_are_ruled_alike(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    code, rows = law("2014"), pool(seed=3, size=24)
    expected = evaluated(code, "marking.required", rows, COLUMNS, tmp_path / "empty.parquet")
    monkeypatch.setattr(on_duckdb, "_MOST_WORDS", 2)
    found, by, _ = by_columns(code, "marking.required", rows, COLUMNS, tmp_path)
    assert found == expected
    assert set(by) == {"columns", "evaluator"}


def test_rows_are_carried_along_as_they_are(tmp_path: Path):
    columns = {**COLUMNS, "note": "VARCHAR"}
    odd = ({"space.use": "Office, it's"}, {"load.kind": " lamp"}, {"control.kind": "", "note": None}, {})
    rows = [{"note": f"n{i}", **row, **change} for i, (row, change) in enumerate(zip(pool(2, 4), odd, strict=True))]
    by_columns(law("2014"), "marking.required", rows, columns, tmp_path)
    names = ", ".join(f'"{name}"' for name in ("id", *columns))
    query = "SELECT {} FROM read_parquet('{}') ORDER BY id"
    given, ruled = (
        duckdb.connect().execute(query.format(names, tmp_path / file)) for file in ("rows.parquet", "ruled.parquet")
    )
    assert [each[:2] for each in ruled.description or ()] == [each[:2] for each in given.description or ()]
    found = ruled.fetchall()
    assert found == [(i, *(row[name] for name in columns)) for i, row in enumerate(rows)]


def test_a_file_that_is_changed_meanwhile_is_ruled_on_again(tmp_path: Path):
    file = write(pool(1, 5), COLUMNS, tmp_path / "rows.parquet")
    run = Run(law("2014"), "marking.required", file)
    write(pool(2, 6), COLUMNS, file)
    with pytest.raises(InputFaults, match="changed while it was ruled on"):
        run.write(tmp_path / "ruled.parquet", "parquet")


def test_text_for_a_database_of_ones_own_has_no_join(tmp_path: Path):
    """DuckDB joins with a long list of words as with a table, which for many rows takes many times as long."""
    columns: list[tuple[str, Holds]] = [
        (name, "text" if type_ == "VARCHAR" else "yes or no") for name, type_ in COLUMNS.items()
    ]
    text = compile_question(law("2014"), "marking.required", columns).select(exp.to_table("devices"))
    assert sum(len(each.expressions) for each in text.find_all(exp.In)) > 50
    connection = duckdb.connect()
    connection.execute(f"CREATE TABLE devices AS FROM read_parquet('{write(pool(1, 9), COLUMNS, tmp_path / 'a')}')")
    plan = connection.execute(f"EXPLAIN (FORMAT json) {text.sql('duckdb')}").fetchall()[0][1]
    assert "SEQ_SCAN" in plan
    assert "JOIN" not in plan


@pytest.mark.slow
@pytest.mark.parametrize(
    ("edition", "question", "plausible", "odd"),
    [("2014", "marking.required", 400, 300), ("2023", "receptacle.horsepower", 0, 300)],
)
def test_a_million_rows(edition: str, question: str, plausible: int, odd: int, tmp_path: Path):
    """Plausible rows and rows made of anything, with nulls, words in no usual form and mixed case; for the second
    question numbers on and beside their bounds."""
    code = law(edition)
    columns, made = random_table(code, question, seed=1, size=odd)
    columns |= COLUMNS if plausible else {}
    different = [*pool(seed=1, size=plausible), *made]
    expected = evaluated(code, question, different, columns, tmp_path / "empty.parquet")
    connection = duckdb.connect()
    kinds = write(different, columns, tmp_path / "kinds.parquet")
    many = tmp_path / "many.parquet"
    connection.execute("SELECT setseed(0.1)")
    connection.execute(
        f"COPY (SELECT kinds.* FROM (SELECT floor(random() * {len(different)})::INTEGER AS k FROM range(1000000)) "
        f"JOIN read_parquet('{kinds}') AS kinds ON kinds.id = k) TO '{many}' (FORMAT parquet)"
    )
    run = Run(code, question, many)
    counted = run.write(tmp_path / "ruled.parquet", "parquet")
    run.close()
    assert counted.rows == 1_000_000
    names = ", ".join(f'"{name}"' for name in (OUTCOME, RULES, ASK, HELD))
    found = connection.execute(
        f"SELECT DISTINCT id, {names} FROM read_parquet('{tmp_path / 'ruled.parquet'}') ORDER BY id"
    ).fetchall()
    assert found == [(i, *one) for i, one in enumerate(expected)]


def test_rows_drawn_for_the_benchmark_have_the_share_that_columns_leave_open(tmp_path: Path):
    code = law("2014")
    file = write_many(code, tmp_path / "many.parquet", 5_000, unsettled=0.2, different=80)
    run = Run(code, "marking.required", file)
    counted = run.write(tmp_path / "ruled.parquet", "parquet")
    assert counted.rows == 5_000
    assert 800 <= 5_000 - counted.by["columns"] <= 1_200

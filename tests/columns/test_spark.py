"""The same SELECT on Spark says what the evaluator says. Slow, and only where pyspark and Java are there."""

from __future__ import annotations

import random
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import duckdb
import pytest

import yokebook
from columns.devices import COLUMNS, pool, write
from columns.of_the_evaluator import evaluated, random_table
from yokebook_adapters.columns.compiling import ASK, BY, HELD, OUTCOME, RULES

pyspark = pytest.importorskip("pyspark", reason="the extra `spark` is not installed")
pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(shutil.which("java") is None, reason="there is no Java, which Spark runs in"),
]


@pytest.fixture(scope="module")
def spark() -> Iterator[Any]:
    from pyspark.sql import SparkSession  # pyright: ignore[reportMissingImports]

    session = (
        SparkSession.builder.master("local[2]")
        .config("spark.ui.enabled", "false")
        .config("spark.sql.shuffle.partitions", "4")
        .getOrCreate()
    )
    yield session
    session.stop()


def test_a_million_rows_with_nulls_bounds_and_mixed_case(spark: Any, tmp_path: Path):
    from yokebook_adapters.columns.on_spark import rule_frame

    code = yokebook.load().edition("nfpa-70", "2014")
    columns, odd = random_table(code, "marking.required", seed=4, size=60)
    columns |= COLUMNS
    different = [*pool(seed=4, size=140), *odd]
    said = evaluated(code, "marking.required", different, columns, tmp_path / "empty.parquet")
    kinds = write(different, columns, tmp_path / "kinds.parquet")
    many = tmp_path / "many.parquet"
    connection = duckdb.connect()
    connection.execute(
        f"COPY (SELECT kinds.* FROM (SELECT hash(range) % {len(different)} AS k FROM range(1000000)) "
        f"JOIN read_parquet('{kinds}') AS kinds ON kinds.id = k) TO '{many}' (FORMAT parquet)"
    )
    ruled = rule_frame(spark.read.parquet(str(many)), code, "marking.required")
    ruled.createOrReplaceTempView("ruled")
    names = ", ".join(f"`{name}`" for name in (OUTCOME, RULES, ASK, HELD, BY))
    found = spark.sql(f"SELECT id, {names}, count(*) AS n FROM ruled GROUP BY ALL ORDER BY id").collect()
    assert sum(row["n"] for row in found) == 1_000_000
    assert [tuple(row)[:5] for row in found] == [(i, *one) for i, one in enumerate(said)]
    assert sum(row["n"] for row in found if row[BY] == "columns") > 300_000


def test_numbers_on_and_beside_their_bounds(spark: Any, tmp_path: Path):
    from yokebook_adapters.columns.on_spark import rule_frame

    code = yokebook.load().edition("nfpa-70", "2023")
    columns, different = random_table(code, "receptacle.horsepower", seed=6, size=80)
    different += [{**row, name: value} for row in different[:4] for name, type_ in columns.items() if type_ == "DOUBLE"
                  for value in (float("nan"), 0.1 + 0.2, 1e300)]  # fmt: skip
    random.Random(1).shuffle(different)
    said = evaluated(code, "receptacle.horsepower", different, columns, tmp_path / "empty.parquet")
    kinds = write(different, columns, tmp_path / "kinds.parquet")
    ruled = rule_frame(spark.read.parquet(str(kinds)), code, "receptacle.horsepower")
    names = ", ".join(f"`{name}`" for name in (OUTCOME, RULES, ASK, HELD))
    ruled.createOrReplaceTempView("ruled")
    found = spark.sql(f"SELECT id, {names} FROM ruled ORDER BY id").collect()
    assert [tuple(row) for row in found] == [(i, *one) for i, one in enumerate(said)]

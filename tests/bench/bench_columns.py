"""How long a question takes on a table of devices: run `python tests/bench/bench_columns.py`. Nothing is asserted but
that the answers agree.

The shipped marking question on made-up devices (tests/columns/devices.py), in DuckDB on two threads, everything from
the Parquet file to the ruled Parquet file, side by side in one run with a CASE written by hand and with the evaluator
in a loop; then deciding alone on rows in memory, beside that CASE and the same in numpy. A run is timed under law that
was just put in force, and again under the same law: then the evaluator knows the kinds of rows that it ruled on. Growth
with rows and with kinds of rows comes each in a process of its own, with the most memory that it held. `--rows` and
`--repeat` set the size and how often; `--big` lets it grow to ten times as many rows, and to four times as many kinds.
"""

from __future__ import annotations

import argparse
import gc
import json
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1]))

import duckdb
from sqlglot import exp

import yokebook
from bench.by_hand import CASE, LOOKED_AT, SAID, with_numpy
from columns.devices import COLUMNS, connect, write_many
from yokebook.code import Code
from yokebook.front_door import FrontDoor
from yokebook_adapters.columns.compiling import BY, OUTCOME, RULES
from yokebook_adapters.columns.on_duckdb import Run
from yokebook_adapters.columns.rows import record_of

QUESTION = "marking.required"
THREADS = 2


def code() -> Code:
    """The law that is ruled by."""
    return yokebook.load().edition("nfpa-70", "2014")


def timed(work: Callable[[], Any], repeat: int) -> float:
    """The median time of a work, in seconds. What was left over before is collected first."""
    taken = []
    for _ in range(repeat):
        gc.collect()
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    return statistics.median(taken)


def by_columns(law: Code, file: Path, output: Path, kept: list[str] | None = None) -> Run:
    """The whole of it: opened, compiled, ruled, written."""
    run = Run(law, QUESTION, file, threads=THREADS)
    run.write(output, "parquet", kept)
    run.close()
    return run


def by_hand(file: Path, output: Path, kept: str = "*") -> None:
    """The CASE written by hand, over the same file into the same columns."""
    connection = connect()
    connection.execute(f"SET threads = {THREADS}")
    connection.execute(
        f"COPY (SELECT {kept}, CASE WHEN rule IS NULL THEN NULL WHEN rule = '-' THEN 'not required' "
        f"ELSE 'required' END AS outcome, CASE WHEN rule = '-' THEN '' ELSE rule END AS rules, "
        f"NULL::VARCHAR AS ask, 'columns' AS by "
        f"FROM (SELECT *, {CASE} AS rule FROM read_parquet('{file}'))) TO '{output}' (FORMAT parquet)"
    )
    connection.close()


def agree(file: Path, ours: Path, theirs: Path) -> dict[str, float]:
    """The shares of rows that columns and the hand-written CASE settle.

    Raises AssertionError where both do and differ.
    """
    connection = connect()
    both, apart, ruled, written, rows = connection.execute(
        f"""SELECT count(*) FILTER (o."{BY}" = 'columns' AND h.outcome IS NOT NULL),
                   count(*) FILTER (h.outcome IS NOT NULL
                                    AND (o."{OUTCOME}" <> h.outcome OR o."{RULES}" <> h.rules)),
                   count(*) FILTER (o."{BY}" = 'columns'), count(h.outcome), count(*)
            FROM read_parquet('{ours}') AS o JOIN read_parquet('{theirs}') AS h USING (id)"""
    ).fetchall()[0]
    assert apart == 0 and both > 0, f"{apart} rows differ of {both} that both settle"
    return {"rows": rows, "settled by columns": ruled / rows, "settled by hand": written / rows}


def one_by_one(law: Code, file: Path, reasoned: int = 200, decided: int = 20_000) -> tuple[float, float]:
    """Seconds a row in the evaluator, each row by itself in the order of the file: ruled with every reason, and decided
    without, where a row like it was seen before."""
    run = Run(law, QUESTION, file, threads=THREADS)
    names = ", ".join(f'"{name}"' for name in COLUMNS)
    cells = run.connection.execute(f"SELECT {names} FROM read_parquet('{file}') LIMIT {decided}").fetchall()
    run.close()
    door, sources = FrontDoor(law.book), run.sources
    records = [dict(zip(COLUMNS, row, strict=True)) for row in cells]
    few = records[:reasoned]
    ruling = timed(lambda: [law.rule(QUESTION, record_of(sources, record, door)) for record in few], 1)
    decide = law.decider(QUESTION)
    for record in records:
        decide(record)
    return ruling / len(few), timed(lambda: [decide(record) for record in records], 3) / len(records)


def measured(folder: Path, rows: int, unsettled: float, repeat: int, different: int = 600) -> dict[str, Any]:
    """Times and ratios on one file: medians of `repeat` runs of each, one after the other in turn."""
    law = code()
    file = write_many(law, folder / "devices.parquet", rows, unsettled, different=different)
    ours, theirs = folder / "ours.parquet", folder / "theirs.parquet"
    by_columns(law, file, ours)
    by_hand(file, theirs)
    shares = agree(file, ours, theirs)
    first, again, keys, hand, hand_keys = [], [], [], [], []
    for _ in range(repeat):
        new = code()
        first.append(timed(lambda new=new: by_columns(new, file, ours), 1))
        hand.append(timed(lambda: by_hand(file, theirs), 1))
        again.append(timed(lambda: by_columns(law, file, ours), 1))
        keys.append(timed(lambda: by_columns(law, file, ours, ["id"]), 1))
        hand_keys.append(timed(lambda: by_hand(file, theirs, "id"), 1))
    run = Run(law, QUESTION, file, threads=THREADS)
    compiling = timed(lambda: run.compiled, 1)
    found = run.write(ours, "parquet")
    run.close()
    ruling, deciding = one_by_one(code(), file)
    median = statistics.median
    return {
        **shares,
        "left to the evaluator": 1 - shares["settled by columns"],
        "kinds of rows ruled by the evaluator": found.ruled_one_by_one,
        "seconds": median(first),
        "seconds, again under the same law": median(again),
        "seconds, of which compiling": compiling,
        "seconds, hand-written CASE": median(hand),
        "times the hand-written CASE": median(first) / median(hand),
        "times the hand-written CASE, again under the same law": median(again) / median(hand),
        "seconds, again, only ids kept": median(keys),
        "times the hand-written CASE, again, only ids kept": median(keys) / median(hand_keys),
        "seconds a row in the evaluator, with reasons": ruling,
        "seconds a row decided in Python, seen before": deciding,
        "times as fast as the evaluator row by row": ruling * rows / median(first),
        "times as fast as deciding in Python, again": deciding * rows / median(again),
    }


def in_memory(folder: Path, rows: int, repeat: int) -> dict[str, dict[str, Any]]:
    """Seconds to decide on rows in memory and count what is said: nothing read, nothing written, nothing left to the
    evaluator. What numpy takes is coded as numbers first, which is timed apart."""
    law = code()
    file = write_many(law, folder / "devices.parquet", rows, 0.01)
    run = Run(law, QUESTION, file)
    compiled = run.compiled.select(exp.to_table("devices"), [], keyed=False).sql("duckdb")
    run.close()
    connection = connect()
    connection.execute(f"SET threads = {THREADS}")
    connection.execute(f"CREATE TABLE devices AS SELECT * FROM read_parquet('{file}')")
    by_case = f"SELECT {CASE} AS rule, count(*) FROM devices GROUP BY rule"
    by_text = f'SELECT "{RULES}", count(*) FROM ({compiled}) GROUP BY ALL'
    work: dict[str, Callable[[], Any]] = {
        "the SELECT that the question is compiled to": lambda: connection.execute(by_text).fetchall(),
        "hand-written CASE": lambda: connection.execute(by_case).fetchall(),
    }
    try:
        import numpy

        coded, words = in_codes(connection)
        decide = with_numpy(words)
        work["numpy, on numbers for words"] = lambda: numpy.bincount(decide(coded), minlength=len(SAID))
        work["numpy, words made numbers first"] = lambda: numpy.bincount(decide(in_codes(connection)[0]))
        counted = dict(connection.execute(by_case).fetchall())
        assert [counted.get(said, 0) for said in SAID] == list(work["numpy, on numbers for words"]()), "they differ"
    except ImportError:
        pass
    taken: dict[str, list[float]] = {name: [] for name in work}
    for _ in range(repeat):
        for name, its in work.items():
            taken[name].append(timed(its, 1))
    hand = statistics.median(taken["hand-written CASE"])
    return {
        name: {"seconds": statistics.median(each), "times the CASE": statistics.median(each) / hand}
        for name, each in taken.items()
    }


def in_codes(connection: duckdb.DuckDBPyConnection) -> tuple[dict[str, Any], dict[str, list[Any]]]:
    """The columns that are looked at as arrays of small numbers, and what those stand for."""
    words: dict[str, list[Any]] = {}
    taken = []
    for name in LOOKED_AT:
        if COLUMNS[name] == "BOOLEAN":
            words[name] = [False, True]
            taken.append(f'coalesce("{name}"::UTINYINT + 1, 0)::UTINYINT AS "{name}"')
        else:
            query = f'SELECT DISTINCT "{name}" FROM devices WHERE "{name}" IS NOT NULL ORDER BY 1'
            words[name] = [word for (word,) in connection.execute(query).fetchall()]
            kind = ", ".join(f"'{word}'" for word in words[name])
            taken.append(f'coalesce(enum_code("{name}"::ENUM({kind})) + 1, 0)::UTINYINT AS "{name}"')
    return dict(connection.execute(f"SELECT {', '.join(taken)} FROM devices").fetchnumpy()), words


def alone(file: Path, output: Path) -> dict[str, float]:
    """One run in this process, with the most memory that it held, in GiB."""
    start = time.perf_counter()
    run = Run(code(), QUESTION, file, threads=THREADS)
    found = run.write(output, "parquet")
    run.close()
    taken = time.perf_counter() - start
    return {"kinds ruled by the evaluator": found.ruled_one_by_one, "seconds": taken, "GiB": _most_held() / 2**20}


def _most_held() -> int:
    """The most memory that this process held, in KiB. Where the system says it of this program alone, from there: the
    other figure begins with what the process held that started it."""
    status = Path("/proc/self/status")
    if status.exists():
        return next(int(line.split()[1]) for line in status.read_text().splitlines() if line.startswith("VmHWM"))
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss


def in_a_process(file: Path, output: Path) -> dict[str, float]:
    """As `alone`, in a process of its own."""
    argv = [sys.executable, __file__, "--alone", str(file), str(output)]
    return json.loads(subprocess.run(argv, capture_output=True, check=True, text=True).stdout)  # type: ignore[no-any-return]


def growth(folder: Path, sizes: list[int]) -> dict[str, dict[str, float]]:
    """Time and memory by the number of rows, 1 % of them not settled by columns, each size in a process of its own."""
    found = {}
    for size in sizes:
        file = write_many(code(), folder / f"{size}.parquet", size, 0.01, different=80)
        found[f"{size:,} rows"] = in_a_process(file, folder / "grown.parquet")
        file.unlink()
    return found


def growth_of_kinds(folder: Path, rows: int, pools: list[int]) -> dict[str, dict[str, float]]:
    """As `growth`, by how many different devices the rows are drawn from."""
    found = {}
    for different in pools:
        file = write_many(code(), folder / f"{different}.parquet", rows, 0.2, different=different)
        found[f"{different:,} different devices"] = in_a_process(file, folder / "grown.parquet")
        file.unlink()
    return found


def results(rows: int = 1_000_000, repeat: int = 5, big: bool = False) -> dict[str, Any]:
    """Every figure, by what it is of."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        sizes = [rows // 4, rows // 2, rows, *([2 * rows, 4 * rows, 10 * rows] if big else [])]
        pools = [20, 40, 80, 160, 320, *([640, 1_280] if big else [])]
        return {
            "1 % not settled by columns": measured(folder, rows, 0.01, repeat, different=80),
            "1 % not settled by columns, many kinds": measured(folder, rows, 0.01, repeat),
            "20 % not settled by columns, many kinds": measured(folder, rows, 0.2, repeat),
            "deciding alone, rows in memory": in_memory(folder, rows, repeat),
            "growth with rows": growth(folder, sizes),
            f"growth with kinds of rows, {rows // 5:,} rows": growth_of_kinds(folder, rows // 5, pools),
        }


def main() -> None:
    """Prints every figure as JSON."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rows", type=int, default=1_000_000)
    parser.add_argument("--repeat", type=int, default=5)
    parser.add_argument("--big", action="store_true", help="growth to ten times as many rows and more kinds too")
    parser.add_argument("--alone", nargs=2, metavar=("FILE", "OUTPUT"), type=Path, help=argparse.SUPPRESS)
    args = parser.parse_args()
    figures = alone(*args.alone) if args.alone else results(args.rows, args.repeat, args.big)
    print(json.dumps(figures, indent=1))


if __name__ == "__main__":
    main()

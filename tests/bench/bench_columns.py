"""How long a question takes on a table of devices: run `python tests/bench/bench_columns.py`. Nothing is asserted but
that the answers agree.

The shipped marking question on made-up devices (tests/columns/devices.py), in DuckDB on two threads, everything from
the Parquet file to the ruled Parquet file, side by side in one run with a CASE written by hand and with the evaluator
in a loop. `--rows` and `--repeat` set the size and how often; `--big` adds ten million rows in a process of their own,
with the most memory that it held.
"""

from __future__ import annotations

import argparse
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

import yokebook
from columns.devices import COLUMNS, connect, write_many
from yokebook.code import Code
from yokebook_adapters.columns.compiling import BY, OUTCOME, RULES
from yokebook_adapters.columns.on_duckdb import Run
from yokebook_adapters.columns.rows import Evaluator

QUESTION = "marking.required"
THREADS = 2

#: What a person would write for the 2014 tables, with an arm for each thing not known before it is tested. It returns
#: the deciding rule, `-` where none fires, NULL where it cannot say: what other people hold of it included.
_IN_SCOPE = "\"receptacle.configuration\" IN ('1-15R', '5-15R', '5-20R')"
_BY_ITSELF = """"control.turns_off_by" IN ('presence', 'schedule', 'signal', 'load')
        AND NOT ("control.turns_off_by" = 'presence' AND ("control.kind" IS NULL OR ("control.kind" = 'wall-box sensor'
            AND ("control.turns_on_by" IS NULL OR "control.turns_on_by" = 'person'))))
        AND NOT ("control.turns_off_by" = 'signal'
            AND ("control.kind" IS NULL OR "control.kind" = 'demand response'))"""
_NO_TIMER = """"control.turns_off_by" <> 'schedule' OR ("control.kind" IS NOT NULL AND ("control.kind" NOT IN
            ('count-down timer', 'program timer') OR "control.purpose" = 'energy or automation'))"""
BY_HAND = f"""CASE
    WHEN "contact.supply" IS NULL THEN NULL
    WHEN "contact.supply" = 'always on' THEN '-'
    WHEN "control.turns_off_by" IS NULL THEN NULL
    WHEN "space.required_lighting_outlet" IS NULL THEN NULL
    WHEN "space.required_lighting_outlet" = 'met by switched receptacle' THEN NULL
    WHEN "receptacle.configuration" IS NULL THEN NULL
    WHEN NOT {_IN_SCOPE} THEN '-'
    WHEN "receptacle.built_in_control" IS NULL THEN NULL
    WHEN {_BY_ITSELF} AND ({_NO_TIMER}) THEN
        CASE WHEN "receptacle.built_in_control" THEN 'marking.required#automatic, marking.required#built-in'
             ELSE 'marking.required#automatic' END
    END"""


def code() -> Code:
    """The law that is ruled by."""
    return yokebook.load().edition("nfpa-70", "2014")


def timed(work: Callable[[], Any], repeat: int) -> float:
    """The median time of a work, in seconds."""
    taken = []
    for _ in range(repeat):
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
        f"FROM (SELECT *, {BY_HAND} AS rule FROM read_parquet('{file}'))) TO '{output}' (FORMAT parquet)"
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


def one_by_one(law: Code, file: Path, rows: int = 200) -> float:
    """Seconds a row in the evaluator, each row by itself, in the order of the file."""
    run = Run(law, QUESTION, file, threads=THREADS)
    evaluator = Evaluator(law, QUESTION, None, run.sources)
    names = ", ".join(f'"{name}"' for name in COLUMNS)
    cells = run.connection.execute(f"SELECT {names} FROM read_parquet('{file}') LIMIT {rows}").fetchall()
    records = [dict(zip(COLUMNS, row, strict=True)) for row in cells]
    return timed(lambda: [evaluator.rule(record) for record in records], 1) / rows


def measured(folder: Path, rows: int, unsettled: float, repeat: int, different: int = 600) -> dict[str, Any]:
    """Times and ratios on one file: medians of `repeat` runs of each, one after the other in turn."""
    law = code()
    file = write_many(law, folder / "devices.parquet", rows, unsettled, different=different)
    ours, theirs = folder / "ours.parquet", folder / "theirs.parquet"
    by_columns(law, file, ours)
    by_hand(file, theirs)
    shares = agree(file, ours, theirs)
    everything, keys, hand, hand_keys = [], [], [], []
    for _ in range(repeat):
        everything.append(timed(lambda: by_columns(law, file, ours), 1))
        hand.append(timed(lambda: by_hand(file, theirs), 1))
        keys.append(timed(lambda: by_columns(law, file, ours, ["id"]), 1))
        hand_keys.append(timed(lambda: by_hand(file, theirs, "id"), 1))
    run = Run(law, QUESTION, file, threads=THREADS)
    compiling = timed(lambda: run.compiled, 1)
    found = run.write(ours, "parquet")
    run.close()
    loop = one_by_one(law, file)
    median = statistics.median
    return {
        **shares,
        "left to the evaluator": 1 - shares["settled by columns"],
        "combinations ruled by the evaluator": found.ruled_one_by_one,
        "seconds": median(everything),
        "seconds, of which compiling": compiling,
        "seconds, hand-written CASE": median(hand),
        "times the hand-written CASE": median(everything) / median(hand),
        "seconds, only ids kept": median(keys),
        "times the hand-written CASE, only ids kept": median(keys) / median(hand_keys),
        "seconds a row in the evaluator": loop,
        "times as fast as the evaluator row by row": loop * rows / median(everything),
    }


def alone(file: Path, output: Path) -> dict[str, float]:
    """One run in this process, with the most memory that it held, in GiB."""
    start = time.perf_counter()
    by_columns(code(), file, output)
    taken = time.perf_counter() - start
    return {"seconds": taken, "GiB": _most_held() / 2**20}


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
        file = write_many(code(), folder / f"{size}.parquet", size, 0.01)
        found[f"{size:,}"] = in_a_process(file, folder / "grown.parquet")
        file.unlink()
    return found


def results(rows: int = 1_000_000, repeat: int = 5, big: bool = False) -> dict[str, Any]:
    """Every figure, by what it is of."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        sizes = [10_000, 100_000, 1_000_000] + ([10_000_000] if big else [])
        return {
            "1 % not settled by columns": measured(folder, rows, 0.01, repeat),
            "1 % not settled by columns, few kinds": measured(folder, rows, 0.01, repeat, different=80),
            "20 % not settled by columns": measured(folder, rows, 0.2, repeat),
            "growth": growth(folder, sizes),
        }


def main() -> None:
    """Prints every figure as JSON."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rows", type=int, default=1_000_000)
    parser.add_argument("--repeat", type=int, default=5)
    parser.add_argument("--big", action="store_true", help="ten million rows too")
    parser.add_argument("--alone", nargs=2, metavar=("FILE", "OUTPUT"), type=Path, help=argparse.SUPPRESS)
    args = parser.parse_args()
    figures = alone(*args.alone) if args.alone else results(args.rows, args.repeat, args.big)
    print(json.dumps(figures, indent=1))


if __name__ == "__main__":
    main()

"""Writes the page of results, tests/bench/RESULTS.md: run `PYTHONPATH=tests python tests/bench/results.py`.

All benchmarks are run one after the other on this machine, which should have nothing else to do; it takes a quarter of
an hour. `--quick` measures less of everything and prints the page in place of writing it, to see that all of it runs.
"""

from __future__ import annotations

import argparse
import os
import platform
import sys
from collections.abc import Iterator, Mapping, Sequence
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

from bench import bench_columns, bench_deciding, bench_start

PAGE = Path(__file__).with_name("RESULTS.md")

#: Libraries that a figure depends on.
LIBRARIES = ("duckdb", "sqlglot", "numpy")


def page(*, quick: bool = False) -> str:
    """The page as Markdown: the machine, then the figures of each benchmark."""
    lines = [
        "# How fast it is",
        "",
        "Written by `PYTHONPATH=tests python tests/bench/results.py`, which runs the benchmarks of this folder one",
        "after the other. What counts are the ratios: both sides of one were taken in the same run.",
        "",
        f"Machine: {platform.machine()}, {os.cpu_count()} cores, {_memory()}, {platform.system()}, "
        f"Python {platform.python_version()}; {', '.join(_libraries())}.",
        "",
        *_start(bench_start.figures(3 if quick else 21)),
        *_deciding(bench_deciding.measure(quick=quick, say=_say)),
        *_columns(bench_columns.results(20_000, 1) if quick else bench_columns.results(big=True)),
    ]
    return "\n".join(lines) + "\n"


def _say(what: str) -> None:
    print(f"… {what}", file=sys.stderr, flush=True)


def _memory() -> str:
    size = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES")
    return f"{size / 2**30:.0f} GiB"


def _libraries() -> Iterator[str]:
    for name in LIBRARIES:
        try:
            yield f"{name} {version(name)}"
        except PackageNotFoundError:
            yield f"no {name}"


def _start(found: Sequence[Mapping[str, Any]]) -> Iterator[str]:
    yield "## How long a program waits for its first ruling"
    yield ""
    yield "From an installed wheel; ms, medians. The first line is a bare interpreter, the others are over it."
    yield ""
    yield from _table(
        ["", "by the watch", "busy", "times bare", "wanted, by the watch"],
        [
            [each["what"], each["wall"], each["cpu"], f"{each['wall'] / found[0]['wall']:.1f}", each["bar"] or ""]
            for each in found
        ],
    )


def _deciding(found: bench_deciding.Figures) -> Iterator[str]:
    yield "## How long a decision takes"
    yield ""
    yield "Microseconds a record unless the title says otherwise, medians of processor time; beside it, how many times"
    yield "a chain of ifs written by hand that is, which gives the rule alone. Ways that are compared agree first."
    yield ""
    for part in found.parts:
        yield f"### {part.title[:1].upper()}{part.title[1:]}"
        yield ""
        if part.head:
            yield from _table(part.head, part.rows)
            continue
        yield from _table(
            ["", "takes", "times by hand", "note"],
            [
                [
                    line.name,
                    "" if line.note == "left out" else f"{line.microseconds:,.2f}",
                    "" if line.ratio is None else f"{line.ratio:.2f}",
                    line.note,
                ]
                for line in part.lines
            ],
        )


def _columns(found: Mapping[str, Mapping[str, Any]]) -> Iterator[str]:
    yield "## Tables of records in a database"
    yield ""
    yield "The shipped marking question in DuckDB on two threads, from a Parquet file to the ruled Parquet file."
    yield ""
    yield "The evaluator takes some milliseconds for each kind of rows that columns do not settle, the first time; each"
    yield "table tells how many kinds there are."
    yield ""
    for title, figures in found.items():
        yield f"### {title[:1].upper()}{title[1:]}"
        yield ""
        first = next(iter(figures.values()))
        if isinstance(first, Mapping):
            rows = [[name, *(_number(value) for value in each.values())] for name, each in figures.items()]
            yield from _table(["", *first], rows)
        else:
            yield from _table(["", ""], [[name, _number(value)] for name, value in figures.items()])


def _number(value: float) -> str:
    return f"{value:,}" if isinstance(value, int) else f"{value:,.4g}"


def _table(head: Sequence[str], rows: Sequence[Sequence[object]]) -> Iterator[str]:
    yield f"| {' | '.join(head)} |"
    yield f"|{' --- |' * len(head)}"
    for row in rows:
        yield f"| {' | '.join(str(cell).replace('|', '/') for cell in row)} |"
    yield ""


def main() -> None:
    """Writes the page, or prints a quick one."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--quick", action="store_true", help="measure less and print the page")
    if parser.parse_args().quick:
        print(page(quick=True))
    else:
        PAGE.write_text(page(), encoding="utf-8")


if __name__ == "__main__":
    main()

"""How long a program waits for yokebook: run `python tests/bench/bench_start.py`. Nothing is asserted.

A wheel of this checkout is built and installed in an environment of its own. Then fresh processes are started in turn:
a bare interpreter, one that imports yokebook, one that also loads the rulebook, and ones that go on to a first ruling.
Of each the time to the end of its program is taken, over that of the bare one beside it: as a watch shows it, and as
the processor was busy with it, which other work on the machine touches less. Printed is the median of all rounds. The
watch is read by two processes and needs a clock that they share, as on Linux.
"""

from __future__ import annotations

import argparse
import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

TOP = Path(__file__).parents[2]

IMPORT = "import yokebook\n"
LOAD = f"{IMPORT}book = yokebook.load()\n"
LAW = f"""{LOAD}code = book.in_force(place="demo/tamarisk/brindle-falls", dates={{"permit application": "2024-10-01"}})
"""
#: A receptacle of which everything is known that the question can turn on.
KNOWN = {
    "receptacle.configuration": "5-15R", "receptacle.built_in_control": False, "contact.position": "upper",
    "contact.supply": "controlled", "contact.controls.complete": True, "control.kind": "snap switch",
    "control.turns_off_by": "person", "control.location": "wall at entrance", "load.kind": "lamp",
    "space.occupancy": "dwelling", "space.use": "living room",
    "space.required_lighting_outlet": "met by switched receptacle",
}
#: The record of the README, which leaves much open, so that all that it may be is gone through.
OPEN = {"receptacle.configuration": "5-20R", "receptacle.built_in_control": False, "contact.supply": "controlled"}

#: What is measured: its name, the program, and what it may take over a bare interpreter, in ms.
STAGES: tuple[tuple[str, str, int | None], ...] = (
    ("import yokebook", IMPORT, None),
    ("import and load", LOAD, 50),
    ("to the law in force", LAW, None),
    ("to a first ruling", f'{LAW}code.rule("marking.required", {KNOWN!r})\n', 120),
    ("to a first ruling with much left open", f'{LAW}code.rule("marking.required", {OPEN!r})\n', None),
    ("load of the YAML", "from yokebook.load.book import load_book\nload_book()\n", None),
)


def installed(folder: Path) -> str:
    """The Python of a new environment in a folder, with the wheel of this checkout and nothing else installed."""
    build = [sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", str(folder), str(TOP)]
    subprocess.run(build, check=True, capture_output=True)
    [wheel] = folder.glob("*.whl")
    subprocess.run([sys.executable, "-m", "venv", "--without-pip", str(folder / "env")], check=True)
    python = str(folder / "env" / "bin" / "python")
    pip = [sys.executable, "-m", "pip", "--python", python, "install", "--quiet", "--compile"]
    yaml = ["pyyaml", "jsonschema"]
    subprocess.run([*pip, "--no-deps", str(wheel)], check=True, env=_environment())
    try:
        subprocess.run([*pip, *yaml], check=True, capture_output=True, env=_environment())
    except subprocess.CalledProcessError:
        print("no registry at hand: the YAML is not measured", file=sys.stderr)
    return python


def _environment() -> dict[str, str]:
    """The environment of the processes: nothing in it points to this checkout or keeps compiled code from use."""
    return {name: value for name, value in os.environ.items() if not name.startswith("PYTHON")}


#: What every program ends with: the time by the clock that all processes share, and that of the processor.
TELL = "import time; print(time.monotonic_ns(), time.process_time_ns())\n"


def took(python: str, program: str) -> tuple[float, float]:
    """How long it took a new process to come to the end of this program by the watch and by the processor, in ms."""
    began = time.monotonic_ns()
    command = [python, "-c", program + TELL]
    done = subprocess.run(command, check=True, env=_environment(), capture_output=True, text=True)
    ended, busy = map(int, done.stdout.split())
    return (ended - began) / 1e6, busy / 1e6


def figures(rounds: int = 21) -> list[dict[str, Any]]:
    """Of a bare interpreter and of each stage: `what`, `wall` and `cpu` in ms (of a stage over the bare one; medians of
    so many rounds), `least_cpu` of all rounds, and the `bar` that the wall time is to keep or None."""
    with tempfile.TemporaryDirectory() as folder:
        python = installed(Path(folder))
        stages = [stage for stage in STAGES if "YAML" not in stage[0] or _works(python, stage[1])]
        times: dict[str, list[tuple[float, float]]] = {what: [] for what, _, _ in stages}
        bare: list[tuple[float, float]] = []
        for _ in range(rounds):
            beside = took(python, "")
            bare.append(beside)
            for what, program, _ in stages:
                wall, cpu = took(python, program)
                times[what].append((wall - beside[0], cpu - beside[1]))
    first = {"what": "a bare interpreter", **_medians(bare), "bar": None}
    return [first, *({"what": what, **_medians(times[what]), "bar": bar} for what, _, bar in stages)]


def _works(python: str, program: str) -> bool:
    return subprocess.run([python, "-c", program], env=_environment(), capture_output=True, check=False).returncode == 0


def _medians(times: list[tuple[float, float]]) -> dict[str, float]:
    walls, cpus = zip(*times, strict=True)
    return {
        "wall": round(statistics.median(walls), 1),
        "cpu": round(statistics.median(cpus), 1),
        "least_cpu": round(min(cpus), 1),
    }


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rounds", type=int, default=21)
    parser.add_argument("--json", action="store_true", help="print the figures as data")
    args = parser.parse_args()
    found = figures(args.rounds)
    if args.json:
        print(json.dumps(found, indent=1))
        return
    print(f"medians of {args.rounds} rounds, in ms; below the first line over a bare interpreter\n")
    print(f"{'':40}{'watch':>8}{'busy':>8}{'least busy':>12}{'times bare':>12}{'bar':>6}")
    for each in found:
        times = each["wall"] / found[0]["wall"]
        bar = "" if each["bar"] is None else each["bar"]
        print(f"{each['what']:40}{each['wall']:8}{each['cpu']:8}{each['least_cpu']:12}{times:12.1f}{bar:>6}")


if __name__ == "__main__":
    main()

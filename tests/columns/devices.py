"""Made-up tables of devices: a pool of plausible rows, drawn from over and over, so that any size can be written."""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from pathlib import Path

import duckdb

from yokebook.code import Code
from yokebook_adapters.columns.compiling import BY
from yokebook_adapters.columns.on_duckdb import ROW, Run

Row = Mapping[str, object]

#: Controls as they are found: what it is, what turns it off, what turns it on, what for.
CONTROLS: tuple[tuple[str | None, ...], ...] = (
    ("snap switch", "person", "person", "convenience"),
    ("three-way switch", "person", "person", None),
    ("ceiling sensor and relay", "presence", "presence", "energy or automation"),
    ("wall-box sensor", "presence", "presence", "energy or automation"),
    ("wall-box sensor", "presence", "person", "energy or automation"),
    ("time clock", "schedule", "schedule", "energy or automation"),
    ("program timer", "schedule", "schedule", "convenience"),
    ("count-down timer", "count-down", "person", "convenience"),
    ("relay or contactor", "signal", "signal", "energy or automation"),
    ("building signal", "signal", "signal", "energy or automation"),
    ("card switch", "card removal", "person", "energy or automation"),
    ("photo control", "daylight", None, None),
    (None, "presence", None, None),
    (None, None, None, None),
)
ROOMS: tuple[tuple[str | None, ...], ...] = (
    ("private office", "office", "met by luminaire"),
    ("open office", "office", "met by luminaire"),
    ("conference", "office", "none required"),
    ("living room", "dwelling", "met by switched receptacle"),
    ("bedroom", "dwelling", "met by switched receptacle"),
    ("kitchen", "dwelling", "met by luminaire"),
    ("guest room", "guest room", "met by switched receptacle"),
    ("classroom", "education", "met by luminaire"),
    ("corridor", "health care", None),
    ("storage", None, "none required"),
    (None, "office", None),
)
CONFIGURATIONS = ("5-15R", "5-20R", "5-20R", "L5-20R", "6-20R", "5-30R", "14-30R", None)

#: The columns of the marking question, with their types in a database.
COLUMNS: Mapping[str, str] = {
    "receptacle.configuration": "VARCHAR",
    "receptacle.built_in_control": "BOOLEAN",
    "contact.supply": "VARCHAR",
    "contact.controls.complete": "BOOLEAN",
    "control.kind": "VARCHAR",
    "control.turns_off_by": "VARCHAR",
    "control.turns_on_by": "VARCHAR",
    "control.purpose": "VARCHAR",
    "load.kind": "VARCHAR",
    "space.use": "VARCHAR",
    "space.occupancy": "VARCHAR",
    "space.required_lighting_outlet": "VARCHAR",
}


def connect() -> duckdb.DuckDBPyConnection:
    """A database in memory that prints no bar."""
    connection = duckdb.connect()
    connection.execute("SET enable_progress_bar = false")
    return connection


def device(rng: random.Random) -> dict[str, object]:
    """One device of a plausible building."""
    supply = rng.choice(("controlled", "controlled", "always on", None))
    # nothing switches what is always on, so that schedules leave the control's columns empty
    control = (None, None, None, None) if supply == "always on" else rng.choice(CONTROLS)
    room = rng.choice(ROOMS)
    return {
        "receptacle.configuration": rng.choice(CONFIGURATIONS),
        "receptacle.built_in_control": rng.choice((False, False, False, True, None)),
        "contact.supply": supply,
        "contact.controls.complete": rng.choice((True, True, None)),
        "control.kind": control[0],
        "control.turns_off_by": control[1],
        "control.turns_on_by": control[2],
        "control.purpose": control[3],
        "load.kind": rng.choice(("lamp", "computer", "office machine", None)),
        "space.use": room[0],
        "space.occupancy": room[1],
        "space.required_lighting_outlet": room[2],
    }


def pool(seed: int, size: int) -> list[dict[str, object]]:
    """So many devices, no two alike."""
    rng = random.Random(seed)
    found: dict[tuple[object, ...], dict[str, object]] = {}
    while len(found) < size:
        row = device(rng)
        found.setdefault(tuple(row.values()), row)
    return list(found.values())


def write(rows: Sequence[Row], columns: Mapping[str, str], file: Path) -> Path:
    """Writes rows as Parquet, with their place in the list as `id`."""
    connection = connect()
    typed = ", ".join(f'"{name}" {type_}' for name, type_ in columns.items())
    connection.execute(f"CREATE TABLE devices (id INTEGER, {typed})")
    if rows:
        data = [[i, *(row.get(name) for name in columns)] for i, row in enumerate(rows)]
        marks = ", ".join("?" for _ in range(len(columns) + 1))
        connection.executemany(f"INSERT INTO devices VALUES ({marks})", data)
    connection.execute(f"COPY devices TO '{file}' (FORMAT parquet)")
    connection.close()
    return file


def settled_by_columns(
    code: Code, question: str, rows: Sequence[Row], columns: Mapping[str, str], file: Path
) -> list[bool]:
    """Which of the rows SQL settles by itself."""
    run = Run(code, question, write(rows, columns, file))
    query = run.compiled.select(run.table.source(), [ROW]).sql("duckdb")
    found = run.connection.execute(f'SELECT "{BY}" IS NOT NULL FROM ({query}) ORDER BY "{ROW}"').fetchall()
    return [settled for (settled,) in found]


def write_many(code: Code, file: Path, size: int, unsettled: float, seed: int = 7, different: int = 600) -> Path:
    """So many devices drawn from a pool, a share of them such as SQL does not settle, with an id and a label each."""
    rows = pool(seed, different)
    settled = settled_by_columns(code, "marking.required", rows, COLUMNS, file)
    groups = {flag: [row for row, is_so in zip(rows, settled, strict=True) if is_so is flag] for flag in (True, False)}
    connection = connect()
    connection.execute("SELECT setseed(0.25)")
    for flag, its in groups.items():
        own = file.with_suffix(f".{flag}")
        connection.execute(f"CREATE TABLE p{flag} AS SELECT * FROM read_parquet('{write(its, COLUMNS, own)}')")
        own.unlink()
    names = ", ".join(f'coalesce(t."{name}", f."{name}") AS "{name}"' for name in COLUMNS)
    drawn = f"""
        SELECT i AS id, 'device ' || i AS label, {names}
        FROM (SELECT i, u < {unsettled} AS open, floor(random() * {len(groups[True])})::INTEGER AS a,
                     floor(random() * {len(groups[False])})::INTEGER AS b
              FROM (SELECT range AS i, random() AS u FROM range({size}))) AS d
        LEFT JOIN pTrue AS t ON NOT d.open AND t.id = d.a
        LEFT JOIN pFalse AS f ON d.open AND f.id = d.b
        ORDER BY i"""
    connection.execute(f"COPY ({drawn}) TO '{file}' (FORMAT parquet)")
    connection.close()
    return file

"""What the evaluator rules of rows, one by one, and whether columns say the same."""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from pathlib import Path

import duckdb

from columns.devices import Row, write
from yokebook.code import Code
from yokebook.front_door import FrontDoor
from yokebook.load.faults import InputFaults
from yokebook.model import Table
from yokebook.ruling import Ruling
from yokebook_adapters.columns.compiling import ASK, BY, FAULTS, HELD, OUTCOME, RULES
from yokebook_adapters.columns.inputs import Inputs
from yokebook_adapters.columns.logic import Steps
from yokebook_adapters.columns.on_duckdb import Found, Run
from yokebook_adapters.columns.rows import REFUSED_WORD, record_of

#: What is compared of a row: the word, the rules that stand, the first fact to ask, what is also held.
Said = tuple[str, str, str | None, str | None]

#: Numbers on and beside the bounds that codes use, and between them.
NUMBERS = (0, 1, 5, 6, 10, 15, 15.5, 20, 30, 50, 66, 72, 120, 125, 150, 150.000001, 250, 1000, 0.5, 2.5, 1800)


def evaluated(code: Code, question: str, rows: Sequence[Row], columns: Mapping[str, str], file: Path) -> list[Said]:
    """What the evaluator says of each row by itself, each different row once."""
    sources = Run(code, question, write((), columns, file)).sources
    door = FrontDoor(code.book)
    known: dict[tuple[object, ...], Said] = {}
    found: list[Said] = []
    for row in rows:
        key = tuple(repr(row.get(name)) for name in columns)
        if key not in known:
            try:
                known[key] = said(code.rule(question, record_of(sources, row, door)), code.table(question)[0])
            except InputFaults:
                known[key] = (REFUSED_WORD, "", None, None)
        found.append(known[key])
    return found


def said(ruling: Ruling, table: Table) -> Said:
    """A ruling as columns say it: the rules that stand in the order of the table."""
    standing = {rule["rule"] for rule in ruling.standing}
    assert standing <= {rule.id for rule in table.rules}
    held = [f"{' or '.join(each['outcomes'])} ({each['reading']}: {each['alternative']})" for each in ruling.also_held]
    return (
        ruling.word,
        ", ".join(rule.id for rule in table.rules if rule.id in standing),
        ruling.ask[0]["fact"] if ruling.ask else None,
        ", ".join(held) or None,
    )


def by_columns(
    code: Code, question: str, rows: Sequence[Row], columns: Mapping[str, str], folder: Path
) -> tuple[list[Said], list[str], Found]:
    """What a run over a file says of each row, by what each was settled, and the counts."""
    run = Run(code, question, write(rows, columns, folder / "rows.parquet"))
    counted = run.write(folder / "ruled.parquet", "parquet")
    names = ", ".join(f'"{name}"' for name in (OUTCOME, RULES, ASK, HELD, BY))
    query = f"SELECT {names} FROM read_parquet('{folder / 'ruled.parquet'}') ORDER BY id"
    found = duckdb.connect().execute(query).fetchall()
    run.close()
    return [(o, r, a, h) for o, r, a, h, _ in found], [by for *_, by in found], counted


def faults_of(folder: Path) -> list[str | None]:
    """The faults that the last run wrote beside each row."""
    query = f"SELECT \"{FAULTS}\" FROM read_parquet('{folder / 'ruled.parquet'}') ORDER BY id"
    return [text for (text,) in duckdb.connect().execute(query).fetchall()]


def reached_facts(code: Code, question: str) -> list[str]:
    """The facts and calculations that a question may turn on, in a stable order."""
    law = code.table(question)[1]
    inputs = Inputs(code, (), Steps())
    names = {each for name in inputs.of_table(law.ready(question)) for each in inputs.reached(law, name)}
    book = code.book
    return sorted(
        name
        for name in names
        if (fact := book.facts.get(name) or book.calculations.get(name)) is not None and fact.type != "text"
    )


def random_table(
    code: Code, question: str, seed: int, size: int, stated: int = 0
) -> tuple[dict[str, str], list[dict[str, object]]]:
    """Rows with every raw fact that a question may turn on, `stated` of its calculations, and whether lists are
    complete; facts are left out at rates that differ from row to row. Some words are in no usual form."""
    rng = random.Random(seed)
    book = code.book
    names = reached_facts(code, question)
    calculations = [name for name in names if name in book.calculations]
    chosen = [name for name in names if name in book.facts] + rng.sample(calculations, min(stated, len(calculations)))
    types = {"choice": "VARCHAR", "yes_no": "BOOLEAN", "number": "DOUBLE"}
    columns = {name: types[(book.facts.get(name) or book.calculations[name]).type] for name in chosen}
    flags = [flag for flag in ("contact.controls.complete",) if any(n.startswith("control.") for n in chosen)]
    columns |= dict.fromkeys(flags, "BOOLEAN")
    rows = []
    for _ in range(size):
        missing = rng.choice((0.0, 0.1, 0.3, 0.6))
        rows.append({n: None if rng.random() < missing else _value(code, rng, n) for n in columns})
    return columns, rows


def _value(code: Code, rng: random.Random, name: str) -> object:
    if name.endswith(".complete"):
        return rng.choice((True, True, False))
    fact = code.book.facts.get(name) or code.book.calculations[name]
    if fact.type == "yes_no":
        return rng.random() < 0.5
    if fact.type == "number":
        return rng.choice(NUMBERS)
    word = rng.choice(list(fact.values))
    return rng.choice((word, *[word] * 40, word.upper(), f" {word}", "TBD", ""))

"""A flat device schedule in CSV, read through a mapping file: either every row a record of its own, or every row one
contact device of one project.

UTF-8 with or without a byte-order mark, read row by row. Bad rows are listed and the good ones kept.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TextIO

from yokebook.entities import PREFIX
from yokebook.front_door import FrontDoor
from yokebook.graph import Graph
from yokebook.intake.entry import Entry, Fields, Member
from yokebook.load.faults import Fault, InputFaults
from yokebook.model import Book
from yokebook_adapters.schedule_join import Join
from yokebook_adapters.schedule_mapping import ScheduleMapping, list_of
from yokebook_adapters.schedule_rows import Row, members, name_of, read_rows


def read_schedule(
    schedule: Path | Iterable[str], mapping: ScheduleMapping, book: Book, name: str = "schedule.csv"
) -> tuple[list[tuple[str, Graph]], list[Fault]]:
    """Every row as a record: the good ones, each with what the schedule calls it, and the faults of the others.

    `schedule` is a path, or lines of text that faults name by `name`. For a mapping whose rows are contact devices of
    one project there is one graph, called `project`. Raises InputFaults only where the file cannot be opened, or where
    good rows make no project together.
    """
    if mapping.rows == "contact":
        graph, faults = read_schedule_as_project(schedule, mapping, book, name)
        return [("project", graph)], faults
    good: list[tuple[str, Graph]] = []
    faults = []
    for found in iter_schedule(schedule, mapping, book, name):
        if isinstance(found, Fault):
            faults.append(found)
        else:
            good.append(found)
    return good, _once(faults)


def iter_schedule(
    schedule: Path | Iterable[str], mapping: ScheduleMapping, book: Book, name: str = "schedule.csv"
) -> Iterator[tuple[str, Graph] | Fault]:
    """The rows of a schedule as records, one at a time, so that a long one never stands in memory: what the schedule
    calls a row with its graph, or a fault. Raises InputFaults where the file cannot be opened."""
    door = FrontDoor(book)
    seen: dict[str, int] = {}
    with _lines(schedule) as lines:
        for row in read_rows(lines, mapping, str(schedule) if isinstance(schedule, Path) else name):
            if isinstance(row, Fault):
                yield row
                continue
            called = name_of(row, mapping)
            if called in seen:
                yield Fault(row.place, f"the row is called `{called}`, as row {seen[called]} is; names must differ")
                continue
            seen[called] = row.number
            try:
                yield called, door.record(_record(row, mapping), called, bare_numbers=False)
            except InputFaults as refused:
                yield from refused.faults


def read_schedule_as_project(
    schedule: Path | Iterable[str], mapping: ScheduleMapping, book: Book, name: str = "schedule.csv"
) -> tuple[Graph, list[Fault]]:
    """The project that the good rows make, and the faults of the others. If a row is left out, no list that rows make
    up counts as complete. Raises InputFaults where the file cannot be opened, or where good rows make no project."""
    door = FrontDoor(book)
    join = Join(mapping)
    faults: list[Fault] = []
    with _lines(schedule) as lines:
        for row in read_rows(lines, mapping, str(schedule) if isinstance(schedule, Path) else name):
            found = [row] if isinstance(row, Fault) else _join(row, mapping, door, join)
            if found:
                join.refused()
            faults.extend(found)
    return door.project(join.project()), _once(faults)


def _once(faults: list[Fault]) -> list[Fault]:
    """Each fault once: one of the mapping shows in every row."""
    return list(dict.fromkeys(faults))


def _join(row: Row, mapping: ScheduleMapping, door: FrontDoor, join: Join) -> list[Fault]:
    """Takes a row into the project; the faults for which it is left out, if any."""
    try:
        door.record(_tree(row, members(row, mapping)), bare_numbers=False)
    except InputFaults as refused:
        return list(refused.faults)
    return join.add(row)


def _record(row: Row, mapping: ScheduleMapping) -> Entry:
    """A row as a flat record. A list counts as complete only where the row gives something of what is in it: an empty
    cell says that nothing is known, not that there is nothing."""
    stated = members(row, mapping)
    given = {member.key.partition(".")[0] for member in stated if member.value.given}
    for name in mapping.complete:
        if PREFIX[list_of(name)[2]] in given:
            stated.append(Member(f"{name}.complete", mapping.file, Entry(mapping.file, True)))
    return _tree(row, stated)


def _tree(row: Row, stated: list[Member]) -> Entry:
    return Entry(row.place, Fields(tuple(stated)))


@contextmanager
def _lines(schedule: Path | Iterable[str]) -> Iterator[Iterable[str]]:
    if not isinstance(schedule, Path):
        yield _without_mark(schedule)
        return
    stream: TextIO
    try:
        stream = schedule.open(encoding="utf-8-sig", errors="surrogateescape", newline="")
    except OSError as error:
        raise InputFaults([Fault(str(schedule), f"cannot be read: {error.strerror or error}")]) from None
    with stream:
        yield stream


def _without_mark(lines: Iterable[str]) -> Iterator[str]:
    """The lines without a byte-order mark before the first."""
    for number, line in enumerate(lines):
        yield line.removeprefix("\ufeff") if number == 0 else line

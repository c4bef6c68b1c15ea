"""A device schedule in CSV or a workbook, read through a mapping file: either every row a record of its own, or every
row one contact device of one project. What panel schedules say of its circuits is joined in.

CSV is UTF-8 with or without a byte-order mark, read row by row. Bad rows are listed and the good ones kept.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from yokebook.entities import PREFIX
from yokebook.front_door import FrontDoor
from yokebook.graph import Graph
from yokebook.intake.entry import Entry, Fields, Member
from yokebook.intake.thing_reader import NOTHING
from yokebook.load.faults import Fault, InputFaults
from yokebook.model import Book
from yokebook_adapters.panel_schedule import Panels, read_panels
from yokebook_adapters.schedule_cells import Page
from yokebook_adapters.schedule_columns import ScheduleMapping, list_of
from yokebook_adapters.schedule_join import Join, disagreement, ids_of
from yokebook_adapters.schedule_rows import Row, members, name_of, read_rows
from yokebook_adapters.schedule_sources import Schedule, open_source


def read_schedule(
    schedule: Schedule,
    mapping: ScheduleMapping,
    book: Book,
    name: str = "schedule.csv",
    notes: list[str] | None = None,
) -> tuple[list[tuple[str, Graph]], list[Fault]]:
    """Every row as a record: the good ones, each with what the schedule calls it, and the faults of the others.

    `schedule` is a path, the bytes of a file, or lines of CSV; faults name what is no path by `name`. For a mapping
    whose rows are contact devices of one project there is one graph, called `project`. What a reader should know and is
    no fault, such as hidden rows, is added to `notes`. Raises InputFaults only where the file cannot be opened, or
    where good rows make no project together.
    """
    if mapping.rows == "contact":
        graph, faults = read_schedule_as_project(schedule, mapping, book, name, notes)
        return [("project", graph)], faults
    good: list[tuple[str, Graph]] = []
    faults = []
    for found in iter_schedule(schedule, mapping, book, name, notes):
        if isinstance(found, Fault):
            faults.append(found)
        else:
            good.append(found)
    return good, _once(faults)


def iter_schedule(
    schedule: Schedule,
    mapping: ScheduleMapping,
    book: Book,
    name: str = "schedule.csv",
    notes: list[str] | None = None,
) -> Iterator[tuple[str, Graph] | Fault]:
    """The rows of a schedule as records, one at a time, so that a long CSV file never stands in memory: what the
    schedule calls a row with its graph, or a fault. Raises InputFaults where the file cannot be opened."""
    door = FrontDoor(book)
    seen: dict[str, int] = {}
    with _reading(schedule, mapping, name, door, notes) as (page, panels, faults):
        yield from faults
        for row in read_rows(page, mapping):
            if isinstance(row, Fault):
                yield row
                continue
            called = name_of(row, mapping)
            if called in seen:
                yield Fault(row.place, f"the row is called `{called}`, as row {seen[called]} is; names must differ")
                continue
            seen[called] = row.number
            try:
                yield called, door.record(_record(row, mapping, panels), called, bare_numbers=False)
            except InputFaults as refused:
                yield from refused.faults


def read_schedule_as_project(
    schedule: Schedule,
    mapping: ScheduleMapping,
    book: Book,
    name: str = "schedule.csv",
    notes: list[str] | None = None,
) -> tuple[Graph, list[Fault]]:
    """The project that the good rows make, and the faults of the others. If a row is left out, no list that rows make
    up counts as complete. Raises InputFaults where the file cannot be opened, or where good rows make no project."""
    door = FrontDoor(book)
    with _reading(schedule, mapping, name, door, notes) as (page, panels, faults):
        join = Join(mapping, panels)
        for row in read_rows(page, mapping):
            found = [row] if isinstance(row, Fault) else _join(row, mapping, door, join)
            if found:
                join.refused()
            faults.extend(found)
    return door.project(join.project()), _once(faults)


@contextmanager
def _reading(
    schedule: Schedule, mapping: ScheduleMapping, name: str, door: FrontDoor, notes: list[str] | None
) -> Iterator[tuple[Page, Panels | None, list[Fault]]]:
    """The schedule's page, the circuits of its panel schedules, and the faults of these."""
    told = [] if notes is None else notes
    with open_source(schedule, name, mapping.delimiter) as source:
        page = source.page(mapping.sheet)
        panels, faults = read_panels(mapping, source, door, told)
        yield page, panels, faults
        told += page.notes


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


def _record(row: Row, mapping: ScheduleMapping, panels: Panels | None) -> Entry:
    """A row as a flat record, with what the panel schedules say of its circuit. A list counts as complete only where
    the row gives something of what is in it: an empty cell says that nothing is known, not that there is nothing.

    Raises InputFaults for a circuit that no panel schedule lists, and for a fact that the two give otherwise.
    """
    stated = members(row, mapping)
    if panels is not None:
        stated += _of_panel(row, stated, mapping, panels)
    given = {member.key.partition(".")[0] for member in stated if member.value.given}
    for name in mapping.complete:
        if PREFIX[list_of(name)[2]] in given:
            stated.append(Member(f"{name}.complete", mapping.file, Entry(mapping.file, True)))
    return _tree(row, stated)


def _of_panel(row: Row, stated: list[Member], mapping: ScheduleMapping, panels: Panels) -> list[Member]:
    use = mapping.panels.by if mapping.panels is not None else None
    faults: list[Fault] = []
    ids = [] if use is None else ids_of(row, use, mapping, faults)
    added: list[Member] = []
    for circuit in ids if ids != [NOTHING] else ():
        found = panels.find(circuit, row.at(use.columns[0]) if use is not None and use.columns else row.place)
        if isinstance(found, Fault):
            faults.append(found)
            continue
        own = {member.key: member for member in stated if member.value.given}
        for key, entry in found.facts.items():
            if key not in own:
                added.append(Member(key, entry.at, entry))
            else:
                faults += disagreement(own[key], entry, f"`{circuit}`", mapping)
    if faults:
        raise InputFaults(faults)
    # a fact that the row leaves open is the panel's to give
    said = {member.key for member in added}
    stated[:] = [member for member in stated if member.key not in said]
    return added


def _tree(row: Row, stated: list[Member]) -> Entry:
    return Entry(row.place, Fields(tuple(stated)))

"""Files that people have, a project or a schedule with its mapping, and flat records, as project data."""

from __future__ import annotations

import base64
from collections.abc import Mapping, Sequence
from typing import Any

from yokebook import front_door
from yokebook.load.faults import Fault, InputFaults
from yokebook.model import At
from yokebook_adapters.project_data import project_data
from yokebook_adapters.schedule_mapping import read_mapping
from yokebook_adapters.schedule_reading import read_schedule
from yokebook_adapters.service.desk import Desk, Reading
from yokebook_adapters.service.joined_rows import joined
from yokebook_adapters.service.problems import Problem, told

#: Schedules end so; everything else is a project file.
_SCHEDULES = (".csv", ".xlsx", ".xlsm")


def read_project(desk: Desk, data: bytes) -> dict[str, Any]:
    """A file or a flat record as project data, with what of a schedule was refused. Raises Problem."""
    reading = Reading(desk, data, "read_project")
    faults: Sequence[Fault] = ()
    if reading.body.part("record") is not None:
        found = reading.record()
        reading.finish()
        assert found is not None
        project = project_data(found, desk.book)
    else:
        reading.finish()
        project, faults = _of_file(desk, reading)
    return {"rulebook": {"digest": desk.digest}, "project": project, "faults": [str(fault) for fault in faults]}


def _of_file(desk: Desk, reading: Reading) -> tuple[dict[str, Any], Sequence[Fault]]:
    file, mapping = reading.data("file"), reading.data("mapping")
    if file is None:
        raise _fault("", "give a project file, or a schedule with its mapping, or a record")
    name, content = file["name"], _bytes_of(file, "/file")
    schedule = name.lower().endswith(_SCHEDULES)
    if schedule and mapping is None:
        raise _fault("/mapping", f"`{name}` is a schedule; add the mapping file that says what its columns mean")
    if mapping is not None and not schedule:
        raise _fault("/mapping", f"`{name}` is no schedule, whose name ends in .csv or .xlsx; leave out the mapping")
    try:
        if mapping is None:
            return project_data(front_door.read_project(content, desk.book, name), desk.book), ()
        how = read_mapping(_bytes_of(mapping, "/mapping"), desk.book, mapping["name"])
        graphs, faults = read_schedule(content, how, desk.book, name)
    except ModuleNotFoundError as missing:
        if missing.name != "openpyxl":
            raise
        raise Problem("failed", "The service reads no workbooks: it was installed without `spreadsheet`.") from None
    except InputFaults as refused:
        raise _refused(refused.faults) from None
    if how.rows == "contact":
        return project_data(graphs[0][1], desk.book), faults
    if not graphs:
        raise _refused(faults)
    try:
        return joined(graphs, desk.book), faults
    except ValueError as apart:
        raise _fault("/file", str(apart)) from None


def _bytes_of(file: Mapping[str, str], pointer: str) -> bytes:
    """The bytes of a file that came as text or in base64. Raises Problem where it came as neither."""
    if "text" in file:
        return file["text"].encode("utf-8", "surrogatepass")
    try:
        return base64.b64decode(file.get("base64", "-"), validate=True)
    except ValueError:
        detail = "this is no base64; give the file as `text`, or its bytes in base64"
        raise _fault(f"{pointer}/base64", detail) from None


def _fault(pointer: str, detail: str) -> Problem:
    return Problem("refused", "The body has 1 fault.", [{"pointer": pointer, "detail": detail}])


def _refused(faults: Sequence[Fault]) -> Problem:
    """The problem whose faults stand in a file that came as text: each names the file, the line and the column."""
    errors = [{"pointer": "/file", **_place(fault), "detail": str(fault)} for fault in faults]
    return Problem("refused", f"The file has {told(errors)}.", errors)


def _place(fault: Fault) -> dict[str, int]:
    return {"line": fault.at.line, "column": fault.at.column} if isinstance(fault.at, At) else {}

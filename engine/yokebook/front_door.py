"""The one way in for records, projects and schedules: strict, and the same for every adapter.

A fact that is not in the rulebook, a value that its fact does not allow, an id that is repeated or leads nowhere: each
is refused with its place, what was found and what is allowed, all at once. Nothing is coerced and nothing is filled in:
what is not given is not known.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from yokebook.frozen import dataclass
from yokebook.graph import Graph, Thing
from yokebook.intake.entry import Entry, from_node, from_python
from yokebook.intake.record import RecordReader
from yokebook.intake.vocabulary import Vocabulary, vocabulary
from yokebook.load.faults import Fault, InputFaults
from yokebook.model import At, Book

if TYPE_CHECKING:
    from pathlib import Path

    from yokebook.load.nodes import Node

#: A flat record or nested project: plain Python data, or a tree that knows where each piece stood.
Record = Mapping[str, object] | Entry


class FrontDoor:
    """The way in for one rulebook; make it once and use it for many records."""

    def __init__(self, book: Book) -> None:
        self.words: Vocabulary = vocabulary(book)

    def record(self, record: Record, called: str | None = None, *, bare_numbers: bool = True) -> Graph:
        """The graph of a flat record: one thing of each kind, linked.

        `called` is what its source calls it, such as the mark of a schedule's row; it starts every thing's id. With
        `bare_numbers` a length, area, time or power may stand without its unit and is then in the fact's own. Raises
        InputFaults with every fault of the record.
        """
        faults: list[Fault] = []
        reader = RecordReader(self.words, faults, called, bare_numbers=bare_numbers)
        return _unless(faults, reader.read(_tree(record)))

    def project(self, project: Record) -> Graph:
        """The graph of a project as nested data. Raises InputFaults with every fault of the project."""
        from yokebook.intake.project import ProjectReader  # not needed for records

        faults: list[Fault] = []
        return _unless(faults, ProjectReader(self.words, faults).read(_tree(project)))

    def records(self, rows: Iterable[tuple[str, Record]]) -> tuple[list[tuple[str, Graph]], list[Fault]]:
        """The graphs of many records, each with what its source calls it: the good ones with their names, and the
        faults of all the others."""
        good: list[tuple[str, Graph]] = []
        faults: list[Fault] = []
        for called, record in rows:
            try:
                good.append((called, self.record(record, called)))
            except InputFaults as refused:
                faults.extend(refused.faults)
        return good, faults


def record_to_graph(record: Mapping[str, object], book: Book) -> Graph:
    """The graph of a flat record such as `{"receptacle.configuration": "5-20R"}`; null is not given, a number may be
    bare in its fact's unit or text with a unit. Raises InputFaults with every fault of the record."""
    return _door(book).record(record)


def project_to_graph(project: Mapping[str, object], book: Book) -> Graph:
    """The graph of a project as nested Python data, keys as in a project file. Raises InputFaults with every fault."""
    return _door(book).project(project)


def read_project(source: Path | str | bytes, book: Book, name: str = "project.yaml") -> Graph:
    """The graph of a project file: a path, or the text itself under the name that faults give it. JSON if the name ends
    in `.json`, else YAML. Raises InputFaults, each fault with file, line and column."""
    from yokebook.intake.project import ProjectReader

    faults: list[Fault] = []
    tree = _file_tree(source, name, faults)
    of_values: list[Fault] = []
    graph = ProjectReader(_door(book).words, of_values).read(tree)
    return _unless(_first_said(faults, of_values), graph)


def read_record(source: Path | str | bytes, book: Book, name: str = "record.yaml") -> Graph:
    """The graph of a file that holds one flat record; otherwise as read_project."""
    faults: list[Fault] = []
    tree = _file_tree(source, name, faults)
    of_values: list[Fault] = []
    graph = RecordReader(_door(book).words, of_values).read(tree)
    return _unless(_first_said(faults, of_values), graph)


def _tree(data: Record) -> Entry:
    return data if isinstance(data, Entry) else from_python(data)


def _file_tree(source: Path | str | bytes, name: str, faults: list[Fault]) -> Entry:
    """The tree of a file; what is wrong with the file itself is noted. Raises InputFaults if nothing can be read."""
    from yokebook.load.files import read_bytes, read_file

    node: Node | None
    if isinstance(source, str | bytes):
        node = read_bytes(source.encode() if isinstance(source, str) else source, name, faults)
    else:
        node = read_file(source, str(source), faults)
    if node is None:
        raise InputFaults(faults)
    return from_node(node)


def _first_said(of_file: list[Fault], of_values: list[Fault]) -> list[Fault]:
    """Both, but one fault where the file itself is wrong: what its value is then taken for is the same slip again."""
    wrong = {fault.at for fault in of_file}
    return [*of_file, *(fault for fault in of_values if fault.at not in wrong)]


def _unless(faults: list[Fault], graph: Graph) -> Graph:
    if faults:
        raise InputFaults(faults)
    return graph


#: The door of the book used last, since callers rule many records with one book.
_last: list[tuple[Book, FrontDoor]] = []


def _door(book: Book) -> FrontDoor:
    if not _last or _last[0][0] is not book:
        _last[:] = [(book, FrontDoor(book))]
    return _last[0][1]


# ---- stated values against computed ones ----------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Disagreement:
    """A calculation that the input states, and that comes out otherwise from the input's own facts."""

    thing: Thing
    calculation: str  # full id
    stated: str  # as printed, with its unit
    computed: str
    because: str  # what it was computed from, such as "`receptacle.configuration` is `5-20R`"


def stated_faults(disagreements: Iterable[Disagreement]) -> list[Fault]:
    """The faults to report for stated values that differ from computed ones, which the evaluator finds."""
    return [Fault(_where(found), _why(found)) for found in disagreements]


def _where(found: Disagreement) -> At | str:
    return found.thing.at.get(found.calculation) or f"{found.thing.id}: {found.calculation}"


def _why(found: Disagreement) -> str:
    return (
        f"`{found.calculation}` is given as {found.stated} and comes out as {found.computed}, because {found.because}; "
        "correct one of them or leave the given value out"
    )

"""What the columns of somebody's device schedule mean: the mapping file, read and checked against the rulebook."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal, cast

from yokebook.entities import KIND_OF_PREFIX, LISTS, PREFIX, Kind
from yokebook.front_door import FrontDoor
from yokebook.intake.entry import Entry, from_node
from yokebook.intake.record import dated_keys, no_fact
from yokebook.intake.value import Reader
from yokebook.intake.vocabulary import Term, Vocabulary
from yokebook.load.faults import Fault, InputFaults, listed, suggest
from yokebook.load.fields import Fields
from yokebook.load.files import read_bytes
from yokebook.load.nodes import Entry as KeyAndNode
from yokebook.load.nodes import MappingNode, Node, Scalar, kind_name
from yokebook.load.scalars import text_of
from yokebook.model import At, Book
from yokebook.units import MEASURE_OF

RowsAre = Literal["record", "contact"]
ROWS_ARE: tuple[RowsAre, ...] = ("record", "contact")

#: What people write in a cell to say that they do not know.
NOT_GIVEN = ("", "N/A", "-", "TBD")

#: Which things a row of a project may name by id, and whether it must.
ID_KINDS: Mapping[Kind, bool] = {
    "space": True,
    "yoke": True,
    "contact": True,
    "control": False,
    "circuit": False,
    "load": False,
}


@dataclass(frozen=True, slots=True)
class ColumnUse:
    """One column that gives one fact."""

    column: str
    key: str  # a fact's or calculation's full id, or a flat record's other key
    term: Term | None  # None for a flat record's other key
    unit: str | None  # of the column's numbers
    words: Mapping[str, Entry]  # what a cell's word stands for
    at: At


@dataclass(frozen=True, slots=True)
class IdUse:
    """Where the id of a row's thing of one kind comes from: a column, or the same text for every row."""

    kind: Kind
    column: str | None
    always: str | None
    split: str | None  # several ids in one cell stand between this
    own: bool  # a load: the cell says what it is, and each row has one of its own
    at: At


@dataclass(frozen=True)
class ScheduleMapping:
    """A mapping file as read."""

    file: str
    rows: RowsAre
    columns: tuple[ColumnUse, ...]
    constants: tuple[tuple[str, Entry], ...]
    complete: tuple[str, ...]  # lists such as "contact.controls"
    not_given: frozenset[str]  # casefolded
    leave_out: frozenset[str] | None  # columns that carry nothing; None: any other column
    call_rows_by: tuple[tuple[str, At], ...]
    ids: Mapping[Kind, IdUse] = field(default_factory=dict)
    project: Entry | None = None
    header_row: int = 1
    delimiter: str = ","

    def wanted_columns(self) -> dict[str, At]:
        """Every column that the mapping needs, and where it says so first."""
        wanted: dict[str, At] = {}
        of_ids = [(use.column, use.at) for use in self.ids.values() if use.column is not None]
        for column, at in (*self.call_rows_by, *of_ids, *((use.column, use.at) for use in self.columns)):
            wanted.setdefault(column, at)
        return dict(sorted(wanted.items(), key=lambda item: (item[1].line, item[1].column)))

    @property
    def delimiter_word(self) -> str:
        """What divides the cells, in words."""
        return {",": "a comma", ";": "a semicolon", "\t": "a tab"}[self.delimiter]


def read_mapping(source: Path | bytes, book: Book, name: str = "mapping.yaml") -> ScheduleMapping:
    """A mapping file, from its path or its bytes. Raises InputFaults with every fault, each with line and column."""
    faults: list[Fault] = []
    try:
        data = source.read_bytes() if isinstance(source, Path) else source
    except OSError as error:
        raise InputFaults([Fault(At(str(source), 1, 1), f"cannot be read: {error.strerror or error}")]) from None
    file = str(source) if isinstance(source, Path) else name
    node = read_bytes(data, file, faults)
    fields = None if node is None else Fields.of(node, "a mapping file", faults)
    if fields is None:
        raise InputFaults(faults)
    mapping = _Reader(FrontDoor(book).words, fields, faults).read()
    if faults:
        raise InputFaults(faults)
    return mapping


class _Reader:
    def __init__(self, words: Vocabulary, fields: Fields, faults: list[Fault]) -> None:
        self.words = words
        self.fields = fields
        self.faults = faults
        self.values = Reader(faults, bare_numbers=False)
        self.rows: RowsAre = "record"
        self.mapped: dict[str, At] = {}  # facts by where they were mapped

    def read(self) -> ScheduleMapping:
        fields = self.fields
        self.rows = cast(RowsAre, fields.word("rows", ROWS_ARE, "what a row can be"))
        made = ScheduleMapping(
            file=fields.at.file,
            rows=self.rows,
            columns=tuple(
                use for entry in fields.entries("columns", "columns") if (use := self._column(entry)) is not None
            ),
            constants=tuple(self._constants()),
            complete=tuple(self._complete()),
            not_given=self._not_given(),
            leave_out=self._leave_out(),
            call_rows_by=tuple(fields.texts("call_rows_by", "columns", required=False)),
            ids=self._ids(),
            project=self._project(),
            header_row=self._header_row(),
            delimiter=self._delimiter(),
        )
        fields.finish()
        return made

    def _column(self, entry: KeyAndNode) -> ColumnUse | None:
        column, node = entry.key.text, entry.value
        if isinstance(node, Scalar):
            key = self._fact(node)
            return None if key is None else ColumnUse(column, key, self.words.terms.get(key), None, {}, entry.key.at)
        inner = Fields.of(node, f"the column `{column}`", self.faults)
        if inner is None:
            return None
        fact = inner.required("fact")
        key = None if fact is None else self._fact(fact)
        term = None if key is None else self.words.terms.get(key)
        unit = self._unit(inner, term)
        words = self._cell_words(inner, term)
        inner.finish()
        return None if key is None else ColumnUse(column, key, term, unit, words, entry.key.at)

    def _fact(self, node: Node) -> str | None:
        try:
            key = text_of(node)
        except ValueError as error:
            self.faults.append(Fault(node.at, f"the name of a fact is due here: {error}"))
            return None
        return key if self._may_map(key, node.at) else None

    def _may_map(self, key: str, at: At) -> bool:
        known = set(self.words.terms)
        if self.rows == "record":
            known |= {*self.words.record_keys, *dated_keys(self.words)}
        if key not in known:
            self.faults.append(Fault(at, no_fact(key, known)))
            return False
        if key in self.mapped:
            self.faults.append(Fault(at, f"`{key}` is mapped already in line {self.mapped[key].line}"))
            return False
        self.mapped[key] = at
        return True

    def _unit(self, inner: Fields, term: Term | None) -> str | None:
        if not inner.has("unit"):
            return None
        measured = MEASURE_OF[term.unit] if term is not None and term.unit is not None else None
        if measured is None and term is not None:
            inner.fault(inner.key_at("unit"), f"`{term.id}` has no unit; leave `unit` out")
        node = inner.optional("unit")
        if measured is None or node is None:
            return None
        return inner.word("unit", tuple(measured.sizes), f"a unit of {measured.name}")

    def _cell_words(self, inner: Fields, term: Term | None) -> dict[str, Entry]:
        words: dict[str, Entry] = {}
        for entry in inner.entries("words", "words", required=False):
            value = from_node(entry.value)
            words[entry.key.text] = value
            if term is not None:
                self._try(term, value)
        return words

    def _try(self, term: Term, value: Entry) -> None:
        """Notes a fault if the front door would refuse the value in every row."""
        if term.type == "text":
            self.values.text(term.id, value)
        else:
            self.values.value(term, value)

    def _constants(self) -> list[tuple[str, Entry]]:
        constants = []
        for entry in self.fields.entries("constants", "facts", required=False):
            if not self._may_map(entry.key.text, entry.key.at):
                continue
            value = from_node(entry.value)
            term = self.words.terms.get(entry.key.text)
            if term is not None:
                self._try(term, value)
            constants.append((entry.key.text, value))
        return constants

    def _complete(self) -> list[str]:
        lists = [f"{PREFIX[kind]}.{name}" for kind, of in LISTS.items() for name, what in of.items() if what.flagged]
        found = self.fields.texts("complete", "lists", required=False)
        for name, at in found:
            if name not in lists:
                message = f"`{name}` is no list{suggest(name, lists)}; allowed: {listed(lists, 20)}"
                self.faults.append(Fault(at, message))
        return [name for name, _ in found]

    def _not_given(self) -> frozenset[str]:
        words: list[str] = []
        for node in self.fields.items("not_given", "words", required=False):
            if isinstance(node, Scalar):
                words.append(node.text)
            else:
                self.faults.append(Fault(node.at, f"`not_given` is a list of words; found {kind_name(node)}"))
        return frozenset(word.strip().casefold() for word in (words or NOT_GIVEN)) | {""}

    def _leave_out(self) -> frozenset[str] | None:
        node = self.fields.optional("leave_out")
        if isinstance(node, Scalar):
            if node.text == "others":
                return None
            self.faults.append(Fault(node.at, f"{kind_name(node)} is no list of columns; allowed: a list, or `others`"))
            return frozenset()
        return frozenset(column for column, _ in self.fields.texts("leave_out", "columns", required=False))

    # ---- rows that are contact devices of one project ----

    def _ids(self) -> dict[Kind, IdUse]:
        fields = self.fields
        if self.rows == "record":
            if fields.has("ids"):
                fields.fault(
                    fields.key_at("ids"), "`ids` is for rows that are a `contact` of one project; leave it out"
                )
            return {}
        inner = fields.fields("ids", "`ids`")
        if inner is None:
            return {}
        found: dict[Kind, IdUse] = {}
        for kind, must in ID_KINDS.items():
            prefix = PREFIX[kind]
            node = inner.required(prefix) if must else inner.optional(prefix)
            use = None if node is None else self._id(kind, node, inner.key_at(prefix))
            if use is not None:
                found[kind] = use
        inner.finish()
        return found

    def _id(self, kind: Kind, node: Node, at: At) -> IdUse | None:
        what = f"the id of the {PREFIX[kind]}"
        if not isinstance(node, MappingNode):
            try:
                return IdUse(kind, text_of(node), None, None, False, at)
            except ValueError as error:
                self.faults.append(Fault(node.at, f"{what} comes from a column: {error}"))
                return None
        inner = Fields(node, what, self.faults)
        which = inner.one_key_of(("column", "always"), "source")
        text = None if which is None else inner.text(which)
        split = inner.optional_text("split") if kind == "control" else None
        own = inner.truth("each_row_its_own", False) if kind == "load" else False
        inner.finish()
        if which is None:
            return None
        return IdUse(kind, text if which == "column" else None, text if which == "always" else None, split, own, at)

    def _project(self) -> Entry | None:
        node = self.fields.optional("project")
        if node is None:
            return None
        if self.rows == "record":
            message = (
                "`project` is for rows that are a `contact` of one project; put facts of the project in `constants`"
            )
            self.fields.fault(self.fields.key_at("project"), message)
        return from_node(node)

    # ---- how the file is written ----

    def _header_row(self) -> int:
        number = self.fields.number("header_row", None)
        if number is None:
            return 1
        if number.denominator != 1 or not 1 <= number <= 1000:
            self.fields.fault(self.fields.key_at("header_row"), f"`{number}` is no row; allowed: 1 to 1000")
            return 1
        return int(number)

    def _delimiter(self) -> str:
        text = self.fields.word("delimiter", ("comma", "semicolon", "tab"), "a delimiter", "comma")
        return {"comma": ",", "semicolon": ";", "tab": "\t"}[text]


def list_of(name: str) -> tuple[Kind, str, Kind]:
    """The owner, the name and the kind of the items of a list such as `contact.controls`."""
    prefix, _, rest = name.partition(".")
    kind = KIND_OF_PREFIX[prefix]
    return kind, rest, LISTS[kind][rest].kind

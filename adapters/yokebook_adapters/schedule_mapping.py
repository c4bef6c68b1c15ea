"""What the columns of somebody's device schedule mean: the mapping file, read and checked against the rulebook."""

from __future__ import annotations

from pathlib import Path
from typing import cast

from yokebook.entities import LISTS, PREFIX, Kind
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
from yokebook_adapters.schedule_columns import (
    CELL,
    DELIMITERS,
    ID_KINDS,
    LAYOUTS,
    NOT_GIVEN,
    PANEL_FROM,
    ROWS_ARE,
    ColumnUse,
    IdUse,
    PanelUse,
    RowsAre,
    ScheduleMapping,
)


def read_mapping(source: Path | bytes, book: Book, name: str = "mapping.yaml") -> ScheduleMapping:
    """A mapping file, from its path or its bytes. Only one that is a file may name other files, from its own folder.

    Raises InputFaults with every fault, each with line and column.
    """
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
    folder = source.parent if isinstance(source, Path) else None
    mapping = _Reader(FrontDoor(book).words, fields, faults, folder).read()
    if faults:
        raise InputFaults(faults)
    return mapping


class _Reader:
    def __init__(self, words: Vocabulary, fields: Fields, faults: list[Fault], folder: Path | None) -> None:
        self.words = words
        self.folder = folder
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
            header_row=self._header_row(fields),
            delimiter=self._delimiter(),
            sheet=fields.optional_text("sheet"),
            fill_down=tuple(column for column, _ in fields.texts("fill_down", "columns", required=False)),
            numbers_as_shown=self._numbers_as_shown(fields),
            panels=self._panels(),
            skip_rows_without=tuple(fields.texts("skip_rows_without", "columns", required=False)),
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
                return IdUse(kind, (text_of(node),), "", None, None, False, at)
            except ValueError as error:
                self.faults.append(Fault(node.at, f"{what} comes from a column: {error}"))
                return None
        inner = Fields(node, what, self.faults)
        which = inner.one_key_of(("column", "columns", "always"), "source")
        several = tuple(name for name, _ in inner.texts("columns", "columns")) if which == "columns" else ()
        text = None if which in (None, "columns") else inner.text(which or "")
        joined_by = inner.text("joined_by", "/") if which == "columns" else ""
        split = inner.optional_text("split") if kind == "control" else None
        own = inner.truth("each_row_its_own", False) if kind == "load" else False
        inner.finish()
        if which is None:
            return None
        columns = (text,) if which == "column" and text is not None else several
        return IdUse(kind, columns, joined_by, text if which == "always" else None, split, own, at)

    # ---- panel schedules ----

    def _panels(self) -> PanelUse | None:
        inner = self.fields.fields("panels", "`panels`", required=False)
        if inner is None:
            return None
        mapped, self.mapped = self.mapped, {}  # a circuit's fact may stand in both schedules, which must agree then
        columns = [use for entry in inner.entries("columns", "columns") if (use := self._column(entry)) is not None]
        for use in columns:
            if not use.key.startswith(f"{PREFIX['circuit']}."):
                self.faults.append(Fault(use.at, f"`{use.key}` is no fact of a circuit; a panel schedule gives those"))
        self.mapped = mapped
        panel_from, panel, after = self._panel_name(inner)
        made = PanelUse(
            files=tuple(self._panel_files(inner)),
            sheets=tuple(inner.texts("sheets", "sheets", required=False)),
            header_row=self._header_row(inner),
            layout=inner.word("layout", LAYOUTS, "a layout", LAYOUTS[0]),
            panel_from=panel_from,
            panel=panel,
            after=after,
            circuit=inner.text("circuit"),
            joined_by=inner.text("joined_by", "/"),
            columns=tuple(columns),
            by=self._panels_by(inner),
            numbers_as_shown=self._numbers_as_shown(inner),
            skip_rows_without_circuit=inner.truth("skip_rows_without_circuit", False),
        )
        inner.finish()
        return made

    def _panel_files(self, inner: Fields) -> list[tuple[Path, At]]:
        files = inner.texts("files", "files", required=False)
        if files and self.folder is None:
            inner.fault(inner.key_at("files"), "only a mapping that is a file itself may name other files")
        return [((self.folder or Path()) / file, at) for file, at in files]

    def _panel_name(self, inner: Fields) -> tuple[str, str, str]:
        where = inner.fields("panel", "`panel`")
        which = None if where is None else where.one_key_of(PANEL_FROM, "source")
        if where is None or which is None:
            return PANEL_FROM[0], "", ""
        text = "" if which == "sheet_name" else where.text(which)
        if which == "sheet_name" and not where.truth("sheet_name", True):
            where.fault(where.key_at("sheet_name"), "`sheet_name` is yes, or left out")
        if which == "cell" and text and not CELL.fullmatch(text):
            where.fault(where.value_at("cell"), f"`{text}` is no cell; allowed: a column's letters and a row, as B1")
        after = where.text("after", "") if which == "cell" else ""
        where.finish()
        return which, text, after

    def _panels_by(self, inner: Fields) -> IdUse | None:
        circuit = self.fields.node.get("ids")
        if self.rows == "record":
            node = inner.required("by")
            return None if node is None else self._id("circuit", node, inner.key_at("by"))
        if inner.has("by"):
            inner.fault(inner.key_at("by"), "`by` is for rows that are a `record`; `ids` names the circuit here")
        if isinstance(circuit, MappingNode) and circuit.get(PREFIX["circuit"]) is None:
            inner.fault(inner.at, "`panels` needs `circuit` under `ids`, by which rows name a panel's circuit")
        return None

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

    def _header_row(self, fields: Fields) -> int:
        number = fields.number("header_row", None)
        if number is None:
            return 1
        if number.denominator != 1 or not 1 <= number <= 1000:
            fields.fault(fields.key_at("header_row"), f"`{number}` is no row; allowed: 1 to 1000")
            return 1
        return int(number)

    def _numbers_as_shown(self, fields: Fields) -> frozenset[str]:
        return frozenset(column for column, _ in fields.texts("numbers_as_shown", "columns", required=False))

    def _delimiter(self) -> str:
        return DELIMITERS[self.fields.word("delimiter", tuple(DELIMITERS), "a delimiter", "comma")]

"""Folders of editions: edition.yaml, one file a table, and part files with named numbers, carried rules and changes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from yokebook.load.common import checked_of
from yokebook.load.faults import Fault
from yokebook.load.fields import Fields
from yokebook.load.nodes import MappingNode, Node
from yokebook.load.ops import OpReader
from yokebook.load.scope import Scope
from yokebook.load.tables import WRITTEN_OUT, TableReader
from yokebook.model import At, Carried, Edition, NumberValue, Op, Table

HEAD = "edition.yaml"


@dataclass(slots=True)
class _Parts:
    tables: list[Table] = field(default_factory=list)
    carried: list[Carried] = field(default_factory=list)
    changes: list[Op] = field(default_factory=list)


class EditionFolder:
    """One edition's files, read in two rounds: named numbers first, because any document's cells may use them."""

    def __init__(
        self,
        document: str,
        edition: str,
        files: Mapping[str, Node],
        folder: str,
        scope: Scope,
        faults: list[Fault],
    ) -> None:
        self.document = document
        self.edition = edition
        self.faults = faults
        self.scope = scope
        self.folder = folder
        self._tables = {name: node for name, node in files.items() if _is_table(node)}
        parts = {name: node for name, node in files.items() if name not in self._tables}
        self._parts = {
            name: fields
            for name, node in parts.items()
            if (fields := Fields.of(node, f"the file {name} of an edition", faults)) is not None
        }
        self._reader = TableReader(scope, document, faults)
        self._values: list[NumberValue] = []

    def read_values(self) -> None:
        """First round. The named numbers become known to the scope."""
        known = self.scope.values.setdefault(self.document, {})
        first: dict[str, At] = {}
        for fields in self._parts.values():
            for value in self._reader.values(fields):
                if value.id in first:
                    self.faults.append(Fault(value.at, f"`value.{value.id}` stands already at {first[value.id]}"))
                    continue
                first[value.id] = value.at
                known[value.id] = value.unit
                self.scope.stricter[value.id] = value.stricter
                self._values.append(value)

    def read(self) -> Edition | None:
        """Second round. None, with faults, if the edition has no usable head."""
        parts = _Parts()
        for name, node in self._tables.items():
            table = self._reader.table(node, name.removesuffix(".yaml"))
            if table is not None:
                parts.tables.append(table)
        ops = OpReader(self._reader)
        made = self._head()
        for fields in self._parts.values():
            parts.carried.extend(self._carried(fields))
            parts.changes.extend(ops.ops(fields, "changes", WRITTEN_OUT, layer=False, required=False))
            fields.finish()
        if made is None:
            return None
        if made.follows is None:
            self._first_has_no(parts.carried, "carried")
            self._first_has_no(parts.changes, "changes")
        return Edition(
            document=self.document,
            edition=self.edition,
            follows=made.follows,
            tables=tuple(parts.tables),
            values=tuple(self._values),
            carried=tuple(parts.carried),
            changes=tuple(parts.changes),
            how_checked=made.how_checked,
            at=made.at,
            published=made.published,
        )

    def _head(self) -> Edition | None:
        fields = self._parts.get(HEAD)
        if fields is None:
            if HEAD not in self._tables:
                self.faults.append(Fault(At(f"{self.folder}/{HEAD}", 1, 1), "the edition's folder has no such file"))
            return None
        document, edition = fields.text("document"), fields.text("edition")
        for key, found, wanted in (("document", document, self.document), ("edition", edition, self.edition)):
            if found and found != wanted:
                self.faults.append(Fault(fields.value_at(key), f"this folder is of {key} `{wanted}`; found `{found}`"))
        return Edition(
            document=document,
            edition=edition,
            follows=fields.optional_text("follows"),
            tables=(),
            values=(),
            carried=(),
            changes=(),
            how_checked=fields.text("how_checked"),
            at=fields.at,
            published=fields.text("published", ""),
        )

    def _first_has_no(self, found: Sequence[Carried | Op], what: str) -> None:
        for each in found:
            self.faults.append(
                Fault(
                    each.at, f"`{what}` stands in an edition that follows none; write its tables out, or say `follows`"
                )
            )

    def _carried(self, fields: Fields) -> list[Carried]:
        found: list[Carried] = []
        for node in fields.items("carried", "groups of rules", required=False):
            inner = Fields.of(node, "a group of carried rules", self.faults)
            if inner is None:
                continue
            rules = tuple(rule for rule, _ in inner.texts("rules", "rules"))
            section = inner.optional_text("section")
            found.append(Carried(rules, None if section == "as before" else section, checked_of(inner), inner.at))
            inner.finish()
        return found


def _is_table(node: Node) -> bool:
    return isinstance(node, MappingNode) and "answers" in node.entries

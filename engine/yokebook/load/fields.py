"""Reading one mapping key by key: what is missing, unknown or of the wrong kind is noted as a fault, and a stand-in is
returned so that reading goes on and finds the rest. Nothing made with a stand-in is ever used: a load with faults
raises."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from fractions import Fraction

from yokebook.load.faults import Fault, listed, suggest
from yokebook.load.nodes import Entry, MappingNode, Node, Scalar, SequenceNode, kind_name
from yokebook.load.scalars import number_of, text_of, truth_of, word_of
from yokebook.model import At


class Fields:
    """A mapping being read. `what` names it in messages ("a rule", "the fact `load.kind`")."""

    def __init__(self, node: MappingNode, what: str, faults: list[Fault]) -> None:
        self.node = node
        self.what = what
        self.faults = faults
        self.at = node.at
        self._known: list[str] = []

    @classmethod
    def of(cls, node: Node, what: str, faults: list[Fault]) -> Fields | None:
        """The reader of a node that has to be a mapping; None, with a fault, if it is not."""
        if isinstance(node, MappingNode):
            return cls(node, what, faults)
        faults.append(Fault(node.at, f"{what} is a mapping of keys; found {kind_name(node)}"))
        return None

    def fault(self, at: At, message: str) -> None:
        """Notes a fault."""
        self.faults.append(Fault(at, message))

    def optional(self, key: str) -> Node | None:
        """What stands under `key`; None if the key is absent. A key with nothing under it is a fault."""
        self._known.append(key)
        entry = self.node.entries.get(key)
        if entry is None:
            return None
        if isinstance(entry.value, Scalar) and entry.value.is_null:
            self._note(Fault(entry.key.at, f"`{key}` of {self.what} has no value"))
            return None
        return entry.value

    def _note(self, fault: Fault) -> None:
        """Notes a fault unless the reader of nodes has said more about the same place."""
        if not any(known.at == fault.at for known in self.faults):
            self.faults.append(fault)

    def has(self, key: str) -> bool:
        """Whether the key is written, with a value or without. It is known from then on."""
        self._known.append(key)
        return key in self.node.entries

    def key_at(self, key: str) -> At:
        """Where the key stands, or the mapping if the key is absent."""
        entry = self.node.entries.get(key)
        return self.at if entry is None else entry.key.at

    def value_at(self, key: str) -> At:
        """Where what stands under the key begins, or the mapping if the key is absent."""
        entry = self.node.entries.get(key)
        return self.at if entry is None else entry.value.at

    def required(self, key: str) -> Node | None:
        """What stands under `key`; None, with a fault, if there is nothing."""
        node = self.optional(key)
        if node is None and key not in self.node.entries:
            self.fault(self.at, f"`{key}` is missing from {self.what}")
        return node

    def _scalar_fault(self, node: Node, key: str, error: ValueError) -> None:
        self.fault(node.at, f"`{key}` of {self.what}: {error}")

    def text(self, key: str, default: str | None = None) -> str:
        """Text under `key`; required without a default."""
        node = self.required(key) if default is None else self.optional(key)
        if node is None:
            return default or ""
        try:
            return text_of(node)
        except ValueError as error:
            self._scalar_fault(node, key, error)
            return default or ""

    def optional_text(self, key: str) -> str | None:
        """Text under `key`, None if the key is absent."""
        return self.text(key, "") or None

    def truth(self, key: str, default: bool) -> bool:
        """A yes or no under `key`."""
        node = self.optional(key)
        if node is None:
            return default
        try:
            return truth_of(node)
        except ValueError as error:
            self._scalar_fault(node, key, error)
            return default

    def word(self, key: str, words: Collection[str], what: str, default: str | None = None) -> str:
        """One of `words` under `key`; required without a default. `what` says what they are ("a kind of thing")."""
        node = self.required(key) if default is None else self.optional(key)
        stand_in = default if default is not None else next(iter(words), "")
        if node is None:
            return stand_in
        try:
            return word_of(node, words, what)
        except ValueError as error:
            self._scalar_fault(node, key, error)
            return stand_in

    def number(self, key: str, unit: str | None) -> Fraction | None:
        """A number under `key` in `unit`; None if absent or at fault."""
        node = self.optional(key)
        if node is None:
            return None
        try:
            return number_of(node, unit)
        except ValueError as error:
            self._scalar_fault(node, key, error)
            return None

    def fields(self, key: str, what: str, *, required: bool = True) -> Fields | None:
        """The mapping under `key`; None if absent or at fault."""
        node = self.required(key) if required else self.optional(key)
        return None if node is None else Fields.of(node, what, self.faults)

    def entries(self, key: str, what: str, *, required: bool = True) -> Iterator[Entry]:
        """Key and value of each entry of the mapping under `key`; `what` says what they are ("facts")."""
        node = self.required(key) if required else self.optional(key)
        if node is None:
            return
        if not isinstance(node, MappingNode):
            self.fault(node.at, f"`{key}` of {self.what} is a mapping of {what}; found {kind_name(node)}")
            return
        yield from node.entries.values()

    def items(self, key: str, what: str, *, required: bool = True) -> list[Node]:
        """The items of the list under `key`; `what` says what they are ("rules")."""
        node = self.required(key) if required else self.optional(key)
        if node is None:
            return []
        if not isinstance(node, SequenceNode):
            self.fault(node.at, f"`{key}` of {self.what} is a list of {what}; found {kind_name(node)}")
            return []
        return node.items

    def texts(self, key: str, what: str, *, required: bool = True) -> list[tuple[str, At]]:
        """The texts of the list under `key` with their places, repeated ones refused."""
        found: dict[str, At] = {}
        for node in self.items(key, what, required=required):
            try:
                text = text_of(node)
            except ValueError as error:
                self._scalar_fault(node, key, error)
                if not isinstance(node, Scalar):
                    continue
                text = node.text
            if text in found:
                self.fault(node.at, f"`{text}` stands twice in `{key}` of {self.what}")
            found.setdefault(text, node.at)
        return list(found.items())

    def one_key_of(self, keys: Collection[str], what: str) -> str | None:
        """The one key of `keys` that the mapping has; None, with a fault, where it has none or several."""
        self._known.extend(keys)
        found = [key for key in self.node.entries if key in keys]
        if len(found) == 1:
            return found[0]
        near = next((key for key in self.node.entries if key not in self._known and suggest(key, keys)), None)
        if not found and near is not None:
            self.fault(self.key_at(near), self._unknown(near, keys))
            return None
        had = f"found {listed(found)}" if found else "found none"
        self.fault(self.at, f"{self.what} has exactly one {what}; {had}; allowed: {listed(keys, 20)}")
        return None

    def finish(self) -> None:
        """Notes a fault for each key that nobody asked for."""
        known = list(dict.fromkeys(self._known))
        for key, entry in self.node.entries.items():
            if key not in known:
                self._note(Fault(entry.key.at, self._unknown(key, known)))

    def _unknown(self, key: str, known: Collection[str]) -> str:
        return f"`{key}` is not a key of {self.what}{suggest(key, known)}; allowed: {listed(known, 30)}"

"""rulebook/places/: lines of time and layers. What the names in them lead to is looked at by place_checks.py."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import cast, get_args

from yokebook.load.faults import Fault
from yokebook.load.fields import Fields
from yokebook.load.nodes import Node, SequenceNode, kind_name
from yokebook.load.ops import OpReader
from yokebook.load.scope import Scope
from yokebook.load.tables import TableReader
from yokebook.model import Adopts, AmendmentsEntered, Entry, Layer, NotEntered, Place, Window

AMENDMENTS: tuple[AmendmentsEntered, ...] = get_args(AmendmentsEntered)
STATES = ("adopts", "follows", "none_in_force", "not_entered", "choice")
_ISO = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")


@dataclass(frozen=True, slots=True)
class _Choice:
    id: str
    asks: str
    alternatives: Mapping[str, Adopts | NotEntered]


class PlaceReader:
    """Reads the files of places."""

    def __init__(self, scope: Scope, faults: list[Fault]) -> None:
        self.faults = faults
        self.ops = OpReader(TableReader(scope, None, faults))

    def place(self, root: Node, file_id: str) -> Place | None:
        """The place of one file; `file_id` is what its id must be: the file's path under places/ without `.yaml`, or of
        a draft its own id."""
        fields = Fields.of(root, "a place", self.faults)
        if fields is None:
            return None
        place_id = fields.text("place")
        if place_id and place_id != file_id:
            self.faults.append(
                Fault(fields.value_at("place"), f"`{place_id}` is in the file of `{file_id}`; the two must be the same")
            )
        made = Place(
            id=file_id,
            name=fields.text("name"),
            within=fields.optional_text("within"),
            office=fields.text("office"),
            demo=fields.truth("demo", False),
            lines={line.key.text: self._line(line.value, line.key.text) for line in fields.entries("lines", "lines")},
            layers=self._layers(fields),
            at=fields.at,
        )
        fields.finish()
        return made

    def _line(self, node: Node, kind: str) -> tuple[Entry, ...]:
        holder = _as_list(node, f"the line `{kind}`", self.faults)
        return tuple(entry for item in holder if (entry := self._entry(item, kind)) is not None)

    def _entry(self, node: Node, kind: str) -> Entry | None:
        fields = Fields.of(node, f"an entry of the line `{kind}`", self.faults)
        if fields is None:
            return None
        entry_id = fields.text("id")
        fields.what = f"the entry `{entry_id}`"
        state = fields.one_key_of(STATES, "state")
        if state is None:
            fields.has("amendments")
        adopts = self._adopts(fields, "adopts") if state == "adopts" else None
        choice = self._choice(fields) if state == "choice" else None
        layers, amendments = self._over(fields) if state == "follows" else ((), None)
        if state in ("adopts", "choice") and fields.has("layers"):
            beside = f"`layers` of {fields.what} stands beside `{state}`"
            where = "layers over a document stand in the same braces as its edition"
            self.faults.append(Fault(fields.key_at("layers"), f"{beside}; {where}"))
        entry = Entry(
            id=entry_id,
            event=fields.optional_text("event"),
            on_or_after=self._date(fields),
            adopts=adopts,
            follows=fields.text("follows") if state == "follows" else None,
            none_in_force=fields.text("none_in_force") if state == "none_in_force" else None,
            not_entered=fields.text("not_entered") if state == "not_entered" else None,
            choice=None if choice is None else choice.alternatives,
            choice_id=None if choice is None else choice.id,
            choice_asks=None if choice is None else choice.asks,
            says=fields.text("says", ""),
            source=fields.text("source", "" if state == "not_entered" else None),
            at=fields.at,
            layers=layers,
            amendments=amendments,
        )
        fields.finish()
        return entry

    def _date(self, fields: Fields, key: str = "on_or_after") -> str | None:
        """A day as it is written; that it is a real one is looked at later."""
        day = fields.optional_text(key)
        if day is not None and not _ISO.fullmatch(day):
            at = fields.value_at(key)
            self.faults.append(Fault(at, f"`{key}` of {fields.what}: `{day}` is no date; allowed: YYYY-MM-DD"))
            return None
        return day

    def _amendments(self, fields: Fields) -> AmendmentsEntered:
        return cast(AmendmentsEntered, fields.word("amendments", AMENDMENTS, "a state of the amendments"))

    def _over(self, entry: Fields) -> tuple[tuple[str, ...], AmendmentsEntered | None]:
        """What an entry puts over what it follows, and how complete that is."""
        layers = tuple(layer for layer, _ in entry.texts("layers", "layers", required=False))
        return layers, self._amendments(entry) if layers or entry.has("amendments") else None

    def _adopts(self, entry: Fields, key: str) -> Adopts | None:
        inner = entry.fields(key, f"`{key}` of {entry.what}")
        amendments = self._amendments(entry)
        return None if inner is None else self._adopted(inner, amendments)

    def _adopted(self, fields: Fields, amendments: AmendmentsEntered) -> Adopts:
        made = Adopts(
            document=fields.text("document"),
            edition=fields.text("edition"),
            layers=tuple(layer for layer, _ in fields.texts("layers", "layers", required=False)),
            amendments=amendments,
        )
        fields.finish()
        return made

    def _choice(self, entry: Fields) -> _Choice | None:
        fields = entry.fields("choice", f"`choice` of {entry.what}")
        amendments = self._amendments(entry)
        if fields is None:
            return None
        alternatives: dict[str, Adopts | NotEntered] = {}
        for each in fields.entries("alternatives", "alternatives"):
            inner = Fields.of(each.value, f"the alternative `{each.key.text}`", self.faults)
            if inner is not None:
                alternatives[each.key.text] = self._alternative(inner, amendments)
        made = _Choice(fields.text("id"), fields.text("asks"), alternatives)
        fields.finish()
        return made

    def _alternative(self, fields: Fields, amendments: AmendmentsEntered) -> Adopts | NotEntered:
        if not fields.has("not_entered"):
            return self._adopted(fields, amendments)
        made = NotEntered(fields.text("not_entered"))
        fields.finish()
        return made

    def _layers(self, place: Fields) -> dict[str, Layer]:
        layers: dict[str, Layer] = {}
        for each in place.entries("layers", "layers", required=False):
            fields = Fields.of(each.value, f"the layer `{each.key.text}`", self.faults)
            if fields is None:
                continue
            amendments = [
                found
                for node in fields.items("amendments", "amendments")
                if (found := self.ops.amendment(node)) is not None
            ]
            stricter_only, less_strict = fields.text("stricter_only", ""), fields.text("less_strict", "")
            if stricter_only and less_strict:
                both = f"{fields.what} has both `stricter_only` and `less_strict`"
                self.faults.append(Fault(fields.key_at("less_strict"), f"{both}; allowed: one of them, or neither"))
            window = self._window(fields)
            fields.finish()
            layers[each.key.text] = Layer(
                each.key.text, tuple(amendments), each.key.at, stricter_only, less_strict, window
            )
        return layers

    def _window(self, layer: Fields) -> Window | None:
        """The days of an event on which a layer applies, if it says so."""
        fields = layer.fields("applies", f"`applies` of {layer.what}", required=False)
        if fields is None:
            return None
        made = Window(fields.text("event"), self._date(fields), self._date(fields, "before"))
        fields.finish()
        return made


def _as_list(node: Node, what: str, faults: list[Fault]) -> list[Node]:
    if isinstance(node, SequenceNode) and node.items:
        return node.items
    found = "an empty list" if isinstance(node, SequenceNode) else kind_name(node)
    faults.append(Fault(node.at, f"{what} is a list of entries; found {found}"))
    return []

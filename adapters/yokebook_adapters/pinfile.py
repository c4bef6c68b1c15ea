"""Pins in a place's file: what is due, what is there, and writing the one over the other with layout and comments kept.

Beside a file with pins stands FILE.pins.json: what each pin was made over, part by part, so that a stale pin can show
the old text next to the new.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from yokebook import shipped
from yokebook.layers import LayerUse, layer_uses
from yokebook.load.book import load_book
from yokebook.load.faults import Fault, RulebookFaults, suggest
from yokebook.model import Amendment, At, Book, Layer, Op, Place
from yokebook.pins import Pinned, RecordedPart, RecordedPin, pin_of_op, wording_of_op
from yokebook.words import rule_words
from yokebook_adapters.pinrecord import Key, place_path, read_record, record_text
from yokebook_adapters.pinrecord import record_path as record_path
from yokebook_adapters.pintext import PinSpot, with_pins

PinState = Literal["kept", "missing", "stale"]


@dataclass(frozen=True)
class MovedPart:
    """A part of the text below that is no longer as it was pinned; None where it was not there, or no longer is."""

    name: str
    was: str | None
    now: str | None


@dataclass(frozen=True)
class PinRow:
    """One op that a pin is due for."""

    layer: str
    amendment: str
    op: str
    target: str
    at: At
    base: str  # the document and edition under the layers
    words: str  # what the op changes, as the layer below leaves it
    found: str | None  # the pin in the file
    due: str
    state: PinState  # as the file was found
    #: of a stale pin, the parts that moved; () also where no record of the old text is kept
    moved: tuple[MovedPart, ...]


@dataclass(frozen=True)
class PinReport:
    """What a place's file had for pins and, when written, has now."""

    path: Path
    record: Path  # the .pins.json file
    rows: tuple[PinRow, ...]
    written: bool  # whether the file was changed
    #: of a stale pin, by the place of its row: what the moved text does to outcomes. Worked out only by `pin_file`.
    effects: Mapping[At, str] = field(default_factory=dict)

    def stale(self) -> tuple[PinRow, ...]:
        """The rows whose pin was not that of the text below."""
        return tuple(row for row in self.rows if row.state == "stale")


def pin_file(path: Path, book_root: Path | None = None) -> PinReport:
    """Write into a place's file every pin that is missing or stale, and what all were made over into the file beside
    it; the report says what was found. A second run changes nothing.

    `book_root` is the rulebook that the file is part of, by default the one whose `places` folder it is in.
    Raises RulebookFaults: not a place file, a rulebook at fault, a layer that no entry adopts, or one adopted over
    two texts that would need different pins.
    """
    root = _root_of(path) if book_root is None else book_root
    book = load_book(root)
    place = _place_of(path, root, book)
    _must_be_adopted(book, place)
    rows = _rows(book, place)
    record = record_path(path)
    recorded = read_record(record)
    report = _report(path, rows, recorded)
    effects = _effects(book, place, recorded) if report.stale() else {}
    spots = [
        PinSpot(row.use.layer.id, row.amendment_number, row.op_number, row.op.op, row.due.pin)
        for row in rows
        if row.op.pin != row.due.pin
    ]
    if spots:
        old = path.read_bytes().decode("utf-8")
        path.write_bytes(with_pins(old, spots, str(path)).encode("utf-8"))
    if rows or record.exists():
        text = record_text(path, [(_key(row), _base(row.use), row.due, _wording(book, row)) for row in rows])
        if not record.exists() or record.read_text(encoding="utf-8") != text:
            record.write_text(text, encoding="utf-8")
    return PinReport(path, record, report.rows, bool(spots), effects)


def pin_report(book: Book, place: str) -> PinReport:
    """The pins of a place's layers as they stand, nothing written: what is due beside what is there, and of stale
    pins which part moved. Layers that no entry adopts are left out: nothing is below them.

    Raises RulebookFaults: unknown place, or a layer adopted over two texts that would need different pins.
    """
    if place not in book.places:
        raise RulebookFaults([Fault("place", f"no place `{place}` in this rulebook{suggest(place, book.places)}")])
    path = place_path(book, book.places[place])
    return _report(path, _rows(book, book.places[place]), read_record(record_path(path)))


# ---- what is due --------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Row:
    use: LayerUse
    amendment: Amendment
    amendment_number: int
    op: Op
    op_number: int
    due: Pinned


def _rows(book: Book, place: Place) -> list[_Row]:
    """Each op of the place's adopted layers that a pin is due for, in file order."""
    faults: dict[Fault, None] = {}
    rows: dict[tuple[str, int, int], _Row] = {}
    for use, wrong in layer_uses(book):
        if use.owner.id != place.id:
            continue
        faults.update(dict.fromkeys(wrong))
        for row in _rows_of(book, use):
            key = (use.layer.id, row.amendment_number, row.op_number)
            first = rows.setdefault(key, row)
            if first.due.pin != row.due.pin:
                faults[Fault(row.op.at, _two_bases(first, row))] = None
    if faults:
        raise RulebookFaults(faults)
    order = {layer: number for number, layer in enumerate(place.layers)}
    return [rows[key] for key in sorted(rows, key=lambda key: (order[key[0]], *key[1:]))]


def _rows_of(book: Book, use: LayerUse) -> list[_Row]:
    rows: list[_Row] = []
    for number, amendment in enumerate(use.layer.amendments):
        for op_number, op in enumerate(amendment.ops):
            due = None if op.op == "add" else pin_of_op(use.below, book, op)
            if due is not None:
                rows.append(_Row(use, amendment, number, op, op_number, due))
    return rows


def _two_bases(one: _Row, other: _Row) -> str:
    return (
        f"layer `{one.use.layer.id}` is adopted by `{one.use.entry.id}` over {_base(one.use)} and by "
        f"`{other.use.entry.id}` over {_base(other.use)}, where `{one.op.target}` is not the same ({one.due.pin} and "
        f"{other.due.pin}); write a layer for each"
    )


def _base(use: LayerUse) -> str:
    return f"{use.below.document.id} {use.below.edition}"


def _must_be_adopted(book: Book, place: Place) -> None:
    adopted = {use.layer.id for use, _ in layer_uses(book) if use.owner.id == place.id}
    missing: list[Layer] = [layer for layer in place.layers.values() if layer.id not in adopted]
    if missing:
        raise RulebookFaults(
            Fault(layer.at, f"layer `{layer.id}` is adopted by no entry, so there is no text below it to pin")
            for layer in missing
        )


# ---- the report ---------------------------------------------------------------------------------------------------

def _report(path: Path, rows: list[_Row], record: Mapping[Key, RecordedPin]) -> PinReport:
    return PinReport(path, record_path(path), tuple(_row(row, record) for row in rows), False)


def _row(row: _Row, record: Mapping[Key, RecordedPin]) -> PinRow:
    op = row.op
    state: PinState = "missing" if op.pin is None else "kept" if op.pin == row.due.pin else "stale"
    recorded = record.get(_key(row))
    known = recorded is not None and recorded.pin == op.pin
    moved = _moved(recorded.parts, row.due) if recorded is not None and known and state == "stale" else ()
    return PinRow(
        row.use.layer.id,
        row.amendment.id,
        op.op,
        op.target,
        op.pin_at or op.at,
        _base(row.use),
        _words(row),
        op.pin,
        row.due.pin,
        state,
        moved,
    )


def _effects(book: Book, place: Place, record: Mapping[Key, RecordedPin]) -> dict[At, str]:
    from yokebook.proof.stale import moved_bases
    from yokebook.proof.stale_findings import effect_words

    bases = moved_bases(book, place.id, record)
    return {base.op.pin_at or base.op.at: effect_words(base) for base in bases if base.stale}


def _key(row: _Row) -> Key:
    return (row.use.layer.id, row.amendment.id, row.op.op, row.op.target)


def _wording(book: Book, row: _Row) -> dict[str, str]:
    return wording_of_op(row.use.below, book, row.op)


def _moved(was: Mapping[str, RecordedPart], now: Pinned) -> tuple[MovedPart, ...]:
    names = [*now.parts, *(name for name in was if name not in now.parts)]
    return tuple(
        MovedPart(name, was[name].words if name in was else None, now.parts.get(name))
        for name in names
        if (was[name].digest if name in was else None) != now.digests.get(name)
    )


def _words(row: _Row) -> str:
    for table in row.use.below.tables.values():
        for rule in table.rules:
            if rule.id == row.op.target:
                return rule_words(rule, row.use.below.values)
    return "; ".join(f"{name}: {words}" for name, words in row.due.parts.items())


# ---- which file ---------------------------------------------------------------------------------------------------


def _root_of(path: Path) -> Path:
    """The rulebook that a file is part of: the folder above the nearest `places` folder, else the shipped one."""
    for folder in path.resolve().parents:
        if folder.name == "places":
            return folder.parent
    return shipped.folder("rulebook")


def _place_of(path: Path, root: Path, book: Book) -> Place:
    places = (root / "places").resolve()
    full = path.resolve()
    if full.is_relative_to(places) and full.is_file():
        name = full.relative_to(places).with_suffix("").as_posix()
        if name in book.places and full.suffix == ".yaml":
            return book.places[name]
    found = f"not the file of a place of the rulebook {root}; only places have layers, and their files are in {places}"
    raise RulebookFaults([Fault(str(path), found)])

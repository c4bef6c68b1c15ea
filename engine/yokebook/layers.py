"""Layers: what one body changes in one document, applied to the document as the layers below leave it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from yokebook.adopted_layers import adoptions, find_layer, full_names, ways_of_windows, with_added
from yokebook.changes import Change, apply_changes, target_of, text_of
from yokebook.editions import resolve_edition
from yokebook.load.faults import Fault, RulebookFaults, listed, suggest
from yokebook.model import (
    Adopts,
    Amendment,
    Book,
    Box,
    Entry,
    Layer,
    Op,
    Place,
    Reading,
    Resolved,
    Step,
)
from yokebook.pins import pin_of_op
from yokebook.reach import names_in_boxes, values_reached


def apply_layer(book: Book, below: Resolved, layer: Layer, *, drafts: bool = False) -> Resolved:
    """The document with the layer's amendments made, each op reading the document as it is below the layer.

    `drafts=True` takes ops with a missing or stale pin as they are.
    Raises RulebookFaults with every fault of the layer.
    """
    above, faults = _apply(book, below, layer)
    if not drafts:
        faults.extend(pin_faults(book, below, layer))
    if faults:
        raise RulebookFaults(faults)
    return above


def _apply(book: Book, below: Resolved, layer: Layer) -> tuple[Resolved, list[Fault]]:
    """The layered document as far as it can be made, and what is wrong with the layer, pins left aside."""
    changes = [_change(amendment, op) for amendment in layer.amendments for op in amendment.ops]
    before = text_of(below, _name(below))
    text = text_of(below, f"{before.name} with {layer.id}")
    faults = apply_changes(text, before, changes, book)
    faults.extend(_amendment_faults(layer))
    chosen, more = _choose(book, below, changes)
    faults.extend(more)
    above = replace(
        below,
        tables=text.tables(),
        values=text.values,
        chosen=chosen,
        amendments=(*below.amendments, *layer.amendments),
    )
    return above, faults


def _name(resolved: Resolved) -> str:
    return f"{resolved.document.id} {resolved.edition}"


def _change(amendment: Amendment, op: Op) -> Change:
    says = op.says or amendment.says
    return Change(op, amendment.id, op.cite or amendment.cite, says, op.checked or amendment.checked, "joined")


def _amendment_faults(layer: Layer) -> list[Fault]:
    """Amendments of one layer with the same id, and pins where none is due."""
    faults: list[Fault] = []
    first: dict[str, Amendment] = {}
    for amendment in layer.amendments:
        other = first.setdefault(amendment.id, amendment)
        if other is not amendment:
            found = f"amendment `{amendment.id}` is in layer `{layer.id}` twice: here and at {other.at}"
            faults.append(Fault(amendment.at, found))
        for op in amendment.ops:
            if op.op == "add" and op.pin is not None:
                found = f"`add` of `{op.target}` has a pin; an add changes nothing below, so it takes none"
                faults.append(Fault(op.pin_at or op.at, found))
    return faults


# ---- readings ---------------------------------------------------------------------------------------------------

Choice = tuple[str, str, Box | None, Step]


def _choose(book: Book, below: Resolved, changes: list[Change]) -> tuple[tuple[Choice, ...], list[Fault]]:
    """The readings chosen after this layer, and what is wrong with its choices.

    The first choice whose box a record is in holds: a layer's choices stand before those below it, and one for all
    records takes their place.
    """
    made, faults = list[Choice](), list[Fault]()
    settled: set[str] = set()
    for change in sorted(changes, key=lambda c: (c.op.at.file, c.op.at.line, c.op.at.column)):
        op = change.op
        if op.op != "choose_reading":
            continue
        name = target_of(op)[1]
        found = _choice_fault(book, below, op, name)
        if found is not None:
            faults.append(Fault(op.at, found))
            continue
        assert op.alternative is not None
        made.append((name, op.alternative, op.where, change.step()))
        if op.where is None:
            settled.add(name)
    return (*made, *(choice for choice in below.chosen if choice[0] not in settled)), faults


def _choice_fault(book: Book, below: Resolved, op: Op, name: str) -> str | None:
    reading: Reading | None = book.readings.get(name)
    if reading is None:
        return f"`choose_reading` names `{name}`, which is no reading of this rulebook{suggest(name, book.readings)}"
    if op.alternative not in reading.alternatives:
        return (
            f"`choose_reading` of `{name}` chooses `{op.alternative}`; its alternatives are "
            f"{listed(reading.alternatives)}"
        )
    if reading.editions and below.edition not in reading.editions and reading.cite.document == below.document.id:
        return (
            f"`choose_reading` of `{name}`: {_name(below)} does not leave it open; it is a reading of "
            f"{reading.cite.document} {listed(reading.editions)}"
        )
    unset = values_reached(names_in_boxes([op.where or {}]), book) - below.values.keys()
    if unset:
        return f"`choose_reading` of `{name}` uses {listed(sorted(unset))}, which {_name(below)} does not set"
    return None


# ---- pins -------------------------------------------------------------------------------------------------------


def pin_faults(book: Book, below: Resolved, layer: Layer) -> list[Fault]:
    """A fault for each op whose pin is missing or is not that of the text below the layer. Ops that name nothing
    below are left to the faults of apply_layer."""
    faults: list[Fault] = []
    for amendment in layer.amendments:
        for op in amendment.ops:
            due = None if op.op == "add" else pin_of_op(below, book, op)
            if due is None or op.pin == due.pin:
                continue
            if op.pin is None:
                found = (
                    f"`{op.op}` of `{op.target}` has no pin, so layer `{layer.id}` is a draft and cannot be in force; "
                    f"due is `{due.pin}`, which `yokebook pin` writes once you have read the text below"
                )
            else:
                found = (
                    f"`{op.op}` of `{op.target}` has the pin `{op.pin}`; the text below the layer has `{due.pin}`, so "
                    f"it is no longer what was amended; `yokebook pin` shows the old text beside the new"
                )
            faults.append(Fault(op.pin_at or op.at, found))
    return faults


# ---- where a layer is used --------------------------------------------------------------------------------------


@dataclass(frozen=True)
class LayerUse:
    """A layer where an entry puts it: over this text."""

    owner: Place
    layer: Layer
    below: Resolved
    place: Place  # whose entry
    entry: Entry


def layer_uses(book: Book) -> Iterator[tuple[LayerUse, list[Fault]]]:
    """Every layer of every entry of every place with the text below it and what is wrong when it is applied, pins
    left aside. Entries whose document or edition does not resolve are passed over, as are layers not found."""
    editions: dict[tuple[str, str], Resolved | None] = {}
    for place in book.places.values():
        for kind, line in place.lines.items():
            for entry in line:
                for adopts in adopted_here(book, place, kind, entry):
                    key = (adopts.document, adopts.edition)
                    if adopts.layers and key not in editions:
                        editions[key] = _resolved_or_none(book, *key)
                    below = editions.get(key)
                    if below is not None:
                        yield from _uses(book, below, place, entry, adopts)


def _uses(
    book: Book, below: Resolved, place: Place, entry: Entry, adopts: Adopts
) -> Iterator[tuple[LayerUse, list[Fault]]]:
    # of what is followed, the layers are told where they are adopted
    told = adopts.layers if entry.follows is None else full_names(place, entry.layers)
    for name in adopts.layers:
        found = find_layer(book, place, name)
        if found is not None:
            owner, layer = found
            above, faults = _apply(book, below, layer)
            if name in told:
                yield LayerUse(owner, layer, below, place, entry), faults
            below = above


def adopted_here(book: Book, place: Place, kind: str, entry: Entry) -> list[Adopts]:
    """What an entry may put in force with all its layers, once for each way in which the windows of layers let them
    apply. Of an entry that follows another place: what it may find there, if it puts layers over it, else nothing."""
    if entry.follows is None:
        found = list(adoptions(entry))
    else:
        found = list(_followed(book, place, kind, entry, ())) if entry.layers else []
    return [
        replace(adopts, layers=layers)
        for adopts in found
        for layers in ways_of_windows(book, place, adopts.layers, {}, None)[0]
    ]


def _followed(book: Book, place: Place, kind: str, entry: Entry, via: tuple[str, ...]) -> Iterator[Adopts]:
    """What an entry may find at the place that it follows, with its own layers over it."""
    other = book.places.get(entry.follows or "")
    if other is None or other.id in via:
        return
    later = place.lines[kind][place.lines[kind].index(entry) + 1 :]
    line = other.lines.get(kind, ())
    for number, each in enumerate(line):
        if _never_meet(entry, later, each, line[number + 1 :]):
            continue
        if each.follows is not None:
            below = _followed(book, other, kind, each, (*via, place.id))
        else:
            own = adoptions(each)
            below = iter([replace(adopts, layers=full_names(other, adopts.layers)) for adopts in own])
        yield from (with_added(adopts, place, entry) for adopts in below)


def _never_meet(entry: Entry, later: Iterable[Entry], there: Entry, later_there: Iterable[Entry]) -> bool:
    """Whether no project can come under an entry of a place followed by way of an entry that follows: whoever meets
    the one meets what comes after the other."""
    return any(_follows_from(entry, other) for other in later_there) or any(
        _follows_from(there, other) for other in later
    )


def _follows_from(met: Entry, other: Entry) -> bool:
    """Whether a project that meets one entry's date meets another's."""
    if met.on_or_after is None or other.on_or_after is None:
        return other.on_or_after is None
    return met.event == other.event and met.on_or_after >= other.on_or_after


def _resolved_or_none(book: Book, document: str, edition: str) -> Resolved | None:
    try:
        return resolve_edition(book, document, edition)
    except RulebookFaults:
        return None


def layer_faults(book: Book, *, drafts_allowed: bool) -> list[Fault]:
    """What is wrong with the layers of all places, each fault once.

    With `drafts_allowed` pins are not looked at and a layer that no entry adopts may stand; without it every op must
    have the pin of the text below, and a layer that no entry adopts is a fault.
    """
    faults: dict[Fault, None] = {}
    used: set[tuple[str, str]] = set()
    for use, found in layer_uses(book):
        used.add((use.owner.id, use.layer.id))
        faults.update(dict.fromkeys(found))
        if not drafts_allowed:
            faults.update(dict.fromkeys(pin_faults(book, use.below, use.layer)))
    if not drafts_allowed:
        for place in book.places.values():
            for layer in place.layers.values():
                if (place.id, layer.id) not in used:
                    found_unused = f"layer `{layer.id}` of `{place.id}` is adopted by no entry, so nothing checks it"
                    faults[Fault(layer.at, found_unused)] = None
    return list(faults)

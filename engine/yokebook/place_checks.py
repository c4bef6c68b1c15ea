"""What must hold of a place's lines of time before any of them is used."""

from __future__ import annotations

from collections.abc import Iterator

from yokebook.adopted_layers import adoptions, find_layer, layers_named
from yokebook.adoption import REAL_DATE, is_date, unknown_layer
from yokebook.load.faults import Fault, listed, suggest
from yokebook.model import Adopts, Book, Entry, Layer, Place


def place_faults(book: Book) -> list[Fault]:
    """What is wrong with the lines of time of all places: names that lead nowhere, days that are none, entries that
    can never govern, places that follow each other in a circle."""
    faults: list[Fault] = []
    for place in book.places.values():
        first: dict[str, Entry] = {}
        for kind, line in place.lines.items():
            for number, entry in enumerate(line):
                other = first.setdefault(entry.id, entry)
                if other is not entry:
                    found = f"entry `{entry.id}` is in {place.id} twice: here and at {other.at}"
                    faults.append(Fault(entry.at, found))
                found_here = [*_form(entry, number), *_names(book, place, kind, entry)]
                faults.extend(Fault(entry.at, message) for message in found_here)
            faults.extend(_order(line))
            faults.extend(_circles(book, place, kind))
        faults.extend(Fault(layer.at, found) for layer in place.layers.values() for found in _days_of(layer))
    return faults


def _form(entry: Entry, number: int) -> Iterator[str]:
    """Faults of an entry by itself; `number` counts the entries of its line from 0."""
    said = {
        "adopts": entry.adopts,
        "follows": entry.follows,
        "none_in_force": entry.none_in_force,
        "not_entered": entry.not_entered,
        "choice": entry.choice,
    }
    given = [key for key, what in said.items() if what is not None]
    if len(given) != 1:
        found = listed(given) if given else "none of them"
        yield f"entry `{entry.id}` has {found}; allowed: exactly one of {listed(said)}"
    if (entry.event is None) != (entry.on_or_after is None):
        yield f"entry `{entry.id}` has only one of `event` and `on_or_after`; allowed: both or neither"
    if entry.on_or_after is not None and not is_date(entry.on_or_after):
        yield f"entry `{entry.id}`: `{entry.on_or_after}` is not {REAL_DATE}"
    if entry.event is None and entry.on_or_after is None and number > 0:
        yield (
            f"entry `{entry.id}` has no `event` and `on_or_after`, so it always governs and no entry before it ever "
            f"does; allowed: only on the first entry of a line"
        )
    if entry.choice is not None:
        if len(entry.choice) < 2:
            yield f"entry `{entry.id}` leaves a choice between {len(entry.choice)} alternatives; allowed: two or more"
        if entry.choice and not adoptions(entry):
            yield (
                f"entry `{entry.id}` leaves a choice of which no alternative is entered; allowed: `not_entered` with "
                f"the reason"
            )
        if not entry.choice_id or not entry.choice_asks:
            yield f"entry `{entry.id}` leaves a choice without `id` or `asks`; allowed: both given"


def _days_of(layer: Layer) -> Iterator[str]:
    """Faults of the days on which a layer applies."""
    window = layer.window
    if window is None:
        return
    if window.on_or_after is None and window.before is None:
        yield f"layer `{layer.id}` applies by an event without a day; allowed: `on_or_after`, `before` or both"
    days = {"on_or_after": window.on_or_after, "before": window.before}
    for key, day in days.items():
        if day is not None and not is_date(day):
            yield f"layer `{layer.id}`: `{key}` is `{day}`, which is not {REAL_DATE}"
    if window.on_or_after is not None and window.before is not None and window.before <= window.on_or_after:
        yield f"layer `{layer.id}` applies from {window.on_or_after} and only before {window.before}, so on no day"


def _names(book: Book, place: Place, kind: str, entry: Entry) -> Iterator[str]:
    """Names in an entry that lead nowhere."""
    for adopts in adoptions(entry):
        yield from _adopts(book, adopts)
    yield from _layer_names(book, place, entry)
    if entry.follows is not None:
        other = book.places.get(entry.follows)
        if other is None:
            hint = suggest(entry.follows, book.places)
            yield f"entry `{entry.id}` follows `{entry.follows}`, which is no place of this rulebook{hint}"
        elif kind not in other.lines:
            yield (
                f"entry `{entry.id}` follows `{entry.follows}` for `{kind}`, of which that place has no line; it has "
                f"{listed(other.lines)}"
            )


def _adopts(book: Book, adopts: Adopts) -> Iterator[str]:
    if adopts.document not in book.documents:
        yield f"no document `{adopts.document}` in this rulebook{suggest(adopts.document, book.documents)}"
    elif (adopts.document, adopts.edition) not in book.editions:
        there = [edition for document, edition in book.editions if document == adopts.document]
        yield f"no edition `{adopts.edition}` of `{adopts.document}` in this rulebook; there are {listed(there)}"


def _layer_names(book: Book, place: Place, entry: Entry) -> Iterator[str]:
    for name in dict.fromkeys(layers_named(entry)):
        if find_layer(book, place, name) is None:
            yield unknown_layer(book, place, name)
    for layers in (entry.layers, *(adopts.layers for adopts in adoptions(entry))):
        twice = dict.fromkeys(name for number, name in enumerate(layers) if name in layers[:number])
        yield from (f"layer `{name}` is adopted twice in one entry" for name in twice)


def _order(line: tuple[Entry, ...]) -> Iterator[Fault]:
    """Entries of one event whose dates do not rise: the earlier entry could then never govern."""
    last: dict[str, Entry] = {}
    for entry in line:
        if entry.event is None or entry.on_or_after is None or not is_date(entry.on_or_after):
            continue
        before = last.get(entry.event)
        if before is not None and before.on_or_after is not None and entry.on_or_after <= before.on_or_after:
            yield Fault(
                entry.at,
                f"entry `{entry.id}` is from {entry.on_or_after}, and `{before.id}` before it, of the same event, from "
                f"{before.on_or_after}; allowed: later entries have later dates",
            )
        last[entry.event] = entry


def _circles(book: Book, place: Place, kind: str) -> Iterator[Fault]:
    """The entries of this line by which a place follows itself, told once, at the first place of the circle by name."""
    for entry in place.lines[kind]:
        if entry.follows is not None:
            way = _way_back(book, place.id, entry.follows, kind)
            if way and place.id == min(way):
                told = " follows ".join(f"`{each}`" for each in (*way, place.id))
                yield Fault(entry.at, f"places follow each other in a circle: {told}")


def _way_back(book: Book, start: str, follows: str, kind: str) -> tuple[str, ...]:
    """The shortest way from a place by the one it follows back to itself; () where there is none."""
    came_from: dict[str, str] = {follows: start}
    waiting = [follows]
    for name in waiting:  # grows while it is walked
        if name == start:
            way = [start] if came_from[start] == start else [came_from[start]]
            while way[-1] != start:
                way.append(came_from[way[-1]])
            return tuple(reversed(way))
        place = book.places.get(name)
        for entry in place.lines.get(kind, ()) if place else ():
            if entry.follows is not None and entry.follows not in came_from:
                came_from[entry.follows] = name
                waiting.append(entry.follows)
    return ()

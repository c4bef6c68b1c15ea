"""Which layers are over what: the names by which entries put them there, and the days on which they apply."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from itertools import product

from yokebook.model import Adopts, AmendmentsEntered, Book, Entry, Layer, Place, Window


def adoptions(entry: Entry) -> tuple[Adopts, ...]:
    """What an entry itself may put in force: one adoption, each alternative of a choice that is entered, or none."""
    if entry.adopts is not None:
        return (entry.adopts,)
    return tuple(each for each in (entry.choice or {}).values() if isinstance(each, Adopts))


def layers_named(entry: Entry) -> tuple[str, ...]:
    """The layers that an entry names, as it names them."""
    return (*entry.layers, *(name for adopts in adoptions(entry) for name in adopts.layers))


def find_layer(book: Book, place: Place, name: str) -> tuple[Place, Layer] | None:
    """The layer that an entry of this place names, with the place it belongs to: the place's own, or another's
    written `PLACE#LAYER`. None where there is none."""
    other, _, layer = name.rpartition("#")
    owner = book.places.get(other) if other else place
    if owner is None or layer not in owner.layers:
        return None
    return owner, owner.layers[layer]


def with_added(adopts: Adopts, place: Place, entry: Entry) -> Adopts:
    """An adoption with what an entry of another place, which follows it, puts over it."""
    layers = (*adopts.layers, *full_names(place, entry.layers))
    return replace(adopts, layers=layers, amendments=_together(adopts.amendments, entry.amendments))


def full_names(place: Place, layers: Iterable[str]) -> tuple[str, ...]:
    """The names of layers of a place as other places write them, `PLACE#LAYER`."""
    return tuple(name if "#" in name else f"{place.id}#{name}" for name in layers)


def _together(below: AmendmentsEntered, own: AmendmentsEntered | None) -> AmendmentsEntered:
    """How complete the amendments of two places are together."""
    if own is None or own == below:
        return below
    entered = {"all entered", "some entered"}
    return "some entered" if entered & {below, own} else "not looked for"


def ways_of_windows(
    book: Book, place: Place, layers: tuple[str, ...], dates: Mapping[str, str], on: str | None
) -> tuple[list[tuple[str, ...]], tuple[str, ...]]:
    """The layers that apply on the project's dates, for each way in which the dates not given could fall, latest
    first; and the events whose dates would settle it, () where there is one way."""
    windows = {name: window for name in layers if (window := _window(book, place, name)) is not None}
    missing = dict.fromkeys(w.event for w in windows.values() if dates.get(w.event, on) is None)
    ways: dict[tuple[str, ...], None] = {}
    for days in product(*(_days(event, windows.values()) for event in missing)):
        known = {**dates, **dict(zip(missing, days, strict=True))}
        shut = [n for n, window in windows.items() if not _inside(window, known.get(window.event, on))]
        ways[tuple(name for name in layers if name not in shut)] = None
    return list(ways), tuple(missing) if len(ways) > 1 else ()


def _window(book: Book, place: Place, name: str) -> Window | None:
    found = find_layer(book, place, name)
    return None if found is None else found[1].window


def _days(event: str, windows: Iterable[Window]) -> list[str]:
    """One day of each stretch of time in which no window of the event opens or closes, latest first."""
    days = {"0001-01-01"}
    for window in windows:
        if window.event == event:
            days.update(day for day in (window.on_or_after, window.before) if day is not None)
    return sorted(days, reverse=True)


def _inside(window: Window, day: str | None) -> bool:
    # ISO dates compare as text
    assert day is not None
    return (window.on_or_after or "") <= day and (window.before is None or day < window.before)

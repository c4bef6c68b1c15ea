"""A place's lines of time side by side: what governs from which day, and how completely that is entered."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from yokebook.model import Book, Entry, Place
from yokebook_adapters.drawings.measure import fit
from yokebook_adapters.drawings.svg import GREY, INK, Picture, leading
from yokebook_adapters.lines import capital
from yokebook_adapters.places_text import since, what_stands

_RAIL, _COLUMN, _GAP, _BAR, _PAD = 84.0, 300.0, 14.0, 11.0, 7.0
_TEXT, _SMALL, _HEAD, _TITLE = 10.5, 9.5, 12.5, 14.0
_ROW = 24.0

_KEY = (
    "Bar at the left of a box: black, the law and all amendments are entered; slanting lines, the law is entered and "
    "amendments may be missing; dots, the law is that of another place or a choice; empty, nothing is entered or in "
    "force. Boxes follow each other in order of date, not to scale."
)


@dataclass(frozen=True)
class _Stretch:
    """Entries of one line that begin in one row, and the row in which the next begins."""

    first: int
    end: int
    entries: tuple[Entry, ...]


def draw_timeline(book: Book, place: Place, name: str = "timeline") -> Picture:
    """The lines of time of one place, a column for each kind of document, rows in order of date."""
    days = sorted({entry.on_or_after or "" for line in place.lines.values() for entry in line})
    columns = {kind: _stretches(line, days) for kind, line in place.lines.items()}
    width = _RAIL + max(1, len(columns)) * (_COLUMN + _GAP)
    picture = Picture(name, f"Line of time of {place.name}", _description(book, place), width)
    title = fit(f"What governs in {place.name}", width - _GAP, _TITLE, bold=True)
    top = picture.lines(0, 16, title, size=_TITLE, bold=True) + 18
    tops = _tops(book, columns, len(days), top)
    for day, y in zip(days, tops, strict=False):
        picture.line((0, y), (width - _GAP, y), thick=0.6, ink=GREY)
        picture.text(0, y + 13, day or "before that", size=_TEXT, bold=True)
    for number, (kind, stretches) in enumerate(columns.items()):
        x = _RAIL + number * (_COLUMN + _GAP)
        picture.text(x, top - 8, capital(kind), size=_HEAD, bold=True)
        for stretch in stretches:
            _box(picture, book, stretch, x, tops[stretch.first], tops[stretch.end])
    y = tops[-1] + 20
    y = picture.lines(0, y, fit(_KEY, width - _GAP, _SMALL), size=_SMALL, ink=GREY)
    picture.height = y - leading(_SMALL) + 8
    return picture


def _description(book: Book, place: Place) -> str:
    said = [
        f"{capital(kind)}, {since(entry)}: {'; '.join(what_stands(book, entry))}."
        for kind, line in place.lines.items()
        for entry in line
    ]
    return " ".join(said) or "Nothing is entered."


def _stretches(line: Sequence[Entry], days: Sequence[str]) -> list[_Stretch]:
    """The entries of a line, each from its day to that of the next; entries of an earlier day stand with the one
    before."""
    starts: dict[int, list[Entry]] = {}
    latest = 0
    for entry in line:
        latest = max(latest, days.index(entry.on_or_after or ""))
        starts.setdefault(latest, []).append(entry)
    rows = [*starts, len(days)]
    return [_Stretch(row, rows[n + 1], tuple(starts[row])) for n, row in enumerate(starts)]


def _tops(book: Book, columns: dict[str, list[_Stretch]], rows: int, top: float) -> list[float]:
    """Where each row begins and the last one ends, so that every box holds its text."""
    heights = [_ROW] * rows
    for stretches in columns.values():
        for stretch in stretches:
            missing = _text_height(book, stretch) - sum(heights[stretch.first : stretch.end])
            heights[stretch.end - 1] += max(0.0, missing)
    tops = [top]
    for height in heights:
        tops.append(tops[-1] + height)
    return tops


def _texts(book: Book, stretch: _Stretch) -> list[tuple[str, bool]]:
    """The lines in a box, each with whether it is bold."""
    wide = _COLUMN - _BAR - 2 * _PAD
    found: list[tuple[str, bool]] = []
    for entry in stretch.entries:
        found += [(line, True) for line in fit(capital(since(entry)), wide, _TEXT, bold=True)]
        for said in what_stands(book, entry):
            found += [(line, False) for part in said.split("; ") for line in fit(capital(part), wide, _TEXT)]
    return found


def _text_height(book: Book, stretch: _Stretch) -> float:
    return len(_texts(book, stretch)) * leading(_TEXT) + 2 * _PAD + 4


def _box(picture: Picture, book: Book, stretch: _Stretch, x: float, top: float, end: float) -> None:
    height = end - top - 4
    picture.box(x, top + 2, _COLUMN, height, fill="#ffffff", line=1.2)
    states = {_state(entry) for entry in stretch.entries}
    state = states.pop() if len(states) == 1 else "amendments may be missing"
    if state == "all entered":
        picture.box(x, top + 2, _BAR, height, fill=INK)
    elif state == "amendments may be missing":
        picture.hatch(x, top + 2, _BAR, height, step=5, thick=1.3)
    elif state == "elsewhere":
        picture.dots(x, top + 2, _BAR, height, step=5)
    picture.line((x + _BAR, top + 2), (x + _BAR, top + 2 + height))
    y = top + 2 + _PAD + _TEXT
    for text, bold in _texts(book, stretch):
        picture.text(x + _BAR + _PAD, y, text, size=_TEXT, bold=bold)
        y += leading(_TEXT)


def _state(entry: Entry) -> str:
    """How completely an entry says what governs."""
    if entry.adopts is not None:
        return "all entered" if entry.adopts.amendments == "all entered" else "amendments may be missing"
    return "elsewhere" if entry.follows or entry.choice else "nothing"

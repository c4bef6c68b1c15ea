"""The face of one device: its contact devices, what feeds each, and where the mark sits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from yokebook_adapters.drawings.measure import fit
from yokebook_adapters.drawings.svg import GREY, Picture, leading
from yokebook_adapters.drawings.symbol import MEANING, draw_sign
from yokebook_adapters.lines import capital, in_words
from yokebook_adapters.marking_schedule_text import half_text
from yokebook_adapters.outcome import RulingData
from yokebook_adapters.views import MARK, MarkOfHalf, half_marks

#: Numbers of the rulings on what the mark consists of and where it sits (see rulebook/questions).
_FORM, _PLACE = "R06", "R07"

#: Numbers of all rulings that a face shows.
SHOWN = (MARK, _FORM, _PLACE)

#: Where the mark is drawn on the contact device itself; elsewhere beside it, on the plate.
_ON_THE_DEVICE = "face"

_WIDE, _HIGH, _GAP, _EDGE = 132.0, 74.0, 8.0, 12.0
_STRIP, _TEXT, _SMALL = 17.0, 11.0, 9.5

_MARK_WORDS: dict[MarkOfHalf, str] = {
    "marked": "to be marked",
    "not marked": "no mark asked for",
    "open": "mark not settled",
    "not ruled": "mark not ruled here",
}


@dataclass(frozen=True)
class Half:
    """One contact device: `supply` as given or None, `fed` in words, `mark`, and of the mark its form and place."""

    position: str
    supply: str | None
    fed: str
    mark: MarkOfHalf
    form: tuple[str, ...] = ()
    place: tuple[str, ...] = ()

    def mark_words(self) -> str:
        """Whether it is marked, and with what and where, as ruled."""
        text = _MARK_WORDS[self.mark]
        if self.mark != "marked":
            return text
        ruled = (("form", self.form), ("place", self.place))
        return "; ".join([text, *(f"{lead}: {in_words(words, 'or')}" for lead, words in ruled if words)])


def halves_of(
    line: Mapping[str, Any], marks: Mapping[str, Any], rulings: Mapping[str, Sequence[RulingData]]
) -> list[Half]:
    """The contact devices of one line of the marking schedule; `marks` is the device's entry of views.marks_by_yoke,
    `rulings` those on each contact device by its path."""
    contacts = {half["position"]: half["contact"] for half in marks["halves"]}
    found = []
    for half in line["halves"]:
        ruled = rulings.get(contacts.get(half["position"], ""), ())
        words = {number: tuple(dict.fromkeys(r["word"] for r in ruled if r["ruling"] == number and not r["idle"]))
                 for number in (_FORM, _PLACE)}  # fmt: skip
        said = half_marks(ruled)
        found.append(Half(half["position"], half["supply"], half_text(half), said, words[_FORM], words[_PLACE]))
    return found


def draw_face(label: str, halves: Sequence[Half], name: str = "face", *, legend: bool = True) -> Picture:
    """The face with what feeds each contact device beside it. Without `legend` the face alone, for a line of a table
    that says the rest."""
    beside = {half.position for half in halves} <= {"left", "right"} or len(halves) > 3
    columns = 2 if beside and len(halves) > 1 else 1
    rows = -(-len(halves) // columns)
    plate_wide = columns * (_WIDE + _GAP) - _GAP + 2 * _EDGE
    plate_high = rows * (_HIGH + _GAP) - _GAP + 2 * _EDGE
    picture = Picture(name, f"Face of {label}", _description(halves), plate_wide + 4)
    picture.box(2, 2, plate_wide, max(plate_high, 2 * _EDGE), line=1.6, round_by=7)
    for index, half in enumerate(halves):
        row, column = divmod(index, columns)
        _contact(picture, half, 2 + _EDGE + column * (_WIDE + _GAP), 2 + _EDGE + row * (_HIGH + _GAP))
    picture.height = plate_high + 4
    if legend:
        _legend(picture, label, halves, plate_wide + 24)
    return picture


def _description(halves: Sequence[Half]) -> str:
    said = [f"{_called(half)}: {half.fed}; {half.mark_words()}." for half in halves]
    sign = [MEANING] if any(half.mark == "marked" for half in halves) else []
    hatching = "Slanting lines: a control takes the power away. Plain: always on. Dots: not given."
    return " ".join([*said, hatching, *sign]) if halves else "No contact device is listed."


def _called(half: Half) -> str:
    return "The contact device" if half.position == "only" else capital(half.position)


def _contact(picture: Picture, half: Half, x: float, y: float) -> None:
    """One contact device: a plug-in symbol, the mark if there is one, and its name on a strip below."""
    high = _HIGH - _STRIP
    if half.supply == "controlled":
        picture.hatch(x, y, _WIDE, high)
    elif half.supply is None:
        picture.dots(x, y, _WIDE, high)
    picture.box(x, y, _WIDE, _HIGH, line=1.2, round_by=2)
    picture.line((x, y + high), (x + _WIDE, y + high))
    name = "the one" if half.position == "only" else half.position
    feed = half.supply or "not given"
    picture.text(x + 5, y + _HIGH - 5, name, size=_SMALL, bold=True)
    picture.text(x + _WIDE - 5, y + _HIGH - 5, feed, size=_SMALL, anchor="end")
    _plug(picture, x + 29, y + high / 2)
    if half.mark in ("marked", "open"):
        _mark(picture, half, x + 58, y + high / 2)


def _plug(picture: Picture, x: float, y: float) -> None:
    """The plan sign of a receptacle: a circle with two strokes, whatever plug it takes."""
    picture.disc((x, y), 17)
    for aside in (-5.5, 5.5):
        picture.line((x + aside, y - 8), (x + aside, y + 8), thick=2)


def _mark(picture: Picture, half: Half, x: float, y: float) -> None:
    """The mark on the contact device; with dashes around it where it sits elsewhere, and the word where it has one."""
    sure = half.mark == "marked"
    word = sure and any("word" in form for form in half.form)
    wide = 66.0 if word else 24.0
    elsewhere = sure and half.place != () and _ON_THE_DEVICE not in half.place
    picture.box(x, y - 20, wide, 36, fill="#ffffff", line=0.8 if elsewhere else 0, dashes="4 3" if elsewhere else "")
    size = 18.0 if word else 20.0
    draw_sign(picture, x + (wide - size) / 2, y - 18, size, sure=sure)
    if word:
        picture.text(x + wide / 2, y + 12, "controlled", size=10.5, bold=True, anchor="middle")


def _legend(picture: Picture, label: str, halves: Sequence[Half], x: float) -> None:
    wide = 300.0
    y = picture.lines(x, 16, fit(label, wide, 12.5, bold=True), size=12.5, bold=True) + 4
    for half in halves:
        y = picture.lines(x, y, [_called(half)], size=_TEXT, bold=True)
        for text in (half.fed, half.mark_words()):
            y = picture.lines(x, y, fit(text, wide, _TEXT), size=_TEXT)
        y += 5
    picture.height = max(picture.height, y)
    picture.width = x + wide
    y = picture.height + leading(_SMALL)
    key = "Slanting lines: a control takes the power away. Plain: always on. Dots: not given."
    sign = [MEANING] if any(half.mark == "marked" for half in halves) else []
    for text in (key, *sign):
        y = picture.lines(2, y, fit(text, picture.width - 4, _SMALL), size=_SMALL, ink=GREY) + 2
    picture.height = y - leading(_SMALL) + 8

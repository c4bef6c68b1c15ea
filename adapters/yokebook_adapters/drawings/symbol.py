"""The sign that stands in our drawings where the mark of a controlled receptacle goes, and what is said of it.

The electrical code shows the symbol in a figure and asks the maker of the device to put it there. The figure is not
copied: a plain shape of our own, a pennant in a square, stands in its place.
"""

from __future__ import annotations

from yokebook_adapters.drawings.svg import Picture

#: What is said of the sign wherever it is drawn.
MEANING = (
    "The pennant in a square stands where the mark goes. It is a sign of this drawing only: the mark itself is the one "
    "that the code's figure shows, and the maker of the device puts it on."
)


def draw_sign(picture: Picture, x: float, y: float, size: float, *, sure: bool = True) -> None:
    """The sign with its upper left corner at x, y; a question mark in a dashed square where it is not settled."""
    picture.box(x, y, size, size, fill="#ffffff", line=1.2, dashes="" if sure else "3 2")
    if not sure:
        picture.text(x + size / 2, y + size * 0.76, "?", size=size * 0.75, bold=True, anchor="middle")
        return
    left, top, bottom = x + size * 0.28, y + size * 0.16, y + size * 0.86
    picture.line((left, top), (left, bottom), thick=1.6)
    point = (x + size * 0.82, y + size * 0.36)
    picture.outline([(left, top), point, (left, y + size * 0.56)], fill="#111111", line=0.8)

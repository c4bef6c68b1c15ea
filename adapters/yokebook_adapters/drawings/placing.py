"""Where there is still room in a drawing, so that nothing is written over anything else."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from yokebook_adapters.drawings.measure import text_width


@dataclass(frozen=True)
class Box:
    """What something takes up: its left, top, right and bottom."""

    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: Box) -> bool:
        """Whether the two have more in common than an edge."""
        return (
            self.left < other.right and other.left < self.right and self.top < other.bottom and other.top < self.bottom
        )


@dataclass
class Room:
    """A part of a drawing, and what is taken of it."""

    inside: Box
    taken: list[Box] = field(default_factory=list)

    def take(self, box: Box) -> None:
        """Marks it as taken, whatever is there already."""
        self.taken.append(box)

    def free(self, box: Box) -> bool:
        """Whether it lies within and meets nothing."""
        within = (
            self.inside.left <= box.left
            and box.right <= self.inside.right
            and self.inside.top <= box.top
            and box.bottom <= self.inside.bottom
        )
        return within and not any(box.meets(other) for other in self.taken)

    def write(self, text: str, size: float, places: Iterable[tuple[float, float]], *, bold: bool = False
              ) -> tuple[float, float] | None:  # fmt: skip
        """Takes the first of the places where the text has room: each the middle of the text and its base line, and
        the middle moved as far as the text needs to stay within. None where there is no room at any."""
        half = text_width(text, size, bold=bold) / 2 + 2
        for middle, base in places:
            middle = min(max(middle, self.inside.left + half), self.inside.right - half)
            box = Box(middle - half, base - size, middle + half, base + size * 0.3)
            if self.free(box):
                self.take(box)
                return middle, base
        return None

"""What pairs of tables differ in, worked out once for all laws in which both are the same."""

from __future__ import annotations

from yokebook.proof.cover import NotDecided
from yokebook.proof.differences import Difference, differences
from yokebook.proof.elements import Space


class Compared:
    """Keeps the differences of spaces, for others that are cut the same and have the same rows."""

    def __init__(self) -> None:
        self._kept: dict[object, list[Difference] | None] = {}

    def differences(self, space: Space) -> list[Difference]:
        """As `differences` of the space. Raises NotDecided past the budget."""
        # all that `differences` takes from a space
        key = (space.names, space.elements, space.rows, space.own)
        if key not in self._kept:
            try:
                self._kept[key] = differences(space)
            except NotDecided:
                self._kept[key] = None
        kept = self._kept[key]
        if kept is None:
            raise NotDecided
        return kept

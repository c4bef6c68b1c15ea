"""What the outcomes of an exploration turn on: the unknown things that decide, the most telling first.

Leaves are numbered, and sets of leaves are bits of a number, so that pairs of leaves are compared all at once.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from yokebook.values import Span, Var, intersect

if TYPE_CHECKING:
    from yokebook.session import Outcome


@dataclass(frozen=True)
class Told:
    """One part of the completions, with the outcome that it gives."""

    assumed: Mapping[Var, Span]
    outcome: Outcome


class Apart:
    """For each unknown thing and each leaf, the leaves that it tells apart from it: both assume something of it, and no
    one value is in both."""

    def __init__(self, leaves: Sequence[Told]) -> None:
        self.leaves = leaves
        self.all = (1 << len(leaves)) - 1
        having: dict[Var, dict[Span, int]] = {}
        outcomes: dict[tuple[str, str], int] = {}
        for i, leaf in enumerate(leaves):
            outcomes[leaf.outcome.key()] = outcomes.get(leaf.outcome.key(), 0) | 1 << i
            for var, span in leaf.assumed.items():
                parts = having.setdefault(var, {})
                parts[span] = parts.get(span, 0) | 1 << i
        self.outcomes = outcomes
        #: by unknown thing and what is assumed of it, the leaves that assume something else that excludes it
        self.by_part: dict[Var, Mapping[Span, int]] = {var: _excluded(parts) for var, parts in having.items()}

    def differing(self, i: int) -> int:
        """The leaves with another outcome than this one."""
        return self.all & ~self.outcomes[self.leaves[i].outcome.key()]

    def deciding(self) -> set[Var]:
        """The unknown things of which two leaves with different outcomes differ in nothing else."""
        found: set[Var] = set()
        for i, leaf in enumerate(self.leaves):
            once = twice = 0
            for var, span in leaf.assumed.items():
                apart = self.by_part[var][span]
                twice |= once & apart
                once |= apart
            near = self.differing(i) & ~twice
            if near & ~once:
                return set(self.by_part)  # they differ in nothing, so that each of all would do
            if near:
                found.update(var for var, span in leaf.assumed.items() if near & self.by_part[var][span])
        return found

    def enough(self, matter: list[Var]) -> list[Var]:
        """These, and more where two leaves with different outcomes under the same readings agree on all of them."""
        enough = dict.fromkeys(matter)
        for i, leaf in enumerate(self.leaves):
            settled = 0
            for var, span in leaf.assumed.items():
                if var in enough or var.kind == "reading":
                    settled |= self.by_part[var][span]
            left = self.differing(i) & ~settled & ~((2 << i) - 1)  # each pair once
            while left:
                other = left & -left
                left &= ~other
                for var, span in leaf.assumed.items():
                    if self.by_part[var][span] & other:
                        enough[var] = None
                        left &= ~self.by_part[var][span]
                        break
        return list(enough)

    def worst(self, var: Var) -> int:
        """The most outcomes that are left once it is known."""
        return max(
            sum(1 for its_leaves in self.outcomes.values() if its_leaves & ~excluded)
            for excluded in self.by_part[var].values()
        )


def _excluded(parts: Mapping[Span, int]) -> dict[Span, int]:
    found = dict.fromkeys(parts, 0)
    for one, its_leaves in parts.items():
        for other in parts:
            if intersect(one, other) is None:
                found[other] |= its_leaves
    return found

"""What has been assumed so far of the things not known, and what was worked out under it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TypeVar

from yokebook.graph import Thing
from yokebook.model import Value
from yokebook.session import BUDGET, Outcome, OverBudget, Session, key_of
from yokebook.values import Span, Split, Val, Var, known, single

T = TypeVar("T")

#: What names something worked out: the law, the thing, and the calculation or question.
Key = tuple[int, tuple[str, str], str]

#: Results with the unknown things looked at for each.
Kept = dict[Key, tuple[frozenset[Var], T]]


class Assumptions:
    """What is assumed of the things not known, in one session on a record.

    `fixed` holds readings tried as argued; `seen` collects everything unknown that was looked at, in any completion.
    """

    def __init__(self, session: Session, assumed: Mapping[Var, Span], fixed: Mapping[str, str], seen: set[Var]) -> None:
        self.session = session
        self.book = session.book
        self.assumed = assumed
        self.fixed = fixed
        self.seen = seen
        self._looked: list[set[Var]] = []
        self._figures: Kept[Val] = {}
        self._answers: Kept[Outcome] = {}

    def _look(self, var: Var) -> None:
        self.seen.add(var)
        for looked in self._looked:
            looked.add(var)

    def given(self, thing: Thing, name: str) -> Value | None:
        """The value given of a fact or stated of a calculation, as this session takes it; None where there is none."""
        value = thing.given.get(name)
        if value is None or (key_of(thing), name) in self.session.hidden:
            return None
        value = self.session.instead.get((key_of(thing), name), value)
        if self.session.used is not None:
            self.session.used.setdefault((key_of(thing), name))
        return value

    def _watched(self, work: Callable[[], T]) -> tuple[T, set[Var]]:
        """The work's result, and the unknown things that it looked at."""
        looked: set[Var] = set()
        self._looked.append(looked)
        try:
            return work(), looked
        finally:
            self._looked.pop()

    def _caching(self, key: Key, work: Callable[[], T], here: Kept[T], everywhere: dict[Key, T]) -> T:
        """The work's result, kept for this completion, and for all if nothing unknown was looked at."""
        if key in everywhere:
            return everywhere[key]
        if key in here:
            looked, result = here[key]
            # what was looked at then counts now too: an outer figure must not pass for one that rests on facts alone
            for outer in self._looked:
                outer |= looked
            return result
        result, looked_now = self._watched(work)
        here[key] = (frozenset(looked_now), result)
        if not looked_now:
            everywhere[key] = result
        return result

    def recalled(self, key: Key, work: Callable[[], str | None]) -> str | None:
        """The work's result, worked out once for all completions that assume the same of what it looks at."""
        for conditions, result in self.session.reasons.setdefault(key, []):
            if all(self._assumption(var) == span for var, span in conditions.items()):
                for var in conditions:
                    self._look(var)
                return result
        result, looked = self._watched(work)
        self.session.reasons[key].append(({var: self._assumption(var) for var in looked}, result))
        return result

    def _assumption(self, var: Var) -> Span | None:
        if var.kind == "reading" and var.name in self.fixed:
            return known(self.fixed[var.name])
        return self.assumed.get(var)

    def at_fault(self, var: Var, needs: tuple[Var, ...]) -> bool:
        """Whether a lower answer is taken to be at fault where it matters; raises Split where neither is assumed."""
        self._look(var)
        assumed = self.assumed.get(var)
        if assumed is None:
            raise Split(var, [known("ruled"), known("at fault")], needs)
        return single(assumed) == "at fault"

    def count(self) -> None:
        """One more part tried. Raises OverBudget past the budget."""
        self.session.tried += 1
        if self.session.tried > BUDGET:
            raise OverBudget

"""What has been assumed so far of the things not known, and what was worked out under it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TypeVar

from yokebook.graph import Thing
from yokebook.model import Value
from yokebook.remembering import Kept, Looked, Memo
from yokebook.session import BUDGET, Key, LowerFault, OverBudget, Session, key_of
from yokebook.values import Span, Split, Var, known, single

T = TypeVar("T")


class Assumptions:
    """What is assumed of the things not known, in one session on a record.

    `fixed` holds readings tried as argued; `seen` collects everything unknown that was looked at, in any completion.
    With `word_only` a table's outcome is told as soon as its word is sure, whichever further rules stand beside.
    """

    def __init__(
        self,
        session: Session,
        assumed: Mapping[Var, Span],
        fixed: Mapping[str, str],
        seen: set[Var],
        *,
        word_only: bool = False,
    ) -> None:
        self.word_only = word_only
        self.session = session
        self.book = session.book
        self.assumed = assumed
        self.fixed = fixed
        self.seen = seen
        #: for each work going on, outermost first, what it has looked at so far; an inner one's is added when it ends
        self._looked: list[Looked] = []

    def _look(self, var: Var) -> None:
        self.seen.add(var)
        if self._looked:
            self._looked[-1][var] = None

    def given(self, thing: Thing, name: str) -> Value | None:
        """The value given of a fact or stated of a calculation, as this session takes it; None where there is none."""
        value = thing.given.get(name)
        session = self.session
        if value is None or session.as_given:
            return value
        fact = (key_of(thing), name)
        if fact in session.hidden:
            return None
        if session.used is not None:
            session.used.setdefault(fact)
        return session.instead.get(fact, value)

    def remembered(self, key: Key, work: Callable[[], T]) -> T:
        """The work's result, worked out once for all completions that assume the same of what it looks at. What it
        raises because something is open, or a lower answer at fault, is remembered as well."""
        # a stated figure may be left out of account while one is computed: what is found then holds only then
        its = (*key, self.session.checking, self.word_only)
        memo: Memo[T] | None = self.session.memos.get(its)
        if memo is None:
            memo = self.session.memos[its] = Memo()
        assumption = self._assumption if self.fixed else self.assumed.get
        kept = memo.find(assumption)
        if kept is None:
            kept = self._kept(work)
            memo.keep(kept, assumption)
        else:
            self.seen.update(kept.looked)
        if self._looked:
            self._looked[-1].update(kept.looked)
        if kept.raised is not None:
            raise again(kept.raised)
        return kept.result  # type: ignore[return-value]  # what was not raised was given back

    def _kept(self, work: Callable[[], T]) -> Kept[T]:
        looked: Looked = {}
        self._looked.append(looked)
        try:
            return Kept(looked, work(), None)
        except (Split, LowerFault) as raised:
            return Kept(looked, None, raised.with_traceback(None))
        finally:
            self._looked.pop()

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


def again(raised: Exception) -> Exception:
    """The same once more: an exception that is raised twice gathers the traces of both."""
    if isinstance(raised, Split):
        return Split(raised.var, raised.parts, raised.needs)
    assert isinstance(raised, LowerFault)
    return LowerFault(raised.outcome)

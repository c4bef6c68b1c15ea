"""The outcomes that a question still has over all completions of a record, and what they turn on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import product

from yokebook.counting import too_many
from yokebook.deciding import Context
from yokebook.graph import Thing
from yokebook.occurring import cannot_be, newly_assumed
from yokebook.session import LowerFault, Outcome, OverBudget, Session, key_of, published
from yokebook.turning_on import Apart, Told
from yokebook.values import Span, Split, Var, intersect, known

#: Past this many leaves, what a fact decides is taken from the facts looked at, not worked out leaf by leaf.
EXACT_LEAVES = 400

#: After this many tries it is first counted whether they can come to an end within the budget.
COUNTED_AFTER = 500


@dataclass(frozen=True)
class Leaf(Told):
    """One part of the completions that all give one outcome."""

    context: Context  # what was worked out for it, to tell reasons from


@dataclass
class Exploration:
    """All leaves of one question for one thing.

    `needs` says for each bounded figure which unknown things lie behind it; `readings` are those looked at and not
    chosen by a layer; `decided` is False where the budget ran out.
    """

    leaves: list[Leaf]
    needs: dict[Var, tuple[Var, ...]]
    readings: tuple[str, ...]
    decided: bool
    reasons: list[str] = field(default_factory=list)  # why completions were left out as impossible
    by_word: bool = False  # parts are told apart only where the word differs, not by each rule that stands

    @property
    def single(self) -> bool:
        """Whether every completion gives the same outcome."""
        return len({leaf.outcome.key() for leaf in self.leaves}) == 1

    @property
    def exact(self) -> bool:
        """Whether no bounded figure was assumed: then the outcomes are exactly those of some completion."""
        return not any(var.kind in ("figure", "status", "entry") for leaf in self.leaves for var in leaf.assumed)


def explore(
    session: Session,
    question: str,
    thing: Thing,
    kind: str,
    fixed: Mapping[str, str],
    assuming: Mapping[Var, Span] | None = None,
    *,
    by_word: bool = False,
) -> Exploration:
    """Rules on every part of the completions that the rules tell apart, readings tried over the published ones; only on
    completions within `assuming` where that is given.

    Where there are too many parts, and with `by_word`, those are put together in which the word is the same whichever
    further rules stand.
    """
    def start(word_only: bool) -> Context:
        return Context(session, dict(assuming or {}), fixed, set(), word_only=word_only)

    found = _Explorer(question, thing, kind, start(by_word)).run()
    if found.decided or by_word:
        return found
    again = _Explorer(question, thing, kind, start(True)).run()
    return again if again.decided else found


class _Explorer:
    """The parts of the completions of one start, tried depth first."""

    def __init__(self, question: str, thing: Thing, kind: str, start: Context) -> None:
        self.question = question
        self.thing = thing
        self.kind = kind
        self.start = start
        self.session = start.session
        self.found = Exploration([], {}, (), True, by_word=start.word_only)
        self.counted = start.word_only

    def run(self) -> Exploration:
        found = self.found
        stack = [self.start]
        self.session.tried = 0
        try:
            while stack:
                stack.extend(self._try(stack.pop()))
        except OverBudget:
            found.decided = False
        found.readings = tuple(sorted(var.name for var in self.start.seen if var.kind == "reading"))
        return found

    def _try(self, context: Context) -> list[Context]:
        """Takes up what one part gives; the parts to try in its stead, last first, where it gives several things."""
        try:
            outcome = _outcome(context, self.question, self.thing, self.kind)
            reason = impossible(context, self.kind, self.thing)
        except Split as split:
            return self._parts(context, split.with_traceback(None))
        if reason is None:
            self.found.leaves.append(Leaf(context.assumed, outcome, context))
        else:
            self.found.reasons.append(reason)
        return []

    def _parts(self, context: Context, split: Split) -> list[Context]:
        context.count()
        if self.session.tried >= COUNTED_AFTER and not self.counted:
            self.counted = True
            if self._hopeless():
                raise OverBudget
        needs = self.found.needs
        if split.needs != (split.var,):
            before = needs.get(split.var, ()) if split.var.kind == "status" else ()
            needs[split.var] = tuple(dict.fromkeys((*before, *split.needs)))
        return [context.assume(split.var, part) for part in reversed(split.parts)]

    def _hopeless(self) -> bool:
        """Whether it is certain that trying part by part goes over the budget."""
        line = self.session.in_force.get(self.kind)
        law = line.candidates[0].law if line is not None and len(line.candidates) == 1 else None
        if law is None or not law.answers(self.question):
            return False
        return too_many(self.session, law, self.thing, self.question, self.start.assumed, self.start.fixed)


def _outcome(context: Context, question: str, thing: Thing, kind: str) -> Outcome:
    candidate = context.candidate(kind)
    if candidate is None or candidate.state == "not entered":
        reason = candidate.reason if candidate else f"this place has no line of time for {kind} documents"
        return Outcome("not entered", "no adoption entered", because=reason)
    if candidate.state == "none in force" or candidate.law is None:
        return Outcome("none in force", "none in force", because=candidate.reason)
    if not candidate.law.answers(question):
        title = candidate.law.resolved.document.title
        reason = f"{title}, edition {candidate.law.resolved.edition}, has no table for this question"
        return Outcome("none in force", "none in force", because=reason)
    try:
        return context.decide(candidate.law, thing, question)
    except LowerFault as fault:
        return fault.with_traceback(None).outcome


# ---- impossible combinations ----------------------------------------------------------------------------------------


def _seen_things(context: Context, thing: Thing) -> list[Thing]:
    """The thing, what it has one of, what its lists hold, and every thing of which something is assumed."""
    things = context.session.around(thing)
    listed = {key_of(t) for t in things}
    return [*things, *(t for t in newly_assumed(context, {}) if key_of(t) not in listed)]


def impossible(context: Context, kind: str, thing: Thing) -> str | None:
    """Why no completion of what is assumed can occur, or None where one can.

    As `occurring.cannot_be`, for the thing and all that it touches or of which something is assumed.
    """
    candidate = context.candidate(kind)
    if candidate is None or candidate.law is None:
        return None
    return cannot_be(context, candidate.law, _seen_things(context, thing))


# ---- what the outcomes turn on --------------------------------------------------------------------------------------


def combinations(found: Exploration, book_readings: Mapping[str, list[str]]) -> list[dict[str, str]]:
    """Every combination of the published alternatives of the readings that some leaf assumes."""
    names = sorted({var.name for leaf in found.leaves for var in leaf.assumed if var.kind == "reading"})
    return [
        dict(zip(names, picked, strict=True)) for picked in product(*(book_readings[name] for name in names))
    ]


def under(found: Exploration, readings: Mapping[str, str]) -> list[Outcome]:
    """The different outcomes of the completions under one combination of readings, in a stable order."""
    outcomes: dict[tuple[str, str], Outcome] = {}
    for leaf in found.leaves:
        if all(
            intersect(span, known(readings[var.name])) is not None
            for var, span in leaf.assumed.items()
            if var.kind == "reading"
        ):
            outcomes.setdefault(leaf.outcome.key(), leaf.outcome)
    return [outcomes[key] for key in sorted(outcomes)]


def live(leaves: Sequence[Told], kinds_of_reading: bool) -> list[Var]:
    """The unknown things (readings, or all others) of which two completions that differ in nothing else decide.

    Where what cannot occur ties facts together, that may not be enough to settle it: then those are added that are.
    Exact where no figure is bounded and no fact is tied to another. Ordered by the fewest outcomes left in the worst
    case, then by when it was asked.
    """
    candidates: dict[Var, None] = {}
    for leaf in leaves:
        for var in leaf.assumed:
            if (var.kind == "reading") == kinds_of_reading:
                candidates.setdefault(var)
    exact = len(leaves) <= EXACT_LEAVES
    apart = Apart(leaves)
    deciding = apart.deciding() if exact else set(candidates)
    matter = [var for var in candidates if var in deciding]
    if exact and not kinds_of_reading:
        matter = apart.enough(matter)
    rank = {var: i for i, var in enumerate(candidates)}
    return sorted(matter, key=lambda var: (apart.worst(var), rank[var]))


def also_held(
    session: Session, question: str, thing: Thing, kind: str, found: Exploration, shown: set[tuple[str, str]]
) -> list[tuple[str, str, list[Outcome]]]:
    """(reading, argued alternative, outcomes that the word does not already show), each alternative tried alone."""
    held: list[tuple[str, str, list[Outcome]]] = []
    for name in found.readings:
        count_as_published = published(session.book, name)
        for alternative in session.book.readings[name].alternatives.values():
            if alternative.id in count_as_published:
                continue
            tried = explore(session, question, thing, kind, {name: alternative.id}, by_word=found.by_word)
            outcomes: dict[tuple[str, str], Outcome] = {}
            for leaf in tried.leaves:
                if leaf.outcome.key() not in shown:
                    outcomes.setdefault(leaf.outcome.key(), leaf.outcome)
            if not tried.decided:  # never silently partial
                undecided = Outcome("not decided", "not decided")
                outcomes[undecided.key()] = undecided
            if outcomes:
                held.append((name, alternative.id, [outcomes[key] for key in sorted(outcomes)]))
    return held


def raw_needs(found: Exploration, variables: list[Var]) -> list[Var]:
    """The variables with bounded figures and faults replaced by what lies behind them, each once, in order."""
    result: dict[Var, None] = {}
    stack = list(reversed(variables))
    visited: set[Var] = set()
    while stack:
        var = stack.pop()
        if var in visited:
            continue
        visited.add(var)
        if var.kind in ("figure", "status") and var in found.needs:
            stack.extend(reversed(found.needs[var]))
        elif var.kind not in ("reading", "status"):
            result.setdefault(var)
    return list(result)

"""All faults of the rows that one text brought, in every law that has these rows: which of them nothing notices."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from yokebook.law import Law
from yokebook.proof.domains import domain_of
from yokebook.proof.introduced import Introduced
from yokebook.proof.mutants import Mutant
from yokebook.proof.survivors import Trial, Verdict, content


@dataclass(frozen=True)
class Tried:
    """What became of one fault, and in which law: the one that brought the row or, where it shows nothing there, the
    first other one where it does."""

    table: Introduced
    trial: Trial
    verdict: Verdict


def tried(table: Introduced, trial_of: Callable[[Introduced], Trial]) -> Iterator[Tried]:
    """What became of each fault of a table's own rows; `trial_of` makes the trial of a table with what is to notice its
    faults. Raises NotDecided past the budget of states."""
    trial = trial_of(table)
    idle: dict[tuple[str, str, str], Tried] = {}
    for verdict in trial.verdicts():
        found = Tried(table, trial, verdict)
        if verdict.shows:
            yield found
        else:
            idle[_name(verdict.mutant)] = found
    seen = {_signature(table.law, table.question)}
    for other in table.later:
        signature = _signature(other.law, other.question)
        if not idle or signature in seen:
            continue
        seen.add(signature)
        trial = trial_of(other)
        for mutant in trial.mutants:
            if _name(mutant) in idle:
                verdict = trial.verdict(mutant)
                if verdict.shows:
                    del idle[_name(mutant)]
                    yield Tried(other, trial, verdict)
    yield from idle.values()


def _name(mutant: Mutant) -> tuple[str, str, str]:
    return (mutant.rule_id, mutant.kind, mutant.words)


def _signature(law: Law, question: str) -> object:
    """What tells apart how two laws see a table: what it says, and what its inputs may be."""
    asked, book = law.book.questions[question], law.book
    inputs = frozenset((name, domain_of(law, asked, name, book)) for name in law.ready(question).inputs)
    return (content(law, question), inputs)

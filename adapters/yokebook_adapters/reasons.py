"""Whether what a ruling names as its reason is the reason, or one of several that come to the same."""

from __future__ import annotations

from yokebook.exploring import explore
from yokebook.graph import Thing
from yokebook.model import Question
from yokebook.session import Session


def one_of_several(session: Session, question: Question, thing: Thing, kind: str) -> bool:
    """Whether no rule stands in every completion of what is given: then the rules that a settled ruling names are those
    of one completion, and in others different ones give the same outcome, or none fires."""
    stand = {frozenset(leaf.outcome.standing) for leaf in explore(session, question.id, thing, kind, {}).leaves}
    return len(stand) > 1 and not frozenset.intersection(*stand)

"""What is decided, and on which rules: a ruling without its reasons in words, for callers that make millions."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, NamedTuple

from yokebook.entities import Kind

RulingStatus = Literal[
    "settled",
    "readings differ",
    "cannot tell",
    "conflict",
    "silent",
    "impossible",
    "no adoption entered",
    "none in force",
    "not decided",
]


class Asked(NamedTuple):
    """Something to ask: the path of the thing, the full id of the fact, list or reference, and the thing's kind; no
    path and no kind where it is no thing's, such as a date."""

    subject: str
    fact: str
    kind: Kind | Literal[""]


class Held(NamedTuple):
    """What an argued reading gives that the word does not show."""

    reading: str
    alternative: str
    outcomes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Decision:
    """The answer to one question: what `Code.rule` says of the same record, without reasons in words.

    `status`, `outcome`, `word`, `possible` and `not_checked` are as in the ruling; `rules` are the ids of the rules
    that stand, in alphabetical order; `ask` what to ask, first what tells most; `readings` the ids of the readings that
    it turns on, in alphabetical order.
    """

    status: RulingStatus
    word: str
    outcome: str | None
    possible: tuple[str, ...]
    rules: tuple[str, ...] = ()
    ask: tuple[Asked, ...] = ()
    readings: tuple[str, ...] = ()
    also_held: tuple[Held, ...] = ()
    not_checked: bool = False


class Decided(NamedTuple):
    """A decision within a project: the question, the kind of document that answers it, and the path of the thing."""

    question: str
    document: str
    subject: str
    decision: Decision

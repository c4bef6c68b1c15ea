"""yokebook: electrical-code rules on receptacles and what controls them, as data, with an evaluator that explains.

>>> import yokebook
>>> book = yokebook.load()
>>> code = book.edition("nfpa-70", "2014")
>>> ruling = code.rule("control.acts", {"control.turns_off_by": "schedule"})
>>> ruling.word
'automatic'
"""

from __future__ import annotations

from collections.abc import Collection
from typing import TYPE_CHECKING

from yokebook.code import Code, Rulebook, load
from yokebook.load.faults import Fault, InputFaults, RulebookFaults
from yokebook.ruling import Ruling
from yokebook.sheet import Sheet, rule_again

if TYPE_CHECKING:
    from yokebook.proof.changes import Changes

__all__ = [
    "Code",
    "Fault",
    "InputFaults",
    "Rulebook",
    "RulebookFaults",
    "Ruling",
    "Sheet",
    "compare",
    "load",
    "rule_again",
]


def compare(
    was: Code, now: Code, questions: Collection[str] | None = None, document: str | None = None
) -> Changes:
    """What changes from one law to another: of each question every (old, new) outcome with the records it is so for,
    a record that was ruled under both, and the rules that stand; what changes through numbers, readings and answers.

    Of the questions and the kind of document wanted (an id of a document will do); all by default. Raises ValueError:
    more than one entry may govern on a side, an unknown question or document, or rulebooks that differ in what can be
    asked.

    >>> book = load()
    >>> changes = compare(book.edition("nfpa-70", "2014"), book.edition("nfpa-70", "2017"), ["marking.form"])
    >>> [(change.was.word, change.now.word, change.direction) for change in changes.changes]
    [('symbol', 'symbol and word', 'stricter')]
    """
    from yokebook.proof import comparing  # only here: rulings need none of it

    return comparing.compare(was, now, questions, document)

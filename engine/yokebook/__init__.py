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

from yokebook.rulebook import Rulebook, load

if TYPE_CHECKING:
    from yokebook.code import Code
    from yokebook.load.faults import Fault, InputFaults, RulebookFaults
    from yokebook.progress import Progress
    from yokebook.proof.changes import Changes
    from yokebook.ruling import Ruling
    from yokebook.sheet import Sheet, rule_again

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


#: What else is to be had here, and the module that it is imported from when somebody asks for it.
_HOMES = {
    "Code": "yokebook.code",
    "Fault": "yokebook.load.faults",
    "InputFaults": "yokebook.load.faults",
    "RulebookFaults": "yokebook.load.faults",
    "Ruling": "yokebook.ruling",
    "Sheet": "yokebook.sheet",
    "rule_again": "yokebook.sheet",
}


def __getattr__(name: str) -> object:
    if name not in _HOMES:
        raise AttributeError(f"module `yokebook` has no attribute `{name}`")
    from importlib import import_module

    found: object = getattr(import_module(_HOMES[name]), name)
    globals()[name] = found
    return found


def compare(
    was: Code,
    now: Code,
    questions: Collection[str] | None = None,
    document: str | None = None,
    progress: Progress | None = None,
) -> Changes:
    """What changes from one law to another: of each question every (old, new) outcome with the records it is so for,
    a record that was ruled under both, and the rules that stand; what changes through numbers, readings and answers.

    Of the questions and the kind of document wanted (an id of a document will do); all by default. Raises ValueError:
    more than one entry may govern on a side, an unknown question or document, or rulebooks that differ in what can be
    asked. `progress` is told how many steps are done, and of how many.

    >>> book = load()
    >>> changes = compare(book.edition("nfpa-70", "2014"), book.edition("nfpa-70", "2017"), ["marking.form"])
    >>> [(change.was.word, change.now.word, change.direction) for change in changes.changes]
    [('symbol', 'symbol and word', 'stricter')]
    """
    from yokebook.progress import nobody
    from yokebook.proof import comparing  # only here: rulings need none of it

    return comparing.compare(was, now, questions, document, progress=progress or nobody)

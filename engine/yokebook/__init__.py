"""yokebook: electrical-code rules on receptacles and what controls them, as data, with an evaluator that explains.

>>> import yokebook
>>> book = yokebook.load()
>>> code = book.edition("nfpa-70", "2014")
>>> ruling = code.rule("control.acts", {"control.turns_off_by": "schedule"})
>>> ruling.word
'automatic'
"""

from yokebook.code import Code, Rulebook, load
from yokebook.load.faults import Fault, InputFaults, RulebookFaults
from yokebook.ruling import Ruling
from yokebook.sheet import Sheet, rule_again

__all__ = ["Code", "Fault", "InputFaults", "Rulebook", "RulebookFaults", "Ruling", "Sheet", "load", "rule_again"]

"""What reading an expression gives, and what the readers of its operators ask of each other."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Protocol

from yokebook.entities import Kind
from yokebook.load.cells import Boxes
from yokebook.load.faults import Fault
from yokebook.load.fields import Fields
from yokebook.load.nodes import Node
from yokebook.load.scope import Scope
from yokebook.model import Expression, FactType

#: The unit of a figure that only its calculation knows, such as watts divided by volts.
ANY_UNIT: Final = "any"


@dataclass(frozen=True, slots=True)
class Built:
    """An expression with its type, and for numbers its unit (None: plain; ANY_UNIT: not known here)."""

    expression: Expression
    type: FactType
    unit: str | None = None


class Faulty(Exception):
    """The expression is at fault and the fault noted."""


class ExpressionReader(Protocol):
    """The reader of one calculation's expressions, as the readers of single operators see it."""

    scope: Scope
    faults: list[Fault]
    boxes: Boxes

    def fail(self, node: Node, message: str) -> Faulty:
        """Notes a fault; what to raise."""
        ...

    def fields(self, node: Node, operator: str) -> Fields:
        """The mapping under an operator. Raises Faulty, the fault noted."""
        ...

    def number(self, node: Node, entity: Kind) -> Built:
        """An operand that is a number, as a thing of kind `entity` sees it. Raises Faulty, the fault noted."""
        ...

    def same_unit(self, parts: list[Built], node: Node) -> str | None:
        """The common unit of numbers that are added or compared. Raises Faulty, the fault noted."""
        ...

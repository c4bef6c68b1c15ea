"""The parameters of a query, read strictly; every fault with its parameter."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from yokebook.load.faults import Fault, RulebookFaults, listed, suggest
from yokebook.model import At
from yokebook_adapters.service.laws import Asked
from yokebook_adapters.service.problems import Problem, told

#: The names and values of a query, in the order given; plain data, so that it can go to another process.
Pairs = Sequence[tuple[str, str]]

#: The parameters by which a query names the law, the questions and the document.
OF_LAW = ("place", "on", "date", "choice", "edition")
OF_TABLES = (*OF_LAW, "document")
OF_BATCHES = (*OF_LAW, "document", "question", "topic")

#: The parameter that gives what a fault of the law is at.
_PARAMETER = {"dates": "date", "choices": "choice", "": "place"}


class Query:
    """One query being read: faults are gathered until they are told."""

    def __init__(self, pairs: Pairs, allowed: Sequence[str]) -> None:
        self.pairs = pairs
        self.errors: list[Mapping[str, Any]] = []
        for name in dict.fromkeys(name for name, _ in pairs):
            if name not in allowed:
                known = listed(allowed) or "none"
                self.fault(name, f"`{name}` is no parameter here{suggest(name, allowed)}; allowed: {known}")

    def fault(self, parameter: str, detail: str) -> None:
        """Notes a fault of a parameter."""
        self.errors.append({"parameter": parameter, "detail": detail})

    def finish(self) -> None:
        """Raises Problem with every fault noted."""
        if self.errors:
            raise Problem("bad-query", f"The query has {told(self.errors)}.", self.errors)

    def many(self, name: str) -> list[str]:
        """Every value of a parameter that may be given several times; an empty one is a fault."""
        values = [value for key, value in self.pairs if key == name]
        if any(not value.strip() for value in values):
            self.fault(name, f"`{name}` is empty; give a value or leave it out")
        return [value for value in values if value.strip()]

    def one(self, name: str) -> str | None:
        """The value of a parameter; None where it is left out. A second one is a fault."""
        values = self.many(name)
        if len(values) > 1:
            self.fault(name, f"`{name}` is given {len(values)} times; allowed: once")
        return values[0] if values else None

    def asked(self) -> Asked:
        """What is said about the law."""
        return Asked(self.one("place"), self.one("on"), self._map("date"), self._map("choice"), self.one("edition"))

    def _map(self, name: str) -> dict[str, str]:
        found: dict[str, str] = {}
        for text in self.many(name):
            key, equals, value = (part.strip() for part in text.partition("="))
            if not (key and equals and value):
                self.fault(name, f"`{text}` has no `=` between two parts")
            elif key in found:
                self.fault(name, f"`{key}` is given twice")
            else:
                found[key] = value
        return found

    def law_faults(self, faulty: RulebookFaults) -> None:
        """Notes the faults of the law asked for."""
        for fault in faulty.faults:
            self.fault(parameter_of(fault), fault.message)


def parameter_of(fault: Fault) -> str:
    """The parameter at fault."""
    assert not isinstance(fault.at, At)
    part = fault.at.partition(".")[0]
    return _PARAMETER.get(part, part)

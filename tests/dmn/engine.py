"""Running an exported table in pyDMNrules, an engine that has nothing in common with this project.

It reads DMN XML and evaluates the FEEL of every cell itself (pySFeel). Two things of the file it cannot read, and they
are taken out first; neither takes part in deciding: annotations, and labels, which it takes for variable names.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Mapping
from typing import Any

import pytest

from yokebook_adapters.dmn import NAMESPACE

MODEL = f"{{{NAMESPACE}}}"


def plain(xml: str) -> str:
    """The file without labels and annotations."""
    root = ET.fromstring(xml)
    for element in root.iter():
        element.attrib.pop("label", None)
        for child in [c for c in element if c.tag in (f"{MODEL}annotation", f"{MODEL}annotationEntry")]:
            element.remove(child)
    return ET.tostring(root, encoding="unicode")


class Engine:
    """An exported table, loaded. Skips the test where the engine is not installed."""

    def __init__(self, xml: str) -> None:
        module = pytest.importorskip("pyDMNrules", reason="needs pyDMNrules, of the extra `tests`")
        self._engine = module.DMN()
        status = self._engine.useXML(plain(xml))
        assert status == {}, status
        [self.output] = [variable.get("name", "") for variable in ET.fromstring(xml).findall(f"{MODEL}decision")]

    def decide(self, record: Mapping[str, object]) -> Any:
        """The outcome for a record by variable name. Raises ValueError with what the engine has against it."""
        numbers = {name: value if isinstance(value, bool | str) else float(str(value)) for name, value in record.items()}
        status, decision = self._engine.decide(numbers)
        if status:
            raise ValueError("; ".join(status["errors"]))
        return decision["Result"][self.output]

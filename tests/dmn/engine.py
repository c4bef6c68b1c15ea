"""Running exported tables in engines that have nothing in common with this project.

pyDMNrules reads DMN XML and evaluates the FEEL of every cell itself (pySFeel). Two things of the file it cannot read
are taken out first; neither takes part in deciding: annotations, and labels, which it takes for variable names. Lists
of allowed values can be taken out too: it takes some words of them for names (`first outlet` beside `breaker and first
outlet`), and they decide nothing of a record that has only allowed values.

feelin evaluates FEEL in JavaScript; the rows are read from the XML here, and the script takes the first that matches.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import xml.etree.ElementTree as ET
from collections.abc import Mapping, Sequence
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from yokebook_adapters.dmn import NAMESPACE

MODEL = f"{{{NAMESPACE}}}"
SCRIPT = Path(__file__).with_name("first_match.mjs")


def texts(element: ET.Element, path: str) -> list[str]:
    """The texts of the children called so, in order."""
    return [found.text or "" for found in element.findall(f"{MODEL}{path}/{MODEL}text")]


def plain(xml: str, listed: bool) -> str:
    """The file without labels and annotations and, if not `listed`, without the allowed values of the columns."""
    root = ET.fromstring(xml)
    for column in root.iter(f"{MODEL}input"):
        for values in column.findall(f"{MODEL}inputValues") if not listed else []:
            column.remove(values)
    for element in root.iter():
        element.attrib.pop("label", None)
        for child in [c for c in element if c.tag in (f"{MODEL}annotation", f"{MODEL}annotationEntry")]:
            element.remove(child)
    return ET.tostring(root, encoding="unicode")


def as_floats(record: Mapping[str, object]) -> dict[str, object]:
    return {name: float(value) if isinstance(value, Decimal) else value for name, value in record.items()}


class PyDmnRules:
    """An exported table loaded into pyDMNrules, its columns' allowed values with it if `listed`. Skips the test where
    that is not installed."""

    def __init__(self, xml: str, listed: bool = True) -> None:
        module = pytest.importorskip("pyDMNrules", reason="needs pyDMNrules, of the extra `tests`")
        self._engine = module.DMN()
        status = self._engine.useXML(plain(xml, listed))
        assert status == {}, status
        [self.output] = [decision.get("name", "") for decision in ET.fromstring(xml).findall(f"{MODEL}decision")]

    def decide(self, record: Mapping[str, object]) -> Any:
        """The outcome for a record by variable name. Raises ValueError with what the engine has against the record."""
        status, decision = self._engine.decide(as_floats(record))
        if status:
            raise ValueError("; ".join(status["errors"]))
        return decision["Result"][self.output]


def feelin(tables: Sequence[tuple[str, Sequence[Mapping[str, object]]]]) -> list[list[str]]:
    """The outcome for each record of each exported table by feelin; `refused` where a value is none that its column
    can have. Skips the test where feelin or node is not at hand."""
    modules, node = os.environ.get("YOKEBOOK_NODE_MODULES"), shutil.which("node")
    if not modules or not node:
        pytest.skip("needs node, and YOKEBOOK_NODE_MODULES as the folder that holds @bpmn-io/feelin")
    asked, outcomes = [], []
    for xml, records in tables:
        [table] = ET.fromstring(xml).iter(f"{MODEL}decisionTable")
        columns = [texts(column, "inputExpression")[0] for column in table.findall(f"{MODEL}input")]
        values = [(texts(column, "inputValues") or ["-"])[0] for column in table.findall(f"{MODEL}input")]
        rules = table.findall(f"{MODEL}rule")
        rows = [texts(rule, "inputEntry") for rule in rules]
        given = [[record[column] for column in columns] for record in map(as_floats, records)]
        asked.append({"values": values, "rows": rows, "records": given})
        outcomes.append([json.loads(texts(rule, "outputEntry")[0]) for rule in rules])
    library = Path(modules) / "@bpmn-io" / "feelin" / "dist" / "index.js"
    command = [node, str(SCRIPT), library.resolve().as_uri()]
    answer = subprocess.run(command, input=json.dumps(asked), capture_output=True, text=True, check=True).stdout
    return [
        ["refused" if row < 0 else its[row] for row in found]
        for found, its in zip(json.loads(answer), outcomes, strict=True)
    ]

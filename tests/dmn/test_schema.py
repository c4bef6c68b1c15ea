"""Every table that can be exported is valid DMN 1.5, and the same each time."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from dmn.comparing import edition, export, has_thirds
from dmn.engine import MODEL
from dmn.tables import demo_places, editions, tables
from shipped_book import rulebook
from yokebook_adapters.dmn import CannotExport, as_dmn, variables

#: Where published schemas are looked for when the environment does not say: beside the checkout.
STANDARDS = Path(__file__).parents[2] / ".." / "shared" / "standards"


def schema() -> Path:
    """The published schema. Skips where it is not at hand: it is not this project's to ship."""
    path = Path(os.environ.get("YOKEBOOK_STANDARDS", STANDARDS)) / "DMN15.xsd"
    if not path.is_file():
        pytest.skip("the DMN schema is not at hand; YOKEBOOK_STANDARDS may name the folder with DMN15.xsd")
    return path


def test_every_table_of_every_edition_and_demo_place_is_valid() -> None:
    xmlschema = pytest.importorskip("xmlschema", reason="needs xmlschema, of the extra `tests`")
    dmn = xmlschema.XMLSchema(str(schema()))
    valid = 0
    for shipped in tables([*editions(), *demo_places()]):
        if not has_thirds(shipped):
            dmn.validate(export(shipped))
            valid += 1
    assert valid > 300


def test_the_schema_tells_a_wrong_file() -> None:
    xmlschema = pytest.importorskip("xmlschema", reason="needs xmlschema, of the extra `tests`")
    dmn = xmlschema.XMLSchema(str(schema()))
    right = export(edition("marking.required"))
    assert dmn.is_valid(right)
    assert not dmn.is_valid(right.replace('hitPolicy="FIRST"', 'hitPolicy="FIRSTS"'))
    assert not dmn.is_valid(right.replace('id="row_1"', 'id="1 row"'))


def test_tables_with_a_number_that_no_decimal_is_equal_to_are_refused_and_no_others() -> None:
    refused = 0
    for shipped in tables([*editions(), *demo_places()]):
        if has_thirds(shipped):
            with pytest.raises(CannotExport):
                export(shipped)
            refused += 1
        else:
            export(shipped)
    assert refused


def test_ids_and_names_are_legal() -> None:
    """XML ids are NCNames, each once; a variable is one FEEL name: no dot, which is a path, and no minus sign."""
    for shipped in tables(editions()):
        for variable in variables(shipped.law, shipped.question).values():
            assert re.fullmatch(r"[a-z][a-z0-9_]*", variable)
        if has_thirds(shipped):
            continue
        ids = [element.get("id", "") for element in ET.fromstring(export(shipped)).iter() if "id" in element.attrib]
        assert len(ids) == len(set(ids))
        assert all(re.fullmatch(r"[A-Za-z_][A-Za-z0-9_.-]*", each) for each in ids)


def test_the_text_is_the_same_in_every_run() -> None:
    """Sets of words have another order in every process unless something puts them in order."""
    script = (
        "import yokebook; from yokebook_adapters.dmn import as_dmn\n"
        "code = yokebook.load().edition('nfpa-70', '2023')\n"
        "print(as_dmn(code.table('control.permitted')[1], 'control.permitted', code.book, conflicts=()), end='')"
    )
    runs = {
        subprocess.run(
            [sys.executable, "-c", script],
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True,
            check=True,
        ).stdout
        for seed in ("1", "2", "3")
    }
    assert runs == {export(edition("control.permitted")).encode()}


def test_there_is_one_column_for_each_input_and_the_last_row_takes_the_rest() -> None:
    for shipped in tables(editions()):
        if has_thirds(shipped):
            continue
        [table] = ET.fromstring(export(shipped)).iter(f"{MODEL}decisionTable")
        ready = shipped.law.ready(shipped.question)
        labels = [column.get("label") for column in table.findall(f"{MODEL}input")]
        assert labels == sorted({name for at in ready.boxes for name in at.box})
        last = table.findall(f"{MODEL}rule")[-1]
        assert {text.text for text in last.findall(f"{MODEL}inputEntry/{MODEL}text")} <= {"-"}
        [answer] = last.findall(f"{MODEL}outputEntry/{MODEL}text")
        assert answer.text == f'"{ready.table.none_fires.then or "silent"}"'


def test_a_reading_that_a_place_has_chosen_can_be_nothing_else() -> None:
    """Direction TC-D2 reads the any-switch clause one way for permits of early 2025."""
    code = rulebook().in_force("demo/tamarisk", on="2025-02-01")
    _, law = code.table("marking.required")
    root = ET.fromstring(as_dmn(law, "marking.required", code.book, conflicts=()))
    [column] = [c for c in root.iter(f"{MODEL}input") if c.get("label") == "reading.any-switch"]
    assert [text.text for text in column.findall(f"{MODEL}inputValues/{MODEL}text")] == ['"all but lighting"']
    [description] = root.findall(f"{MODEL}description")
    assert "reading.any-switch: TC-D2 chose `all but lighting`." in (description.text or "").splitlines()

"""pyDMNrules, which runs the exported tables, says what the rulebook's own definition says, and would not say it of
tables that are not the same. Loading that engine takes about fifteen seconds, so the quick tests draw few records."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Callable

import pytest

from dmn.comparing import SOME, all_tables, differing, drawn, edition, export, has_thirds
from dmn.engine import MODEL, PyDmnRules
from effort import tries

FEW, MORE, MANY = 250, 800, tries(120, 400)


@pytest.mark.parametrize("question", SOME)
def test_pydmnrules_agrees(question: str) -> None:
    shipped = edition(question)
    assert differing(PyDmnRules(export(shipped)).decide, shipped, FEW) == []


@pytest.mark.slow
def test_pydmnrules_agrees_on_every_table() -> None:
    exported = [shipped for shipped in all_tables() if not has_thirds(shipped)]
    assert len(exported) > 60
    for shipped in exported:
        assert differing(PyDmnRules(export(shipped), listed=False).decide, shipped, MANY) == []


def test_every_outcome_of_a_table_has_its_turn() -> None:
    """The comparison says something only where the records reach every rule that can fire."""
    for question in SOME:
        shipped = edition(question)
        ready = shipped.law.ready(question)
        reachable = {rule.then for rule in ready.rules} | {ready.table.none_fires.then or "silent"}
        assert {outcome for _, outcome in drawn(shipped, FEW)} == reachable


# ---- that the comparison can fail -----------------------------------------------------------------------------------


def changed(xml: str, change: Callable[[ET.Element], None]) -> str:
    root = ET.fromstring(xml)
    [table] = root.iter(f"{MODEL}decisionTable")
    change(table)
    return ET.tostring(root, encoding="unicode")


def test_rows_the_other_way_round_do_not_agree() -> None:
    """All rows but the last, which matches everything: the exception then comes after what it is an exception to."""

    def reverse(table: ET.Element) -> None:
        rules = table.findall(f"{MODEL}rule")
        for rule in rules:
            table.remove(rule)
        table.extend([*reversed(rules[:-1]), rules[-1]])

    shipped = edition("marking.required")
    other = PyDmnRules(changed(export(shipped), reverse))
    assert differing(other.decide, shipped, FEW)


def test_an_end_left_out_does_not_agree() -> None:
    """A 15 A receptacle may carry 12 A, and more is too much; with 12 A itself left out it is in neither row."""

    def leave_out(table: ET.Element) -> None:
        [text] = [text for text in table.iter(f"{MODEL}text") if text.text == "<= 12"]
        text.text = "< 12"

    shipped = edition("receptacle.plug-load")
    other = PyDmnRules(changed(export(shipped), leave_out))
    found = differing(other.decide, shipped, MORE)
    assert found
    assert all(record["contact_load_amps"] == 12 for _, record, _, _ in found)  # type: ignore[misc]


def test_a_record_that_lacks_an_input_is_refused_by_the_engine_where_its_values_are_listed() -> None:
    shipped = edition("marking.required")
    record, _ = drawn(shipped, 1)[0]
    with pytest.raises(ValueError, match="does not match input validity list"):
        PyDmnRules(export(shipped)).decide({k: v for k, v in record.items() if k != "contact_wall_switch_stands_in"})

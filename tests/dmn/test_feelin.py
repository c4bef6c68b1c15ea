"""feelin, which evaluates FEEL in JavaScript, says of every exported table what the rulebook's own definition says."""

from __future__ import annotations

from dmn.comparing import all_tables, drawn, export, has_thirds
from dmn.engine import feelin


def test_feelin_agrees_on_every_table() -> None:
    # first, as it skips where the engine is not at hand
    feelin([])
    exported = [shipped for shipped in all_tables() if not has_thirds(shipped)]
    asked = [(export(shipped), drawn(shipped, 2500)) for shipped in exported]
    answers = feelin([(xml, [record for record, _ in pairs]) for xml, pairs in asked])
    for shipped, (_, pairs), got in zip(exported, asked, answers, strict=True):
        assert got == [outcome for _, outcome in pairs], shipped.name

"""What a ruling says, as a decision: what the quick evaluator is held against."""

from __future__ import annotations

from yokebook.decision import Asked, Decision, Held
from yokebook.ruling import Ruling


def as_decision(ruling: Ruling) -> Decision:
    """The decision that a full ruling is."""
    return Decision(
        status=ruling.status,
        word=ruling.word,
        outcome=ruling.outcome,
        possible=tuple(ruling.possible),
        rules=tuple(sorted(rule["rule"] for rule in ruling.standing)),
        ask=tuple(Asked(ask["subject"], ask["fact"], "") for ask in ruling.ask),
        readings=tuple(sorted(row["reading"] for row in ruling.readings_open)),
        also_held=tuple(Held(h["reading"], h["alternative"], tuple(h["outcomes"])) for h in ruling.also_held),
        not_checked=ruling.not_checked,
    )

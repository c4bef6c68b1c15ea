"""An interview: asks only facts that can still matter, and stops as soon as the outcome cannot change.

No terminal here: `Interview` says what to ask next and takes answers as text; command_line/ask.py prints and reads.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from yokebook_adapters.one_record import called, linked, put
from yokebook_adapters.outcome import RulingData

#: (record, dates, choices) -> the ruling as data. May raise ValueError with a message when an answer is refused.
RuleWith = Callable[[Mapping[str, Any], Mapping[str, str], Mapping[str, str]], RulingData]

_PLAIN_NUMBER = re.compile(r"-?[0-9]{1,30}(?:\.[0-9]{1,30})?")
_YES = {"yes": True, "y": True, "no": False, "n": False}


class NotUnderstood(ValueError):
    """An answer that does not fit what was asked: the message says what is allowed."""


@dataclass
class Interview:
    """One question put to one device, answered fact by fact.

    `ruling` is always the ruling on what was answered so far.
    """

    rule: RuleWith
    count: Callable[[Mapping[str, Any], str], int] = lambda record, fact: 1
    """How many things a record has in the list whose `complete` this is."""
    record: dict[str, Any] = field(default_factory=dict)
    dates: dict[str, str] = field(default_factory=dict)
    choices: dict[str, str] = field(default_factory=dict)
    ruling: RulingData = field(init=False)
    asked: int = 0
    _passed: set[tuple[str, str]] = field(default_factory=set)

    def __post_init__(self) -> None:
        self.ruling = self.rule(self.record, self.dates, self.choices)

    def next(self) -> Mapping[str, Any] | None:
        """What to ask next, as the ruling's own `ask` entry; None when the outcome cannot change any more or nothing
        is left that the person might know."""
        return next((ask for ask in self.asks() if _which(ask) not in self._passed), None)

    def asks(self) -> list[Mapping[str, Any]]:
        """Everything that the ruling asks, lists and links as the yes or no that one record can answer; the facts of
        something after the question whether it is there."""
        asks: list[Mapping[str, Any]] = self.ruling["ask"]
        unsure = {linked(ask) for ask in asks if ask["kind"] == "link"}
        after = [ask for ask in asks if ask["kind"] == "fact" and _prefix(ask) in unsure]
        return [self._as_put(ask) for ask in [*(ask for ask in asks if ask not in after), *after]]

    def _as_put(self, ask: Mapping[str, Any]) -> Mapping[str, Any]:
        as_put = put(ask, self._count(ask))
        if as_put is None:
            return {**ask, "label": called(ask["label"])} if ask.get("label") else ask
        return {**ask, "asks": as_put.asks, "type": "yes_no", "label": ""}

    def _count(self, ask: Mapping[str, Any]) -> int:
        return self.count(self.record, str(ask["fact"])) if ask["kind"] == "list" else 0

    def answer(self, ask: Mapping[str, Any], text: str) -> None:
        """Takes the answer to `ask` and rules again; a blank or `?` means that the person does not know.

        Raises NotUnderstood and changes nothing when the answer does not fit.
        """
        text = text.strip()
        if text in ("", "?"):
            self.asked += 1
            self._passed.add(_which(ask))
            return
        ask = self._as_put(ask)
        value = understood(ask, text)
        as_put = put(ask, self._count(ask))
        record, dates, choices = dict(self.record), dict(self.dates), dict(self.choices)
        where, _, name = str(ask["fact"]).partition(".")
        if ask["kind"] == "entry":
            (dates if where == "dates" else choices)[name] = value
        elif as_put is not None:
            record.update((as_put.yes if value else as_put.no) or {})
        else:
            record[ask["fact"]] = value
        try:
            ruling = self.rule(record, dates, choices)
        except ValueError as refused:
            raise NotUnderstood(str(refused)) from None
        self.record, self.dates, self.choices, self.ruling = record, dates, choices, ruling
        self.asked += 1
        if as_put is not None and (as_put.yes if value else as_put.no) in (None, {ask["fact"]: False}):
            self._passed.add(_which(ask))  # there is more than one record can hold; asking again would not help


def _which(ask: Mapping[str, Any]) -> tuple[str, str]:
    return str(ask["subject"]), str(ask["fact"])


def _prefix(ask: Mapping[str, Any]) -> str:
    return str(ask["fact"]).partition(".")[0]


def choices_of(ask: Mapping[str, Any]) -> list[tuple[str, str]]:
    """The values to choose from, (word, plain words), in order; none for numbers, dates and yes or no."""
    return [(str(word), str(says)) for word, says in (ask["values"] or {}).items()]


def is_yes_no(ask: Mapping[str, Any]) -> bool:
    """Whether the answer is yes or no."""
    return not ask["values"] and ask.get("type") == "yes_no"


def understood(ask: Mapping[str, Any], text: str) -> Any:
    """The answer as a record takes it: a word, True or False, a plain number (in the fact's own unit), or a number's
    text with its unit.

    A choice may be answered by its number, its word, or the start of exactly one word. Raises NotUnderstood.

    >>> understood({"values": {"person": "by hand", "presence": "senses people"}, "kind": "fact"}, "2")
    'presence'
    """
    values = choices_of(ask)
    if values:
        return _chosen(values, text)
    if is_yes_no(ask):
        if text.lower() not in _YES:
            raise NotUnderstood(f"`{text}` is neither yes nor no; answer yes or no")
        return _YES[text.lower()]
    return Decimal(text) if ask.get("type") == "number" and _PLAIN_NUMBER.fullmatch(text) else text


def _chosen(values: list[tuple[str, str]], text: str) -> str:
    words = [word for word, _ in values]
    if text in words:
        return text
    if text.isdecimal() and 1 <= int(text) <= len(words):
        return words[int(text) - 1]
    starts = [word for word in words if word.lower().startswith(text.lower())]
    if len(starts) == 1:
        return starts[0]
    raise NotUnderstood(f"`{text}` is none of the choices; give its number, 1 to {len(words)}, or its word")

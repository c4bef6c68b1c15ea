"""Which law a request asks for, and the law that is in force then."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import yokebook
from yokebook.adoption import REAL_DATE, is_date
from yokebook.code import Code
from yokebook.graph import Graph
from yokebook.load.faults import Fault, RulebookFaults, listed, suggest
from yokebook.model import At
from yokebook.overview import all_choices, all_events
from yokebook.parts_of_ruling import candidate_data
from yokebook_adapters.service.problems import Problem

#: How many laws are kept ready; a request for another one only takes longer.
_READY = 24


@dataclass(frozen=True)
class Asked:
    """What a request says about the law; what it leaves out comes from the record or project."""

    place: str | None = None
    on: str | None = None
    dates: Mapping[str, str] = field(default_factory=dict)
    choices: Mapping[str, str] = field(default_factory=dict)
    edition: str | None = None

    def faults(self) -> list[Fault]:
        """What of it does not go together."""
        beside = [name for name in ("place", "on", "dates", "choices") if getattr(self, name)]
        if self.edition is None:
            return []
        document, colon, edition = self.edition.partition(":")
        found = []
        if not (document and colon and edition):
            allowed = "document and edition as nfpa-70:2023"
            found.append(Fault("edition", f"`{self.edition}` is no edition; allowed: {allowed}"))
        if beside:
            found.append(Fault("edition", f"a bare edition has no {listed(beside)}; leave out one or the other"))
        return found


class Laws:
    """The laws of one rulebook; those asked for last are kept ready to rule."""

    def __init__(self, rulebook: yokebook.Rulebook) -> None:
        self.rulebook = rulebook
        self.events = all_events(rulebook.book)
        self.choices = all_choices(rulebook.book)
        self._ready: OrderedDict[tuple[Any, ...], Code] = OrderedDict()

    def code(self, asked: Asked, graph: Graph | None = None) -> Code:
        """The law asked for. Raises RulebookFaults, whose faults stand at `place`, `on`, `dates.EVENT`,
        `choices.ID` or `edition`; Problem where the rulebook itself is at fault."""
        faults = asked.faults()
        faults += self.unusable(asked)
        place = asked.place or (graph.place if graph is not None else None)
        if asked.edition is None and place is None:
            faults.append(Fault("", "no place is given; give `place`, or `edition` for a bare edition"))
        if faults:
            raise RulebookFaults(faults)
        dates, choices = dict(asked.dates), dict(asked.choices)
        if graph is not None and asked.edition is None:
            dates = dates if asked.on else {**graph.dates, **dates}
            choices = {**graph.choices, **choices}
        if asked.edition is not None:
            key: tuple[Any, ...] = (asked.edition,)
        else:
            key = (place, asked.on, tuple(sorted(dates.items())), tuple(sorted(choices.items())))
        return self._kept(key) or self._keep(key, self._made(asked, place, dates, choices))

    def unusable(self, asked: Asked) -> list[Fault]:
        """The faults of what is asked that no place's law could use, whichever place it is: events and choices that
        none turns on, and days that are not in the calendar."""
        known = listed(self.events) or "none, because no place's law turns on one"
        found = [
            Fault(f"dates.{event}", f"`{event}` is no event{suggest(event, self.events)}; allowed: {known}")
            for event in asked.dates
            if event not in self.events
        ]
        days = {f"dates.{event}": day for event, day in asked.dates.items() if event in self.events}
        days |= {"on": asked.on} if asked.on is not None else {}
        found += [Fault(at, f"`{day}` is not {REAL_DATE}") for at, day in days.items() if not is_date(day)]
        return found + [
            Fault(f"choices.{name}", f"no place of this rulebook leaves a choice `{name}`{suggest(name, self.choices)}")
            for name in asked.choices
            if name not in self.choices
        ]

    def _made(self, asked: Asked, place: str | None, dates: dict[str, str], choices: dict[str, str]) -> Code:
        try:
            if asked.edition is not None:
                document, _, edition = asked.edition.partition(":")
                return self.rulebook.edition(document, edition)
            assert place is not None  # refused before
            return self.rulebook.in_force(place, dates, asked.on, choices)
        except RulebookFaults as faulty:
            if any(isinstance(fault.at, At) for fault in faulty.faults):
                raise Problem("failed", f"The rulebook cannot be used here: {faulty}") from None
            raise RulebookFaults(
                Fault("edition", fault.message) if fault.at == "document" else fault for fault in faulty.faults
            ) from None

    def _kept(self, key: tuple[Any, ...]) -> Code | None:
        if key in self._ready:
            self._ready.move_to_end(key)
        return self._ready.get(key)

    def _keep(self, key: tuple[Any, ...], code: Code) -> Code:
        self._ready[key] = code
        if len(self._ready) > _READY:
            self._ready.popitem(last=False)
        return code


def law_data(code: Code, asked: Asked) -> dict[str, Any]:
    """The law that was ruled by, as data."""
    return {
        "place": code.place,
        "on": code.on,
        "dates": dict(sorted(code.dates.items())),
        "choices": dict(sorted(code.choices.items())),
        "edition": asked.edition,
        "in_force": [
            {"kind": kind, "entries": [candidate_data(candidate) for candidate in line.candidates]}
            for kind, line in code.in_force.items()
        ],
    }

"""What one run over one project found, as plain data that every output prints from."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from yokebook.model import Question
from yokebook_adapters.outcome import HEAPS, Heap, RulingData, exit_status, heap
from yokebook_adapters.views import governing_editions, settled_or_reading


def _no_effect(ruling: RulingData) -> None:
    return None


def _no_changes(ruling: RulingData) -> list[Mapping[str, Any]]:
    return []


def _never(ruling: RulingData) -> bool:
    return False


def _nobody(subject: str, fact: str) -> str:
    return ""


def _no_digests() -> dict[str, str]:
    return {}


@dataclass(frozen=True)
class Report:
    """One project's rulings and what outputs need beside them.

    `rulings` are rulings as data, each with two keys more: `room` (the label of the room it is in, or "") and `at`
    (`{file, line, column}` of the subject in the project file, or None). `refused` holds one message for each fault
    of the input. `amendment_effect` and `would_change` are worked out when an output asks for them: what the place's
    amendments did to a ruling (None where nothing), and single facts that would give another outcome. So are the rules
    that were `tried` for it, whether what it rests on is `one_of_several` ways to its outcome, who `stated` a fact of a
    thing (by path and fact; empty where nobody is named), and the `digests` of the filed sheet (record, law, rulings;
    none where there is not one sheet).
    """

    file: str
    name: str = ""
    place: str = ""
    dates: Mapping[str, str] = field(default_factory=dict)
    stated_by: str = ""
    rulings: Sequence[RulingData] = ()
    refused: Sequence[str] = ()
    cautions: Sequence[str] = ()
    questions: Mapping[str, Question] = field(default_factory=dict)
    inputs: Mapping[str, str] = field(default_factory=dict)  # fact or calculation -> what it is, in plain words
    documents: Mapping[str, str] = field(default_factory=dict)  # id -> title
    rooms: Sequence[str] = ()  # the labels of the rooms, in the order of the project
    marks: Sequence[Mapping[str, Any]] = ()
    parts: Sequence[Mapping[str, Any]] = ()
    amendment_effect: Callable[[RulingData], Mapping[str, Any] | None] = _no_effect
    would_change: Callable[[RulingData], Sequence[Mapping[str, Any]]] = _no_changes
    tried: Callable[[RulingData], Sequence[Mapping[str, Any]]] = _no_changes
    one_of_several: Callable[[RulingData], bool] = _never
    stated: Callable[[str, str], str] = _nobody
    digests: Callable[[], Mapping[str, str]] = _no_digests

    def by_heap(self) -> dict[Heap, list[RulingData]]:
        """Every heap, worst first, with its rulings in order."""
        heaps: dict[Heap, list[RulingData]] = {name: [] for name in HEAPS}
        for ruling in self.rulings:
            heaps[heap(ruling)].append(ruling)
        return heaps

    def counts(self) -> dict[str, int]:
        """How many rulings lie on each heap, heaps that hold none left out."""
        return {name: len(rulings) for name, rulings in self.by_heap().items() if rulings}

    def words(self, heap_name: Heap) -> dict[str, int]:
        """How often each word was said on one heap, most often first."""
        counter = Counter(ruling["word"] for ruling in self.by_heap()[heap_name])
        return dict(sorted(counter.items(), key=lambda item: (-item[1], item[0])))

    def exit_status(self) -> int:
        """The exit status that this project alone gives."""
        return exit_status(self.rulings, refused=bool(self.refused))

    def views(self) -> dict[str, Any]:
        """The views R05, R09, R10, R49 and R57 as data."""
        effects = (self.amendment_effect(ruling) for ruling in self.rulings)
        return {
            "marks_by_yoke": list(self.marks),
            "parts_to_buy": list(self.parts),
            "amendment_effects": [dict(effect) for effect in effects if effect is not None],
            "governing_editions": governing_editions(self.rulings),
            "settled_or_reading": settled_or_reading(self.rulings),
        }


def exit_status_of(reports: Iterable[Report]) -> int:
    """The exit status of a run over several projects."""
    reports = list(reports)
    rulings = [ruling for report in reports for ruling in report.rulings]
    return exit_status(rulings, refused=any(report.refused for report in reports))

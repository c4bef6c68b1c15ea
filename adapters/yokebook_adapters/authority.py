"""What to ask the authority, as data: readings that matter, law not entered, and what only the authority may allow.

Read off rulings; which device is touched comes from the graphs they were made on. No rule is here.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Literal

from yokebook.graph import Graph, Thing
from yokebook.model import Question, Reading
from yokebook_adapters.finding_text import edition_of, others_may_exist, reasons
from yokebook_adapters.outcome import RulingData

Rank = Literal["many devices", "safety", "other"]

_RANKS: tuple[Rank, ...] = ("many devices", "safety", "other")
_KINDS = ("reading", "entry", "amendments", "outcome")

#: Many devices: at least three, and at least a tenth of the project's.
_MANY, _SHARE = 3, 10

#: Outcomes that send one to the authority (see rulebook/questions).
_ASK_THE_AUTHORITY = ("ask the authority", "not said")

#: What an alternative gives where facts are missing.
_CANNOT_TELL = "cannot tell"


def questions_for_authority(
    rulings: Iterable[RulingData],
    graphs: Iterable[Graph],
    readings: Mapping[str, Reading],
    questions: Mapping[str, Question],
) -> list[dict[str, Any]]:
    """The questions to put to the authority, in the order in which their answers matter.

    Each: `kind` (`reading`, `entry`, `amendments` or `outcome`), `id` (of the reading, entry or question of the
    rulebook), `asks`, `cite` or None, `office` to ask, `why`, `rank` and `devices`, the paths of the yokes that the
    answer can touch; `rulings`, each `{ruling, subject, label, room, word, checked}`; `waits`, how many of these
    cannot be told yet for want of facts.
    A reading also has `alternatives`, each `{id, says, standing, holders, source, gives}` with `gives` the outcomes
    that it would give by ruling number, `{R12: {satisfied: 3}}`; and `meanwhile`, `{id, says, because}` of the
    alternative to which the plain text points.

    Ranked: first answers that touch many devices (at least three and a tenth of all), then those on questions that can
    come out against, then the rest; in each, more devices first. The same rulings give the same list.
    """
    rulings, maker = list(rulings), _Maker(graphs, questions)
    found = [
        *maker.of_readings(rulings, readings),
        *maker.of_entries(rulings),
        *maker.of_outcomes(rulings),
    ]
    return sorted(found, key=_order)


def _order(question: Mapping[str, Any]) -> tuple[object, ...]:
    rank, kind = _RANKS.index(question["rank"]), _KINDS.index(question["kind"])
    return rank, -len(question["devices"]), kind, question["id"], question["office"], question["asks"], question["why"]


class _Maker:
    def __init__(self, graphs: Iterable[Graph], questions: Mapping[str, Question]) -> None:
        self.questions = questions
        self.things: dict[tuple[str, str], Thing] = {}
        self.yokes: list[str] = []
        for graph in graphs:
            self.things.update({(thing.kind, thing.id): thing for thing in graph})
            self.yokes += [yoke.id for yoke in graph.things["yoke"]]

    def question(self, kind: str, id_: str, rulings: Sequence[RulingData], **more: Any) -> dict[str, Any]:
        """One question, with all that hangs on it."""
        devices = self._devices(rulings)
        return {
            "kind": kind,
            "id": id_,
            "office": _offices(rulings),
            "rank": self._rank(devices, rulings),
            "devices": devices,
            "rulings": [_ref(ruling) for ruling in rulings],
            "waits": sum(ruling["status"] in ("cannot tell", "not decided") for ruling in rulings),
            **more,
        }

    def _devices(self, rulings: Iterable[RulingData]) -> list[str]:
        """The yokes that these rulings are on or touch, in the project's order."""
        touched: set[str] = set()
        for ruling in rulings:
            thing = self.things.get((ruling["subject"]["kind"], ruling["subject"]["id"]))
            touched |= {yoke.id for yoke in _yokes(thing)} if thing is not None else set()
        return [yoke for yoke in self.yokes if yoke in touched]

    def _rank(self, devices: Sequence[str], rulings: Iterable[RulingData]) -> Rank:
        if len(devices) >= _MANY and len(devices) * _SHARE >= len(self.yokes):
            return "many devices"
        return "safety" if any(self._could_be_against(ruling) for ruling in rulings) else "other"

    def _could_be_against(self, ruling: RulingData) -> bool:
        """Whether an outcome that is against is still possible; where no law is entered every outcome is."""
        against = self.questions[ruling["question"]].against
        return bool(against if ruling["status"] == "no adoption entered" else against & _could_be(ruling))

    # ---- readings ----

    def of_readings(self, rulings: Iterable[RulingData], readings: Mapping[str, Reading]) -> list[dict[str, Any]]:
        """One question for each reading that some ruling hangs on or may hang on."""
        by_reading: dict[str, list[RulingData]] = {}
        for ruling in rulings:
            for name in dict.fromkeys([each["reading"] for each in (*ruling["readings_open"], *ruling["also_held"])]):
                by_reading.setdefault(name, []).append(ruling)
        found = []
        for name, hang in by_reading.items():
            reading = readings[name]
            plain = reading.alternatives[reading.plain]
            found.append(
                self.question(
                    "reading",
                    name,
                    hang,
                    asks=reading.asks,
                    cite={"document": reading.cite.document, "section": reading.cite.section},
                    why=_why(hang),
                    alternatives=[
                        {
                            "id": each.id,
                            "says": each.says,
                            "standing": each.standing,
                            "holders": each.holders,
                            "source": each.source,
                            "gives": _gives(hang, name, each.id, reading),
                        }
                        for each in reading.alternatives.values()
                    ],
                    meanwhile={"id": plain.id, "says": plain.says, "because": reading.plain_because},
                )
            )
        return found

    # ---- law not entered ----

    def of_entries(self, rulings: Iterable[RulingData]) -> list[dict[str, Any]]:
        """One question for each kind of document that nobody entered, and for each whose amendments may not be all."""
        entries: dict[tuple[str, str, str], list[RulingData]] = {}
        for ruling in rulings:
            document = ruling["document"]
            if document is None:
                continue
            if ruling["status"] == "no adoption entered":
                entries.setdefault(("entry", document["entry"], document["kind"]), []).append(ruling)
            elif document["id"] is not None and others_may_exist(document):
                entries.setdefault(("amendments", document["entry"], document["kind"]), []).append(ruling)
        return [
            self.question(kind, entry, hang, cite=None, **(_entry if kind == "entry" else _amendments)(hang[0]))
            for (kind, entry, _), hang in entries.items()
        ]

    # ---- what only the authority may allow ----

    def of_outcomes(self, rulings: Iterable[RulingData]) -> list[dict[str, Any]]:
        """One question for each question of the rulebook whose outcome sends one to the authority, by its reasons."""
        asked: dict[tuple[str, str], list[RulingData]] = {}
        for ruling in rulings:
            if ruling["outcome"] in _ASK_THE_AUTHORITY:
                asked.setdefault((ruling["question"], reasons(ruling)), []).append(ruling)
        return [
            self.question("outcome", name, hang, asks=hang[0]["asks"], cite=_cite(hang[0]), why=because)
            for (name, because), hang in asked.items()
        ]


def _yokes(thing: Thing) -> list[Thing]:
    """The devices that a thing is, is part of, or serves."""
    if thing.kind == "yoke":
        return [thing]
    if thing.kind == "load":
        return [yoke for contact in thing.list_of("contacts")[0] for yoke in _yokes(contact)]
    if thing.kind == "contact":
        yoke = thing.refs.get("yoke")
        return [] if yoke is None else [yoke]
    return thing.list_of("yokes")[0]


def _offices(rulings: Iterable[RulingData]) -> str:
    """Whom to ask; several offices are joined, and none known is the authority itself."""
    offices = [ruling["document"]["office"] for ruling in rulings if ruling["document"]]
    return " and ".join(dict.fromkeys(office for office in offices if office)) or "the authority having jurisdiction"


def _could_be(ruling: RulingData) -> set[str]:
    """Every outcome that a ruling may yet have, argued alternatives included."""
    under = (outcome for each in (*ruling["under"], *ruling["also_held"]) for outcome in each["outcomes"])
    return {*ruling["possible"], *under}


def _ref(ruling: RulingData) -> dict[str, Any]:
    return {
        "ruling": ruling["ruling"],
        "subject": ruling["subject"]["id"],
        "label": ruling["subject"]["label"] or ruling["subject"]["id"],
        "room": ruling["room"],
        "word": ruling["word"],
        "checked": ruling["checked"]["mark"],
    }


def _cite(ruling: RulingData) -> dict[str, str] | None:
    return next((rule["cite"] for rule in ruling["standing"] if rule["cite"]), None)


# ---- readings ----------------------------------------


def _why(rulings: Sequence[RulingData]) -> str:
    """In which ways the rulings hang on the reading."""
    differ = sum(ruling["status"] == "readings differ" for ruling in rulings)
    held = sum(ruling["status"] == "settled" for ruling in rulings)
    waits = len(rulings) - differ - held
    texts = [f"published readings differ on {differ}"] if differ else []
    texts += [f"{held} settled, but also held otherwise"] if held else []
    texts += [f"{waits} cannot be told yet, and how it is read could matter"] if waits else []
    return "; ".join(texts)


def _gives(rulings: Iterable[RulingData], name: str, alternative: str, reading: Reading) -> dict[str, dict[str, int]]:
    """What an alternative would give, by ruling number: each outcome with how many rulings would have it."""
    counted: dict[str, dict[str, int]] = {}
    for ruling in rulings:
        words = _under(ruling, name, alternative, reading)
        counts = counted.setdefault(ruling["ruling"], {})
        counts[words] = counts.get(words, 0) + 1
    return counted


def _under(ruling: RulingData, name: str, alternative: str, reading: Reading) -> str:
    """The outcome of one ruling under one alternative; several words where it hangs on something else too."""
    for held in ruling["also_held"]:
        if (held["reading"], held["alternative"]) == (name, alternative):
            other = " or ".join(held["outcomes"])
            # it holds only the outcomes that the word does not show, and facts are missing beside
            return other if ruling["status"] == "settled" else f"{ruling['word']}, could also be {other}"
    if ruling["status"] == "settled":
        return str(ruling["outcome"])
    if reading.alternatives[alternative].standing == "argued" and alternative != reading.plain:
        return str(ruling["word"])  # tried by itself it adds nothing that the word does not show
    combinations = [each for each in ruling["under"] if each["readings"].get(name, alternative) == alternative]
    outcomes = list(dict.fromkeys(outcome for each in combinations for outcome in each["outcomes"]))
    if ruling["status"] == "readings differ" or len(outcomes) == 1:
        return " or ".join(outcomes)
    return _CANNOT_TELL


# ---- law not entered ----------------------------------------


def _entry(ruling: RulingData) -> dict[str, str]:
    document = ruling["document"]
    because = ruling["status_of"]["because"] if ruling["status_of"] else document["reason"]
    asks = f"Which {document['kind']} code and edition governs here on the project's dates, with which amendments?"
    return {"asks": asks, "why": because.rstrip(".")}


def _amendments(ruling: RulingData) -> dict[str, str]:
    document = ruling["document"]
    known = " and ".join(document["amendments"])
    beside = f"beside {known}" if known else "at all"
    state = {
        "not looked for": "nobody has looked for amendments",
        "none can be entered": "there are amendments, and none of them could be entered",
        "some entered": "only some amendments are entered",
    }
    return {
        "asks": f"Are there local amendments, {beside}, to {edition_of(document)}?",
        "why": state[document["amendments_entered"]],
    }

"""Views: what rulings say when they are put together, such as one line for a yoke. No rule is here.

Every function takes rulings as data (`Ruling.to_dict()`) and the graph that they were made on, and returns plain data.
Views R05 and R09 group the rulings on marking by yoke; R10, R49 and R57 are read off a ruling's own chain, place entry
and word.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Literal

from yokebook.entities import Kind
from yokebook.graph import Graph, Thing
from yokebook_adapters.outcome import RulingData

#: Numbers of the rulings that the views by yoke read (see rulebook/questions).
MARK, _ORDINARY_DEVICE = "R03", "R08"

Tab = Literal["keep", "remove", "none on this device", "cannot tell"]
_NO_TAB: Tab = "none on this device"

#: Forms whose maker feeds the outlets inside: there is no break-off tab unless one is given.
FED_INSIDE = ("furniture module", "hard-wired strip", "plug-in strip")
#: What the rulings say of the mark of one contact device.
MarkOfHalf = Literal["marked", "not marked", "open", "not ruled"]

Effect = Literal["no effect", "adds", "removes", "replaces", "fixes a reading", "changes what can be told"]


# ---- by yoke ----------------------------------------


def marks_by_yoke(rulings: Iterable[RulingData], graph: Graph) -> list[dict[str, Any]]:
    """For every yoke with a ruling on marking: which halves get the mark (R05).

    Each entry: `yoke`, `label` and `room`; `mark` in words (`none`, `upper`, `both`, `all`, `the one`, or halves
    joined by `and`); `halves`, one `{contact, position, word}` each; `open`, the halves that cannot be told;
    `not_checked`, true where a half rests on rules nobody read in that edition; `complete`, false where the yoke may
    have halves that the record does not list.
    """
    by_contact = _by_subject(rulings, MARK)
    entries = []
    for yoke in graph.things["yoke"]:
        contacts, complete = yoke.list_of("contacts")
        ruled = [(contact, by_contact[contact.id]) for contact in contacts if contact.id in by_contact]
        if ruled:
            entries.append(_marks_of(yoke, ruled, complete and len(ruled) == len(contacts)))
    return entries


def parts_to_buy(rulings: Iterable[RulingData], graph: Graph) -> list[dict[str, Any]]:
    """For every yoke with a ruling on marking: the device to buy and how to prepare it (R09). No make is named.

    Each entry: `yoke`, `label`, `configuration` and `form` (None where not given), `marked` (as in marks_by_yoke),
    `open`, `hot_tab` and `neutral_tab` with `because` for each, `ordinary_device` (the word for the
    device as a whole: one half that may not be an ordinary one rules it out; None where it was not asked),
    `not_checked`, and `against`: the rulings on this yoke or its halves that are against, so that the same part again
    would not do.
    """
    rulings = list(rulings)
    ordinary = _by_subject(rulings, _ORDINARY_DEVICE)
    entries = []
    for marks in marks_by_yoke(rulings, graph):
        yoke = _thing(graph, "yoke", marks["yoke"])
        hot, hot_because = _hot_tab(yoke)
        neutral, neutral_because = _neutral_tab(yoke)
        here = {yoke.id, *(contact.id for contact in yoke.list_of("contacts")[0])}
        entries.append(
            {
                "yoke": yoke.id,
                "label": yoke.label,
                "configuration": yoke.given.get("receptacle.configuration"),
                "form": _form(yoke),
                "marked": marks["mark"],
                "open": marks["open"],
                "hot_tab": hot,
                "hot_tab_because": hot_because,
                "neutral_tab": neutral,
                "neutral_tab_because": neutral_because,
                "ordinary_device": _ordinary_device(yoke, ordinary),
                "not_checked": marks["not_checked"],
                "against": [
                    f"{r['ruling']} {r['subject']['label']}: {r['word']}"
                    for r in rulings
                    if r["against"] and not r["not_checked"] and r["subject"]["id"] in here
                ],
            }
        )
    return entries


def _ordinary_device(yoke: Thing, ordinary: Mapping[str, list[RulingData]]) -> str | None:
    asked = [ruling for contact in yoke.list_of("contacts")[0] for ruling in ordinary.get(contact.id, ())]
    for outcome in ("not permitted", None, "permitted"):  # None: a half of which it cannot be told
        for ruling in asked:
            if ruling["outcome"] == outcome:
                return str(ruling["word"])
    return str(asked[0]["word"]) if asked else None


def _by_subject(rulings: Iterable[RulingData], number: str) -> dict[str, list[RulingData]]:
    found: dict[str, list[RulingData]] = {}
    for ruling in rulings:
        if ruling["ruling"] == number:
            found.setdefault(ruling["subject"]["id"], []).append(ruling)
    return found


def _marks_of(yoke: Thing, ruled: Sequence[tuple[Thing, list[RulingData]]], complete: bool) -> dict[str, Any]:
    marked = [contact for contact, rulings in ruled if _says(rulings) == "marked"]
    open_ = [contact for contact, rulings in ruled if _says(rulings) == "open"]
    return {
        "yoke": yoke.id,
        "label": yoke.label,
        "room": _room(yoke),
        "mark": _halves_in_words(marked, len(ruled)),
        "halves": [
            {"contact": contact.id, "position": _position(contact), "word": ruling["word"]}
            for contact, rulings in ruled
            for ruling in rulings
        ],
        "open": [_position(contact) for contact in open_],
        "not_checked": any(ruling["not_checked"] for _, rulings in ruled for ruling in rulings),
        "complete": complete,
    }


def _room(yoke: Thing) -> str:
    space = yoke.one("space")
    return space.label if isinstance(space, Thing) else ""


def half_marks(ruled: Iterable[RulingData]) -> MarkOfHalf:
    """What the rulings on one contact device say together of its mark."""
    marking = [ruling for ruling in ruled if ruling["ruling"] == MARK]
    return _says(marking) if marking else "not ruled"


def _says(rulings: Sequence[RulingData]) -> Literal["marked", "not marked", "open"]:
    """What the documents say together of one half: a mark that one of them asks for is needed."""
    if any(ruling["status"] == "settled" and ruling["outcome"] == "required" for ruling in rulings):
        return "marked"
    if all(ruling["status"] in ("settled", "none in force") for ruling in rulings):
        return "not marked"
    return "open"


def _halves_in_words(marked: Sequence[Thing], of: int) -> str:
    if not marked:
        return "none"
    if len(marked) == of:
        return {1: "the one", 2: "both"}.get(of, "all")
    return " and ".join(_position(contact) for contact in marked)


def _position(contact: Thing) -> str:
    return str(contact.given.get("contact.position", contact.id.rsplit("/", 1)[-1]))


def _form(yoke: Thing) -> str | None:
    given = yoke.given.get("receptacle.device_type")
    if given is not None:
        return str(given)
    contacts, complete = yoke.list_of("contacts")
    return {1: "single", 2: "duplex"}.get(len(contacts)) if complete else None


def _fed_by(contact: Thing) -> tuple[object, ...] | None:
    """What distinguishes the hot conductor of this half from that of another; None where it is not known."""
    circuit = contact.refs.get("circuit")
    supply = contact.given.get("contact.supply")
    if circuit is None or supply is None:
        return None
    if supply == "always on":
        return (circuit.id,)
    controls, complete = contact.list_of("controls")
    return (circuit.id, *sorted(control.id for control in controls)) if complete and controls else None


def fed_apart(yoke: Thing) -> bool | None:
    """Whether the listed halves of a yoke have different hot conductors; None where it is not given what feeds them."""
    contacts = yoke.list_of("contacts")[0]
    feeds = [_fed_by(contact) for contact in contacts]
    supplies = {contact.given.get("contact.supply") for contact in contacts}
    if (None not in supplies and len(supplies) > 1) or len({feed for feed in feeds if feed is not None}) > 1:
        return True
    return None if None in feeds else False


def _has_no_tab(yoke: Thing, side: Literal["hot", "neutral"]) -> bool:
    """Whether the device is given as one without this tab, or is of a form that has none and no tab is given."""
    given = yoke.given.get(f"receptacle.{side}_tab")
    return given == _NO_TAB or (given is None and _form(yoke) in FED_INSIDE)


def _wants_another(yoke: Thing) -> bool:
    """Whether the halves are fed apart on a device that cannot be parted, so that its own tabs tell nothing."""
    return fed_apart(yoke) is True and _has_no_tab(yoke, "hot") and _form(yoke) not in FED_INSIDE


def _hot_tab(yoke: Thing) -> tuple[Tab, str]:
    contacts, complete = yoke.list_of("contacts")
    if not complete:
        return "cannot tell", "the record does not say that these are all halves of this yoke"
    if len(contacts) == 1:
        return _NO_TAB, "one contact device has nothing to part"
    apart = fed_apart(yoke)
    if _has_no_tab(yoke, "hot"):
        if _form(yoke) in FED_INSIDE:
            return _NO_TAB, "its maker feeds its outlets inside: there is no tab to break"
        if _wants_another(yoke):
            return _NO_TAB, "the halves are fed apart, but this device has no tab to break: use another"
        if apart is False:
            return _NO_TAB, "all halves are fed alike, and this device has no tab: nothing to do"
    if apart is None:
        return "cannot tell", "it is not given what feeds each half (supply, controls, circuit)"
    return ("remove", "the halves are fed apart") if apart else ("keep", "all halves are fed alike")


def _neutral_tab(yoke: Thing) -> tuple[Tab, str]:
    circuits, complete = yoke.list_of("circuits")
    contacts, all_contacts = yoke.list_of("contacts")
    if all_contacts and len(contacts) == 1:
        return _NO_TAB, "one contact device has nothing to part"
    if all_contacts and _has_no_tab(yoke, "neutral") and not _wants_another(yoke):
        return _NO_TAB, "this device has no such tab: nothing to do"
    if len(circuits) > 1:
        return "cannot tell", "two circuits: each needs its own neutral here unless they share one"
    if not complete:
        return "cannot tell", "it is not given which circuit feeds each half"
    return "keep", "one circuit, one neutral"


def _thing(graph: Graph, kind: Kind, path: str) -> Thing:
    return next(thing for thing in graph.things[kind] if thing.id == path)


# ---- what an amendment did ----------------------------------------


def amendment_effect(amended: RulingData, base: RulingData, strictness: Sequence[str]) -> dict[str, Any]:
    """What a place's amendments did to one ruling (R10): `amended` as the place has it, `base` by the bare edition.

    `strictness`: the question's outcomes, least strict first. The entry names the amendments that the ruling rests on
    (`by`), the word before and after, and the effect: `adds` a stricter outcome, `removes` one, `replaces` the rule
    and keeps the outcome, `fixes a reading`, `changes what can be told` (facts that now matter or no longer do), or
    `no effect`.
    """
    local = set((amended["document"] or {}).get("amendments", ()))
    by = [step["by"] for rule in _rests_on(amended) for step in rule["chain"] if step["by"] in local]
    by += [chosen["chosen_by"]["by"] for chosen in amended["readings_chosen"]]
    return {
        "question": amended["question"],
        "ruling": amended["ruling"],
        "subject": amended["subject"],
        "base": base["word"],
        "amended": amended["word"],
        "by": list(dict.fromkeys(by)),
        "effect": _effect(amended, base, strictness, bool(by)),
    }


def _rests_on(ruling: RulingData) -> list[Mapping[str, Any]]:
    """The rows that a ruling rests on: its own, what stands in the lower answers it goes through."""
    lower = [rule for answer in ruling["through"] for rule in answer["standing"]]
    none_fires = [ruling["none_fires"]] if ruling["none_fires"] else []
    return [*ruling["standing"], *none_fires, *lower]


def _effect(amended: RulingData, base: RulingData, strictness: Sequence[str], touched: bool) -> Effect:
    after, before = amended["status"], base["status"]
    if after == before == "settled" and amended["outcome"] != base["outcome"]:
        order = {outcome: rank for rank, outcome in enumerate(strictness)}
        return "adds" if order[amended["outcome"]] > order[base["outcome"]] else "removes"
    if before == "readings differ" and after == "settled":
        return "fixes a reading"
    if before == after == "settled" and base["also_held"] and not amended["also_held"]:
        return "fixes a reading"
    if before != after or list(amended["possible"]) != list(base["possible"]):
        return "changes what can be told"
    return "replaces" if touched else "no effect"


# ---- which edition, and how settled ----------------------------------------


def governing_editions(rulings: Iterable[RulingData]) -> list[dict[str, Any]]:
    """The documents that the rulings were made under, each once, as the place's entries give them (R49).

    Each entry is the ruling's own `document` part (id, edition, kind, place, entry, amendments, amendments_entered,
    office). An edition for every entry that the dates given leave possible is in the list.
    """
    found: list[dict[str, Any]] = []
    for ruling in rulings:
        document = ruling["document"]
        if document is not None and document not in found:
            found.append(dict(document))
    return found


def settled_or_reading(rulings: Iterable[RulingData]) -> list[dict[str, Any]]:
    """The rulings that hang on how a clause is read (R57), with the word and what each reading would make of it.

    `word` is `readings differ`, or the settled word that others do not hold; `under` the outcomes under each published
    reading; `also_held` those of argued ones; `could_matter` the readings still open while facts are missing.
    """
    return [
        {
            "question": ruling["question"],
            "ruling": ruling["ruling"],
            "subject": ruling["subject"],
            "word": ruling["word"],
            "under": ruling["under"],
            "also_held": ruling["also_held"],
            "could_matter": ruling["readings_open"],
        }
        for ruling in rulings
        if ruling["status"] == "readings differ" or ruling["also_held"] or ruling["readings_open"]
    ]

"""The marking schedule as data: one line for each yoke in walking order, then totals to order. No rule is here.

Everything in it is read off rulings and facts given; what neither gives is None or told as not known.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from yokebook.graph import Graph, Thing
from yokebook.law import InForce
from yokebook.model import CHECK_ORDER, Book, OneOf
from yokebook.showing import show_value
from yokebook_adapters.finding_text import headline
from yokebook_adapters.marking_controls import LOADS, MAY_FEED, MOTORS, RATING, control_data, facts_given, words_of
from yokebook_adapters.marking_parts import ASKED, device_of
from yokebook_adapters.outcome import RulingData
from yokebook_adapters.views import parts_to_buy

#: Numbers of the rulings that the schedule reads beside those of the parts view (see rulebook/questions).
_MARK, _FORM, _PLACE, _ORDINARY = "R03", "R06", "R07", "R08"
_TIE, _TABS, _PART = "R30", "R31", "R58"
_KEEP_OFF = ("R50", "R51")
_WEAKEST_FIRST: Sequence[str] = CHECK_ORDER

#: What a line rests on, so that whatever is weak in it is told with the line.
_OF_DEVICE = (_MARK, _FORM, _PLACE, _ORDINARY, _TIE, _TABS, _PART, *_KEEP_OFF)
_OF_CONTROL = (MAY_FEED, RATING, LOADS, MOTORS)


def marking_schedule(
    rulings: Iterable[RulingData], graphs: Iterable[Graph], book: Book, keep_off: Sequence[Mapping[str, str]] = ()
) -> dict[str, Any]:
    """`lines`, one for each yoke with a ruling on marking, in the project's order, and what to `order` in all.

    A line: `yoke`, `label`, `room`; `device` as one would order it, with `configuration`, `form`, `marked`,
    `features`, `protection`, `cover`, and `made`, `made_because`, `instead` (marking_parts.device_of: a device that is
    not made is never in the order); `hot_tab`, `neutral_tab` with the reason for each; `halves`, each with `position`,
    `supply`, `controls`, `circuit`, `load`; `mark` (`halves`, `form`, `place`, as ruled for the halves to mark);
    `controls` (marking_controls.control_data); `circuits` with what is given of each; `tie`, the words on one throw
    for two circuits; `wires`, the conductors as far as facts say; `keep_off`, the controlled halves and the kinds of
    load that do not belong there; `move`, loads given there that do not; `check`, what to tick off; `against`, `open`
    and `not_checked` as in the parts view; `notes`, every ruling behind the line that has a weak side: what it `asks`,
    its `word`, and `why` it is told (`unsettled`, `also held`, `not checked`, `memory`).

    `order`: `devices`, `controls` and `breaker_ties`, sorted by what one orders, each with the things it is for.
    `keep_off` are the kinds of load as kinds_to_keep_off gives them, passed through.
    """
    rulings = list(rulings)
    lines: list[dict[str, Any]] = []
    for graph in graphs:
        maker = _Maker(rulings, graph, book, keep_off)
        lines += [maker.line(part) for part in parts_to_buy(rulings, graph)]
    return {"lines": lines, "order": _order(lines), "keep_off": [dict(each) for each in keep_off]}


def kinds_to_keep_off(in_force: Mapping[str, InForce], book: Book) -> list[dict[str, str]]:
    """The kinds of load that the law in force keeps off controlled receptacles (R50, R51), most serious first.

    Each: `kind` and `says` (the load in plain words), `word` (the outcome), `ruling`, and `checked`, the weakest mark
    of the rules that say so.
    """
    found: dict[tuple[str, str], dict[str, str]] = {}
    for question in book.questions.values():
        for law in _laws(in_force) if question.ruling in _KEEP_OFF else ():
            for rule in law.resolved.tables[question.id].rules if law.answers(question.id) else ():
                cells = [box["load.kind"] for box in rule.where if "load.kind" in box]
                kinds = sorted(str(v) for cell in cells if isinstance(cell, OneOf) for v in cell.values)
                for kind in kinds if rule.then in question.against else ():
                    says = book.facts["load.kind"].values.get(kind, "") or kind
                    before = found.get((kind, rule.then), {"checked": rule.checked.mark})["checked"]
                    mark = min(before, rule.checked.mark, key=_WEAKEST_FIRST.index)
                    entry = {"kind": kind, "says": says, "word": rule.then, "ruling": question.ruling, "checked": mark}
                    found[kind, rule.then] = entry
    serious = {o: (q.ruling, -i) for q in book.questions.values() for i, o in enumerate(q.outcomes)
               if q.ruling in _KEEP_OFF}  # fmt: skip
    return sorted(found.values(), key=lambda each: (serious[each["word"]], each["kind"]))


def _laws(in_force: Mapping[str, InForce]) -> list[Any]:
    return [c.law for line in in_force.values() for c in line.candidates if c.law is not None]


class _Maker:
    def __init__(
        self, rulings: Sequence[RulingData], graph: Graph, book: Book, keep_off: Sequence[Mapping[str, str]]
    ) -> None:
        self.book = book
        self.keep_off = [each["kind"] for each in keep_off]
        self.things = {thing.id: thing for thing in graph.things["yoke"]}
        self.by: dict[tuple[str, str], list[RulingData]] = {}
        for ruling in rulings:
            self.by.setdefault((ruling["subject"]["kind"], ruling["subject"]["id"]), []).append(ruling)

    def ruled(self, *things: Thing) -> list[RulingData]:
        """The rulings on these things."""
        return [ruling for thing in things for ruling in self.by.get((thing.kind, thing.id), ())]

    def line(self, part: Mapping[str, Any]) -> dict[str, Any]:
        """One yoke's line."""
        yoke = self.things[part["yoke"]]
        contacts, controls = yoke.list_of("contacts")[0], yoke.list_of("controls")[0]
        circuits = yoke.list_of("circuits")[0]
        space = yoke.refs.get("space")
        ruled = self.ruled(yoke, *contacts)
        device = device_of(part, yoke, ruled)
        controls_data = [control_data(control, self.ruled(control), self.book) for control in controls]
        line = {
            "yoke": yoke.id,
            "label": yoke.label or yoke.id,
            "room": space.label if space is not None else "",
            **device,
            "configuration": part["configuration"],
            "form": part["form"],
            "marked": part["marked"],
            "neutral_tab": part["neutral_tab"],
            "neutral_tab_because": part["neutral_tab_because"],
            "halves": [_half(contact) for contact in contacts],
            "mark": self._mark(part, contacts),
            "controls": controls_data,
            "circuits": [
                {"circuit": c.id, "label": c.label or c.id, "given": facts_given(c, self.book)} for c in circuits
            ],
            "tie": words_of(ruled, _TIE),
            "wires": _wires(contacts, circuits, ruled),
            "keep_off": self._keep_off(contacts),
            "move": [load for contact in contacts for load in self._to_move(contact)],
        }
        notes = [r for r in ruled if r["ruling"] in _OF_DEVICE or r["question"] in ASKED]
        notes += [r for r in self.ruled(*controls) if r["ruling"] in _OF_CONTROL]
        return line | {
            "check": _check(line, controls),
            "against": part["against"],
            "open": part["open"],
            "not_checked": part["not_checked"],
            "notes": [_note(ruling, why) for ruling in notes if (why := _weak(ruling)) is not None],
        }

    def _mark(self, part: Mapping[str, Any], contacts: Sequence[Thing]) -> dict[str, Any]:
        """What the mark is made of and where it sits, as ruled for the halves that take one."""
        ruled = [ruling for ruling in self.ruled(*contacts) if not ruling["idle"]]
        return {"halves": part["marked"], "form": words_of(ruled, _FORM), "place": words_of(ruled, _PLACE)}

    def _keep_off(self, contacts: Sequence[Thing]) -> dict[str, Any]:
        halves = [_position(contact) for contact in contacts if contact.given.get("contact.supply") == "controlled"]
        return {"halves": halves, "kinds": self.keep_off if halves else []}

    def _to_move(self, contact: Thing) -> list[dict[str, str]]:
        """The load given at this half, where a ruling says that a control must not stand before it."""
        load = contact.refs.get("load")
        words = [
            f"{ruling['word']} [{ruling['ruling']}]"
            for ruling in self.ruled(contact)
            if ruling["ruling"] in _KEEP_OFF and ruling["against"]
        ]
        if not words:
            return []
        return [{"load": load.id if load is not None else "", "half": _position(contact), "word": "; ".join(words)}]


def _half(contact: Thing) -> dict[str, Any]:
    circuit, load = contact.refs.get("circuit"), contact.refs.get("load")
    controls, complete = contact.list_of("controls")
    return {
        "position": _position(contact),
        "supply": contact.given.get("contact.supply"),
        "controls": [control.id for control in controls],
        "controls_complete": complete,
        "circuit": circuit.id if circuit is not None else None,
        "load": load.id if load is not None else "none" if "load" in contact.refs else None,
        "load_kind": None if load is None else load.given.get("load.kind"),
    }


def _position(contact: Thing) -> str:
    return str(contact.given.get("contact.position", contact.id.rpartition("/")[2]))


# ---- wires and checks ----------------------------------------


def _wires(contacts: Sequence[Thing], circuits: Sequence[Thing], ruled: Sequence[RulingData]) -> list[str]:
    """The conductors that the halves ask for, as far as facts say; one text for each."""
    notes: dict[str, None] = {}
    for contact in contacts:
        circuit, supply = contact.refs.get("circuit"), contact.given.get("contact.supply")
        controls, complete = contact.list_of("controls")
        of = f"of {circuit.id}" if circuit is not None else "of a circuit not given"
        if supply == "always on":
            notes[f"hot that is always on, {of}"] = None
        elif supply == "controlled":
            by = " and ".join(control.id for control in controls) or "a control not given"
            notes[f"switched hot from {by}{'' if complete or not controls else ' (maybe others)'}, {of}"] = None
        else:
            notes[f"{_position(contact)}: not given whether its hot is switched"] = None
    shared = {circuit.given.get("circuit.shared_neutral") for circuit in circuits}
    if len(circuits) == 1:
        notes[f"neutral of {circuits[0].id}"] = None
    elif shared == {False}:
        notes |= {f"neutral of {circuit.id}": None for circuit in circuits}
    elif shared == {True}:
        notes["neutral shared by the circuits"] = None
    elif circuits:
        notes["neutrals: not given whether the circuits share one"] = None
    for ruling in ruled:
        if ruling["ruling"] == _TABS and ruling["against"]:
            notes[f"{ruling['word']}: {ruling['says']}"] = None
    return list(notes)


def _check(line: Mapping[str, Any], controls: Sequence[Thing]) -> list[str]:
    """What the installer ticks off once the device is in."""
    checks = []
    for side in ("hot", "neutral"):
        if line[f"{side}_tab"] in ("remove", "keep"):
            checks.append(f"{side} tab {'broken off' if line[f'{side}_tab'] == 'remove' else 'left in'}")
    if line["marked"] != "none":
        checks.append("mark visible with the plate on")
    for control in controls:
        delay, by = control.given.get("control.off_delay_min"), control.given.get("control.turns_off_by")
        as_set = f"set {show_value(delay, 'min')}, " if delay is not None else ""
        minutes = "" if by == "person" else f" ({as_set}found ____ min)"
        checks.append(f"{control.id} takes the power away{minutes}")
    return [*checks, "photo no. ____"]


# ---- what a line rests on ----------------------------------------


def _weak(ruling: RulingData) -> str | None:
    """Why a ruling behind a line has to be told with it; None for one that is settled and seen.

    What is idle and not also held (no such thing arises) tells the installer nothing.
    """
    if ruling["status"] not in ("settled", "none in force"):
        return "unsettled"
    if ruling["also_held"]:
        return "also held"
    if ruling["idle"]:
        return None
    if ruling["not_checked"]:
        return "not checked"
    return "memory" if ruling["checked"]["mark"] == "memory" else None


def _note(ruling: RulingData, why: str) -> dict[str, str]:
    subject = str(ruling["subject"]["label"] or ruling["subject"]["id"])
    told = {"subject": subject, "ruling": ruling["ruling"], "asks": ruling["asks"]}
    return told | {"why": why, "word": headline(ruling)}


# ---- totals ----------------------------------------


def _order(lines: Sequence[Mapping[str, Any]]) -> dict[str, list[dict[str, Any]]]:
    """Totals by what one orders: devices with tabs to break, controls by kind and rating, circuits to tie."""
    devices: dict[str, list[Mapping[str, Any]]] = {}
    controls: dict[str, dict[str, str]] = {}
    for line in lines:
        devices.setdefault(line["device"], []).append(line)
        for control in line["controls"]:
            controls.setdefault(control["order"], {})[control["control"]] = control["label"]
    return {
        "devices": [_total(device, devices[device]) for device in sorted(devices)],
        "controls": [
            {"control": words, "count": len(controls[words]), "for": list(controls[words].values())}
            for words in sorted(controls)
        ],
        "breaker_ties": [
            {
                "yoke": line["yoke"],
                "label": line["label"],
                "circuits": [circuit["circuit"] for circuit in line["circuits"]],
                "word": " and ".join(line["tie"]),
            }
            for line in lines
            if any(word != "does not apply" for word in line["tie"])
        ],
    }


def _total(device: str, lines: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    return {
        "device": device,
        "count": len(lines),
        "hot_tab_removed": sum(line["hot_tab"] == "remove" for line in lines),
        "hot_tab_not_known": sum(line["hot_tab"] == "cannot tell" for line in lines),
        "instead_of_one_not_made": sum(line["made"] == "no" for line in lines),
        "yokes": [line["label"] for line in lines],
    }
